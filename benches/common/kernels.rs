//! The solver's kernels as a step calls them, each by itself.

use super::threads::Thread;
use slenderjet::solver::pentadiagonal::Pentadiagonal;
use slenderjet::thread::body::Body;
use slenderjet::thread::force::{Work, forces, forces_with_derivatives};
use slenderjet::thread::jacobian::Derivatives;
use slenderjet::thread::mesh::regrid::regrid;
use slenderjet::thread::mesh::size::wanted;
use slenderjet::thread::outer::profile::Wall;
use slenderjet::thread::step::Stepper;
use std::hint::black_box;

/// Buffers, as a step keeps them.
#[derive(Default)]
pub struct Kernels {
    pub work: Work,
    pub derivatives: Derivatives,
    pub matrix: Pentadiagonal,
    pub stepper: Stepper,
    sizes: Vec<f64>,
}

impl Kernels {
    fn ready(&mut self, body: &Body) {
        let work = &mut self.work;
        work.v.clone_from(&body.v);
        work.geometry(body, &body.z).expect("ordered");
        work.follow.set(body, &body.u, &work.d, &work.a, body.dt);
        work.masses();
    }

    pub fn force(&mut self, thread: &Thread) {
        let body = black_box(&thread.body);
        self.ready(body);
        forces(&thread.physics, body, &body.u, &mut self.work);
    }

    pub fn force_and_jacobian(&mut self, thread: &Thread) {
        let body = black_box(&thread.body);
        self.ready(body);
        forces_with_derivatives(&thread.physics, body, &body.u, &mut self.work);
        self.derivatives.of_tensions(body, &self.work);
        self.derivatives.assemble(body, 2.0 / body.dt, &self.work.inertia, &mut self.matrix);
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
