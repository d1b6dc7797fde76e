use crate::framework::{Status, Topic, source, within};
use crate::solver::{nozzle, run, unit_of_time, wave};
use rayon::prelude::*;
use slenderjet::case::{Accuracy, Case, Stop};
use slenderjet::outcome::Conservation;

fn budget(mut case: Case, accuracy: Accuracy) -> Conservation {
    case.run.accuracy = accuracy;
    run(&case).0.summary.conservation
}

pub fn topic() -> Topic {
    let from = source("kinetic + surface + potential energy changes by work in, less dissipation", Status::Theory);
    let volume = source("what was pumped is there", Status::Theory);
    let cases = [
        ("a wave at Oh = 0.1 up to h = 0.3", wave(0.1, 0.7, 0.05, Stop::Until(12.0 * unit_of_time()))),
        ("two drops from a nozzle, Oh = 0.1, Bo = 0.5", nozzle(0.1, 0.5, 1e-3, Stop::Drops(2))),
    ];
    let found: Vec<_> = cases
        .par_iter()
        .map(|(name, case)| {
            let (coarse, standard) =
                rayon::join(|| budget(case.clone(), Accuracy::Coarse), || budget(case.clone(), Accuracy::Standard));
            (*name, coarse, standard)
        })
        .collect();
    let mut rows = Vec::new();
    for (name, coarse, standard) in found {
        let ours = standard.energy_relative;
        rows.push(within(format!("energy not accounted for, {name}"), &from, [0.0, 1e-3], ours));
        let ratio = coarse.energy_relative / standard.energy_relative;
        rows.push(within(format!("coarse over standard, {name}: falls with mesh and step"), &from, [1.0, 1e6], ratio));
        rows.push(within(format!("volume not accounted for, {name}"), &volume, [0.0, 1e-10], standard.volume_relative));
    }
    Topic { folder: "energy", section: 'B', title: "Energy and volume budgets", rows, figure: None }
}
