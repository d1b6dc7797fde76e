//! The least of the rays' quadratic form over the free profiles, in the values at the rays: as a product, and its
//! inverse.
//!
//! Equation: with the form S = [[G, K^T], [K, C]] in (g, c), the least over c is g^T (G - K^T C^-1 K) g. Values at
//! the rays are v = N g, so that the form in them and its inverse, the mobility at the rays, are
//!   H = N^-T (G - K^T C^-1 K) N^-1,   H^-1 = N (S^-1)_gg N^T.
//! S = U^T D U by blocks, a spline's four coefficients in each, so that the blocks of X = S^-1 follow from the last on,
//!   X_ij = - sum over k = i + 1 to i + 3 of U_ik X_kj  (j > i),   X_ii = D_i^-1 - sum U_ik X_ki.
//! Symbols: g the coefficients of psi_0 and psi_1, c those of the free profiles, spline by spline; C = L L^T, L a
//! banded lower triangle, N tridiagonal. A product costs of the order of m, the inverse m^2 for m values.
//! Source: elementary (Schur's complement); entries of an inverse by rows from the last one on: Takahashi, Fagan &
//! Chen 1973 (recalled).
//! Holds for: a form that is positive definite; else the answer is none.

use super::operator::{Block, KINDS};
use crate::solver::banded::subtract_rows;
use multiversion::multiversion;
use std::array::from_fn;

/// Given values at a ray: psi_0 and psi_1.
pub const GIVEN: usize = 2;
/// Splines that overlap one on either side.
const REACH: usize = 3;

type Four = [f64; KINDS];
type Square = [Four; KINDS];

/// The form, least over the first `free` free profiles, the others 0.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Least {
    free: usize,
    blocks: Vec<[Block; REACH + 1]>,
    /// Rows of N, the inverse pivots of its elimination and what is left after the diagonal.
    at_rays: Vec<[f64; 3]>,
    pivots: Vec<[f64; 2]>,
    /// L by rows, `width` entries before the diagonal and it, inverted.
    factor: Vec<f64>,
}

/// Buffers.
#[derive(Debug, Clone, Default)]
pub struct LeastWork {
    coefficients: Vec<Four>,
    slopes: Vec<Four>,
    relaxed: Vec<f64>,
    /// What is left of S, then U, and the blocks of X by the diagonal.
    left: Vec<[Square; REACH + 1]>,
    near: Vec<[Square; REACH + 1]>,
    /// X in the columns of g.
    far: Vec<f64>,
    /// Columns' shares of N.
    shares: [Vec<f64>; 3],
    row: Vec<f64>,
}

impl Least {
    /// Of a form of blocks `[i][d]` that join splines i and i + d.
    pub fn set(&mut self, blocks: &[[Block; REACH + 1]], at_rays: &[[f64; 3]], free: usize) -> Option<()> {
        self.free = free.min(KINDS - GIVEN);
        self.blocks.clear();
        self.blocks.extend_from_slice(blocks);
        self.at_rays.clear();
        self.at_rays.extend_from_slice(at_rays);
        self.pivots.clear();
        let mut share = 0.0;
        for [before, own, after] in at_rays {
            let pivot = 1.0 / (own - before * share);
            if !pivot.is_finite() {
                return None;
            }
            share = after * pivot;
            self.pivots.push([pivot, share]);
        }
        self.factor()
    }

    /// Cholesky's factor of C; its diagonal is kept inverted.
    fn factor(&mut self) -> Option<()> {
        let (blocks, free) = (&self.blocks, self.free);
        let (rows, width) = (free * blocks.len(), (free * (REACH + 1)).saturating_sub(1));
        let stride = width + 1;
        self.factor.clear();
        self.factor.resize(rows * stride, 0.0);
        for (i, row) in blocks.iter().enumerate() {
            for (d, block) in row.iter().enumerate().take(blocks.len() - i) {
                for p in 0..free {
                    for q in 0..free {
                        let (r, c) = (free * (i + d) + q, free * i + p);
                        if c <= r {
                            self.factor[r * stride + width + c - r] = block[(GIVEN + p) * KINDS + GIVEN + q];
                        }
                    }
                }
            }
        }
        for r in 0..rows {
            let first = r.saturating_sub(width);
            let (done, own) = self.factor.split_at_mut(r * stride);
            for c in first..r {
                let from = first.max(c.saturating_sub(width));
                let other = &done[c * stride..][..stride];
                let (a, b) = (&own[width + from - r..width + c - r], &other[width + from - c..width]);
                let sum: f64 = a.iter().zip(b).map(|(a, b)| a * b).sum();
                own[width + c - r] = (own[width + c - r] - sum) * other[width];
            }
            let own = &mut own[width - (r - first)..stride];
            let (before, last) = own.split_at_mut(r - first);
            let pivot = last[0] - before.iter().map(|x| x * x).sum::<f64>();
            if !(pivot > 0.0 && pivot.is_finite()) {
                return None;
            }
            last[0] = 1.0 / pivot.sqrt();
        }
        Some(())
    }

