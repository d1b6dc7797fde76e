//! The outline of a body on the page.
//!
//! Nodes are joined by straight lines, except at a round end: between the last node and the tip h^2 is taken to be linear
//! in z, as it is on any cap that meets the axis at a right angle; a straight line would draw a point that is not there.

use super::drawing::{Drawing, Look, trace};
use super::palette::{INK, OIL};
use super::thin::{TOLERANCE, kept};
use crate::outcome::BodyFrame;

pub const OUTLINE: f64 = 0.5;
/// Points that draw a round end.
const CAP: usize = 8;
/// What the notes say.
pub const NOTE: &str = "nodes joined by straight lines; h^2 linear in z between the last node and a round end";

/// Nodes of a body that are drawn, and its outline in (z, h) with round ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Contour {
    pub kept: Vec<usize>,
    pub upper: Vec<(f64, f64)>,
}

/// Thins a body's nodes at `scale` points per metre.
pub fn contour(body: &BodyFrame, scale: f64) -> Contour {
    let page: Vec<(f64, f64)> = body.z.iter().zip(&body.h).map(|(z, h)| (scale * z, scale * h)).collect();
    let kept = kept(&page, TOLERANCE);
    let node = |i: usize| (body.z[i], body.h[i]);
    let mut upper = Vec::with_capacity(kept.len() + 2 * CAP);
    for (k, &i) in kept.iter().enumerate() {
        let here = node(i);
        if k > 0 {
            let before = node(kept[k - 1]);
            let (first, last) = (kept[k - 1] == 0, i + 1 == body.z.len());
            if first && before.1 == 0.0 || last && here.1 == 0.0 {
                upper.extend((1..CAP).map(|s| cap(before, here, s as f64 / CAP as f64)));
            }
        }
        upper.push(here);
    }
    Contour { kept, upper }
}

/// A point between two nodes of which one lies on the axis; points gather towards that one.
fn cap(a: (f64, f64), b: (f64, f64), share: f64) -> (f64, f64) {
    let s = if b.1 == 0.0 { 1.0 - (1.0 - share).powi(2) } else { share.powi(2) };
    let h2 = a.1 * a.1 + s * (b.1 * b.1 - a.1 * a.1);
    (a.0 + s * (b.0 - a.0), h2.max(0.0).sqrt())
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

    #[test]
    fn theory_a_coarse_sphere_keeps_its_round_ends() {
        let drawn = contour(&sphere(9), 1000.0);
        for (z, h) in drawn.upper.iter().filter(|(z, _)| *z < 0.07 || *z > 1.93) {
            let exact = (1.0 - (1.0 - z) * (1.0 - z)).max(0.0).sqrt();
            assert!((h - exact).abs() < 0.02, "{z} {h} {exact}");
        }
    }

    #[test]
    fn recorded_nodes_are_on_the_outline() {
        let body = sphere(25);
        let drawn = contour(&body, 1.0);
        assert!(drawn.kept.len() < 25, "a small sphere needs fewer points");
        for &i in &drawn.kept {
            assert!(drawn.upper.contains(&(body.z[i], body.h[i])));
        }
    }
}
