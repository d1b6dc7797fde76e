use crate::framework::plot::{Plot, line, linear, symbols};
use crate::framework::{Status, Topic, relative, source};
use crate::solver::{RADIUS, nozzle, run};
use rayon::prelude::*;
use slenderjet::case::{Accuracy, Stop};
use slenderjet::theory::drop_weight;
use std::f64::consts::PI;

/// Volume over R^3 that leaves the tip per primary drop.
fn shed(bond: f64) -> f64 {
    let mut case = nozzle(0.02, bond, 1e-7, Stop::Drops(3));
    case.run.accuracy = Accuracy::Coarse;
    let summary = run(&case).0.summary;
    // The first drop starts from a hemisphere: what leaves between later primaries is the period times the flow.
    let times: Vec<_> =
        summary.drops.iter().filter(|d| d.kind == slenderjet::outcome::DropKind::Primary).map(|d| d.time_s).collect();
    match times[..] {
        [_, first, .., last] if times.len() >= 3 => {
            case.inner.flow * (last - first) / (times.len() - 2) as f64 / RADIUS.powi(3)
        }
        _ => f64::NAN,
    }
}

pub fn topic() -> Topic {
    let from = source("Harkins & Brown 1919, J. Am. Chem. Soc. 41, 499 (recalled)", Status::Recalled);
    let bonds = [0.27, 0.665, 1.6, 3.25];
    let volumes: Vec<_> = bonds.par_iter().map(|bond| shed(*bond)).collect();
    let rows = bonds
        .iter()
        .zip(&volumes)
        .map(|(bond, v)| {
            let reference = drop_weight::volume(*bond).unwrap_or(f64::NAN);
            relative(format!("volume per drop, Bo = {bond}, We = 1e-7, Oh = 0.02"), &from, reference, *v, 0.03)
        })
        .collect();
    let fraction = |bond: f64, v: f64| (v.powf(-1.0 / 3.0), bond * v / (2.0 * PI));
    Topic {
        folder: "slow_dripping",
        section: 'B',
        title: "Slow dripping: weight of the drops",
        rows,
        figure: Some(Plot {
            x: linear("R/V^1/3"),
            y: linear("fraction of the ideal weight"),
            series: vec![
                line("Harkins-Brown", drop_weight::TABLE.to_vec()),
                symbols("runs", bonds.iter().zip(&volumes).map(|(b, v)| fraction(*b, *v)).collect()),
            ],
        }),
    }
}
