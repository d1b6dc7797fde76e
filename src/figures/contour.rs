//! The outline of a body on the page.
//!
//! The model knows h^2: a parabola in z in each of its cells, smooth at a pinned rim and at a round end, where h itself is
//! steep. So h^2 is interpolated between the nodes by cubics whose slopes are those of the parabola through three
//! neighbours, limited where they would overshoot (Fritsch & Carlson 1980, SIAM J. Numer. Anal. 17, 238), and the root is drawn.

use super::drawing::{Drawing, Look, trace};
use super::palette::{INK, OIL};
use super::thin::{TOLERANCE, kept};
use crate::outcome::BodyFrame;

pub const OUTLINE: f64 = 0.5;
/// Points that draw the way from node to node, and those at a round end, which gather towards it.
const BETWEEN: usize = 5;
const CAP: usize = 14;
/// What the notes say.
pub const NOTE: &str = "outline: h^2 between nodes by cubics with the slopes of the parabolas through three neighbours; \
    drops that will break no more are followed as spheres";

/// Nodes of a body that matter on the page, and its outline in (z, h).
#[derive(Debug, Clone, PartialEq)]
pub struct Contour {
    pub kept: Vec<usize>,
    pub upper: Vec<(f64, f64)>,
}

/// The outline of a body, thinned at `scale` points per metre.
pub fn contour(body: &BodyFrame, scale: f64) -> Contour {
    outline(body, scale, TOLERANCE)
}

/// The same, with no point further than `tolerance` points from what is drawn.
pub fn outline(body: &BodyFrame, scale: f64, tolerance: f64) -> Contour {
    let page = |points: &[(f64, f64)]| points.iter().map(|(z, h)| (scale * z, scale * h)).collect::<Vec<_>>();
    let nodes: Vec<(f64, f64)> = body.z.iter().copied().zip(body.h.iter().copied()).collect();
    let fine = smooth(&nodes);
    let upper = kept(&page(&fine), tolerance).into_iter().map(|i| fine[i]).collect();
    Contour { kept: kept(&page(&nodes), tolerance), upper }
}

/// All nodes with points between them.
fn smooth(nodes: &[(f64, f64)]) -> Vec<(f64, f64)> {
    if nodes.len() < 3 {
        return nodes.to_vec();
    }
    let slopes = slopes(nodes);
    let last = nodes.len() - 1;
    let mut fine = Vec::with_capacity(BETWEEN * nodes.len());
    for i in 0..last {
        let ((z0, h0), (z1, h1)) = (nodes[i], nodes[i + 1]);
        fine.push((z0, h0));
        let (first_cap, last_cap) = (i == 0 && h0 == 0.0, i + 1 == last && h1 == 0.0);
        let parts = if first_cap || last_cap { CAP } else { BETWEEN };
        for k in 1..parts {
            let even = k as f64 / parts as f64;
            let s = match (first_cap, last_cap) {
                (true, false) => even * even,
                (false, true) => 1.0 - (1.0 - even) * (1.0 - even),
                _ => even,
            };
            let d = z1 - z0;
            let square = hermite(s, (h0 * h0, h1 * h1), (d * slopes[i], d * slopes[i + 1]));
            fine.push((z0 + s * d, square.max(0.0).sqrt()));
        }
    }
    fine.push(nodes[last]);
    fine
}

/// Cubic from `a.0` to `a.1` with slopes `m` over a unit way.
fn hermite(s: f64, a: (f64, f64), m: (f64, f64)) -> f64 {
    let t = 1.0 - s;
    a.0 * t * t * (1.0 + 2.0 * s) + a.1 * s * s * (3.0 - 2.0 * s) + s * t * (t * m.0 - s * m.1)
}

