//! Pressure of the film between thread and wall.
//!
//! Equation: extra pressure in the thread `p = (gamma/R_w) s^2/(1 - s)`, s = (y - y0)/(1 - y0) for y = x^2 > y0 = 0.9^2.
//! The force on the thread is -pi h^2 dp/dz.
//!
//! Symbols: x = h/R_w, gamma tension (N/m), R_w wall radius (m).
//!
//! Source: common practice, no source: a stand-in for the lubrication film (which would need the film's own equation); it keeps the
//! thread off the wall and is zero, with zero slope, below x = 0.90. Sizes of plugs in contact are given by the flow, not by this.
//!
//! Holds for: nothing quantitative above x = 0.90; a drop that gets there is reported as a plug.

use super::Dual;

/// Confinement x at which the film starts to push.
pub const CONTACT: f64 = 0.90;
/// y = x^2 there.
const START: f64 = CONTACT * CONTACT;
/// Keeps trial steps of the solver away from the singularity.
const LIMIT: f64 = 0.999;

/// Film pressure (Pa) at a = h^2.
#[inline(always)]
pub fn film(a: f64, wall: f64, tension: f64) -> Dual {
    let y = a / (wall * wall);
    if y <= START {
        return Dual::default();
    }
    let s = ((y - START) / (1.0 - START)).min(LIMIT);
    let scale = tension / wall;
    let pressure = scale * s * s / (1.0 - s);
    let pressure_y = scale * s * (2.0 - s) / ((1.0 - s) * (1.0 - s) * (1.0 - START));
    Dual { value: pressure, by_a: pressure_y / (wall * wall), by_wall: -pressure / wall - 2.0 * pressure_y * y / wall }
}
