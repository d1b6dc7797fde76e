//! LU factorisation of a pentadiagonal matrix without pivoting, from both ends at once, and its solves.
//!
//! Equation: P x = r with `P[i][i-2..=i+2]` stored in five arrays. Rows 0, 1, ... are eliminated downward and rows n-1, n-2, ...
//! upward in the same loop; the two or three rows in the middle that are left couple to each other only and are solved
//! densely. One recurrence waits for its own last result at every row; two that know nothing of each other share the wait.
//! Source: elimination from both ends ("twisted factorisation") is common practice, no source.
//! Holds for: matrices whose pivots stay positive in that order (mass matrix plus a stable, stiff part over a small step).
//! A pivot that is not positive is reported: the caller then takes a smaller step. Checked against nalgebra's dense LU.

use multiversion::multiversion;

/// One value for the row counted from the top and one for the row counted from the bottom.
type Pair = [f64; 2];

/// Five diagonals of a square matrix; entry `k` of each belongs to row `k`.
#[derive(Debug, Clone, Default)]
pub struct Pentadiagonal {
    /// Column i-2.
    pub lower2: Vec<f64>,
    /// Column i-1.
    pub lower1: Vec<f64>,
    /// Column i.
    pub diag: Vec<f64>,
    /// Column i+1.
    pub upper1: Vec<f64>,
    /// Column i+2.
    pub upper2: Vec<f64>,
    /// Multipliers of the rows two and one nearer to the end.
    forward: Vec<[Pair; 2]>,
    /// Inverse pivot, and entries one and two further inward times it.
    backward: Vec<[Pair; 3]>,
    middle: Middle,
}

/// The rows that are left in the middle, factored: at most three, those missing are rows of the identity.
#[derive(Debug, Clone, Default)]
struct Middle {
    /// Multipliers of the last and last but one pair for the outermost and the next row at each side.
    outermost: [Pair; 2],
    next: Pair,
    /// Dense LU with inverse pivots.
    lu: [[f64; 3]; 3],
}

/// A pivot was not positive: the step is too long for a stable factorisation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BadPivot {
    /// Row in which it happened.
    pub row: usize,
}

/// A pivot and its inverse; written so that a NaN is refused too.
fn invert(pivot: f64, row: usize) -> Result<f64, BadPivot> {
    if pivot > 0.0 && pivot.is_finite() { Ok(1.0 / pivot) } else { Err(BadPivot { row }) }
}

/// Pairs that can be eliminated before two or three rows are left.
fn pairs(rows: usize) -> usize {
    rows.saturating_sub(2) / 2
}

impl Pentadiagonal {
    /// Give all diagonals `n` entries, whatever they hold.
    pub fn resize(&mut self, n: usize) {
        for band in [&mut self.lower2, &mut self.lower1, &mut self.diag, &mut self.upper1, &mut self.upper2] {
            band.resize(n, 0.0);
        }
    }

    /// Give all diagonals `n` entries, all zero.
    pub fn reset(&mut self, n: usize) {
        self.resize(n);
        for band in [&mut self.lower2, &mut self.lower1, &mut self.diag, &mut self.upper1, &mut self.upper2] {
            band.fill(0.0);
        }
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        self.diag.len()
    }

    /// True if there are no rows.
    pub fn is_empty(&self) -> bool {
        self.diag.is_empty()
    }

    /// Replace a row by that of the identity (a prescribed unknown).
    pub fn pin(&mut self, row: usize) {
        self.lower2[row] = 0.0;
        self.lower1[row] = 0.0;
        self.diag[row] = 1.0;
        self.upper1[row] = 0.0;
        self.upper2[row] = 0.0;
    }

    /// Add the product with `x`, times `scale`, to `out`.
    pub fn add_product(&self, x: &[f64], scale: f64, out: &mut [f64]) {
        let n = self.len();
        let bands = [&self.lower2, &self.lower1, &self.diag, &self.upper1, &self.upper2].map(|band| &band[..n]);
        if n < 5 {
            for i in 0..n {
                let row = (0..5).filter(|k| i + k >= 2 && i + k < n + 2).map(|k| bands[k][i] * x[i + k - 2]);
                out[i] += scale * row.sum::<f64>();
            }
            return;
        }
        let [l2, l1, d, u1, u2] = bands;
        out[0] += scale * (d[0] * x[0] + u1[0] * x[1] + u2[0] * x[2]);
        out[1] += scale * (l1[1] * x[0] + d[1] * x[1] + u1[1] * x[2] + u2[1] * x[3]);
        inner_product(bands, x, scale, &mut out[2..n - 2]);
        let i = n - 2;
        out[i] += scale * (l2[i] * x[i - 2] + l1[i] * x[i - 1] + d[i] * x[i] + u1[i] * x[i + 1]);
        let i = n - 1;
        out[i] += scale * (l2[i] * x[i - 2] + l1[i] * x[i - 1] + d[i] * x[i]);
    }

