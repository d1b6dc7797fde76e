//! Glass about the thread, a body of revolution.
//!
//! Equation: distance to a chain of chords, min over chords of |x - (a + t (b - a))|, t = ((x - a) . (b - a))/|b - a|^2
//! within 0 and 1. Rays see the glass to where a plane across closes it, z_l = max(z_p, z_o) + 1.2 G(z_l), and from the
//! pole on it opens for them with a slope of 1/4 at most.
//! Symbols: z from the tip and r, in the tip's radius R; z_p the place of the thread's pole, z_o that of the orifice's
//! plane, G the radius that rays see.
//! Source: elementary. Plane and slope are ours. A creeping flow in a tube falls off along it as exp(-4.466 z/G)
//! (`device::hole::DECAY`): a drop feels the plane by exp(-4.466 x 1.2) = 0.5 %. The slope keeps rays from going round
//! the edge of a hole to its back, where they cross (without it at up to 13 % of the places about caps of 0.5 to 3
//! radii before, in and behind the holes of three devices; with slopes of 0.15 to 0.35 at 2.7 % or less, and what
//! surface tension spends is the same within 2 %, but 5 % in one device whose slope at 0.35 still lets rays cross).
//! Liquid beyond it is taken as at rest, which leaves the dissipation an upper bound. Behind the pole nothing is left
//! out: about a tube that widens at once rays may cross there still. In a tube without an orifice the chain begins on the outside of the tip, a
//! tube's radius behind its plane, so that the liquid about the tip flows too. Taken as at rest out to the glass it made a drop at a thin tip
//! 9 % too small in a tube of 10 R (row 27 of the reference), and more in wider ones.
//! Holds for: glass whose z does not decrease along the chain; a tip that stands alone in a channel.

use multiversion::multiversion;

/// How far ahead of the thread the glass is closed across, over the glass' radius there.
const CLOSED_AHEAD: f64 = 1.2;
/// Slope by which the glass that rays see opens at most ahead of the thread.
const OPENS: f64 = 0.25;
/// How far the collection tube goes on, over the channel's radius.
const GOES_ON: f64 = 1e4;
/// Distance below which a surface lies at the glass.
const NEAREST: f64 = 1e-3;

/// The glass from behind the tip's plane on, as a chain of chords.
#[derive(Debug, Clone, PartialEq)]
pub struct Glass {
    corners: Vec<[f64; 2]>,
    chords: Vec<Chord>,
    channel: f64,
    standoff: f64,
    from_tip: bool,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Chord {
    from: [f64; 2],
    along: [f64; 2],
    /// 1/|b - a|^2.
    inverse_square: f64,
    /// Slope of the radius by z, 0 where the chord stands across.
    slope: f64,
}

/// Points of equal distance along the glass, from behind the tip to the axis ahead of the thread.
#[derive(Debug, Clone, Default)]
pub struct Outline {
    /// Way along the glass.
    pub place: Vec<f64>,
    pub z: Vec<f64>,
    pub r: Vec<f64>,
    corners: Vec<[f64; 2]>,
}

impl Glass {
    /// `corners` (z, r) from one radius of the channel behind the tip's plane to where the collection tube goes on at
    /// its last radius; `channel` the radius of the channel about the tip, `standoff` the place of the orifice's plane,
    /// 0 for a straight tube.
    pub fn new(mut corners: Vec<[f64; 2]>, channel: f64, standoff: f64) -> Glass {
        if let Some(&[z, r]) = corners.last() {
            corners.push([z + GOES_ON * channel, r]);
        }
        let chord = |(a, b): (&[f64; 2], &[f64; 2])| {
            let along = [b[0] - a[0], b[1] - a[1]];
            let slope = if along[0] > 0.0 { along[1] / along[0] } else { 0.0 };
            Chord { from: *a, along, inverse_square: 1.0 / (along[0] * along[0] + along[1] * along[1]), slope }
        };
        let chords = corners.iter().zip(corners.iter().skip(1)).map(chord).filter(|c| c.inverse_square.is_finite());
        Glass { chords: chords.collect(), corners, channel, standoff, from_tip: false }
    }

    /// A tube of one radius about a tip of the outside radius `tip`, which the chain begins at.
    pub fn tube(radius: f64, tip: f64) -> Glass {
        let corners = vec![[-radius, tip], [-radius, radius], [radius, radius]];
        Glass { from_tip: true, ..Glass::new(corners, radius, 0.0) }
    }

