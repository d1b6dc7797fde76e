//! The validation suite: every claim beside an outside number, the page and its figures made anew at each run.
//!
//! `cargo test --release --test validation`; with SLENDERJET_BLESS=1 the page and the figures are written into `validation/`.
//! With SLENDERJET_TOPIC=FOLDER,... and `--nocapture` only these topics are computed and their rows printed (the page then counts
//! as stale). A new row goes into its topic's `mod.rs`; a new topic is a folder (README.md, data, mod.rs) and one line in [`TOPICS`].

mod framework;

mod adsorption;
mod blunt_tip;
mod coflow_dripping;
mod coflow_inertia;
mod coflow_thread;
mod confirm;
mod convective;
mod convergence;
mod core_annular;
mod core_annular_runs;
mod counterflow;
mod drop_oscillation;
mod drop_weight;
mod ducts;
mod energy;
mod falling_jet;
mod falling_jet_runs;
mod faucet;
mod forced_jet;
mod free_body;
mod full_equations;
mod growth_of_waves;
mod independent;
mod jets_of_real_liquids;
mod jetting;
mod liquids;
mod necks_of_real_liquids;
mod off_table;
mod orifice;
mod outer_inertia;
mod pendant_drop;
mod periodic_thread;
mod pinch_laws;
mod pinch_off;
mod rayleigh;
mod rest;
mod slow_dripping;
mod solver;
mod statistics;
mod stokes_thread;
mod tap;
mod two_fields;
mod viscous_jet;
mod waves_in_a_liquid;

use framework::table::path;
use framework::{Topic, Verdict, page};
use rayon::prelude::*;
use std::sync::OnceLock;
use std::time::Instant;

/// Makes a topic.
type Make = fn() -> Topic;

/// Every topic, in the order of the page within its section.
const TOPICS: &[(&str, Make)] = &[
    ("rayleigh", rayleigh::topic),
    ("viscous_jet", viscous_jet::topic),
    ("stokes_thread", stokes_thread::topic),
    ("off_table", off_table::topic),
    ("convective", convective::topic),
    ("core_annular", core_annular::topic),
    ("ducts", ducts::topic),
    ("pendant_drop", pendant_drop::topic),
    ("drop_weight", drop_weight::topic),
    ("drop_oscillation", drop_oscillation::topic),
    ("falling_jet", falling_jet::topic),
    ("pinch_laws", pinch_laws::topic),
    ("faucet", faucet::topic),
    ("liquids", liquids::topic),
    ("adsorption", adsorption::topic),
    ("jets_of_real_liquids", jets_of_real_liquids::topic),
    ("statistics", statistics::topic),
    ("growth_of_waves", growth_of_waves::topic),
    ("rest", rest::topic),
    ("periodic_thread", periodic_thread::topic),
    ("pinch_off", pinch_off::topic),
    ("free_body", free_body::topic),
    ("falling_jet_runs", falling_jet_runs::topic),
    ("slow_dripping", slow_dripping::topic),
    ("core_annular_runs", core_annular_runs::topic),
    ("outer_inertia", outer_inertia::topic),
    ("waves_in_a_liquid", waves_in_a_liquid::topic),
    ("confirm", confirm::topic),
    ("energy", energy::topic),
    ("independent", independent::topic),
    ("necks_of_real_liquids", necks_of_real_liquids::topic),
    ("convergence", convergence::topic),
    ("forced_jet", forced_jet::topic),
    ("counterflow", counterflow::topic),
    ("jetting", jetting::topic),
    ("tap", tap::topic),
    ("coflow_dripping", coflow_dripping::topic),
    ("coflow_thread", coflow_thread::topic),
    ("blunt_tip", blunt_tip::topic),
    ("orifice", orifice::topic),
    ("two_fields", two_fields::topic),
    ("coflow_inertia", coflow_inertia::topic),
];

/// All topics, computed once and side by side whichever test asks first.
fn topics() -> &'static [Topic] {
    static ALL: OnceLock<Vec<Topic>> = OnceLock::new();
    ALL.get_or_init(|| {
        let timed = |(name, topic): &(&str, fn() -> Topic)| {
            let began = Instant::now();
            let topic = topic();
            assert_eq!(topic.folder, *name, "a topic's name is its folder");
            println!("{:7.1} s  {name}", began.elapsed().as_secs_f64());
            topic
        };
        let wanted = std::env::var("SLENDERJET_TOPIC").ok();
        let chosen: Vec<_> = TOPICS
            .iter()
            .filter(|(name, _)| wanted.as_ref().is_none_or(|w| w.split(',').any(|w| w == *name)))
            .collect();
        // Long ones first, so that both cores end together.
        let all: Vec<Topic> = chosen.into_par_iter().rev().map(timed).rev().collect();
        if wanted.is_some() {
            all.iter().flat_map(|topic| &topic.rows).for_each(|row| println!("{row:#?}"));
        }
        all
    })
}

