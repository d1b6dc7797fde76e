//! What is taken at rest of a liquid that is not Newtonian.

use super::{figure, when};
use crate::case::{Case, Layout};
use crate::groups::outer_velocity;
use crate::outcome::{Mode, Warning};

/// Rate beyond which every liquid follows its power law, 1/s.
const FASTEST: f64 = 1e12;

/// Validity warnings that such a liquid earns at a nozzle.
pub(super) fn warnings(case: &Case) -> Vec<Warning> {
    let at_nozzle = !matches!(case.layout, Layout::Segment(_));
    let thinning = when(at_nozzle && case.real.thinning.is_some(), "thinning_at_rest", || {
        let outside = match case.outer.is_some() {
            true => "; drag and stress of the outer liquid take the inner viscosity at rest",
            false => "",
        };
        format!(
            "the thread thins as it stretches, and the pressure at the inner inlet is that of the thinning liquid (developed flow), but groups \
             and estimates take the inner viscosity at rest (an upper bound){outside}"
        )
    });
    let outer = case.real.outer_thinning.map(|t| Warning {
        code: "outer_thinning".into(),
        text: format!(
            "drag and stress of the outer liquid take its viscosity at the rate of the stream about the thread and its drops, and so do the \
             pressures at the inlets; about a thread the drag is off by about {} % (n = {}), about drops by {} % as far as spheres tell; \
             groups, estimates and `growth` take its viscosity at rest",
            figure(100.0 * THREAD * (1.0 - t.exponent)),
            figure(t.exponent),
            figure(100.0 * DROP * (1.0 - t.exponent)),
        ),
    });
    thinning.into_iter().chain(outer).collect()
}

/// Error of a thinning outer liquid's drag over 1 - n: on threads (2.1, 7 and 13 % rms at n = 0.8, 0.5, 0.3) and on drop-shaped ends
/// (7, 1 and 11 % at the same), both bounded; see [`crate::thread::outer::thinning`].
const THREAD: f64 = 0.18;
const DROP: f64 = 0.35;

/// What is not known of a thinning outer liquid's viscosity, relative, in a mode; nothing where it does not thin at the tip.
pub fn outer_error(case: &Case, mode: Mode) -> Option<f64> {
    let (thinning, outer) = (case.real.outer_thinning?, case.outer.as_ref()?);
    let law = thinning.law(outer.viscosity, 1.0);
    let rate = outer_velocity(case).map_or(f64::INFINITY, |axis| axis / (0.5 * case.device.tip_bore));
    // how far it follows its power law there: d ln m/d ln rate over n - 1
    let (m, slope) = law.viscosity((law.time * rate.min(FASTEST)).powi(2));
    let share = if thinning.exponent < 1.0 { slope / (m * (thinning.exponent - 1.0)) } else { 0.0 };
    let error = if mode == Mode::Dripping { DROP } else { THREAD };
    Some(error * (1.0 - thinning.exponent) * share)
}
