//! The flow of one liquid through a device, the stream without a thread: how much of it goes within a circle about the
//! axis.
//!
//! Equation: F(z, a) = 2 pi int_0^r u_z r dr over the flow that is pumped, a = r^2, of the inner and of the outer flow
//! apart: the flow is linear in both. A table of F at places z and shares
//!   x = a/(B + (1 - B/A) a),   A = G^2 from the hole's plane on, B = A there,
//!   s = standoff - z > 0:  A = R_h^2 + C q/(1 + q),  q = (k s)^2/C,  C = R_c^2 - R_h^2,  B = R_h^2 + s^2/(1 + s^2),
//! k = 2 or as much more as makes the table 2.2 wide at the tip (or nine tenths of C where the channel is narrower),
//! between which it is a bicubic spline; in z the spline is cut at the corners of the glass. In a tube without a hole
//!   A = R_c^2,  B = 1 + C q/(1 + q),  q = (1 + z^2)/C,  C = R_c^2 - 1,
//! and in place of the outer flow's F the table has F/P, P = (a/A)(2 - a/A) that of a parabola: in a wide tube hardly anything of the
//! flow goes near the thread. Beyond the table (a > A)
//!   F = 1 - g^2/(g + F_a (a - A)),  g = 1 - F at A:
//! value and slope go on, and all of the flow is taken in at last; F stays where it is if g or F_a are not above zero
//! there (at the glass).
//!
//! Symbols: lengths over R, z from the tip; G radius of the glass: R_c of the channel, R_h of the hole, wider from its
//! end on.
//!
//! Source: definition; cubic splines whose third derivative goes on through the second place (common practice, no
//! source). A opens in front of the hole, B keeps as many places of the table within the tip's radius as beyond it, in a tube within a
//! drop as wide as it is far from the tip.
//!
//! Holds for: z >= 0; smaller z are taken for the first row, larger ones for the last.

use super::rays::splines::{self, Side};

/// How fast the table opens in front of the hole at least, and how wide it is at the tip at least.
const OPENS: f64 = 2.0;
const AT_TIP: f64 = 2.2;
/// Share of C that it takes there at most for that.
const AT_TIP_MOST: f64 = 0.9;

/// Share of a flow within a circle, and its derivative by the circle's squared radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Within {
    pub share: f64,
    pub by_area: f64,
}

/// Both flows' shares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flow {
    pub inner: Within,
    pub outer: Within,
}

impl Flow {
    /// What goes within the circle where `inner` is pumped through the tip and `outer` about it, and its derivative.
    pub fn of(&self, inner: f64, outer: f64) -> Within {
        let both = |i: f64, o: f64| inner * i + outer * o;
        Within {
            share: both(self.inner.share, self.outer.share),
            by_area: both(self.inner.by_area, self.outer.by_area),
        }
    }
}

/// A hole with what lies behind it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Passage {
    /// Tip to plane.
    pub standoff: f64,
    pub radius: f64,
    pub length: f64,
    /// Length over which it widens (zero: it does not), and to which radius.
    pub widening: f64,
    pub collection: f64,
    /// Radius of the channel in front of the plane, wider than the hole.
    pub channel: f64,
}

/// How the table follows the glass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Frame {
    /// A hole, k^2/C and C.
    Hole { passage: Passage, opens: f64, wider: f64 },
    /// A tube: its squared radius.
    Tube { square: f64 },
}

impl Frame {
    /// Of a hole; `None` where there is no room in front of it or the channel is no wider.
    pub fn hole(passage: Passage) -> Option<Frame> {
        let hole = passage.radius * passage.radius;
        let wider = passage.channel * passage.channel - hole;
        if !(passage.standoff > 0.0 && passage.radius > 0.0 && wider > 0.0) {
            return None;
        }
        let share = ((AT_TIP * AT_TIP - hole) / wider).clamp(0.0, AT_TIP_MOST);
        let square = (OPENS * OPENS).max(share / (1.0 - share) * wider / (passage.standoff * passage.standoff));
        Some(Frame::Hole { passage, opens: square / wider, wider })
    }

