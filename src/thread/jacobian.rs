//! The derivatives of the node forces and the matrix of a step.
//!
//! Equation: with c = 2/dt, F the node forces, q the way of the liquid past each node (z and v follow it, see
//! [`super::mesh::follow`]) and dq/dt = u, the positions are eliminated:
//!   P = c M - dF/du - (dF/dq)/c.
//! For the tension part, T_j the tension of cell j and F_i = T_i - T_(i-1),
//!   dT_j = sum over k of (dT_j/dd_k) dd_k + (dT_j/dv_k) dv_k + eta_j d(u_(j+1) - u_j),
//!   dd_k = theta_(k+1) dq_(k+1) - theta_k dq_k,   dv_k = f_k dq_k - f_(k+1) dq_(k+1).
//! Accelerations are F/m with the mass at the time: dF/dq holds m d(F/m)/dq.
//! Symbols: see [`super::mesh::follow`] and [`super::force`].
//! Source: differentiation by hand; checked in the tests against differences of the force that a stage uses.
//! Holds for: one body; dF/dq is pentadiagonal, dF/du tridiagonal. Column 0 of dF/dq, f = pi, is the response to the inflow.

use super::body::{Body, End};
use super::force::{Physics, Work};
use crate::solver::pentadiagonal::Pentadiagonal;
use multiversion::multiversion;
use std::f64::consts::PI;

/// Derivatives of the node forces: five diagonals by q, three by u (entry `i` of each belongs to row `i`).
#[derive(Debug, Clone, Default)]
pub struct Derivatives {
    pub by_q: Pentadiagonal,
    /// Columns i-1, i, i+1.
    pub by_u: [Vec<f64>; 3],
}

impl Derivatives {
    /// Fill with the derivatives of the tensions in `work`.
    pub fn of_tensions(&mut self, body: &Body, work: &Work) {
        let n = body.v.len();
        self.by_q.resize(n + 1);
        for band in &mut self.by_u {
            band.resize(n + 1, 0.0);
        }
        let cells = Responses {
            h: work.h.each_ref().map(|x| &x[..n]),
            g: work.g.each_ref().map(|x| &x[..n]),
            moves: std::array::from_fn(|k| &work.follow.moves[k..k + n]),
            passes: std::array::from_fn(|k| &work.follow.passes[k..k + n]),
        };
        if work.follow.flowing {
            inner_rows::<true>(&cells, &mut self.by_q);
        } else {
            inner_rows::<false>(&cells, &mut self.by_q);
        }
        self.ends(body, work, &cells);
        inner_rows_by_velocity(&work.eta[..n], &mut self.by_u);
    }

    /// Rows 0 and n, and the column of the inflow.
    fn ends(&mut self, body: &Body, work: &Work, cells: &Responses) {
        let n = body.v.len();
        let flowing = work.follow.flowing;
        let of = |j: usize| if flowing { cells.of::<true>(j) } else { cells.of::<false>(j) };
        let eta = &work.eta;
        let (first, mut last, mut stiff) = (of(0), of(n - 1), eta[n - 1]);
        if body.right == End::Outflow {
            (last, stiff) = ([0.0; 4], 0.0);
        }
        let q = &mut self.by_q;
        (q.lower2[0], q.lower1[0], q.diag[0], q.upper1[0], q.upper2[0]) = (0.0, 0.0, first[1], first[2], first[3]);
        (q.lower2[n], q.lower1[n], q.diag[n], q.upper1[n], q.upper2[n]) = (-last[0], -last[1], -last[2], 0.0, 0.0);
        if body.left == End::Nozzle && !flowing {
            let [gl, gc, _] = &work.g;
            q.lower1[1] = PI * (gl.get(1).copied().unwrap_or(0.0) - gc[0]);
            if n >= 2 {
                q.lower2[2] = -PI * gl[1];
            }
        }
        let [lower, diag, upper] = &mut self.by_u;
        (lower[0], diag[0], upper[0]) = (0.0, -eta[0], eta[0]);
        (lower[n], diag[n], upper[n]) = (stiff, -stiff, 0.0);
    }

