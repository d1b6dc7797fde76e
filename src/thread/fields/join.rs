//! A banded matrix and a few rays that join what is far apart, solved together.
//!
//! Equation: (A + P^T s H P) x = r, A banded, P a row for each value at a ray, H dense, s a viscosity. With y = l/s,
//! l = s H P x the force at the rays,
//!   (H^-1 + s P A^-1 P^T) y = P A^-1 r,   x = A^-1 r - A^-1 P^T s y.
//! Symbols: n unknowns, m rays' values; cost of the order of n m + m^3/3.
//! Source: Woodbury 1950 (inverse of a matrix changed by one of low rank, recalled); common practice.
//! Holds for: A whose elimination without exchange of rows goes through; where the q alone are unknown, A symmetric
//! and positive definite. Checked in the tests against nalgebra's dense LU.

use super::rays::{NODES, Rays, Row};
use crate::solver::banded::{Banded, subtract_rows};
use crate::solver::dense::{Dense, dot};
use crate::solver::pentadiagonal::BadPivot;

/// Which of the interleaved unknowns (u_0, q_0, u_1, q_1, ...) are solved for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknowns {
    /// All of them.
    Both,
    /// The q alone.
    Surface,
}

/// Coefficients of a row in the unknowns from `first` on.
#[derive(Debug, Clone, Copy)]
struct Part {
    first: usize,
    coefficients: [f64; 2 * NODES],
    count: usize,
}

impl Unknowns {
    fn of(self, row: &Row) -> Part {
        match self {
            Unknowns::Both => Part { first: row.first, coefficients: row.coefficients, count: 2 * NODES },
            Unknowns::Surface => {
                let mut coefficients = [0.0; 2 * NODES];
                for (to, pair) in coefficients.iter_mut().zip(row.coefficients.chunks_exact(2)) {
                    *to = pair[1];
                }
                Part { first: row.first / 2, coefficients, count: NODES }
            }
        }
    }
}

impl Part {
    fn all(&self) -> &[f64] {
        &self.coefficients[..self.count]
    }
}

/// A factored system.
#[derive(Debug, Clone, Default)]
pub struct Joined<const WIDTH: usize> {
    /// A; filled by the caller before [`Joined::factor`], which factors it.
    pub matrix: Banded<WIDTH>,
    parts: Vec<Part>,
    fixed: Vec<usize>,
    viscosity: f64,
    /// A^-1 P^T, one row an unknown, and how many rays each row of P^T reaches.
    spread: Vec<f64>,
    reached: Vec<usize>,
    /// H^-1 + s P A^-1 P^T.
    dense: Dense,
    at_rays: Vec<f64>,
    pulled: Vec<f64>,
}

impl<const WIDTH: usize> Joined<WIDTH> {
    /// Factor, `fixed` the unknowns that are prescribed (identity rows of the matrix).
    pub fn factor(&mut self, rays: &Rays, viscosity: f64, unknowns: Unknowns, fixed: &[usize]) -> Result<(), BadPivot> {
        self.matrix.factor()?;
        let (n, m) = (self.matrix.len(), rays.count);
        self.viscosity = viscosity;
        self.parts.clear();
        self.parts.extend(rays.rows.iter().map(|row| unknowns.of(row)));
        self.fixed.clear();
        self.fixed.extend_from_slice(fixed);
        self.spread.clear();
        self.spread.resize(n * m, 0.0);
        self.reached.clear();
        for (k, part) in self.parts.iter().enumerate() {
            self.reached.resize(part.first.max(self.reached.len()), k);
            for (i, by) in part.all().iter().enumerate() {
                self.spread[(part.first + i) * m + k] = *by;
            }
        }
        self.reached.resize(n, m);
        for row in fixed {
            self.spread[row * m..][..m].fill(0.0);
        }
        self.matrix.solve_many(m, &self.reached, &mut self.spread);
        let symmetric = unknowns == Unknowns::Surface;
        let dense = self.dense.reset(symmetric, &rays.mobility, m);
        for (k, (part, row)) in self.parts.iter().zip(dense.chunks_exact_mut(m)).enumerate() {
            let from = if symmetric { k } else { 0 };
            let shares = part.coefficients.map(|by| -viscosity * by);
            subtract_rows(&shares[..part.count], &self.spread[part.first * m + from..], m, &mut row[from..]);
        }
        self.dense.factor()
    }