    /// c from C c = -K g, where K g stands in `slopes`.
    fn relax(&self, slopes: &[Four], relaxed: &mut Vec<f64>, coefficients: &mut [Four]) {
        let (free, n) = (self.free, self.blocks.len());
        let width = (free * (REACH + 1)).saturating_sub(1);
        let stride = width + 1;
        relaxed.clear();
        slopes[..n].iter().for_each(|slopes| relaxed.extend_from_slice(&slopes[GIVEN..][..free]));
        let rows = relaxed.len();
        for r in 0..rows {
            let row = &self.factor[r * stride..][..stride];
            let first = r.saturating_sub(width);
            let (done, own) = relaxed.split_at_mut(r);
            let sum: f64 = row[width + first - r..width].iter().zip(&done[first..]).map(|(l, x)| l * x).sum();
            own[0] = (own[0] - sum) * row[width];
        }
        for r in (0..rows).rev() {
            let row = &self.factor[r * stride..][..stride];
            let first = r.saturating_sub(width);
            let (before, own) = relaxed.split_at_mut(r);
            own[0] *= row[width];
            let last = own[0];
            before[first..].iter_mut().zip(&row[width + first - r..width]).for_each(|(x, l)| *x -= l * last);
        }
        for (i, coefficients) in coefficients[..n].iter_mut().enumerate() {
            for p in 0..free {
                coefficients[GIVEN + p] = -relaxed[free * i + p];
            }
        }
    }

    /// H v in the place of v.
    pub fn multiply(&self, work: &mut LeastWork, v: &mut [f64]) {
        let n = self.blocks.len();
        let LeastWork { coefficients, slopes, relaxed, .. } = work;
        for side in [&mut *coefficients, &mut *slopes] {
            side.clear();
            side.resize(n + REACH, [0.0; KINDS]);
        }
        // g = N^-1 v
        let mut last = [0.0; GIVEN];
        for (i, (row, [pivot, _])) in self.at_rays.iter().zip(&self.pivots).enumerate() {
            last = from_fn(|p| (v[GIVEN * i + p] - row[0] * last[p]) * pivot);
            coefficients[i][..GIVEN].copy_from_slice(&last);
        }
        for i in (0..n).rev() {
            let share = self.pivots[i][1];
            last = from_fn(|p| coefficients[i][p] - if i + 1 < n { share * last[p] } else { 0.0 });
            coefficients[i][..GIVEN].copy_from_slice(&last);
        }
        add_product(&self.blocks, coefficients, slopes);
        self.relax(slopes, relaxed, coefficients);
        slopes.fill([0.0; KINDS]);
        add_product(&self.blocks, coefficients, slopes);
        // N^-T of the slopes by g
        let (mut last, mut share) = ([0.0; GIVEN], 0.0);
        for (slopes, pivot) in slopes.iter_mut().zip(&self.pivots) {
            last = from_fn(|p| slopes[p] - share * last[p]);
            slopes[..GIVEN].copy_from_slice(&last);
            share = pivot[1];
        }
        let (mut last, mut before) = ([0.0; GIVEN], 0.0);
        for i in (0..n).rev() {
            last = from_fn(|p| (slopes[i][p] - before * last[p]) * self.pivots[i][0]);
            v[GIVEN * i..][..GIVEN].copy_from_slice(&last);
            before = self.at_rays[i][0];
        }
    }

