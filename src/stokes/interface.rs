//! The interface between the liquids: its meridian, curvature, and what a small displacement does to its traction.
//!
//! Equation: k1 = (r' z'' - z' r'')/s'^3, k2 = n_r/r (k1 on the axis), kappa = k1 + k2; with u = n eta,
//!   d kappa = -(eta_ss + (r_s/r) eta_s) - (k1^2 + k2^2) eta,   d n = -eta_s t,   d(dS) = kappa eta dS.
//! Jump of traction (outer less inner, modified pressures) f = (kappa - Bo z) n.
//!
//! Symbols: ' by node index, s arc length, t tangent (from the first node to the last), n = (-r_s, z_s) out of the drop;
//! tension 1; Bo = (rho_i - rho_o) g R^2/gamma along the flow.
//!
//! Source: differential geometry of surfaces of revolution, common practice, no source.
//!
//! Holds for: nodes at smoothly varying distances, eight or more.

use super::differences::{Beyond, Differences, End, differences};
use super::layer::{Boundary, Density, Element};
use super::rule::{Rule, cubic, gauss, quintic, slope, value};
use nalgebra::{DMatrix, DVector};
use std::sync::{Arc, OnceLock};

/// A meridian with all that follows from its nodes.
#[derive(Debug, Clone)]
pub struct Interface {
    pub z: Vec<f64>,
    pub r: Vec<f64>,
    pub ends: (End, End),
    /// Derivatives by node index: z', z'', r', r''.
    pub by_index: [Vec<f64>; 4],
    pub tangent: Vec<(f64, f64)>,
    pub normal: Vec<(f64, f64)>,
    /// s'.
    pub speed: Vec<f64>,
    pub k1: Vec<f64>,
    pub k2: Vec<f64>,
    /// For functions that are even, and odd, at the mirrored ends.
    differences: Arc<(Differences, Differences)>,
}

fn beyond(end: End, even: bool) -> Beyond {
    match (end, even) {
        (End::Pinned, _) => Beyond::Nothing,
        (_, true) => Beyond::Even,
        (_, false) => Beyond::Odd,
    }
}

/// Rule for integrals along elements.
fn along() -> &'static Rule {
    static RULE: OnceLock<Rule> = OnceLock::new();
    RULE.get_or_init(|| gauss(6))
}

impl Interface {
    /// The meridian through these nodes.
    pub fn new(z: Vec<f64>, r: Vec<f64>, ends: (End, End)) -> Interface {
        let by = |even| differences(z.len(), beyond(ends.0, even), beyond(ends.1, even));
        let differences = Arc::new((by(true), by(false)));
        Interface::with(z, r, ends, differences)
    }

    /// The same meridian with its nodes elsewhere, as many as before.
    pub fn reshaped(&self, z: Vec<f64>, r: Vec<f64>) -> Interface {
        Interface::with(z, r, self.ends, Arc::clone(&self.differences))
    }

    fn with(z: Vec<f64>, r: Vec<f64>, ends: (End, End), differences: Arc<(Differences, Differences)>) -> Interface {
        let n = z.len();
        let (even, odd) = &*differences;
        let plane = ends.0 == End::Plane;
        // z is odd about a plane once its linear part is taken out
        let rise = if plane { (z[n - 1] - z[0]) / (n as f64 - 1.0) } else { 0.0 };
        let vz = DVector::from_fn(n, |i, _| if plane { z[i] - z[0] - rise * i as f64 } else { z[i] });
        let vr = DVector::from_column_slice(&r);
        let (of_z, of_r) = if plane { (odd, even) } else { (even, odd) };
        let list = |v: DVector<f64>, add: f64| v.iter().map(|x| x + add).collect::<Vec<f64>>();
        let z1 = list(&of_z.first * &vz, rise);
        let z2 = list(&of_z.second * &vz, 0.0);
        let r1 = list(&of_r.first * &vr, 0.0);
        let r2 = list(&of_r.second * &vr, 0.0);
        let mut new = Interface {
            ends,
            tangent: Vec::with_capacity(n),
            normal: Vec::with_capacity(n),
            speed: Vec::with_capacity(n),
            k1: Vec::with_capacity(n),
            k2: Vec::with_capacity(n),
            by_index: [z1, z2, r1, r2],
            z,
            r,
            differences,
        };
        for i in 0..n {
            let [z1, z2, r1, r2] = new.derivatives(i);
            let speed = (z1 * z1 + r1 * r1).sqrt();
            let (tz, tr) = (z1 / speed, r1 / speed);
            let k1 = (r1 * z2 - z1 * r2) / speed.powi(3);
            new.tangent.push((tz, tr));
            new.normal.push((-tr, tz));
            new.speed.push(speed);
            new.k1.push(k1);
            new.k2.push(if new.on_axis(i) { k1 } else { tz / new.r[i] });
        }
        new
    }

