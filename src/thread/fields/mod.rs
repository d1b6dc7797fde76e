//! The viscous forces on a thread whose sections have two velocities, their mean and that of their surface.
//!
//! Equation: with x = (u_0, q_0, u_1, q_1, ...), u_i the mean velocity of the section at node i and u_i + q_i that of its surface, x_0 those of
//! the flow of one liquid through the device, all forces that viscosity exerts on them are
//!   f = - (mu_i I + mu_o O) x + mu_o (I + O) x_0,
//! half of the slopes of what both liquids dissipate: I within the thread ([`inner`]), O = P^T H P about it ([`rays`]), in the slip x - x_0
//! past that flow. The stream pulls at the surface with its own traction, whose work within the thread is that of its strain
//! there at the outer viscosity, whatever the inner one is (Gauss' theorem). Only the mean has momentum: the forces on q vanish.
//! Symbols: scaled as in [`super`]; mu_i the Ohnesorge number, mu_o that over the viscosity ratio.
//! Source: Helmholtz' principle of least dissipation; see the parts.
//! Holds for: Newtonian liquids, creeping flow across each section; matrices are those of the shape in the middle of a step, as it goes at its
//! start (second order in the step).

pub mod glass;
pub mod inner;
mod join;
pub mod rays;
pub mod stream;

use crate::solver::banded::Banded;
use crate::solver::dense::dot;
use crate::solver::pentadiagonal::{BadPivot, Pentadiagonal};
use glass::Glass;
use inner::WIDTH;
use join::{Joined, Unknowns};
use rays::{RayForces, RayWork, Rays};
use std::f64::consts::PI;
use stream::Bare;

/// What of a device the fields need.
#[derive(Debug, Clone)]
pub struct Device {
    pub glass: Glass,
    pub stream: Bare,
}

/// Flows and viscosities of inner and outer liquid.
#[derive(Debug, Clone, Copy)]
pub struct Liquids {
    pub flows: [f64; 2],
    pub viscosities: [f64; 2],
}

/// The viscous forces of a step.
#[derive(Debug, Clone, Default)]
pub struct Fields {
    active: bool,
    viscosities: [f64; 2],
    node: Vec<f64>,
    /// I and O.
    inner: Banded<WIDTH>,
    rays: Rays,
    ray_work: RayWork,
    /// mu_o (I + O) x_0.
    driven: Vec<f64>,
    /// The forces by the velocity with which liquid enters, as a parabola.
    by_inflow: Vec<f64>,
    /// x, and f there.
    x: Vec<f64>,
    force: Vec<f64>,
    /// q of the trial state, and its change in each stage.
    q: Vec<f64>,
    k_q: [Vec<f64>; 4],
    surface: Joined<5>,
    step: Joined<WIDTH>,
    right: Vec<f64>,
    ray_forces: RayForces,
    resistance: Vec<f64>,
    /// Power that the inner liquid dissipates, that the outer one puts into the thread, and that of the forces at the nozzle, at the last
    /// [`Fields::add_forces`].
    pub dissipated: f64,
    pub driving: f64,
    pub inlet: f64,
}

/// What the outer liquid adds to a long thread's resistance to being stretched, over its viscosity.
const STRETCHED: f64 = 2.0;

impl Fields {
    /// Whether the viscous forces of the step at hand are these.
    pub fn active(&self) -> bool {
        self.active
    }

    /// They are others.
    pub fn leave(&mut self) {
        self.active = false;
    }

    /// Intervals between the rays.
    pub fn intervals(&self) -> usize {
        self.rays.intervals()
    }

    /// What the outer liquid adds to each cell's resistance to being stretched.
    pub fn resistance(&self) -> &[f64] {
        &self.resistance
    }

    /// Matrices of a shape, about which there were `held` intervals between rays; `None` where that is no thread.
    pub fn begin(&mut self, device: &Device, liquids: &Liquids, (z, v): (&[f64], &[f64]), held: usize) -> Option<()> {
        let n = v.len();
        self.active = true;
        self.viscosities = liquids.viscosities;
        let outer = liquids.viscosities[1];
        inner::node_areas(z, v, &mut self.node);
        inner::dissipation(z, v, &self.node, &mut self.inner);
        rays::about(&device.glass, (z, &self.node), held, &mut self.ray_work, &mut self.rays)?;

        self.x.clear();
        let thinnest = 1e-3 * v[n - 1] / (PI * (z[n] - z[n - 1]));
        for (z, a) in z.iter().zip(&self.node) {
            let a = if *a > thinnest { *a } else { thinnest };
            let [inner, outer] = liquids.flows;
            let within = device.stream.at(*z, a).of(inner, outer);
            let u = within.share / (PI * a);
            self.x.extend([u, within.by_area / PI - u]);
        }
        self.x[2 * n + 1] = 0.0;
        self.driven.clear();
        self.driven.resize(2 * n + 2, 0.0);
        product(&self.inner, &self.rays, &self.x, [outer, outer], &mut self.ray_forces, &mut self.driven);

        self.x.fill(0.0);
        (self.x[0], self.x[1]) = (-1.0, 1.0);
        self.by_inflow.clear();
        self.by_inflow.resize(2 * n + 2, 0.0);
        product(&self.inner, &self.rays, &self.x, self.viscosities, &mut self.ray_forces, &mut self.by_inflow);

        self.resistance.clear();
        self.resistance.resize(n, STRETCHED * outer);
        self.q.resize(n + 1, 0.0);
        self.k_q.iter_mut().for_each(|k| k.resize(n + 1, 0.0));
        self.factor_surface(n).ok()
    }

