//! Drop-shaped ends: which part of a body is one, and what it feels.
//!
//! Equation: an end is the bulge between a pole and the first neck, taken for a spheroid of its largest radius b and its volume
//! V, of aspect phi = 3 V/(4 pi b^3) >= 1. A rigid spheroid's drag is within 1 % that of a sphere of radius b times (4 + phi)/5;
//! spread over its length 2 b phi this is a drag coefficient E (4 + phi)/(5 phi), E the sphere's
//! ([`crate::thread::closures::ends`]). The outer normal stress fades out over the sphere's length 2b: a whole drop's drag contains it.
//! Symbols: lengths in the pinned radius.
//! Source: Happel & Brenner 1965, Low Reynolds Number Hydrodynamics, on spheroids (recalled; (4 + phi)/5 is the usual
//! approximation); the rest is geometry, nothing is fitted.
//! Holds for: phi up to about 6; longer ends are threads, and the slender drag takes over by itself.

use super::OuterField;
use crate::thread::closures::ends::round_end;

/// An end reaches back to where the body is thinner than this share of the radius it had since the pole.
const NECK_SHARE: f64 = 0.6;
/// Length of a round end in its radii, and the share of a length over which an end fades out.
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
    /// Length of the sphere, over which the normal stress fades out.
    length: f64,
    /// Length of the spheroid, over which its drag is spread.
    reach: f64,
    drag: f64,
    drift: f64,
}

/// Largest squared radius between a pole and the first neck, and the volume over pi there, from cells (squared radius,
/// length) in order away from the pole.
fn bulge(cells: impl Iterator<Item = (f64, f64)>) -> (f64, f64) {
    let (mut largest, mut volume) = (0.0f64, 0.0);
    for (a, d) in cells {
        if a < NECK_SHARE * NECK_SHARE * largest {
            break;
        }
        largest = largest.max(a);
        volume += a * d;
    }
    (largest, volume)
}

impl Cap {
    /// The end at `pole`, with the body behind it (`downstream`: the body lies at larger z); `cells` are squared radii in
    /// order away from the pole.
    pub fn new(field: &OuterField, pole: f64, downstream: bool, cells: impl Iterator<Item = (f64, f64)>) -> Cap {
        let (largest, volume) = bulge(cells);
        let radius = largest.sqrt();
        let aspect = (0.75 * volume / (largest * radius)).max(1.0);
        let (centre, far) = if downstream { (pole + radius, pole + 2.0 * radius) } else { (pole - radius, pole) };
        let wall = field.wall.radius(centre);
        let seen = round_end(radius, wall, field.liquids.viscosity_ratio, field.end_share);
        let drift = wall.map_or(0.0, |wall| field.axis_velocity(wall)) * seen.drift * field.shelter(far).0;
        Cap {
            pole,
            length: LENGTH * radius,
            reach: LENGTH * radius * aspect,
            drag: seen.drag * (4.0 + aspect) / (5.0 * aspect),
            drift,
        }
    }

    /// What a cell with its middle at `z` has of it.
    #[inline]
    pub fn share(&self, z: f64) -> Share {
        let away = (z - self.pole).abs();
        Share { drag: self.drag * fade(away / self.reach), drift: self.drift, weight: fade(away / self.length) }
    }
}

/// 1 within the window, smoothly to 0 about its end.
fn fade(away: f64) -> f64 {
    let out = ((away - 1.0 + 0.5 * FADE) / FADE).clamp(0.0, 1.0);
    1.0 - out * out * (3.0 - 2.0 * out)
}
