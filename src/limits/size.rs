//! What simple balances expect a dripping drop to be: for `check` and for the limits, never for a result.
//!
//! Equation: under gravity the drop-weight curve; in an outer stream drag against tension, d/D = 1 + 1/(3 Ca_o); the smaller of
//! the two.
//!
//! Symbols: d drop diameter, D diameter of the rim that pins the contact line (m), Ca_o on the axis velocity.
//!
//! Source: Harkins & Brown 1919 (curve, see [`crate::theory::drop_weight`]); Umbanhowar, Prasad & Weitz 2000, Langmuir 16,
//! 347 (recalled from memory).
//!
//! Holds for: slow dripping. The balance of drag is 15 to 21 % above a first-principles computation at equal viscosities and
//! slow inner flow, about right at ten times that flow. Not for counter-flow, where the drop forms behind the orifice.

use crate::case::{Case, Layout};
use crate::groups::{groups, length};
use crate::theory::drop_weight;
use std::f64::consts::PI;

/// Diameter of a dripping drop, m; `None` where nothing pulls it off.
pub fn dripping_diameter(case: &Case) -> Option<f64> {
    let (g, r) = (groups(case), length(case));
    let falling = drop_weight::volume(g.bond).map(|v| r * (6.0 * v / PI).cbrt());
    let carried = g.capillary_outer.filter(|_| case.layout == Layout::Coflow);
    let carried = carried.map(|ca| 2.0 * r * (1.0 + 1.0 / (3.0 * ca)));
    match (falling, carried) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{examples, parse};
    use approx::assert_relative_eq;

    // Tate's law with the drop-weight fraction: 2 pi R gamma f = rho g V, f about 0.6 to 0.7 here.
    #[test]
    fn a_tap_drips_drops_of_the_usual_size() {
        let tap = parse(examples::find("tap").expect("an example").text, "tap").expect("a case");
        let d = dripping_diameter(&tap).expect("gravity pulls");
        let weight = PI / 6.0 * d.powi(3) * (tap.inner.density * 9.80665);
        let fraction = weight / (2.0 * PI * 1.5e-3 * tap.tension);
        assert!((0.6..0.75).contains(&fraction), "{fraction}");
        let still = tap.with_text("gravity.along", "none").expect("a case");
        assert_eq!(dripping_diameter(&still), None);
    }

    #[test]
    fn a_faster_stream_drips_smaller_drops() {
        let coflow = parse(examples::find("coflow").expect("an example").text, "coflow").expect("a case");
        let slow = dripping_diameter(&coflow).expect("a drop");
        let fast = dripping_diameter(&coflow.with_text("outer.flow", "40 mL/h").expect("a case")).expect("a drop");
        // 1/(3 Ca) halves
        assert_relative_eq!((slow / 30e-6 - 1.0) / (fast / 30e-6 - 1.0), 2.0, max_relative = 1e-9);
    }
}
