//! Changed keys: in the text, and so in the case.

use slenderjet::case::examples::{EXAMPLES, find};
use slenderjet::case::{Accuracy, Bore, Case, Code, Stop, keys, parse};

fn example(name: &str) -> Case {
    parse(find(name).expect("an example").text, name).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn a_key_is_set_where_it_stands_and_nothing_else_moves() {
    let case = example("coflow");
    let faster = case.with("inner.flow", 2e-10).expect("a case");
    assert_eq!(faster.inner.flow, 2e-10);
    assert_eq!(faster.typed.iter().find(|t| t.key == "inner.flow").map(|t| t.si), Some(2e-10));
    let back = faster.with_text("inner.flow", "30 uL/h").expect("a case");
    assert_eq!(back, case, "text, comments and order come back too");
}

#[test]
fn a_key_that_the_file_leaves_out_is_added() {
    let case = example("coflow");
    let noisy = case.with("forcing.noise", 0.01).expect("a case");
    assert_eq!(noisy.forcing.noise, 0.01);
    let seeded = noisy.with("forcing.seed", 7.0).expect("a case");
    assert_eq!((seeded.forcing.noise, seeded.forcing.seed), (0.01, 7));
    let thicker = case.with("inner.viscosity", 0.06).expect("a case");
    assert_eq!(
        (thicker.inner.viscosity, thicker.inner.density),
        (0.06, case.inner.density),
        "the liquid's density stays"
    );
}

#[test]
fn keys_that_stand_for_each_other_take_each_others_place() {
    let case = example("coflow");
    let round = case.with("device.round_bore", 1.1e-3).expect("a case");
    assert_eq!(round.device.bore, Bore::Round(1.1e-3));
    let timed = case.with("run.until", 0.5).expect("a case");
    assert_eq!(timed.run.stop, Stop::Until(0.5));
    let wave = example("segment").with("thread.wavelength", 1e-3).expect("a case").layout.segment().expect("a thread");
    assert!((wave.wavenumber - 2.0 * std::f64::consts::PI * 0.1).abs() < 1e-12);
}

#[test]
fn what_was_changed_in_memory_is_kept() {
    let mut case = example("coflow");
    case.run.stop = Stop::Drops(3);
    case.run.accuracy = Accuracy::Coarse;
    let changed = case.with("outer.flow", 1e-9).expect("a case");
    assert_eq!((changed.run, changed.outer.expect("a stream").flow), (case.run, 1e-9));
    case.tension = 4e-3;
    let changed = case.with("outer.flow", 1e-9).expect("a case");
    assert_eq!((changed.tension, changed.run), (4e-3, case.run));
}

#[test]
fn every_example_can_be_written_from_memory_and_every_number_set() {
    for e in EXAMPLES {
        let mut case = example(e.name);
        case.text = "no case at all".into();
        for key in keys::KEYS.iter().filter(|k| case.typed.iter().any(|t| t.key == k.name)) {
            if key.name.starts_with("run.") || key.name.starts_with("inner.temp") {
                continue;
            }
            let si = case.typed.iter().find(|t| t.key == key.name).expect("typed").si;
            let changed = case.with(key.name, si).unwrap_or_else(|error| panic!("{} {}: {error}", e.name, key.name));
            let close = |a: f64, b: f64| (a - b).abs() <= 1e-12 * a.abs();
            assert!(
                close(changed.tension, case.tension) && close(changed.inner.viscosity, case.inner.viscosity),
                "{}",
                e.name
            );
            assert_eq!((&changed.device, changed.gravity, changed.forcing), (&case.device, case.gravity, case.forcing));
        }
    }
}

#[test]
fn a_change_is_checked_like_a_file() {
    let case = example("coflow");
    let too_wide = case.with("device.tip_bore", 2e-3).expect_err("wider than its channel");
    assert!(too_wide.to_string().contains("not smaller than the square bore"), "{too_wide}");
    let negative = case.with("inner.flow", -1e-10).expect_err("negative");
    assert_eq!(negative.problems[0].code, Code::OutOfRange);
    for key in ["inner.flw", "layout", "title", "nothing"] {
        let error = case.with(key, 1.0).expect_err("no such number");
        assert!(error.to_string().contains("no key that takes a number"), "{error}");
    }
    assert!(case.with("inner.flow", f64::NAN).is_err());
    assert!(case.with("run.drops", 2.5).is_err());
}