    fn factor_surface(&mut self, n: usize) -> Result<(), BadPivot> {
        let matrix = &mut self.surface.matrix;
        matrix.reset(n + 1);
        for i in 0..=n {
            for j in i.saturating_sub(2)..=(i + 2).min(n) {
                *matrix.entry(i, j) = self.viscosities[0] * self.inner.at(2 * i + 1, 2 * j + 1);
            }
        }
        let fixed = [0, n];
        fixed.iter().for_each(|row| matrix.pin(*row));
        self.surface.factor(&self.rays, self.viscosities[1], Unknowns::Surface, &fixed)
    }

    /// Both fields at the velocities `u`, and the force on them.
    fn evaluate(&mut self, u: &[f64]) {
        self.x.clear();
        self.x.extend(u.iter().zip(&self.q).flat_map(|(u, q)| [*u, *q]));
        self.right.clear();
        self.right.resize(self.x.len(), 0.0);
        product(&self.inner, &self.rays, &self.x, self.viscosities, &mut self.ray_forces, &mut self.right);
        self.force.clear();
        self.force.extend(self.driven.iter().zip(&self.right).map(|(driven, resisted)| driven - resisted));
    }

    /// The q on which no force acts at the velocities `u`.
    pub fn settle(&mut self, u: &[f64]) {
        self.q.fill(0.0);
        self.q[0] = -u[0];
        self.evaluate(u);
        let n = u.len() - 1;
        let right = &mut self.right;
        right.clear();
        right.extend(self.force.iter().skip(1).step_by(2));
        (right[0], right[n]) = (0.0, 0.0);
        self.surface.solve(right);
        self.q.iter_mut().zip(right).for_each(|(q, change)| *q += *change);
    }

    /// Liquid enters at `u`.
    pub fn enter(&mut self, u: f64) {
        if self.active {
            self.q[0] = -u;
        }
    }

    /// Add the forces on the nodes' mean velocities `u`.
    pub fn add_forces(&mut self, u: &[f64], force: &mut [f64]) {
        self.evaluate(u);
        force.iter_mut().zip(self.force.iter().step_by(2)).for_each(|(total, own)| *total += own);
        self.right.fill(0.0);
        self.inner.add_product(&self.x, self.viscosities[0], &mut self.right);
        self.dissipated = dot(&self.x, &self.right);
        self.driving = dot(&self.x, &self.force) + self.dissipated;
        self.inlet = -(self.force[0] * self.x[0] + self.force[1] * self.x[1]);
    }

    /// Factor the matrix of a step, to which the rest contributes `others`.
    pub fn factor(&mut self, others: &Pentadiagonal) -> Result<(), BadPivot> {
        let n = others.len() - 1;
        let matrix = &mut self.step.matrix;
        matrix.clone_from(&self.inner);
        matrix.scale(self.viscosities[0]);
        let bands = [&others.lower2, &others.lower1, &others.diag, &others.upper1, &others.upper2];
        for i in 0..=n {
            for (k, band) in bands.iter().enumerate().filter(|(k, _)| i + k >= 2 && i + k < n + 3) {
                *matrix.entry(2 * i, 2 * (i + k - 2)) += band[i];
            }
        }
        let fixed = [0, 1, 2 * n + 1];
        fixed.iter().for_each(|row| matrix.pin(*row));
        self.step.factor(&self.rays, self.viscosities[1], Unknowns::Both, &fixed)
    }

    /// Solve a stage in place, the nozzle's velocity rising by `rise` within it.
    pub fn solve(&mut self, stage: usize, rise: f64, k_u: &mut [f64]) {
        let n = k_u.len() - 1;
        let right = &mut self.right;
        right.clear();
        right.extend(k_u.iter().zip(self.force.iter().skip(1).step_by(2)).flat_map(|(u, q)| [*u, *q]));
        if rise != 0.0 {
            right.iter_mut().zip(&self.by_inflow).for_each(|(right, by)| *right += rise * by);
        }
        (right[0], right[1], right[2 * n + 1]) = (0.0, 0.0, 0.0);
        self.step.solve(right);
        for ((u, q), x) in k_u.iter_mut().zip(&mut self.k_q[stage]).zip(right.chunks_exact(2)) {
            (*u, *q) = (x[0], x[1]);
        }
    }

    /// Add a stage to the trial state.
    pub fn add(&mut self, stage: usize, weight: f64) {
        if self.active {
            self.q.iter_mut().zip(&self.k_q[stage]).for_each(|(q, k)| *q += weight * k);
        }
    }
}

/// Add the product of mu_i I + mu_o O with `x` to `out`.
fn product(
    inner: &Banded<WIDTH>,
    rays: &Rays,
    x: &[f64],
    [of_inner, of_outer]: [f64; 2],
    forces: &mut RayForces,
    out: &mut [f64],
) {
    inner.add_product(x, of_inner, out);
    rays.add_product(x, of_outer, forces, out);
}