    /// H^-1 by rows, symmetric, where all profiles are free.
    pub fn invert(&self, work: &mut LeastWork, out: &mut Vec<f64>) -> Option<()> {
        let (n, size) = (self.blocks.len(), GIVEN * self.blocks.len());
        let LeastWork { left, near, far, shares, row: product, .. } = work;
        left.clear();
        left.extend(self.blocks.iter().map(|row| row.map(|block| from_fn(|p| from_fn(|q| block[p * KINDS + q])))));
        left.resize(n + REACH, [[[0.0; KINDS]; KINDS]; REACH + 1]);
        near.clear();
        near.resize(n + REACH, [[[0.0; KINDS]; KINDS]; REACH + 1]);
        if !eliminate(n, left, near) {
            return None;
        }
        invert_near(n, left, near);
        // all but the rows beyond the last spline is written before it is read
        far.resize(KINDS * (n + REACH) * size, 0.0);
        far[KINDS * n * size..].fill(0.0);
        for i in (0..n).rev() {
            let (share, own) = (&left[i], &near[i]);
            let (here, done) = far[KINDS * i * size..].split_at_mut(KINDS * size);
            for (p, here) in here.chunks_exact_mut(size).enumerate() {
                for (d, own) in own.iter().enumerate().take(n - i) {
                    here[GIVEN * (i + d)..][..GIVEN].copy_from_slice(&own[p][..GIVEN]);
                }
                let from = GIVEN * (i + REACH + 1);
                if from < size {
                    let shares: [f64; REACH * KINDS] = from_fn(|k| share[1 + k / KINDS][p][k % KINDS]);
                    here[from..].fill(0.0);
                    subtract_rows(&shares, &done[from..], size, &mut here[from..]);
                }
            }
        }
        self.to_values(far, shares, product, out);
        out.iter().all(|x| x.is_finite()).then_some(())
    }

    /// N (S^-1)_gg N^T; `far` has the upper triangle.
    fn to_values(&self, far: &mut [f64], shares: &mut [Vec<f64>; 3], product: &mut Vec<f64>, out: &mut Vec<f64>) {
        let (n, size) = (self.blocks.len(), GIVEN * self.blocks.len());
        // rows of g, the lower triangle as far as a neighbour's row needs it
        for i in 0..n {
            for j in (i + 1)..(i + 3).min(n) {
                for p in 0..GIVEN {
                    for q in 0..GIVEN {
                        far[(KINDS * j + q) * size + GIVEN * i + p] = far[(KINDS * i + p) * size + GIVEN * j + q];
                    }
                }
            }
        }
        for (k, side) in shares.iter_mut().enumerate() {
            side.clear();
            side.extend(self.at_rays.iter().enumerate().flat_map(|(i, row)| {
                let within = i + k > 0 && i + k < n + 1;
                [if within { row[k] } else { 0.0 }; GIVEN]
            }));
        }
        out.clear();
        out.resize(size * size, 0.0);
        for i in 0..n {
            let from = GIVEN * i.saturating_sub(1);
            for p in 0..GIVEN {
                // a pair of zeros on either side
                product.clear();
                product.resize(size + 2 * GIVEN, 0.0);
                for (k, share) in self.at_rays[i].iter().enumerate().filter(|(k, _)| i + k > 0 && i + k < n + 1) {
                    let row = &far[(KINDS * (i + k - 1) + p) * size..][..size];
                    subtract_rows(&[-share], &row[from..], size, &mut product[GIVEN + from..GIVEN + size]);
                }
                let first = GIVEN * i;
                let into = &mut out[(GIVEN * i + p) * size + first..][..size - first];
                let sides = [0, 1, 2].map(|k| (&shares[k][first..], &product[first + GIVEN * k..]));
                for (share, values) in sides {
                    for ((into, share), value) in into.iter_mut().zip(share).zip(values) {
                        *into += share * value;
                    }
                }
            }
        }
        mirror(size, out);
    }
}

/// U in the place of the first `n` rows of blocks of a symmetric matrix, and D^-1; whether it is positive definite.
#[multiversion(targets("x86_64+avx2"))]
fn eliminate(n: usize, left: &mut [[Square; REACH + 1]], near: &mut [[Square; REACH + 1]]) -> bool {
    for i in 0..n {
        let row = left[i];
        let Some(inverse) = inverse(&row[0]) else { return false };
        for d in 1..=REACH {
            left[i][d] = times(&inverse, &row[d]);
        }
        for d in 1..=REACH {
            let turned = transposed(&row[d]);
            for e in d..=REACH {
                let share = left[i][e];
                subtract_product(&turned, &share, &mut left[i + d][e - d]);
            }
        }
        near[i][0] = inverse;
    }
    true
}

