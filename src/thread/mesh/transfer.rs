//! Volume and velocity at new places of an old mesh.
//!
//! Equation: C(x), the volume up to x, is a polynomial through six nodes where the profile is smooth (then smooth to
//! sixth order), W = s^2 g(s) with cubic g within six cells of a tip (a vanishes linearly there; exact on a sphere),
//! and a monotone cubic elsewhere, limited so that it makes no new bulge or dent. In the first two cells at a nozzle C = s (pi +
//! s q(s)) with quadratic q, s from the nozzle: its bore's area is known (a = 1 there). All offsets are local to an old cell,
//! never differences of a global sum, so round-off stays below 1e-15 of the cell even where the thread is 1e-5 thin.
//! Source: monotone cubic with harmonic slopes, Fritsch & Butland 1984, SIAM J. Sci. Stat. Comput. 5, 300; its limiter, Colella &
//! Woodward 1984, J. Comput. Phys. 54, 174, eq. 1.10 (both recalled from memory).

use crate::math::Pinned as _;
use crate::thread::body::{Body, End};
use std::f64::consts::PI;

/// Cells from a tip in which s^2 g(s) is tried first.
const CAP_CELLS: usize = 6;
/// Cells at a nozzle whose stencil is lopsided ...
const START_CELLS: usize = 2;
/// ... and the nodes used there. A lopsided polynomial through six nodes trebles the noise of the first cells at every
/// regrid: in a viscous jet, where tension does not smooth it, that grew until each regrid fed the next (5 % of the area,
/// four times the cells). With fewer nodes and the nozzle's own area it dies out.
const START_POINTS: usize = 4;
/// Nodes of the polynomial.
const STENCIL: usize = 6;
/// Largest |ln(a_right/a_left)| between neighbours for the polynomial to be trusted.
const SMOOTH: f64 = 0.35;
/// Largest |ln(a^2/(a_left a_right))| of a cell for it. Cells of c of the profile's own length keep it near 2 c^2 (0.003 at
/// `standard`, 0.02 at `coarse`; an estimate), more where they grow or have been stretched, so that this is passed at times at
/// `coarse`. At the rim of a flat end (a needle swallowed by its thread at low Ohnesorge number leaves one) it was 0.3: there the
/// polynomial overshot and left a dent a thousandth of its radius long, which gained energy until satellites flew off at 150 m/s.
/// At 0.25 one of ten such runs still left a tenth of its energy unaccounted for.
const KINK: f64 = 0.15;

/// An old body prepared for being read at new places.
pub struct Source<'a> {
    body: &'a Body,
    /// Mean squared radii.
    area: Vec<f64>,
    /// True where the six-node polynomial of the cell is trusted.
    smooth: Vec<bool>,
    /// Whether to use the monotone cubic everywhere.
    monotone: bool,
}

