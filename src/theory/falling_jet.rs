//! Steady jet that falls from a nozzle and thins.
//!
//! Equation: viscous, in lengths (9 nu^2/g)^(1/3) and velocities (3 nu g)^(1/3): `u u' = u (u'/u)' + 1`, solved by
//! `u = k/((Ai'(s)/Ai(s))^2 - s)`, s = k (z + c), k = 2^(-1/3); c from u(0). Without viscosity `u^2 = u_0^2 + 2 g z`.
//!
//! Symbols: nu kinematic viscosity (m2/s), g gravity (m/s2), z distance below the nozzle (m), u velocity (m/s).
//!
//! Source: Clarke 1966, Mathematika 13, 51; Clarke 1968, J. Fluid Mech. 31, 481 (inviscid: Torricelli, Bernoulli).
//!
//! Holds for: slender jet, no surface tension, the branch that tends to free fall.

use super::{bessel, roots};
use crate::math::Pinned as _;

const K: f64 = 0.793_700_525_984_099_8;
/// First zero of Ai: u = 0 there.
const FIRST_ZERO: f64 = -2.338_107_410_459_767;

/// A falling jet in the lengths and velocities of the source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FallingJet {
    /// u(0).
    pub start_velocity: f64,
    /// Shift of the origin that makes it so.
    pub shift: f64,
}

impl FallingJet {
    /// The jet that leaves the nozzle at `start_velocity`; `None` unless it is positive and below 1e3.
    pub fn new(start_velocity: f64) -> Option<FallingJet> {
        if !(start_velocity > 0.0 && start_velocity < 1e3) {
            return None;
        }
        // Far down u = 2 k sqrt(s): this end of the bracket is always fast enough.
        let far = 4.0 + start_velocity * start_velocity;
        let start = roots::bracketed(|s| velocity(s) - start_velocity, FIRST_ZERO + 1e-12, far)?;
        Some(FallingJet { start_velocity, shift: start / K })
    }

    /// Velocity at distance z.
    pub fn velocity(&self, z: f64) -> f64 {
        velocity(K * (z + self.shift))
    }

    /// Radius over that at the nozzle.
    pub fn radius(&self, z: f64) -> f64 {
        (self.start_velocity / self.velocity(z)).sqrt()
    }
}

fn velocity(s: f64) -> f64 {
    if s > 100.0 {
        // Far down (Ai'/Ai)^2 - s cancels; from the Riccati equation y' = s - y^2 of y = Ai'/Ai it is, in e = s^(-3/2):
        let e = s.power(-1.5);
        return 2.0 * K * s.sqrt() / (1.0 + e * (-0.5 + e * (25.0 / 32.0 + e * (-15.0 / 8.0 + e * 12155.0 / 2048.0))));
    }
    let slope = bessel::airy_log_derivative(s);
    K / (slope * slope - s)
}

/// Radius ratio of the jet without viscosity at `distance` = g z/u_0^2.
pub fn inviscid_radius(distance: f64) -> f64 {
    (1.0 + 2.0 * distance).power(-0.25)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn theory_both_forms_meet_far_down() {
        let below = velocity(100.0);
        let above = velocity(100.0 + 1e-9);
        assert_relative_eq!(below, above, max_relative = 1e-10);
    }

    #[test]
    fn theory_obeys_its_own_equation() {
        let jet = FallingJet::new(0.3).expect("a jet");
        let u = |z: f64| jet.velocity(z);
        let (z, e) = (1.7, 1e-3);
        let slope = (u(z + e) - u(z - e)) / (2.0 * e);
        let log_curvature = (u(z + e).ln() - 2.0 * u(z).ln() + u(z - e).ln()) / (e * e);
        assert_relative_eq!(u(z) * slope, u(z) * log_curvature + 1.0, max_relative = 1e-5);
    }

    #[test]
    fn refuses_what_is_no_jet() {
        assert_eq!(FallingJet::new(0.0), None);
        assert_eq!(FallingJet::new(f64::NAN), None);
    }
}
