//! How much less pressure a shear-thinning liquid takes through round glass than at its viscosity at rest.
//!
//! Equation: with tau(g) = m(g) g the stress at the shear rate g, m = m_inf + (1 - m_inf) (1 + (t g)^2)^((n-1)/2) (Carreau, over the
//! viscosity at rest), developed flow through a tube of radius R has
//!   Q = (pi R^3 g_w/3) [1 - int_0^1 (tau(x g_w)/tau_w)^3 dx],   dp/dz = 2 tau_w/R,
//! so that its pressure over that at rest is pi R^3 tau_w/(4 Q). A slender taper takes the mean of that over 1/R^3, in which the
//! pressure at rest is linear.
//! The gap between concentric tubes takes m at the mean squared rate of a Newtonian stream, weighted by its power,
//!   g^2 = int v'^4 r dr / int v'^2 r dr,  v' = C/r - k r.
//!
//! Symbols: g_w, tau_w rate and stress at the wall; Q flow, m3/s; R, m; t, s.
//!
//! Source: Rabinowitsch 1929, Z. Phys. Chem. A 145, 1 (recalled; derived anew by integrating the flow by parts), with Carreau's law.
//! Held against the closed answers of a Newtonian liquid and of a power law. The gap's rate is ours; held against exact flow of a
//! Carreau liquid between tubes (n from 0.3): pressure off by 2 % at most where the inner one has 0.6 of the bore, 3.2 % at 0.3, 9 % at 0.1.
//!
//! Holds for: laminar, developed flow without slip at the wall, no elasticity; the stretching in a taper (its own resistance) left out.

use super::pressure;
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

/// Power below which there is none.
const NOTHING: f64 = 1e-300;

/// Mean squared rates of a stream (C, k, R_e^2) about a thread of squared radius `a` that thins at the rate `w`: by the power of shear, by that of
/// stretching.
pub fn squared_rates([c, k, far]: [f64; 3], a: f64, w: f64) -> [f64; 2] {
    let far = far.max(a);
    let (near, log) = (a, (far / a).logarithm());
    let (d1, d2, d3) = (far - near, far * far - near * near, far.powi(3) - near.powi(3));
    let (i1, i2) = (1.0 / near - 1.0 / far, 1.0 / (near * near) - 1.0 / (far * far));
    let power = c * c * log - 2.0 * c * k * d1 + 0.5 * k * k * d2;
    let square = c.powi(4) * i1 - 4.0 * c.powi(3) * k * log + 6.0 * c * c * k * k * d1 - 2.0 * c * k.powi(3) * d2
        + k.powi(4) * d3 / 3.0;
    // of both together, over w^2 a^2
    let joint = 0.5 * c * c * i2 - 2.0 * c * k * i1 + k * k * log;
    let stretch = w * w * a * a;
    let shear = if power > NOTHING { (square + stretch * joint) / power } else { 0.0 };
    let x = a / far;
    let stretched = if i1 > 0.0 { joint / i1 } else { 0.0 };
    [shear.max(0.0), stretched.max(0.0) + w * w * (1.0 + x + x * x) / 3.0]
}

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

    /// The same through the gap between concentric tubes; without an inner one through a tube.
    pub fn gap(&self, flow: f64, outer: f64, inner: f64) -> f64 {
        if inner <= 0.0 {
            return self.tube(flow, outer);
        }
        let gradient = flow * pressure::gap(outer, inner, 1.0);
        let (g, y) = (0.25 * gradient * outer * outer, (inner / outer).powi(2));
        let c = g * (1.0 - y) / (outer / inner).logarithm();
        let [square, _] = squared_rates([c, 0.5 * gradient, outer * outer], inner * inner, 0.0);
        self.viscosity(self.time * self.time * square).0
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

    // Exact flow between tubes: stress G (r0^2/r - r)/2, r0 such that both tubes are at rest; the pressure at which it takes the flow.
    #[test]
    fn theory_gap_between_tubes() {
        for (n, time) in [(0.8, 0.3), (0.5, 3.0), (0.3, 3.0), (0.3, 100.0)] {
            let law = Carreau { exponent: n, time, infinite: 0.0 };
            let rate = |stress: f64| {
                let (mut low, mut high) = (0.0, 1.0);
                while law.stress(high) < stress.abs() {
                    high *= 2.0;
                }
                for _ in 0..50 {
                    let middle = 0.5 * (low + high);
                    if law.stress(middle) < stress.abs() { low = middle } else { high = middle }
                }
                stress.signum() * high
            };
            for (inner, bound) in [(0.6, 0.02), (0.3, 0.035)] {
                let points = 200;
                let d = (1.0 - inner) / f64::from(points);
                // velocity left at the inner tube, and flow
                let through = |gradient: f64, r0: f64| {
                    (0..points).fold((0.0, 0.0), |(slip, flow), i| {
                        let r = inner + d * (f64::from(i) + 0.5);
                        let slope = d * rate(0.5 * gradient * (r0 * r0 / r - r));
                        (slip + slope, flow - PI * r * r * slope)
                    })
                };
                let gradient = 7.0;
                let (mut low, mut high) = (inner, 1.0);
                for _ in 0..50 {
                    let middle = 0.5 * (low + high);
                    if through(gradient, middle).0 < 0.0 { low = middle } else { high = middle }
                }
                let flow = through(gradient, high).1;
                let ours = flow * pressure::gap(1.0, inner, 1.0) * law.gap(flow, 1.0, inner);
                assert!((ours / gradient - 1.0).abs() < bound, "{n} {time} {inner}: {ours}");
            }
        }
        let newtonian = Carreau { exponent: 1.0, time: 1.0, infinite: 0.0 };
        assert_eq!(newtonian.gap(1.0, 1.0, 0.5), 1.0);
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