    /// Add the derivatives of the momentum that liquid carries past the nodes, and of the masses; `work.force` must be complete.
    pub fn add_carried(&mut self, physics: &Physics, body: &Body, u: &[f64], work: &Work) {
        let n = body.v.len();
        let last = match (work.follow.flowing, body.left) {
            (true, _) => n,
            (false, End::Nozzle) => 1,
            _ => return,
        };
        let passes = &work.follow.passes[1..];
        // phi (u_(j+1) - u_j) by u_j and u_(j+1)
        let by = |j: usize| {
            let (rise, flow) = (u[j + 1] - u[j], 0.5 * (passes[j] * u[j] + passes[j + 1] * u[j + 1]));
            (0.5 * passes[j] * rise - flow, 0.5 * passes[j + 1] * rise + flow)
        };
        let [lower, diag, upper] = &mut self.by_u;
        for i in 1..=last {
            let half = 0.5 * work.ratio(i);
            let before = by(i - 1);
            lower[i] -= half * before.0;
            diag[i] -= half * before.1;
            if i < n {
                let after = by(i);
                diag[i] -= half * after.0;
                upper[i] -= half * after.1;
            }
            let heavier = 0.5 * (physics.bond - work.force[i] / work.mass[i]);
            if i < n {
                self.by_q.lower1[i] += heavier * passes[i - 1];
                self.by_q.upper1[i] -= heavier * passes[i + 1];
            } else {
                self.by_q.lower1[i] += heavier * passes[i - 1];
                self.by_q.diag[i] -= heavier * passes[i];
            }
        }
    }

    /// Add those of a further tension of cell `j` by q and by u at its nodes j and j+1; `free` where it does not pull node j+1.
    pub fn add_tension(&mut self, j: usize, by_q: [f64; 2], by_u: f64, free: bool) {
        let q = &mut self.by_q;
        let [lower, diag, upper] = &mut self.by_u;
        q.diag[j] += by_q[0];
        q.upper1[j] += by_q[1];
        diag[j] += by_u;
        upper[j] += by_u;
        if !free {
            q.lower1[j + 1] -= by_q[0];
            q.diag[j + 1] -= by_q[1];
            lower[j + 1] -= by_u;
            diag[j + 1] -= by_u;
        }
    }

    /// Add those of the force on node `row` by q and by u at the nodes `column` and the next, one of which it is.
    pub fn add(&mut self, row: usize, column: usize, by: [(f64, f64); 2]) {
        let q = &mut self.by_q;
        let [lower, diag, upper] = &mut self.by_u;
        for (k, (way, rise)) in (column..).zip(by) {
            let (to_q, to_u) = match k.cmp(&row) {
                std::cmp::Ordering::Less => (&mut q.lower1[row], &mut lower[row]),
                std::cmp::Ordering::Equal => (&mut q.diag[row], &mut diag[row]),
                std::cmp::Ordering::Greater => (&mut q.upper1[row], &mut upper[row]),
            };
            *to_q += way;
            *to_u += rise;
        }
    }

    /// The matrix of a step, not yet factored.
    pub fn assemble(&self, body: &Body, c: f64, inertia: &[f64], matrix: &mut Pentadiagonal) {
        matrix.resize(inertia.len());
        compose(&self.by_q, &self.by_u, c, inertia, matrix);
        if body.left.is_fixed() {
            matrix.pin(0);
        }
        if body.right.is_fixed() {
            matrix.pin(body.v.len());
        }
    }
}

