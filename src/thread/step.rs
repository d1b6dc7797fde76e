//! One time step of one body.
//!
//! Equation: dz/dt = u, M du/dt = F(z, u, t), by the scheme of [`crate::solver::rosenbrock`] with the positions
//! eliminated; the volume of the first cell is the exact integral of the inflow.

use super::body::{Body, End};
use super::cells::Triple;
use super::force::{Physics, Work, dissipation, forces, forces_with_derivatives, stretching};
use super::jacobian::{assemble, pin_ends};
use super::rows::{add_pulls, largest, largest_stretch, load, momenta, pulls, total, weigh};
use crate::solver::pentadiagonal::Pentadiagonal;
use crate::solver::rosenbrock::{C3, C4, C21, GAMMA, TIME_WEIGHT};
use std::f64::consts::PI;

/// Why a step was not taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Refusal {
    /// The error estimate in units of the tolerance.
    Error(f64),
    /// The matrix lost its positive pivots.
    Pivot,
    /// Nodes crossed, or a number stopped being finite.
    Crossing,
}

/// Buffers of a step, reused.
#[derive(Debug, Clone, Default)]
pub struct Stepper {
    work: Work,
    matrix: Pentadiagonal,
    k_u: [Vec<f64>; 4],
    k_z: [Vec<f64>; 4],
    /// Trial state.
    z: Vec<f64>,
    u: Vec<f64>,
    /// Inertia at the start of the step, on which the matrix is built.
    inertia: Vec<f64>,
    /// Displacement rates of a stage, and their differences with a zero at each end.
    slide: Vec<f64>,
    growth: Vec<f64>,
    /// Response of every cell's tension to them.
    pull: Vec<f64>,
    /// Viscosity of the inner liquid, for the velocity scale gamma/mu.
    viscosity: f64,
    /// Whether there is an outer liquid.
    has_outer: bool,
}

/// What a step found out beside the new state.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct StepReport {
    /// Error estimate in units of the tolerance (at most 1).
    pub error: f64,
    /// Power dissipated by inner viscosity at the start of the step.
    pub dissipation: f64,
    /// Power dissipated by the artificial viscosity at the start of the step.
    pub artificial: f64,
    /// Power that enters at the nozzle at the start of the step.
    pub inlet: f64,
    /// Power that the outer liquid puts in at the start of the step.
    pub outer: f64,
    /// Power of gravity at the start of the step (already in the potential energy; counted for the turnover).
    pub gravity: f64,
}

impl Stepper {
    /// Try a step of length `dt`; on success the body is the new state, otherwise it is untouched.
    pub fn attempt(&mut self, physics: &Physics, body: &mut Body, dt: f64, tol: f64) -> Result<StepReport, Refusal> {
        self.reset(body.cells() + 1);
        self.viscosity = physics.ohnesorge;
        let (t, inv_dt, c) = (body.time, 1.0 / dt, 1.0 / (GAMMA * dt));
        let nozzle = body.left == End::Nozzle;
        let (v_start, u_start) = (body.v[0], if nozzle { physics.inflow.velocity(t) } else { body.u[0] });
        let v_end = if nozzle { v_start + physics.inflow.volume(t, dt) } else { v_start };
        let u_end = if nozzle { physics.inflow.velocity(t + dt) } else { u_start };

        self.z.copy_from_slice(&body.z);
        self.u.copy_from_slice(&body.u);
        self.begin(physics, body, u_start)?;
        let [dissipation, artificial] = dissipation(physics, body, &self.u, &self.work);
        let inlet = if nozzle { self.inlet_power(physics, body) } else { 0.0 };
        let gravity = physics.bond * body.momentum();
        self.has_outer = physics.outer.is_some();
        let outer = if self.has_outer { self.work.outer.power } else { 0.0 };
        self.inertia.clone_from(&self.work.inertia);
        assemble(body, c, if nozzle { PI * u_start } else { 0.0 }, &self.work, &mut self.matrix);
        if self.has_outer {
            self.work.outer.add_to_matrix(1.0 / c, &mut self.matrix);
            pin_ends(body, &mut self.matrix);
        }
        self.matrix.factor().map_err(|_| Refusal::Pivot)?;
        let drift = if nozzle { self.drift(physics, body, dt) } else { [0.0; 2] };

        // stages 1 and 2 share one force
        self.stage(body, c, [], drift.map(|f| f * TIME_WEIGHT[0] * dt));
        self.stage(body, c, [C21 * inv_dt], drift.map(|f| f * TIME_WEIGHT[1] * dt));
        // stages 3 and 4 stand at the end of the step
        self.z.iter_mut().zip(&self.k_z[0]).for_each(|(z, k)| *z += 2.0 * k);
        self.u.iter_mut().zip(&self.k_u[0]).for_each(|(u, k)| *u += 2.0 * k);
        self.evaluate(physics, body, v_end, u_end)?;
        self.stage(body, c, C3.map(|c| c * inv_dt), [0.0; 2]);
        self.add_stage(2);
        self.evaluate(physics, body, v_end, u_end)?;
        self.stage(body, c, C4.map(|c| c * inv_dt), [0.0; 2]);
        self.add_stage(3);

        let error = self.error(body) / tol;
        if !error.is_finite() {
            return Err(Refusal::Crossing);
        }
        if error > 1.0 {
            return Err(Refusal::Error(error));
        }
        std::mem::swap(&mut body.z, &mut self.z);
        std::mem::swap(&mut body.u, &mut self.u);
        if nozzle {
            body.v[0] = v_end;
            body.u[0] = u_end;
        }
        body.time = t + dt;
        Ok(StepReport { error, dissipation, artificial, inlet, outer, gravity })
    }

