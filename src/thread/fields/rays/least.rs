//! The least of a quadratic form over some of its unknowns.
//!
//! Equation: with the form [[G, K^T], [K, C]] in (g, c), the least over c is g^T (G - Y^T Y) g, Y = L^-1 K, C = L L^T.
//! Values at the rays are v = N g, so that the form in them is N^-T (G - Y^T Y) N^-1.
//! Symbols: g the coefficients of psi_0 and psi_1, c those of the free profiles, spline by spline; L a banded lower
//! triangle, N tridiagonal.
//! Source: elementary (Schur's complement by Cholesky's factors).
//! Holds for: a form that is positive definite in c; else the answer is none.

use super::operator::{Block, KINDS};
use multiversion::multiversion;

/// Given values at a ray: psi_0 and psi_1.
pub const GIVEN: usize = 2;
/// Splines that overlap one on either side.
const REACH: usize = 3;

/// Buffers.
#[derive(Debug, Clone, Default)]
pub struct Least {
    /// L by rows, `width` entries before the diagonal and it.
    factor: Vec<f64>,
    /// Y by rows.
    y: Vec<f64>,
    turned: Vec<f64>,
}

impl Least {
    /// The least over the first `free` of the free profiles, the others 0, of a form of blocks `[i][d]` that join
    /// splines i and i + d, as a matrix in the values at the rays (psi_0, psi_1 of the first, of the second, ...), by
    /// rows.
    pub fn over(&mut self, blocks: &[[Block; 4]], at_rays: &[[f64; 3]], free: usize, out: &mut Vec<f64>) -> Option<()> {
        let (splines, free) = (blocks.len(), free.min(KINDS - GIVEN));
        let size = GIVEN * splines;
        out.clear();
        out.resize(size * size, 0.0);
        for (i, row) in blocks.iter().enumerate() {
            for (d, block) in row.iter().enumerate().take(splines - i) {
                for p in 0..GIVEN {
                    for q in 0..GIVEN {
                        // lower triangle
                        out[(GIVEN * (i + d) + q) * size + GIVEN * i + p] = block[p * KINDS + q];
                    }
                }
            }
        }
        if free > 0 {
            self.factor(blocks, free)?;
            self.reduce(blocks, free, size);
            let y = &self.y[..free * splines * size];
            subtract_squares(y, free, size, out);
        }
        mirror(size, out);
        to_values(at_rays, size, out)?;
        self.turned.clear();
        self.turned.extend_from_slice(out);
        turn(&self.turned, size, out);
        to_values(at_rays, size, out)?;
        mirror(size, out);
        Some(())
    }

    /// Cholesky's factor of C; its diagonal is kept inverted.
    fn factor(&mut self, blocks: &[[Block; 4]], free: usize) -> Option<()> {
        let (rows, width) = (free * blocks.len(), free * (REACH + 1) - 1);
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
            for c in first..=r {
                let mut sum = self.factor[r * stride + width + c - r];
                for k in first.max(c.saturating_sub(width))..c {
                    sum -= self.factor[r * stride + width + k - r] * self.factor[c * stride + width + k - c];
                }
                self.factor[r * stride + width + c - r] = if c < r {
                    sum * self.factor[c * stride + width]
                } else if sum > 0.0 && sum.is_finite() {
                    1.0 / sum.sqrt()
                } else {
                    return None;
                };
            }
        }
        Some(())
    }

    /// Y = L^-1 K.
    fn reduce(&mut self, blocks: &[[Block; 4]], free: usize, size: usize) {
        let (splines, width) = (blocks.len(), free * (REACH + 1) - 1);
        let stride = width + 1;
        self.y.clear();
        self.y.resize(free * splines * size, 0.0);
        for (i, row) in blocks.iter().enumerate() {
            for (d, block) in row.iter().enumerate().take(splines - i) {
                for p in 0..free {
                    for q in 0..GIVEN {
                        self.y[(free * i + p) * size + GIVEN * (i + d) + q] = block[(GIVEN + p) * KINDS + q];
                        self.y[(free * (i + d) + p) * size + GIVEN * i + q] = block[q * KINDS + GIVEN + p];
                    }
                }
            }
        }
        for r in 0..free * splines {
            let (before, here) = self.y.split_at_mut(r * size);
            let factor = &self.factor[r * stride..][..stride];
            let first = r.saturating_sub(width);
            for k in first..r {
                let until = reached(k, free, size);
                add_scaled(&before[k * size..][..until], -factor[width + k - r], &mut here[..until]);
            }
            scale(&mut here[..reached(r, free, size)], factor[width]);
        }
    }
}

