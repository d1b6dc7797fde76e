//! Two liquids flowing side by side through a tube: the velocity towards which the outer liquid pulls the thread,
//! the velocity of their interface, and the stress between them.
//!
//! Equation (all from v = g (1 - r^2/R_w^2) + C ln(r/R_w) outside and a parabola inside, y = x^2 = h^2/R_w^2):
//! `u_eq = U0 (1 - y + y/(2 lambda)) / (1 - y^2 + y^2/lambda)` and `u_s,eq = U0 (1 - y) / (1 - y^2 + y^2/lambda)`,
//! U0 = 2 Q_T/(pi R_w^2); away from equilibrium, with B = 1 - y, L = -ln x, b = B/L - 2y, c = 1 - y^2 - B^2/L,
//! P = 4 lambda L, a1 = P/(1 + P), q = (Q_T - pi h^2 u)/(pi R_w^2):
//! `g = (2q - a1 b u)/(c + b^2 L/(1 + P))`, `t = a1 (g b - u/L)`, `u_s = (P u + g b L)/(1 + P)`,
//! pressure gradient G = 4 mu_o g/R_w^2, shear on the interface tau = mu_o t/h.
//!
//! Symbols: h thread radius (m), u mean velocity in the thread (m/s), u_s velocity of the interface (m/s),
//! Q_T total flow (m3/s), lambda = mu_i/mu_o, mu_o outer viscosity (Pa s).
//!
//! Source: exact parallel Stokes flow, elementary (Poiseuille); tested against a table made at high precision.
//!
//! Holds for: slopes of thread and wall below one, no inertia in the outer liquid.

use crate::math::Pinned as _;
use std::f64::consts::PI;

/// Magnitudes of the Gregory coefficients from n = 2: `2E/(-ln(1 - E)) = 2 (1 - E/2 - sum G_n E^n)`.
const GREGORY: [f64; 7] =
    [1.0 / 12.0, 1.0 / 24.0, 19.0 / 720.0, 3.0 / 160.0, 863.0 / 60480.0, 275.0 / 24192.0, 33953.0 / 3628800.0];
/// Gap below which b and c come from the series; there both ways agree to twelve digits.
const SERIES_GAP: f64 = 0.02;

/// A velocity with its derivatives with respect to y = h^2/R_w^2 (at fixed R_w) in units of U0 = 2 Q_T/(pi R_w^2).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Equilibrium {
    /// u_eq/U0.
    pub mean: f64,
    /// d(u_eq/U0)/dy.
    pub mean_y: f64,
    /// u_s,eq/U0.
    pub interface: f64,
    /// d(u_s,eq/U0)/dy.
    pub interface_y: f64,
}

/// Exact core-annular velocities at confinement y = x^2.
#[inline(always)]
pub fn equilibrium(y: f64, inverse_ratio: f64) -> Equilibrium {
    let contrast = inverse_ratio - 1.0;
    let bottom = 1.0 / (1.0 + y * y * contrast);
    let bottom_y = 2.0 * y * contrast;
    let mean = (1.0 + y * (0.5 * inverse_ratio - 1.0)) * bottom;
    let interface = (1.0 - y) * bottom;
    Equilibrium {
        mean,
        mean_y: (0.5 * inverse_ratio - 1.0 - mean * bottom_y) * bottom,
        interface,
        interface_y: (-1.0 - interface * bottom_y) * bottom,
    }
}

/// b = B/L - 2y and c = 1 - y^2 - B^2/L, safe in narrow gaps.
#[inline(always)]
fn annulus(y: f64, ln_y: f64) -> (f64, f64) {
    let gap = 1.0 - y;
    if gap > SERIES_GAP {
        let shear = -2.0 * gap / ln_y;
        return (shear - 2.0 * y, 1.0 - y * y - gap * shear);
    }
    let sum = GREGORY.iter().rev().fold(0.0, |sum, g| sum * gap + g) * 2.0 * gap * gap;
    (gap - sum, gap * sum)
}

/// How far the interface follows the thread's mean velocity, alpha = du_s/du at fixed total flow, and d(alpha)/dy.
#[inline(always)]
pub fn following(y: f64, ln_y: f64, ratio: f64) -> (f64, f64) {
    let (b, c) = annulus(y, ln_y);
    let (log, gap) = (-0.5 * ln_y, 1.0 - y);
    let p = 4.0 * ratio * log;
    let inverse = 1.0 / (1.0 + p);
    let a1 = p * inverse;
    let m = c + b * b * log * inverse;
    let n = 2.0 * y + a1 * b;
    let bl = b * log;
    let alpha = (p - n * bl / m) * inverse;

    let (log_y, shear) = (-0.5 / y, gap / log);
    let shear_y = (-1.0 - shear * log_y) / log;
    let (b_y, c_y) = (shear_y - 2.0, -2.0 * y + shear - gap * shear_y);
    let p_y = 4.0 * ratio * log_y;
    let a1_y = p_y * inverse * inverse;
    let bl_y = b_y * log + b * log_y;
    let m_y = c_y + (b_y * bl + b * bl_y) * inverse - b * bl * p_y * inverse * inverse;
    let n_y = 2.0 + a1_y * b + a1 * b_y;
    let alpha_y = (p_y - (n_y * bl + n * bl_y) / m + n * bl * m_y / (m * m)) * inverse - alpha * p_y * inverse;
    (alpha, alpha_y)
}