    /// Row `i` with its entries counted from the end it is eliminated from: two and one outward, own, one and two inward.
    #[inline(always)]
    fn both(&self, k: usize) -> [Pair; 5] {
        let i = self.len() - 1 - k;
        [
            [self.lower2[k], self.upper2[i]],
            [self.lower1[k], self.upper1[i]],
            [self.diag[k], self.diag[i]],
            [self.upper1[k], self.lower1[i]],
            [self.upper2[k], self.lower2[i]],
        ]
    }

    /// Factor: the diagonals stay, the factors are kept beside them.
    pub fn factor(&mut self) -> Result<(), BadPivot> {
        let n = self.len();
        let half = pairs(n);
        self.forward.clear();
        self.backward.clear();
        // (inverse pivot, entry one inward, entry two inward) of the last two pairs
        let (mut last, mut before) = ([[0.0; 2]; 3], [[0.0; 2]; 3]);
        for k in 0..half {
            let [o2, o1, own, mut i1, i2] = self.both(k);
            let (mut m2, mut m1, mut inverse) = ([0.0; 2], [0.0; 2], [0.0; 2]);
            for s in 0..2 {
                m2[s] = o2[s] * before[0][s];
                m1[s] = (o1[s] - m2[s] * before[1][s]) * last[0][s];
                let pivot = (own[s] - m2[s] * before[2][s]) - m1[s] * last[1][s];
                inverse[s] = invert(pivot, if s == 0 { k } else { n - 1 - k })?;
                i1[s] -= m1[s] * last[2][s];
            }
            self.forward.push([m2, m1]);
            let scaled = |x: Pair| [x[0] * inverse[0], x[1] * inverse[1]];
            self.backward.push([inverse, scaled(i1), scaled(i2)]);
            before = last;
            last = [inverse, i1, i2];
        }
        self.factor_middle(half, last, before)
    }

    /// Take the last pairs out of the rows in the middle and factor what is left.
    fn factor_middle(&mut self, half: usize, last: [Pair; 3], before: [Pair; 3]) -> Result<(), BadPivot> {
        let rows = self.len() - 2 * half;
        let mut m = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        for (r, row) in m.iter_mut().enumerate().take(rows) {
            let i = half + r;
            let band = [self.lower2[i], self.lower1[i], self.diag[i], self.upper1[i], self.upper2[i]];
            for (c, entry) in row.iter_mut().enumerate().take(rows) {
                *entry = band[c + 2 - r];
            }
        }
        if half > 0 {
            for s in 0..2 {
                // from each side: its outermost row of the middle, and the next one inward
                let (outer, inner) = if s == 0 { (0, 1) } else { (rows - 1, rows - 2) };
                let i = half + outer;
                let (o2, o1) = if s == 0 { (self.lower2[i], self.lower1[i]) } else { (self.upper2[i], self.upper1[i]) };
                let m2 = o2 * before[0][s];
                let m1 = (o1 - m2 * before[1][s]) * last[0][s];
                m[outer][outer] -= m2 * before[2][s] + m1 * last[1][s];
                m[outer][inner] -= m1 * last[2][s];
                let i = half + inner;
                let far = if s == 0 { self.lower2[i] } else { self.upper2[i] } * last[0][s];
                m[inner][outer] -= far * last[1][s];
                m[inner][inner] -= far * last[2][s];
                (self.middle.outermost[0][s], self.middle.outermost[1][s]) = (m2, m1);
                self.middle.next[s] = far;
            }
        }
        for k in 0..3 {
            m[k][k] = invert(m[k][k], half + k.min(rows - 1))?;
            for r in k + 1..3 {
                m[r][k] *= m[k][k];
                for c in k + 1..3 {
                    m[r][c] -= m[r][k] * m[k][c];
                }
            }
        }
        self.middle.lu = m;
        Ok(())
    }

    /// Solve in place with the factors.
    pub fn solve(&self, x: &mut [f64]) {
        let half = self.forward.len();
        let (top, rest) = x.split_at_mut(half);
        let (middle, bottom) = rest.split_at_mut(self.len() - 2 * half);
        let (mut last, mut before) = ([0.0; 2], [0.0; 2]);
        for ((factors, t), b) in self.forward.iter().zip(top.iter_mut()).zip(bottom.iter_mut().rev()) {
            let [m2, m1] = factors;
            // the last result enters last: the wait for it is one product and one sum
            let y = [(*t - m2[0] * before[0]) - m1[0] * last[0], (*b - m2[1] * before[1]) - m1[1] * last[1]];
            [*t, *b] = y;
            (before, last) = (last, y);
        }
        let known = self.solve_middle(middle, last, before);
        let ([mut last, mut before], pairs) = (known, top.iter_mut().rev().zip(bottom.iter_mut()));
        for (factors, (t, b)) in self.backward.iter().rev().zip(pairs) {
            let [p, i1, i2] = factors;
            let y =
                [(*t * p[0] - i2[0] * before[0]) - i1[0] * last[0], (*b * p[1] - i2[1] * before[1]) - i1[1] * last[1]];
            [*t, *b] = y;
            (before, last) = (last, y);
        }
    }

