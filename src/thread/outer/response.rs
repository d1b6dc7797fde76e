//! How the outer forces answer to velocities and positions: what the matrix of a step needs.
//!
//! Equation: drag, F = (pi mu_o d/2) D (V - u) at both nodes of a cell; pull, F_i = pi a_i (N_i - N_(i-1)), with the node's
//! a_i = (a_L d_R + a_R d_L)/(d_L + d_R) and N = mu_o c_E w - p_film; a cell's volume is kept, so da/dd = -a/d.
//! Symbols: see [`super`].
//! Source: differentiation by hand; held against differences in the tests.
//! Holds for: envelope, ends and added mass frozen.

use super::{CellTerms, Motion, NodeArea, OuterWork};
use crate::solver::pentadiagonal::Pentadiagonal;
use std::f64::consts::PI;

/// Derivatives of drag and stress forces on a cell's two nodes by their velocities.
pub(super) fn by_velocity(terms: &CellTerms, mu: f64, d: f64, motion: &Motion, (left, right): (f64, f64)) -> [f64; 4] {
    let drag = -0.5 * PI * mu * d * terms.drag.drag;
    let stiffness = PI * mu * terms.local.c_e;
    let along = 0.5 * (1.0 - terms.local.slip_alpha) * motion.flare;
    let (lo, hi) = (stiffness * (along - 1.0 / d), stiffness * (along + 1.0 / d));
    [drag + left * lo, left * hi, -right * lo, drag - right * hi]
}

/// Derivatives of the drag on a cell's two nodes by their positions: through the cell's length (its volume is kept,
/// da/dd = -a/d) and through its place.
pub(super) fn drag_by_position(terms: &CellTerms, mu: f64, (d, a): (f64, f64), (lo, hi): (f64, f64)) -> [f64; 4] {
    let (l, c) = (&terms.local, &terms.drag);
    let (s, s_z) = terms.shelter;
    let half = 0.5 * PI * mu * d;
    let (drag_a, drag_z) = (c.drag_d * l.drag_a, c.drag_d * l.drag_wall * terms.wall_slope);
    let velocity_a = c.velocity_d * l.drag_a + c.velocity_u * s * l.u_eq_a;
    let velocity_z = c.velocity_d * l.drag_wall * terms.wall_slope
        + c.velocity_u * (s_z * l.u_eq + s * l.u_eq_wall * terms.wall_slope);
    let by = |u: f64| {
        let lag = c.velocity - u;
        let by_d = half / d * (c.drag * lag - a * (drag_a * lag + c.drag * velocity_a));
        let by_z = 0.5 * half * (drag_z * lag + c.drag * velocity_z);
        (by_z - by_d, by_z + by_d)
    };
    let ((ll, lh), (hl, hh)) = (by(lo), by(hi));
    [ll, lh, hl, hh]
}

/// Derivatives of a cell's stress by the lengths of the cells before, here and after.
pub(super) fn stress_by_length(
    terms: &CellTerms,
    mu: f64,
    (d, a): (f64, f64),
    (left, right): (NodeArea, NodeArea),
    motion: &Motion,
) -> [f64; 3] {
    let l = &terms.local;
    let a_d = -a / d;
    let flare_slope = (a - 0.25 * motion.slope * motion.slope) * motion.inverse * motion.inverse;
    let flare_a = -motion.slope * motion.inverse * motion.inverse;
    let lag_a = -motion.mean * l.slip_alpha_a - terms.shelter.0 * l.slip_beta_a;
    let slope_d = (right.by_before - left.by_after - motion.slope) / d;
    let w_d = -motion.stretch / d + lag_a * a_d * motion.flare + motion.lag * (flare_slope * slope_d + flare_a * a_d);
    let stiffness = PI * mu * l.c_e;
    let through_slope = stiffness * motion.lag * flare_slope / d;
    [
        -through_slope * left.by_before,
        stiffness * w_d + PI * a_d * (mu * l.c_e_a * motion.w - terms.film.pressure_a),
        through_slope * right.by_after,
    ]
}

impl OuterWork {
    /// Take the derivatives of the outer forces off the matrix of a step (see [`crate::thread::jacobian`]).
    pub fn add_to_matrix(&self, inv_c: f64, matrix: &mut Pentadiagonal) {
        let n = self.by_u.len();
        for j in 0..n {
            let [ll, lh, hl, hh] = std::array::from_fn(|k| self.by_u[j][k] + self.drag_by_z[j][k] * inv_c);
            matrix.diag[j] -= ll;
            matrix.upper1[j] -= lh;
            matrix.lower1[j + 1] -= hl;
            matrix.diag[j + 1] -= hh;
        }
        for (i, by) in (1..n).zip(&self.pull_by_d) {
            let [before, here, after, beyond] = by.map(|x| x * inv_c);
            matrix.lower2[i] += before;
            matrix.lower1[i] += here - before;
            matrix.diag[i] += after - here;
            matrix.upper1[i] += beyond - after;
            matrix.upper2[i] -= beyond;
        }
    }

    /// Add (dF/dz) slide / c of the outer forces to a right-hand side; `growth` is the growth of every cell by `slide`, over
    /// c, with a zero before and after.
    pub fn add_position_response(&self, slide: &[f64], growth: &[f64], inv_c: f64, rhs: &mut [f64]) {
        let n = self.drag_by_z.len();
        let mut from_before = 0.0;
        for ((rhs, slide), [ll, lh, hl, hh]) in rhs.iter_mut().zip(slide.windows(2)).zip(&self.drag_by_z) {
            *rhs += from_before + (ll * slide[0] + lh * slide[1]) * inv_c;
            from_before = (hl * slide[0] + hh * slide[1]) * inv_c;
        }
        rhs[n] += from_before;
        for ((rhs, growth), by) in rhs[1..n].iter_mut().zip(growth.windows(4)).zip(&self.pull_by_d) {
            *rhs += by[0] * growth[0] + by[1] * growth[1] + by[2] * growth[2] + by[3] * growth[3];
        }
    }

    /// Fill `pull_by_d` from the nodes' areas and the stress of the cells.
    pub(super) fn find_pulls(&mut self) {
        let of_node = |((node, stress), by): ((&NodeArea, &[f64]), &[[f64; 3]])| {
            let rise = stress[1] - stress[0];
            let (before, after) = (by[0], by[1]);
            [
                -node.a * before[0],
                node.a * (after[0] - before[1]) + node.by_before * rise,
                node.a * (after[1] - before[2]) + node.by_after * rise,
                node.a * after[2],
            ]
        };
        self.pull_by_d.clear();
        let cells = self.node[1..].iter().zip(self.stress.windows(2)).zip(self.stress_by_d.windows(2));
        self.pull_by_d.extend(cells.map(of_node));
    }
}
