//! The matrix of a step.
//!
//! Equation: with c = 2/dt, F the node forces, and the positions eliminated (dz/dt = u),
//!   P = c M - dF/du - (dF/dz)/c,
//! where the tension part is -B^T (eta + H/c) B with B the difference across a cell, eta = dT/d(du), H = dT/dd.
//! Holds for: one body; rows of fixed ends are pinned. P is pentadiagonal.

use multiversion::multiversion;
use super::body::Body;
use super::force::Work;
use crate::solver::pentadiagonal::Pentadiagonal;

/// Fill `matrix` from the derivatives in `work` (not yet factored).
pub fn assemble(body: &Body, c: f64, flow: f64, work: &Work, matrix: &mut Pentadiagonal) {
    let n = body.v.len();
    matrix.resize(n + 1);
    let [hl, hc, hr] = &work.h;
    let own = Responses { inv_c: 1.0 / c, hl: &hl[..n], hc: &hc[..n], hr: &hr[..n], eta: &work.eta[..n] };
    inner_rows(&own, c, &work.inertia[1..n], matrix);
    // node 0 has no cell before it, node n none after it
    let (first, last) = (own.of(0), if body.right == super::body::End::Outflow { [0.0; 4] } else { own.of(n - 1) });
    (matrix.lower2[0], matrix.lower1[0]) = (0.0, -first[0]);
    (matrix.diag[0], matrix.upper1[0], matrix.upper2[0]) = (c * work.inertia[0] - first[1], -first[2], -first[3]);
    (matrix.lower2[n], matrix.lower1[n], matrix.diag[n]) = (last[0], last[1], last[2] + c * work.inertia[n]);
    (matrix.upper1[n], matrix.upper2[n]) = (last[3], 0.0);
    if body.left == super::body::End::Nozzle {
        matrix.diag[1] += 0.25 * flow;
    }
    pin_ends(body, matrix);
}

/// How the tension of a cell answers to the velocities of its neighbourhood.
struct Responses<'a> {
    inv_c: f64,
    hl: &'a [f64],
    hc: &'a [f64],
    hr: &'a [f64],
    eta: &'a [f64],
}

impl Responses<'_> {
    /// Response of the tension of cell j to the velocities of nodes j-1, j, j+1, j+2.
    #[inline(always)]
    fn of(&self, j: usize) -> [f64; 4] {
        let (l, m, r) = (self.hl[j] * self.inv_c, self.hc[j] * self.inv_c + self.eta[j], self.hr[j] * self.inv_c);
        [-l, l - m, m - r, r]
    }
}

/// Rows of nodes 1..n: the tension pulls node j forward (+) and node j+1 backward (-); P holds minus the force's derivative.
#[multiversion(targets("x86_64+avx2"))]
fn inner_rows(cells: &Responses, c: f64, inertia: &[f64], matrix: &mut Pentadiagonal) {
    let n = inertia.len();
    let Pentadiagonal { lower2, lower1, diag, upper1, upper2, .. } = matrix;
    let (lower2, lower1, diag) = (&mut lower2[1..=n], &mut lower1[1..=n], &mut diag[1..=n]);
    let (upper1, upper2) = (&mut upper1[1..=n], &mut upper2[1..=n]);
    for i in 0..n {
        let (before, after) = (cells.of(i), cells.of(i + 1));
        lower2[i] = before[0];
        lower1[i] = before[1] - after[0];
        diag[i] = before[2] - after[1] + c * inertia[i];
        upper1[i] = before[3] - after[2];
        upper2[i] = -after[3];
    }
}

/// Nodes of fixed ends do not move.
pub fn pin_ends(body: &Body, matrix: &mut Pentadiagonal) {
    if body.left.is_fixed() {
        matrix.pin(0);
    }
    if body.right.is_fixed() {
        matrix.pin(body.v.len());
    }
}
