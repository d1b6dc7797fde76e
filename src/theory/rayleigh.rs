//! Inviscid round jet in a passive gas.
//!
//! Equation: `w^2 = x (1 - x^2) I1(x)/I0(x)`, w in sqrt(gamma/(rho R^3)); negative w^2 is an oscillation.
//!
//! Symbols: x = k R (-), R radius (m), rho density (kg/m3), gamma tension (N/m), w growth rate (1/s once scaled).
//!
//! Source: Rayleigh 1879, Proc. Lond. Math. Soc. 10, 4.
//!
//! Holds for: small perturbations, no viscosity, no gas.

use super::{Mode, bessel, roots};
use crate::math::Pinned as _;
use nalgebra::Complex;

/// w^2 at reduced wavenumber x.
pub fn growth_squared(x: f64) -> f64 {
    x * x * (1.0 - x * x) / bessel::f_ratio(Complex::new(x * x, 0.0)).re
}

/// Growth rate; zero where the thread only oscillates (x >= 1).
pub fn growth(x: f64) -> f64 {
    growth_squared(x).max(0.0).sqrt()
}

/// The mode that grows fastest: x = 0.6970, w = 0.3433.
pub fn fastest() -> Mode {
    let wavenumber = roots::maximum(growth_squared, 0.3, 0.95);
    Mode { wavenumber, rate: growth(wavenumber) }
}

/// Radius over R of the drop that holds one wavelength of thread: (3 pi/(2 x))^(1/3).
pub fn drop_radius(wavenumber: f64) -> f64 {
    (1.5 * std::f64::consts::PI / wavenumber).cube_root()
}
