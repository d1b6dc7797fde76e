//! The outer wall: a straight tube, or a chamber that liquid leaves through an orifice into a collection tube.
//!
//! Equation: the meridian of the wall is a polygon with one rounded corner, the orifice's entrance edge; distance of a point to it
//! is the least over its pieces, negative outside.
//!
//! Symbols: lengths over R, z = 0 the tip's plane.
//!
//! Source: common practice, no source. Real edges are rounded by fire polishing or breaking; a sharp one lets the film of the outer
//! liquid become thinner than any mesh.
//!
//! Holds for: axisymmetric glass; the plate is flat, the chamber is cut off where it no longer matters.

use super::device::Panels;
use super::glass::{Builder, Edges, growing};
use crate::math::Pinned as _;
use std::f64::consts::PI;

/// Radius of the rounded entrance edge over that of the orifice.
pub const EDGE: f64 = 0.1;
/// Pieces that stand for the rounded edge when distances are measured.
const PIECES: usize = 16;

/// An orifice with what lies behind it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Orifice {
    /// Tip to plate.
    pub plane: f64,
    pub radius: f64,
    /// Length of the narrow part.
    pub length: f64,
    /// Length over which the tube widens, and to which radius.
    pub widening: f64,
    pub collection: f64,
    /// Radius of the rounded entrance edge.
    pub edge: f64,
}

/// The outer wall.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// Radius at the tip.
    pub radius: f64,
    pub orifice: Option<Orifice>,
    /// The wall's polygon downstream, z never falling.
    corners: Vec<(f64, f64)>,
}

impl Channel {
    /// A straight tube.
    pub fn tube(radius: f64) -> Channel {
        Channel { radius, orifice: None, corners: vec![(-1e6, radius), (1e6, radius)] }
    }

    /// A chamber of this radius that ends at an orifice.
    pub fn with_orifice(radius: f64, o: Orifice) -> Channel {
        let mut corners = vec![(-1e6, radius), (o.plane, radius)];
        for i in 0..=PIECES {
            let (sin, cos) = (0.5 * PI * i as f64 / PIECES as f64).sine_and_cosine();
            corners.push((o.plane + o.edge * (1.0 - cos), o.radius + o.edge * (1.0 - sin)));
        }
        corners.push((o.plane + o.length, o.radius));
        if o.widening > 0.0 {
            corners.push((o.plane + o.length + o.widening, o.collection));
        }
        corners.push((1e6, o.collection));
        Channel { radius, orifice: Some(o), corners }
    }

    /// The wall's polygon between two places, z never falling.
    pub fn outline(&self, from: f64, to: f64) -> Vec<(f64, f64)> {
        let clip = |(z, r): (f64, f64)| (z.clamp(from, to), r);
        self.corners.iter().copied().map(clip).collect()
    }

    /// Radius of the tube downstream.
    pub fn end_radius(&self) -> f64 {
        self.orifice.map_or(self.radius, |o| o.collection)
    }

    /// Where the last change of the wall lies.
    pub fn last_corner(&self) -> f64 {
        self.orifice.map_or(0.0, |o| o.plane + o.length + o.widening)
    }

    /// Radius at a place.
    fn radius_at(&self, z: f64) -> f64 {
        let after = self.corners.partition_point(|c| c.0 < z).clamp(1, self.corners.len() - 1);
        let ((z0, r0), (z1, r1)) = (self.corners[after - 1], self.corners[after]);
        if z1 > z0 { r0 + (r1 - r0) * ((z - z0) / (z1 - z0)).clamp(0.0, 1.0) } else { r1.min(r0) }
    }

    /// Distance of a point to the wall, negative outside.
    pub fn distance(&self, z: f64, r: f64) -> f64 {
        let least = self.corners.windows(2).fold(f64::MAX, |least, pair| least.min(to_piece((z, r), pair[0], pair[1])));
        if r < self.radius_at(z) { least } else { -least }
    }

    /// The wall's panels from `upstream` to the disk at `reach`; gives the number of nodes on that disk, which come last.
    pub fn build(&self, b: &mut Builder, upstream: f64, reach: f64, panels: Panels) -> usize {
        match &self.orifice {
            None => self.build_tube(b, upstream, reach, panels),
            Some(o) => self.build_orifice(b, o, upstream, reach, panels),
        }
        let (end, before) = (self.end_radius(), b.nodes());
        b.straight((reach, end), (reach, 0.0), panels.of(4.0), Edges::Neither);
        b.nodes() - before
    }

