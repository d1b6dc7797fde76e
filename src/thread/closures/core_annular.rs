//! Two liquids flowing side by side through a tube: the velocity towards which the outer liquid pulls the thread,
//! the velocity of their interface, and the outer flow about the thread.
//!
//! Equation: v = g (1 - r^2/R_w^2) + C ln(r/R_w) outside and a parabola inside, linear in u and Q_T; y = x^2 = h^2/R_w^2. It is the sum of
//! the flow in which the thread feels no force, U0 = 2 Q_T/(pi R_w^2) on the axis of the empty tube,
//! `g = U0/(1 - y^2 + y^2/lambda)`, `C = 0`, `u_eq = g (1 - y + y/(2 lambda))`, `u_s,eq = g (1 - y)`,
//! and of u - u_eq times that of a thread which slips by one while nothing flows in all: with B = 1 - y, L = -ln x,
//! b = B/L - 2y, c = 1 - y^2 - B^2/L, P = 4 lambda L, a1 = P/(1 + P),
//! `g = -(2y + a1 b)/(c + b^2 L/(1 + P))`, `C = a1 (g b - 1/L) + 2 g y`, `alpha = du_s/du = (P + g b L)/(1 + P)`.
//! Pressure gradient G = 4 mu_o g/R_w^2, shear on the interface tau = mu_o dv/dr at h.
//!
//! Symbols: h thread radius (m), u mean velocity in the thread (m/s), u_s velocity of the interface (m/s),
//! Q_T total flow (m3/s), lambda = mu_i/mu_o, mu_o outer viscosity (Pa s).
//!
//! Source: exact parallel Stokes flow, elementary (Poiseuille); tested against a table made at high precision.
//!
//! Holds for: slopes of thread and wall below one, no inertia in the outer liquid. How thick a thread is where both flow
//! undisturbed: [`crate::device::core_annular`].

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

/// Exact core-annular velocities where the core takes the share y = x^2 of the tube's section.
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

/// L, b and c with their derivatives by y.
struct Annulus {
    log: f64,
    b: f64,
    c: f64,
    log_y: f64,
    b_y: f64,
    c_y: f64,
}

/// Safe in narrow gaps.
#[inline(always)]
fn annulus(y: f64, ln_y: f64) -> Annulus {
    let (log, gap) = (-0.5 * ln_y, 1.0 - y);
    let shear = gap / log;
    let (b, c) = if gap > SERIES_GAP {
        (shear - 2.0 * y, 1.0 - y * y - gap * shear)
    } else {
        let sum = GREGORY.iter().rev().fold(0.0, |sum, g| sum * gap + g) * 2.0 * gap * gap;
        (gap - sum, gap * sum)
    };
    let log_y = -0.5 / y;
    let shear_y = (-1.0 - shear * log_y) / log;
    Annulus { log, b, c, log_y, b_y: shear_y - 2.0, c_y: -2.0 * y + shear - gap * shear_y }
}

/// How far the interface follows the thread's mean velocity, alpha = du_s/du at fixed total flow, and d(alpha)/dy.
#[inline(always)]
pub fn following(y: f64, ln_y: f64, ratio: f64) -> (f64, f64) {
    let Annulus { log, b, c, log_y, b_y, c_y } = annulus(y, ln_y);
    let p = 4.0 * ratio * log;
    let inverse = 1.0 / (1.0 + p);
    let a1 = p * inverse;
    let m = c + b * b * log * inverse;
    let n = 2.0 * y + a1 * b;
    let bl = b * log;
    let alpha = (p - n * bl / m) * inverse;

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

/// The inner liquid's share of what resists shear at the surface, P/(1 + P + b^2 L/c), and its derivative by y: 8 pi mu_i of a parabola
/// within, against 2 pi mu_o/L (1 + b^2 L/c) of an annulus without net flow. Without a wall nothing returns, the share is P/(1 + P).
#[inline(always)]
pub fn sheared_share(y: f64, ln_y: f64, ratio: f64) -> (f64, f64) {
    let Annulus { log, b, c, log_y, b_y, c_y } = annulus(y, ln_y);
    let p = 4.0 * ratio * log;
    let bl = b * log;
    let below = 1.0 / (c * (1.0 + p) + b * bl);
    let share = p * c * below;
    let p_y = 4.0 * ratio * log_y;
    let below_y = c_y * (1.0 + p) + c * p_y + 2.0 * b_y * bl + b * b * log_y;
    (share, (p_y * c + p * c_y - share * below_y) * below)
}

/// Outer flow v = g (1 - r^2/R^2) + C ln(r/R) that a thread makes which slips by one through its equilibrium, as (C, g).
pub fn slip_flow(y: f64, ln_y: f64, ratio: f64) -> (f64, f64) {
    let Annulus { log, b, c, .. } = annulus(y, ln_y);
    let p = 4.0 * ratio * log;
    let a1 = p / (1.0 + p);
    let g = (-2.0 * y - a1 * b) / (c + b * b * log / (1.0 + p));
    (a1 * (g * b - 1.0 / log) + 2.0 * g * y, g)
}

/// The same where no wall returns the flow.
pub fn slip_flow_unbounded(ln_y: f64, ratio: f64) -> (f64, f64) {
    (-4.0 * ratio / (1.0 - 2.0 * ratio * ln_y), 0.0)
}
