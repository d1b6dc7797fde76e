//! Coefficients and step control of the time scheme.
//!
//! Equation: four-stage linearly implicit (Rosenbrock) scheme of order 3 with an embedded order 2, L-stable,
//! for y' = f(y, t), written so that no product with the Jacobian is needed:
//!   (1/(gamma dt) - J) K_i = f(y + sum_j a_ij K_j, t + alpha_i dt) + (1/dt) sum_j c_ij K_j + Gamma_i dt f_t,
//!   y_new = y + sum_i m_i K_i, error = K_4.
//! Source: scheme RODAS3, Sandu, Verwer, Blom, Spee, Carmichael & Potra 1997, Atmos. Environ. 31, 3459 (coefficients
//! recalled from memory; order 3 is measured in the tests of `thread::step`).
//! Stage 2 has a_21 = 0 and alpha_2 = 0, so its force is that of stage 1: three force evaluations a step.

use crate::math::Pinned as _;

/// Diagonal coefficient of the scheme.
pub const GAMMA: f64 = 0.5;
/// Factors of the explicit time derivative in stages 1 and 2 (zero in stages 3 and 4).
pub const TIME_WEIGHT: [f64; 2] = [0.5, 1.5];
/// c_21.
pub const C21: f64 = 4.0;
/// c_31, c_32.
pub const C3: [f64; 2] = [1.0, -1.0];
/// c_41, c_42, c_43.
pub const C4: [f64; 3] = [1.0, -1.0, -8.0 / 3.0];

/// Factor by which the next step may differ from this one, from the error in units of the tolerance.
pub fn step_factor(error: f64) -> f64 {
    if error.is_finite() { (0.9 * error.max(1e-6).power(-1.0 / 3.0)).clamp(0.3, 3.0) } else { 0.3 }
}