    /// Solve the rows in the middle; what each side sees of them: its nearest and the one behind.
    fn solve_middle(&self, x: &mut [f64], last: Pair, before: Pair) -> [Pair; 2] {
        let rows = x.len();
        let mut y = [0.0; 3];
        y[..rows].copy_from_slice(x);
        if !self.forward.is_empty() {
            let Middle { outermost: [m2, m1], next, .. } = &self.middle;
            y[0] -= m2[0] * before[0] + m1[0] * last[0];
            y[1] -= next[0] * last[0];
            y[rows - 1] -= m2[1] * before[1] + m1[1] * last[1];
            y[rows - 2] -= next[1] * last[1];
        }
        let m = &self.middle.lu;
        y[1] -= m[1][0] * y[0];
        y[2] -= m[2][0] * y[0] + m[2][1] * y[1];
        y[2] *= m[2][2];
        y[1] = (y[1] - m[1][2] * y[2]) * m[1][1];
        y[0] = (y[0] - m[0][1] * y[1] - m[0][2] * y[2]) * m[0][0];
        x.copy_from_slice(&y[..rows]);
        let inward = |k: usize| [y[k.min(rows - 1)], y[(rows - 1).saturating_sub(k)]];
        [inward(0), inward(1)]
    }
}

/// Rows 2..n-2 of a product.
#[multiversion(targets("x86_64+avx2"))]
fn inner_product(bands: [&[f64]; 5], x: &[f64], scale: f64, out: &mut [f64]) {
    let n = out.len();
    let [l2, l1, d, u1, u2] = bands.map(|band| &band[2..n + 2]);
    let [a, b, c, e, f] = [&x[..n], &x[1..=n], &x[2..n + 2], &x[3..n + 3], &x[4..n + 4]];
    for i in 0..n {
        let outer = l2[i] * a[i] + u2[i] * f[i];
        out[i] += scale * (outer + (l1[i] * b[i] + u1[i] * e[i]) + d[i] * c[i]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn reference_agrees_with_dense_lu_of_nalgebra() {
        (1..=12).chain([37, 500]).for_each(agrees_with_dense_lu);
    }

    fn agrees_with_dense_lu(n: usize) {
        let mut p = Pentadiagonal::default();
        p.reset(n);
        let mut dense = nalgebra::DMatrix::<f64>::zeros(n, n);
        for i in 0..n {
            let wave = |k: usize| ((3 * i + 7 * k) as f64).sin();
            p.diag[i] = 6.0 + wave(0);
            p.lower2[i] = if i >= 2 { wave(1) } else { 0.0 };
            p.lower1[i] = if i >= 1 { wave(2) } else { 0.0 };
            p.upper1[i] = if i + 1 < n { wave(3) } else { 0.0 };
            p.upper2[i] = if i + 2 < n { wave(4) } else { 0.0 };
            let row = [p.lower2[i], p.lower1[i], p.diag[i], p.upper1[i], p.upper2[i]];
            for (k, value) in row.into_iter().enumerate() {
                if i + k >= 2 && i + k - 2 < n {
                    dense[(i, i + k - 2)] = value;
                }
            }
        }
        let rhs: Vec<f64> = (0..n).map(|i| (i as f64).cos()).collect();
        let exact = dense.lu().solve(&nalgebra::DVector::from_vec(rhs.clone())).expect("regular matrix");
        let mut back = vec![0.5; n];
        p.add_product(exact.as_slice(), 2.0, &mut back);
        for (back, rhs) in back.iter().zip(&rhs) {
            assert_relative_eq!(*back, 0.5 + 2.0 * rhs, epsilon = 1e-12);
        }
        let mut x = rhs;
        p.factor().expect("positive pivots");
        p.solve(&mut x);
        for i in 0..n {
            assert_relative_eq!(x[i], exact[i], epsilon = 1e-13, max_relative = 1e-12);
        }
    }

    #[test]
    fn a_pivot_that_is_not_positive_is_reported_with_its_row() {
        let mut p = Pentadiagonal::default();
        p.reset(5);
        p.diag.fill(1.0);
        p.diag[3] = -1.0;
        assert_eq!(p.factor(), Err(BadPivot { row: 3 }));
        p.diag.fill(1.0);
        for row in 0..5 {
            p.diag[row] = f64::NAN;
            assert_eq!(p.factor(), Err(BadPivot { row }));
            p.diag[row] = 1.0;
        }
    }
}
