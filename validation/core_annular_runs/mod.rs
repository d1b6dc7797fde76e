use crate::framework::plot::{Plot, line, linear, symbols};
use crate::framework::{Row, Status, Topic, relative, source};
use crate::solver::run;
use rayon::prelude::*;
use slenderjet::case::{Case, parse};
use slenderjet::device::core_annular::core_share;
use slenderjet::outcome::Frame;

/// Radius of the attached thread at a place, m; NaN where it does not reach.
fn radius(film: &[Frame], place: f64) -> f64 {
    let Some(thread) = film.last().and_then(|frame| frame.bodies.iter().find(|body| body.attached)) else {
        return f64::NAN;
    };
    let after = thread.z.partition_point(|z| *z < place);
    if after == 0 || after == thread.z.len() {
        return f64::NAN;
    }
    let (a, b) = (after - 1, after);
    thread.h[a] + (thread.h[b] - thread.h[a]) * (place - thread.z[a]) / (thread.z[b] - thread.z[a])
}

fn with_ratio(case: &Case, ratio: f64) -> Case {
    let mut case = case.clone();
    case.inner.viscosity = ratio * case.outer.as_ref().map_or(f64::NAN, |outer| outer.viscosity);
    case
}

pub fn topic() -> Topic {
    let from = source(
        "core-annular Poiseuille flow, exact (recomputed; closed form in the topic core_annular)",
        Status::Theory,
    );
    let counter = parse(include_str!("counterflow.toml"), "counterflow.toml").unwrap_or_else(|e| panic!("{e}"));
    let coflow = parse(include_str!("coflow.toml"), "coflow.toml").unwrap_or_else(|e| panic!("{e}"));
    // Name, case, places that are read (m) and wall radii there (m), tolerance.
    let asked = [
        ("counter-flow", &counter, vec![("orifice", 0.8e-3, 50e-6), ("wide collection tube", 2.5e-3, 100e-6)], 0.01),
        ("co-flow", &coflow, vec![("long bore", 3e-3, 150e-6)], 0.005),
    ];
    let runs: Vec<_> = asked.iter().flat_map(|a| [0.2, 1.0, 5.0].map(|ratio| (a, ratio))).collect();
    let found: Vec<Vec<(Row, f64, f64)>> = runs
        .into_par_iter()
        .map(|((layout, case, places, tolerance), ratio)| {
            let (_, film) = run(&with_ratio(case, ratio));
            let share = case.inner.flow / case.outer.as_ref().map_or(f64::NAN, |outer| outer.flow);
            let exact = core_share(share, ratio).sqrt();
            let row = |(part, place, wall): &(&str, f64, f64)| {
                let ours = radius(&film, *place) / wall;
                let quantity = format!("{layout}, {part}, viscosity ratio {ratio}: thread over wall radius");
                (relative(quantity, &from, exact, ours, *tolerance), exact, ours)
            };
            places.iter().map(row).collect()
        })
        .collect();
    let all = || found.iter().flatten();
    Topic {
        folder: "core_annular_runs",
        section: 'B',
        title: "Radius of a long thread in a tube",
        rows: all().map(|(row, ..)| row.clone()).collect(),
        figure: Some(Plot {
            x: linear("thread over wall radius, exact core-annular flow"),
            y: linear("thread over wall radius, end of the run"),
            series: vec![
                symbols("runs", all().map(|(_, exact, ours)| (*exact, *ours)).collect()),
                line("equal", vec![(0.2, 0.2), (0.28, 0.28)]),
            ],
        }),
    }
}
