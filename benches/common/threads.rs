//! Threads in the program's own scaled units (see `slenderjet::thread`), stepped without the rest of a run: kernels are timed
//! on them, and runs that must end at a given neck.

use slenderjet::outcome::SolverCounts;
use slenderjet::thread::advance::{Advancer, Numerics};
use slenderjet::thread::body::{Body, End};
use slenderjet::thread::force::Physics;
use slenderjet::thread::inflow::Inflow;
use slenderjet::thread::mesh::size::Fineness;
use slenderjet::tolerances::{NECK_CUT, SEGMENT_FINER};

pub const OHNESORGE: f64 = 0.1;
pub const BOND: f64 = 0.5;
pub const WEBER: f64 = 1e-3;
/// Wavenumber and amplitude of the segment.
pub const WAVENUMBER: f64 = 0.7;
pub const AMPLITUDE: f64 = 0.01;
/// Longest cell of a nozzle's thread in units of fineness times radius, as in a run.
const CELL_LONGEST: f64 = 6.0;

/// A thread with all it takes to step it.
#[derive(Clone)]
pub struct Thread {
    pub body: Body,
    pub physics: Physics,
    pub numerics: Numerics,
    pub counts: SolverCounts,
    /// A run looks round after so much time, and no step goes beyond.
    pub slice: f64,
}

fn physics(bond: f64, inflow: f64) -> Physics {
    let inflow = Inflow::steady(inflow);
    Physics {
        ohnesorge: OHNESORGE,
        bond,
        artificial: Physics::artificial_for(OHNESORGE),
        inflow,
        outer: None,
        rheology: None,
        parabolic: false,
    }
}

fn thread(body: Body, physics: Physics, (c, tol): (f64, f64), longest: f64, slice: f64) -> Thread {
    let fineness = Fineness { c, neck_cut: NECK_CUT, ohnesorge: OHNESORGE, longest };
    Thread { body, physics, numerics: Numerics { tol, fineness }, counts: SolverCounts::default(), slice }
}

/// The dripping drop at its start, as a run starts it: a hemisphere that moves with the inflow.
pub fn dripping(accuracy: (f64, f64)) -> Thread {
    let inflow = WEBER.sqrt();
    let z = (0..=40).map(|i| f64::from(i) / 40.0).collect();
    let body = Body::from_profile(z, End::Nozzle, End::Tip, |z| 1.0 - z * z, |_| inflow);
    // an eighth of the time in which a drop of the guessed weight fills, as in a run
    let slice = 0.65 * 2.0 / BOND / inflow / 8.0;
    thread(body, physics(BOND, inflow), accuracy, CELL_LONGEST, slice)
}

/// The segment at its start, as a run starts it: half a wave at rest between two mirrors.
pub fn segment(accuracy: (f64, f64)) -> Thread {
    let (k, c) = (WAVENUMBER, SEGMENT_FINER * accuracy.0);
    let length = std::f64::consts::PI / k;
    let cells = ((2.5 * length / c.min(0.1)).ceil() as usize).max(24);
    let z = (0..=cells).map(|i| length * i as f64 / cells as f64).collect();
    let profile = |z: f64| (1.0 + AMPLITUDE * (k * z).cos()).powi(2);
    let body = Body::from_profile(z, End::Symmetry, End::Symmetry, profile, |_| 0.0);
    // a hundredth of the time in which the wave should have broken, as in a run
    let (damping, drive) = (3.0 * OHNESORGE * k * k, 0.5 * k * k * (1.0 - k * k));
    let rate = 0.5 * ((damping * damping + 4.0 * drive).sqrt() - damping);
    let slice = (1.5 * (1.0 / AMPLITUDE).ln() + 3.0) / rate / 100.0;
    thread(body, physics(0.0, 0.0), (c, accuracy.1), 2.0 / k, slice)
}

impl Thread {
    /// One accepted step, at most to `target`, and a look at the mesh.
    pub fn step(&mut self, advancer: &mut Advancer, target: f64) {
        advancer
            .step(&self.physics, &self.numerics, &mut self.body, target, &mut self.counts)
            .unwrap_or_else(|_| panic!("the step became too short at time {}", self.body.time));
    }
}

/// The dripping drop when its neck has thinned to 0.1.
pub fn necking(accuracy: (f64, f64)) -> Thread {
    let mut thread = dripping(accuracy);
    let mut advancer = Advancer::default();
    loop {
        thread.step(&mut advancer, f64::INFINITY);
        if slenderjet::pinch_off::neck::thinnest(&thread.body).is_some_and(|neck| neck.radius < 0.1) {
            return thread;
        }
    }
}