    fn reset(&mut self, nodes: usize) {
        let own = [&mut self.z, &mut self.u, &mut self.slide];
        for buffer in self.k_u.iter_mut().chain(&mut self.k_z).chain(own) {
            buffer.resize(nodes, 0.0);
        }
        self.pull.resize(nodes - 1, 0.0);
        self.growth.resize(nodes + 1, 0.0);
        self.growth[nodes] = 0.0;
    }

    /// Forces and all their derivatives at the start of the step.
    fn begin(&mut self, physics: &Physics, body: &Body, u_first: f64) -> Result<(), Refusal> {
        self.u[0] = u_first;
        self.work.geometry(body, &self.z, body.v[0]).map_err(|_| Refusal::Crossing)?;
        self.work.masses(body);
        forces_with_derivatives(physics, body, &self.u, &mut self.work);
        if let Some(outer) = &physics.outer {
            outer.add_mass(body, &mut self.work);
            outer.add_forces::<true>(body, &self.z, &self.u, &mut self.work);
        }
        Ok(())
    }

    /// Forces at the trial state into `self.work`.
    fn evaluate(&mut self, physics: &Physics, body: &Body, v_first: f64, u_first: f64) -> Result<(), Refusal> {
        self.work.geometry(body, &self.z, v_first).map_err(|_| Refusal::Crossing)?;
        if body.left == End::Nozzle {
            self.u[0] = u_first;
            self.work.first_masses(body, v_first);
        }
        forces(physics, body, &self.u, v_first, &mut self.work);
        if let Some(outer) = &physics.outer {
            outer.add_forces::<false>(body, &self.z, &self.u, &mut self.work);
        }
        Ok(())
    }

    /// Power through the nozzle (see [`super::energy`]), from the state of the last evaluation.
    fn inlet_power(&self, physics: &Physics, body: &Body) -> f64 {
        let (d, a) = (&self.work.d, &self.work.a);
        // the first cell's own parabola is lopsided: the curvature there is carried over from the second and third
        let curvature = |j: usize| {
            Triple { dl: d[j - 1], d: d[j], dr: d[j + 1], al: a[j - 1], a: a[j], ar: a[j + 1] }
                .parabola()
                .curvature(0.0)
        };
        let (near, far) = (curvature(2), curvature(3));
        let (z_near, step) = (d[1] + 0.5 * d[2], 0.5 * (d[2] + d[3]));
        let at_nozzle = near - (far - near) * z_near / step;
        let u0 = self.u[0];
        let (trouton, artificial) = stretching(physics, body.v[0], 1.0 / d[1], self.u[1] - u0);
        PI * u0 * (at_nozzle + 0.5 * u0 * u0) - (trouton + artificial) * u0
    }

    /// Explicit time derivative of the accelerations of nodes 1 and 2: the inflow reaches no further in one instant.
    /// Central difference over a tenth of the step; its error is of the order of the scheme's own.
    fn drift(&self, physics: &Physics, body: &Body, dt: f64) -> [f64; 2] {
        let (t, eps) = (body.time, 0.05 * dt);
        // straight lines do: their curvature drops out of the central difference
        let (u_now, rise) = (self.u[0], physics.inflow.acceleration(t));
        let rate = |shift: f64| {
            let v = body.v[0] + PI * u_now * shift;
            let u0 = u_now + rise * shift;
            let (d, mut a) = (&self.work.d, [self.work.a[0], self.work.a[1], self.work.a[2], self.work.a[3]]);
            a[1] *= v / body.v[0];
            let tension = |j: usize, v: f64, du: f64| {
                let triple = Triple { dl: d[j], d: d[j + 1], dr: d[j + 2], al: a[j], a: a[j + 1], ar: a[j + 2] };
                let (trouton, artificial) = stretching(physics, v, 1.0 / d[j + 1], du);
                triple.parabola().tension() + trouton + artificial
            };
            let first = tension(0, v, body.u[1] - u0);
            let second = tension(1, body.v[1], body.u[2] - body.u[1]);
            let grown = 0.5 * (v - body.v[0]);
            let weight = (self.work.mass[1] + grown) * physics.bond;
            let entering = 0.25 * PI * u0 * (u0 - body.u[1]);
            let known = self.work.force[1]
                - (self.work.tension[1] - self.work.tension[0])
                - self.work.mass[1] * physics.bond
                - 0.25 * PI * self.u[0] * (self.u[0] - body.u[1]);
            let f1 = (second - first + weight + entering + known) / (self.inertia[1] + grown);
            let f2 = (self.work.force[2] + self.work.tension[1] - second) / self.inertia[2];
            [f1, f2]
        };
        let (after, before) = (rate(eps), rate(-eps));
        [(after[0] - before[0]) / (2.0 * eps), (after[1] - before[1]) / (2.0 * eps)]
    }

