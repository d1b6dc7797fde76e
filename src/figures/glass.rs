//! The glass around the thread, to scale: tip, channel, orifice and collection tube.
//!
//! What the record does not know is drawn in part only: the taper's angle (a short straight stub stands for the tip) and
//! the thickness of the outer glass (a strip of constant width on paper). The figure's notes say so.

use super::drawing::{Drawing, Look, trace};
use super::palette::{GLASS, GLASS_EDGE, OIL};
use crate::case::{Bore, Case, Layout};
use crate::device::wall::WallProfile;

/// What the notes say about the drawing.
pub const NOTE: &str =
    "glass: tip drawn as a straight stub (its taper is not part of the case), outer wall of unknown thickness";

/// The glass of a case, lengths in m.
#[derive(Debug, Clone, PartialEq)]
pub struct Glass {
    /// Inside and outside radius of the tip, where there is one.
    pub tip: Option<(f64, f64)>,
    /// Inside wall at a place along the axis, where it differs from a straight channel.
    orifice: Option<OrificeWall>,
    /// Half the inside width of the channel.
    channel: Option<f64>,
}

#[derive(Debug, Clone, PartialEq)]
struct OrificeWall {
    bore: f64,
    standoff: f64,
    length: f64,
    profile: WallProfile,
}

/// Thickness of a wall that nobody gave, as a share of the bore's radius.
const WALL_SHARE: f64 = 0.25;
/// Outside radius of a tip whose outside is not given, over its inside.
const RIM: f64 = 1.25;
/// How far the liquid in the tip is drawn under the thread, in bores.
const SEAM: f64 = 0.03;

impl Glass {
    pub fn of(case: &Case) -> Glass {
        let device = &case.device;
        let bore = 0.5 * device.tip_bore;
        let tip = (!matches!(case.layout, Layout::Segment(_)) && bore > 0.0)
            .then(|| (bore, device.tip_outer.map_or(RIM * bore, |d| 0.5 * d)));
        let orifice = case.layout.orifice().map(|o| OrificeWall {
            bore: 0.5 * o.bore,
            standoff: o.standoff,
            length: o.length,
            profile: WallProfile::of(case),
        });
        let channel = match device.bore {
            Bore::Square(d) | Bore::Round(d) => Some(0.5 * d),
            Bore::Unbounded => None,
        };
        Glass { tip, orifice, channel }
    }

    /// Radius of the glass nearest to the axis between `from` and `to`, as far as it matters for the picture.
    pub fn reach(&self, from: f64, to: f64, thread: f64) -> f64 {
        let tip = self.tip.map_or(0.0, |(_, outer)| outer);
        let near = |r: f64| if r < 4.0 * thread.max(tip) { r * (1.0 + WALL_SHARE) } else { 0.0 };
        let wall = match &self.orifice {
            Some(o) if to > o.standoff => near(o.bore.max(self.bore_at(to.min(o.standoff + 4.0 * (to - from))))),
            _ => self.channel.map_or(0.0, near),
        };
        tip.max(wall)
    }

    /// Inside radius of the orifice's tube at `z` (the glass, not the stream tube within it).
    fn bore_at(&self, z: f64) -> f64 {
        match &self.orifice {
            Some(o) if z > o.standoff + o.length => o.profile.glass(z).map_or(o.bore, |r| r.max(o.bore)),
            Some(o) => o.bore,
            None => self.channel.unwrap_or(f64::INFINITY),
        }
    }

    /// Inside radius of the glass around `z`, infinite where there is none.
    pub fn wall(&self, z: f64) -> f64 {
        match &self.orifice {
            Some(o) if z >= o.standoff => self.bore_at(z),
            _ => self.channel.unwrap_or(f64::INFINITY),
        }
    }

    /// Contours of one side of the glass as closed loops (z, r), for places between `from` and `to` and radii up to `rim`.
    pub fn loops(&self, from: f64, to: f64, rim: f64) -> Vec<Vec<(f64, f64)>> {
        let mut loops = Vec::new();
        if let Some((bore, outer)) = self.tip {
            loops.push(vec![(from, bore), (0.0, bore), (0.0, outer), (from, outer)]);
        }
        if let Some(o) = self.orifice.as_ref().filter(|o| o.standoff < to) {
            let n = 80;
            let places = (0..=n).map(|i| o.standoff + (to - o.standoff) * f64::from(i) / f64::from(n));
            let mut wall: Vec<(f64, f64)> = places.map(|z| (z, self.bore_at(z))).collect();
            let widest = wall.iter().map(|p| p.1).fold(o.bore, f64::max);
            let outside = rim.max(widest * (1.0 + WALL_SHARE));
            wall.extend([(to, outside), (o.standoff, outside)]);
            loops.push(wall);
        }
        if let Some(channel) = self.channel.filter(|c| *c < rim) {
            loops.push(vec![(from, channel), (to, channel), (to, rim), (from, rim)]);
        }
        loops
    }

    /// Draws the glass and the liquid in the tip; `place` takes (z, r) with either sign of r to the page.
    pub fn draw(&self, to: &mut Drawing, window: (f64, f64), rim: f64, place: impl Fn(f64, f64) -> (f64, f64)) {
        if let Some((bore, _)) = self.tip {
            // A hair beyond the tip, so that no seam shows before the thread.
            let end = SEAM * bore;
            let filled = [(window.0, bore), (end, bore), (end, -bore), (window.0, -bore)];
            let points: Vec<_> = filled.iter().map(|(z, r)| place(*z, *r)).collect();
            to.path(&trace(&points, true), Look::filled(OIL));
        }
        for one_side in self.loops(window.0, window.1, rim) {
            for sign in [1.0, -1.0] {
                let points: Vec<_> = one_side.iter().map(|(z, r)| place(*z, sign * r)).collect();
                to.path(&trace(&points, true), Look::filled(GLASS).outlined(GLASS_EDGE, 0.4));
            }
        }
    }
}
