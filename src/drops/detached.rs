//! A drop that came off, and its free flight as a rigid sphere.

use crate::math::Pinned as _;
use std::f64::consts::PI;

/// A drop, scaled.
#[derive(Debug, Clone, PartialEq)]
pub struct Detached {
    /// When it came off.
    pub time: f64,
    /// Its volume.
    pub volume: f64,
    /// Centre of volume when it came off.
    pub position: f64,
    /// Mean velocity when it came off.
    pub velocity: f64,
    /// Drops that merged into it.
    pub merged_from: Vec<usize>,
    /// Index of the drop that this one merged into, if it did.
    pub merged_into: Option<usize>,
    /// Drops like this that the body stands for (2 for a fragment away from the mirror planes of a half wave).
    pub copies: u32,
    /// The part of its volume that was in the computed domain (half of a drop in a mirror plane).
    pub in_domain: f64,
    /// See [`crate::outcome::Drop::flagged`].
    pub flagged: bool,
    /// Index of the pinch-off that made it.
    pub pinch: Option<usize>,
}

/// A drop on its way, no longer followed in shape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sphere {
    /// Which drop it is.
    pub drop: usize,
    /// Where its centre is.
    pub position: f64,
    /// How fast it goes.
    pub velocity: f64,
    /// Its volume.
    pub volume: f64,
    /// Its own time.
    pub time: f64,
}

impl Sphere {
    /// Radius of the sphere.
    pub fn radius(&self) -> f64 {
        sphere_radius(self.volume)
    }
}

/// Radius of a sphere of this volume.
pub fn sphere_radius(volume: f64) -> f64 {
    (0.75 * volume / PI).cube_root()
}
