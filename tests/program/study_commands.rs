//! `aim`, `compare` and `run --uncertain` from the outside, on a dripping tap (quick), and margins against re-runs.

use super::bench::{json, slenderjet, with_tap};
use rayon::prelude::*;
use serde_json::Value;
use slenderjet::case;
use slenderjet::outcome::Outcome;
use slenderjet::study::StudyError;
use slenderjet::study::evaluate::{Counted, Length, quick, simulated};
use slenderjet::study::margins::{DIAMETER_BAND, End, margins};

#[test]
fn what_aim_writes_lands_where_it_says_when_run() {
    let folder = with_tap();
    let at = folder.path();
    // A tap's drop grows by some percent with the flow: ask for 2 % more than it gives.
    let own = json(at, &["run", "tap.toml"])["primary"]["mean_diameter_m"].as_f64().expect("drops");
    let wish = format!("{} mm", 1e3 * own * 1.02);
    let aimed = json(at, &["aim", "tap.toml", "--diameter", &wish, "--no-margins", "-o", "aimed.toml"]);
    assert_eq!(aimed["found"], true, "{aimed}");
    let run = json(at, &["run", "aimed.toml"]);
    let got = run["primary"]["mean_diameter_m"].as_f64().expect("drops");
    assert!((got / (1.02 * own) - 1.0).abs() < 0.02, "{got} for {wish}");
    let told = aimed["predicted"]["mean_diameter_m"].as_f64().expect("drops");
    assert!((got / told - 1.0).abs() < 1e-3, "{got} but told {told}");
    let text = std::fs::read_to_string(at.join("aimed.toml")).expect("written");
    assert!(text.contains("# Invented data"), "comments stay");
}

#[test]
fn an_impossible_wish_exits_1_names_the_bound_and_writes_nothing() {
    let folder = with_tap();
    let args = ["aim", "tap.toml", "--diameter", "100 um", "--no-margins", "-o", "aimed.toml", "--json"];
    let out = slenderjet(folder.path()).args(args).output().expect("an answer");
    let told = String::from_utf8_lossy(&out.stderr).to_string();
    assert_eq!(out.status.code(), Some(1), "{told}");
    crate::common::follows_schema("aim", &out.stdout);
    let aimed: Value = serde_json::from_slice(&out.stdout).expect("one object");
    assert!(aimed["found"] == false && aimed["nearest"]["mean_diameter_m"].is_number(), "{aimed}");
    assert!(aimed["reason"].as_str().is_some_and(|r| r.contains("times as large as wished")), "{aimed}");
    assert!(!folder.path().join("aimed.toml").exists());
    for wrong in ["80", "80 mN/m", "-3 um"] {
        let arg = format!("--diameter={wrong}");
        slenderjet(folder.path()).args(["aim", "tap.toml", &arg]).assert().code(2);
    }
}

// A slow tap leaves two satellites at every drop, a fast one none: the table says what each tenth of a percent of size buys.
#[test]
fn unwanted_satellites_become_a_trade_off_that_reruns_show() {
    let folder = with_tap();
    let at = folder.path();
    let coarse = ["--set", "run.accuracy=coarse", "--set", "run.drops=8"];
    let wish = ["aim", "tap.toml", "--diameter", "4.6 mm", "--no-satellites", "--no-margins", "--json", "-q"];
    let out = slenderjet(at).args([&wish[..], &coarse].concat()).output().expect("an answer");
    assert_eq!(out.status.code(), Some(1), "{}", String::from_utf8_lossy(&out.stderr));
    let aimed: Value = serde_json::from_slice(&out.stdout).expect("one object");
    assert!(aimed["reason"].as_str().is_some_and(|r| r.contains("satellites carry")), "{aimed}");
    let row = |row: &Value| {
        ["mean_diameter_m", "satellite_volume_fraction", "inner_flow_m3_per_s"]
            .map(|k| row[k].as_f64().expect("a number"))
    };
    let table: Vec<[f64; 3]> = aimed["trade_off"].as_array().expect("a table").iter().map(row).collect();
    assert!(table.len() > 2, "{aimed}");
    for pair in table.windows(2) {
        let off = |row: &[f64; 3]| (row[0] / 4.6e-3).ln().abs();
        assert!(off(&pair[1]) >= off(&pair[0]) && pair[1][1] < pair[0][1], "{pair:?}");
    }
    let [nearest, freest] = [table[0], table[table.len() - 1]];
    assert!((nearest[0] / 4.6e-3 - 1.0).abs() < 0.01 && nearest[1] > 1e-3, "{nearest:?}");
    assert!(freest[1] < 1e-4, "a setting free of them is in the table: {freest:?}");
    for [size, share, flow] in [nearest, freest] {
        let flow = format!("inner.flow={} uL/h", 3.6e12 * flow);
        let run = json(at, &[&["run", "tap.toml", "--set", &flow][..], &coarse].concat());
        let got = run["primary"]["mean_diameter_m"].as_f64().expect("drops");
        assert!((got / size - 1.0).abs() < 0.005, "{got} for {size}");
        let lost = run["satellites"]["volume_fraction"].as_f64().expect("a share");
        assert!((lost - share).abs() < 0.1 * share + 1e-5, "{lost} for {share}");
    }
}

