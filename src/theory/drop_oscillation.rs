//! Free drop that oscillates about a sphere.
//!
//! Equation (units rho, gamma, R): inviscid `w^2 = l (l-1)(l+2)`; in another inviscid liquid
//! `w^2 = l (l-1)(l+1)(l+2)/(l + 1 + l rho_o/rho_i)`; weak viscosity: decay `(l-1)(2l+1) Oh`; any viscosity, amplitude
//! exp(-s t), q^2 = s/Oh, Q = J_(l+3/2)(q)/J_(l+1/2)(q):
//! `q^4 + w^2/Oh^2 = 2 q^2 (l-1) [l + (l+1)(q - 2 l Q)/(q - 2 Q)]`.
//!
//! Symbols: l mode, R radius (m), Oh = mu/sqrt(rho gamma R), w frequency and s decay in sqrt(gamma/(rho R^3)).
//!
//! Source: Rayleigh 1879, Proc. R. Soc. Lond. 29, 71; Lamb 1932, Hydrodynamics, art. 275 and 355; Reid 1960, Q. Appl. Math. 18,
//! 86; Chandrasekhar 1961, ch. X; Miller & Scriven 1968, J. Fluid Mech. 32, 417.
//!
//! Holds for: small amplitudes; vacuum outside unless a density ratio is given.

use super::{bessel, roots};
use crate::math::Pinned as _;
use nalgebra::Complex;

/// Frequency without viscosity.
pub fn frequency(mode: u32) -> f64 {
    frequency_in_liquid(mode, 0.0)
}

/// Frequency without viscosity in a surrounding liquid of `density_ratio` = rho_o/rho_i.
pub fn frequency_in_liquid(mode: u32, density_ratio: f64) -> f64 {
    let l = f64::from(mode);
    (l * (l - 1.0) * (l + 1.0) * (l + 2.0) / (l + 1.0 + l * density_ratio)).sqrt()
}

/// Decay rate at small viscosity.
pub fn weak_decay(mode: u32, ohnesorge: f64) -> f64 {
    let l = f64::from(mode);
    (l - 1.0) * (2.0 * l + 1.0) * ohnesorge
}

/// Decay (real part) and frequency (imaginary part) of the least damped motion at any viscosity that still oscillates;
/// followed from small viscosity. `None` where the drop creeps back without oscillating.
pub fn viscous(mode: u32, ohnesorge: f64) -> Option<Complex<f64>> {
    let mut oh = ohnesorge.min(1e-3);
    let mut s = Complex::new(weak_decay(mode, oh), frequency(mode));
    let steps = ((ohnesorge / oh).logarithm() / 0.1).ceil().max(1.0) as usize;
    let ratio = (ohnesorge / oh).power(1.0 / steps as f64);
    s = settled(mode, oh, s)?;
    for _ in 0..steps {
        oh *= ratio;
        s = settled(mode, oh, s)?;
    }
    (s.im > 1e-6 * s.re).then_some(s)
}

fn settled(mode: u32, ohnesorge: f64, start: Complex<f64>) -> Option<Complex<f64>> {
    roots::analytic(|s| residual(mode, ohnesorge, s), start, start * Complex::new(1.0001, 1e-5))
}

fn residual(mode: u32, ohnesorge: f64, s: Complex<f64>) -> Complex<f64> {
    let l = f64::from(mode);
    let square = s / ohnesorge;
    let q = square.sqrt();
    let ratio = bessel::j_ratio(l + 0.5, q);
    let shape = (q - ratio * (2.0 * l)) / (q - ratio * 2.0) * (l + 1.0) + l;
    let strength = frequency(mode) / ohnesorge;
    // Divided by the size of its terms, so that small Oh does not overflow.
    (square * square + strength * strength - square * shape * (2.0 * (l - 1.0))) / (strength * strength)
}
