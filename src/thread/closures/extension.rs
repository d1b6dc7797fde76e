//! Normal stress of the outer liquid on a thread that stretches or thins.
//!
//! Equation: force per unit length = pi h^2 d/dz(mu_o c_E w), `c_E = 1 + 5.9 x^2/(1 - x^2) / (1 + lambda/0.3)`;
//! w = u_z + 2 (u - u_r) h_z/h is the radial rate of the surface as the outer liquid near it sees it (-2/h times h_t + u_r h_z);
//! `u_r = 0.9 u_s,eq + kappa alpha (u - u_eq)`, `kappa = 1/(1 - 2 ln x_e)`.
//!
//! Symbols: x = h/R_w confinement, lambda = mu_i/mu_o, mu_o outer viscosity (Pa s), w rate (1/s), u_s,eq interface velocity of the
//! core-annular flow, alpha = du_s/du (see [`super::core_annular`]).
//!
//! Source: c_E = 1 is the exact pressure of a line source in an unbounded liquid; the wall's share is fitted to exact
//! two-layer Stokes growth rates at rest over x 1e-3..0.95 and lambda 1e-3..1e3 (peak growth within 8.4 % everywhere; without it
//! off by up to a factor). u_r: the liquid near the surface lags behind the interface. Its share in the base flow, 0.9,
//! is fitted to the exact two-layer border between absolute and convective (rms error 8.5 % with 1, 6.3 % with 0.9, for
//! lambda >= 0.03, with the lag of the inner liquid itself, [`crate::thread::outer`]). Where the thread slips through the liquid, kappa: with a logarithmic profile outside, 2 mu du_r/dr less the pressure
//! is mu_o (w_s - du_s/dz - u_s h_z/(h L)), w_s that of the interface itself, L = -ln x_e, in which steady flow into a
//! drop (u h^2 constant) leaves only the last term: of order 1/(2L) of w_s, and wholly w_s (kappa = 1) in a narrow gap.
//!
//! Holds for: slopes below one, no inertia outside.

use super::fitted::Fitted;

/// Strength of the wall's share in c_E.
pub const WALL_SHARE: Fitted = Fitted {
    value: 5.9,
    from: "5.9 in c_E",
    fitted_to: "exact two-layer Stokes growth rates at rest in a tube (own computation)",
    range: "x 1e-3 to 0.95, viscosity ratio 1e-3 to 1e3",
};
/// Viscosity ratio at which a stiffer thread halves that share.
pub const RATIO_HALF: Fitted = Fitted { value: 0.3, from: "0.3 in c_E", ..WALL_SHARE };

/// The part of c_E that depends on the liquids alone.
pub fn wall_share(viscosity_ratio: f64) -> f64 {
    WALL_SHARE.value / (1.0 + viscosity_ratio / RATIO_HALF.value)
}

/// c_E and its derivative with respect to y = x^2.
#[inline(always)]
pub fn coefficient(y: f64, wall_share: f64) -> (f64, f64) {
    let inverse = 1.0 / (1.0 - y);
    (1.0 + wall_share * y * inverse, wall_share * inverse * inverse)
}

/// Share of the base flow's interface velocity in u_r.
pub const BASE_SHARE: Fitted = Fitted {
    value: 0.9,
    from: "0.9 in u_r",
    fitted_to: "exact two-layer border between absolute and convective (own computation)",
    range: "viscosity ratio from 0.03",
};

/// Share kappa alpha of the thread's slip in u_r from (alpha, d(alpha)/dy), y = x_e^2, with its derivative.
#[inline(always)]
pub fn carried((alpha, alpha_y): (f64, f64), y: f64, ln_y: f64) -> (f64, f64) {
    let kappa = 1.0 / (1.0 - ln_y);
    (kappa * alpha, kappa * (alpha_y + kappa * alpha / y))
}