    /// Of a tube; `None` where it is no wider than the tip.
    pub fn tube(radius: f64) -> Option<Frame> {
        (radius > 1.0 && radius.is_finite()).then_some(Frame::Tube { square: radius * radius })
    }

    /// A and B.
    fn scales(&self, z: f64) -> (f64, f64) {
        let (p, opens, wider) = match *self {
            Frame::Hole { passage, opens, wider } => (passage, opens, wider),
            Frame::Tube { square } => {
                let (wider, far) = (square - 1.0, 1.0 + z * z);
                return (square, 1.0 + wider * far / (wider + far));
            }
        };
        let s = p.standoff - z;
        if s > 0.0 {
            let (hole, s2) = (p.radius * p.radius, s * s);
            let q = opens * s2;
            let both = 1.0 / ((1.0 + q) * (1.0 + s2));
            return (hole + wider * q * (1.0 + s2) * both, hole + s2 * (1.0 + q) * both);
        }
        let behind = -s - p.length;
        let glass = if p.widening > 0.0 && behind > 0.0 {
            p.radius + (p.collection - p.radius) * (behind / p.widening).min(1.0)
        } else {
            p.radius
        };
        (glass * glass, glass * glass)
    }

    /// Share x of a squared radius within the table.
    pub fn place(&self, z: f64, a: f64) -> f64 {
        let (most, scale) = self.scales(z);
        a / (scale + (1.0 - scale / most) * a)
    }

    /// Squared radius at a share x.
    pub fn area(&self, z: f64, x: f64) -> f64 {
        let (a, b) = self.scales(z);
        x * b / (1.0 - x * (1.0 - b / a))
    }

    /// What the table's outer flow is a share of within the squared radius `a`, and its slope: a parabola's flow in a tube.
    pub fn whole(&self, a: f64) -> (f64, f64) {
        match *self {
            Frame::Hole { .. } => (1.0, 0.0),
            Frame::Tube { square } => {
                let share = (a / square).min(1.0);
                (share * (2.0 - share), 2.0 * (1.0 - share) / square)
            }
        }
    }

    /// Where the table is cut: the hole's plane, its end, the widening's end.
    pub fn corners(&self) -> Option<[f64; 3]> {
        let Frame::Hole { passage: p, .. } = self else { return None };
        let end = p.standoff + p.length;
        Some([p.standoff, end, end + p.widening])
    }
}

/// Values at a place of the table, F and F_x of inner and outer flow in turn, and their derivatives by z.
type Knot = [[f64; 4]; 2];

/// Rising places with, for equal parts of their span, the last that is no farther than the part's beginning.
#[derive(Debug, Clone, PartialEq)]
struct Places {
    at: Vec<f64>,
    parts: f64,
    first: Vec<usize>,
}

/// How many such parts.
const PARTS: usize = 512;

impl Places {
    fn new(at: Vec<f64>) -> Places {
        let (from, to) = (at[0], at[at.len() - 1]);
        let before = |part: usize| {
            let start = from + (to - from) * part as f64 / PARTS as f64;
            at.partition_point(|v| *v <= start).clamp(1, at.len() - 1) - 1
        };
        // one part earlier: round-off may put a place into the next one
        let first = (0..=PARTS).map(|part| before(part.saturating_sub(1))).collect();
        Places { parts: PARTS as f64 / (to - from), first, at }
    }

    /// The last piece that begins at `v` or before; `v` within the span.
    #[inline(always)]
    fn piece(&self, v: f64) -> usize {
        let part = ((v - self.at[0]) * self.parts) as usize;
        let mut i = self.first[part.min(PARTS)];
        while i + 2 < self.at.len() && self.at[i + 1] <= v {
            i += 1;
        }
        i
    }
}

/// The flow of one liquid through a device.
#[derive(Debug, Clone, PartialEq)]
pub struct Bare {
    frame: Frame,
    /// Rows, never falling; one that stands twice is a cut.
    z: Places,
    x: Places,
    knots: Vec<Knot>,
}

