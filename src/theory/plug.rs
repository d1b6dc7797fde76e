//! A drop that fills its tube: the film that it leaves on the wall, and how long it grows.
//!
//! Equation: film b/R = 1.34 Ca^(2/3)/(1 + 1.34 x 2.5 Ca^(2/3)), Ca = mu_o U/gamma; length L = 2 R (1 + a Q_i/Q_o), a of order 1: one
//! diameter by the time the drop blocks the tube, and what is pumped on while the dammed stream squeezes its neck.
//!
//! Symbols: R radius of the tube, U velocity of the plug, mu_o outer viscosity, gamma tension, Q_i, Q_o flows.
//!
//! Source: film Bretherton 1961, J. Fluid Mech. 10, 166 (small Ca), extended by Aussillous & Quere 2000, Phys. Fluids 12, 2367 (Taylor's
//! law) to Ca about 1; inviscid plugs (an oil's film may be up to 4^(2/3) times as thick: Bretherton). Length Garstecki, Fuerstman, Stone &
//! Whitesides 2006, Lab Chip 6, 437: measured in junctions with side inlets, taken here for its order of magnitude.
//!
//! Holds for: no inertia, a round tube; the length within a factor of about two.

use crate::math::Pinned as _;

/// Film thickness over tube radius.
pub fn film(capillary: f64) -> f64 {
    let power = capillary.max(0.0).power(2.0 / 3.0);
    1.34 * power / (1.0 + 1.34 * 2.5 * power)
}

/// Length of a plug over the tube's diameter; `flow_ratio` inner over outer.
pub fn length(flow_ratio: f64) -> f64 {
    1.0 + flow_ratio
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    // Bretherton's limit 1.337 Ca^(2/3) at small Ca; Taylor 1961 measured that plugs leave up to 0.56 of the liquid at large Ca, which
    // the extended law nears as 1 - (1 - 1/2.5)^2 = 0.64 (both recalled from memory).
    #[test]
    fn published_limits_of_the_film() {
        let small: f64 = 1e-7;
        assert_relative_eq!(film(small), 1.337 * small.powf(2.0 / 3.0), max_relative = 3e-3);
        assert_relative_eq!(film(1e6), 0.4, max_relative = 1e-3);
        let left = |ca: f64| 1.0 - (1.0 - film(ca)).powi(2);
        assert!((0.5..0.6).contains(&left(2.0)), "{}", left(2.0));
        assert_eq!(film(0.0), 0.0);
    }
}
