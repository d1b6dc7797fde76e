//! LU factorisation of a pentadiagonal matrix without pivoting, and its solves.
//!
//! Equation: P x = r with `P[i][i-2..=i+2]` stored in five arrays.
//! Holds for: matrices whose leading minors stay positive (mass matrix plus a stable, stiff part over a small step).
//! A pivot that is not positive is reported: the caller then takes a smaller step. Checked against nalgebra's dense LU.

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
}

/// A pivot was not positive: the step is too long for a stable factorisation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BadPivot {
    /// Row in which it happened.
    pub row: usize,
}

impl Pentadiagonal {
    /// Give all diagonals `n` entries, all zero.
    pub fn reset(&mut self, n: usize) {
        for band in [&mut self.lower2, &mut self.lower1, &mut self.diag, &mut self.upper1, &mut self.upper2] {
            band.clear();
            band.resize(n, 0.0);
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

    /// Factor in place: afterwards `lower*` hold the multipliers, `diag` the inverse pivots, `upper*` the upper part.
    pub fn factor(&mut self) -> Result<(), BadPivot> {
        let n = self.len();
        let (l2, l1) = (&mut self.lower2[..n], &mut self.lower1[..n]);
        let (dg, u1, u2) = (&mut self.diag[..n], &mut self.upper1[..n], &mut self.upper2[..n]);
        // (inverse pivot, upper1, upper2) of the two rows above
        let (mut p1, mut a1, mut b1) = (0.0, 0.0, 0.0);
        let (mut p2, mut a2, mut b2) = (0.0, 0.0, 0.0);
        for i in 0..n {
            let m2 = l2[i] * p2;
            let m1 = (l1[i] - m2 * a2) * p1;
            let pivot = dg[i] - m2 * b2 - m1 * a1;
            // written so that a NaN is refused too
            if !(pivot > 0.0 && pivot.is_finite()) {
                return Err(BadPivot { row: i });
            }
            u1[i] -= m1 * b1;
            l2[i] = m2;
            l1[i] = m1;
            dg[i] = 1.0 / pivot;
            (p2, a2, b2) = (p1, a1, b1);
            (p1, a1, b1) = (dg[i], u1[i], u2[i]);
        }
        Ok(())
    }

    /// Solve in place with the factors.
    pub fn solve(&self, x: &mut [f64]) {
        let n = self.len();
        let (l2, l1) = (&self.lower2[..n], &self.lower1[..n]);
        let (dg, u1, u2) = (&self.diag[..n], &self.upper1[..n], &self.upper2[..n]);
        let x = &mut x[..n];
        let (mut y1, mut y2) = (0.0, 0.0);
        for i in 0..n {
            let y = x[i] - l1[i] * y1 - l2[i] * y2;
            x[i] = y;
            (y2, y1) = (y1, y);
        }
        let (mut y1, mut y2) = (0.0, 0.0);
        for i in (0..n).rev() {
            let y = (x[i] - u1[i] * y1 - u2[i] * y2) * dg[i];
            x[i] = y;
            (y2, y1) = (y1, y);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn reference_agrees_with_dense_lu_of_nalgebra() {
        let n = 37;
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
        p.diag[0] = f64::NAN;
        assert_eq!(p.factor(), Err(BadPivot { row: 0 }));
    }
}
