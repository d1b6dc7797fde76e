//! Drop-shaped ends: which part of a body is one, and what it feels.
//!
//! Equation: an end is the bulge between a pole and the first neck, taken for a spheroid of its largest radius b and its volume
//! V, of aspect phi = 3 V/(4 pi b^3) >= 1. It feels the drag of the sphere of radius b times a factor of phi
//! ([`crate::thread::closures::ends`]), spread over its length 2 b phi as h^2: coefficient 1.5 E P(phi)/phi h^2/b^2, and where there is
//! a wake as the share S(z) of the stream that is there, the total kept. There it takes the
//! place of the slender drag and of the outer normal stress, which a whole drop's drag contains already. Beyond phi = 2
//! the slender thread takes over, wholly from phi = 4.
//! Where the wall changes, each cell is pulled by the stream where it is, U0(z)/U0(middle) of the pull above, and a spheroid is an end
//! only where it has room: wholly up to a radius b of 0.6 of the narrowest wall downstream, half at 0.8, where the range of
//! [`crate::thread::closures::ends`] ends, nothing from 1. What does not fit through the hole ahead lets the stream pass between itself and the plate, and what stands in a hole
//! between it and the wall: there the slender drag holds, whose annulus conserves the outer flow. For the same reason an end does
//! not reach back through a passage to a bulge that is wider than that: a meniscus that has entered a hole and the bulb in front of it
//! are two.
//! Symbols: lengths in the pinned radius.
//! Source: the tractions on a sphere in Stokes flow add up to the same force per volume everywhere (elementary);
//! the rest is in the closures. The change from end to thread between phi = 2 and 4 is ours. That a drop still pressed against the
//! tip keeps its near pole at the tip's plane was chosen with the force histories of twelve rows of the reference in view
//! (1, 7, 24, 26, 28, 29, 49, 59, 61, 68, 70, 80): its spheroid would reach into the tip and feel half of the pull that is there.
//! The passage (1 to 1.2) is ours, set before any row of the orifice's table was compared with it. The room is ours too:
//! about a sphere in a straight tube (liquids of one viscosity) the annulus of each section carries 0.56 of the drag at 0.3, 0.75 at 0.6 and
//! 0.84 at 0.8 of the wall's radius, so that little is lost with the end there; until 2026-11-29 it was 0.8 to 1.2. Rows unseen-4, 5, 6,
//! blind-12 and orifice-25 and the example `counterflow` were in view when it was moved (0.4 to 0.8 gave rows the same, and that example a
//! second mode). That the
//! narrowest wall *ahead* counts was decided with the curvature along the meniscus of orifice-21 and orifice-25 and the sizes of
//! device-1 and orifice-1, 10, 19, 21, 24 in view (`validation/orifice/README.md`).
//! Holds for: see the closures.

use super::OuterField;
use super::thinning::around_end;
use crate::device::core_annular::axis_velocity;
use crate::thread::closures::ends::{elongated, round_end, sampled_at};
use std::f64::consts::PI;

/// An end reaches back to where the body is thinner than about 0.6 of the radius it had since the pole: it fades out between these
/// shares of the squared radius.
const NECK_SHARE: (f64, f64) = (0.26, 0.46);
/// Share of an end's length over which it fades out at the neck.
const FADE: f64 = 0.2;
/// Keeps a cap right at the tip from dividing by no stream at all.
const LEAST_STREAM: f64 = 0.02;
/// Aspects between which an end becomes a thread.
const THREAD: (f64, f64) = (2.0, 4.0);

/// Radius of an end over that of the narrowest wall ahead between which it loses its room.
const ROOM: (f64, f64) = (0.6, 1.0);
/// Radius of a bulge over that of the narrowest wall on the way to the pole between which it stops being part of that pole's end.
const THROUGH: (f64, f64) = (1.0, 1.2);

/// What a cell has of a drop-shaped end.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Share {
    /// Drag coefficient of the end.
    pub drag: f64,
    /// Velocity towards which it pulls.
    pub drift: f64,
    /// 1 within the end, 0 outside.
    pub weight: f64,
}

/// What surrounds a cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Around {
    /// Share of the stream that is there.
    pub stream: f64,
    /// The wall here, and the narrowest from here on downstream; `None` where the wall is straight.
    pub passage: Option<(f64, f64)>,
    /// Axis velocity of the undisturbed stream.
    pub axis: f64,
}

/// One end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cap {
    pole: f64,
    length: f64,
    /// Largest squared radius.
    largest: f64,
    /// Its root, and the stream's axis velocity at the middle.
    radius: f64,
    axis: f64,
    /// Drag coefficient there.
    drag: f64,
    /// Velocity towards which it pulls over the share of the stream at the place.
    drift: f64,
    /// How far it is an end and not a thread.
    weight: f64,
}