impl Bare {
    /// From F of inner and outer flow (in a tube of the outer one F/P) at rows `z` and shares `x` (x = 0 to 1), row by row; `None` where there
    /// are fewer than four shares or rows between cuts, where they do not rise, or where a number is none.
    pub fn new(frame: Frame, z: Vec<f64>, x: Vec<f64>, share: &[[f64; 2]]) -> Option<Bare> {
        let (rows, columns) = (z.len(), x.len());
        let whole = rows >= 4 && columns >= 4 && share.len() == rows * columns;
        let rises = x.windows(2).all(|w| w[0] < w[1]) && z.windows(2).all(|w| w[0] <= w[1]);
        let ends = x.first() == Some(&0.0) && x.last() == Some(&1.0);
        if !(whole && rises && ends && share.iter().flatten().chain(&z).all(|v| v.is_finite())) {
            return None;
        }
        let mut knots: Vec<Knot> = Vec::with_capacity(rows * columns);
        for row in share.chunks_exact(columns) {
            let slopes = slopes(&x, row)?;
            knots.extend(row.iter().zip(slopes).map(|(f, f_x)| [[f[0], f[1], f_x[0], f_x[1]], [0.0; 4]]));
        }
        let mut from = 0;
        while from < rows {
            let cut = (from + 1..rows).find(|i| z[*i] == z[i - 1]).unwrap_or(rows);
            for column in 0..columns {
                let values: Vec<[f64; 4]> = (from..cut).map(|i| knots[i * columns + column][0]).collect();
                for (i, slope) in (from..cut).zip(slopes(&z[from..cut], &values)?) {
                    knots[i * columns + column][1] = slope;
                }
            }
            from = cut;
        }
        Some(Bare { frame, z: Places::new(z), x: Places::new(x), knots })
    }

    /// Shares of both flows that go at `z` within the squared radius `a`, and their derivatives by it.
    pub fn at(&self, z: f64, a: f64) -> Flow {
        let (rows, columns) = (self.z.at.len(), self.x.at.len());
        let z = z.max(self.z.at[0]).min(self.z.at[rows - 1]);
        let a = a.max(0.0);
        let (most, scale) = self.frame.scales(z);
        let (within, over) = (a.min(most), (a - most).max(0.0));
        let down = most / (scale * most + (most - scale) * within);
        let (x, x_a) = ((within * down).min(1.0), scale * down * down);
        let (i, j) = (self.z.piece(z), self.x.piece(x));
        let (z0, z1, x0, x1) = (self.z.at[i], self.z.at[i + 1], self.x.at[j], self.x.at[j + 1]);
        let (along, _) = hermite((z - z0) / (z1 - z0), z1 - z0);
        let (across, across_x) = hermite((x - x0) / (x1 - x0), x1 - x0);
        let (lower, upper) = (&self.knots[i * columns + j..][..2], &self.knots[(i + 1) * columns + j..][..2]);
        // F and F_x of both flows on either side, at z
        let mut side = [[0.0; 4]; 2];
        for (side, (lower, upper)) in side.iter_mut().zip(lower.iter().zip(upper)) {
            for k in 0..4 {
                side[k] =
                    along[0] * lower[0][k] + along[1] * lower[1][k] + along[2] * upper[0][k] + along[3] * upper[1][k];
            }
        }
        let sum = |w: &[f64; 4], k: usize| {
            w[0] * side[0][k] + w[1] * side[0][k + 2] + w[2] * side[1][k] + w[3] * side[1][k + 2]
        };
        let (f, f_x) = ([sum(&across, 0), sum(&across, 1)], [sum(&across_x, 0), sum(&across_x, 1)]);
        let part = |k: usize, (whole, by_area): (f64, f64)| {
            let (share, by_area) = (whole * f[k], by_area * f[k] + whole * f_x[k] * x_a);
            if over == 0.0 { Within { share, by_area } } else { beyond(share, by_area, over) }
        };
        Flow { inner: part(0, (1.0, 0.0)), outer: part(1, self.frame.whole(within)) }
    }

