use crate::framework::{Status, Topic, relative, source};
use crate::solver::{DENSITY, RADIUS, TENSION, nozzle, run, unit_of_time};
use rayon::prelude::*;
use slenderjet::case::{Accuracy, Stop};
use slenderjet::outcome::{Mode, Summary};
use slenderjet::theory::faucet;
use std::f64::consts::PI;

/// Water at 20 C (IAPWS) and gravity.
const WATER: [f64; 3] = [998.2072, 1.001596e-3, 0.0727361];
const GRAVITY: f64 = 9.81;

fn at(diameter: f64, velocity: f64, parabola: bool) -> Summary {
    let mut case = nozzle(0.1, 0.0, 1.0, Stop::Drops(8));
    [case.inner.density, case.inner.viscosity, case.tension] = WATER;
    case.gravity = GRAVITY;
    case.device.tip_bore = diameter;
    case.inner.flow = velocity * PI * 0.25 * diameter * diameter;
    case.run.accuracy = Accuracy::Coarse;
    case.model.parabolic_inflow = parabola;
    run(&case).0.summary
}

/// Velocity over the critical one above which the run is judged a jet, by bisection between 0.8 and 2.1.
fn border(diameter: f64, critical: f64, parabola: bool) -> f64 {
    let (mut low, mut high) = (0.8, 2.1);
    for _ in 0..5 {
        let middle = 0.5 * (low + high);
        if at(diameter, middle * critical, parabola).mode == Mode::Jetting { high = middle } else { low = middle }
    }
    0.5 * (low + high)
}

/// A jet without weight once its parabola has decayed, Oh 0.1.
struct Relaxed {
    /// Radius over that of its needle.
    radius: f64,
    /// What pulls back at the nozzle, in pi gamma R: viscous tension and surface tension of full curvature, from the parabolas through
    /// the first three nodes.
    pull: f64,
}

const OHNESORGE: f64 = 0.1;

/// At Weber number `weber` (radius) after `until` (scaled), `place` radii out.
fn relaxed(weber: f64, accuracy: Accuracy, until: f64, place: f64) -> Relaxed {
    let mut case = nozzle(OHNESORGE, 0.0, weber, Stop::Until(until * unit_of_time()));
    case.run.accuracy = accuracy;
    case.model.parabolic_inflow = true;
    let (_, frames) = run(&case);
    let Some(body) = frames.last().and_then(|frame| frame.bodies.first()) else {
        return Relaxed { radius: f64::NAN, pull: f64::NAN };
    };
    let after = body.z.iter().position(|z| *z > place * RADIUS);
    let radius = after.and_then(|after| body.h.get(after)).map_or(f64::NAN, |h| h / RADIUS);
    let velocity = (TENSION / (DENSITY * RADIUS)).sqrt();
    // slope and second derivative at the first node
    let bend = |of: &dyn Fn(usize) -> f64| {
        let z = |i: usize| body.z[i] / RADIUS;
        let divided = |i: usize, k: usize| (of(k) - of(i)) / (z(k) - z(i));
        let second = (divided(1, 2) - divided(0, 1)) / (z(2) - z(0));
        (divided(0, 1) - second * (z(1) - z(0)), 2.0 * second)
    };
    let (slope, curved) = bend(&|i| body.h[i] / RADIUS);
    let (stretch, _) = bend(&|i| body.u[i] / velocity);
    let steep = 1.0 + slope * slope;
    Relaxed { radius, pull: 3.0 * OHNESORGE * stretch + 1.0 / steep.sqrt() + curved / steep.powf(1.5) }
}

/// Momentum of a parabola at the nozzle less what pulls there, 4 We/3 - T, is that of the plug far out, We/a - h; `pull` T is 1 of a
/// cylinder.
fn contracted(weber: f64, pull: f64) -> f64 {
    let flux = 4.0 / 3.0 * weber - pull;
    let (mut low, mut high) = (0.5f64, 1.0f64);
    for _ in 0..60 {
        let h = 0.5 * (low + high);
        if weber / (h * h) - h > flux { low = h } else { high = h }
    }
    0.5 * (low + high)
}

const PLUG: &str = "a plug, which is the default, misses a third of the momentum that a long needle delivers (the rows of the parabola)";

const REASON: &str = "the full equations of the 2 mm tap with its parabola (own run on one mesh, validation/tap), judged in the same way, are no jet \
    below 1.3 times the published velocity either (1.9 drops in line there, two make a jet): the difference is not shown to be the model's. It \
    goes over later and more steeply: what they show at 1.1 it shows at 1.2, since the needle's jet crosses a filling drop unmixed and its \
    profile in a drop here does not";

pub fn topic() -> Topic {
    let from = source("Clanet & Lasheras 1999, J. Fluid Mech. 383, 307 (formula recalled)", Status::Recalled);
    let momentum = source(
        "momentum balance of a jet that leaves a long needle (without tension sqrt(3)/2: Harmon 1955, J. Franklin Inst. 259, 519, recalled)",
        Status::Theory,
    );
    let inflows = [(1e-3, true), (2e-3, true), (1e-3, false), (2e-3, false)];
    let found: Vec<_> = inflows
        .par_iter()
        .map(|(d, parabola)| {
            let critical = faucet::critical_velocity(*d, *d, WATER[0], WATER[2], GRAVITY);
            (critical, critical * border(*d, critical, *parabola))
        })
        .collect();
    let mut rows: Vec<_> = inflows
        .iter()
        .zip(&found)
        .map(|((d, parabola), (critical, ours))| {
            let inflow = if *parabola { "a parabola from a long needle" } else { "a plug" };
            let quantity = format!("velocity of water at which a {:.0} mm tap becomes a jet, {inflow}, m/s", 1e3 * d);
            let cause = if *parabola { REASON.to_owned() } else { format!("{REASON}; {PLUG}") };
            relative(quantity, &from, *critical, *ours, 0.2).failing_for(&cause)
        })
        .collect();
    let fast = relaxed(300.0, Accuracy::Coarse, 6.0, 40.0);
    let slow = relaxed(30.0, Accuracy::Standard, 9.0, 25.0);
    let radius = "radius of a jet whose parabola has decayed, over that of its needle";
    for (weber, expected, found) in [
        ("300", contracted(300.0, 1.0), &fast),
        ("30, pull at the nozzle as it is there", contracted(30.0, slow.pull), &slow),
    ] {
        rows.push(relative(format!("{radius}, We {weber}"), &momentum, expected, found.radius, 0.01));
    }
    Topic { folder: "tap", section: 'D', title: "Dripping tap becomes a jet", rows, figure: None }
}
