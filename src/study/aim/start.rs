//! The second flow of a search, from the first run and balances on paper; flows as a case file writes them.
//!
//! Equation: what the first run gave sets the constant of each law. Co-flow, force on a hanging drop against the tension at its rim:
//! `d/D_t - 1 ~ 1/(Q_i + Q_o)`; counter-flow, a jet of the pumped share of the orifice and a drop of its wavelength:
//! `d ~ (Q_i/(Q_i + Q_o))^(1/2)`; any layout, mass: `Q_i = pi d^3 f / 6`.
//!
//! Symbols: d drop (m), D_t diameter that pins the thread (m), Q flows (m3/s), f drops a second (1/s).
//!
//! Source: co-flow: Umbanhowar, Prasad & Weitz 2000, Langmuir 16, 347 (recalled from memory), with a constant of our own run;
//! counter-flow: mass of a plug of one speed, and the fixed ratio of drop to jet of linear theory (common practice, no source).
//!
//! Holds for: a guess only; every answer is simulated.

use crate::case::{Case, Layout};
use crate::units::{self, Kind};
use std::f64::consts::PI;

/// Guesses further than this factor from the case's own flow are not believed.
const FACTOR_MAX: f64 = 10.0;
/// Significant digits of a written flow.
const DIGITS: f64 = 7.0;

/// Inner flow that carries `rate` drops of `diameter` a second, with a share `satellites` of the volume lost to them.
pub fn inner_flow(diameter: f64, rate: f64, satellites: f64) -> f64 {
    PI / 6.0 * diameter.powi(3) * rate / (1.0 - satellites)
}

/// A flow as a case file says it.
pub fn written(flow: f64) -> String {
    let small = 3.6e12 * flow;
    let decimals = (DIGITS - 1.0 - small.abs().log10().floor()).clamp(0.0, 15.0);
    format!("{small:.*} uL/h", if decimals.is_finite() { decimals as usize } else { 0 })
}

/// The flow that is read from what [`written`] writes: drops of a jet depend on the last bit, so what is run must be what is written.
pub fn as_written(flow: f64) -> f64 {
    units::read(&written(flow), Kind::Flow).map_or(flow, |reading| reading.si)
}

/// Outer flow that gives `wish` on paper, where this case gave `seen`; `None` where the balance has no answer.
pub fn second(case: &Case, seen: f64, wish: f64) -> Option<f64> {
    let own = case.outer.as_ref().map(|outer| outer.flow).filter(|flow| *flow > 0.0)?;
    let rim = 2.0 * case.device.pinned_radius();
    let ratio = match case.layout {
        Layout::Counterflow(_) => (seen / wish).powi(2),
        _ => (seen / rim - 1.0) / (wish / rim - 1.0),
    };
    let flow = (case.inner.flow + own) * ratio - case.inner.flow;
    (ratio > 0.0 && (own / FACTOR_MAX..=own * FACTOR_MAX).contains(&flow)).then_some(flow)
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
    fn theory_the_balances_come_back_to_what_was_seen() {
        // d/D - 1 = 1/(3 Ca): 60 um behind a rim of 30 um at Ca 1/3, 90 um at half of it.
        let case = synthetic::case();
        let sum = case.inner.flow + case.outer.as_ref().expect("co-flow").flow;
        let rim = 2.0 * case.device.pinned_radius();
        let flow = second(&case, 2.0 * rim, 3.0 * rim).expect("a balance");
        assert_relative_eq!((flow + case.inner.flow) / sum, 0.5, max_relative = 1e-12);
        assert_eq!(second(&case, 2.0 * rim, 0.9 * rim), None, "below the tip: no balance");
        assert_eq!(second(&case, 2.0 * rim, 200.0 * rim), None, "too far to be believed");
        let mut focused = case;
        focused.layout = Layout::Counterflow(synthetic::ORIFICE);
        let flow = second(&focused, 90e-6, 60e-6).expect("a balance");
        assert_relative_eq!((flow + focused.inner.flow) / sum, 2.25, max_relative = 1e-12);
    }

    #[test]
    fn what_is_run_is_what_is_written() {
        for flow in [1.0 / 3e12, 7.777_777_777e-9, 2e-3 / 7.0, 1e-18] {
            let once = as_written(flow);
            assert_relative_eq!(once, flow, max_relative = 1e-6);
            assert_eq!(as_written(once), once);
        }
        assert_eq!(written(300.0 / 3.6e12), "300.0000 uL/h");
    }
}
