//! Forces on the nodes of a body.
//!
//! Equation: m_i du_i/dt = T_i - T_(i-1) + m_i Bo + outer liquid, with half of each cell's volume at each of its nodes and
//!   T = capillary tension                      (see [`super::cells`])
//!     + 3 Oh v du/d^2                          inner extension (Trouton)
//!     + C v |du|/d du  where du < 0            artificial viscosity, second order in d
//! and, at the first node after the nozzle, the momentum Q (u_0 - u_1)/4 that enters half a cell.
//! Symbols: v cell volume, d its length, du velocity difference across it, all scaled (see [`super`]).
//! Source: Eggers & Dupont 1994, J. Fluid Mech. 262, 205 (equations); artificial viscosity after von Neumann &
//! Richtmyer 1950, J. Appl. Phys. 21, 232: recoiling filaments of thin liquid steepen into fronts that the 1-D model
//! cannot carry. C = 0.5, and 2 below Oh = 0.01; it moves a drop's volume by 0.02 % (measured, validation page).
//! Holds for: |h'| up to order one away from caps.

use super::body::{Body, End};
use super::cells::Triple;
use super::inflow::Inflow;
use super::outer::{OuterField, OuterWork};
use std::f64::consts::PI;

/// What the thread is made of and what acts on it, scaled.
#[derive(Debug, Clone)]
pub struct Physics {
    /// Ohnesorge number of the inner liquid on the pinned radius.
    pub ohnesorge: f64,
    /// Gravity (less buoyancy) along the flow as a Bond number; negative against the flow.
    pub bond: f64,
    /// Strength of the artificial viscosity.
    pub artificial: f64,
    /// Inflow at the nozzle.
    pub inflow: Inflow,
    /// Outer liquid, if any.
    pub outer: Option<OuterField>,
}

impl Physics {
    /// Artificial viscosity that a thread of this Ohnesorge number needs.
    pub fn artificial_for(ohnesorge: f64) -> f64 {
        if ohnesorge < 0.01 { 2.0 } else { 0.5 }
    }
}

/// Two nodes met or passed each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Crossing;

/// Everything one step needs, reused from step to step so that stepping allocates nothing.
#[derive(Debug, Clone, Default)]
pub struct Work {
    /// Cell lengths with a ghost at each end.
    pub d: Vec<f64>,
    /// Mean squared radii with a ghost at each end.
    pub a: Vec<f64>,
    /// Capillary and viscous tension of each cell.
    pub tension: Vec<f64>,
    /// Node forces.
    pub force: Vec<f64>,
    /// Node inertia (with added mass).
    pub inertia: Vec<f64>,
    /// Node masses (without).
    pub mass: Vec<f64>,
    /// Derivatives of the tension by the lengths of the left, own and right cell.
    pub h: [Vec<f64>; 3],
    /// Derivative of the tension by the velocity difference.
    pub eta: Vec<f64>,
    /// Outer-liquid terms.
    pub outer: OuterWork,
    /// Power dissipated by inner viscosity and by the artificial one, at the last evaluation with `powers`.
    pub dissipation: [f64; 2],
}

impl Work {
    /// Fill lengths and squared radii with their ghosts; refuses crossed nodes.
    pub fn geometry(&mut self, body: &Body, z: &[f64], first_volume: f64) -> Result<(), Crossing> {
        let n = body.v.len();
        self.d.resize(n + 2, 0.0);
        self.a.resize(n + 2, 0.0);
        let mut shortest = f64::INFINITY;
        let (d, a) = (&mut self.d[1..=n], &mut self.a[1..=n]);
        let (lo, hi, v) = (&z[..n], &z[1..=n], &body.v[..n]);
        for j in 0..n {
            let length = hi[j] - lo[j];
            d[j] = length;
            a[j] = v[j] / (PI * length);
            shortest = if length > shortest { shortest } else { length };
        }
        a[0] = first_volume / (PI * d[0]);
        // written so that a NaN is refused too
        if !(shortest > 0.0 && shortest.is_finite()) {
            return Err(Crossing);
        }
        (self.d[0], self.a[0]) = ghost(body.left, self.d[1], self.a[1]);
        (self.d[n + 1], self.a[n + 1]) = ghost(body.right, self.d[n], self.a[n]);
        Ok(())
    }

    /// Masses and inertia of the nodes; the added mass is frozen over a step (see [`super::outer`]).
    pub fn masses(&mut self, body: &Body, first_volume: f64) {
        let n = body.v.len();
        self.mass.resize(n + 1, 0.0);
        self.mass[0] = 0.5 * first_volume;
        self.mass[1] = 0.5 * (first_volume + body.v.get(1).copied().unwrap_or(0.0));
        for i in 2..n {
            self.mass[i] = 0.5 * (body.v[i - 1] + body.v[i]);
        }
        self.mass[n] = 0.5 * if n == 1 { first_volume } else { body.v[n - 1] };
        self.inertia.clone_from(&self.mass);
    }
}

