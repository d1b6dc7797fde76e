//! Inertia of the radial motion of the thread's own liquid.
//!
//! Equation: a slice that is stretched at the rate s = du/dz moves inward with u_r = -r s/2, which holds the kinetic energy
//! pi a^2 s^2/16 per length. Lagrange's equations for it add to the tension
//!   T_rad = (pi a^2/8) (Ds/Dt - s^2/2),
//! whose power -T_rad s is the rate of change of that energy. Discretely, with mu = v^2/(8 pi d^3), s = du/d and theta, f of
//! [`super::mesh::follow`],
//!   T_j = mu_j [d(du_j)/dt - du_j (d(theta u)_j + du_j/2)/d_j] + [psi_j (s_j - s_(j-1)) + psi_(j+1) (s_(j+1) - s_j)]/(2 d_j),
//!   psi_i = f_i A_i u_i/8.
//! The first term makes the matrix of the inertia tridiagonal; the last bracket is what liquid that passes a node brings, in
//! the form that keeps energy; liquid comes out of a nozzle with s = 0.
//! Symbols: see [`super::force`] and [`super::jacobian`].
//! Source: Lagrange's equations with the kinetic energy of the plain long-wave radial motion; the linear limit, (1 + k^2/8), is
//! that of Green 1976, Int. J. Eng. Sci. 14, 49. Exact for the lowest oscillation of a drop (Lamb 1932, art. 275).
//! Holds for: slopes below one and waves longer than the radius; far shorter waves oscillate too slowly.

use super::body::{Body, End};
use super::force::Work;
use super::jacobian::Derivatives;
use std::f64::consts::PI;

/// Buffers of the radial motion; empty where its inertia is left out.
#[derive(Debug, Clone, Default)]
pub struct RadialWork {
    /// mu of each cell now, and at the start of the step.
    mu: Vec<f64>,
    mu_start: Vec<f64>,
    /// Tension without the part of the acceleration.
    tension: Vec<f64>,
    /// Acceleration of the nodes.
    pub accel: Vec<f64>,
    /// f A/8 of each node, frozen over a step; empty where no liquid passes a node but a nozzle.
    carries: Vec<f64>,
    /// Forward elimination.
    scratch: Vec<f64>,
}

/// mu of a cell.
#[inline(always)]
fn mass(v: f64, inv_d: f64) -> f64 {
    v * v * inv_d * inv_d * inv_d * (1.0 / (8.0 * PI))
}

impl RadialWork {
    /// Set mu at the start of a step (`first`) or within it, and add the tension's part that no acceleration enters to the forces.
    pub fn add_forces(first: bool, body: &Body, u: &[f64], work: &mut Work) {
        let mut radial = std::mem::take(&mut work.radial);
        let n = body.v.len();
        if first {
            radial.freeze(body, work);
        }
        radial.mu.clear();
        radial.mu.extend(work.v.iter().zip(&work.inv_d[1..]).map(|(v, inv_d)| mass(*v, *inv_d)));
        if first {
            radial.mu_start.clone_from(&radial.mu);
        }
        radial.tension.resize(n, 0.0);
        let moves = &work.follow.moves[1..];
        for j in 0..n {
            let du = u[j + 1] - u[j];
            let closing = moves[j + 1] * u[j + 1] - moves[j] * u[j] + 0.5 * du;
            radial.tension[j] = -radial.mu[j] * du * closing * work.inv_d[j + 1];
        }
        if body.left == End::Nozzle {
            let passed = if radial.flows() { n } else { 1 };
            for j in 0..passed {
                radial.tension[j] += radial.carried(j, u, &work.inv_d).0;
            }
        }
        for j in 0..n {
            work.force[j] += radial.tension[j];
            if j + 1 < n || body.right != End::Outflow {
                work.force[j + 1] -= radial.tension[j];
            }
        }
        work.radial = radial;
    }

    fn flows(&self) -> bool {
        self.carries.len() > 1
    }

    fn freeze(&mut self, body: &Body, work: &Work) {
        self.carries.clear();
        if body.left != End::Nozzle {
            return;
        }
        let (moves, passes) = (&work.follow.moves[1..], &work.follow.passes[1..]);
        let count = if work.follow.flowing { body.v.len() + 1 } else { 1 };
        let carry = |i: usize| {
            let past = 1.0 - moves[i];
            if past > 0.0 { passes[i] * passes[i] / (8.0 * PI * past) } else { 0.0 }
        };
        self.carries.extend((0..count).map(carry));
    }

    fn carry(&self, i: usize) -> f64 {
        self.carries.get(i).copied().unwrap_or(0.0)
    }

    /// What is carried into and out of cell `j` of a thread on a nozzle, by u at j-1 .. j+2 and by the lengths of j-1 .. j+1.
    fn carried(&self, j: usize, u: &[f64], inv_d: &[f64]) -> (f64, [f64; 4], [f64; 3]) {
        let n = u.len() - 1;
        let rate = |k: usize| (u[k + 1] - u[k]) * inv_d[k + 1];
        // no rate before the nozzle; nothing passes a tip
        let (before, inv_before) = if j > 0 { (rate(j - 1), inv_d[j]) } else { (0.0, 0.0) };
        let (after, inv_after) = if j + 1 < n { (rate(j + 1), inv_d[j + 2]) } else { (rate(j), 0.0) };
        let (own, inv) = (rate(j), inv_d[j + 1]);
        let half = 0.5 * inv;
        let (b0, b1) = (half * self.carry(j), if j + 1 < n { half * self.carry(j + 1) } else { 0.0 });
        let (p0, p1) = (b0 * u[j], b1 * u[j + 1]);
        let value = p0 * (own - before) + p1 * (after - own);
        let by_u = [
            p0 * inv_before,
            b0 * (own - before) - p0 * (inv + inv_before) + p1 * inv,
            b1 * (after - own) + p0 * inv - p1 * (inv + inv_after),
            p1 * inv_after,
        ];
        let by_d = [p0 * before * inv_before, -value * inv + (p1 - p0) * own * inv, -p1 * after * inv_after];
        (value, by_u, by_d)
    }

