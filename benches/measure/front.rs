//! A run that ends where the general-purpose integrators end theirs: when the thinnest radius has passed 0.01.
//!
//! `print`: start, equations, steps, meshes and slices of time are those of `simulate`. What a run does beside them is left
//! out, for the others do not do it either: lists of frames and necks, energy, and everything after the first pinch-off.
//! `print_run`: the whole of `simulate` at a shipped accuracy, told to end at the time its first run found.

use crate::clock::{LEAST, cost};
use crate::common;
use crate::common::threads::{Thread, dripping, segment};
use slenderjet::case::{Accuracy, Case, Stop};
use slenderjet::outcome::Outcome;
use slenderjet::pinch_off::neck::thinnest;
use slenderjet::simulate::{Silent, simulate};
use slenderjet::thread::advance::Advancer;
use slenderjet::tolerances::{COARSE, FINE, STANDARD};

const NECK: f64 = 0.01;
/// More than any of these runs needs.
const STEPS_MAX: usize = 2_000_000;

/// Time at which the squared radius of the neck passes NECK^2: Lagrange through the last four steps, as for the others.
fn passing(last: &[(f64, f64)]) -> f64 {
    let x = NECK * NECK;
    let weight = |i: usize| -> f64 {
        let others = last.iter().enumerate().filter(|(j, _)| *j != i);
        others.map(|(_, (_, other))| (x - other) / (last[i].1 - other)).product()
    };
    last.iter().enumerate().map(|(i, (time, _))| time * weight(i)).sum()
}

fn follow(mut thread: Thread) -> (f64, Thread) {
    let mut advancer = Advancer::default();
    let mut last: Vec<(f64, f64)> = Vec::with_capacity(8);
    let mut target = thread.slice;
    for _ in 0..STEPS_MAX {
        thread.step(&mut advancer, target);
        if thread.body.time >= target {
            target += thread.slice;
        }
        let Some(neck) = thinnest(&thread.body) else { continue };
        let area = neck.radius * neck.radius;
        if last.last().is_some_and(|(_, before)| *before <= area) {
            last.clear();
        }
        if last.len() == 4 {
            last.remove(0);
        }
        last.push((thread.body.time, area));
        if neck.radius <= NECK {
            assert!(last.len() >= 2, "the neck jumped past {NECK}");
            return (passing(&last), thread);
        }
    }
    panic!("no neck of {NECK} in {STEPS_MAX} steps");
}

pub fn print(case: &str, accuracy: (f64, f64), seconds: f64) {
    let start = match case {
        "dripping" => dripping(accuracy),
        "segment" => segment(accuracy),
        other => panic!("no case {other:?}: dripping or segment"),
    };
    let (time, end) = follow(start.clone());
    let cost = cost(
        LEAST,
        seconds,
        || start.clone(),
        |thread| {
            let again = follow(thread).0;
            assert_eq!(again.to_bits(), time.to_bits(), "the same run twice");
        },
    );
    println!(
        "{{\"solver\": \"slenderjet\", \"case\": \"{case}\", \"resolution\": {}, \"tolerance\": {}, \"time\": {time:.12}, \
         \"steps\": {}, \"cells\": {}, \"wall_s\": {:.6}, \"cpu_s\": {:.6}, \"runs\": {}}}",
        accuracy.0, accuracy.1, end.counts.steps_accepted, end.counts.cells_max, cost.wall, cost.processor, cost.runs
    );
}

/// How far beyond the passage a whole run is told to go, relative: the neck must have passed 0.01 for it to be on record.
const BEYOND: f64 = 1e-6;

/// Time at which a run's first neck passed 0.01, s, from its own summary.
fn recorded(outcome: &Outcome) -> Option<f64> {
    let passages = outcome.summary.necks.as_ref()?;
    passages.iter().find(|p| (p.h_over_r - NECK).abs() < 1e-9).map(|p| p.time_s)
}

pub fn print_run(name: &str, accuracy: &str, seconds: f64) {
    let (accuracy, (c, tol)) = match accuracy {
        "coarse" => (Accuracy::Coarse, COARSE),
        "standard" => (Accuracy::Standard, STANDARD),
        "fine" => (Accuracy::Fine, FINE),
        other => panic!("no accuracy {other:?}: coarse, standard or fine"),
    };
    let mut case: Case = match name {
        "dripping" => common::dripping(0.1, 0.5, 1e-3, 1, accuracy),
        "segment" => common::segment(0.7, 0.1, accuracy),
        other => panic!("no case {other:?}: dripping or segment"),
    };
    let run = |case: &Case| simulate(case, None, &mut Silent).expect("simulated");
    let first = recorded(&run(&case)).expect("a neck of 0.01");
    case.run.stop = Stop::Until(first * (1.0 + BEYOND));
    let outcome = run(&case);
    let time = recorded(&outcome).expect("a neck of 0.01") / common::capillary_time();
    let cost = cost(LEAST, seconds, || (), |()| drop(run(&case)));
    println!(
        "{{\"solver\": \"slenderjet {}\", \"case\": \"{name}\", \"resolution\": {c}, \"tolerance\": {tol}, \
         \"time\": {time:.12}, \"steps\": {}, \"cells\": {}, \"wall_s\": {:.6}, \"cpu_s\": {:.6}, \"runs\": {}}}",
        accuracy.name(),
        outcome.counts.steps_accepted,
        outcome.counts.cells_max,
        cost.wall,
        cost.processor,
        cost.runs
    );
}
