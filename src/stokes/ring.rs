//! Free-space kernels of Stokes flow integrated once round a ring: single and double layer.
//!
//! Equation: with X = x - x0 from the target (z0, r0) to the source (z, r, phi), R = |X|,
//!   G_ij = delta_ij/R + X_i X_j/R^3,   T_ijk n_k = -6 X_i X_j (X.n)/R^5,
//! both times r and integrated over 0 <= phi < 2 pi. With v = 1 - cos phi, R^2 = rho^2 + b v, b = 2 r r0, every integral is
//! one of J_mn = int v^n/R^m dphi, and J_mn = (J_(m-2)(n-1) - rho^2 J_m(n-1))/b carries them down to complete elliptic
//! integrals K and E of k^2 = 2 b/(rho^2 + 2 b), found by the arithmetic-geometric mean:
//!   J_10 = 4 K/s,  int R dphi = 4 s E,  J_30 = 4 E/(s rho^2),  J_50 = 4 (2 (2 - k^2) E - (1 - k^2) K)/(3 s rho^4),  s^2 = rho^2 + 2 b.
//! Powers of v, not of cos phi, keep near pairs free of cancellation. Where b << rho^2 (near the axis, or far) the recurrence
//! would cancel instead; there the midpoint rule in phi converges geometrically and takes over.
//!
//! The flow through the disk r < r0 at z0 has its kernels too, in closed form, since G = delta lap R - grad grad R and the mean round a ring of
//! its divergence by the radius integrates over a disk (Gauss):
//!   axial   2 pi r0 r int (r0 - r cos phi)/R dphi,   radial   2 pi r0 r dz int cos phi/R dphi.
//!
//! Symbols: dz = z - z0, dr = r - r0, rho^2 = dz^2 + dr^2; (nz, nr) normal at the source; components are (target, source).
//!
//! Source: boundary-integral equations of Stokes flow: Pozrikidis, Boundary Integral and Singularity Methods for Linearized
//! Viscous Flow (1992), ch. 2 (recalled); ring integrals derived here and checked against direct quadrature; K and E by the
//! arithmetic-geometric mean: Abramowitz & Stegun (1964), 17.6.
//!
//! Holds for: r > 0, r0 >= 0, distinct points; relative error 1e-11 (test below).

// Several arrays are walked through side by side, lane by lane: their indices are the clearest way to say it.
#![allow(clippy::needless_range_loop)]

use crate::math::Pinned as _;
use multiversion::multiversion;
use std::f64::consts::PI;

/// Lanes that are computed side by side.
const LANES: usize = 4;
/// Share of 2 b in rho^2 + 2 b below which the midpoint rule takes over.
const NEAR_AXIS: f64 = 1e-3;
/// Points of the midpoint rule: its error falls like (b/(4 rho^2))^n.
const AZIMUTH: usize = 8;

/// Source points of one target, side by side.
#[derive(Debug, Clone, Default)]
pub struct Points {
    pub z: Vec<f64>,
    pub r: Vec<f64>,
    pub nz: Vec<f64>,
    pub nr: Vec<f64>,
}

impl Points {
    pub fn clear(&mut self) {
        for each in [&mut self.z, &mut self.r, &mut self.nz, &mut self.nr] {
            each.clear();
        }
    }

    pub fn push(&mut self, z: f64, r: f64, nz: f64, nr: f64) {
        self.z.push(z);
        self.r.push(r);
        self.nz.push(nz);
        self.nr.push(nr);
    }

    /// True if there are none.
    pub fn is_empty(&self) -> bool {
        self.z.is_empty()
    }

    pub fn len(&self) -> usize {
        self.z.len()
    }
}

/// Kernels at one source point: single layer (zz, zr, rz, rr), then double layer.
pub type Kernel = [f64; 8];

/// Kernels of all `points` for the target (z0, r0); without `double` the last four stay zero.
#[multiversion(targets("x86_64+avx2"))]
pub fn kernels(z0: f64, r0: f64, points: &Points, double: bool, out: &mut Vec<Kernel>) {
    out.clear();
    out.resize(points.len(), [0.0; 8]);
    let mut at = 0;
    while at < points.len() {
        let mut lanes = Lanes::default();
        let many = LANES.min(points.len() - at);
        for l in 0..LANES {
            let i = at + l.min(many - 1);
            (lanes.dz[l], lanes.r[l]) = (points.z[i] - z0, points.r[i]);
            (lanes.nz[l], lanes.nr[l]) = (points.nz[i], points.nr[i]);
        }
        let found = if double { lanes.both(r0) } else { lanes.single(r0) };
        for l in 0..many {
            let i = at + l;
            let far = lanes.b[l] * 2.0 <= NEAR_AXIS * (lanes.rho2[l] + 2.0 * lanes.b[l]);
            out[i] = if far {
                by_midpoints(z0, r0, (points.z[i], points.r[i]), (points.nz[i], points.nr[i]), double)
            } else {
                std::array::from_fn(|k| found[k][l])
            };
        }
        at += many;
    }
}