/// Largest squared radius between a pole and the first neck, the volume over pi there, and the mean over that volume of the
/// share of the stream and of the velocity, from cells (squared radius, length, velocity, surroundings) in order away from the pole.
fn bulge(cells: impl Iterator<Item = (f64, f64, f64, Around)>) -> (f64, f64, f64, f64) {
    let (mut largest, mut volume, mut carried, mut moved, mut within) = (0.0f64, 0.0, 0.0, 0.0, 1.0f64);
    let mut narrowest = f64::INFINITY;
    for (a, d, u, around) in cells {
        if let Some((wall, _)) = around.passage {
            narrowest = narrowest.min(wall);
            within = within.min(1.0 - between(a.sqrt() / narrowest, THROUGH));
            if within == 0.0 {
                break;
            }
        }
        if a > largest {
            // beyond a neck that is half passed a wider bulge counts by half
            largest += within * (a - largest);
        } else {
            within = within.min(between(a / largest, NECK_SHARE));
            if within == 0.0 {
                break;
            }
        }
        volume += within * a * d;
        carried += within * a * d * around.stream;
        moved += within * a * d * u;
    }
    (largest, volume, carried / volume, moved / volume)
}

impl Cap {
    /// The end at `pole`, with the body behind it (`downstream`: the body lies at larger z); `cells` are
    /// (squared radius, length, velocity, surroundings) in order away from the pole.
    pub fn new(
        field: &OuterField,
        pole: f64,
        downstream: bool,
        cells: impl Iterator<Item = (f64, f64, f64, Around)>,
    ) -> Cap {
        let (largest, volume, carried, velocity) = bulge(cells);
        let radius = largest.sqrt();
        let aspect = (0.75 * volume / (largest * radius)).max(1.0);
        let length = 2.0 * radius * aspect;
        // no part of a body lies behind the tip's plane: what is still pressed against it is shorter than its spheroid
        let (near, far) = if downstream { (pole, pole + length) } else { ((pole - length).max(0.0), pole) };
        let (wall, ratio) = (field.wall.radius(0.5 * (near + far)), field.liquids.viscosity_ratio);
        let axis = wall.map_or(0.0, |wall| field.axis_velocity(wall));
        let at_tip = field.wall.radius(0.0).unwrap_or(f64::INFINITY);
        let stream = |ratio: f64| field.wake(sampled_at((near, far), radius, aspect, at_tip / field.tip, ratio)).0;
        let own = field.viscosity_about(radius, wall, (axis, velocity), stream);
        let ratio = ratio / own;
        let seen = round_end(radius, wall, ratio, own * field.end_share);
        let felt = stream(ratio);
        let longer = elongated(aspect, wall.map_or(0.0, |wall| radius / wall), ratio);
        Cap {
            pole,
            length,
            largest,
            radius,
            axis,
            drag: 1.5 * seen.drag * longer / aspect,
            drift: axis * seen.drift * felt / carried.max(LEAST_STREAM),
            weight: 1.0 - between(aspect, THREAD),
        }
    }

    /// What a cell of squared radius `a` with its middle at `z` has of it.
    #[inline]
    pub fn share(&self, z: f64, a: f64, around: Around) -> Share {
        let away = (z - self.pole).abs() / self.length;
        let weight = self.weight * (1.0 - smooth((away - 1.0 + 0.5 * FADE) / FADE));
        let drag = self.drag * (a / self.largest).min(1.0);
        let drift = self.drift * around.stream;
        let Some((_, passage)) = around.passage else { return Share { drag, drift, weight } };
        // without both flows there is no stream to compare
        let faster = if self.axis > 0.0 { around.axis / self.axis } else { 1.0 };
        Share { drag, drift: drift * faster, weight: weight * (1.0 - between(self.radius / passage, ROOM)) }
    }
}

impl OuterField {
    /// Viscosity over that at rest about a drop of radius `radius` that moves at `velocity`, where the stream of axis velocity `axis` has
    /// the share `stream` of the viscosity ratio.
    fn viscosity_about(
        &self,
        radius: f64,
        wall: Option<f64>,
        (axis, velocity): (f64, f64),
        stream: impl Fn(f64) -> f64,
    ) -> f64 {
        self.thinning.map_or(1.0, |law| {
            around_end(&law, radius, |own| {
                let ratio = self.liquids.viscosity_ratio / own;
                let seen = round_end(radius, wall, ratio, 1.0);
                (seen.drag, axis * seen.drift * stream(ratio) - velocity)
            })
        })
    }

    /// Resistance of a round drop of radius `radius` in flight at `z`, and the velocity at which it drifts freely in the total flow `flow`.
    pub fn flight(&self, radius: f64, z: f64, velocity: f64, flow: f64) -> (f64, f64) {
        let wall = self.wall.radius(z);
        let axis = wall.map_or(0.0, |wall| axis_velocity(flow, wall));
        let own = self.viscosity_about(radius, wall, (axis, velocity), |_| 1.0);
        let end = round_end(radius, wall, self.liquids.viscosity_ratio / own, 1.0);
        (2.0 * PI * self.liquids.viscosity * own * end.drag * radius, end.drift * axis)
    }
}

/// From 0 to 1 as x goes from one bound to the other, smoothly.
fn between(x: f64, (from, to): (f64, f64)) -> f64 {
    smooth((x - from) / (to - from))
}

/// From 0 to 1 as x does, smoothly.
fn smooth(x: f64) -> f64 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}
