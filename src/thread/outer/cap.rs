//! Drop-shaped ends: which part of a body is one, and what it feels.
//!
//! Equation: an end reaches from the pole back over twice its largest radius, or less where the body is shorter; there
//! the drag of a whole drop replaces that of a slender thread ([`crate::thread::closures::ends`]) and the outer normal stress,
//! which a whole drop's drag contains already, fades out.
//! Symbols: lengths in the pinned radius.
//! Source: the drag of a held sphere (see the closures); the window is its length, nothing is fitted.
//! Holds for: ends rounder than long.

use super::OuterField;
use crate::thread::closures::ends::round_end;

/// An end reaches back to where the body is thinner than this share of the radius it had since the pole.
const NECK_SHARE: f64 = 0.6;
/// Length of an end in its radii, and the share of that length over which it fades out.
const LENGTH: f64 = 2.0;
const FADE: f64 = 0.2;

/// What a cell has of a drop-shaped end.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Share {
    /// Drag coefficient of the end, times the weight.
    pub drag: f64,
    /// Velocity towards which it pulls.
    pub drift: f64,
    /// 1 within the end, 0 outside.
    pub weight: f64,
}

/// One end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cap {
    pole: f64,
    length: f64,
    drag: f64,
    drift: f64,
}

/// Largest squared radius between a pole and the first neck, from cells in order away from the pole.
fn bulge(cells: impl Iterator<Item = f64>) -> f64 {
    let mut largest = 0.0f64;
    for a in cells {
        if a < NECK_SHARE * NECK_SHARE * largest {
            break;
        }
        largest = largest.max(a);
    }
    largest
}

impl Cap {
    /// The end at `pole`, with the body behind it (`downstream`: the body lies at larger z); `cells` are squared radii in
    /// order away from the pole.
    pub fn new(field: &OuterField, pole: f64, downstream: bool, cells: impl Iterator<Item = f64>) -> Cap {
        let radius = bulge(cells).sqrt();
        let (centre, far) = if downstream { (pole + radius, pole + 2.0 * radius) } else { (pole - radius, pole) };
        let wall = field.wall.radius(centre);
        let seen = round_end(radius, wall, field.liquids.viscosity_ratio, field.end_share);
        let drift = wall.map_or(0.0, |wall| field.axis_velocity(wall)) * seen.drift * field.shelter(far).0;
        Cap { pole, length: LENGTH * radius, drag: seen.drag, drift }
    }

    /// What a cell with its middle at `z` has of it.
    #[inline]
    pub fn share(&self, z: f64) -> Share {
        let away = (z - self.pole).abs() / self.length;
        let fade = ((away - 1.0 + 0.5 * FADE) / FADE).clamp(0.0, 1.0);
        let weight = 1.0 - fade * fade * (3.0 - 2.0 * fade);
        Share { drag: self.drag * weight, drift: self.drift, weight }
    }
}
