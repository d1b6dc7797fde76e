use crate::framework::plot::{Plot, line, log, symbols};
use crate::framework::{Row, Source, Status, Topic, holds, relative, source, within};
use crate::solver::{half_wave, run, slope, still, unit_of_time, wave};
use rayon::prelude::*;
use slenderjet::case::Stop;
use slenderjet::theory::{viscous_jet, weber};
use slenderjet::thread::step::Stepper;

/// Growth rate from a run of the program itself: slope of ln (swell - neck) between amplitudes of 0.003 and 0.01.
fn measured(ohnesorge: f64, x: f64) -> f64 {
    const START: f64 = 1e-5;
    let expected = weber::growth(ohnesorge, x);
    let ends = [0.003f64, 0.01].map(|a| (2.0 * a / START).ln() / expected);
    let mut case = wave(ohnesorge, x, START, Stop::Until(ends[1] * unit_of_time()));
    case.run.frames = 120;
    let (_, film) = run(&case);
    let points: Vec<_> = film
        .iter()
        .filter_map(|frame| {
            let h = &frame.bodies[0].h;
            let swell = h.iter().copied().fold(0.0, f64::max) - h.iter().copied().fold(f64::INFINITY, f64::min);
            let time = frame.time / unit_of_time();
            (time >= ends[0]).then(|| (time, swell.ln()))
        })
        .collect();
    slope(&points)
}

/// Growth over a fixed time on a fixed mesh of equal cells with fixed steps: for the orders of accuracy.
fn amplitude_after(cells: usize, steps: usize) -> f64 {
    const TIME: f64 = 8.0;
    let mut body = half_wave(0.7, 1e-3, cells);
    let physics = still(0.1, 0.0);
    let mut stepper = Stepper::default();
    for _ in 0..steps {
        stepper.attempt(&physics, &mut body, TIME / steps as f64, f64::INFINITY).expect("a smooth step");
    }
    // Crest less trough by the first and last cell: second order like the scheme.
    body.area(0).sqrt() - body.area(cells - 1).sqrt()
}

fn rates(from: &Source, exact: bool, cases: &[(f64, f64)]) -> Vec<Row> {
    cases
        .par_iter()
        .map(|&(oh, x)| {
            let reference = if exact { viscous_jet::growth(oh, x) } else { weber::growth(oh, x) };
            relative(format!("Oh = {oh}, kR = {x}"), from, reference, measured(oh, x), 0.01)
        })
        .collect()
}

pub fn topic() -> Topic {
    let long = source("long-wave relation, Weber 1931; Eggers & Dupont 1994", Status::Theory);
    let exact = source("exact viscous jet, Rayleigh 1892; Chandrasekhar 1961", Status::Theory);
    let mut rows = rates(&long, false, &[(0.01, 0.3), (0.01, 0.7), (0.1, 0.5), (0.1, 0.9), (1.0, 0.4)]);
    rows.extend(rates(&exact, true, &[(1.0, 0.4), (3.0, 0.3), (10.0, 0.5)]));
    let mut stable = wave(0.1, 1.05, 1e-3, Stop::Until(20.0 * unit_of_time()));
    stable.run.frames = 20;
    let (_, film) = run(&stable);
    let swell = |frame: &slenderjet::outcome::Frame| {
        let h = &frame.bodies[0].h;
        h.iter().copied().fold(0.0, f64::max) - h.iter().copied().fold(f64::INFINITY, f64::min)
    };
    let ratio = film.last().map_or(f64::NAN, swell) / film.first().map_or(f64::NAN, swell);
    rows.push(holds(
        "kR = 1.05 does not grow in 20 capillary times",
        &long,
        "decays",
        &format!("x {ratio:.2}"),
        ratio < 1.0,
    ));

    let cells = [10, 20, 40, 80];
    let limit = amplitude_after(320, 400);
    let space: Vec<_> =
        cells.par_iter().map(|&n| (1.0 / n as f64, (amplitude_after(n, 400) / limit - 1.0).abs())).collect();
    let steps = [10, 20, 40, 80];
    let fine = amplitude_after(40, 2000);
    let time: Vec<_> =
        steps.par_iter().map(|&n| (1.0 / n as f64, (amplitude_after(40, n) / fine - 1.0).abs())).collect();
    let order = |points: &[(f64, f64)]| slope(&points.iter().map(|p| (p.0.ln(), p.1.ln())).collect::<Vec<_>>());
    let design = source("order of the scheme (three-cell parabola; RODAS3)", Status::Theory);
    rows.push(within("observed order in space, 10 to 80 cells a half wave", &design, [1.9, 2.3], order(&space)));
    rows.push(within("observed order in time, 10 to 80 steps", &design, [2.7, 3.4], order(&time)));
    Topic {
        folder: "growth_of_waves",
        section: 'B',
        title: "Growth of waves on a thread, and the orders of accuracy",
        rows,
        figure: Some(Plot {
            x: log("1/cells, 1/steps"),
            y: log("relative error of the amplitude"),
            series: vec![
                symbols("mesh", space.clone()),
                symbols("step", time.clone()),
                line("second order", space.iter().map(|p| (p.0, space[0].1 * (p.0 / space[0].0).powi(2))).collect()),
                line("third order", time.iter().map(|p| (p.0, time[0].1 * (p.0 / time[0].0).powi(3))).collect()),
            ],
        }),
    }
}
