//! Bodies as they can be drawn: none through another, none through glass.
//!
//! The model moves each body along the axis by itself, as a round thread of its own: two may come to share a place, and a drop may
//! be wider than the tube it is in. A picture must not show that as if liquid went through liquid or glass. So a free
//! body that overlaps the one before it is drawn behind it, touching; and one that is wider than its tube as a plug of the same
//! volume with round ends. By how much is said in the figure's notes.

use super::glass::Glass;
use super::rounding::{self, Rounding};
use super::unit;
use crate::outcome::{BodyFrame, Frame};
use std::f64::consts::PI;

/// Clear width between a plug and the glass, as a share of the tube's radius.
const FILM: f64 = 0.03;
/// Nodes of each round end of a plug.
const CAP: usize = 16;
/// Overlaps below this share of a body's length are round-off.
const TOUCH: f64 = 1e-6;

/// The bodies of a snapshot as drawn, in the frame's order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Solid {
    pub bodies: Vec<BodyFrame>,
    pub told: Told,
}

/// What had to be done to them.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Told {
    /// Farthest way that one was moved, m.
    pub moved: f64,
    pub plugs: usize,
    /// Threads cut off at the glass.
    pub cut: usize,
    /// Whether drops just off are drawn in their shape at the pinch-off.
    pub rounding: bool,
}

impl Told {
    pub fn and(self, other: Told) -> Told {
        Told {
            moved: self.moved.max(other.moved),
            plugs: self.plugs.max(other.plugs),
            cut: self.cut.max(other.cut),
            rounding: self.rounding || other.rounding,
        }
    }

    /// What the notes say.
    pub fn notes(&self) -> Vec<String> {
        let mut notes = Vec::new();
        if self.moved > 0.0 {
            notes.push(format!(
                "drops drawn touching, up to {} from where the model has them: it moves each along the axis by itself and \
                 lets them overlap, so in truth they would touch, queue or merge",
                unit::length_text(self.moved, 2)
            ));
        }
        if self.plugs > 0 {
            notes
                .push("drops wider than their tube drawn as plugs of the same volume: the model has them round".into());
        }
        if self.cut > 0 {
            notes.push("where the thread is wider than its tube it is drawn up to the glass".into());
        }
        if self.rounding {
            notes.push(rounding::NOTE.into());
        }
        notes
    }
}

/// Bodies of a run's frame in the glass, drops just off in their shapes.
pub fn drawn(frame: &Frame, glass: &Glass, rounding: &Rounding) -> Solid {
    let (shaped, any) = rounding.shaped(frame);
    let mut solid = solid(&shaped, glass);
    solid.told.rounding = any;
    solid
}

/// Bodies of a frame in the glass.
pub fn solid(frame: &Frame, glass: &Glass) -> Solid {
    let mut told = Told::default();
    let mut bodies: Vec<BodyFrame> = frame.bodies.iter().map(|b| within(b, glass, &mut told)).collect();
    let several_held = bodies.iter().filter(|b| b.attached).count() > 1;
    if several_held {
        return Solid { bodies, told };
    }
    let mut order: Vec<usize> = (0..bodies.len()).filter(|i| bodies[*i].z.len() > 1).collect();
    let middle = |b: &BodyFrame| b.z[0] + b.z[b.z.len() - 1];
    // the one on its nozzle first, the others behind one another
    order.sort_by(|a, b| {
        let (a, b) = (&bodies[*a], &bodies[*b]);
        b.attached.cmp(&a.attached).then(middle(a).total_cmp(&middle(b)))
    });
    let mut end = f64::NEG_INFINITY;
    for i in order {
        let body = &mut bodies[i];
        let (first, last) = (body.z[0], body.z[body.z.len() - 1]);
        // what flies in front of the thread's foot is not behind it
        let behind = last > 0.0 || end == f64::NEG_INFINITY;
        if behind && first < end - TOUCH * (last - first) {
            let way = end - first;
            body.z.iter_mut().for_each(|z| *z += way);
            told.moved = told.moved.max(way);
        }
        end = end.max(body.z[body.z.len() - 1]);
    }
    Solid { bodies, told }
}

