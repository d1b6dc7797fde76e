//! How the neck of a thread shrinks just before it breaks.
//!
//! Equation (tau = time to breakup):
//! viscous thread, no inertia: `h_min = c (gamma/mu) tau`, c = 1/(12 (1 + b)), b from
//! `integral over t of (f - y) y^-3 (y + 3 + 2b)^(b + 1/2) dt = 0`, y = 1 + t^2, f = 1 + 1/(2 (1 + b));
//! with inertia `h_min = 0.03043 (gamma/mu) tau`; thin liquid `h_min = C (gamma tau^2/rho)^(1/3)`;
//! equal-viscosity surrounding `h_min = 0.0335 (gamma/mu) tau`.
//!
//! Symbols: h_min neck radius (m), mu viscosity (Pa s), gamma tension (N/m), rho density (kg/m3).
//!
//! Source: Papageorgiou 1995, Phys. Fluids 7, 1529 (b and c recomputed here, in the form derived below); Eggers 1993,
//! Phys. Rev. Lett. 71, 3458 (constant recomputed in [`super::universal_pinch`]); Keller & Miksis 1983, SIAM J. Appl. Math. 43, 268
//! (exponent 2/3; prefactor about 0.7 in the full problem, recalled); Lister & Stone 1998, Phys. Fluids 10, 2758, and Cohen,
//! Brenner, Eggers & Nagel 1999, Phys. Rev. Lett. 83, 1147 (0.0335, recalled from memory).
//!
//! Holds for: slender necks far from their start; a thread passes from Papageorgiou's law to Eggers' when h_min reaches about
//! mu^2/(rho gamma).

use super::{quadrature, roots};
use crate::math::Pinned as _;

/// Lister & Stone 1998: speed over gamma/mu where both liquids are equally viscous (recalled from memory).
pub const EQUAL_VISCOSITY_SPEED: f64 = 0.0335;
/// Exponent of the thin-liquid law (Keller & Miksis 1983).
pub const THIN_EXPONENT: f64 = 2.0 / 3.0;

/// Papageorgiou's axial exponent b.
///
/// Without inertia the force along the thread is the same everywhere; for a fluid element `dh/dt = (1 - F/h)/6` (in gamma/mu).
/// With h = tau y c and element label ~ tau^(2+b) this separates, the minimum is quadratic only if c = 1/(12 (1 + b)), and the
/// two sides of the neck keep their distance only if the integral in the heading vanishes.
pub fn stokes_exponent() -> f64 {
    roots::bracketed(closure, 0.05, 0.5).unwrap_or(f64::NAN)
}

fn closure(b: f64) -> f64 {
    let (a, force) = (3.0 + 2.0 * b, 1.0 + 0.5 / (1.0 + b));
    quadrature::half_line(|t| {
        let y = 1.0 + t * t;
        (force - y) * y.powi(-3) * (y + a).power(b + 0.5)
    })
}

/// Papageorgiou's speed c = 0.0709 in gamma/mu.
pub fn stokes_speed() -> f64 {
    1.0 / (12.0 * (1.0 + stokes_exponent()))
}
