//! One step of the interfaces.
//!
//! Equation: the linearly implicit Euler step once with dt and twice with dt/2; twice the second less the first is of second order, their
//! difference is the error of a step.
//!
//! Symbols: displacements over the local radius of curvature, or over the neck's (R before there is one) where that is larger.
//!
//! Source: extrapolation of Euler steps: Hairer, Norsett & Wanner, Solving Ordinary Differential Equations I (1993), II.9
//! (recalled).
//!
//! Holds for: interfaces that keep their nodes over the step.

use super::flow::{Fixed, Reduced, reduced};
use super::interface::Interface;

/// Nodes next to the rim whose curvature along the meridian is the mesh's own.
const NEXT_TO_RIM: usize = 3;

/// A step's answer, extrapolated, and how far its two parts are apart.
pub struct Step {
    pub surfaces: Vec<Interface>,
    /// Greatest displacement between them over the local scale.
    pub error: f64,
}

fn moved(surfaces: &[Interface], speeds: &[Vec<f64>], step: f64) -> Vec<Interface> {
    surfaces.iter().zip(speeds).map(|(s, u)| s.moved(u, step)).collect()
}

/// A step of length `dt`; `None` where the equation or the shape after it is not sound.
pub fn step(fixed: &Fixed, now: &[Interface], equation: &Reduced, dt: f64, bond: f64, thinnest: f64) -> Option<Step> {
    let whole = moved(now, &equation.normal_velocity(now, dt)?, dt);
    let half = moved(now, &equation.normal_velocity(now, 0.5 * dt)?, 0.5 * dt);
    if !whole.iter().chain(&half).all(Interface::is_sound) {
        return None;
    }
    let second = reduced(fixed, &half, bond).normal_velocity(&half, 0.5 * dt)?;
    let twice = moved(&half, &second, 0.5 * dt);
    let mut error = 0.0f64;
    let mut surfaces = Vec::with_capacity(now.len());
    for (k, (before, (twice, whole))) in now.iter().zip(twice.iter().zip(&whole)).enumerate() {
        // what is finer than the neck passes by before it closes
        let least = if k == 0 { thinnest } else { 0.0 };
        let (mut z, mut r) = (Vec::with_capacity(before.nodes()), Vec::with_capacity(before.nodes()));
        for (i, scale) in before.curved(NEXT_TO_RIM).into_iter().enumerate() {
            let (dz, dr) = (twice.z[i] - whole.z[i], twice.r[i] - whole.r[i]);
            error = error.max((dz * dz + dr * dr).sqrt() / scale.max(least));
            z.push(twice.z[i] + dz);
            r.push(twice.r[i] + dr);
        }
        surfaces.push(before.reshaped(z, r));
    }
    (error.is_finite() && surfaces.iter().all(Interface::is_sound)).then_some(Step { surfaces, error })
}