    /// Whether the chain begins at the outside of the tip.
    pub fn is_from_tip(&self) -> bool {
        self.from_tip
    }

    /// Whether it is a chain that rays can be laid to.
    pub fn is_sound(&self) -> bool {
        let forward = self.corners.windows(2).all(|pair| pair[1][0] >= pair[0][0]);
        let finite = self.corners.iter().all(|c| c[0].is_finite() && c[1].is_finite() && c[1] > 0.0);
        !self.chords.is_empty() && forward && finite && self.standoff.is_finite() && self.channel > 0.0
    }

    /// Distances of the points (z, r) from the nearest glass, 1e-3 at least and where a point lies within the glass.
    pub fn distances(&self, z: &[f64], r: &[f64], out: &mut Vec<f64>, radius: &mut Vec<f64>) {
        let n = z.len().min(r.len());
        out.clear();
        out.resize(n, f64::INFINITY);
        radius.clear();
        radius.resize(n, self.channel);
        for chord in &self.chords {
            nearer(chord, &z[..n], &r[..n], out, radius);
        }
        for ((far, &r), &radius) in out.iter_mut().zip(r).zip(radius.iter()) {
            *far = if r < radius { far.sqrt().max(NEAREST) } else { NEAREST };
        }
    }

    /// The glass as rays of a thread whose pole is at `pole` see it, corner by corner to the axis: ahead of the pole
    /// and of the orifice's plane it opens by no more than the slope [`OPENS`], and a plane across closes it.
    fn seen(&self, pole: f64, out: &mut Vec<[f64; 2]>) {
        let ahead = pole.max(self.standoff);
        out.clear();
        let Some(&first) = self.corners.first() else { return };
        let mut here = first;
        out.push(here);
        for chord in &self.chords {
            let end = [chord.from[0] + chord.along[0], chord.from[1] + chord.along[1]];
            let glass = |z: f64| if z < end[0] { chord.from[1] + chord.slope * (z - chord.from[0]) } else { end[1] };
            if here[0] < pole && end[0] > pole {
                here = [pole, glass(pole)];
                out.push(here);
            }
            if end[0] <= pole {
                here = end;
                out.push(here);
                continue;
            }
            // the glass, or the line from `here` on that opens as far as it may, whichever is nearer to the axis; they
            // meet once
            let from = here;
            let opened = |z: f64| from[1] + OPENS * (z - from[0]);
            let (before, after) = (glass(here[0]) - here[1], end[1] - opened(end[0]));
            let mut next = [here, [end[0], end[1].min(opened(end[0]))]];
            if before > 0.0 && after < 0.0 && chord.along[0] > 0.0 {
                let z = here[0] + before / (before - after) * (end[0] - here[0]);
                next[0] = [z, opened(z)];
            }
            for next in next {
                let left = |[z, r]: [f64; 2]| z - ahead - CLOSED_AHEAD * r;
                if next[0] > ahead && left(next) >= 0.0 {
                    let (short, over) = (left(here), left(next));
                    let t = if short < 0.0 { -short / (over - short) } else { 0.0 };
                    let closed = [here[0] + t * (next[0] - here[0]), here[1] + t * (next[1] - here[1])];
                    out.extend([closed, [closed[0], 0.0]]);
                    return;
                }
                here = next;
                out.push(here);
            }
        }
        out.push([here[0], 0.0]);
    }

    /// `count` points of equal distance along the glass about a thread whose pole is at `pole`.
    pub fn outline(&self, pole: f64, count: usize, out: &mut Outline) {
        let Outline { place, z, r, corners } = out;
        self.seen(pole, corners);
        for side in [&mut *place, &mut *z, &mut *r] {
            side.clear();
            side.resize(count, 0.0);
        }
        let way = |a: [f64; 2], b: [f64; 2]| ((b[0] - a[0]).powi(2) + (b[1] - a[1]).powi(2)).sqrt();
        let whole: f64 = corners.windows(2).map(|pair| way(pair[0], pair[1])).sum();
        if !(whole.is_finite() && corners.len() > 1 && count > 1) {
            return;
        }
        let (mut k, mut began, mut length) = (0, 0.0, way(corners[0], corners[1]));
        for i in 0..count {
            let at = whole * i as f64 / (count - 1) as f64;
            while k + 2 < corners.len() && at > began + length {
                (k, began) = (k + 1, began + length);
                length = way(corners[k], corners[k + 1]);
            }
            let t = if length > 0.0 { ((at - began) / length).min(1.0) } else { 1.0 };
            let (a, b) = (corners[k], corners[k + 1]);
            (place[i], z[i], r[i]) = (at, a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]));
        }
        [z[count - 1], r[count - 1]] = corners[corners.len() - 1];
    }
}

