use crate::framework::{Status, Topic, Verdict, relative, report, source};
use crate::solver::{RADIUS, nozzle, run, unit_of_time};
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

/// Radius, over that of its needle, of a jet without weight once its parabola has decayed: Oh 0.1, We (radius) 300, 40 radii out.
fn relaxed() -> f64 {
    let mut case = nozzle(0.1, 0.0, JET_WEBER, Stop::Until(6.0 * unit_of_time()));
    case.run.accuracy = Accuracy::Coarse;
    case.model.parabolic_inflow = true;
    let (_, film) = run(&case);
    let body = film.last().and_then(|frame| frame.bodies.first());
    body.and_then(|body| {
        let after = body.z.iter().position(|z| *z > 40.0 * RADIUS)?;
        body.h.get(after).map(|h| h / RADIUS)
    })
    .unwrap_or(f64::NAN)
}

/// So large that the nozzle's own pull (viscous tension and curvature where the jet narrows) is small beside the momentum.
const JET_WEBER: f64 = 300.0;

/// Momentum of a parabola at the nozzle less the pull of a cylinder's surface, 4 We/3 - 1, is that of the plug far out, We/a - h.
fn contracted() -> f64 {
    let flux = 4.0 / 3.0 * JET_WEBER - 1.0;
    let (mut low, mut high) = (0.5f64, 1.0f64);
    for _ in 0..60 {
        let h = 0.5 * (low + high);
        if JET_WEBER / (h * h) - h > flux { low = h } else { high = h }
    }
    0.5 * (low + high)
}

const REASON: &str = "the plain one-dimensional equations stay absolutely unstable up to We = 4.0 where the full ones end at 3.12 (Leib & \
    Goldstein 1986): 13 % in velocity; where the rest comes from is not shown (a thread ten times as viscous jets below 1.2 times the \
    published velocity with a plug already, which points to the waves of the recoil)";

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
            if *parabola {
                let row = relative(quantity, &from, *critical, *ours, 0.2);
                if row.verdict == Verdict::Fail { row.remark(REASON) } else { row }
            } else {
                report(quantity, &from, *critical, *ours)
            }
        })
        .collect();
    rows.push(relative(
        "radius of a jet whose parabola has decayed, over that of its needle",
        &momentum,
        contracted(),
        relaxed(),
        0.01,
    ));
    Topic { folder: "tap", section: 'D', title: "Dripping tap becomes a jet", rows, figure: None }
}
