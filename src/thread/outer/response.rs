//! How the outer forces answer to velocities, lengths, places and volumes: what the matrix of a step needs.
//!
//! Equation: drag, F = (pi mu_o d/2) D (V - u) at both nodes of a cell; pull, F_i = pi a_i (N_i - N_(i-1)), with the node's
//! a_i = (a_L d_R + a_R d_L)/(d_L + d_R) and N = mu_o c_E (w - b) - p_film; stretch, T = -3 m pi a b on a cell's two nodes. At constant volume da/dd = -a/d, at constant length
//! da/dv = 1/(pi d); by the place z of a cell's middle through the wall's slope R_w' and the wake's S'(z). Then with
//! [`crate::thread::mesh::follow`], for cell j between nodes j and j + 1,
//!   dd = theta_(j+1) dq_(j+1) - theta_j dq_j,  dz = (theta_j dq_j + theta_(j+1) dq_(j+1))/2,  dv = f_j dq_j - f_(j+1) dq_(j+1).
//! Symbols: see [`super`].
//! Source: differentiation by hand; checked against differences in the tests.
//! Holds for: envelope, ends and added mass frozen.

use super::OuterWork;
use super::cell::{CellTerms, Motion, NodeArea, Slopes};
use crate::thread::jacobian::Derivatives;
use crate::thread::mesh::follow::Follow;
use std::f64::consts::PI;

/// Derivatives by a cell's own length, place and volume.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Own {
    length: f64,
    place: f64,
    volume: f64,
}

impl Own {
    /// By q at the cell's first node, which moves by m and lets p pass, and at its second.
    #[inline(always)]
    fn below(&self, [m, p]: [f64; 2]) -> f64 {
        m * (0.5 * self.place - self.length) + p * self.volume
    }

    #[inline(always)]
    fn above(&self, [m, p]: [f64; 2]) -> f64 {
        m * (0.5 * self.place + self.length) - p * self.volume
    }
}

/// Derivatives by the lengths of the cells before, here and after, by their volumes, and by the cell's place.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct ByShape {
    pub length: [f64; 3],
    pub volume: [f64; 3],
    pub place: f64,
}

impl ByShape {
    /// By q at the cell's nodes and one more on either side, which move by `m` and let `p` pass.
    #[inline(always)]
    fn around(&self, m: &[f64], p: &[f64]) -> [f64; 4] {
        let ([before, own, after], [v_before, v_own, v_after], half) = (self.length, self.volume, 0.5 * self.place);
        [
            p[0] * v_before - m[0] * before,
            m[1] * (before - own + half) + p[1] * (v_own - v_before),
            m[2] * (own - after + half) + p[2] * (v_after - v_own),
            m[3] * after - p[3] * v_after,
        ]
    }
}

/// Derivatives of drag and stress forces on a cell's two nodes by their velocities.
#[inline(always)]
pub(super) fn by_velocity(terms: &CellTerms, mu: f64, d: f64, motion: &Motion, (left, right): (f64, f64)) -> [f64; 4] {
    let drag = -0.5 * PI * mu * d * terms.drag.drag;
    let stiffness = PI * mu * terms.local.c_e.value;
    let along = 0.5 * (1.0 - terms.local.near.alpha.value) * motion.flare;
    let (lo, hi) = (stiffness * (along - 1.0 / d), stiffness * (along + 1.0 / d));
    [drag + left * lo, left * hi, -right * lo, drag - right * hi]
}

/// Derivatives of the drag on a cell's two nodes.
#[inline(always)]
pub(super) fn drag_on(terms: &CellTerms, mu: f64, (d, a): (f64, f64), (lo, hi): (f64, f64)) -> [Own; 2] {
    let (l, c, flank) = (&terms.local, &terms.drag, terms.flank);
    let (s, s_z) = terms.wake;
    let half = 0.5 * PI * mu * d;
    let (drag_a, drag_z) = (c.drag_d * l.drag.by_a, c.drag_d * l.drag.by_wall * flank);
    let velocity_a = c.velocity_d * l.drag.by_a + c.velocity_u * s * l.u_eq.by_a;
    let velocity_z =
        c.velocity_d * l.drag.by_wall * flank + c.velocity_u * (s_z * l.u_eq.value + s * l.u_eq.by_wall * flank);
    let at = |u: f64| {
        let lag = c.velocity - u;
        let by_a = drag_a * lag + c.drag * velocity_a;
        Own {
            length: 0.5 * PI * mu * (c.drag * lag - a * by_a),
            place: half * (drag_z * lag + c.drag * velocity_z),
            volume: 0.5 * mu * by_a,
        }
    };
    [at(lo), at(hi)]
}

