//! Factors of a dense matrix, eight rows at a time: LU with exchange of rows, and of a symmetric positive definite
//! one from its upper triangle.
//!
//! Equation: P A = L U; A = U^T D U where A is symmetric.
//! Symbols: m rows of m columns; cost m^3/3, half of it for a symmetric one.
//! Source: elimination by blocks of rows is common practice, no source.
//! Holds for: regular matrices, and definite ones where they are symmetric; another is reported. Checked against
//! nalgebra's dense LU.

use super::banded::subtract_rows;
use super::pentadiagonal::BadPivot;
use multiversion::multiversion;

/// Rows that are eliminated at once.
const AT_ONCE: usize = 8;

/// A square matrix.
#[derive(Debug, Clone, Default)]
pub struct Dense {
    symmetric: bool,
    size: usize,
    rows: Vec<f64>,
    /// With which row each was exchanged.
    order: Vec<usize>,
    inverse_pivots: Vec<f64>,
    panel: Vec<f64>,
}

impl Dense {
    /// Begin with the `m` x `m` matrix of these rows, which may be changed until [`Dense::factor`]; of a
    /// symmetric one the upper triangle counts.
    pub fn reset(&mut self, symmetric: bool, rows: &[f64], m: usize) -> &mut [f64] {
        (self.symmetric, self.size) = (symmetric, m);
        self.rows.clear();
        self.rows.extend_from_slice(rows);
        &mut self.rows
    }

    /// Factor in place.
    pub fn factor(&mut self) -> Result<(), BadPivot> {
        self.order.clear();
        self.inverse_pivots.clear();
        for first in (0..self.size).step_by(AT_ONCE) {
            let until = (first + AT_ONCE).min(self.size);
            if self.symmetric { self.eliminate_definite(first, until)? } else { self.eliminate(first, until)? }
        }
        Ok(())
    }

    /// The columns from `first` to `until`.
    fn eliminate(&mut self, first: usize, until: usize) -> Result<(), BadPivot> {
        let (m, a, wide) = (self.size, &mut self.rows, until - first);
        // the columns, each in line, from row `first` on
        let high = m - first;
        self.panel.clear();
        self.panel.resize(AT_ONCE * high, 0.0);
        for (i, row) in a[first * m..].chunks_exact(m).enumerate() {
            for (c, x) in row[first..until].iter().enumerate() {
                self.panel[c * high + i] = *x;
            }
        }
        for k in 0..wide {
            let column = &self.panel[k * high..][..high];
            let (mut best, mut most) = (k, -1.0);
            for (i, x) in column.iter().enumerate().skip(k) {
                if x.abs() > most {
                    (best, most) = (i, x.abs());
                }
            }
            // written so that a NaN is refused too
            if !(most > 0.0 && most.is_finite()) {
                return Err(BadPivot { row: first + k });
            }
            self.order.push(first + best);
            if best != k {
                self.panel.chunks_exact_mut(high).for_each(|column| column.swap(k, best));
                let (above, below) = a.split_at_mut((first + best) * m);
                above[(first + k) * m..][..m].swap_with_slice(&mut below[..m]);
            }
            let (done, later) = self.panel.split_at_mut((k + 1) * high);
            let column = &mut done[k * high..];
            let inverse = 1.0 / column[k];
            self.inverse_pivots.push(inverse);
            column[k + 1..].iter_mut().for_each(|x| *x *= inverse);
            for other in later.chunks_exact_mut(high).take(wide - k - 1) {
                let share = other[k];
                subtract_rows(&[share], &column[k + 1..], high, &mut other[k + 1..]);
            }
        }
        let rest = m - until;
        for i in 0..high {
            let (above, row) = a[first * m..].split_at_mut(i * m);
            let mut own = [0.0; AT_ONCE];
            for (c, own) in own[..wide].iter_mut().enumerate() {
                *own = self.panel[c * high + i];
            }
            row[first..until].copy_from_slice(&own[..wide]);
            let shares = &own[..wide.min(i)];
            if rest > 0 && i > 0 {
                subtract_rows(shares, &above[until..], m, &mut row[until..m]);
            }
        }
        Ok(())
    }

    /// The rows from `first` to `until` of a symmetric matrix, above the diagonal.
    fn eliminate_definite(&mut self, first: usize, until: usize) -> Result<(), BadPivot> {
        let (m, a) = (self.size, &mut self.rows);
        for i in first..m {
            let (above, row) = a.split_at_mut(i * m);
            let to = until.min(i);
            let mut shares = [0.0; AT_ONCE];
            for k in first..to {
                shares[k - first] = above[k * m + i] * self.inverse_pivots[k];
            }
            if to > first {
                subtract_rows(&shares[..to - first], &above[first * m + i..], m, &mut row[i..m]);
            }
            if i < until {
                let pivot = row[i];
                if !(pivot > 0.0 && pivot.is_finite()) {
                    return Err(BadPivot { row: i });
                }
                self.inverse_pivots.push(1.0 / pivot);
            }
        }
        Ok(())
    }

