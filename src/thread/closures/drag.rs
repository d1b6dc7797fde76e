//! Outer shear and outer pressure gradient, lumped into one relaxation of the thread's mean velocity.
//!
//! Equation: force per unit volume of thread = mu_o d (u_eq - u)/h^2 with
//! `d = 8 (1 - y^2 + y^2/lambda) / (phi1/lambda + phi2)`, y = x_e^2,
//! `phi1 = 1 - 4y + 3y^2 - 2 y^2 ln y`, `phi2 = -2 (1 - y^2) ln y - 4 (1 - y)^2`.
//! Near the wall, with E = 1 - y, both are taken from their exact series
//! `phi1 = sum_{n>=3} 4 E^n/(n(n-1)(n-2))`, `phi2 = sum_{n>=4} 2(n-3) E^n/((n-1)(n-2))` (expand ln(1 - E)).
//!
//! Symbols: h thread radius, R_w wall radius, x = h/R_w, lambda = mu_i/mu_o, mu_o outer viscosity (Pa s);
//! x_e bounded confinement, `x_e = h (R_w^-12 + (beta h_ref)^-12)^(1/12)`, `beta = 6.8 (1 + lambda/25)^(1/4)`, h_ref the
//! radius of the thread seen from afar (its envelope): a neck feels the liquid as far as its neighbours reach.
//!
//! Source: exact parallel flow of two liquids in a tube (own derivation; tested against two independent routes to
//! the same force). The bound beta is fitted to the exact two-layer Stokes growth rates (Tomotika 1935, Proc. R. Soc. A 150,
//! 322): a far wall must not weaken the drag by its logarithm.
//!
//! Holds for: Stokes flow outside, slopes below one; growth rates within 8.4 % of the exact two-layer theory at
//! the fastest mode, up to 60 % too slow for x < 0.15 at wavelengths far above the fastest.

use super::fitted::Fitted;
use crate::math::cube_root_in_line;

/// Gap E = 1 - x^2 below which the series replace the closed forms (which there lose more than five digits of sixteen).
const SERIES_GAP: f64 = 0.1;
/// Terms of the series: E^TERMS at the gap above is below round-off.
const TERMS: usize = 14;

/// `4/(n(n-1)(n-2))` from n = 3, `2(n-3)/((n-1)(n-2))` from n = 4.
const fn series() -> ([f64; TERMS], [f64; TERMS]) {
    let (mut first, mut second, mut k) = ([0.0; TERMS], [0.0; TERMS], 0);
    while k < TERMS {
        let n = (k + 3) as f64;
        first[k] = 4.0 / (n * (n - 1.0) * (n - 2.0));
        let n = n + 1.0;
        second[k] = 2.0 * (n - 3.0) / ((n - 1.0) * (n - 2.0));
        k += 1;
    }
    (first, second)
}
const SERIES: ([f64; TERMS], [f64; TERMS]) = series();

/// Whether the gap at y = x^2 is one in which the series are needed.
#[inline(always)]
pub fn is_narrow(y: f64) -> bool {
    1.0 - y <= SERIES_GAP
}

/// phi1, phi2 and their derivatives with respect to y = x^2; `ln_y` is ln(y). Only with `NARROW` may the gap be so.
#[inline(always)]
fn mobilities<const NARROW: bool>(y: f64, ln_y: f64) -> [f64; 4] {
    let gap = 1.0 - y;
    let yl = y * ln_y;
    if !NARROW || !is_narrow(y) {
        let phi1 = 1.0 + y * (-4.0 + 3.0 * y - 2.0 * yl);
        let phi2 = -2.0 * ln_y * (1.0 - y * y) - 4.0 * gap * gap;
        return [phi1, phi2, -4.0 * (gap + yl), 8.0 - 2.0 / y - 6.0 * y + 4.0 * yl];
    }
    let (mut p1, mut p2, mut p1_gap, mut p2_gap) = (0.0, 0.0, 0.0, 0.0);
    for k in (0..TERMS).rev() {
        p1 = SERIES.0[k] + p1 * gap;
        p2 = SERIES.1[k] + p2 * gap;
        p1_gap = (k as f64 + 3.0) * SERIES.0[k] + p1_gap * gap;
        p2_gap = (k as f64 + 4.0) * SERIES.1[k] + p2_gap * gap;
    }
    let (square, cube) = (gap * gap, gap * gap * gap);
    [p1 * cube, p2 * cube * gap, -p1_gap * square, -p2_gap * cube]
}

/// Drag coefficient d and its derivative with respect to y = x_e^2; `inverse_ratio` is 1/lambda = mu_o/mu_i. Only with `NARROW` may the gap
/// be so.
#[inline(always)]
pub fn coefficient<const NARROW: bool>(y: f64, ln_y: f64, inverse_ratio: f64) -> (f64, f64) {
    let [phi1, phi2, phi1_y, phi2_y] = mobilities::<NARROW>(y, ln_y);
    let contrast = inverse_ratio - 1.0;
    let top = 1.0 + y * y * contrast;
    let bottom = phi1 * inverse_ratio + phi2;
    let d = 8.0 * top / bottom;
    let d_y = (16.0 * y * contrast - d * (phi1_y * inverse_ratio + phi2_y)) / bottom;
    (d, d_y)
}

const TWO_LAYER: &str = "exact two-layer Stokes growth rates of an unbounded thread (Tomotika 1935)";
const TWO_LAYER_RANGE: &str = "viscosity ratio 1e-3 to 1e3, fastest mode";
/// Reach of a thread in an unbounded liquid.
pub const REACH: Fitted =
    Fitted { value: 6.8, from: "beta = 6.8 (1 + lambda/25)^(1/4)", fitted_to: TWO_LAYER, range: TWO_LAYER_RANGE };
/// Viscosity ratio from which a stiffer thread reaches farther.
pub const REACH_RATIO: Fitted = Fitted { value: 25.0, from: "25 in beta = 6.8 (1 + lambda/25)^(1/4)", ..REACH };

/// How far into an unbounded liquid a thread of radius one drags it along: beta = 6.8 (1 + lambda/25)^(1/4).
pub fn reach(viscosity_ratio: f64) -> f64 {
    REACH.value * (1.0 + viscosity_ratio / REACH_RATIO.value).sqrt().sqrt()
}

/// Radius of the liquid that is sheared, R_e = (R_w^-12 + (beta h_ref)^-12)^(-1/12), squared, and dR_e^2/dR_w.
#[inline(always)]
pub fn sheared_radius_squared(reach_radius: f64, wall: Option<f64>) -> (f64, f64) {
    let Some(wall) = wall else { return (reach_radius * reach_radius, 0.0) };
    let ratio = wall / reach_radius;
    let fourth = (ratio * ratio) * (ratio * ratio);
    let twelfth = fourth * fourth * fourth;
    let squared = wall * wall / cube_root_in_line((1.0 + twelfth).sqrt());
    (squared, 2.0 * squared / (wall * (1.0 + twelfth)))
}
