//! How much less pressure a shear-thinning liquid takes through round glass than at its viscosity at rest.
//!
//! Equation: with tau(g) = m(g) g the stress at the shear rate g, m = m_inf + (1 - m_inf) (1 + (t g)^2)^((n-1)/2) (Carreau, over the
//! viscosity at rest), developed flow through a tube of radius R has
//!   Q = (pi R^3 g_w/3) [1 - int_0^1 (tau(x g_w)/tau_w)^3 dx],   dp/dz = 2 tau_w/R,
//! so that its pressure over that at rest is pi R^3 tau_w/(4 Q). A slender taper takes the mean of that over 1/R^3, in which the
//! pressure at rest is linear.
//!
//! Symbols: g_w, tau_w rate and stress at the wall; Q flow, m3/s; R, m; t, s.
//!
//! Source: Rabinowitsch 1929, Z. Phys. Chem. A 145, 1 (recalled; derived anew by integrating the flow by parts), with Carreau's law.
//! Held against the closed answers of a Newtonian liquid and of a power law.
//!
//! Holds for: laminar, developed flow without slip at the wall, no elasticity; the stretching in a taper (its own resistance) left out.

use crate::math::Pinned as _;
use std::f64::consts::PI;

/// A liquid that thins: m as above, in a thread too.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Carreau {
    /// n, above 0 and up to 1.
    pub exponent: f64,
    /// t, in the unit of time of the rates.
    pub time: f64,
    /// m_inf.
    pub infinite: f64,
}

/// Intervals of Simpson's rule in x = y^2, in which the stress of the strongest thinning is smooth.
const INTERVALS: usize = 64;
/// Halvings of the bracket of g_w, relative width at most 7 at the start.
const HALVINGS: usize = 40;
/// Pieces of a taper, equal steps of ln R.
const PIECES: usize = 32;

impl Carreau {
    /// m and rate dm/d rate; `square` is (t times the rate) squared.
    #[inline(always)]
    pub fn viscosity(&self, square: f64) -> (f64, f64) {
        let above = (1.0 - self.infinite) * (1.0 + square).power(0.5 * (self.exponent - 1.0));
        (self.infinite + above, above * (self.exponent - 1.0) * square / (1.0 + square))
    }

    /// tau over the viscosity at rest.
    fn stress(&self, rate: f64) -> f64 {
        rate * self.viscosity((self.time * rate).powi(2)).0
    }

    /// Q/(pi R^3) at a rate at the wall.
    fn flow(&self, wall: f64) -> f64 {
        let most = self.stress(wall);
        let integrand = |k: usize| {
            let y = k as f64 / INTERVALS as f64;
            2.0 * y * (self.stress(wall * y * y) / most).powi(3)
        };
        let inner: f64 = (1..INTERVALS).map(|k| if k % 2 == 1 { 4.0 } else { 2.0 } * integrand(k)).sum();
        let integral = (inner + integrand(INTERVALS)) / (3.0 * INTERVALS as f64);
        wall / 3.0 * (1.0 - integral)
    }

    /// Pressure through a tube over that of the liquid at rest.
    pub fn tube(&self, flow: f64, radius: f64) -> f64 {
        let scaled = flow / (PI * radius.powi(3));
        if !(scaled > 0.0) {
            return 1.0;
        }
        // between the rates of a Newtonian liquid and of a power law with this exponent
        let (mut low, mut high) = (4.0 * scaled, (3.0 + 1.0 / self.exponent) * scaled);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if self.flow(middle) < scaled { low = middle } else { high = middle }
        }
        self.stress(0.5 * (low + high)) / (4.0 * scaled)
    }

    /// The same through a taper.
    pub fn taper(&self, flow: f64, one: f64, other: f64) -> f64 {
        if one == other {
            return self.tube(flow, one);
        }
        let radius = |k: f64| one * (other / one).power(k / PIECES as f64);
        let inverse = |k: usize| radius(k as f64).powi(3).recip();
        let piece = |k: usize| (inverse(k + 1) - inverse(k)) * self.tube(flow, radius(k as f64 + 0.5));
        (0..PIECES).map(piece).sum::<f64>() / (inverse(PIECES) - inverse(0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::device::pressure;
    use approx::assert_relative_eq;

    // A Newtonian liquid: 1 whatever the flow. A power law K g^(n-1): dp = 2 K L/R ((3n + 1) Q/(n pi R^3))^n (elementary; K = mu_0 t^(n-1)).
    #[test]
    fn theory_newtonian_and_power_law_limits() {
        let (flow, radius) = (3e-10, 40e-6);
        for liquid in [
            Carreau { exponent: 1.0, time: 1.0, infinite: 0.0 },
            Carreau { exponent: 0.3, time: 1e-9, infinite: 0.0 },
            Carreau { exponent: 0.3, time: 1.0, infinite: 1.0 },
        ] {
            assert_relative_eq!(liquid.tube(flow, radius), 1.0, max_relative = 1e-5);
            assert_relative_eq!(liquid.taper(flow, radius, 10.0 * radius), 1.0, max_relative = 1e-5);
            assert_relative_eq!(liquid.taper(flow, radius, radius), 1.0, max_relative = 1e-5);
        }
        for n in [0.2, 0.5, 0.8] {
            let (time, r3) = (1e4, radius.powi(3));
            let liquid = Carreau { exponent: n, time, infinite: 0.0 };
            let stress = time.powf(n - 1.0) * ((3.0 * n + 1.0) * flow / (n * PI * r3)).powf(n);
            assert_relative_eq!(liquid.tube(flow, radius), stress * PI * r3 / (4.0 * flow), max_relative = 1e-4);
        }
        let (slow, fast) = (Carreau { exponent: 0.4, time: 1e-3, infinite: 0.05 }, 1e3 * flow);
        let shares = [1e-3 * flow, flow, fast].map(|flow| slow.tube(flow, radius));
        assert!(shares[0] > 0.99 && shares[0] > shares[1] && shares[1] > shares[2] && shares[2] > 0.05, "{shares:?}");
        assert_eq!(slow.tube(0.0, radius), 1.0);
    }

    // A taper is many short tubes: dp/dz of each summed over its length, by the midpoint rule in z.
    #[test]
    fn theory_a_taper_is_a_row_of_tubes() {
        let liquid = Carreau { exponent: 0.5, time: 1e-2, infinite: 0.01 };
        let (flow, one, other, length) = (3e-10, 20e-6, 200e-6, 4e-3);
        let pieces = 2_000;
        let step = length / f64::from(pieces);
        let piece = |k: i32| {
            let radius = one + (other - one) * (f64::from(k) + 0.5) / f64::from(pieces);
            pressure::tube(radius, step) * liquid.tube(flow, radius)
        };
        let row: f64 = (0..pieces).map(piece).sum();
        assert_relative_eq!(
            pressure::taper(one, other, length) * liquid.taper(flow, one, other),
            row,
            max_relative = 3e-3
        );
    }
}