/// A body that respects the wall.
fn within(body: &BodyFrame, glass: &Glass, told: &mut Told) -> BodyFrame {
    let wall = |z: f64| (1.0 - FILM) * glass.wall(z);
    if body.z.len() < 2 || body.z.iter().zip(&body.h).all(|(z, h)| *h <= wall(*z)) {
        return body.clone();
    }
    if !body.attached
        && let Some(plug) = plug(body, wall)
    {
        told.plugs += 1;
        return plug;
    }
    told.cut += 1;
    let mut cut = body.clone();
    cut.h.iter_mut().zip(&body.z).for_each(|(h, z)| *h = h.min(wall(*z)));
    cut
}

/// A plug of the same volume about the same middle, in a tube as wide as there.
fn plug(body: &BodyFrame, wall: impl Fn(f64) -> f64) -> Option<BodyFrame> {
    let square = |i: usize| body.h[i] * body.h[i];
    let cells = body.z.windows(2).enumerate();
    let (volume, moment) = cells.fold((0.0, 0.0), |(v, m), (i, w)| {
        let cell = 0.5 * PI * (square(i) + square(i + 1)) * (w[1] - w[0]);
        (v + cell, m + 0.5 * cell * (w[0] + w[1]))
    });
    let middle = moment / volume;
    let radius = wall(middle);
    let straight = (volume - 4.0 / 3.0 * PI * radius.powi(3)) / (PI * radius * radius);
    if !(straight > 0.0 && radius > 0.0) {
        return None;
    }
    let start = middle - 0.5 * straight;
    let angle = |k: usize| 0.5 * PI * k as f64 / CAP as f64;
    let head = (0..=CAP).map(|k| (start - radius * angle(k).cos(), if k == 0 { 0.0 } else { radius * angle(k).sin() }));
    let tail = (0..=CAP)
        .rev()
        .map(|k| (start + straight + radius * angle(k).cos(), if k == 0 { 0.0 } else { radius * angle(k).sin() }));
    // where the tube narrows at an end, the end is cut to it
    let (z, h): (Vec<f64>, Vec<f64>) = head.chain(tail).map(|(z, h)| (z, h.min(wall(z)))).unzip();
    let u = vec![body.u.first().copied().unwrap_or(0.0); z.len()];
    Some(BodyFrame { attached: false, z, h, u })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{self, examples};

    fn sphere(centre: f64, r: f64, attached: bool) -> BodyFrame {
        let angle = |k: usize| PI * k as f64 / 24.0;
        let z = (0..=24).map(|k| centre - r * angle(k).cos()).collect();
        let h = (0..=24).map(|k| if k == 0 || k == 24 { 0.0 } else { r * angle(k).sin() }).collect();
        BodyFrame { attached, z, h, u: vec![0.0; 25] }
    }

    fn volume(body: &BodyFrame) -> f64 {
        let s = |i: usize| body.h[i] * body.h[i];
        body.z.windows(2).enumerate().map(|(i, w)| 0.5 * PI * (s(i) + s(i + 1)) * (w[1] - w[0])).sum()
    }

    fn glass(name: &str) -> Glass {
        Glass::of(&case::parse(examples::find(name).unwrap().text, name).unwrap())
    }

    #[test]
    fn overlapping_drops_queue_and_say_so() {
        let bodies = vec![sphere(10e-6, 10e-6, true), sphere(15e-6, 8e-6, false), sphere(40e-6, 10e-6, false)];
        let drawn = solid(&Frame { bodies, ..Frame::default() }, &glass("tap"));
        let ends: Vec<(f64, f64)> = drawn.bodies.iter().map(|b| (b.z[0], b.z[24])).collect();
        assert!(ends.windows(2).all(|w| w[1].0 >= w[0].1 - 1e-15), "{ends:?}");
        assert!((drawn.told.moved - 13e-6).abs() < 1e-9 && drawn.told.notes()[0].contains("13"));
    }

    #[test]
    fn a_drop_wider_than_its_tube_is_a_plug_of_its_volume() {
        let glass = glass("counterflow");
        let place = 1.0;
        let bore = glass.wall(place);
        let drop = sphere(place, 1.8 * bore, false);
        let drawn = solid(&Frame { bodies: vec![drop.clone()], ..Frame::default() }, &glass);
        let plug = &drawn.bodies[0];
        assert!(plug.h.iter().all(|h| *h <= bore));
        // both by trapezia on few nodes
        assert!((volume(plug) / volume(&drop) - 1.0).abs() < 0.03, "{} {}", volume(plug), volume(&drop));
        assert_eq!(drawn.told.plugs, 1);
    }
}