    pub fn nodes(&self) -> usize {
        self.z.len()
    }

    fn derivatives(&self, i: usize) -> [f64; 4] {
        std::array::from_fn(|k| self.by_index[k][i])
    }

    pub fn on_axis(&self, i: usize) -> bool {
        (i == 0 && self.ends.0 == End::Axis) || (i + 1 == self.nodes() && self.ends.1 == End::Axis)
    }

    pub fn curvature(&self, i: usize) -> f64 {
        self.k1[i] + self.k2[i]
    }

    /// Quintic coefficients (z, r) of the element after node `i`.
    pub fn piece(&self, i: usize) -> ([f64; 6], [f64; 6]) {
        let ([z1, z2, r1, r2], [y1, y2, q1, q2]) = (self.derivatives(i), self.derivatives(i + 1));
        (quintic([self.z[i], z1, z2], [self.z[i + 1], y1, y2]), quintic([self.r[i], r1, r2], [self.r[i + 1], q1, q2]))
    }

    /// Nodes, signs and cubics of the density on the element after node `e`.
    fn stencil(&self, e: usize) -> ([usize; 4], [[f64; 2]; 4], [[f64; 4]; 4]) {
        let last = self.nodes() as isize - 1;
        let mut first = e as isize - 1;
        if self.ends.0 == End::Pinned {
            first = first.max(0);
        }
        if self.ends.1 == End::Pinned {
            first = first.min(last - 3);
        }
        let shape = cubic(std::array::from_fn(|m| (first + m as isize - e as isize) as f64));
        let (mut node, mut sign) = ([0; 4], [[1.0; 2]; 4]);
        for m in 0..4 {
            let j = first + m as isize;
            let (at, end) = if j < 0 {
                (-j, Some(self.ends.0))
            } else if j > last {
                (2 * last - j, Some(self.ends.1))
            } else {
                (j, None)
            };
            node[m] = at as usize;
            sign[m] = match end {
                Some(End::Axis) => [1.0, -1.0],
                Some(End::Plane) => [-1.0, 1.0],
                _ => [1.0, 1.0],
            };
        }
        (node, sign, shape)
    }

    /// The interface as a boundary that carries layers.
    pub fn boundary(&self) -> Boundary {
        let n = self.nodes();
        let elements = (0..n - 1)
            .map(|e| {
                let ((z, r), (node, sign, shape)) = (self.piece(e), self.stencil(e));
                Element { z, r, node, sign, shape }
            })
            .collect();
        let home = (0..n).map(|i| [(i > 0).then(|| (i - 1, 1.0)), (i + 1 < n).then_some((i, 0.0))]).collect();
        Boundary { elements, z: self.z.clone(), r: self.r.clone(), home, density: Density::PerLength }
    }

    /// Jump of traction at the nodes, z and r in turn.
    pub fn traction(&self, bond: f64) -> DVector<f64> {
        DVector::from_fn(2 * self.nodes(), |k, _| {
            let i = k / 2;
            let f = self.curvature(i) - bond * self.z[i];
            f * if k % 2 == 0 { self.normal[i].0 } else { self.normal[i].1 }
        })
    }