/// Flow through the disk of radius r0 at z0 per axial and per radial force on the ring of each of `points`.
#[multiversion(targets("x86_64+avx2"))]
pub fn fluxes(z0: f64, r0: f64, points: &Points, out: &mut Vec<[f64; 2]>) {
    out.clear();
    out.resize(points.len(), [0.0; 2]);
    let mut at = 0;
    while at < points.len() {
        let (mut complement, mut k, mut e) = ([0.0; LANES], [0.0; LANES], [0.0; LANES]);
        let (mut dz, mut r, mut b, mut rho2) = ([0.0; LANES], [0.0; LANES], [0.0; LANES], [0.0; LANES]);
        let many = LANES.min(points.len() - at);
        for l in 0..LANES {
            let i = at + l.min(many - 1);
            (dz[l], r[l]) = (points.z[i] - z0, points.r[i]);
            rho2[l] = dz[l] * dz[l] + (r[l] - r0) * (r[l] - r0);
            b[l] = (2.0 * r[l] * r0).max(f64::MIN_POSITIVE);
            complement[l] = rho2[l] / (rho2[l] + 2.0 * b[l]);
        }
        elliptic(&complement, &mut k, &mut e);
        for l in 0..many {
            let all = rho2[l] + 2.0 * b[l];
            let round = 2.0 * PI * r0 * r[l];
            out[at + l] = if b[l] * 2.0 <= NEAR_AXIS * all {
                let mut sum = [0.0; 2];
                for i in 0..AZIMUTH / 2 {
                    // phi and -phi count alike
                    let cos = (2.0 * PI * (i as f64 + 0.5) / AZIMUTH as f64).cosine();
                    let w = 4.0 * PI / AZIMUTH as f64 / (rho2[l] + b[l] * (1.0 - cos)).sqrt();
                    sum[0] += w * (r0 - r[l] * cos);
                    sum[1] += w * dz[l] * cos;
                }
                [round * sum[0], round * sum[1]]
            } else {
                let root = all.sqrt();
                let j10 = 4.0 * k[l] / root;
                let j11 = (4.0 * root * e[l] - rho2[l] * j10) / b[l];
                [round * ((r0 - r[l]) * j10 + r[l] * j11), round * dz[l] * (j10 - j11)]
            };
        }
        at += many;
    }
}

#[derive(Debug, Default)]
struct Lanes {
    dz: [f64; LANES],
    r: [f64; LANES],
    nz: [f64; LANES],
    nr: [f64; LANES],
    rho2: [f64; LANES],
    b: [f64; LANES],
}

/// What single and double layer share.
struct Shared {
    dr: [f64; LANES],
    root: [f64; LANES],
    k: [f64; LANES],
    e: [f64; LANES],
    j30: [f64; LANES],
    j31: [f64; LANES],
}

impl Lanes {
    #[inline(always)]
    fn single(&mut self, r0: f64) -> [[f64; LANES]; 8] {
        let mut out = [[0.0; LANES]; 8];
        self.fill_single(r0, &mut out);
        out
    }

    #[inline(always)]
    fn fill_single(&mut self, r0: f64, out: &mut [[f64; LANES]; 8]) -> Shared {
        let mut s = Shared {
            dr: [0.0; LANES],
            root: [0.0; LANES],
            k: [0.0; LANES],
            e: [0.0; LANES],
            j30: [0.0; LANES],
            j31: [0.0; LANES],
        };
        let mut complement = [0.0; LANES];
        for l in 0..LANES {
            s.dr[l] = self.r[l] - r0;
            self.rho2[l] = self.dz[l] * self.dz[l] + s.dr[l] * s.dr[l];
            self.b[l] = (2.0 * self.r[l] * r0).max(f64::MIN_POSITIVE);
            let all = self.rho2[l] + 2.0 * self.b[l];
            complement[l] = self.rho2[l] / all;
            s.root[l] = all.sqrt();
        }
        elliptic(&complement, &mut s.k, &mut s.e);
        for l in 0..LANES {
            let (dz, dr, r, b, rho2) = (self.dz[l], s.dr[l], self.r[l], self.b[l], self.rho2[l]);
            let j10 = 4.0 * s.k[l] / s.root[l];
            let j30 = 4.0 * s.e[l] / (s.root[l] * rho2);
            let j11 = (4.0 * s.root[l] * s.e[l] - rho2 * j10) / b;
            let j31 = (j10 - rho2 * j30) / b;
            let j32 = (j11 - rho2 * j31) / b;
            (s.j30[l], s.j31[l]) = (j30, j31);
            out[0][l] = r * (j10 + dz * dz * j30);
            out[1][l] = r * dz * (dr * j30 + r0 * j31);
            out[2][l] = r * dz * (dr * j30 - r * j31);
            out[3][l] = r * (j10 - j11 + dr * dr * (j30 - j31) - r * r0 * j32);
        }
        s
    }