    /// Solve in place; the matrix must be factored.
    pub fn solve(&self, r: &mut [f64]) {
        let (m, a) = (self.size, &self.rows[..]);
        if self.symmetric {
            forward_definite(m, a, &self.inverse_pivots, r);
        } else {
            for (k, with) in self.order.iter().enumerate() {
                r.swap(k, *with);
            }
            forward(m, a, r);
        }
        back(m, a, &self.inverse_pivots, r);
    }
}

/// With L.
#[multiversion(targets("x86_64+avx2"))]
fn forward(m: usize, a: &[f64], r: &mut [f64]) {
    for k in 1..m {
        r[k] -= in_lanes(&a[k * m..][..k], &r[..k]);
    }
}

/// With U^T.
#[multiversion(targets("x86_64+avx2"))]
fn forward_definite(m: usize, a: &[f64], inverse_pivots: &[f64], r: &mut [f64]) {
    for k in 0..m {
        let (done, rest) = r.split_at_mut(k + 1);
        let (share, n) = (done[k] * inverse_pivots[k], rest.len());
        let row = &a[k * m + k + 1..][..n];
        for i in 0..n {
            rest[i] -= share * row[i];
        }
    }
}

/// With U or D U.
#[multiversion(targets("x86_64+avx2"))]
fn back(m: usize, a: &[f64], inverse_pivots: &[f64], r: &mut [f64]) {
    for k in (0..m).rev() {
        r[k] = (r[k] - in_lanes(&a[k * m + k + 1..(k + 1) * m], &r[k + 1..m])) * inverse_pivots[k];
    }
}

/// Sum of products, in eight lanes since a sum in order cannot be split.
#[multiversion(targets("x86_64+avx2"))]
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    in_lanes(a, b)
}

#[inline(always)]
fn in_lanes(a: &[f64], b: &[f64]) -> f64 {
    let mut lanes = [0.0; 8];
    let (a, b) = (a.chunks_exact(8), b.chunks_exact(8));
    let rest: f64 = a.remainder().iter().zip(b.remainder()).map(|(a, b)| a * b).sum();
    for (a, b) in a.zip(b) {
        for k in 0..8 {
            lanes[k] += a[k] * b[k];
        }
    }
    let [a, b, c, d, e, f, g, h] = lanes;
    ((a + e) + (b + f)) + ((c + g) + (d + h)) + rest
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};

    // Against nalgebra's dense LU: sizes that are and are no multiples of the rows at once; rows that have to be
    // exchanged; definite ones, of which the lower triangle is not looked at.
    #[test]
    fn solves_agree_with_nalgebra() {
        for m in [1, 3, 4, 9, 30] {
            let any = DMatrix::from_fn(m, m, |i, j| {
                if i == j && m > 1 { 0.0 } else { (1.3 + 2.1 * i as f64 + 3.7 * (j * j) as f64).sin() }
            });
            let definite = &any * any.transpose() + DMatrix::identity(m, m);
            let right = DVector::from_fn(m, |i, _| (0.7 * i as f64).cos());
            for (symmetric, matrix) in [(false, any), (true, definite)] {
                let exact = matrix.clone().lu().solve(&right).expect("regular");
                let entry = |at: usize| if symmetric && at / m > at % m { f64::NAN } else { matrix[(at / m, at % m)] };
                let rows: Vec<f64> = (0..m * m).map(entry).collect();
                let (mut dense, mut found) = (Dense::default(), right.as_slice().to_vec());
                dense.reset(symmetric, &rows, m);
                dense.factor().expect("regular");
                dense.solve(&mut found);
                for (ours, exact) in found.iter().zip(exact.iter()) {
                    approx::assert_relative_eq!(*ours, *exact, epsilon = 1e-10, max_relative = 1e-9);
                }
            }
        }
    }

    #[test]
    fn a_matrix_that_is_singular_indefinite_or_no_number_is_reported() {
        for (symmetric, rows) in
            [(false, [1.0, 2.0, 2.0, 4.0]), (true, [1.0, 2.0, 2.0, 3.0]), (false, [1.0, 0.0, 0.0, f64::NAN])]
        {
            let mut dense = Dense::default();
            dense.reset(symmetric, &rows, 2);
            assert_eq!(dense.factor(), Err(BadPivot { row: 1 }));
        }
    }
}