impl<'a> Source<'a> {
    /// Prepare; `monotone` refuses the high-order polynomial altogether.
    pub fn new(body: &'a Body, monotone: bool) -> Source<'a> {
        let n = body.cells();
        let area: Vec<f64> = (0..n).map(|j| body.area(j)).collect();
        let low = (-SMOOTH).exponential();
        let even = |j: usize| {
            let (p, q) = (area[j], area[j + 1]);
            p.min(q) > low * p.max(q)
        };
        let steady: Vec<bool> = (0..n.saturating_sub(1)).map(even).collect();
        let low = (-KINK).exponential();
        let straight = |j: usize| {
            let (p, q) = (area[j] * area[j], area[j - 1] * area[j + 1]);
            p.min(q) > low * p.max(q)
        };
        let straight: Vec<bool> = (0..n).map(|j| j == 0 || j + 1 >= n || straight(j)).collect();
        let smooth = (0..n)
            .map(|j| {
                let start = first_node(j, n);
                n + 1 >= STENCIL
                    && (start..start + STENCIL - 2).all(|k| steady[k])
                    && (start + 1..start + STENCIL - 2).all(|k| straight[k])
            })
            .collect();
        Source { body, area, smooth, monotone }
    }

    /// Volume between node `j` and `x`, which lies in cell `j`, and velocity there.
    pub fn read(&self, j: usize, x: f64) -> (f64, f64) {
        let trusted = self.smooth[j] && !self.monotone;
        let stencil = (trusted && !self.starts(j)).then(|| self.weights(j, x));
        (self.volume(j, x, trusted, stencil.as_ref()), self.velocity(j, x, trusted, stencil.as_ref()))
    }

    fn volume(&self, j: usize, x: f64, trusted: bool, stencil: Option<&[f64; STENCIL]>) -> f64 {
        let n = self.body.cells();
        let whole = self.body.v[j];
        if x <= self.body.z[j] {
            return 0.0;
        }
        if x >= self.body.z[j + 1] {
            return whole;
        }
        let near_left = self.body.left == End::Tip && j < CAP_CELLS;
        let near_right = self.body.right == End::Tip && n - 1 - j < CAP_CELLS;
        let cap = match (near_left, near_right) {
            _ if self.monotone || n < 2 * CAP_CELLS => None,
            (true, _) => {
                let node = |k: usize| (self.body.z[k] - self.body.z[0], self.body.v[..k].iter().sum());
                cap(j, x - self.body.z[0], node).map(|w| w - self.body.v[..j].iter().sum::<f64>())
            }
            (_, true) => {
                let node = |k: usize| (self.body.z[n] - self.body.z[n - k], self.body.v[n - k..].iter().rev().sum());
                cap(n - 1 - j, self.body.z[n] - x, node).map(|w| self.body.v[j..].iter().rev().sum::<f64>() - w)
            }
            _ => None,
        };
        let best = match (cap, stencil) {
            (Some(best), _) => best,
            (None, Some(weights)) => self.polynomial(j, weights),
            (None, None) if trusted => self.after_nozzle(j, x),
            (None, None) => self.monotone(j, x),
        };
        if best > 0.0 && best < whole { best } else { self.monotone(j, x).clamp(1e-3 * whole, 0.999 * whole) }
    }

    /// What each node of the stencil of cell `j` weighs at `x`: volume and velocity are read with the same weights.
    fn weights(&self, j: usize, x: f64) -> [f64; STENCIL] {
        let start = first_node(j, self.body.cells());
        let mut z = [0.0; STENCIL];
        z.copy_from_slice(&self.body.z[start..start + STENCIL]);
        let off = z.map(|z| x - z);
        // products of all offsets before and after each node
        let (mut before, mut after) = ([1.0; STENCIL], [1.0; STENCIL]);
        for k in 1..STENCIL {
            before[k] = before[k - 1] * off[k - 1];
            after[STENCIL - 1 - k] = after[STENCIL - k] * off[STENCIL - k];
        }
        let mut scale = [1.0; STENCIL];
        for k in 1..STENCIL {
            for m in 0..k {
                let gap = z[k] - z[m];
                scale[k] *= gap;
                scale[m] *= -gap;
            }
        }
        std::array::from_fn(|k| before[k] * after[k] / scale[k])
    }

    /// Volume from node `j` by the weights of its stencil; volumes are counted from that node.
    fn polynomial(&self, j: usize, weights: &[f64; STENCIL]) -> f64 {
        let start = first_node(j, self.body.cells());
        let (mut sum, mut volume) = (0.0, 0.0);
        for k in j + 1..start + STENCIL {
            volume += self.body.v[k - 1];
            sum += weights[k - start] * volume;
        }
        volume = 0.0;
        for k in (start..j).rev() {
            volume -= self.body.v[k];
            sum += weights[k - start] * volume;
        }
        sum
    }

    /// Volume from node `j` in the cells at a nozzle.
    fn after_nozzle(&self, j: usize, x: f64) -> f64 {
        let z = |k: usize| self.body.z[k] - self.body.z[j];
        let volume = |k: usize| self.body.v[..k].iter().sum::<f64>() - self.body.v[..j].iter().sum::<f64>();
        let points: [_; START_POINTS] = std::array::from_fn(|k| (z(k), volume(k)));
        from_nozzle(&points, x - self.body.z[j])
    }

    /// True in the cells at a nozzle whose stencil is lopsided.
    fn starts(&self, j: usize) -> bool {
        self.body.left == End::Nozzle && j < START_CELLS
    }

    fn monotone(&self, j: usize, x: f64) -> f64 {
        let d = self.body.z[j + 1] - self.body.z[j];
        let t = (x - self.body.z[j]) / d;
        let (m0, m1) = limited(self.node_area(j), self.area[j], self.node_area(j + 1));
        let (m0, m1) = (PI * m0, PI * m1);
        self.body.v[j] * t * t * (3.0 - 2.0 * t) + d * t * (1.0 - t) * ((1.0 - t) * m0 - t * m1)
    }

    /// Squared radius at a node by the weighted harmonic mean (keeps the cubic monotone).
    fn node_area(&self, i: usize) -> f64 {
        let n = self.body.cells();
        let limit = |known: f64, cell: f64| known.min(3.0 * cell);
        if i == 0 {
            return limit(self.body.area_left(), self.area[0]);
        }
        if i == n {
            return limit(self.body.area_right(), self.area[n - 1]);
        }
        let (dl, dr) = (self.body.z[i] - self.body.z[i - 1], self.body.z[i + 1] - self.body.z[i]);
        let (wl, wr) = (2.0 * dr + dl, dr + 2.0 * dl);
        (wl + wr) / (wl / self.area[i - 1] + wr / self.area[i])
    }

    /// Velocity at `x` in cell `j`, kept within the values around it.
    fn velocity(&self, j: usize, x: f64, trusted: bool, stencil: Option<&[f64; STENCIL]>) -> f64 {
        let (z, u) = (&self.body.z, &self.body.u);
        let n = self.body.cells();
        let best = match stencil {
            Some(weights) => {
                let start = first_node(j, n);
                weights.iter().zip(&u[start..start + STENCIL]).map(|(w, u)| w * u).sum()
            }
            None if trusted => {
                let points: [_; START_POINTS] = std::array::from_fn(|k| (z[k] - z[j], u[k]));
                lagrange(&points, x - z[j])
            }
            None => return u[j] + (u[j + 1] - u[j]) * (x - z[j]) / (z[j + 1] - z[j]),
        };
        let around = &u[j.saturating_sub(1)..(j + 3).min(n + 1)];
        let (mut low, mut high) = (around[0], around[0]);
        for &u in around {
            low = if u < low { u } else { low };
            high = if u > high { u } else { high };
        }
        f64::clamp(best, low, high)
    }
}

/// Values at both sides of a cell between which the parabola of this mean is monotone, if the mean lies between them.
fn limited(left: f64, mean: f64, right: f64) -> (f64, f64) {
    let (rise, bulge) = (right - left, 6.0 * (mean - 0.5 * (left + right)));
    match () {
        () if (right - mean) * (mean - left) <= 0.0 => (left, right),
        () if rise * bulge > rise * rise => (3.0 * mean - 2.0 * right, right),
        () if rise * bulge < -rise * rise => (left, 3.0 * mean - 2.0 * left),
        () => (left, right),
    }
}

/// Volume within `s` of a tip: s^2 g(s), g through four nodes about the cell (counted from the tip, as nodes are).
/// `None` where g is not even enough.
fn cap(cell: usize, s: f64, node: impl Fn(usize) -> (f64, f64)) -> Option<f64> {
    let first = cell.saturating_sub(1).max(1);
    let mut points = [(0.0, 0.0); 4];
    for (k, point) in points.iter_mut().enumerate() {
        let (distance, volume): (f64, f64) = node(first + k);
        *point = (distance, volume / (distance * distance));
    }
    let low = (-SMOOTH).exponential();
    let even = points.windows(2).all(|p| p[0].1.min(p[1].1) > low * p[0].1.max(p[1].1));
    even.then(|| s * s * lagrange(&points, s))
}

/// Volume through the points, its slope at the first being that of the nozzle's bore, pi: C = C0 + s (pi + s q(s)).
fn from_nozzle(points: &[(f64, f64); START_POINTS], x: f64) -> f64 {
    let (z0, c0) = points[0];
    let q = [1, 2, 3].map(|k| {
        let s = points[k].0 - z0;
        (points[k].0, ((points[k].1 - c0) / s - PI) / s)
    });
    let s = x - z0;
    c0 + s * (PI + s * lagrange(&q, x))
}

/// First node of the stencil around cell `j`, kept inside the body.
fn first_node(j: usize, cells: usize) -> usize {
    j.saturating_sub(STENCIL / 2 - 1).min((cells + 1).saturating_sub(STENCIL))
}

/// Polynomial through the points, by Neville's scheme.
fn lagrange<const N: usize>(points: &[(f64, f64); N], x: f64) -> f64 {
    let mut p = [0.0; N];
    for (value, point) in p.iter_mut().zip(points) {
        *value = point.1;
    }
    for width in 1..N {
        for i in 0..N - width {
            let (xi, xj) = (points[i].0, points[i + width].0);
            p[i] = ((x - xj) * p[i] - (x - xi) * p[i + 1]) / (xi - xj);
        }
    }
    p[0]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::thread::mesh::regrid::regrid;

    // The end of a thread at Oh 0.003 which has swallowed its needle (a run of ours): nodes (z, in bore radii), mean radii of the cells.
    const FLAT_END: [(f64, f64); 21] = [
        (1.9953748, 0.384546),
        (1.9964678, 0.380645),
        (1.9974572, 0.376897),
        (1.9983527, 0.373331),
        (1.9991633, 0.369977),
        (1.9998969, 0.366850),
        (2.0008654, 0.362830),
        (2.0014570, 0.360364),
        (2.0018932, 0.305735),
        (2.0022637, 0.253206),
        (2.0025887, 0.208718),
        (2.0028851, 0.170340),
        (2.0031677, 0.137471),
        (2.0034337, 0.110257),
        (2.0036811, 0.088323),
        (2.0039087, 0.070987),
        (2.0041175, 0.057336),
        (2.0043112, 0.046367),
        (2.0044948, 0.037232),
        (2.0046744, 0.029303),
        (2.0048555, 0.022115),
    ];

    #[test]
    fn the_rim_of_a_flat_end_stays_free_of_dents() {
        let z: Vec<f64> = FLAT_END.iter().map(|p| p.0).chain([2.0050445]).collect();
        let mut body = Body::from_profile(z, End::Symmetry, End::Tip, |_| 1.0, |_| 0.0);
        for (j, (_, h)) in FLAT_END.iter().enumerate() {
            body.v[j] = PI * h * h * (body.z[j + 1] - body.z[j]);
        }
        let volume = body.volume();
        // Cells of half to twice the size, laid differently.
        for s in [2e-4, 3.1e-4, 4.3e-4, 6e-4, 9e-4] {
            let mut next = body.clone();
            let sizes = vec![s; next.cells()];
            regrid(&mut next, &sizes);
            for j in 1..next.cells() {
                assert!(
                    next.area(j) <= next.area(j - 1),
                    "{s}: {} after {}",
                    next.area(j).sqrt(),
                    next.area(j - 1).sqrt()
                );
            }
            assert!((next.volume() / volume - 1.0).abs() < 1e-14);
        }
    }
}
