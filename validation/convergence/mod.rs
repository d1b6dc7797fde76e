use crate::framework::plot::{Plot, line, log, symbols};
use crate::framework::{Row, Status, Topic, relative, source, within};
use crate::solver::{RADIUS, nozzle, run, unit_of_time, wave};
use rayon::prelude::*;
use slenderjet::case::{Accuracy, Stop};
use slenderjet::tolerances::{COARSE, FINE, STANDARD};

const LEVELS: [(Accuracy, f64); 3] =
    [(Accuracy::Coarse, COARSE.0), (Accuracy::Standard, STANDARD.0), (Accuracy::Fine, FINE.0)];

/// Volume of the first drop, its pinch time (Oh 0.1, Bo 0.5, We 1e-3).
fn drip(accuracy: Accuracy) -> [f64; 2] {
    let mut case = nozzle(0.1, 0.5, 1e-3, Stop::Drops(1));
    case.run.accuracy = accuracy;
    let pinch = run(&case).0.summary.first_pinch;
    pinch.map_or([f64::NAN; 2], |p| [p.volume_m3 / RADIUS.powi(3), p.time_s / unit_of_time()])
}

/// Satellite fraction and pinch time of a wave (Oh 0.1, kR 0.7).
fn split(accuracy: Accuracy) -> [f64; 2] {
    let mut case = wave(0.1, 0.7, 0.01, Stop::Drops(1));
    case.run.accuracy = accuracy;
    let summary = run(&case).0.summary;
    let time = summary.first_pinch.map_or(f64::NAN, |p| p.time_s / unit_of_time());
    [summary.satellites.volume_fraction.unwrap_or(f64::NAN), time]
}

pub fn topic() -> Topic {
    let from = source("independent solver's limit, cases.json", Status::IndependentSolver);
    let runs: Vec<([f64; 2], [f64; 2])> =
        LEVELS.par_iter().map(|(accuracy, _)| rayon::join(|| drip(*accuracy), || split(*accuracy))).collect();
    // D_Oh0.1_Bo0.5_We0.001 and P_kR0.7_Oh0.1 of cases.json.
    let limits = [
        ("volume of the first drop", 9.01604, runs.iter().map(|r| r.0[0]).collect::<Vec<_>>(), 5e-3),
        ("its pinch time", 89.45215, runs.iter().map(|r| r.0[1]).collect(), 5e-3),
        ("satellite fraction of a wave", 0.01752726, runs.iter().map(|r| r.1[0]).collect(), 2e-2),
        ("its pinch time, wave", 17.07641, runs.iter().map(|r| r.1[1]).collect(), 5e-3),
    ];
    let mut rows: Vec<Row> = Vec::new();
    for (name, limit, values, tolerance) in &limits {
        for ((accuracy, _), value) in LEVELS.iter().zip(values) {
            rows.push(relative(format!("{name}, {}", accuracy.name()), &from, *limit, *value, *tolerance));
        }
    }
    // Order from coarse to standard by the mesh fineness c (steps' tolerance falls along with it, as c^3).
    let scheme = source("order of the scheme in space; cutting, regridding and time steps included", Status::Theory);
    for (name, limit, values, _) in limits.iter().take(3) {
        let error = |i: usize| (values[i] / limit - 1.0).abs();
        let order = (error(0) / error(1)).ln() / (COARSE.0 / STANDARD.0).ln();
        let row = within(format!("observed order, {name}, coarse to standard"), &scheme, [1.6, 3.2], order);
        rows.push(if order < 3.2 {
            row
        } else {
            row.remark(format!(
                "a step's tolerance falls tenfold where the mesh is halved: an error that comes of the steps falls with order \
                 3.3, faster than the mesh's; the coarse run is off by {:.2} %",
                100.0 * error(0)
            ))
        });
    }
    let mut fine = nozzle(0.1, 0.5, 1e-3, Stop::Drops(1));
    fine.run.accuracy = Accuracy::Fine;
    let bar = run(&fine).0.summary.error_bar.map_or(f64::NAN, |bar| bar.diameter_relative);
    let true_error = (runs[2].0[0] / 9.01604f64).cbrt() - 1.0;
    let own =
        source("the true error of the fine run's diameter against the independent limit", Status::IndependentSolver);
    rows.push(within(
        "error bar of `fine` covers its true error and is below 0.5 %",
        &own,
        [true_error.abs().min(4e-3), 5e-3],
        bar,
    ));
    let guide = LEVELS.iter().map(|(_, c)| (*c, 0.3 * c * c)).collect();
    let series = limits
        .iter()
        .map(|(name, limit, values, _)| {
            let error = LEVELS.iter().zip(values).map(|((_, c), v)| (*c, (v / limit - 1.0).abs())).collect();
            symbols(*name, error)
        })
        .chain([line("second order", guide)])
        .collect();
    Topic {
        folder: "convergence",
        section: 'C',
        title: "Convergence with mesh and step",
        rows,
        figure: Some(Plot { x: log("mesh fineness c"), y: log("relative difference from the limit"), series }),
    }
}
