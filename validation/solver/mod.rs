//! What the solver's topics share: cases in scaled groups, runs, and bodies stepped directly.

use slenderjet::case::{Case, Layout, Segment, Stop, Stream};
use slenderjet::outcome::{Frame, Outcome, SolverCounts};
use slenderjet::simulate::{Observer, simulate};
use slenderjet::thread::advance::{Advancer, Numerics};
use slenderjet::thread::body::{Body, End};
use slenderjet::thread::force::Physics;
use slenderjet::thread::inflow::Inflow;
use slenderjet::thread::mesh::size::Fineness;
use std::f64::consts::{PI, TAU};

/// A liquid and a radius; scaled answers may not depend on them.
pub const DENSITY: f64 = 917.0;
pub const TENSION: f64 = 0.031;
pub const RADIUS: f64 = 3e-4;

/// sqrt(rho R^3/gamma).
pub fn unit_of_time() -> f64 {
    (DENSITY * RADIUS.powi(3) / TENSION).sqrt()
}

/// A case without an outer liquid on a radius of 1 in scaled units.
fn bare(layout: Layout, ohnesorge: f64, stop: Stop) -> Case {
    let viscosity = ohnesorge * (DENSITY * TENSION * RADIUS).sqrt();
    let inner = Stream { liquid: None, viscosity, density: DENSITY, flow: 0.0 };
    let mut case = Case::bare("validation", layout, inner, TENSION, 2.0 * RADIUS);
    case.run.stop = stop;
    case
}

/// One wave of a thread at rest.
pub fn wave(ohnesorge: f64, wavenumber: f64, amplitude: f64, stop: Stop) -> Case {
    bare(Layout::Segment(Segment { radius: RADIUS, wavenumber, amplitude }), ohnesorge, stop)
}

/// A nozzle into a gas.
pub fn nozzle(ohnesorge: f64, bond: f64, weber: f64, stop: Stop) -> Case {
    let mut case = bare(Layout::Pendant, ohnesorge, stop);
    case.gravity = bond * TENSION / (DENSITY * RADIUS * RADIUS);
    case.inner.flow = (weber * TENSION / (DENSITY * RADIUS)).sqrt() * PI * RADIUS * RADIUS;
    case
}

/// Keeps every recorded instant.
#[derive(Default)]
pub struct Film(pub Vec<Frame>);

impl Observer for Film {
    fn frame(&mut self, frame: &Frame) {
        self.0.push(frame.clone());
    }

    fn interval(&mut self, interval: f64) {
        self.0.retain(|frame| frame.stays(interval));
    }
}

/// Runs a case; its outcome and its instants.
pub fn run(case: &Case) -> (Outcome, Vec<Frame>) {
    let mut film = Film::default();
    let outcome = simulate(case, None, &mut film).unwrap_or_else(|error| panic!("validation case: {error}"));
    (outcome, film.0)
}

/// Scaled physics of a body without inflow.
pub fn still(ohnesorge: f64, bond: f64) -> Physics {
    Physics {
        ohnesorge,
        bond,
        artificial: Physics::artificial_for(ohnesorge),
        inflow: Inflow::steady(0.0),
        outer: None,
        rheology: None,
        parabolic: false,
    }
}

/// Numerics of a given mesh fineness and step tolerance; necks are followed down to `neck`.
pub fn numerics(c: f64, tol: f64, ohnesorge: f64, neck: f64, longest: f64) -> Numerics {
    Numerics { tol, fineness: Fineness { c, neck_cut: neck, ohnesorge, longest } }
}

/// Half a wave from crest to trough on `cells` equal cells.
pub fn half_wave(wavenumber: f64, amplitude: f64, cells: usize) -> Body {
    let length = PI / wavenumber;
    let z = (0..=cells).map(|i| length * i as f64 / cells as f64).collect();
    let area = |z: f64| (1.0 + amplitude * (wavenumber * z).cos()).powi(2);
    Body::from_profile(z, End::Symmetry, End::Symmetry, area, |_| 0.0)
}

/// Steps a body until `done` says so or `limit` steps are taken; looks at it after every step.
pub fn step_until(
    physics: &Physics,
    numerics: &Numerics,
    body: &mut Body,
    target: f64,
    limit: usize,
    mut done: impl FnMut(&Body) -> bool,
) -> bool {
    let mut advancer = Advancer::default();
    let mut counts = SolverCounts::default();
    for _ in 0..limit {
        if body.time >= target {
            return true;
        }
        if advancer.step(physics, numerics, body, target, &mut counts).is_err() {
            return false;
        }
        if done(body) {
            return true;
        }
    }
    false
}

/// Slope of the straight line through points, by least squares.
pub fn slope(points: &[(f64, f64)]) -> f64 {
    let n = points.len() as f64;
    let (x, y) = points.iter().fold((0.0, 0.0), |sum, p| (sum.0 + p.0 / n, sum.1 + p.1 / n));
    let top: f64 = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum();
    let bottom: f64 = points.iter().map(|p| (p.0 - x) * (p.0 - x)).sum();
    top / bottom
}

/// A drop of volume 4 pi/3 at rest, `axis` half its length.
pub fn spheroid(axis: f64, cells: usize) -> Body {
    let z = (0..=cells).map(|i| axis * (2.0 * i as f64 / cells as f64 - 1.0)).collect();
    Body::from_profile(z, End::Tip, End::Tip, |z| ((1.0 - z * z / (axis * axis)) / axis).max(0.0), |_| 0.0)
}

/// Angular frequency of a slightly long drop, from the times until `target` at which its length passes 2.
pub fn wobble_frequency(physics: &Physics, numerics: &Numerics, target: f64) -> f64 {
    let mut body = spheroid(1.0 + 1e-3, 80);
    let mut before = (0.0, body.length() - 2.0);
    let mut crossings = Vec::new();
    step_until(physics, numerics, &mut body, target, 40_000, |body| {
        let now = (body.time, body.length() - 2.0);
        if before.1 * now.1 < 0.0 {
            crossings.push(before.0 - before.1 * (now.0 - before.0) / (now.1 - before.1));
        }
        before = now;
        false
    });
    let periods = 0.5 * (crossings.len() as f64 - 1.0);
    match (crossings.first(), crossings.last()) {
        (Some(first), Some(last)) if periods > 0.0 => TAU * periods / (last - first),
        _ => f64::NAN,
    }
}