    fn build_tube(&self, b: &mut Builder, upstream: f64, reach: f64, panels: Panels) {
        let wall = self.radius;
        let step = (0.72 * wall).min(12.0) / panels.0;
        let middle = -1.5 * wall.min(8.0);
        b.cylinder(wall, &growing(middle, upstream, step, 1.5, 4.0 * step));
        b.cylinder(wall, &growing(middle, reach, step, 1.1, 2.0 * step));
    }

    /// Panels crowd at every corner: the strength on the glass is that of the flows on both its sides, and one of them turns by more
    /// than a straight angle there.
    fn build_orifice(&self, b: &mut Builder, o: &Orifice, upstream: f64, reach: f64, panels: Panels) {
        let fine = 1.0 / panels.0;
        let chamber = self.radius;
        let corner = o.plane - 0.8 * chamber;
        b.cylinder(chamber, &growing(corner, upstream, 0.4 * chamber * fine, 1.6, f64::MAX));
        b.straight((corner, chamber), (o.plane, chamber), panels.of(4.0), Edges::Last);
        // the plate, near the hole in panels of its own
        let edge = o.radius + o.edge;
        let near = edge + o.radius.min(0.5 * (chamber - edge));
        let sharp = if o.edge > 0.0 { Edges::Neither } else { Edges::First };
        b.straight((o.plane, edge), (o.plane, near), panels.of(3.0), sharp);
        let wide = ((chamber - near) / o.radius).min(4.0);
        b.straight((o.plane, near), (o.plane, chamber), panels.of(3.0 + wide), Edges::Last);
        if o.edge > 0.0 {
            b.arc((o.plane + o.edge, edge), o.edge, (PI, 1.5 * PI), panels.of(2.0));
        }
        let widens = o.widening > 0.0;
        let narrow = match (o.edge > 0.0, widens) {
            (true, true) => Edges::Last,
            (true, false) => Edges::Neither,
            (false, true) => Edges::Both,
            (false, false) => Edges::First,
        };
        let (from, to) = (o.plane + o.edge, o.plane + o.length);
        if to > from {
            let many = panels.of((1.0 + 2.0 * (to - from) / o.radius).clamp(2.0, 12.0));
            b.straight((from, o.radius), (to, o.radius), many, narrow);
        }
        let mut tube = to.max(from);
        if widens {
            let funnel = (tube + o.widening, o.collection);
            let mean = 0.5 * (o.radius + o.collection);
            let slant = o.widening.hypot(o.collection - o.radius);
            b.straight((tube, o.radius), funnel, panels.of((3.0 + 3.0 * slant / mean).clamp(3.0, 16.0)), Edges::Both);
            tube = funnel.0 + 0.8 * o.collection;
            b.straight(funnel, (tube, o.collection), panels.of(3.0), Edges::First);
        }
        let step = 0.6 * o.collection * fine;
        b.cylinder(o.collection, &growing(tube, reach, 0.7 * step, 1.4, step));
    }
}

fn to_piece(p: (f64, f64), a: (f64, f64), b: (f64, f64)) -> f64 {
    let (dz, dr) = (b.0 - a.0, b.1 - a.1);
    let square = dz * dz + dr * dr;
    let t = if square > 0.0 { (((p.0 - a.0) * dz + (p.1 - a.1) * dr) / square).clamp(0.0, 1.0) } else { 0.0 };
    ((p.0 - a.0 - t * dz).powi(2) + (p.1 - a.1 - t * dr).powi(2)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn theory_distances_to_an_orifice_by_hand() {
        let o = Orifice { plane: 1.5, radius: 0.5, length: 1.0, widening: 3.0, collection: 2.5, edge: 0.1 };
        let c = Channel::with_orifice(4.0, o);
        let near = |z: f64, r: f64, exact: f64| {
            assert!((c.distance(z, r) - exact).abs() < 1e-3, "{z} {r}: {}", c.distance(z, r))
        };
        near(0.0, 2.0, 1.5); // before the plate
        near(2.0, 0.2, 0.3); // in the hole
        near(2.0, 1.0, -0.5); // in the glass, as far from the hole as from the plate
        near(8.0, 1.0, 1.5); // in the collection tube
        near(0.0, 3.5, 0.5); // beside the chamber's wall
        // the rounded edge: centre (1.6, 0.6), radius 0.1
        near(1.5, 0.5, 0.1 * (2.0f64.sqrt() - 1.0));
    }
}