/// Squares of the distances to one chord where they are less, and the glass' radius at places abreast of it.
#[multiversion(targets("x86_64+avx2"))]
fn nearer(chord: &Chord, z: &[f64], r: &[f64], square: &mut [f64], radius: &mut [f64]) {
    let n = z.len().min(r.len()).min(square.len()).min(radius.len());
    let (z, r, square, radius) = (&z[..n], &r[..n], &mut square[..n], &mut radius[..n]);
    let Chord { from: [z0, r0], along: [dz, dr], inverse_square, slope } = *chord;
    for i in 0..n {
        let (from_z, from_r) = (z[i] - z0, r[i] - r0);
        let t = ((from_z * dz + from_r * dr) * inverse_square).clamp(0.0, 1.0);
        let (to_z, to_r) = (t * dz - from_z, t * dr - from_r);
        let far = to_z * to_z + to_r * to_r;
        square[i] = if far < square[i] { far } else { square[i] };
        let abreast = (from_z >= 0.0) & (from_z < dz);
        radius[i] = if abreast { r0 + slope * from_z } else { radius[i] };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn orifice() -> Glass {
        Glass::new(vec![[-4.0, 4.0], [1.5, 4.0], [1.5, 1.5], [2.0, 1.5], [3.0, 3.0], [60.0, 3.0]], 4.0, 1.5)
    }

    // Elementary geometry.
    #[test]
    fn distances_are_those_of_the_nearest_chord() {
        let (mut out, mut radius) = (Vec::new(), Vec::new());
        let (z, r) = ([0.0, 1.0, 1.75, 2.5, 50.0, 500.0, 0.5], [1.0, 1.0, 0.5, 1.8, 1.0, 0.5, 4.5]);
        orifice().distances(&z, &r, &mut out, &mut radius);
        let widening = (0.5 * 1.5 - 0.3) / (1.0f64 + 1.5 * 1.5).sqrt();
        let expected = [(1.5f64 * 1.5 + 0.25).sqrt(), (0.25f64 + 0.25).sqrt(), 1.0, widening, 2.0, 2.5, NEAREST];
        for (ours, exact) in out.iter().zip(expected) {
            assert_relative_eq!(*ours, exact, max_relative = 1e-12);
        }
    }

    // z_l = z_p + 1.2 G(z_l). From the pole on the radius is 1.5 + (z - 2)/4 at most behind the orifice: for a pole
    // before it z_l = 1.5 + 1.2 (1.5 + (z_l - 2)/4); for one at 2.5, where G = 2.25, the tube of 3 is reached
    // at 5.5 and z_l = 2.5 + 3.6.
    #[test]
    fn the_outline_ends_on_the_axis_ahead_of_the_pole() {
        let mut out = Outline::default();
        let behind = 5.5 + 2.5 + 0.5;
        let across = [(0.5, 2.7 / 0.7), (2.5, 6.1), (20.0, 23.6)];
        let opened = (1.0f64 + 1.0 / 16.0).sqrt();
        let before = behind + (across[0].1 - 2.0) * opened + 1.5 + (across[0].1 - 2.0) / 4.0;
        let middle = behind + 0.8125f64.sqrt() + 3.0 * opened + 0.6 + 3.0;
        let far = behind + 3.25f64.sqrt() + 20.6 + 3.0;
        for ((pole, closed), whole) in across.into_iter().zip([before, middle, far]) {
            orifice().outline(pole, 257, &mut out);
            assert_relative_eq!(out.z[256], closed, max_relative = 1e-12);
            assert_eq!((out.z[0], out.r[0], out.r[256]), (-4.0, 4.0, 0.0));
            assert_relative_eq!(out.place[256], whole, max_relative = 1e-12);
            let step = whole / 256.0;
            for i in 1..257 {
                let way = (out.z[i] - out.z[i - 1]).hypot(out.r[i] - out.r[i - 1]);
                assert!(way < step * (1.0 + 1e-12) && way > 0.6 * step, "{i} {way}");
            }
        }
        Glass::tube(4.0, 1.0).outline(2.0, 65, &mut out);
        assert_relative_eq!(out.z[64], 2.0 + 4.8, max_relative = 1e-12);
        assert_eq!((out.z[0], out.r[0]), (-4.0, 1.0));
    }
}