/// Columns of row `r` of Y that may be other than 0.
fn reached(r: usize, free: usize, size: usize) -> usize {
    (GIVEN * (r / free + REACH + 1)).min(size)
}

#[multiversion(targets("x86_64+avx2"))]
fn add_scaled(x: &[f64], by: f64, into: &mut [f64]) {
    let n = x.len().min(into.len());
    let (x, into) = (&x[..n], &mut into[..n]);
    for i in 0..n {
        into[i] += by * x[i];
    }
}

#[multiversion(targets("x86_64+avx2"))]
fn scale(x: &mut [f64], by: f64) {
    x.iter_mut().for_each(|x| *x *= by);
}

/// Lower triangle of out - Y^T Y.
#[multiversion(targets("x86_64+avx2"))]
fn subtract_squares(y: &[f64], free: usize, size: usize, out: &mut [f64]) {
    let rows = y.len() / size;
    for p in 0..size {
        let into = &mut out[p * size..][..=p];
        let n = into.len();
        let mut r = free * (p / GIVEN).saturating_sub(REACH);
        while r + 4 <= rows {
            let [a, b, c, d] = [0, 1, 2, 3].map(|k| &y[(r + k) * size..][..size]);
            let by = [a[p], b[p], c[p], d[p]];
            let (a, b, c, d) = (&a[..n], &b[..n], &c[..n], &d[..n]);
            for q in 0..n {
                into[q] -= (by[0] * a[q] + by[1] * b[q]) + (by[2] * c[q] + by[3] * d[q]);
            }
            r += 4;
        }
        for r in r..rows {
            let row = &y[r * size..][..size];
            let by = row[p];
            let row = &row[..n];
            for q in 0..n {
                into[q] -= by * row[q];
            }
        }
    }
}

/// Solves N^T x = rows for all columns, the rows of a ray's two values side by side.
fn to_values(at_rays: &[[f64; 3]], size: usize, x: &mut [f64]) -> Option<()> {
    let (n, wide) = (at_rays.len(), GIVEN * size);
    // N^T: the entry before the diagonal of row i is N's after that of row i - 1
    let mut share = 0.0;
    let mut pivots = [0.0; 2 * super::MOST];
    for i in 0..n {
        let before = if i > 0 { at_rays[i - 1][2] } else { 0.0 };
        let pivot = 1.0 / (at_rays[i][1] - before * share);
        if !pivot.is_finite() {
            return None;
        }
        pivots[i] = pivot;
        let (done, here) = x.split_at_mut(i * wide);
        let here = &mut here[..wide];
        if i > 0 {
            add_scaled(&done[(i - 1) * wide..], -before, here);
        }
        scale(here, pivot);
        share = if i + 1 < n { at_rays[i + 1][0] * pivot } else { 0.0 };
    }
    for i in (0..n.saturating_sub(1)).rev() {
        let (here, done) = x.split_at_mut((i + 1) * wide);
        add_scaled(&done[..wide], -at_rays[i + 1][0] * pivots[i], &mut here[i * wide..]);
    }
    Some(())
}

fn turn(from: &[f64], size: usize, to: &mut [f64]) {
    for (p, to) in to.chunks_exact_mut(size).enumerate() {
        for (to, row) in to.iter_mut().zip(from.chunks_exact(size)) {
            *to = row[p];
        }
    }
}

/// Writes the lower triangle into the upper one too.
fn mirror(size: usize, out: &mut [f64]) {
    for p in 1..size {
        let (above, row) = out.split_at_mut(p * size);
        for (above, x) in above.chunks_exact_mut(size).zip(&row[..p]) {
            above[p] = *x;
        }
    }
}