    /// Accelerations at the state of the forces in `work`, which must be complete; `rise` is that of a first node whose velocity
    /// is prescribed. Then the forces are those that the inertia at the start of the step, `start`, would need for them.
    pub fn accelerate(first: bool, body: &Body, start: &[f64], rise: f64, work: &mut Work) {
        let Work { force, inertia, radial, .. } = work;
        let n = body.v.len();
        if body.left.is_fixed() {
            force[1] += radial.mu[0] * rise;
        }
        let (low, high) = (usize::from(body.left.is_fixed()), if body.right.is_fixed() { n - 1 } else { n });
        radial.accel.resize(n + 1, 0.0);
        radial.scratch.resize(n + 1, 0.0);
        let free = body.right == End::Outflow;
        let RadialWork { mu, mu_start, accel, scratch, .. } = radial;
        let mut before = 0.0;
        for i in low..=high {
            let below = if i == 0 || i == n && free { 0.0 } else { mu[i - 1] };
            let above = if i == n { 0.0 } else { mu[i] };
            let coupled = if i > low { below } else { 0.0 };
            let pivot = 1.0 / (inertia[i] + below + above - coupled * before);
            let last = if i > low { accel[i - 1] } else { 0.0 };
            before = above * pivot;
            scratch[i] = before;
            accel[i] = (force[i] + coupled * last) * pivot;
        }
        for i in (low..high).rev() {
            accel[i] += scratch[i] * accel[i + 1];
        }
        if low == 1 {
            accel[0] = 0.0;
        }
        if high < n {
            accel[n] = 0.0;
        }
        if !first {
            for i in 0..=n {
                force[i] = start[i] * accel[i];
            }
            add_product(body, mu_start, accel, 1.0, force);
        }
        if low == 1 {
            accel[0] = rise;
        }
    }

    /// Add the radial part of the inertia at the start of the step, times `x` and `scale`, to `out`.
    pub fn add_inertia(&self, body: &Body, x: &[f64], scale: f64, out: &mut [f64]) {
        add_product(body, &self.mu_start, x, scale, out);
    }

    /// mu at the start of the step.
    pub fn inertia(&self) -> &[f64] {
        &self.mu_start
    }

    /// Whether it is kept.
    pub fn is_on(&self) -> bool {
        !self.mu.is_empty()
    }

    /// Forget, so that nothing of it is kept.
    pub fn clear(&mut self) {
        self.mu.clear();
        self.mu_start.clear();
        self.accel.clear();
    }

    /// Whole radial tension of cell `j`.
    pub fn whole(&self, j: usize) -> f64 {
        self.tension[j] + self.mu[j] * (self.accel[j + 1] - self.accel[j])
    }

    /// Add the derivatives of the tension; accelerations must be known.
    pub fn add_derivatives(body: &Body, u: &[f64], work: &Work, derivatives: &mut Derivatives) {
        let (n, radial) = (body.v.len(), &work.radial);
        let (moves, passes, inv_d) = (&work.follow.moves[1..], &work.follow.passes[1..], &work.inv_d);
        derivatives.far.iter_mut().for_each(|band| {
            band.clear();
            band.resize(n + 1, 0.0);
        });
        for j in 0..n {
            let (du, inv) = (u[j + 1] - u[j], inv_d[j + 1]);
            let closing = moves[j + 1] * u[j + 1] - moves[j] * u[j] + 0.5 * du;
            let rate = radial.mu[j] * inv;
            let pushed = radial.mu[j] * (radial.accel[j + 1] - radial.accel[j]);
            let own = -rate * du * closing;
            let mut by_u = [0.0, rate * (closing + du * (moves[j] + 0.5)), -rate * (closing + du * (moves[j + 1] + 0.5)), 0.0];
            let mut by_d = [0.0, -(4.0 * own + 3.0 * pushed) * inv, 0.0];
            let by_v = 2.0 * (own + pushed) / work.v[j];
            if body.left == End::Nozzle && (j == 0 || radial.flows()) {
                let (_, more_u, more_d) = radial.carried(j, u, inv_d);
                by_u.iter_mut().zip(more_u).for_each(|(a, b)| *a += b);
                by_d.iter_mut().zip(more_d).for_each(|(a, b)| *a += b);
            }
            // by q at j-1 .. j+2
            let mut by_q = [0.0; 4];
            for (k, by_d) in by_d.into_iter().enumerate() {
                // the cell j - 1 + k lies between the nodes j - 1 + k and j + k
                if by_d != 0.0 {
                    by_q[k] -= by_d * moves[j + k - 1];
                    by_q[k + 1] += by_d * moves[j + k];
                }
            }
            by_q[1] += by_v * passes[j];
            by_q[2] -= by_v * passes[j + 1];
            derivatives.add_tension(j, n, by_q, by_u, body.right == End::Outflow);
        }
    }
}

/// out += scale K x, K the stiffness-like matrix of mu (row of an outflow's node empty).
fn add_product(body: &Body, mu: &[f64], x: &[f64], scale: f64, out: &mut [f64]) {
    let n = mu.len();
    for j in 0..n {
        let pull = scale * mu[j] * (x[j + 1] - x[j]);
        out[j] -= pull;
        if j + 1 < n || body.right != End::Outflow {
            out[j + 1] += pull;
        }
    }
}
