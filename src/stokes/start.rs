//! The interface that a run starts from: a cap on the rim.
//!
//! Equation: a sphere through the rim (radius 1) of height H has the radius (1/H + H)/2.
//!
//! Symbols: lengths in R, the radius that pins the contact line.
//!
//! Source: geometry, elementary.
//!
//! Holds for: H <= 1.

use super::device::Device;
use super::differences::End;
use super::interface::Interface;
use super::spacing::{Fineness, laid_anew};

/// A cap of this height (at most 1, a hemisphere) on the rim.
pub fn cap(height: f64, fine: &Fineness) -> Interface {
    let n = 30;
    // sphere through the rim: radius and half angle
    let radius = 0.5 * (1.0 / height + height);
    let half = (1.0 / radius).min(1.0).asin();
    let angle = |i: usize| half * (1.0 - i as f64 / (n as f64 - 1.0));
    let z = (0..n).map(|i| if i == 0 { 0.0 } else { height - radius * (1.0 - angle(i).cos()) }).collect();
    let r = (0..n).map(|i| if i + 1 == n { 0.0 } else { radius * angle(i).sin() }).collect();
    laid_anew(&Interface::new(z, r, (End::Pinned, End::Axis)), fine, &|_, _| f64::MAX)
}

/// Heights of the first cap: the hemisphere, or the highest that leaves some room to a plate close by.
const HEIGHTS: [f64; 5] = [1.0, 0.7, 0.5, 0.35, 0.2];
/// That room, in R.
const ROOM: f64 = 0.15;

/// The shape that a run starts from.
pub fn first(device: &Device, fine: &Fineness) -> Interface {
    let lower = cap(HEIGHTS[HEIGHTS.len() - 1], fine);
    let free = |s: &Interface| (1..s.nodes()).all(|i| device.room(s.z[i], s.r[i]) > ROOM);
    HEIGHTS.iter().map(|height| cap(*height, fine)).find(free).unwrap_or(lower)
}
