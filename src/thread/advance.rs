//! One accepted step: try, shrink, try again; then look at the mesh.

use super::body::{Body, End};
use super::energy::{Energy, energy};
use super::force::Physics;
use super::mesh::regrid::{is_due, regrid};
use super::mesh::size::Fineness;
use super::outer::profile::Wall;
use super::step::{Refusal, StepReport, Stepper};
use super::stream::Stream;
use crate::outcome::SolverCounts;
use crate::solver::rosenbrock::step_factor;
use crate::tolerances::{
    FILLING_TOLERANCE, FILLING_TOLERANCE_IN_GAS, FILLING_TOLERANCE_MAX, REGRID_EVERY, STEP_AFTER_REGRID, STEP_MIN,
};

/// How finely to compute.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Numerics {
    /// Error tolerance of a step.
    pub tol: f64,
    /// Mesh fineness.
    pub fineness: Fineness,
}

/// Buffers of an advance, reused for all bodies.
#[derive(Debug, Clone, Default)]
pub struct Advancer {
    stepper: Stepper,
    wanted: Vec<f64>,
    /// The physics with the total flow of the step at hand, where that changes.
    driven: Option<Physics>,
}

/// The step became too short to go on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Underflow;

/// Tries of one step: from the longest to the shortest possible step takes fewer.
const TRIES_MAX: u32 = 60;

impl Advancer {
    /// Take one step, at most to `target`. Counts by cause go to `counts`.
    pub fn step(
        &mut self,
        physics: &Physics,
        numerics: &Numerics,
        body: &mut Body,
        target: f64,
        counts: &mut SolverCounts,
    ) -> Result<(f64, StepReport), Underflow> {
        let stream = physics.outer.as_ref().and_then(|outer| outer.stream.as_ref());
        let mut longest = stream.map_or(f64::INFINITY, Stream::longest_step);
        if body.left == End::Nozzle {
            longest = longest.min(physics.inflow.longest_step());
        }
        for _ in 0..TRIES_MAX {
            let left = target - body.time;
            // no sliver of a step before the target
            let dt = if body.dt >= left { left } else { body.dt.min(0.5 * left).max(0.0) };
            let dt = if dt > longest { longest.min(0.5 * left) } else { dt };
            if dt < STEP_MIN * body.time.max(1.0) && dt < left {
                return Err(Underflow);
            }
            let tol = if body.filling {
                if physics.outer.is_some() {
                    (FILLING_TOLERANCE * numerics.tol).min(FILLING_TOLERANCE_MAX).max(numerics.tol)
                } else {
                    FILLING_TOLERANCE_IN_GAS * numerics.tol
                }
            } else {
                numerics.tol
            };
            let driven = stream.map(|stream| {
                let driven = self.driven.get_or_insert_with(|| physics.clone());
                if let Some(outer) = driven.outer.as_mut() {
                    outer.liquids.total_flow = stream.total(body.time, dt);
                }
                &*driven
            });
            match self.stepper.attempt(driven.unwrap_or(physics), body, dt, tol) {
                Ok(mut report) => {
                    counts.steps_accepted += 1;
                    let proposed = dt * step_factor(report.error);
                    // a step shortened to meet the target says nothing against the longer one
                    body.dt = if dt < body.dt { proposed.max(body.dt) } else { proposed };
                    if left - dt <= 0.0 {
                        body.time = target;
                    }
                    report.regrid = self.look_at_mesh(physics, numerics, body, counts);
                    return Ok((dt, report));
                }
                Err(Refusal::Error(error)) => {
                    counts.steps_rejected_error += 1;
                    body.dt = dt * step_factor(error).min(0.9);
                }
                Err(Refusal::Pivot) => {
                    counts.steps_rejected_pivot += 1;
                    body.dt = 0.35 * dt;
                }
                Err(Refusal::Crossing) => {
                    counts.steps_rejected_crossing += 1;
                    body.dt = 0.35 * dt;
                }
            }
        }
        Err(Underflow)
    }

    fn look_at_mesh(
        &mut self,
        physics: &Physics,
        numerics: &Numerics,
        body: &mut Body,
        counts: &mut SolverCounts,
    ) -> Energy {
        counts.cells_max = counts.cells_max.max(body.cells() as u64);
        body.since_regrid += 1;
        if body.since_regrid >= REGRID_EVERY {
            body.since_regrid = 0;
            return self.regrid_if_due(physics, numerics, body, counts);
        }
        Energy::default()
    }

    /// Regrid if a look at the mesh says so; returns the energy that it brought.
    pub fn regrid_if_due(
        &mut self,
        physics: &Physics,
        numerics: &Numerics,
        body: &mut Body,
        counts: &mut SolverCounts,
    ) -> Energy {
        let wall = physics.outer.as_ref().map_or(&Wall::Unbounded, |outer| &outer.wall);
        if is_due(body, &numerics.fineness, wall, &mut self.wanted) {
            let before = energy(body, physics.bond);
            regrid(body, &self.wanted);
            counts.regrids += 1;
            if body.follows {
                body.dt *= STEP_AFTER_REGRID;
            }
            return energy(body, physics.bond) - before;
        }
        Energy::default()
    }
}