/// Blocks of the inverse by the diagonal from U and D^-1.
#[multiversion(targets("x86_64+avx2"))]
fn invert_near(n: usize, share: &[[Square; REACH + 1]], near: &mut [[Square; REACH + 1]]) {
    for i in (0..n).rev() {
        let mut own = [[[0.0; KINDS]; KINDS]; REACH + 1];
        for d in 1..=REACH {
            for k in 1..=REACH {
                let with = if k <= d { near[i + k][d - k] } else { transposed(&near[i + d][k - d]) };
                subtract_product(&share[i][k], &with, &mut own[d]);
            }
        }
        own[0] = near[i][0];
        for k in 1..=REACH {
            let with = transposed(&own[k]);
            subtract_product(&share[i][k], &with, &mut own[0]);
        }
        // what is not symmetric in a block grows from row to row, 2.5 times with each
        let turned = transposed(&own[0]);
        own[0] = from_fn(|p| from_fn(|q| 0.5 * (own[0][p][q] + turned[p][q])));
        near[i] = own;
    }
}

/// Add the product of a symmetric matrix of blocks `[i][d]` to `out`, both longer by `REACH`.
#[multiversion(targets("x86_64+avx2"))]
fn add_product(blocks: &[[Block; REACH + 1]], x: &[Four], out: &mut [Four]) {
    for (i, row) in blocks.iter().enumerate() {
        let (near, out) = (&x[i..=i + REACH], &mut out[i..=i + REACH]);
        let own = near[0];
        let mut sum = out[0];
        for d in 0..=REACH {
            for (p, sum) in sum.iter_mut().enumerate() {
                for q in 0..KINDS {
                    *sum += row[d][p * KINDS + q] * near[d][q];
                }
            }
        }
        out[0] = sum;
        for d in 1..=REACH {
            for (p, own) in own.iter().enumerate() {
                for q in 0..KINDS {
                    out[d][q] += row[d][p * KINDS + q] * own;
                }
            }
        }
    }
}

#[inline(always)]
fn times(a: &Square, b: &Square) -> Square {
    from_fn(|p| from_fn(|q| (a[p][0] * b[0][q] + a[p][1] * b[1][q]) + (a[p][2] * b[2][q] + a[p][3] * b[3][q])))
}

#[inline(always)]
fn transposed(a: &Square) -> Square {
    from_fn(|p| from_fn(|q| a[q][p]))
}

#[inline(always)]
fn subtract_product(a: &Square, b: &Square, from: &mut Square) {
    let product = times(a, b);
    for p in 0..KINDS {
        for q in 0..KINDS {
            from[p][q] -= product[p][q];
        }
    }
}

/// Inverse of a symmetric positive definite block, by Gauss and Jordan; none where it is not.
#[inline(always)]
fn inverse(a: &Square) -> Option<Square> {
    let (mut left, mut out) = (*a, [[0.0; KINDS]; KINDS]);
    (0..KINDS).for_each(|k| out[k][k] = 1.0);
    for k in 0..KINDS {
        let pivot = left[k][k];
        if !(pivot > 0.0 && pivot.is_finite()) {
            return None;
        }
        let below = 1.0 / pivot;
        let (row, side): (Four, Four) = (left[k].map(|x| x * below), out[k].map(|x| x * below));
        for i in (0..KINDS).filter(|i| *i != k) {
            let share = left[i][k];
            for q in 0..KINDS {
                left[i][q] -= share * row[q];
                out[i][q] -= share * side[q];
            }
        }
        (left[k], out[k]) = (row, side);
    }
    // as symmetric as the block
    Some(from_fn(|p| from_fn(|q| 0.5 * (out[p][q] + out[q][p]))))
}

/// Writes the upper triangle into the lower one too.
fn mirror(size: usize, out: &mut [f64]) {
    for p in 1..size {
        let (above, row) = out.split_at_mut(p * size);
        for (above, x) in above.chunks_exact(size).zip(&mut row[..p]) {
            *x = above[p];
        }
    }
}