    /// Solve in place.
    pub fn solve(&mut self, r: &mut [f64]) {
        self.matrix.solve(r);
        self.at_rays.clear();
        self.at_rays.extend(self.parts.iter().map(|part| dot(part.all(), &r[part.first..][..part.count])));
        self.dense.solve(&mut self.at_rays);
        self.pulled.clear();
        self.pulled.resize(r.len(), 0.0);
        for (part, force) in self.parts.iter().zip(&self.at_rays) {
            let force = self.viscosity * force;
            for (pulled, by) in self.pulled[part.first..].iter_mut().zip(part.all()) {
                *pulled += force * by;
            }
        }
        for row in &self.fixed {
            self.pulled[*row] = 0.0;
        }
        self.matrix.solve(&mut self.pulled);
        r.iter_mut().zip(&self.pulled).for_each(|(x, pulled)| *x -= pulled);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};

    // Against nalgebra's dense LU: 14 unknowns, 3 rays of 2 values each, all unknowns and every other one, with
    // two of them prescribed.
    #[test]
    fn a_joined_system_is_solved_as_the_dense_one() {
        let (n, m, viscosity) = (20, 6, 0.7);
        let wave = |k: f64| (1.7 * k + 0.3).sin();
        let rows: Vec<Row> = (0..m)
            .map(|k| {
                let coefficients = std::array::from_fn(|i| wave((k * 31 + i * 7) as f64));
                Row { first: 2 * (k / 2), coefficients }
            })
            .collect();
        assert!(rows.iter().all(|row| row.first + 2 * NODES <= n));
        let half = DMatrix::from_fn(m, m, |i, j| wave((5 * i + 3 * j) as f64));
        let mobility = &half * half.transpose() + DMatrix::identity(m, m) * 0.2;
        let h = mobility.clone().try_inverse().expect("regular");
        let rays = Rays { count: m, mobility: mobility.as_slice().to_vec(), rows, ..Rays::default() };
        for (unknowns, size) in [(Unknowns::Both, n), (Unknowns::Surface, n / 2)] {
            let p = DMatrix::from_fn(m, size, |k, i| {
                let part = unknowns.of(&rays.rows[k]);
                i.checked_sub(part.first).and_then(|at| part.all().get(at)).copied().unwrap_or(0.0)
            });
            let banded = DMatrix::from_fn(size, size, |i, j| match i.abs_diff(j) {
                0 => 6.0,
                // symmetric where it has to be
                1 | 2 => wave((i + j + j * i) as f64 + if unknowns == Unknowns::Both { j as f64 } else { 0.0 }),
                _ => 0.0,
            });
            let fixed = [0, size - 1];
            let mut whole = &banded + p.transpose() * &h * &p * viscosity;
            let mut joined = Joined::<5>::default();
            joined.matrix.reset(size);
            for i in 0..size {
                for j in i.saturating_sub(2)..(i + 3).min(size) {
                    *joined.matrix.entry(i, j) = banded[(i, j)];
                }
            }
            for row in fixed {
                joined.matrix.pin(row);
                whole.row_mut(row).fill(0.0);
                whole[(row, row)] = 1.0;
            }
            let mut right: Vec<f64> = (0..size).map(|i| wave(i as f64)).collect();
            fixed.iter().for_each(|row| right[*row] = 0.0);
            let exact = whole.lu().solve(&DVector::from_vec(right.clone())).expect("regular");
            joined.factor(&rays, viscosity, unknowns, &fixed).expect("regular");
            joined.solve(&mut right);
            for (ours, exact) in right.iter().zip(exact.iter()) {
                approx::assert_relative_eq!(*ours, *exact, epsilon = 1e-11, max_relative = 1e-9);
            }
        }
    }
}