fn committed(relative: &str, text: &str) {
    let file = path("validation").join(relative);
    if std::env::var_os("SLENDERJET_BLESS").is_some() {
        std::fs::write(&file, text).unwrap_or_else(|error| panic!("{}: {error}", file.display()));
    }
    let fresh = path("target/validation").join(relative);
    let folder = fresh.parent().expect("a folder");
    std::fs::create_dir_all(folder).and_then(|()| std::fs::write(&fresh, text)).expect("target is writable");
    let known = std::fs::read_to_string(&file).unwrap_or_default();
    let differs = known.lines().zip(text.lines()).find(|(a, b)| a != b);
    assert!(
        known == text,
        "validation/{relative} is stale (SLENDERJET_BLESS=1 rewrites it); first difference: {differs:?}"
    );
}

#[test]
fn the_committed_page_is_what_the_suite_produces() {
    assert!(std::env::var_os("SLENDERJET_TOPIC").is_none(), "some topics do not make the page");
    committed("README.md", &page::page(topics()));
}

#[test]
fn the_committed_figures_are_what_the_suite_draws() {
    for topic in topics() {
        if let Some(figure) = &topic.figure {
            committed(&format!("{}/figure.svg", topic.folder), &figure.svg());
        }
    }
}

/// Largest change of a compiled-in difference that is not stale (it has four decimals; machines differ in the last).
const STALE: f64 = 2e-3;

#[test]
fn the_differences_compiled_into_the_program_are_those_of_the_page() {
    let file = path("src/limits/reference/table.rs");
    if std::env::var_os("SLENDERJET_BLESS").is_some() {
        std::fs::write(&file, coflow_dripping::compiled_in())
            .unwrap_or_else(|error| panic!("{}: {error}", file.display()));
        return;
    }
    let (known, fresh): (Vec<_>, _) = (slenderjet::limits::reference::rows().collect(), coflow_dripping::compared());
    let numbers = |rows: &[slenderjet::limits::reference::Row]| rows.iter().map(|r| r.number).collect::<Vec<_>>();
    assert_eq!(numbers(&known), numbers(fresh), "stale: SLENDERJET_BLESS=1 rewrites it");
    for (a, b) in known.iter().zip(fresh) {
        let same = a.place == b.place && a.diameter == b.diameter && a.neck == b.neck;
        let moved = (a.difference - b.difference).abs().max((a.neck_difference - b.neck_difference).abs());
        assert!(same && moved <= STALE, "row {} is stale (SLENDERJET_BLESS=1 rewrites it): {a:?}, now {b:?}", a.number);
    }
}

#[test]
fn the_differences_of_devices_compiled_into_the_program_are_those_of_the_page() {
    let file = path("src/limits/reference/devices/rows.rs");
    let fresh = orifice::compiled_in();
    if std::env::var_os("SLENDERJET_BLESS").is_some() {
        std::fs::write(&file, fresh).unwrap_or_else(|error| panic!("{}: {error}", file.display()));
        return;
    }
    let known = std::fs::read_to_string(&file).unwrap_or_default();
    let numbers = |text: &str| {
        let cells = text.lines().filter(|line| line.starts_with("    [")).flat_map(|line| line.split(&['[', ']', ',']));
        cells.filter_map(|cell| cell.trim().parse::<f64>().ok()).collect::<Vec<_>>()
    };
    let (known, fresh) = (numbers(&known), numbers(&fresh));
    assert!(!fresh.is_empty() && known.len() == fresh.len(), "stale: SLENDERJET_BLESS=1 rewrites it");
    for (a, b) in known.iter().zip(&fresh) {
        assert!((a - b).abs() <= STALE, "stale (SLENDERJET_BLESS=1 rewrites it): {a}, now {b}");
    }
}

#[test]
fn theory_rows_are_all_within_tolerance() {
    let failing: Vec<_> = topics()
        .iter()
        .filter(|topic| topic.section == 'A')
        .flat_map(|topic| &topic.rows)
        .filter(|row| row.verdict == Verdict::Fail)
        .map(|row| format!("{}: {} ({})", row.quantity, row.difference, row.tolerance))
        .collect();
    assert!(failing.is_empty(), "{failing:#?}");
}

#[test]
fn every_failing_row_says_why() {
    let silent =
        topics().iter().flat_map(|topic| &topic.rows).find(|row| row.verdict == Verdict::Fail && row.remark.is_none());
    assert!(silent.is_none(), "{silent:?}");
}

#[test]
fn every_topic_has_its_folder_and_readme() {
    for topic in topics() {
        let readme = path("validation").join(topic.folder).join("README.md");
        let text = std::fs::read_to_string(&readme).unwrap_or_default();
        assert!(text.contains("## Tolerance"), "{} needs a README with the reason for its tolerances", topic.folder);
        assert!(!topic.rows.is_empty(), "{} has no row", topic.folder);
    }
}
