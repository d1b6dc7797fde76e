//! A banded matrix and a few rays that join what is far apart, solved together.
//!
//! Equation: (A + P^T s H P) x = r, A banded, P a row for each value at a ray, H dense, s a viscosity. With G = A^-1 P^T and
//! l = s H P x the force at the rays,
//!   (1 + s H P G) l = s H P A^-1 r,   x = A^-1 r - G l.
//! Symbols: n unknowns, m rays' values; cost of the order of n m + m^3.
//! Source: Woodbury 1950 (inverse of a matrix changed by one of low rank, recalled); common practice.
//! Holds for: A whose elimination without exchange of rows goes through; checked in the tests against nalgebra's dense LU.

use super::rays::{Rays, Row};
use crate::solver::banded::{Banded, subtract};
use crate::solver::pentadiagonal::BadPivot;

/// Which of the interleaved unknowns (u_0, q_0, u_1, q_1, ...) are solved for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknowns {
    /// All of them.
    Both,
    /// The q alone.
    Surface,
}

impl Unknowns {
    /// The unknowns that a row depends on, with its coefficients.
    fn of(self, row: &Row) -> impl Iterator<Item = (usize, f64)> {
        let (first, from, by) = (row.first, usize::from(self == Unknowns::Surface), if self == Unknowns::Both { 1 } else { 2 });
        let coefficients = row.coefficients;
        (from..coefficients.len()).step_by(by).map(move |k| ((first + k) / by, coefficients[k]))
    }
}

/// A factored system.
#[derive(Debug, Clone, Default)]
pub struct Joined<const WIDTH: usize> {
    /// A; filled by the caller before [`Joined::factor`], which factors it.
    pub matrix: Banded<WIDTH>,
    unknowns: Option<Unknowns>,
    /// G, one row an unknown.
    spread: Vec<f64>,
    /// P G, then the LU of 1 + s H P G.
    passed: Vec<f64>,
    dense: Vec<f64>,
    order: Vec<usize>,
    at_rays: Vec<f64>,
    force: Vec<f64>,
}

impl<const WIDTH: usize> Joined<WIDTH> {
    /// Factor, `fixed` the unknowns that are prescribed (identity rows of the matrix).
    pub fn factor(&mut self, rays: &Rays, viscosity: f64, unknowns: Unknowns, fixed: &[usize]) -> Result<(), BadPivot> {
        self.matrix.factor()?;
        self.unknowns = Some(unknowns);
        let (n, m) = (self.matrix.len(), rays.count);
        self.spread.clear();
        self.spread.resize(n * m, 0.0);
        for (k, row) in rays.rows.iter().enumerate() {
            for (i, by) in unknowns.of(row).filter(|(i, _)| !fixed.contains(i)) {
                self.spread[i * m + k] += by;
            }
        }
        self.matrix.solve_many(m, &mut self.spread);
        self.passed.clear();
        self.passed.resize(m * m, 0.0);
        for (row, passed) in rays.rows.iter().zip(self.passed.chunks_exact_mut(m)) {
            for (i, by) in unknowns.of(row) {
                subtract(-by, &self.spread[i * m..][..m], passed);
            }
        }
        self.dense.clear();
        self.dense.resize(m * m, 0.0);
        for (k, (h, row)) in rays.matrix.chunks_exact(m).zip(self.dense.chunks_exact_mut(m)).enumerate() {
            for (h, passed) in h.iter().zip(self.passed.chunks_exact(m)) {
                subtract(-viscosity * h, passed, row);
            }
            row[k] += 1.0;
        }
        lu(m, &mut self.dense, &mut self.order)
    }

    /// Solve in place.
    pub fn solve(&mut self, rays: &Rays, viscosity: f64, r: &mut [f64]) {
        let (m, Some(unknowns)) = (rays.count, self.unknowns) else { return };
        self.matrix.solve(r);
        self.at_rays.clear();
        self.at_rays.extend(rays.rows.iter().map(|row| unknowns.of(row).map(|(i, by)| by * r[i]).sum::<f64>()));
        self.force.clear();
        self.force.extend(rays.matrix.chunks_exact(m).map(|h| viscosity * dot(h, &self.at_rays)));
        back(m, &self.dense, &self.order, &mut self.force);
        for (x, g) in r.iter_mut().zip(self.spread.chunks_exact(m)) {
            *x -= dot(g, &self.force);
        }
    }
}

/// Sum of products, in four lanes since a sum in order cannot be split.
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut lanes = [0.0; 4];
    let (a, b) = (a.chunks_exact(4), b.chunks_exact(4));
    let rest: f64 = a.remainder().iter().zip(b.remainder()).map(|(a, b)| a * b).sum();
    for (a, b) in a.zip(b) {
        for k in 0..4 {
            lanes[k] += a[k] * b[k];
        }
    }
    (lanes[0] + lanes[1]) + (lanes[2] + lanes[3]) + rest
}

/// Dense LU with exchange of rows, in place.
fn lu(m: usize, a: &mut [f64], order: &mut Vec<usize>) -> Result<(), BadPivot> {
    order.clear();
    for k in 0..m {
        let (mut best, mut most) = (k, -1.0);
        for i in k..m {
            let size = a[i * m + k].abs();
            if size > most {
                (best, most) = (i, size);
            }
        }
        // written so that a NaN is refused too
        if !(most > 0.0 && most.is_finite()) {
            return Err(BadPivot { row: k });
        }
        order.push(best);
        if best != k {
            let (above, below) = a.split_at_mut(best * m);
            above[k * m..][..m].swap_with_slice(&mut below[..m]);
        }
        let (above, below) = a.split_at_mut((k + 1) * m);
        let pivot = &above[k * m..];
        let inverse = 1.0 / pivot[k];
        for row in below.chunks_exact_mut(m) {
            let share = row[k] * inverse;
            row[k] = share;
            subtract(share, &pivot[k + 1..], &mut row[k + 1..]);
        }
    }
    Ok(())
}

/// Solve with it, in place.
fn back(m: usize, a: &[f64], order: &[usize], r: &mut [f64]) {
    for (k, with) in order.iter().enumerate() {
        r.swap(k, *with);
    }
    for k in 1..m {
        r[k] -= dot(&a[k * m..][..k], &r[..k]);
    }
    for k in (0..m).rev() {
        r[k] = (r[k] - dot(&a[k * m + k + 1..(k + 1) * m], &r[k + 1..])) / a[k * m + k];
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::thread::fields::rays::NODES;
    use nalgebra::{DMatrix, DVector};

    // Against nalgebra's dense LU: 14 unknowns, 3 rays of 2 values each, all unknowns and every other one, with two of them prescribed.
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
        let h = &half * half.transpose();
        let rays = Rays { count: m, matrix: h.iter().copied().collect(), rows, crossed: 0.0 };
        for (unknowns, size) in [(Unknowns::Both, n), (Unknowns::Surface, n / 2)] {
            let p = DMatrix::from_fn(m, size, |k, i| {
                unknowns.of(&rays.rows[k]).filter(|(at, _)| *at == i).map(|(_, by)| by).sum()
            });
            let banded = DMatrix::from_fn(size, size, |i, j| match i.abs_diff(j) {
                0 => 6.0,
                1 | 2 => wave((i + j * i) as f64),
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
            joined.solve(&rays, viscosity, &mut right);
            for (ours, exact) in right.iter().zip(exact.iter()) {
                approx::assert_relative_eq!(*ours, *exact, epsilon = 1e-11, max_relative = 1e-9);
            }
        }
    }
}
