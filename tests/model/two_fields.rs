//! Two velocities a section (`model.section`).

use crate::laws::Keep;
use slenderjet::case::{Accuracy, Case, Stop, examples, parse};
use slenderjet::outcome::{Outcome, Stopped};
use slenderjet::simulate::{Checkpoint, Observer, Silent, simulate};

fn ten_micron(drops: u32) -> Case {
    let text = examples::find("tenmicron").expect("an example").text;
    let mut case = parse(text, "tenmicron.toml").expect("a case");
    case = case.with_text("model.section", "two_fields").expect("a case");
    case.run.accuracy = Accuracy::Coarse;
    case.run.stop = Stop::Drops(drops);
    case
}

// The full equations without inertia make this device's first drop 23.2 um wide (`slenderjet confirm`); closures 21.0. Twice the difference seen
// at `coarse` (0.6 %); the energy's share open there is 0.6 %.
#[test]
fn reference_the_first_drop_of_the_ten_micron_example() {
    let summary = simulate(&ten_micron(1), None, &mut Silent).expect("a run").summary;
    let drop = summary.drops.first().expect("a drop");
    assert!((1e6 * drop.diameter_m / 23.2 - 1.0).abs() < 0.012, "{}", drop.diameter_m);
    assert!(summary.conservation.energy_relative < 0.01, "{}", summary.conservation.energy_relative);
    assert!(summary.conservation.volume_relative < 1e-13, "{}", summary.conservation.volume_relative);
}

// The full equations without inertia give 2.2454 (row blind-blunt-1 of validation/reference/results/devices.csv, one resolution), closures 6 % more.
#[test]
fn reference_the_first_drop_at_a_blunt_tip_in_a_tube() {
    let text = "layout = \"coflow\"\n[device]\ntip_bore = \"20 um\"\ntip_outer = \"42.4 um\"\nround_bore = \"183.6 um\"\n[inner]\n\
                viscosity = \"0.599 Pa.s\"\ndensity = \"1000 kg/m3\"\nflow = \"8.767305e-5 mL/h\"\n[outer]\nviscosity = \"1 Pa.s\"\n\
                density = \"1000 kg/m3\"\nflow = \"3.2405345e-2 mL/h\"\n[interface]\ntension = \"5 mN/m\"\n[model]\nsection = \"two_fields\"\n\
                [run]\ndrops = 1\naccuracy = \"coarse\"\n";
    let case = parse(text, "blunt.toml").expect("a case");
    let summary = simulate(&case, None, &mut Silent).expect("a run").summary;
    let drop = summary.drops.first().expect("a drop");
    assert!((drop.diameter_m / 20e-6 / 2.24485 - 1.0).abs() < 0.02, "{}", drop.diameter_m);
    assert!(summary.conservation.energy_relative < 0.01, "{}", summary.conservation.energy_relative);
}

/// Wherever a run is cut in two, the second half ends as the whole did, to the last bit: the rays about the thread go with its state.
#[test]
fn the_restart_point_does_not_matter_by_two_fields() {
    let case = ten_micron(2);
    let whole = simulate(&case, None, &mut Silent).expect("a run");
    for left in [3, 11] {
        let mut keep = Keep { left, state: None };
        let _ = simulate(&case, None, &mut keep).expect("a run");
        let state = keep.state.expect("a state");
        assert_eq!(simulate(&case, Some(&state), &mut Silent).expect("resumed"), whole);
    }
}

/// The latest checkpoint that is not the last of its run.
#[derive(Default)]
struct Late([Option<Checkpoint>; 2]);

impl Observer for Late {
    fn checkpoint(&mut self, state: &Checkpoint, _so_far: &dyn Fn() -> Outcome) {
        self.0 = [self.0[1].take(), Some(state.clone())];
    }
}

/// A viscous thread that leaves a film of a hundredth of its radius in a long hole: two fields creep there, closures come to the drops. The answer
/// says so, and a run goes on from a state after that as it went.
#[test]
fn a_run_goes_on_with_closures_where_two_fields_come_no_further() {
    let text = "layout = \"counterflow\"\n[inner]\nviscosity = \"159 mPa.s\"\ndensity = \"981 kg/m3\"\nflow = \"0.497 mL/h\"\n[outer]\n\
                viscosity = \"1.01 mPa.s\"\ndensity = \"1048 kg/m3\"\nflow = \"6.32 mL/h\"\n[interface]\ntension = \"41.9 mN/m\"\n[device]\n\
                square_bore = \"1.05 mm\"\nround_outer = \"1 mm\"\ntip_bore = \"67.7 um\"\ntip_outer = \"81.5 um\"\norifice_bore = \"69.6 um\"\n\
                orifice_length = \"207 um\"\nstandoff = \"148 um\"\ncollection_bore = \"124.8 um\"\ncollection_length = \"285 um\"\n[run]\n\
                drops = 1\naccuracy = \"coarse\"\n";
    let case = parse(text, "film.toml").expect("a case");
    let mut late = Late::default();
    let whole = simulate(&case, None, &mut late).expect("a run");
    assert!(whole.summary.stopped == Stopped::DropsReached, "{:?}", whole.summary.stopped);
    assert!(whole.summary.warnings.iter().any(|w| w.code == "fields_left"), "{:?}", whole.summary.warnings);
    let state = late.0[0].take().expect("two states");
    assert_eq!(simulate(&case, Some(&state), &mut Silent).expect("resumed"), whole);
}

#[test]
fn two_fields_are_refused_where_they_do_not_hold() {
    let tap = parse(examples::find("tap").expect("an example").text, "tap.toml").expect("a case");
    assert!(tap.with_text("model.section", "two_fields").is_err(), "no channel");
    assert!(ten_micron(1).with_text("inner.thinning_exponent", "0.5").is_err(), "a liquid that thins");
    let text = examples::find("tenmicron").expect("an example").text;
    let laden =
        format!("{text}\n[model]\nsection = \"two_fields\"\n[surfactant]\nkind = \"insoluble\"\nelasticity = 0.2\n");
    let told = parse(&laden, "laden.toml").expect_err("a surfactant").to_string();
    assert!(told.contains("one viscosity and one tension"), "{told}");
}