    /// Change of traction (times the surface's own stretching) by a small normal displacement of the nodes.
    ///
    /// A constant `level` is taken out: level n drives no flow on any closed surface, moved or not, and would put an error
    /// into a linearisation that freezes the kernels.
    pub fn traction_by_displacement(&self, bond: f64, level: f64) -> DMatrix<f64> {
        let (even, _) = &*self.differences;
        let n = self.nodes();
        let mut out = DMatrix::zeros(2 * n, n);
        for i in 0..n {
            let [z1, z2, r1, r2] = self.derivatives(i);
            let one = 1.0 / self.speed[i];
            let bend = (z1 * z2 + r1 * r2) * one.powi(4);
            let (tangent, normal) = (self.tangent[i], self.normal[i]);
            let f = self.curvature(i) - bond * self.z[i] - level;
            let local = -(self.k1[i] * self.k1[i] + self.k2[i] * self.k2[i]) - bond * normal.0 + f * self.curvature(i);
            let axis = self.on_axis(i);
            let sloping = if axis { 0.0 } else { tangent.1 / self.r[i] };
            for j in 0..n {
                let by_s = even.first[(i, j)] * one;
                let by_ss = even.second[(i, j)] * one * one - even.first[(i, j)] * bend;
                let surface = if axis { 2.0 * by_ss } else { by_ss + sloping * by_s };
                let change = -surface + if i == j { local } else { 0.0 };
                out[(2 * i, j)] = normal.0 * change - f * tangent.0 * by_s;
                out[(2 * i + 1, j)] = normal.1 * change - f * tangent.1 * by_s;
            }
        }
        out
    }

    /// The nodes moved along their normals by `step` times `speed`.
    pub fn moved(&self, speed: &[f64], step: f64) -> Interface {
        let shift = |i: usize| step * speed[i];
        let z = (0..self.nodes()).map(|i| self.z[i] + shift(i) * self.normal[i].0).collect();
        let r = (0..self.nodes())
            .map(|i| if self.on_axis(i) { 0.0 } else { self.r[i] + shift(i) * self.normal[i].1 })
            .collect();
        self.reshaped(z, r)
    }

    /// Weights of a nodal normal velocity in the flux through the interface, by the density's own cubics.
    pub fn flux_weights(&self) -> Vec<f64> {
        let mut out = vec![0.0; self.nodes()];
        for e in 0..self.nodes() - 1 {
            let ((zc, rc), (node, _, shape)) = (self.piece(e), self.stencil(e));
            for (t, w) in along().t.iter().zip(&along().w) {
                let (zt, rt) = (slope(&zc, *t), slope(&rc, *t));
                let ring = 2.0 * std::f64::consts::PI * value(&rc, *t) * (zt * zt + rt * rt).sqrt() * w;
                for m in 0..4 {
                    let c = &shape[m];
                    out[node[m]] += ring * (((c[3] * t + c[2]) * t + c[1]) * t + c[0]);
                }
            }
        }
        out
    }

    /// Volume pi int r^2 dz of the elements from node `from` on.
    pub fn volume_from(&self, from: usize) -> f64 {
        (from..self.nodes() - 1).map(|e| self.volume_of_piece(e, 0.0, 1.0)).sum()
    }

    /// Volume of a part of the element after node `e`.
    pub fn volume_of_piece(&self, e: usize, from: f64, to: f64) -> f64 {
        let (zc, rc) = self.piece(e);
        let sum: f64 = along()
            .t
            .iter()
            .zip(&along().w)
            .map(|(t, w)| {
                let t = from + (to - from) * t;
                w * value(&rc, t).powi(2) * slope(&zc, t)
            })
            .sum();
        std::f64::consts::PI * (to - from) * sum
    }

    /// Arc length of a part of the element after node `e`.
    pub fn arc_of_piece(&self, e: usize, to: f64) -> f64 {
        let (zc, rc) = self.piece(e);
        to * along()
            .t
            .iter()
            .zip(&along().w)
            .map(|(t, w)| {
                let (zt, rt) = (slope(&zc, to * t), slope(&rc, to * t));
                w * (zt * zt + rt * rt).sqrt()
            })
            .sum::<f64>()
    }