#[test]
fn two_taps_side_by_side_say_what_makes_the_difference() {
    let folder = with_tap();
    let at = folder.path();
    let text = std::fs::read_to_string(at.join("tap.toml")).expect("there");
    let wide = text.replace("tip_outer = \"3.0 mm\"", "tip_outer = \"4.0 mm\"");
    assert_ne!(text, wide);
    std::fs::write(at.join("wide.toml"), wide).expect("written");
    let found = json(at, &["compare", "tap.toml", "wide.toml", "--no-margins"]);
    let diameter = |i: usize| found["cases"][i]["mean_diameter_m"].as_f64().expect("drops");
    assert!(diameter(1) > 1.05 * diameter(0), "{found}");
    assert!(found["statements"][0].as_str().is_some_and(|s| s.contains("differ in the tip alone")), "{found}");
    slenderjet(at).args(["compare", "tap.toml"]).assert().code(2);
}

#[test]
fn tolerances_become_bands_and_the_tip_matters_most() {
    let folder = with_tap();
    let at = folder.path();
    let text = std::fs::read_to_string(at.join("tap.toml")).expect("there");
    std::fs::write(at.join("loose.toml"), text.replace("\"3.0 mm\"", "\"3.0 mm +- 10 %\"")).expect("written");
    let found = json(at, &["run", "loose.toml", "--drops", "3", "--uncertain", "8"]);
    let band = &found["uncertain"]["diameter_m"];
    let [low, median, high] = ["low", "median", "high"].map(|k| band[k].as_f64().expect("a band"));
    let own = found["primary"]["mean_diameter_m"].as_f64().expect("drops");
    assert!(low < median && median < high && (median / own - 1.0).abs() < 0.03, "{band}");
    assert_eq!(found["uncertain"]["influences"][0]["key"], "device.tip_outer", "{}", found["uncertain"]);
    // Stopped half way, the same command goes on from the answers that were kept, and tells the same.
    let kept = ["run", "loose.toml", "--drops", "3", "--uncertain", "8", "--keep", "answers.jsonl"];
    assert_eq!(json(at, &kept)["uncertain"], found["uncertain"]);
    let whole = std::fs::read_to_string(at.join("answers.jsonl")).expect("kept");
    assert_eq!(whole.lines().count(), 1 + 8, "a head and 8 runs");
    let half: String = whole.lines().take(5).map(|line| format!("{line}\n")).collect();
    std::fs::write(at.join("answers.jsonl"), &half).expect("written");
    assert_eq!(json(at, &kept)["uncertain"], found["uncertain"]);
    let again = std::fs::read_to_string(at.join("answers.jsonl")).expect("kept");
    assert!(again.starts_with(&half) && again.lines().count() == 1 + 8, "4 runs of 8 were made again");
    slenderjet(at).args(["run", "loose.toml", "--keep", "x.jsonl"]).assert().code(2);
    let plain = "title = \"t\"\nlayout = \"pendant\"\n[inner]\nviscosity = \"1 mPa.s\"\ndensity = \"998 kg/m3\"\nflow = \"60 mL/h\"\n\
                 [interface]\ntension = \"72 mN/m\"\n[device]\ntip_bore = \"2 mm\"\n[gravity]\nalong = \"down\"\n";
    std::fs::write(at.join("plain.toml"), plain).expect("written");
    let out = slenderjet(at).args(["run", "plain.toml", "--uncertain", "8"]).output().expect("an answer");
    assert_eq!(out.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&out.stderr).contains("+- 30 %"));
}

#[test]
fn margins_go_on_from_the_answers_that_were_kept() {
    let folder = with_tap();
    let at = folder.path();
    let coarse = ["margins", "tap.toml", "--no-border", "--set", "run.accuracy=coarse", "--set", "run.drops=4"];
    let args = [&coarse[..], &["--keep", "answers.jsonl"]].concat();
    let found = json(at, &args);
    assert_eq!(json(at, &coarse), found);
    let whole = std::fs::read_to_string(at.join("answers.jsonl")).expect("kept");
    let runs = whole.lines().count() - 1;
    assert!(runs > 6, "{runs}");
    let part: String = whole.lines().take(1 + runs / 2).map(|line| format!("{line}\n")).collect();
    std::fs::write(at.join("answers.jsonl"), &part).expect("written");
    assert_eq!(json(at, &args), found);
    let again = std::fs::read_to_string(at.join("answers.jsonl")).expect("kept");
    assert!(again.starts_with(&part) && again.lines().count() == 1 + runs, "what was kept was not run again");
}

