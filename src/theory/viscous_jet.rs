//! Viscous inertial round jet in a passive gas: the full relation for small axisymmetric perturbations.
//!
//! Equation: with `F(s) = l I0(l)/I1(l)`, s = l^2, and its divided difference G, the classical relation between x, w and
//! `l^2 = x^2 + w/Oh` becomes, exactly and without its removable zeros,
//! `w^2 F(x^2) + 2 Oh x^2 w [2 F(x^2) - 1 - 2 x^2 G(x^2, l^2)] = x^2 (1 - x^2)`.
//!
//! Symbols: x = k R, Oh = mu/sqrt(rho gamma R), w complex growth rate in sqrt(gamma/(rho R^3)).
//!
//! Source: Rayleigh 1892, Phil. Mag. 34, 145; Chandrasekhar 1961, Hydrodynamic and Hydromagnetic Stability, ch. XII; the form
//! without cancellation is our own rearrangement, tested against tables made at 40 digits from the original.
//!
//! Holds for: small perturbations of a uniform jet in vacuum, any Oh, any wavelength.

use super::{Mode, bessel, roots};
use nalgebra::Complex;

/// Left minus right side of the relation; x may be complex (absolute and convective instability).
pub fn residual(ohnesorge: f64, x: Complex<f64>, w: Complex<f64>) -> Complex<f64> {
    let square = x * x;
    let f = bessel::f_ratio(square);
    let g = bessel::f_difference(square, square + w / ohnesorge);
    w * w * f + square * w * (f * 2.0 - 1.0 - square * g * 2.0) * (2.0 * ohnesorge) - square * (-square + 1.0)
}

/// Growth rate of the least damped mode at real x; negative where it decays (x > 1).
pub fn growth(ohnesorge: f64, x: f64) -> f64 {
    rate(ohnesorge, x).re
}

/// Complex rate of the least damped mode at real x (an imaginary part is an oscillation).
pub fn rate(ohnesorge: f64, x: f64) -> Complex<f64> {
    if ohnesorge <= 0.0 {
        return Complex::new(super::rayleigh::growth_squared(x), 0.0).sqrt();
    }
    let square = Complex::new(x * x, 0.0);
    let f = bessel::f_ratio(square).re;
    let drive = x * x * (1.0 - x * x);
    // Upper root of the quadratic that is left when G is known. G depends weakly on w: iterate.
    let root = |w: Complex<f64>| {
        let g = bessel::f_difference(square, square + w / ohnesorge);
        let half = (-square * g * 2.0 + 2.0 * f - 1.0) * (ohnesorge * x * x);
        let discriminant = (half * half + f * drive).sqrt();
        // Rationalised; the sign of the root is the one that adds to the damping, so that nothing cancels.
        if (discriminant * half.conj()).re < 0.0 {
            drive / (half - discriminant)
        } else {
            drive / (half + discriminant)
        }
    };
    let mut w = root(Complex::new(0.0, 0.0));
    for _ in 0..ITERATIONS {
        let next = root(w);
        let change = (next - w).norm();
        w = next;
        if change <= 1e-6 * w.norm() {
            break;
        }
    }
    polished(ohnesorge, x, w)
}

const ITERATIONS: usize = 60;

/// Secant method on the relation itself, on the real axis where the mode grows (there the left side is monotonic).
fn polished(ohnesorge: f64, x: f64, start: Complex<f64>) -> Complex<f64> {
    let wavenumber = Complex::new(x, 0.0);
    if start.im == 0.0 && start.re > 0.0 {
        let real = |w: f64| residual(ohnesorge, wavenumber, Complex::new(w, 0.0)).re;
        let wide = |share: f64| roots::bracketed(real, start.re * (1.0 - share), start.re * (1.0 + share));
        if let Some(w) = wide(1e-5).or_else(|| wide(0.5)) {
            return Complex::new(w, 0.0);
        }
    }
    let residual = |w| residual(ohnesorge, wavenumber, w);
    roots::analytic(residual, start, start * 1.000_01)
        .filter(|w| (w - start).norm() < 0.1 * start.norm())
        .unwrap_or(start)
}

/// The mode that grows fastest.
pub fn fastest(ohnesorge: f64) -> Mode {
    // The long-wave maximum lies within 2 % of the exact one at every Oh.
    let guess = super::weber::fastest(ohnesorge).wavenumber;
    let wavenumber = roots::maximum(|x| growth(ohnesorge, x), 0.8 * guess, (1.2 * guess).min(0.99));
    Mode { wavenumber, rate: growth(ohnesorge, wavenumber) }
}

/// Growth rate without inertia, in gamma/(mu R): `(1 - x^2)/(2 (2F - 1 - 2 x^2 F'))`, F and its slope at x^2; the limit of
/// Oh times [`growth`] at large Oh (Rayleigh 1892).
pub fn growth_without_inertia(x: f64) -> f64 {
    let square = Complex::new(x * x, 0.0);
    let f = bessel::f_ratio(square).re;
    let slope = bessel::f_difference(square, square).re;
    (1.0 - x * x) / (2.0 * (2.0 * f - 1.0 - 2.0 * x * x * slope))
}
