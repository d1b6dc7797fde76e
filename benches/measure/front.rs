//! A run that ends where the general-purpose integrators end theirs: when the thinnest radius has passed 0.01.
//!
//! Start, equations, steps and meshes are those of `simulate`. What a run does beside them is left out, for the others do not
//! do it either: slices of time, lists of frames and necks, energy, and everything after the first pinch-off.

use crate::clock::{LEAST, best};
use crate::common::threads::{Thread, dripping, segment};
use slenderjet::pinch_off::neck::thinnest;
use slenderjet::thread::advance::Advancer;

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
    for _ in 0..STEPS_MAX {
        thread.step(&mut advancer, f64::INFINITY);
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
    let cost = best(
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
