//! Where the model ends: validity limits that a case exceeds, each with the number that says so, and the cautions of the
//! bench that it earns.
//!
//! Pure functions of the case; `check` and `run` print the same list. The codes are promises to scripts.

pub mod base_flow;
pub mod cautions;
mod energy;
pub mod expected;
pub mod interval;
pub mod model_error;
mod pulsation;
pub mod reference;
mod rheology;
pub mod size;
mod streams;
mod tube;

pub use energy::energy_open;
pub use pulsation::pulsation_short;
pub use streams::crosses_its_drop;
pub use tube::{crowded, fields_left};

use crate::case::Case;
use crate::groups::length;
use crate::liquids::{look_up, table::NOT_SOURCED};
use crate::outcome::{Mode, Warning};

/// Every limit of the model that a case exceeds, in order of weight; what hangs on a dripping drop is judged by the one that simple
/// balances expect.
pub fn warnings(case: &Case) -> Vec<Warning> {
    warnings_seen(case, None)
}

/// The same once drops were simulated: `seen` is their mode and mean diameter (m), which then stand in place of the expected drop.
pub fn warnings_seen(case: &Case, seen: Option<(Mode, f64)>) -> Vec<Warning> {
    let dripping = match seen {
        Some((Mode::Jetting | Mode::None, _)) => None,
        Some((_, diameter)) => Some(diameter),
        None => size::dripping_diameter(case),
    };
    let mut found: Vec<Warning> = streams::jet_in_drop(case, seen.map(|(mode, _)| mode)).into_iter().collect();
    found.extend(tube::warnings(case, seen.map(|(_, diameter)| diameter)));
    found.extend(streams::warnings(case, dripping, seen.map(|(mode, _)| mode)));
    found.extend(rheology::warnings(case));
    found
}

/// Limits that hang on a drop which was expected: once a run has shown that none comes off, they say nothing.
const OF_A_DROP: [&str; 2] = ["plug", "drop_inertia"];

/// The warnings of a case of which a run has shown that it ends without a drop.
pub fn without_a_drop(mut warnings: Vec<Warning>) -> Vec<Warning> {
    warnings.retain(|w| !OF_A_DROP.contains(&w.code.as_str()));
    warnings
}

/// Words by which the parser marks a tension that was not typed.
const FROM_TABLE: &str = "from the table:";

/// What was taken without being typed and moves the answer.
pub fn assumed(case: &Case) -> Vec<String> {
    let tension = case.typed.iter().find(|t| t.key == "interface.tension" && t.text.starts_with(FROM_TABLE));
    let words = |t: &crate::case::Typed| {
        let pair = t.text.trim_start_matches(FROM_TABLE).trim();
        // The pair without its surfactant is said by the reader of the case.
        let beware = if case.outer.is_some() { ": give interface.tension" } else { "" };
        format!("tension assumed: {} mN/m, {pair}{beware}", figure(1e3 * t.si))
    };
    let unsourced =
        [("inner", Some(&case.inner)), ("outer", case.outer.as_ref())].into_iter().filter_map(|(side, stream)| {
            let name = stream?.liquid.as_ref()?;
            let taken =
                case.typed.iter().any(|t| t.key == format!("{side}.viscosity") && t.text.starts_with(FROM_TABLE));
            let liquid = look_up(name, None).ok().filter(|l| taken && l.status == NOT_SOURCED)?;
            Some(format!(
                "{}: viscosity and density without a source: measure them, give {side}.viscosity",
                liquid.name
            ))
        });
    tension.map(words).into_iter().chain(unsourced).collect()
}

/// Laplace number rho gamma R/mu^2 of the outer liquid.
pub fn outer_laplace(case: &Case) -> Option<f64> {
    let outer = case.outer.as_ref()?;
    Some(outer.density * case.tension * length(case) / (outer.viscosity * outer.viscosity))
}

/// A warning, if its condition holds.
fn when(holds: bool, code: &str, text: impl FnOnce() -> String) -> Option<Warning> {
    holds.then(|| Warning { code: code.to_owned(), text: text() })
}

/// Three significant figures without needless zeros or exponents.
pub(crate) fn figure(x: f64) -> String {
    if x == 0.0 || !x.is_finite() {
        return x.to_string();
    }
    let rounded: f64 = format!("{x:.2e}").parse().unwrap_or(x);
    if (1e-3..1e6).contains(&rounded.abs()) { rounded.to_string() } else { format!("{rounded:e}") }
}

