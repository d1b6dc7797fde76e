//! LU factorisation of a banded matrix without exchange of rows, and its solves for one or many right sides.
//!
//! Equation: P x = r with `P[i][i-b..=i+b]` stored by rows, `WIDTH` = 2 b + 1 entries each.
//! Source: elimination without exchange of rows is common practice, no source.
//! Holds for: matrices whose pivots do not vanish in that order. A pivot that is nothing beside its row is reported.
//! Checked against nalgebra's dense LU.

use super::pentadiagonal::BadPivot;
use multiversion::multiversion;

/// A pivot of less than this share of the largest entry of its row is none.
const LEAST_PIVOT: f64 = 1e-13;

/// A square matrix with `WIDTH` diagonals; entry `k` of row `i` stands in column i + k - WIDTH/2.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Banded<const WIDTH: usize> {
    rows: Vec<[f64; WIDTH]>,
}

impl<const WIDTH: usize> Banded<WIDTH> {
    const HALF: usize = WIDTH / 2;

    /// `n` rows of zeros.
    pub fn reset(&mut self, n: usize) {
        self.rows.clear();
        self.rows.resize(n, [0.0; WIDTH]);
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// True if there are no rows.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The entry in row `i` and column `j`, which must lie within the band.
    pub fn entry(&mut self, i: usize, j: usize) -> &mut f64 {
        &mut self.rows[i][j + Self::HALF - i]
    }

    /// The value of that entry.
    pub fn at(&self, i: usize, j: usize) -> f64 {
        self.rows[i][j + Self::HALF - i]
    }

    /// Multiply by `share`.
    pub fn scale(&mut self, share: f64) {
        self.rows.iter_mut().flatten().for_each(|p| *p *= share);
    }

    /// Replace a row by that of the identity (a prescribed unknown).
    pub fn pin(&mut self, row: usize) {
        self.rows[row] = [0.0; WIDTH];
        self.rows[row][Self::HALF] = 1.0;
    }

    /// Add the product with `x`, times `scale`, to `out`.
    pub fn add_product(&self, x: &[f64], scale: f64, out: &mut [f64]) {
        let (n, half) = (self.len(), Self::HALF);
        for (i, (row, out)) in self.rows.iter().zip(out).enumerate() {
            let sum = if i >= half && i + half < n {
                let x = &x[i - half..][..WIDTH];
                let mut lanes = [0.0; 4];
                for k in 0..WIDTH {
                    lanes[k % 4] += row[k] * x[k];
                }
                (lanes[0] + lanes[1]) + (lanes[2] + lanes[3])
            } else {
                let (from, to) = (i.saturating_sub(half), (i + half + 1).min(n));
                row[from + half - i..to + half - i].iter().zip(&x[from..to]).map(|(p, x)| p * x).sum::<f64>()
            };
            *out += scale * sum;
        }
    }

    /// Factor in place into L U, pivots kept inverted and the rows of U over theirs.
    pub fn factor(&mut self) -> Result<(), BadPivot> {
        let (n, half) = (self.len(), Self::HALF);
        for k in 0..n {
            let pivot = self.rows[k];
            let largest = pivot.iter().fold(0.0f64, |m, p| m.max(p.abs()));
            // written so that a NaN is refused too
            if !(pivot[half].abs() > LEAST_PIVOT * largest && largest.is_finite()) {
                return Err(BadPivot { row: k });
            }
            let inverse = 1.0 / pivot[half];
            self.rows[k][half] = inverse;
            self.rows[k][half + 1..].iter_mut().for_each(|p| *p *= inverse);
            for step in 1..=half.min(n - 1 - k) {
                let row = &mut self.rows[k + step];
                let share = row[half - step] * inverse;
                row[half - step] = share;
                for (p, above) in row[half - step + 1..].iter_mut().zip(&pivot[half + 1..]) {
                    *p -= share * above;
                }
            }
        }
        Ok(())
    }

    /// Solve in place; the matrix must be factored.
    pub fn solve(&self, r: &mut [f64]) {
        let half = Self::HALF;
        // the last `half` values, the nearest first; only its term is waited for
        let mut last = [0.0; WIDTH];
        for (row, r) in self.rows.iter().zip(r.iter_mut()) {
            let mut own = *r;
            for k in (0..WIDTH / 2).rev() {
                own -= row[WIDTH / 2 - 1 - k] * last[k];
            }
            for k in (1..WIDTH / 2).rev() {
                last[k] = last[k - 1];
            }
            (last[0], *r) = (own, own);
        }
        last.fill(0.0);
        for (row, r) in self.rows.iter().zip(r.iter_mut()).rev() {
            let mut own = *r * row[half];
            for k in (0..WIDTH / 2).rev() {
                own -= row[WIDTH / 2 + 1 + k] * last[k];
            }
            for k in (1..WIDTH / 2).rev() {
                last[k] = last[k - 1];
            }
            (last[0], *r) = (own, own);
        }
    }

    /// Solve in place for `many` right sides at once, those of one row beside each other; of row `i` the first
    /// `reached[i]`, which never fall, may be other than 0 before.
    pub fn solve_many(&self, many: usize, reached: &[usize], r: &mut [f64]) {
        let (n, half) = (self.len(), Self::HALF);
        for i in 1..n {
            let from = i.saturating_sub(half);
            let (done, own) = r.split_at_mut(i * many);
            subtract_rows(&self.rows[i][from + half - i..half], &done[from * many..], many, &mut own[..reached[i]]);
        }
        for i in (0..n).rev() {
            let to = (i + half + 1).min(n);
            let (own, done) = r.split_at_mut((i + 1) * many);
            let own = &mut own[i * many..];
            let inverse = self.rows[i][half];
            own[..reached[i]].iter_mut().for_each(|x| *x *= inverse);
            subtract_rows(&self.rows[i][half + 1..to + half - i], done, many, own);
        }
    }
}

/// y -= sum of shares times rows, which begin `stride` apart; four rows at a time, so that y is seldom fetched.
#[multiversion(targets("x86_64+avx2"))]
pub fn subtract_rows(shares: &[f64], rows: &[f64], stride: usize, y: &mut [f64]) {
    let n = y.len();
    let fours = shares.chunks_exact(4);
    let rest = fours.remainder();
    let mut from = 0;
    for s in fours {
        let a = &rows[from..][..n];
        let b = &rows[from + stride..][..n];
        let c = &rows[from + 2 * stride..][..n];
        let d = &rows[from + 3 * stride..][..n];
        let s = [s[0], s[1], s[2], s[3]];
        for i in 0..n {
            y[i] -= (s[0] * a[i] + s[1] * b[i]) + (s[2] * c[i] + s[3] * d[i]);
        }
        from += 4 * stride;
    }
    for s in rest {
        let a = &rows[from..][..n];
        for i in 0..n {
            y[i] -= s * a[i];
        }
        from += stride;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};

    // Against nalgebra's dense LU, one and three right sides, with entries of both signs and a diagonal that
    // does not dominate.
    #[test]
    fn solves_agree_with_dense_ones() {
        for n in [1, 2, 4, 9, 30] {
            let mut banded = Banded::<7>::default();
            banded.reset(n);
            let mut dense = DMatrix::zeros(n, n);
            for i in 0..n {
                for j in i.saturating_sub(3)..(i + 4).min(n) {
                    let own = if i == j { 2.5 } else { 0.0 };
                    let value = own + (1.3 * i as f64 + 2.1 * j as f64).sin();
                    *banded.entry(i, j) = value;
                    dense[(i, j)] = value;
                }
            }
            let right = DMatrix::from_fn(n, 3, |i, k| (0.7 * i as f64 - k as f64).cos());
            let mut product = vec![0.0; n];
            banded.add_product(right.column(0).as_slice(), 2.0, &mut product);
            let exact = &dense * right.column(0) * 2.0;
            assert!((DVector::from_vec(product) - exact).norm() < 1e-12);
            let exact = dense.lu().solve(&right).expect("regular");
            banded.factor().expect("regular");
            let mut many: Vec<f64> = (0..n).flat_map(|i| (0..3).map(move |k| (i, k))).map(|at| right[at]).collect();
            banded.solve_many(3, &vec![3; n], &mut many);
            for k in 0..3 {
                let mut one: Vec<f64> = right.column(k).iter().copied().collect();
                banded.solve(&mut one);
                for i in 0..n {
                    approx::assert_relative_eq!(one[i], exact[(i, k)], epsilon = 1e-10, max_relative = 1e-9);
                    approx::assert_relative_eq!(many[3 * i + k], exact[(i, k)], epsilon = 1e-10, max_relative = 1e-9);
                }
            }
        }
    }

    #[test]
    fn a_pivot_that_vanishes_or_is_no_number_is_reported() {
        for bad in [0.0, f64::NAN] {
            let mut banded = Banded::<3>::default();
            banded.reset(3);
            (0..3).for_each(|i| *banded.entry(i, i) = 1.0);
            *banded.entry(0, 1) = 1.0;
            *banded.entry(1, 0) = 1.0;
            *banded.entry(1, 1) = if bad == 0.0 { 1.0 } else { bad };
            assert_eq!(banded.factor(), Err(BadPivot { row: 1 }));
        }
    }
}
