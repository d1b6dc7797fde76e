//! How the outer forces answer to velocities, lengths, places and volumes: what the matrix of a step needs.
//!
//! Equation: drag, F = (pi mu_o d/2) D (V - u) at both nodes of a cell; film, F_i = -pi a_i (p_i - p_(i-1)), with the node's
//! a_i = (a_L d_R + a_R d_L)/(d_L + d_R); tension and pull of [`super::rate`] and [`super::lag`]. At constant volume da/dd = -a/d, at
//! constant length da/dv = 1/(pi d); by the place z of a cell's middle through the wall's slope R_w' and the wake's S'(z). Then with
//! [`crate::thread::mesh::follow`], for cell j between nodes j and j + 1,
//!   dd = theta_(j+1) dq_(j+1) - theta_j dq_j,  dz = (theta_j dq_j + theta_(j+1) dq_(j+1))/2,  dv = f_j dq_j - f_(j+1) dq_(j+1).
//! Symbols: see [`super`].
//! Source: differentiation by hand; checked against differences in the tests.
//! Holds for: envelope, ends and added mass frozen.

use super::OuterWork;
use super::cell::{CellTerms, Slopes};
use crate::solver::pentadiagonal::Pentadiagonal;
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

/// Derivatives of the film's pressure times pi.
#[inline(always)]
pub(super) fn film_in(terms: &CellTerms, (d, a): (f64, f64)) -> Own {
    let film = &terms.film;
    Own { length: -PI * film.by_a * a / d, place: PI * film.by_wall * terms.flank, volume: film.by_a / d }
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
        for j in 0..n {
            let Slopes { stretch_by: [tension, pull], .. } = &self.slopes[j];
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
        }
        if self.pressed {
            self.add_film(follow, q);
        }
    }

    /// Those of the film.
    fn add_film(&self, follow: &Follow, q: &mut Pentadiagonal) {
        let n = self.slopes.len();
        let (m, p) = (&follow.moves, &follow.passes);
        let at = |j: usize, k: usize| [m[j + k], p[j + k]];
        for i in 1..n {
            let (before, after) = (&self.slopes[i - 1].film_by, &self.slopes[i].film_by);
            let (node, rise) = (&self.node[i], self.forces[i].film - self.forces[i - 1].film);
            let ([bd, ad], [bv, av], a) = (node.by_length, node.by_volume, node.a);
            q.lower1[i] += a * before.below(at(i, 0)) - rise * (p[i] * bv - m[i] * bd);
            q.diag[i] += a * (before.above(at(i, 1)) - after.below(at(i, 1)))
                - rise * (m[i + 1] * (bd - ad) + p[i + 1] * (av - bv));
            q.upper1[i] -= a * after.above(at(i, 2)) + rise * (m[i + 2] * ad - p[i + 2] * av);
        }
    }
}
