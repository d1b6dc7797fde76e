//! The solver's kernels as a step calls them, each by itself.

use super::threads::Thread;
use slenderjet::solver::pentadiagonal::Pentadiagonal;
use slenderjet::thread::body::Body;
use slenderjet::thread::force::{Work, forces, forces_with_derivatives};
use slenderjet::thread::jacobian::assemble;
use slenderjet::thread::mesh::regrid::regrid;
use slenderjet::thread::mesh::size::wanted;
use slenderjet::thread::outer::profile::Wall;
use slenderjet::thread::step::Stepper;
use std::f64::consts::PI;
use std::hint::black_box;

/// Buffers, as a step keeps them.
#[derive(Default)]
pub struct Kernels {
    pub work: Work,
    pub matrix: Pentadiagonal,
    pub stepper: Stepper,
    sizes: Vec<f64>,
}

impl Kernels {
    pub fn force(&mut self, thread: &Thread) {
        let body = black_box(&thread.body);
        self.work.geometry(body, &body.z, body.v[0]).expect("ordered");
        self.work.masses(body);
        forces(&thread.physics, body, &body.u, body.v[0], &mut self.work);
    }

    pub fn force_and_jacobian(&mut self, thread: &Thread) {
        let body = black_box(&thread.body);
        self.work.geometry(body, &body.z, body.v[0]).expect("ordered");
        self.work.masses(body);
        forces_with_derivatives(&thread.physics, body, &body.u, &mut self.work);
        assemble(body, 2.0 / body.dt, PI * body.u[0], &self.work, &mut self.matrix);
    }

    /// The system that a step solves: its matrix and a right-hand side.
    pub fn system(&mut self, thread: &Thread) -> (Pentadiagonal, Vec<f64>) {
        self.force_and_jacobian(thread);
        (self.matrix.clone(), self.work.force.clone())
    }

    /// Try one step of length `dt` on a copy.
    pub fn step(&mut self, thread: &Thread, body: &mut Body, dt: f64) {
        self.stepper.attempt(&thread.physics, body, dt, thread.numerics.tol).expect("accepted");
    }

    pub fn regrid(&mut self, thread: &Thread, body: &mut Body) {
        wanted(body, &thread.numerics.fineness, &Wall::Unbounded, &mut self.sizes);
        regrid(body, &self.sizes);
    }
}

pub fn factor_and_solve(matrix: &mut Pentadiagonal, x: &mut [f64]) {
    matrix.factor().expect("pivots");
    matrix.solve(x);
}
