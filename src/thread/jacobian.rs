//! The matrix of a step.
//!
//! Equation: with c = 2/dt, F the node forces, and the positions eliminated (dz/dt = u),
//!   P = c M - dF/du - (dF/dz)/c,
//! where the tension part is -B^T (eta + H/c) B with B the difference across a cell, eta = dT/d(du), H = dT/dd.
//! Holds for: one body; rows of fixed ends are pinned. P is pentadiagonal.

use super::body::Body;
use super::force::Work;
use crate::solver::pentadiagonal::Pentadiagonal;

/// Fill `matrix` from the derivatives in `work` (not yet factored).
pub fn assemble(body: &Body, c: f64, flow: f64, work: &Work, matrix: &mut Pentadiagonal) {
    let n = body.v.len();
    let inv_c = 1.0 / c;
    matrix.reset(n + 1);
    let [hl, hc, hr] = &work.h;
    for j in 0..n {
        // response of the tension of cell j to the velocities of nodes j-1, j, j+1, j+2
        let (l, m, r) = (hl[j] * inv_c, hc[j] * inv_c + work.eta[j], hr[j] * inv_c);
        let (t0, t1, t2, t3) = (-l, l - m, m - r, r);
        // the tension pulls node j forward (+) and node j+1 backward (-); P holds minus the force's derivative
        matrix.lower1[j] -= t0;
        matrix.diag[j] -= t1;
        matrix.upper1[j] -= t2;
        matrix.upper2[j] -= t3;
        matrix.lower2[j + 1] += t0;
        matrix.lower1[j + 1] += t1;
        matrix.diag[j + 1] += t2;
        matrix.upper1[j + 1] += t3;
    }
    if body.right == super::body::End::Outflow {
        matrix.lower2[n] = 0.0;
        matrix.lower1[n] = 0.0;
        matrix.diag[n] = 0.0;
    }
    for (diag, inertia) in matrix.diag.iter_mut().zip(&work.inertia) {
        *diag += c * inertia;
    }
    if body.left == super::body::End::Nozzle {
        matrix.diag[1] += 0.25 * flow;
    }
    pin_ends(body, matrix);
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