    #[inline(always)]
    fn both(&mut self, r0: f64) -> [[f64; LANES]; 8] {
        let mut out = [[0.0; LANES]; 8];
        let s = self.fill_single(r0, &mut out);
        for l in 0..LANES {
            let (dz, dr, r, b, rho2) = (self.dz[l], s.dr[l], self.r[l], self.b[l], self.rho2[l]);
            let all = rho2 + 2.0 * b;
            let (k2, complement) = (2.0 * b / all, rho2 / all);
            let j50 = 4.0 * (2.0 * (2.0 - k2) * s.e[l] - complement * s.k[l]) / (3.0 * rho2 * rho2 * s.root[l]);
            let j51 = (s.j30[l] - rho2 * j50) / b;
            let j52 = (s.j31[l] - rho2 * j51) / b;
            // J_32 once more: cheaper than keeping it
            let j11 = (4.0 * s.root[l] * s.e[l] - rho2 * 4.0 * s.k[l] / s.root[l]) / b;
            let j32 = (j11 - rho2 * s.j31[l]) / b;
            let j53 = (j32 - rho2 * j52) / b;
            // X.n = x + y v; X along the source's radius dr + r0 v, along the target's dr - r v
            let (x, y) = (dz * self.nz[l] + dr * self.nr[l], r0 * self.nr[l]);
            let f = -6.0 * r;
            out[4][l] = f * dz * dz * (x * j50 + y * j51);
            out[5][l] = f * dz * (dr * x * j50 + (dr * y + r0 * x) * j51 + r0 * y * j52);
            out[6][l] = f * dz * (dr * x * j50 + (dr * y - r * x) * j51 - r * y * j52);
            // (dr + r0 v)(dr - r v) = dr^2 (1 - v) - r r0 v^2
            let (d, g) = (dr * dr, -r * r0);
            out[7][l] = f * (d * x * j50 + d * (y - x) * j51 + (g * x - d * y) * j52 + g * y * j53);
        }
        out
    }
}

/// K and E from 1 - k^2 by the arithmetic-geometric mean.
#[inline(always)]
fn elliptic(complement: &[f64; LANES], k: &mut [f64; LANES], e: &mut [f64; LANES]) {
    let mut a = [1.0; LANES];
    let mut g = [0.0; LANES];
    let mut sum = [0.0; LANES];
    for l in 0..LANES {
        g[l] = complement[l].sqrt();
        sum[l] = 0.5 * (1.0 - complement[l]);
    }
    let mut power = 0.5;
    for _ in 0..40 {
        power *= 2.0;
        let mut done = true;
        for l in 0..LANES {
            let half = 0.5 * (a[l] - g[l]);
            let mean = 0.5 * (a[l] + g[l]);
            g[l] = (a[l] * g[l]).sqrt();
            a[l] = mean;
            sum[l] += power * half * half;
            done &= half < 1e-8 * mean;
        }
        // the next half difference is the square of this one
        if done {
            break;
        }
    }
    for l in 0..LANES {
        k[l] = 0.5 * PI / a[l];
        e[l] = k[l] * (1.0 - sum[l]);
    }
}