/// How the tension of a cell answers to the ways of the liquid in its neighbourhood.
struct Responses<'a> {
    h: [&'a [f64]; 3],
    g: [&'a [f64]; 3],
    moves: [&'a [f64]; 4],
    passes: [&'a [f64]; 4],
}

impl Responses<'_> {
    /// Response of the tension of cell j to q at nodes j-1, j, j+1, j+2.
    #[inline(always)]
    fn of<const FLOWING: bool>(&self, j: usize) -> [f64; 4] {
        let [l, m, r] = [self.h[0][j], self.h[1][j], self.h[2][j]];
        let lengths = [-l, l - m, m - r, r];
        if !FLOWING {
            return lengths;
        }
        let [l, m, r] = [self.g[0][j], self.g[1][j], self.g[2][j]];
        let volumes = [l, m - l, r - m, -r];
        std::array::from_fn(|k| self.moves[k][j] * lengths[k] + self.passes[k][j] * volumes[k])
    }
}

/// How much the tension of a first cell on a nozzle changes with `q` and `u` of the nodes, by the last derivatives.
pub fn first_tension(work: &Work, q: &[f64], u: &[f64]) -> f64 {
    let cells = Responses {
        h: work.h.each_ref().map(|x| &x[..1]),
        g: work.g.each_ref().map(|x| &x[..1]),
        moves: std::array::from_fn(|k| &work.follow.moves[k..=k]),
        passes: std::array::from_fn(|k| &work.follow.passes[k..=k]),
    };
    let response = if work.follow.flowing { cells.of::<true>(0) } else { cells.of::<false>(0) };
    response[1..].iter().zip(q).map(|(by, q)| by * q).sum::<f64>() + work.eta[0] * (u[1] - u[0])
}

/// Rows of nodes 1..n: the tension pulls node j forward (+) and node j+1 backward (-).
#[multiversion(targets("x86_64+avx2"))]
fn inner_rows<const FLOWING: bool>(cells: &Responses, by_q: &mut Pentadiagonal) {
    let n = cells.h[0].len() - 1;
    let cells = Responses {
        h: cells.h.map(|x| &x[..=n]),
        g: cells.g.map(|x| &x[..=n]),
        moves: cells.moves.map(|x| &x[..=n]),
        passes: cells.passes.map(|x| &x[..=n]),
    };
    let Pentadiagonal { lower2, lower1, diag, upper1, upper2, .. } = by_q;
    let (lower2, lower1, diag) = (&mut lower2[1..=n], &mut lower1[1..=n], &mut diag[1..=n]);
    let (upper1, upper2) = (&mut upper1[1..=n], &mut upper2[1..=n]);
    for i in 0..n {
        let (before, after) = (cells.of::<FLOWING>(i), cells.of::<FLOWING>(i + 1));
        lower2[i] = -before[0];
        lower1[i] = after[0] - before[1];
        diag[i] = after[1] - before[2];
        upper1[i] = after[2] - before[3];
        upper2[i] = after[3];
    }
}

#[multiversion(targets("x86_64+avx2"))]
fn inner_rows_by_velocity(eta: &[f64], by_u: &mut [Vec<f64>; 3]) {
    let n = eta.len() - 1;
    let [lower, diag, upper] = by_u;
    let (lower, diag, upper) = (&mut lower[1..=n], &mut diag[1..=n], &mut upper[1..=n]);
    let (before, after) = (&eta[..n], &eta[1..=n]);
    for i in 0..n {
        lower[i] = before[i];
        diag[i] = -before[i] - after[i];
        upper[i] = after[i];
    }
}

#[multiversion(targets("x86_64+avx2"))]
fn compose(by_q: &Pentadiagonal, by_u: &[Vec<f64>; 3], c: f64, inertia: &[f64], matrix: &mut Pentadiagonal) {
    let (n, inv_c) = (inertia.len(), 1.0 / c);
    let Pentadiagonal { lower2, lower1, diag, upper1, upper2, .. } = matrix;
    let (lower2, lower1, diag) = (&mut lower2[..n], &mut lower1[..n], &mut diag[..n]);
    let (upper1, upper2) = (&mut upper1[..n], &mut upper2[..n]);
    let (l2, l1, d0) = (&by_q.lower2[..n], &by_q.lower1[..n], &by_q.diag[..n]);
    let (u1, u2) = (&by_q.upper1[..n], &by_q.upper2[..n]);
    let (lower, own, upper) = (&by_u[0][..n], &by_u[1][..n], &by_u[2][..n]);
    for i in 0..n {
        lower2[i] = -l2[i] * inv_c;
        lower1[i] = -lower[i] - l1[i] * inv_c;
        diag[i] = c * inertia[i] - own[i] - d0[i] * inv_c;
        upper1[i] = -upper[i] - u1[i] * inv_c;
        upper2[i] = -u2[i] * inv_c;
    }
}
