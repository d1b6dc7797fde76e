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

/// Halvings of a bracket: to the last bits of a double.
const HALVINGS: usize = 100;

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

/// Growth rate of a thread at rest whose share b of the viscosity is the solvent's, in any surroundings: the real s of
/// `s = rate(b + (1 - b)/(1 + De s))`, `rate(m)` the growth with m times the viscosity at rest. There is one: a wave that grows grows faster
/// the less viscous the thread is; one that decays decays slower than the polymer forgets (the other modes below -1/De belong to the polymer
/// alone).
pub fn growth_by(rate: impl Fn(f64) -> f64, solvent_share: f64, deborah: f64) -> f64 {
    let slow = rate(1.0);
    if deborah <= 0.0 || solvent_share >= 1.0 || slow == 0.0 || slow.is_nan() {
        return slow;
    }
    let share = |s: f64| solvent_share + (1.0 - solvent_share) / (1.0 + deborah * s);
    let (mut low, mut high) = if slow > 0.0 { (slow, rate(solvent_share)) } else { (-1.0 / deborah, 0.0) };
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if rate(share(middle)) > middle { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    // In another liquid without inertia (Tomotika 1935, mu(s) in place of mu): where mu(s) is the outer liquid's viscosity the rate is that of
    // equal viscosities (closed form of Stone & Brenner 1996 in the tests of `stokes_thread`), whatever share and time make it so.
    #[test]
    fn theory_a_thread_in_a_liquid_grows_as_one_of_the_viscosity_at_its_own_rate() {
        use crate::theory::stokes_thread::StokesThread;
        for wall in [None, Some(3.0)] {
            for (k, ratio, solvent) in [(0.3, 2.0, 0.25), (0.6, 5.0, 0.1), (0.9, 1.5, 0.5), (1.2, 0.5, 0.1)] {
                let equal = StokesThread { viscosity_ratio: 1.0, wall }.growth(k);
                // b + (1 - b)/(1 + De s) = 1/ratio
                let deborah = ((1.0 - solvent) / (1.0 / ratio - solvent) - 1.0) / equal;
                let rate = |m: f64| StokesThread { viscosity_ratio: ratio * m, wall }.growth(k);
                assert!(deborah > 0.0);
                assert_relative_eq!(growth_by(rate, solvent, deborah), equal, max_relative = 1e-9);
                assert_relative_eq!(growth_by(rate, solvent, 1e-12), rate(1.0), max_relative = 1e-9);
                if k < 1.0 {
                    assert_relative_eq!(growth_by(rate, solvent, 1e12), rate(solvent), max_relative = 1e-9);
                }
            }
        }
    }

    // In a gas the same root as that of the determinant that has Oh(s) in it.
    #[test]
    fn theory_the_long_wave_jet_by_its_own_rate() {
        let (oh, b, de, k) = (0.7, 0.4, 2.0, 0.6f64);
        let rate = |m: f64| {
            let damping = 3.0 * oh * m * k * k;
            0.5 * ((damping * damping + 2.0 * k * k * (1.0 - k * k)).sqrt() - damping)
        };
        let s = growth_by(rate, b, de);
        let liquid = Liquid { ohnesorge: oh, solvent_share: b, deborah: de };
        let at = liquid.ohnesorge_at(Complex::new(s, 0.0)).re;
        assert_relative_eq!(s * s + 3.0 * at * k * k * s, 0.5 * k * k * (1.0 - k * k), max_relative = 1e-12);
    }

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
