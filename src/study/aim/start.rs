//! Where the search begins: balances on paper, before any run.
//!
//! Equation: co-flow, force on a hanging drop against the tension at its rim: `d/D_t = 1 + 1/(3 Ca)`, Ca = mu_o U_o / gamma, U_o
//! the speed of the empty channel on its axis; counter-flow, a jet of the pumped share of the orifice and a drop of its
//! wavelength: `d = 2.2 D_or sqrt(Q_i/(Q_i + Q_o))`; any layout, mass: `Q_i = pi d^3 f / 6`.
//!
//! Symbols: d drop (m), D_t diameter that pins the thread (m), D_or orifice (m), Q flows (m3/s), f drops a second (1/s).
//!
//! Source: co-flow: Umbanhowar, Prasad & Weitz 2000, Langmuir 16, 347 (recalled from memory; 15 to 30 % off); counter-flow:
//! our own runs, 1.97 to 3.8 times the jet's diameter.
//!
//! Holds for: a first guess only; every answer is simulated.

use crate::case::{Case, Layout};
use crate::device::wall::WallProfile;
use std::f64::consts::PI;

/// Drop over jet diameter that the counter-flow guess takes.
const DROP_OVER_JET: f64 = 2.2;
/// Guesses further than this factor from the case's own flow are not believed.
const FACTOR_MAX: f64 = 30.0;

/// Inner flow that carries `rate` drops of `diameter` a second, with a share `satellites` of the volume lost to them.
pub fn inner_flow(diameter: f64, rate: f64, satellites: f64) -> f64 {
    PI / 6.0 * diameter.powi(3) * rate / (1.0 - satellites)
}

/// Outer flow that gives `diameter` on paper; the case's own where the balance has no answer.
pub fn outer_flow(case: &Case, diameter: f64) -> f64 {
    let own = case.outer.as_ref().map_or(0.0, |outer| outer.flow);
    let guess = match (case.layout, case.device.orifice) {
        (Layout::Counterflow, Some(orifice)) => {
            case.inner.flow * ((DROP_OVER_JET * orifice.bore / diameter).powi(2) - 1.0)
        }
        _ => force_balance(case, diameter).unwrap_or(own),
    };
    if guess.is_finite() && guess > 0.0 { guess.clamp(own / FACTOR_MAX, own * FACTOR_MAX) } else { own }
}

fn force_balance(case: &Case, diameter: f64) -> Option<f64> {
    let outer = case.outer.as_ref()?;
    let radius = WallProfile::of(case).narrowest()?;
    let excess = diameter / (2.0 * case.device.pinned_radius()) - 1.0;
    if excess <= 0.0 {
        return None;
    }
    let speed = case.tension / (3.0 * excess * outer.viscosity);
    // On the axis of a tube the speed is twice the mean.
    Some(0.5 * speed * PI * radius * radius - case.inner.flow)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::synthetic;
    use approx::assert_relative_eq;

    #[test]
    fn theory_mass_balance() {
        let flow = inner_flow(100e-6, 1000.0, 0.0);
        assert_relative_eq!(flow, 5.235_987_755_982_99e-10, max_relative = 1e-12);
        assert_relative_eq!(inner_flow(100e-6, 1000.0, 0.02), flow / 0.98, max_relative = 1e-12);
    }

    #[test]
    fn theory_force_balance_comes_back() {
        let mut case = synthetic::case();
        let flow = outer_flow(&case, 60e-6);
        // The square bore as a round tube of radius 0.550 a, worked by hand.
        let radius = 577.5e-6;
        let speed = 2.0 * (flow + case.inner.flow) / (PI * radius * radius);
        let outer = case.outer.as_mut().expect("co-flow");
        outer.flow = flow;
        let capillary = outer.viscosity * speed / case.tension;
        // The guess may be held at 30 times the case's own flow.
        let diameter = 30e-6 * (1.0 + 1.0 / (3.0 * capillary));
        assert!(diameter >= 60e-6 * 0.999, "{diameter}");
        assert_eq!(outer_flow(&case, 20e-6), case.outer.as_ref().expect("co-flow").flow, "below the tip: no balance");
    }
}