/// d(h^2)/dz at the nodes.
fn slopes(nodes: &[(f64, f64)]) -> Vec<f64> {
    let n = nodes.len();
    let step = |i: usize| (nodes[i + 1].0 - nodes[i].0).max(f64::MIN_POSITIVE);
    let chord = |i: usize| (nodes[i + 1].1.powi(2) - nodes[i].1.powi(2)) / step(i);
    let mut slopes = vec![0.0; n];
    for (i, slope) in slopes.iter_mut().enumerate().take(n - 1).skip(1) {
        let (a, b) = (step(i - 1), step(i));
        *slope = (chord(i - 1) * b + chord(i) * a) / (a + b);
    }
    // at an end the parabola goes on, unless that would turn it back
    let end = |chord: f64, inner: f64| if (2.0 * chord - inner) * chord > 0.0 { 2.0 * chord - inner } else { 0.0 };
    slopes[0] = end(chord(0), slopes[1]);
    slopes[n - 1] = end(chord(n - 2), slopes[n - 2]);
    // no overshoot: h^2 stays between its two nodes where it rises or falls all the way
    for i in 0..n - 1 {
        let c = chord(i);
        if slopes[i] * slopes[i + 1] < 0.0 {
            // a crest or a trough between them
            continue;
        }
        if c == 0.0 {
            (slopes[i], slopes[i + 1]) = (0.0, 0.0);
            continue;
        }
        let (a, b) = (slopes[i] / c, slopes[i + 1] / c);
        let most = a.hypot(b);
        if most > 3.0 {
            (slopes[i], slopes[i + 1]) = (3.0 / most * slopes[i], 3.0 / most * slopes[i + 1]);
        }
    }
    slopes
}

/// Fills a body and draws its surface; ends that are cut (at the nozzle, at a mirror) get no line.
pub fn draw(to: &mut Drawing, body: &Contour, place: impl Fn(f64, f64) -> (f64, f64)) {
    let upper: Vec<_> = body.upper.iter().map(|(z, h)| place(*z, *h)).collect();
    let lower: Vec<_> = body.upper.iter().rev().map(|(z, h)| place(*z, -*h)).collect();
    let around: Vec<_> = upper.iter().chain(&lower).copied().collect();
    let ends = |i: Option<&(f64, f64)>| i.is_some_and(|p| p.1 == 0.0);
    let (pointed, closed) = (ends(body.upper.first()), ends(body.upper.last()));
    if pointed && closed {
        to.path(&trace(&around, true), Look::filled(OIL).outlined(INK, OUTLINE));
        return;
    }
    to.path(&trace(&around, true), Look::filled(OIL));
    let surface = match (pointed, closed) {
        (false, true) => trace(&around, false),
        (true, _) => trace(&lower.iter().chain(&upper).copied().collect::<Vec<_>>(), false),
        (false, false) => trace(&upper, false) + &trace(&lower, false),
    };
    to.path(&surface, Look::line(INK, OUTLINE));
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sphere(nodes: usize) -> BodyFrame {
        let angle = |k: usize| std::f64::consts::PI * k as f64 / (nodes - 1) as f64;
        BodyFrame {
            attached: false,
            z: (0..nodes).map(|k| 1.0 - angle(k).cos()).collect(),
            h: (0..nodes).map(|k| if k == 0 || k + 1 == nodes { 0.0 } else { angle(k).sin() }).collect(),
            u: vec![0.0; nodes],
        }
    }

    /// h^2 of a sphere is a parabola, so the drawn outline is the circle itself, however few nodes there are.
    #[test]
    fn theory_a_coarse_sphere_is_drawn_as_a_circle() {
        for nodes in [5, 9, 25] {
            for (z, h) in contour(&sphere(nodes), 1000.0).upper {
                assert!(((1.0 - z).hypot(h) - 1.0).abs() < 1e-9, "{nodes} nodes: {z} {h}");
            }
        }
    }

    #[test]
    fn no_corner_is_left_at_the_nodes() {
        let fine = contour(&sphere(9), 1000.0).upper;
        let turn = |w: &[(f64, f64)]| {
            let way = |a: (f64, f64), b: (f64, f64)| (b.1 - a.1).atan2(b.0 - a.0);
            (way(w[1], w[2]) - way(w[0], w[1])).abs()
        };
        let sharpest = fine.windows(3).map(turn).fold(0.0, f64::max);
        assert!(sharpest < 0.1, "{sharpest} rad between two strokes");
    }

    #[test]
    fn recorded_nodes_are_on_the_outline() {
        let body = sphere(25);
        let drawn = contour(&body, 1.0);
        assert!(drawn.kept.len() < 25, "a small sphere needs fewer points");
        let fine = outline(&body, 1.0, 0.0).upper;
        for i in 0..25 {
            assert!(fine.contains(&(body.z[i], body.h[i])));
        }
    }

    #[test]
    fn a_step_between_nodes_is_not_overshot() {
        let body = BodyFrame {
            attached: true,
            z: vec![0.0, 1.0, 2.0, 3.0, 4.0],
            h: vec![1.0, 1.0, 1.0, 3.0, 3.0],
            u: vec![0.0; 5],
        };
        assert!(outline(&body, 1.0, 0.0).upper.iter().all(|(_, h)| (1.0 - 1e-9..=3.0 + 1e-9).contains(h)));
    }
}
