//! Laminar flow along a square duct, empty or with a round rod on its axis.
//!
//! Equation: `laplacian u = -1` in the cross-section, u = 0 on the walls; C = integral of u (side a = 1), so that
//! Q = C G a^4/mu. Empty: Fourier series. With a rod of radius c:
//! `u = -r^2/4 + A_0 + B_0 ln r + sum A_n (r^n - c^(2n)/r^n) cos(n t)`, n = 4, 8, ..., exact on the rod, fitted by least squares
//! on the square.
//!
//! Symbols: a inside width of the duct (m), d rod diameter (m), G pressure gradient (Pa/m), mu viscosity (Pa s), Q flow (m3/s).
//!
//! Source: Boussinesq 1868, J. Math. Pures Appl. 13, 377 (series); White 1991, Viscous Fluid Flow, eq. 3-48; boundary
//! collocation is common practice, own computation.
//!
//! Holds for: laminar developed flow, rod centred, d/a from 0.001 to 0.98.

use super::quadrature;
use crate::math::Pinned as _;
use nalgebra::{DMatrix, DVector};
use std::f64::consts::{FRAC_PI_4, PI};

const SERIES_TERMS: usize = 200;
const HARMONICS: usize = 24;
const POINTS: usize = 240;

/// C of the empty square duct (0.0351443).
pub fn square() -> f64 {
    let sum: f64 = (0..SERIES_TERMS)
        .map(|i| {
            let n = (2 * i + 1) as f64;
            (0.5 * n * PI).hyperbolic_tangent() / n.powi(5)
        })
        .sum();
    (1.0 - 192.0 / PI.powi(5) * sum) / 12.0
}

/// C of the square duct around a centred rod of diameter `rod` (over a); `None` outside 0 < rod < 1.
pub fn square_with_rod(rod: f64) -> Option<f64> {
    if !(rod > 0.0 && rod < 1.0) {
        return None;
    }
    let c = 0.5 * rod;
    let fit = fit(c)?;
    // Eight equal wedges; along each ray the integral is elementary.
    let ray = |angle: f64| radial_integral(&fit, c, 0.5 / angle.cosine(), angle);
    Some(8.0 * quadrature::interval(ray, 0.0, FRAC_PI_4))
}

/// Coefficients B_0, A_4, A_8, ...; each harmonic is scaled to be of order one at the corner.
fn fit(c: f64) -> Option<DVector<f64>> {
    let mut matrix = DMatrix::zeros(POINTS, HARMONICS + 1);
    let mut side = DVector::zeros(POINTS);
    for i in 0..POINTS {
        // Points gather towards the corner, where the solution is least smooth.
        let angle = FRAC_PI_4 * (0.5 * PI * (i as f64 + 0.5) / POINTS as f64).sine();
        let r = 0.5 / angle.cosine();
        side[i] = 0.25 * (r * r - c * c);
        matrix[(i, 0)] = (r / c).logarithm();
        for j in 1..=HARMONICS {
            matrix[(i, j)] = harmonic(j, c, r) * (4.0 * j as f64 * angle).cosine();
        }
    }
    matrix.svd(true, true).solve(&side, 1e-13).ok()
}

/// (r^n - c^(2n)/r^n) 2^(n/2), n = 4 j.
fn harmonic(j: usize, c: f64, r: f64) -> f64 {
    let n = 4 * j as i32;
    (r * 2f64.sqrt()).powi(n) - (2f64.sqrt() * c).powi(n) * (c / r).powi(n)
}

/// Integral of u r dr from the rod to the wall along one ray.
fn radial_integral(fit: &DVector<f64>, c: f64, wall: f64, angle: f64) -> f64 {
    let (c2, w2) = (c * c, wall * wall);
    let parabola = 0.25 * (0.5 * c2 * (w2 - c2) - 0.25 * (w2 * w2 - c2 * c2));
    let log = 0.5 * w2 * (wall / c).logarithm() - 0.25 * (w2 - c2);
    let harmonics: f64 = (1..=HARMONICS)
        .map(|j| {
            let n = 4 * j as i32;
            let m = f64::from(n);
            let scale = 2f64.powi(n / 2);
            let growing = scale * (wall.powi(n + 2) - c.powi(n + 2)) / (m + 2.0);
            let decaying = scale * c.powi(n + 2) * ((c / wall).powi(n - 2) - 1.0) / (2.0 - m);
            fit[j] * (growing - decaying) * (m * angle).cosine()
        })
        .sum();
    parabola + fit[0] * log + harmonics
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    // White 1991: dp/L = 28.454 mu Q/a^4.
    #[test]
    fn published_square_duct() {
        assert_relative_eq!(1.0 / square(), 28.454, max_relative = 1e-5);
    }

    // A thin gap on all sides: parallel plates a/2 - d/2 apart near the four contacts, everything in the corners; here only
    // that the flow falls steadily and stays positive.
    #[test]
    fn property_thicker_rod_lets_less_through() {
        let mut before = square();
        for i in 1..98 {
            let now = square_with_rod(f64::from(i) * 0.01).expect("inside the range");
            assert!(now > 0.0 && now < before, "{i}: {now} {before}");
            before = now;
        }
        assert_eq!(square_with_rod(1.0), None);
        assert_eq!(square_with_rod(f64::NAN), None);
    }
}
