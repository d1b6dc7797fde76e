//! Pumps as they are: ramps, pulsation of the outer flow and steps of a motor, in whole runs of the co-flow example at `coarse`.

use slenderjet::case::examples::find;
use slenderjet::case::{Case, parse_with};
use slenderjet::outcome::{DropKind, Summary};
use slenderjet::simulate::{Silent, simulate};

fn case(changes: &[&str]) -> Case {
    let mut all: Vec<String> = vec!["run.accuracy=coarse".into()];
    all.extend(changes.iter().map(|c| (*c).to_owned()));
    parse_with(find("coflow").expect("an example").text, "coflow", &all).unwrap_or_else(|e| panic!("{e}"))
}

fn run(changes: &[&str]) -> Summary {
    simulate(&case(changes), None, &mut Silent).expect("a run").summary
}

fn mean(s: &Summary) -> f64 {
    s.primary.mean_diameter_m.expect("settled drops")
}

/// What the flows have come to decides, not how they came there: co-flow dripping has no memory of a hundred milliseconds ago.
#[test]
fn drops_after_a_ramp_are_those_of_its_goal() {
    let goal = run(&["outer.flow=30 mL/h", "run.drops=6"]);
    let ramp = ["outer.flow=20 mL/h", "ramp.outer=30 mL/h", "ramp.start=0.2 s", "ramp.over=0.3 s"];
    let ramped = run(&[&ramp[..], &["run.until=1.6 s"]].concat());
    assert!(ramped.established.is, "{}", ramped.established.why);
    // No drop from before the ramp's end counts.
    assert!(ramped.established.since_s.is_some_and(|since| since > 0.5), "{:?}", ramped.established);
    assert!((mean(&ramped) / mean(&goal) - 1.0).abs() < 0.01, "{} {}", mean(&ramped), mean(&goal));
    assert!(ramped.conservation.volume_relative.abs() < 1e-9, "{}", ramped.conservation.volume_relative);
    let cut = run(&[&ramp[..], &["run.until=0.4 s"]].concat());
    assert!(!cut.established.is && cut.established.why.contains("still change"), "{}", cut.established.why);
    assert_eq!(cut.primary.mean_diameter_m, None);
}

/// A pulsation much slower than the drops is a slow walk through the steady settings: sizes swing between those of the two ends.
#[test]
fn a_slow_pulsation_of_the_outer_flow_swings_sizes_between_the_steady_ends() {
    let end = |flow: &str| mean(&run(&[&format!("outer.flow={flow}"), "run.drops=5"]));
    // 20 % of 20 mL/h either way.
    let (large, small) = (end("16 mL/h"), end("24 mL/h"));
    let pulse = ["outer.flow=20 mL/h", "forcing.outer_amplitude=20 %", "forcing.outer_frequency=0.5 Hz"];
    let pulsed = run(&[&pulse[..], &["run.until=5 s"]].concat());
    let after = pulsed.drops.iter().filter(|d| d.kind == DropKind::Primary && d.time_s > 0.5).map(|d| d.diameter_m);
    let (low, high) = after.fold((f64::INFINITY, 0.0_f64), |(a, b), d| (a.min(d), b.max(d)));
    // A drop that takes a tenth of a period averages over its time: the swing is a few percent less than that of the ends.
    let swing = (high / low).ln() / (large / small).ln();
    assert!((0.85..=1.03).contains(&swing), "{low} {high} within {small} {large}: {swing}");
    assert!(pulsed.conservation.volume_relative.abs() < 1e-9);
    // Two periods are the least that a settled state must cover.
    let short = run(&[&pulse[..], &["run.until=1.5 s"]].concat());
    assert!(!short.established.is && short.established.why.contains("outer pulsation"), "{}", short.established.why);
    assert!(short.warnings.iter().any(|w| w.code == "pulsation_short"));
}

/// A syringe pump whose motor delivers four drops a step, in the first half of the time between two: no drop comes off in the second
/// half but those that were about to, and the same run twice gives the same drops.
#[test]
fn steps_of_a_motor_deliver_the_flow_in_bursts_and_repeat() {
    // 30 uL/h are 8.33 nL/s: a step each 0.6 s, and 7.4 drops a second of a smooth pump.
    let steps = ["inner.flow=30 uL/h", "forcing.step=5 nL", "run.until=4 s"];
    let stepped = run(&steps);
    assert!(stepped.conservation.volume_relative.abs() < 1e-9, "{}", stepped.conservation.volume_relative);
    let longest = |s: &Summary| {
        let primaries = s.drops.iter().filter(|d| d.kind == DropKind::Primary && d.time_s > 0.7);
        let times: Vec<f64> = primaries.map(|d| d.time_s).collect();
        times.windows(2).map(|pair| pair[1] - pair[0]).fold(0.0, f64::max)
    };
    let smooth = run(&["inner.flow=30 uL/h", "run.until=2 s"]);
    assert!(longest(&stepped) > 2.0 * longest(&smooth), "{} {}", longest(&stepped), longest(&smooth));
    // Six whole steps after the first: what came off meanwhile is six steps, but for what hangs on the nozzle at both ends.
    let meanwhile = stepped.drops.iter().filter(|d| (0.3..3.9).contains(&d.time_s)).map(|d| d.volume_m3).sum::<f64>();
    let drop = smooth.primary.mean_diameter_m.expect("drops").powi(3) * std::f64::consts::PI / 6.0;
    assert!((meanwhile - 30e-12).abs() < 1.5 * drop, "{meanwhile} {drop}");
    assert_eq!(run(&steps).drops, stepped.drops);
}

/// Noise of the two pumps is seeded apart, and the outer one alone spreads the sizes.
#[test]
fn noise_of_the_outer_flow_spreads_sizes_by_its_seed() {
    let noisy = |seed: &str| run(&["forcing.outer_noise=3 %", &format!("forcing.seed={seed}"), "run.drops=8"]);
    let (a, b, again) = (noisy("1"), noisy("2"), noisy("1"));
    assert_eq!(a.drops, again.drops);
    assert_ne!(a.drops, b.drops);
    let quiet = run(&["run.drops=8"]);
    assert!(a.primary.cv > quiet.primary.cv, "{:?} {:?}", a.primary.cv, quiet.primary.cv);
}

#[test]
fn keys_of_pumps_that_contradict_each_other_are_refused() {
    let refused = |changes: &[&str], key: &str| {
        let text = find("coflow").expect("an example").text;
        let all: Vec<String> = changes.iter().map(|c| (*c).to_owned()).collect();
        let errors = parse_with(text, "coflow", &all).expect_err("a contradiction");
        assert!(errors.problems.iter().any(|p| p.key == key), "{key}: {errors}");
    };
    refused(&["forcing.step=1 nL", "forcing.amplitude=1 %", "forcing.frequency=3 Hz"], "forcing.step");
    refused(
        &["forcing.outer_amplitude=60 %", "forcing.outer_frequency=3 Hz", "forcing.outer_noise=20 %"],
        "forcing.outer_amplitude",
    );
    refused(&["ramp.inner=1 mL/h"], "ramp.over");
    refused(&["ramp.over=1 s"], "ramp.inner");
    refused(&["forcing.outer_amplitude=5 %"], "forcing.outer_frequency");
    // Written in SI units, the keys read as the same case.
    let case = case(&[
        "forcing.outer_step=20 nL",
        "forcing.step=0.5 nL",
        "ramp.inner=200 uL/h",
        "ramp.over=1 s",
        "ramp.hold=0.1 s",
        "ramp.back=2 s",
    ]);
    let again = case.with("inner.flow", case.inner.flow).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(again.forcing, case.forcing);
}
