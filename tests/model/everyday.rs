//! Facts of everyday practice and the main job end to end, on the shipped examples (short runs;
//! co-flow at `coarse`, the example files themselves run at `standard`).

use slenderjet::case::examples::find;
use slenderjet::case::parse;
use slenderjet::case::{Accuracy, Case, Stop};
use slenderjet::outcome::{Mode, Summary};
use slenderjet::simulate::{Silent, simulate};
use std::f64::consts::PI;

fn example(name: &str, drops: u32) -> Case {
    let found = find(name).expect("a shipped example");
    let mut case = parse(found.text, name).expect("a sound example");
    case.run.accuracy = Accuracy::Coarse;
    case.run.stop = Stop::Drops(drops);
    case
}

fn run(case: &Case) -> Summary {
    simulate(case, None, &mut Silent).expect("a run").summary
}

/// A collection orifice of about 10 um (16 here) makes 20-30 um drops at about 1000 a second (inner liquid between 15 and 51 uL/h), alike
/// within a few percent. Source: common practice, no source. "About" is taken as 700 to 1500.
#[test]
fn published_everyday_fact_of_the_ten_micron_orifice() {
    let mut case = example("tenmicron", 8);
    // As shipped: at a coarser mesh a second neck may be missed that turns one drop into two.
    case.run.accuracy = Accuracy::Standard;
    let flow = case.inner.flow * 3600.0 / 1e-9;
    assert!((15.0..=51.0).contains(&flow), "inner flow {flow} uL/h");
    assert!(case.forcing.noise > 0.0);
    let summary = run(&case);
    let diameter = summary.primary.mean_diameter_m.expect("drops") * 1e6;
    let rate = summary.primary.rate_per_s.expect("a rate");
    let cv = summary.primary.cv.expect("a spread");
    println!("{diameter} um, {rate} a second, CV {cv}");
    assert!((20.0..=30.0).contains(&diameter), "{diameter} um");
    assert!((700.0..=1500.0).contains(&rate), "{rate} a second");
    assert!(cv < 0.04, "CV {cv}");
    assert_eq!(summary.mode, Mode::Dripping, "{}", summary.mode_evidence);
}

/// What comes off a second is what is pumped, satellites counted, within 3 %; ten times the inner flow turns the same
/// device to jetting. Source: mass balance.
#[test]
fn theory_dripping_co_flow_closes_with_the_pump_and_more_flow_makes_it_jet() {
    let mut case = example("coflow", 6);
    let summary = run(&case);
    assert_eq!(summary.mode, Mode::Dripping, "{}", summary.mode_evidence);
    assert!(summary.primary.count >= 5, "{:?}", summary.primary);
    let volume = PI / 6.0 * summary.primary.mean_diameter_m.expect("drops").powi(3);
    let primaries = volume * summary.primary.rate_per_s.expect("a rate");
    let all = primaries / (1.0 - summary.satellites.volume_fraction.expect("satellites counted"));
    println!("closure {}", all / case.inner.flow);
    assert!((all / case.inner.flow - 1.0).abs() < 0.03, "closure {}", all / case.inner.flow);
    case.inner.flow *= 400.0 / 30.0;
    case.run.stop = Stop::Drops(3);
    let faster = run(&case);
    assert_eq!(faster.mode, Mode::Jetting, "{}", faster.mode_evidence);
}