    /// Rows of the table, cuts twice.
    pub fn rows(&self) -> &[f64] {
        &self.z.at
    }
}

/// F beyond the table by a further area.
fn beyond(share: f64, by_area: f64, over: f64) -> Within {
    let gap = 1.0 - share;
    if !(gap > 0.0 && by_area > 0.0) {
        return Within { share, by_area: 0.0 };
    }
    let rest = gap / (gap + by_area * over);
    Within { share: 1.0 - gap * rest, by_area: by_area * rest * rest }
}

/// Weights of value and slope at both ends of a piece of length `d`, and their derivatives, 0 <= t <= 1.
#[inline(always)]
fn hermite(t: f64, d: f64) -> ([f64; 4], [f64; 4]) {
    let s = 1.0 - t;
    let (up, rise) = (t * t * (3.0 - 2.0 * t), 6.0 * t * s / d);
    ([1.0 - up, d * t * s * s, up, -d * t * t * s], [-rise, s * (1.0 - 3.0 * t), rise, t * (3.0 * t - 2.0)])
}

/// Slopes of the cubic splines through several values at rising places, free at both ends; `None` with fewer than four places or where they do
/// not rise.
fn slopes<const N: usize>(x: &[f64], f: &[[f64; N]]) -> Option<Vec<[f64; N]>> {
    if x.len() < 4 || x.windows(2).any(|w| !(w[1] > w[0])) {
        return None;
    }
    let (mut out, mut values) = (vec![[0.0; N]; x.len()], Vec::new());
    let (mut slopes, mut upper) = (Vec::new(), Vec::new());
    for k in 0..N {
        values.clear();
        values.extend(f.iter().map(|f| f[k]));
        splines::slopes(x, &values, Side::Free, &mut slopes, &mut upper);
        out.iter_mut().zip(&slopes).for_each(|(out, slope)| out[k] = *slope);
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hole() -> Frame {
        let passage = Passage { standoff: 1.5, radius: 0.5, length: 1.0, widening: 3.0, collection: 2.5, channel: 4.0 };
        Frame::hole(passage).expect("a hole")
    }

    /// Rows with cuts at the corners of the hole.
    fn table(f: impl Fn(f64, f64) -> [f64; 2]) -> Bare {
        let places = [0.0, 0.4, 0.8, 1.2, 1.5, 1.5, 1.8, 2.1, 2.5, 2.5, 3.0, 4.0, 5.5, 5.5, 6.0, 7.0, 8.0];
        let shares: Vec<f64> = (0..=8).map(|j| (j as f64 / 8.0).powi(2)).collect();
        let values: Vec<[f64; 2]> = places.iter().flat_map(|z| shares.iter().map(|x| f(*z, *x))).collect();
        Bare::new(hole(), places.to_vec(), shares, &values).expect("a table")
    }

    // Bicubic polynomials in z and x come back exactly, slopes too: in every piece between cuts, on the rows and
    // between them.
    #[test]
    fn theory_bicubic_polynomials_come_back() {
        let exact = |z: f64, x: f64| {
            let part = |a: f64| x * (1.0 + a * z * z * z - 0.3 * z * x + a * x * x * z * z);
            [part(0.01), part(-0.02)]
        };
        let bare = table(exact);
        for i in 0..400 {
            let (z, x) = (8.0 * i as f64 / 399.0, ((i * 37 % 100) as f64) / 100.0);
            let got = bare.at(z, hole().area(z, x));
            let d = 1e-6;
            let slope = (hole().area(z, x + d) - hole().area(z, x - d)) / (2.0 * d);
            for (k, within) in [got.inner, got.outer].iter().enumerate() {
                assert!((within.share - exact(z, x)[k]).abs() < 1e-11, "{z} {x}");
                let by_x = (exact(z, x + d)[k] - exact(z, x - d)[k]) / (2.0 * d);
                assert!((within.by_area * slope - by_x).abs() < 1e-6 * (1.0 + by_x.abs()), "{z} {x}");
            }
        }
    }

    // In a tube the outer flow is that of a parabola times what the table has.
    #[test]
    fn theory_the_outer_flow_in_a_tube_is_a_share_of_a_parabolas() {
        let frame = Frame::tube(6.0).expect("a tube");
        let places: Vec<f64> = (0..12).map(f64::from).collect();
        let shares: Vec<f64> = (0..=8).map(|j| f64::from(j) / 8.0).collect();
        let exact = |z: f64, x: f64| [x * (1.0 + 0.02 * z * x), 0.3 + 0.05 * z - 0.2 * x * x];
        let values: Vec<[f64; 2]> = places.iter().flat_map(|z| shares.iter().map(|x| exact(*z, *x))).collect();
        let bare = Bare::new(frame, places, shares, &values).expect("a table");
        for i in 0..200 {
            let (z, x) = (11.0 * f64::from(i) / 199.0, f64::from(i * 37 % 100) / 100.0);
            let a = frame.area(z, x);
            let whole = a / 36.0 * (2.0 - a / 36.0);
            let (got, [inner, outer]) = (bare.at(z, a), exact(z, x));
            assert!((got.inner.share - inner).abs() < 1e-12 && (got.outer.share - whole * outer).abs() < 1e-12);
            let d = 1e-6;
            let slope =
                (bare.at(z, a + d).outer.share - bare.at(z, (a - d).max(0.0)).outer.share) / (a + d - (a - d).max(0.0));
            assert!((slope - got.outer.by_area).abs() < 1e-5, "{z} {a}: {slope} {}", got.outer.by_area);
        }
        assert!(Frame::tube(1.0).is_none() && frame.corners().is_none());
    }

    // Nothing jumps along z or a: across cuts, at the table's end and beyond it; the slope is the value's derivative.
    #[test]
    fn shares_and_slopes_go_on_across_cuts_and_beyond_the_table() {
        let bare =
            table(|z, x| [x * (1.6 - 0.65 * x) + 0.02 * z * x * (1.0 - x), x * x * (0.9 - 0.05 * z * (1.0 - x))]);
        let d = 1e-7;
        for i in 0..900 {
            let (z, a) = (9.0 * i as f64 / 899.0 - 0.5, (i * 53 % 97) as f64 / 20.0);
            let at = |z: f64, a: f64| {
                let f = bare.at(z, a);
                [f.inner.share, f.outer.share, f.inner.by_area, f.outer.by_area]
            };
            let (here, wider, farther) = (at(z, a), at(z, a + d), at(z + d, a));
            for k in 0..4 {
                assert!((wider[k] - here[k]).abs() < 1e-3 && (farther[k] - here[k]).abs() < 1e-3, "{z} {a} {k}");
            }
            for k in 0..2 {
                let slope = (wider[k] - here[k]) / d;
                assert!((slope - here[2 + k]).abs() < 1e-3, "{z} {a}: {slope} {}", here[2 + k]);
            }
        }
        for z in [1.5, 2.5, 5.5] {
            for a in [0.05, 0.2] {
                let (before, behind) = (bare.at(z - 1e-12, a), bare.at(z, a));
                assert!((before.inner.share - behind.inner.share).abs() < 1e-10);
                assert!((before.outer.by_area - behind.outer.by_area).abs() < 1e-9);
            }
        }
        let far = bare.at(0.5, 1e9).outer;
        assert!((far.share - 1.0).abs() < 1e-6 && far.by_area.abs() < 1e-9, "{far:?}");
    }

    #[test]
    fn tables_that_are_none_are_refused() {
        let x = vec![0.0, 0.3, 0.6, 1.0];
        let z = vec![0.0, 0.5, 1.0, 1.5];
        let full = [[0.5; 2]; 16];
        assert!(Bare::new(hole(), z.clone(), x.clone(), &full).is_some());
        assert!(Bare::new(hole(), z.clone(), x.clone(), &full[..15]).is_none());
        let mut broken = full;
        broken[5][1] = f64::NAN;
        assert!(Bare::new(hole(), z, x.clone(), &broken).is_none());
        assert!(Bare::new(hole(), vec![0.0, 0.5, 0.5, 1.5], x, &full).is_none());
    }
}