/// The same where no wall returns the flow: alpha = P/(1 + P), P = 4 lambda L.
#[inline(always)]
pub fn following_unbounded(y: f64, ln_y: f64, ratio: f64) -> (f64, f64) {
    let inverse = 1.0 / (1.0 - 2.0 * ratio * ln_y);
    (1.0 - inverse, -2.0 * ratio / y * inverse * inverse)
}

/// The inner liquid's share of what resists shear at the surface, P/(1 + P + b^2 L/c), the outer flow held (c none: no wall returns
/// it), and its derivative by y: 8 pi mu_i of a parabola within, against 2 pi mu_o/L (1 + b^2 L/c) of an annulus without net flow.
#[inline(always)]
pub fn sheared_share(y: f64, ln_y: f64, ratio: f64) -> (f64, f64) {
    let (b, c) = annulus(y, ln_y);
    let (log, gap) = (-0.5 * ln_y, 1.0 - y);
    let p = 4.0 * ratio * log;
    let bl = b * log;
    let below = 1.0 / (c * (1.0 + p) + b * bl);
    let share = p * c * below;
    let (log_y, shear) = (-0.5 / y, gap / log);
    let shear_y = (-1.0 - shear * log_y) / log;
    let (b_y, c_y) = (shear_y - 2.0, -2.0 * y + shear - gap * shear_y);
    let p_y = 4.0 * ratio * log_y;
    let below_y = c_y * (1.0 + p) + c * p_y + 2.0 * b_y * bl + b * b * log_y;
    (share, (p_y * c + p * c_y - share * below_y) * below)
}

/// What passes between the two liquids when the thread runs at mean velocity u.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interface {
    /// Velocity of the interface u_s, m/s.
    pub velocity: f64,
    /// Shear stress of the outer liquid on the thread tau, Pa.
    pub shear: f64,
    /// Pressure gradient that drives the outer liquid G, Pa/m: dp_o/dz = rho_o g_z - G.
    pub gradient: f64,
}

/// Interface velocity, shear and outer pressure gradient for a thread of radius `h` and mean velocity `u` in a tube.
pub fn interface(h: f64, u: f64, wall: f64, ratio: f64, outer_viscosity: f64, total_flow: f64) -> Interface {
    let y = (h / wall) * (h / wall);
    let ln_y = y.logarithm();
    let (b, c) = annulus(y, ln_y);
    let log = -0.5 * ln_y;
    let p = 4.0 * ratio * log;
    let a1 = p / (1.0 + p);
    let q = (total_flow - PI * h * h * u) / (PI * wall * wall);
    let g = (2.0 * q - a1 * b * u) / (c + b * b * log / (1.0 + p));
    let t = a1 * (g * b - u / log);
    Interface {
        velocity: (p * u + g * b * log) / (1.0 + p),
        shear: outer_viscosity * t / h,
        gradient: 4.0 * outer_viscosity * g / (wall * wall),
    }
}

/// Outer flow v = g (1 - r^2/R^2) + C ln(r/R) that a thread makes which slips by one through its equilibrium, as (C, g).
pub fn slip_flow(y: f64, ln_y: f64, ratio: f64) -> (f64, f64) {
    let (b, c) = annulus(y, ln_y);
    let log = -0.5 * ln_y;
    let p = 4.0 * ratio * log;
    let a1 = p / (1.0 + p);
    let g = (-2.0 * y - a1 * b) / (c + b * b * log / (1.0 + p));
    (a1 * (g * b - 1.0 / log) + 2.0 * g * y, g)
}

/// The same where no wall returns the flow.
pub fn slip_flow_unbounded(ln_y: f64, ratio: f64) -> (f64, f64) {
    (-4.0 * ratio / (1.0 - 2.0 * ratio * ln_y), 0.0)
}

/// Exact core radius in co-flow long after the tip, as x^2 = h^2/R_w^2, from the flow ratio phi = Q_i/Q_o.
pub fn core_confinement(flow_ratio: f64, inverse_ratio: f64) -> f64 {
    let s = 2.0 * flow_ratio + 2.0;
    2.0 * flow_ratio / (s + (s * s - 4.0 * flow_ratio * (flow_ratio + 2.0 - inverse_ratio)).sqrt())
}