/// Add those of the stream's own stretch.
#[inline(always)]
pub(super) fn stretch_of(terms: &CellTerms, mu: f64, (d, a): (f64, f64), [lo, hi]: &mut [Own; 2]) {
    let b = &terms.stretch;
    let held = 3.0 * PI * mu * terms.hold;
    let by_a = held * (b.rate + a * b.by_a);
    let (length, place, volume) = (-a / d * by_a, held * a * b.by_z, by_a / (PI * d));
    (lo.length, lo.place, lo.volume) = (lo.length - length, lo.place - place, lo.volume - volume);
    (hi.length, hi.place, hi.volume) = (hi.length + length, hi.place + place, hi.volume + volume);
}

/// Derivatives of a cell's stress by the lengths of the cells before, here and after, by their volumes, and by its place.
#[inline(always)]
pub(super) fn stress_in(
    terms: &CellTerms,
    mu: f64,
    (d, a): (f64, f64),
    (left, right): (&NodeArea, &NodeArea),
    motion: &Motion,
) -> ByShape {
    let l = &terms.local;
    let flare_slope = (a - 0.25 * motion.slope * motion.slope) * motion.inverse * motion.inverse;
    let flare_a = -motion.slope * motion.inverse * motion.inverse;
    let stretch = &terms.stretch;
    let lag_a = -motion.mean * l.near.alpha.by_a - terms.wake.0 * l.near.beta.by_a;
    let stiffness = PI * mu * l.c_e.value;
    let through_slope = stiffness * motion.lag * flare_slope / d;
    let through_area = stiffness * (lag_a * motion.flare + motion.lag * flare_a - stretch.by_a)
        + PI * (mu * l.c_e.by_a * motion.w - terms.film.by_a);
    let by = |left: [f64; 2], right: [f64; 2], own_a: f64| {
        [
            -through_slope * left[0],
            through_slope * (right[0] - left[1]) + through_area * own_a,
            through_slope * right[1],
        ]
    };
    let mut by_length = by(left.by_length, right.by_length, -a / d);
    by_length[1] -= stiffness * motion.stretch / d + through_slope * motion.slope;
    let by_volume = by(left.by_volume, right.by_volume, 1.0 / (PI * d));
    let ((s, s_z), flank) = (terms.wake, terms.flank);
    let lag_z = -motion.mean * l.near.alpha.by_wall * flank - s_z * l.near.beta.value - s * l.near.beta.by_wall * flank;
    let by_place = stiffness * (lag_z * motion.flare - stretch.by_z)
        + PI * flank * (mu * l.c_e.by_wall * motion.w - terms.film.by_wall);
    ByShape { length: by_length, volume: by_volume, place: by_place }
}

impl OuterWork {
    /// Add the derivatives of the outer forces to those of a step.
    pub fn add_derivatives(&self, follow: &Follow, to: &mut Derivatives) {
        let n = self.slopes.len();
        let (m, p) = (&follow.moves[..n + 3], &follow.passes[..n + 3]);
        let q = &mut to.by_q;
        let [lower, diag, upper] = &mut to.by_u;
        for j in 0..n {
            let Slopes { by_u: [ll, lh, hl, hh], drag_by: [low, high], .. } = &self.slopes[j];
            diag[j] += ll;
            upper[j] += lh;
            lower[j + 1] += hl;
            diag[j + 1] += hh;
            let [before, after] = [[m[j + 1], p[j + 1]], [m[j + 2], p[j + 2]]];
            q.diag[j] += low.below(before);
            q.upper1[j] += low.above(after);
            q.lower1[j + 1] += high.below(before);
            q.diag[j + 1] += high.above(after);
        }
        let around = |j: usize, by: &ByShape| by.around(&m[j..j + 4], &p[j..j + 4]);
        let mut behind = [0.0; 4];
        for j in 0..n {
            let Slopes { lag_by: [tension, pull], stress_by, .. } = &self.slopes[j];
            let (tension, pull) = (around(j, tension), around(j, pull));
            if j > 0 {
                q.lower1[j] += tension[0] + pull[0];
                q.lower2[j + 1] += pull[0] - tension[0];
            }
            q.diag[j] += tension[1] + pull[1];
            q.upper1[j] += tension[2] + pull[2];
            q.lower1[j + 1] += pull[1] - tension[1];
            q.diag[j + 1] += pull[2] - tension[2];
            if j + 1 < n {
                q.upper2[j] += tension[3] + pull[3];
                q.upper1[j + 1] += pull[3] - tension[3];
            }
            let ahead = around(j, stress_by);
            if j > 0 {
                let (i, node) = (j, &self.node[j]);
                let (a, rise) = (node.a, self.forces[i].stress - self.forces[i - 1].stress);
                let ([bd, ad], [bv, av]) = (node.by_length, node.by_volume);
                q.lower2[i] -= a * behind[0];
                q.lower1[i] += a * (ahead[0] - behind[1]) + rise * (p[i] * bv - m[i] * bd);
                q.diag[i] += a * (ahead[1] - behind[2]) + rise * (m[i + 1] * (bd - ad) + p[i + 1] * (av - bv));
                q.upper1[i] += a * (ahead[2] - behind[3]) + rise * (m[i + 2] * ad - p[i + 2] * av);
                q.upper2[i] += a * ahead[3];
            }
            behind = ahead;
        }
    }
}
