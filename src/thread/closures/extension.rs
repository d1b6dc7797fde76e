//! Normal stress of the outer liquid on a thread that stretches or thins.
//!
//! Equation: force per unit length = pi h^2 d/dz(mu_o c_E w), `c_E = 1 + 5.9 x^2/(1 - x^2) / (1 + lambda/0.3)`;
//! w = u_z + 2 (u - u_s) h_z/h is the radial rate of the interface itself (its radial velocity is -h w/2).
//!
//! Symbols: x = h/R_w confinement, lambda = mu_i/mu_o, mu_o outer viscosity (Pa s), w rate (1/s).
//!
//! Source: c_E = 1 is the exact pressure of a line source in an unbounded liquid; the wall's share is fitted to exact
//! two-layer Stokes growth rates over x 1e-3..0.95 and lambda 1e-3..1e3 (peak growth within 8.4 % everywhere; with c_E = 1
//! it would be off by up to a factor).
//!
//! Holds for: slopes below one, no inertia outside.

/// Strength of the wall's share in c_E, fitted to the exact two-layer growth rates.
const WALL_SHARE: f64 = 5.9;
/// Viscosity ratio at which a stiffer thread halves that share, fitted together with it.
const RATIO_HALF: f64 = 0.3;

/// The part of c_E that depends on the liquids alone.
pub fn wall_share(viscosity_ratio: f64) -> f64 {
    WALL_SHARE / (1.0 + viscosity_ratio / RATIO_HALF)
}

/// c_E and its derivative with respect to y = x^2.
#[inline]
pub fn coefficient(y: f64, wall_share: f64) -> (f64, f64) {
    let inverse = 1.0 / (1.0 - y);
    (1.0 + wall_share * y * inverse, wall_share * inverse * inverse)
}
