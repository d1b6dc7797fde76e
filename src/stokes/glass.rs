//! The glass as boundary elements: tip, plug, outer wall, and the disk that closes the tube downstream.
//!
//! Equation: panels of four nodes at the Gauss points, geometry quintic in t; at a sharp edge the parameter crowds
//! quadratically, so that a density like distance^(-1/2) times ds/dt is smooth.
//!
//! Symbols: lengths in R, the radius that pins the contact line; z = 0 the tip's plane, flow along +z.
//!
//! Source: flow at a sharp edge and in a corner: Moffatt, J. Fluid Mech. 18 (1964) 1 (recalled); the rest common practice.
//!
//! Holds for: a tip of one bore and one outside radius (no taper), a straight round tube.

use super::layer::{Boundary, Density, Element};
use super::rule::{cubic, gauss, quintic};
use crate::math::Pinned as _;

/// Position, slope and second derivative of (z, r) by a parameter.
type Path = [(f64, f64); 3];

/// Number of nodes on a panel.
pub const PANEL: usize = 4;

/// Builds a boundary panel by panel.
#[derive(Debug, Clone)]
pub struct Builder {
    boundary: Boundary,
}

/// Which ends of a piece are sharp edges.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edges {
    Neither,
    First,
    Last,
    Both,
}

impl Default for Builder {
    fn default() -> Self {
        Builder {
            boundary: Boundary {
                elements: Vec::new(),
                z: Vec::new(),
                r: Vec::new(),
                home: Vec::new(),
                density: Density::PerParameter,
            },
        }
    }
}

impl Builder {
    /// Nodes so far.
    pub fn nodes(&self) -> usize {
        self.boundary.nodes()
    }

    pub fn done(self) -> Boundary {
        self.boundary
    }

    /// Panels between consecutive `breaks` of the parameter of `path`.
    pub fn along(&mut self, path: impl Fn(f64) -> Path, breaks: &[f64]) {
        let at = gauss(PANEL).t;
        let shape = cubic(std::array::from_fn(|m| at[m]));
        for pair in breaks.windows(2) {
            let h = pair[1] - pair[0];
            let (a, b) = (path(pair[0]), path(pair[1]));
            let ends = |p: &Path| ([p[0].0, h * p[1].0, h * h * p[2].0], [p[0].1, h * p[1].1, h * h * p[2].1]);
            let ((za, ra), (zb, rb)) = (ends(&a), ends(&b));
            let first = self.boundary.nodes();
            let element = Element {
                z: quintic(za, zb),
                r: quintic(ra, rb),
                node: std::array::from_fn(|m| first + m),
                sign: [[1.0; 2]; 4],
                shape,
            };
            let e = self.boundary.elements.len();
            for t in &at {
                let (z, r) = element.point(*t);
                self.boundary.z.push(z);
                self.boundary.r.push(r);
                self.boundary.home.push([Some((e, *t)), None]);
            }
            self.boundary.elements.push(element);
        }
    }

    /// A straight piece in `panels` panels, crowding quadratically at its sharp ends.
    pub fn straight(&mut self, from: (f64, f64), to: (f64, f64), panels: usize, edges: Edges) {
        let way = (to.0 - from.0, to.1 - from.1);
        let path = |x: f64| {
            // share of the way, its slope and second derivative
            let (g, g1, g2) = match edges {
                Edges::Neither => (x, 1.0, 0.0),
                Edges::First => (x * x, 2.0 * x, 2.0),
                Edges::Last => (x * (2.0 - x), 2.0 - 2.0 * x, -2.0),
                Edges::Both => (x * x * (3.0 - 2.0 * x), 6.0 * x * (1.0 - x), 6.0 - 12.0 * x),
            };
            [(from.0 + way.0 * g, from.1 + way.1 * g), (way.0 * g1, way.1 * g1), (way.0 * g2, way.1 * g2)]
        };
        let breaks: Vec<f64> = (0..=panels).map(|i| i as f64 / panels as f64).collect();
        self.along(path, &breaks);
    }

    /// A cylinder of radius `r` with panels between these places.
    pub fn cylinder(&mut self, r: f64, breaks: &[f64]) {
        self.along(|z| [(z, r), (1.0, 0.0), (0.0, 0.0)], breaks);
    }

    /// A quarter circle about (z, r) of radius `a`, from angle `from` to `to` (0 along +z, quarter turn along +r).
    pub fn arc(&mut self, centre: (f64, f64), a: f64, (from, to): (f64, f64), panels: usize) {
        let turn = to - from;
        let path = |x: f64| {
            let (sin, cos) = (from + turn * x).sine_and_cosine();
            [
                (centre.0 + a * cos, centre.1 + a * sin),
                (-a * sin * turn, a * cos * turn),
                (-a * cos * turn * turn, -a * sin * turn * turn),
            ]
        };
        let breaks: Vec<f64> = (0..=panels).map(|i| i as f64 / panels as f64).collect();
        self.along(path, &breaks);
    }
}

/// Places from `from` to `to`: steps start at `first` and grow by `ratio` up to `most`, then are fitted to the end.
pub fn growing(from: f64, to: f64, first: f64, ratio: f64, most: f64) -> Vec<f64> {
    let span = (to - from).abs();
    let (mut steps, mut sum, mut step) = (Vec::new(), 0.0, first);
    while sum < span {
        steps.push(step);
        sum += step;
        step = (step * ratio).min(most);
    }
    // the last step may overshoot; all are scaled, but never by more than one step would have asked for
    if steps.len() > 1 && sum - span > 0.5 * steps[steps.len() - 1] {
        sum -= steps.pop().unwrap_or(0.0);
    }
    let scale = (to - from) / sum;
    let mut out = vec![from];
    let mut at = from;
    for step in steps {
        at += step * scale;
        out.push(at);
    }
    if let Some(last) = out.last_mut() {
        *last = to;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_grow_and_end_where_they_should() {
        let at = growing(-3.0, -60.0, 1.5, 2.0, 1e9);
        assert_eq!((at[0], at[at.len() - 1]), (-3.0, -60.0));
        assert!(at.windows(2).all(|w| w[1] < w[0]), "{at:?}");
        let steps: Vec<f64> = at.windows(2).map(|w| w[0] - w[1]).collect();
        assert!(steps.windows(2).all(|w| w[1] / w[0] < 2.0 + 1e-9), "{steps:?}");
    }

    #[test]
    fn pieces_lie_where_they_were_asked_for() {
        let mut b = Builder::default();
        b.straight((0.0, 1.0), (0.0, 1.5), 2, Edges::Both);
        b.arc((1.0, 2.0), 0.5, (std::f64::consts::PI, 1.5 * std::f64::consts::PI), 2);
        let b = b.done();
        assert_eq!(b.nodes(), 16);
        for i in 0..8 {
            assert!(b.z[i].abs() < 1e-15 && b.r[i] > 1.0 && b.r[i] < 1.5);
        }
        for i in 8..16 {
            let d = ((b.z[i] - 1.0).powi(2) + (b.r[i] - 2.0).powi(2)).sqrt();
            assert!((d - 0.5).abs() < 1e-5, "{d}");
        }
    }
}