    /// Arc length at the nodes.
    pub fn arc(&self) -> Vec<f64> {
        let mut s = vec![0.0; self.nodes()];
        for e in 0..self.nodes() - 1 {
            s[e + 1] = s[e] + self.arc_of_piece(e, 1.0);
        }
        s
    }

    /// Largest radius of the nodes.
    pub fn widest(&self) -> f64 {
        self.r.iter().copied().fold(0.0, f64::max)
    }

    /// Local radius of curvature at the nodes, the smaller of both, at most the largest radius; next to a rim that of the azimuth alone.
    pub fn curved(&self, next_to_rim: usize) -> Vec<f64> {
        let most = self.widest();
        let along = |i: usize| if self.ends.0 == End::Pinned && i < next_to_rim { 0.0 } else { self.k1[i].abs() };
        (0..self.nodes()).map(|i| 1.0 / along(i).max(self.k2[i].abs()).max(1.0 / most)).collect()
    }

    /// Whether every radius but those on the axis is positive.
    pub fn is_sound(&self) -> bool {
        (0..self.nodes()).all(|i| self.z[i].is_finite() && (self.on_axis(i) || self.r[i] > 0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    fn spheroid(n: usize, long: f64) -> Interface {
        let angle = |i: usize| PI * i as f64 / (n as f64 - 1.0);
        let z = (0..n).map(|i| -long * angle(i).cos()).collect();
        let r = (0..n).map(|i| if i == 0 || i + 1 == n { 0.0 } else { angle(i).sin() }).collect();
        Interface::new(z, r, (End::Axis, End::Axis))
    }

    #[test]
    fn theory_curvature_volume_and_area_of_a_spheroid() {
        let long = 1.5f64;
        let s = spheroid(41, long);
        assert!((s.volume_from(0) / (4.0 / 3.0 * PI * long) - 1.0).abs() < 1e-9);
        // prolate: 2 pi (1 + (c/e) asin e), e^2 = 1 - 1/c^2
        let e = (1.0 - 1.0 / (long * long)).sqrt();
        let area = 2.0 * PI * (1.0 + long / e * e.asin());
        assert!((s.flux_weights().iter().sum::<f64>() / area - 1.0).abs() < 1e-8);
        // poles: both curvatures c (b = 1); equator: 1 and 1/c^2
        assert!((s.curvature(0) - 2.0 * long).abs() < 1e-5, "{}", s.curvature(0));
        assert!((s.curvature(20) - 1.0 - 1.0 / (long * long)).abs() < 1e-6, "{}", s.curvature(20));
    }

    // f dS on moved nodes less on unmoved ones, against the matrix: the derivation and its signs.
    #[test]
    fn theory_traction_by_displacement_is_a_derivative() {
        let bond = 0.3;
        let s = spheroid(41, 1.4);
        let eta: Vec<f64> = s.z.iter().map(|z| 0.3 + 0.2 * z + 0.4 * z * z).collect();
        let step = 1e-5;
        let times = |sign: f64| {
            let m = s.moved(&eta, sign * step);
            let f = m.traction(bond);
            // the nodes' own share of surface: r times ds by index, over the unmoved
            (0..s.nodes()).map(|i| (f[2 * i], f[2 * i + 1], m.r[i] * m.speed[i])).collect::<Vec<_>>()
        };
        let (plus, minus) = (times(1.0), times(-1.0));
        let matrix = s.traction_by_displacement(bond, 0.0);
        let linear = matrix * DVector::from_column_slice(&eta);
        for i in 1..s.nodes() - 1 {
            let share = s.r[i] * s.speed[i];
            let z = (plus[i].0 * plus[i].2 - minus[i].0 * minus[i].2) / (2.0 * step * share);
            let r = (plus[i].1 * plus[i].2 - minus[i].1 * minus[i].2) / (2.0 * step * share);
            let size = 1.0 + z.abs() + r.abs();
            assert!((z - linear[2 * i]).abs() < 2e-4 * size, "{i}: {z} {}", linear[2 * i]);
            assert!((r - linear[2 * i + 1]).abs() < 2e-4 * size, "{i}: {r} {}", linear[2 * i + 1]);
        }
    }
}