    /// Solve the stage after `w.len()` earlier ones from the force in `self.work`. `w` are the weights of those, `drift` is
    /// Gamma dt f_t of nodes 1 and 2.
    fn stage<const DONE: usize>(&mut self, body: &Body, c: f64, w: [f64; DONE], drift: [f64; 2]) {
        let n = body.cells();
        let inv_c = 1.0 / c;
        let (done_u, open_u) = self.k_u.split_at_mut(DONE);
        let (done_z, open_z) = self.k_z.split_at_mut(DONE);
        let (k_u, k_z, slide) = (&mut open_u[0][..=n], &mut open_z[0][..=n], &mut self.slide[..=n]);
        let (past_u, past_z) = (past::<DONE>(done_u, n + 1), past::<DONE>(done_z, n + 1));
        // every row is multiplied by the inertia at the start of the step, on which the matrix is built; only the nodes of
        // the first cell have another one now
        load(&self.work.force[..=n], &self.inertia[..=n], past_u, w, k_u);
        let first = self.work.force.iter().zip(self.inertia.iter().zip(&self.work.inertia)).take(2);
        for (k_u, (force, (start, now))) in k_u.iter_mut().zip(first) {
            *k_u += force * (start / now - 1.0);
        }
        if body.left == End::Nozzle {
            k_u[1] += drift[0] * self.inertia[1];
            k_u[2] += drift[1] * self.inertia[2];
        }
        weigh(&self.u[..=n], past_z, w, slide);
        let ends = [(body.left, 0), (body.right, n)];
        let fixed = || ends.iter().filter(|(end, _)| end.is_fixed()).map(|(_, node)| *node);
        fixed().for_each(|node| slide[node] = 0.0);
        for (growth, (lo, hi)) in self.growth[1..=n].iter_mut().zip(slide.iter().zip(&slide[1..])) {
            *growth = (hi - lo) * inv_c;
        }
        pulls(&self.work.h, &self.growth, &mut self.pull[..n]);
        add_pulls(body, &self.pull[..n], k_u);
        if self.has_outer {
            self.work.outer.add_position_response(slide, &self.growth, inv_c, k_u);
        }
        fixed().for_each(|node| k_u[node] = 0.0);
        self.matrix.solve(k_u);
        for (k_z, (slide, k_u)) in k_z.iter_mut().zip(slide.iter().zip(k_u.iter())) {
            *k_z = (slide + k_u) * inv_c;
        }
    }

    /// Add a stage to the trial state.
    fn add_stage(&mut self, stage: usize) {
        self.z.iter_mut().zip(&self.k_z[stage]).for_each(|(z, k)| *z += k);
        self.u.iter_mut().zip(&self.k_u[stage]).for_each(|(u, k)| *u += k);
    }

    /// Largest relative change of a cell's length by the error vector, and its mass-weighted velocity over the body's
    /// own velocity scale: radius and velocity are judged apart. Infinite if nodes have crossed.
    fn error(&self, body: &Body) -> f64 {
        let n = body.cells();
        let stretch = largest_stretch(&self.z[..=n], &body.z[..=n], &self.k_z[3][..=n]);
        let (square, mass, fastest) = momenta(&self.k_u[3][..=n], &self.inertia[..=n], &self.u[..=n]);
        // maxima pass over NaN; a sum does not
        let sum = square + total(&self.z[..=n]) + total(&self.u[..=n]);
        let Some(stretch) = stretch.filter(|_| sum.is_finite()) else { return f64::INFINITY };
        let capillary = largest(&self.work.a[1..=n]).sqrt().sqrt().recip();
        let scale = fastest.max(capillary.min(1.0 / self.viscosity));
        stretch.max((square / mass).sqrt() / scale)
    }
}

/// The first `rows` entries of each earlier stage.
fn past<const DONE: usize>(stages: &[Vec<f64>], rows: usize) -> [&[f64]; DONE] {
    std::array::from_fn(|s| &stages[s][..rows])
}