// What a margin promises: at its change the answer is the same one, just beyond it is not.
#[test]
fn margins_of_a_simulated_tap_agree_with_reruns() {
    let folder = with_tap();
    let case = case::read(&folder.path().join("tap.toml")).expect("a case");
    let answer =
        |case: &slenderjet::case::Case, length| -> Result<Outcome, StudyError> { simulated(case, length, &|| false) };
    let ask = Counted::new(&answer);
    let diameter = |case: &slenderjet::case::Case| {
        let found = answer(&quick(case, 4), Length::UntilAlike).expect("an answer").summary;
        (found.mode, found.primary.mean_diameter_m.expect("drops"))
    };
    let (mode, own) = diameter(&case);
    for margin in margins(&case, None, 4, &ask, 2).expect("margins") {
        for side in [&margin.down, &margin.up] {
            let (at_mode, at) = diameter(&margin.input.scaled(&case, 1.0 + side.change));
            assert!(
                !at_mode.differs(mode) && (at / own - 1.0).abs() <= DIAMETER_BAND,
                "{margin:?}: {at} against {own}"
            );
            if side.end == End::Diameter {
                let (_, beyond) = diameter(&margin.input.scaled(&case, 1.0 + side.beyond.expect("it ends")));
                assert!((beyond / own - 1.0).abs() > DIAMETER_BAND, "{margin:?}");
            }
        }
    }
}

/// The shipped co-flow with fewer drops.
fn with_coflow() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    slenderjet(folder.path()).args(["example", "coflow", "-o", "full.toml", "-q"]).assert().success();
    let text = std::fs::read_to_string(folder.path().join("full.toml")).expect("there");
    let short = text.replace("drops = 10", "drops = 6");
    assert_ne!(short, text);
    std::fs::write(folder.path().join("coflow.toml"), short).expect("written");
    folder
}

// Wishes 10 % under and over a co-flow's own drop: what aim writes lands within 2 % when run, and the run gives what was told.
#[test]
fn co_flow_wishes_ten_percent_under_and_over_land_within_two_percent() {
    let folder = with_coflow();
    let at = folder.path();
    let own = json(at, &["run", "coflow.toml"])["primary"]["mean_diameter_m"].as_f64().expect("drops");
    for factor in [0.9, 1.1] {
        let wish = format!("{} um", 1e6 * own * factor);
        let aimed = json(at, &["aim", "coflow.toml", "--diameter", &wish, "--no-margins", "-o", "aimed.toml"]);
        let run = json(at, &["run", "aimed.toml"]);
        let got = run["primary"]["mean_diameter_m"].as_f64().expect("drops");
        assert!((got / (factor * own) - 1.0).abs() < 0.02, "{got} for {wish}: {aimed}");
        let told = aimed["predicted"]["mean_diameter_m"].as_f64().expect("drops");
        assert!((got / told - 1.0).abs() < 1e-3, "{got} but told {told}");
        assert!(aimed["evaluations"].as_u64().is_some_and(|n| (2..20).contains(&n)), "{aimed}");
    }
}

// At the case's own accuracy (`standard`), against whole runs: those of the margins may end early, hence 0.2 % of room.
#[test]
fn margins_of_a_co_flow_at_standard_agree_with_whole_reruns() {
    const ROOM: f64 = 2e-3;
    let folder = with_coflow();
    let case = case::read(&folder.path().join("coflow.toml")).expect("a case");
    let answer =
        |case: &slenderjet::case::Case, length| -> Result<Outcome, StudyError> { simulated(case, length, &|| false) };
    let whole = |case: &slenderjet::case::Case| {
        let found = answer(case, Length::Whole).expect("an answer").summary;
        (found.mode, found.primary.mean_diameter_m.expect("drops"))
    };
    let (mode, own) = whole(&case);
    let found = margins(&case, None, 8, &Counted::new(&answer), 2).expect("margins");
    assert_eq!(found.len(), 4);
    let sides: Vec<_> = found.iter().flat_map(|margin| [(margin, &margin.down), (margin, &margin.up)]).collect();
    let ended = sides.par_iter().map(|(margin, side)| {
        println!("{:?} {:+.3} then {:+.3?}: {}", margin.input, side.change, side.beyond, side.end.words());
        let off = |change: f64| {
            let (there, diameter) = whole(&margin.input.scaled(&case, 1.0 + change));
            (!there.differs(mode), (diameter / own - 1.0).abs())
        };
        let (same, far) = off(side.change);
        assert!(same && far <= DIAMETER_BAND + ROOM, "{margin:?}: {far}");
        if side.end == End::Beyond {
            return 0;
        }
        let (same, far) = off(side.beyond.expect("it ends"));
        assert!(!same || far > DIAMETER_BAND - ROOM, "{margin:?}: {far}");
        1
    });
    let ended: u32 = ended.sum();
    assert!(ended >= 4, "a margin must end somewhere");
}