/// Width and value of the neighbour that stands for an end.
fn ghost(end: End, d: f64, a: f64) -> (f64, f64) {
    match end {
        End::Nozzle => (0.0, 1.0),
        End::Tip => (0.0, 0.0),
        End::Symmetry | End::Outflow => (d, a),
    }
}

/// Viscous and artificial tension of a cell, and what they dissipate.
#[inline(always)]
pub(super) fn stretching(physics: &Physics, v: f64, inv_d: f64, du: f64) -> (f64, f64) {
    let trouton = 3.0 * physics.ohnesorge * v * du * inv_d * inv_d;
    let closing = du.min(0.0);
    (trouton, -physics.artificial * v * closing * closing * inv_d)
}

/// Node forces at (z, u, t). `work.geometry` and `work.masses` must hold for the same state.
pub fn forces(physics: &Physics, body: &Body, u: &[f64], first_volume: f64, work: &mut Work) {
    let n = body.v.len();
    work.tension.resize(n, 0.0);
    work.force.resize(n + 1, 0.0);
    let (d, a) = (&work.d[..n + 2], &work.a[..n + 2]);
    let (tension, v, u_lo, u_hi) = (&mut work.tension[..n], &body.v[..n], &u[..n], &u[1..=n]);
    let (mut lost, mut lost_artificial) = (0.0, 0.0);
    for j in 0..n {
        let triple = Triple { dl: d[j], d: d[j + 1], dr: d[j + 2], al: a[j], a: a[j + 1], ar: a[j + 2] };
        let du = u_hi[j] - u_lo[j];
        let (trouton, artificial) = stretching(physics, v[j], 1.0 / d[j + 1], du);
        tension[j] = triple.parabola().tension() + trouton + artificial;
        lost += trouton * du;
        lost_artificial += artificial * du;
    }
    if body.left == End::Nozzle {
        // the first cell's volume differs from the stored one inside a step
        let du = u[1] - u[0];
        let (old, new) = (stretching(physics, v[0], 1.0 / d[1], du), stretching(physics, first_volume, 1.0 / d[1], du));
        tension[0] += new.0 + new.1 - old.0 - old.1;
        lost += (new.0 - old.0) * du;
    }
    work.dissipation = [lost, lost_artificial];
    let (force, mass) = (&mut work.force[..n + 1], &work.mass[..n + 1]);
    force[0] = tension[0] + mass[0] * physics.bond;
    for i in 1..n {
        force[i] = tension[i] - tension[i - 1] + mass[i] * physics.bond;
    }
    force[n] = mass[n] * physics.bond - if body.right == End::Outflow { 0.0 } else { tension[n - 1] };
    if body.left == End::Nozzle {
        force[1] += 0.25 * PI * u[0] * (u[0] - u[1]);
    }
}

/// Derivatives of the tensions at the state of the last `geometry`: by cell lengths into `work.h`, by velocity
/// differences into `work.eta`. Mirrored ends are folded into the cell's own derivative.
pub fn tension_derivatives(physics: &Physics, body: &Body, u: &[f64], work: &mut Work) {
    let n = body.v.len();
    for band in &mut work.h {
        band.resize(n, 0.0);
    }
    work.eta.resize(n, 0.0);
    let (d, a) = (&work.d[..n + 2], &work.a[..n + 2]);
    let [hl, hc, hr] = &mut work.h;
    let (hl, hc, hr, eta) = (&mut hl[..n], &mut hc[..n], &mut hr[..n], &mut work.eta[..n]);
    let (v, u_lo, u_hi) = (&body.v[..n], &u[..n], &u[1..=n]);
    for j in 0..n {
        let triple = Triple { dl: d[j], d: d[j + 1], dr: d[j + 2], al: a[j], a: a[j + 1], ar: a[j + 2] };
        let parabola = triple.parabola();
        let p = triple.partials(&parabola);
        let (_, g) = parabola.tension_and_gradient();
        let inv_d = 1.0 / d[j + 1];
        let du = u_hi[j] - u_lo[j];
        let (trouton, artificial) = stretching(physics, v[j], inv_d, du);
        hl[j] = g[0] * p.c0[0] + g[1] * p.c1[0] + g[2] * p.c2[0];
        hc[j] = g[0] * p.c0[1] + g[1] * p.c1[1] + g[2] * p.c2[1] - (2.0 * trouton + artificial) * inv_d;
        hr[j] = g[0] * p.c0[2] + g[1] * p.c1[2] + g[2] * p.c2[2];
        eta[j] = (3.0 * physics.ohnesorge * inv_d - 2.0 * physics.artificial * du.min(0.0)) * v[j] * inv_d;
    }
    fold(body.left, &mut hl[0], &mut hc[0]);
    fold(body.right, &mut hr[n - 1], &mut hc[n - 1]);
}

/// A mirrored neighbour moves with the cell; a known end value does not move.
fn fold(end: End, outward: &mut f64, own: &mut f64) {
    if matches!(end, End::Symmetry | End::Outflow) {
        *own += *outward;
    }
    *outward = 0.0;
}