/// A length in micrometres.
pub(crate) fn um(x: f64) -> String {
    format!("{} um", figure(1e6 * x))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{examples, parse};

    fn example(name: &str) -> Case {
        parse(examples::find(name).expect("an example").text, name).unwrap_or_else(|e| panic!("{e}"))
    }

    fn codes(case: &Case) -> Vec<String> {
        warnings(case).into_iter().map(|w| w.code).collect()
    }

    fn set(case: &Case, changes: &[(&str, &str)]) -> Case {
        changes.iter().fold(case.clone(), |c, (k, v)| c.with_text(k, v).unwrap_or_else(|e| panic!("{e}")))
    }

    // By hand: the balance expects a drop of 361 um in this 100 um tube (outside of its range); the run finds 58 um, whose Reynolds
    // number is 58/361 of the expected one's.
    #[test]
    fn drops_that_were_simulated_take_the_place_of_the_expected_one() {
        let narrow = [
            ("device.tip_bore", "10 um"),
            ("outer.flow", "8 mL/h"),
            ("outer.viscosity", "1 mPa.s"),
            ("interface.tension", "53 mN/m"),
        ];
        let mut case = set(&example("coflow"), &narrow);
        case.device.bore = crate::case::Bore::Round(100e-6);
        let expected = size::dripping_diameter(&case).expect("a stream pulls");
        let reynolds = |seen| {
            let found = warnings_seen(&case, seen).into_iter().find(|w| w.code == "drop_inertia")?;
            found.text.split_whitespace().nth(2).and_then(|number| number.parse::<f64>().ok())
        };
        assert!(warnings(&case).iter().any(|w| w.code == "plug"));
        let seen = Some((Mode::Dripping, 58e-6));
        assert!(warnings_seen(&case, seen).iter().all(|w| w.code != "plug"));
        let (before, after) = (reynolds(None).expect("expected"), reynolds(seen).expect("seen"));
        approx::assert_relative_eq!(after / before, 58e-6 / expected, max_relative = 0.01);
        assert_eq!(reynolds(Some((Mode::Jetting, 58e-6))), None);
        // a device expected to jet that was seen to drip is not told what it would need as a jet
        let focus = example("counterflow");
        let unforced = |seen| warnings_seen(&focus, seen).iter().any(|w| w.code == "unforced_jet");
        assert_eq!(
            [None, Some((Mode::Jetting, 76e-6)), Some((Mode::Dripping, 76e-6))].map(unforced),
            [true, true, false]
        );
    }

    /// Each limit, raised by a case made for it, and silent in the one that it was made from.
    #[test]
    fn every_limit_is_raised_by_the_case_made_for_it() {
        let (focus, tap, jet) = (example("counterflow"), example("tap"), example("jet"));
        let thin = [("outer.viscosity", "13 mPa.s"), ("outer.flow", "30 mL/h"), ("inner.flow", "150 uL/h")];
        let coflow = set(&example("coflow"), &thin);
        let slow = set(
            &example("tenmicron"),
            &[
                ("device.orifice_bore", "12 um"),
                ("device.tip_bore", "20 um"),
                ("outer.flow", "22 uL/h"),
                ("inner.flow", "5 uL/h"),
            ],
        );
        let plain = set(&jet, &[("inner.flow", "20 mL/min")]);
        type Row<'a> = (&'a Case, &'a str, &'a [(&'a str, &'a str)]);
        let table: &[Row] = &[
            (&coflow, "outer_inertia", &[("outer.viscosity", "1 mPa.s")]),
            (&coflow, "drop_inertia", &[("outer.viscosity", "5 mPa.s")]),
            (&coflow, "outer_inertia_far", &[("outer.viscosity", "0.3 mPa.s"), ("device.tip_bore", "40 um")]),
            (&coflow, "confined", &[("inner.flow", "60 mL/h")]),
            (&coflow, "plug", &[("outer.flow", "0.2 mL/h")]),
            (&coflow, "wide_in_square", &[("inner.flow", "20 mL/h")]),
            (
                &coflow,
                "thin_inner",
                &[("inner.viscosity", "0.5 mPa.s"), ("outer.flow", "600 mL/h"), ("inner.flow", "20 mL/h")],
            ),
            (&coflow, "pinch_speed", &[("inner.viscosity", "3 mPa.s")]),
            (
                &coflow,
                "tip_streaming",
                &[("inner.viscosity", "0.5 mPa.s"), ("outer.flow", "600 mL/h"), ("inner.flow", "10 uL/h")],
            ),
            (&focus, "standoff_far", &[("device.standoff", "400 um"), ("model.section", "closures")]),
            (
                &focus,
                "tip_wide",
                &[("device.standoff", "20 um"), ("device.tip_bore", "70 um"), ("model.section", "closures")],
            ),
            (&focus, "orifice_inertia", &[("outer.flow", "30 mL/h")]),
            (&slow, "two_modes", &[("inner.flow", "26 uL/h")]),
            (&tap, "low_ohnesorge", &[("inner.viscosity", "0.3 mPa.s")]),
            (&tap, "wide_tip", &[("device.tip_outer", "7 mm")]),
            (&plain, "turbulent", &[("inner.flow", "80 mL/min")]),
            (&plain, "air_drag", &[("inner.flow", "300 mL/min")]),
            (&coflow, "jet_in_drop", &[("inner.flow", "20 mL/h")]),
            (&tap, "plug_inflow", &[("inner.flow", "90 mL/min")]),
            (&jet, "radial_inertia_unused", &[("model.radial_inertia", "on")]),
            (&jet, "forcing_short", &[("forcing.frequency", "20 kHz")]),
        ];
        let mut wrong = Vec::new();
        for (base, code, changes) in table {
            let changed = set(base, changes);
            if !codes(&changed).iter().any(|c| c == code) {
                wrong.push(format!("{code} is missing from {:?}", codes(&changed)));
            }
            if codes(base).iter().any(|c| c == code) {
                wrong.push(format!("{code} is raised without need"));
            }
        }
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    }

    #[test]
    fn what_closures_do_not_know_of_the_glass_is_not_said_of_two_fields() {
        let near = set(&example("counterflow"), &[("device.standoff", "20 um"), ("device.tip_bore", "70 um")]);
        let told = ["wall_slope", "tip_wide"];
        let closures = set(&near, &[("model.section", "closures")]);
        assert!(told.iter().all(|code| codes(&closures).iter().any(|c| c == code)));
        let fields = codes(&near);
        assert!(told.iter().all(|code| fields.iter().all(|c| c != code)), "{fields:?}");
    }

    #[test]
    fn a_real_liquid_behind_an_orifice_is_told_apart_from_a_clean_one() {
        let clean = example("counterflow");
        let text = format!("{}\n[surfactant]\nkind = \"insoluble\"\nelasticity = 0.2\n", clean.text);
        let laden = parse(&text, "laden").unwrap_or_else(|e| panic!("{e}"));
        let apart = |case: &Case| codes(case).iter().any(|c| c == "section_apart");
        assert!(apart(&laden) && !apart(&clean));
        assert!(!apart(&set(&laden, &[("model.section", "closures")])));
    }

    #[test]
    fn a_jet_that_crosses_its_drop_comes_first_and_is_silent_where_a_run_jets() {
        let fast = set(&example("coflow"), &[("inner.flow", "20 mL/h")]);
        assert_eq!(warnings(&fast)[0].code, "jet_in_drop");
        assert!(crosses_its_drop(&fast) && !crosses_its_drop(&example("coflow")) && !crosses_its_drop(&example("tap")));
        assert!(warnings_seen(&fast, Some((Mode::Jetting, 1e-4))).iter().all(|w| w.code != "jet_in_drop"));
        // waves that would grow in place notwithstanding
        let modes = [&fast, &example("coflow")].map(|case| expected::expected(case).mode);
        assert_eq!(modes, [Mode::Jetting, Mode::Dripping]);
    }

    #[test]
    fn drops_that_would_touch_are_told_from_those_that_do_not() {
        // 32 um drops, 970 a second, 80 uL/h in a 44 um tube: 2 Q/(pi R^2)/f = 30.1 um apart.
        let crowd = crowded(&example("tenmicron"), 32e-6, 970.0).expect("a warning");
        assert!(crowd.text.contains("30.1 um"), "{}", crowd.text);
        assert!(crowded(&example("tenmicron"), 22e-6, 970.0).is_none(), "as shipped they have room");
        assert!(crowded(&example("coflow"), 126e-6, 7.9).is_none());
        assert!(crowded(&example("tap"), 4e-3, 5.0).is_none(), "no stream, no tube");
    }

    #[test]
    fn drops_that_fill_the_collection_tube_are_told() {
        let plugged = |name: &str, diameter: f64| {
            let found = warnings_seen(&example(name), Some((Mode::Dripping, diameter)));
            found.into_iter().find(|w| w.code == "plug")
        };
        let plug = plugged("tenmicron", 53e-6).expect("a warning");
        assert!(plug.code == "plug" && plug.text.contains("44 um"), "{}", plug.text);
        assert!(plugged("tenmicron", 21e-6).is_none());
        assert!(plugged("tap", 4e-3).is_none(), "no stream, no tube");
    }

    #[test]
    fn every_warning_has_its_number() {
        for e in examples::EXAMPLES {
            for warning in warnings(&example(e.name)) {
                assert!(warning.text.contains(|c: char| c.is_ascii_digit()), "{}: {}", warning.code, warning.text);
            }
        }
    }

    #[test]
    fn figures_are_short() {
        assert_eq!(figure(0.123456), "0.123");
        assert_eq!(figure(1234.5), "1230");
        assert_eq!(figure(1.5e-7), "1.5e-7");
        assert_eq!(um(12.345e-6), "12.3 um");
    }
}
