//! Absolute or convective: does a disturbance of a moving thread grow where it is, or is it swept away?
//!
//! Equation: at a frame velocity V the long-time response is the saddle point of s(k) + i k V over complex k, that is
//! D(sigma, k) = 0 together with dD/dk + i (U - V) dD/dsigma = 0; the growth seen in that frame is Re(sigma - i k (U - V)).
//! The saddle in the frame of the nozzle (V = 0) is followed from no flow, where it is the fastest mode (real k), to the flow.
//!
//! Symbols: U thread velocity, k complex wavenumber, sigma as in [`super`].
//!
//! Source: Huerre & Monkewitz 1990, Annu. Rev. Fluid Mech. 22, 473; for jets Leib & Goldstein 1986, Phys. Fluids 29, 952.
//!
//! Holds for: a thread whose radius hardly changes along its length. It is an estimate of the border between dripping and
//! jetting: published global-stability work shows that it can be off by a factor where the thread tapers.

use super::Relation;
use crate::outcome::Instability;
use nalgebra::Complex;

/// A saddle point in a given frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Saddle {
    pub wavenumber: Complex<f64>,
    /// Growth rate in that frame.
    pub rate: f64,
}

/// A point of the complex plane being followed: sigma and k.
type Point = (Complex<f64>, Complex<f64>);

/// First step of a path, in units of the velocity at which a disturbance is swept one radius while it grows by e.
const FIRST_STEP: f64 = 0.02;
/// A path gives up when its step has shrunk by this factor, or has gone this many of the units above without an answer.
const SMALLEST_STEP: f64 = 1e-6;
const FARTHEST: f64 = 1e4;
const NEWTON_LIMIT: usize = 12;
/// Halvings of a step of the path: 1e-12 of it.
const BISECTIONS: usize = 40;
/// A thread without any damping gets this much of e (as sqrt(M) of it): two of its saddles all but meet at k = 1, and
/// the border (a velocity) moves by less than 1e-3.
const DAMPING_FLOOR: f64 = 1e-5;
/// Growth (in units of the relation) below which a thread counts as neutral: round-off of a thread without drive.
const NEUTRAL: f64 = 1e-13;

impl Relation {
    /// The saddle in the frame of the nozzle with every velocity multiplied by `factor`; `None` where the path was lost.
    pub fn saddle(&self, factor: f64) -> Option<Saddle> {
        let damped = self.damped();
        let mut path = Path::at_rest(&damped)?;
        while path.factor < factor {
            path.advance(&damped, factor)?;
        }
        Some(path.saddle(&damped))
    }

    /// What a disturbance does in the frame of the nozzle.
    pub fn instability(&self) -> Option<Instability> {
        if self.fastest().rate <= NEUTRAL {
            return Some(Instability::Stable);
        }
        self.saddle(1.0).map(|saddle| if saddle.rate > 0.0 { Instability::Absolute } else { Instability::Convective })
    }

    /// Factor on every velocity at which the instability changes from absolute to convective; `None` if it does not.
    pub fn critical_factor(&self) -> Option<f64> {
        self.damped().crossing()
    }

    fn damped(&self) -> Relation {
        let floor = if self.drag > 0.0 { 0.0 } else { DAMPING_FLOOR * self.mass.sqrt() };
        Relation { stretch: self.stretch.max(floor), ..*self }
    }

    /// First change of sign of the growth along the path.
    fn crossing(&self) -> Option<f64> {
        let mut path = Path::at_rest(self)?;
        let farthest = FARTHEST * path.unit;
        let mut before = path;
        while path.saddle(self).rate > 0.0 {
            before = path;
            path.advance(self, farthest)?;
            if path.factor >= farthest {
                return None;
            }
        }
        // Bisection between two neighbouring points of the path cannot leave the branch.
        let (mut low, mut high) = (before, path);
        for _ in 0..BISECTIONS {
            let factor = 0.5 * (low.factor + high.factor);
            let middle = Path { at: self.faster(factor).newton(low.at)?, factor, ..low };
            if middle.saddle(self).rate > 0.0 { low = middle } else { high = middle }
        }
        Some(high.factor)
    }

