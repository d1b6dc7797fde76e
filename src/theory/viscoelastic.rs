//! A liquid whose viscosity depends on how fast a disturbance grows: Newtonian or with a dissolved polymer at rest.
//!
//! Equation: a disturbance exp(s t) on an unstretched Oldroyd-B liquid meets the viscosity
//! `mu(s) = mu [b + (1 - b)/(1 + De s)]`, so every linear relation of a Newtonian liquid holds with `Oh(s) = Oh mu(s)/mu`.
//! FENE-P is the same to first order: its factor f multiplies both principal stresses and drops out of their difference.
//! A shear-thinning liquid at rest has its zero-shear viscosity.
//!
//! Symbols: Oh = mu/sqrt(rho gamma R) on the whole viscosity at rest, b solvent's share of it, De = relaxation time over
//! sqrt(rho R^3/gamma); s in sqrt(gamma/(rho R^3)).
//!
//! Source: Goldin, Yerushalmi, Pfeffer & Shinnar 1969, J. Fluid Mech. 38, 689 (recalled; re-derived from the two equations
//! of the conformation, and held against a table computed in another way in the tests of [`super::surfactant_jet`]).
//!
//! Holds for: small disturbances of a liquid that is not yet stretched. A polymer stretched by its nozzle grows more slowly.

use nalgebra::Complex;

/// Viscosity of a liquid at rest against the rate of a disturbance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Liquid {
    /// Oh on the whole viscosity at rest.
    pub ohnesorge: f64,
    /// b, share of the solvent in it (1 without polymer).
    pub solvent_share: f64,
    /// De.
    pub deborah: f64,
}

impl Liquid {
    /// A liquid without polymer.
    pub fn newtonian(ohnesorge: f64) -> Liquid {
        Liquid { ohnesorge, solvent_share: 1.0, deborah: 0.0 }
    }

    /// Oh(s).
    pub fn ohnesorge_at(&self, s: Complex<f64>) -> Complex<f64> {
        let polymer = Complex::from(1.0 - self.solvent_share) / (s * self.deborah + 1.0);
        (polymer + self.solvent_share) * self.ohnesorge
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn theory_slow_waves_meet_the_whole_viscosity_and_fast_ones_the_solvent() {
        let liquid = Liquid { ohnesorge: 2.0, solvent_share: 0.25, deborah: 10.0 };
        let at = |s: f64| liquid.ohnesorge_at(Complex::new(s, 0.0)).re;
        assert_relative_eq!(at(0.0), 2.0);
        assert_relative_eq!(at(1e9), 0.5, max_relative = 1e-9);
        // halfway where De s = 1
        assert_relative_eq!(at(0.1), 1.25, max_relative = 1e-15);
    }
}