// A jet that noise breaks: its drops scatter by 5 to 8 %, so that no single run shows a border. Means of 120 drops do: each against
// the other is known to 0.6 % (one standard error), hence the room of 1.5 %.
#[test]
fn margins_of_a_noisy_jet_agree_with_long_reruns() {
    const DROPS: u32 = 120;
    const ROOM: f64 = 0.015;
    let folder = tempfile::tempdir().expect("a folder");
    slenderjet(folder.path()).args(["example", "jet", "-o", "full.toml", "-q"]).assert().success();
    let text = std::fs::read_to_string(folder.path().join("full.toml")).expect("there");
    let waves = ["amplitude", "frequency", "noise"];
    let kept =
        text.lines().filter(|line| !waves.iter().any(|key| line.starts_with(key))).collect::<Vec<_>>().join("\n");
    let noisy =
        kept.replace("[forcing]", "[forcing]\nnoise = \"1 %\"").replace("[run]", "[run]\naccuracy = \"coarse\"");
    std::fs::write(folder.path().join("noisy.toml"), noisy).expect("written");
    let case = case::read(&folder.path().join("noisy.toml")).expect("a case");
    let answer =
        |case: &slenderjet::case::Case, length| -> Result<Outcome, StudyError> { simulated(case, length, &|| false) };
    let found = margins(&case, None, 8, &Counted::new(&answer), 2).expect("margins");
    let mean = |case: &slenderjet::case::Case| {
        let found = answer(&quick(case, DROPS), Length::AllDrops).expect("an answer").summary;
        (found.mode, found.primary.mean_diameter_m.expect("drops"))
    };
    let (mode, own) = mean(&case);
    let sides: Vec<_> = found.iter().flat_map(|margin| [(margin, &margin.down), (margin, &margin.up)]).collect();
    let ended = sides.par_iter().map(|(margin, side)| {
        let scatter = margin.scatter.expect("the drops scatter").relative;
        assert!((0.02..0.1).contains(&scatter) && margin.drops_to_tell(0.01) > Some(15), "{margin:?}");
        let (there, diameter) = mean(&margin.input.scaled(&case, 1.0 + side.change));
        let moved = (diameter / own - 1.0).abs();
        println!("{:?} {:+.3} to {:+.3?}: {moved:.4}", margin.input, side.change, side.beyond);
        assert!(!there.differs(mode) && moved < DIAMETER_BAND + ROOM, "{margin:?}: {moved}");
        let (End::Diameter, Some(beyond)) = (&side.end, side.beyond) else { return 0 };
        let moved = (mean(&margin.input.scaled(&case, 1.0 + beyond)).1 / own - 1.0).abs();
        assert!(moved > DIAMETER_BAND - ROOM, "{margin:?}: {moved} beyond");
        1
    });
    let ended: u32 = ended.sum();
    assert!(ended >= 2, "a margin must end somewhere");
}

// The same liquids in both layouts: the orifice makes the stream fast, and a co-flow at that speed makes small drops too.
#[test]
fn the_same_liquids_in_both_layouts_differ_by_the_speed_of_the_stream() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    slenderjet(at).args(["example", "counterflow", "-o", "counter.toml", "-q"]).assert().success();
    let text = std::fs::read_to_string(at.join("counter.toml")).expect("there");
    let text = text.replace("drops = 10", "drops = 4\naccuracy = \"coarse\"");
    std::fs::write(at.join("counter.toml"), &text).expect("written");
    let orifice = ["orifice_", "standoff", "collection_"];
    let own = |line: &&str| !orifice.iter().any(|key| line.starts_with(key));
    let straight = text.replace("layout = \"counterflow\"", "layout = \"coflow\"").replace("\"2 mL/h\"", "\"60 mL/h\"");
    std::fs::write(at.join("co.toml"), straight.lines().filter(own).collect::<Vec<_>>().join("\n")).expect("written");
    let found = json(at, &["compare", "co.toml", "counter.toml", "--no-margins"]);
    let said = found["statements"][0].as_str().expect("a sentence");
    assert!(said.contains("an orifice of 100 um") && said.contains("co at that speed"), "{said}");
    assert!(!said.contains("their liquids differ"), "{said}");
    let number = |i: usize, key: &str| found["cases"][i][key].as_f64().expect("a number");
    assert!(number(1, "mean_diameter_m") < number(0, "mean_diameter_m"), "{found}");
    assert!(number(1, "outer_speed_m_per_s") > number(0, "outer_speed_m_per_s"), "{found}");
}