fn by_midpoints(z0: f64, r0: f64, (z, r): (f64, f64), (nz, nr): (f64, f64), double: bool) -> Kernel {
    let (dz, dr) = (z - z0, r - r0);
    let (rho2, b) = (dz * dz + dr * dr, 2.0 * r * r0);
    let mut out = [0.0; 8];
    let weight = 2.0 * PI * r / AZIMUTH as f64;
    for i in 0..AZIMUTH / 2 {
        // phi and -phi count alike
        let cos = (2.0 * PI * (i as f64 + 0.5) / AZIMUTH as f64).cosine();
        let v = 1.0 - cos;
        let i2 = 1.0 / (rho2 + b * v);
        let i1 = i2.sqrt();
        let (w1, w3) = (2.0 * weight * i1, 2.0 * weight * i1 * i2);
        let (xs, xt) = (dr + r0 * v, dr - r * v);
        out[0] += w1 + w3 * dz * dz;
        out[1] += w3 * dz * xs;
        out[2] += w3 * dz * xt;
        out[3] += w1 * cos + w3 * xs * xt;
        if double {
            let g = -6.0 * w3 * i2 * (dz * nz + xs * nr);
            out[4] += g * dz * dz;
            out[5] += g * dz * xs;
            out[6] += g * dz * xt;
            out[7] += g * xs * xt;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The definition, by the midpoint rule with `n` points (it converges geometrically for distinct points).
    fn direct(z0: f64, r0: f64, (z, r): (f64, f64), (nz, nr): (f64, f64), n: usize) -> Kernel {
        let mut out = [0.0; 8];
        for i in 0..n {
            let phi = 2.0 * PI * (i as f64 + 0.5) / n as f64;
            let x = [z - z0, r * phi.cos() - r0, r * phi.sin()];
            let d2 = x.iter().map(|v| v * v).sum::<f64>();
            let (d, along) = (d2.sqrt(), x[1] * phi.cos() + x[2] * phi.sin());
            let xn = x[0] * nz + along * nr;
            let w = 2.0 * PI * r / n as f64;
            let t = -6.0 * xn / (d2 * d2 * d);
            let add = [
                1.0 / d + x[0] * x[0] / (d2 * d),
                x[0] * along / (d2 * d),
                x[0] * x[1] / (d2 * d),
                phi.cos() / d + x[1] * along / (d2 * d),
                t * x[0] * x[0],
                t * x[0] * along,
                t * x[0] * x[1],
                t * x[1] * along,
            ];
            (0..8).for_each(|k| out[k] += w * add[k]);
        }
        out
    }

    // Halton points over the ranges that a run meets: off the axis and on it, near and far.
    #[test]
    fn theory_ring_kernels_are_the_integrals_that_define_them() {
        let halton = |i: usize, base: usize| {
            let (mut f, mut x, mut i) = (1.0, 0.0, i + 1);
            while i > 0 {
                f /= base as f64;
                x += f * (i % base) as f64;
                i /= base;
            }
            x
        };
        let mut worst = 0.0f64;
        for i in 0..300 {
            let (z0, z) = (2.0 * halton(i, 2) - 1.0, 2.0 * halton(i, 3) - 1.0);
            let r0 = 2.0 * halton(i, 5) * [1.0, 1e-2, 1e-4, 0.0][i % 4];
            let (r, a) = (0.01 + 2.0 * halton(i, 7), 2.0 * PI * halton(i, 11));
            let mut points = Points::default();
            points.push(z, r, a.cos(), a.sin());
            let mut got = Vec::new();
            kernels(z0, r0, &points, true, &mut got);
            let exact = direct(z0, r0, (z, r), (a.cos(), a.sin()), 4000);
            let scale = |part: &[f64]| part.iter().fold(0.0f64, |m, v| m.max(v.abs()));
            for (k, (ours, theirs)) in got[0].iter().zip(&exact).enumerate() {
                let size = if k < 4 { scale(&exact[..4]) } else { scale(&exact[4..]) };
                worst = worst.max((ours - theirs).abs() / size);
            }
        }
        assert!(worst < 1e-10, "{worst:e}");
    }

    // The flow through a disk is the sum of the axial velocity over it: Gauss points from the axis to r0, in front of the ring and behind it,
    // far from the axis and close to it.
    #[test]
    fn theory_flows_through_a_disk_are_velocities_summed() {
        let rule = crate::stokes::rule::gauss(40);
        for (z0, r0, z, r) in [
            (0.3, 0.8, 1.0, 0.6),
            (1.5, 2.0, 1.0, 0.6),
            (0.0, 1.2, 0.7, 0.01),
            (0.2, 0.004, 1.0, 0.6),
            (0.2, 0.01, 2.0, 1.5),
        ] {
            let mut points = Points::default();
            points.push(z, r, 1.0, 0.0);
            let (mut got, mut all, mut sum) = (Vec::new(), Vec::new(), [0.0; 2]);
            fluxes(z0, r0, &points, &mut got);
            for (t, w) in rule.t.iter().zip(&rule.w) {
                kernels(z0, r0 * t, &points, false, &mut all);
                (0..2).for_each(|k| sum[k] += 2.0 * PI * r0 * r0 * t * w * all[0][k]);
            }
            for k in 0..2 {
                assert!((got[0][k] / sum[k] - 1.0).abs() < 1e-9, "{z0} {r0} {k}: {:?} {sum:?}", got[0]);
            }
        }
    }

    // A target 1e-5 from a ring of radius 1: the logarithm's slope, G_zz and G_rr near -2 ln(rho) each (2 r ln(8/rho) leads).
    #[test]
    fn theory_near_pairs_keep_the_logarithm() {
        let at = |gap: f64| {
            let mut points = Points::default();
            points.push(gap, 1.0, 1.0, 0.0);
            let mut got = Vec::new();
            kernels(0.0, 1.0, &points, false, &mut got);
            got[0]
        };
        let (near, nearer) = (at(1e-5), at(1e-6));
        let slope = |k: usize| (nearer[k] - near[k]) / std::f64::consts::LN_10;
        assert!((slope(0) - 2.0).abs() < 1e-6 && (slope(3) - 2.0).abs() < 1e-6, "{} {}", slope(0), slope(3));
    }
}