    /// Partial derivatives of D = M sigma^2 + B sigma - F: by sigma, by k, by k twice, by sigma and k.
    fn partials(&self, sigma: Complex<f64>, k: Complex<f64>) -> [Complex<f64>; 4] {
        let (m, b, f) = (self.mass_at(k), self.damping_at(k), self.drive_at(k));
        let square = sigma * sigma;
        [
            m[0] * sigma * 2.0 + b[0],
            m[1] * square + b[1] * sigma - f[1],
            m[2] * square + b[2] * sigma - f[2],
            m[1] * sigma * 2.0 + b[1],
        ]
    }

    /// Newton's method for the saddle in the frame of the nozzle.
    fn newton(&self, start: Point) -> Option<Point> {
        let (mut sigma, mut k) = start;
        let drift = Complex::new(0.0, self.velocity);
        for _ in 0..NEWTON_LIMIT {
            let m = self.mass_at(k)[0];
            let [by_sigma, by_k, by_kk, mixed] = self.partials(sigma, k);
            let first = (m * sigma + self.damping_at(k)[0]) * sigma - self.drive_at(k)[0];
            let second = by_k + drift * by_sigma;
            let second_sigma = mixed + drift * m * 2.0;
            let second_k = by_kk + drift * mixed;
            let determinant = by_sigma * second_k - by_k * second_sigma;
            let step_sigma = (first * second_k - by_k * second) / determinant;
            let step_k = (by_sigma * second - second_sigma * first) / determinant;
            sigma -= step_sigma;
            k -= step_k;
            if !(sigma.norm().is_finite() && k.norm().is_finite()) {
                return None;
            }
            if step_k.norm() < 1e-12 * (1e-3 + k.norm()) && step_sigma.norm() < 1e-11 * (sigma.norm() + 1e-12) {
                return Some((sigma, k));
            }
        }
        None
    }
}

/// The saddle followed from a thread at rest, where it is the fastest mode (real k), towards faster flow.
#[derive(Debug, Clone, Copy)]
struct Path {
    at: Point,
    /// Factor on every velocity.
    factor: f64,
    step: f64,
    /// Factor at which the velocity is comparable with the growth rate.
    unit: f64,
}

impl Path {
    fn at_rest(relation: &Relation) -> Option<Path> {
        let rest = relation.faster(0.0);
        let fastest = rest.fastest();
        let unit = fastest.rate / relation.velocity.abs().max(f64::MIN_POSITIVE.sqrt());
        if fastest.rate <= NEUTRAL {
            return None;
        }
        let k = Complex::new(fastest.wavenumber, 0.0);
        Some(Path { at: rest.newton((rest.sigma(k), k))?, factor: 0.0, step: FIRST_STEP * unit, unit })
    }

    /// One step towards `goal`, shorter where Newton's method fails or the saddle runs fast.
    fn advance(&mut self, relation: &Relation, goal: f64) -> Option<()> {
        while self.step > SMALLEST_STEP * FIRST_STEP * self.unit {
            let next = (self.factor + self.step).min(goal);
            let found = relation.faster(next).newton(self.at);
            if let Some(found) = found.filter(|found| (found.1 - self.at.1).norm() < 0.1 * (0.05 + self.at.1.norm())) {
                (self.at, self.factor) = (found, next);
                self.step *= 1.3;
                return Some(());
            }
            self.step *= 0.5;
        }
        None
    }

    fn saddle(&self, relation: &Relation) -> Saddle {
        let (sigma, wavenumber) = self.at;
        let drift = Complex::new(0.0, relation.velocity * self.factor);
        Saddle { wavenumber, rate: (sigma - drift * wavenumber).re }
    }
}
