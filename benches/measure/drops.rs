//! Cost and memory of a run against its number of drops, without a record.

use crate::clock::{LEAST, cost};
use crate::common::dripping;
use slenderjet::case::Accuracy;
use slenderjet::simulate::{Silent, simulate};

/// Drops from which one run is enough.
const LONG: u32 = 200;

/// Largest memory of this process so far, kB; zero where the system keeps no account.
fn largest() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    line.and_then(|l| l.trim().trim_end_matches("kB").trim().parse().ok()).unwrap_or(0)
}

pub fn print(n: u32) {
    let case = dripping(0.1, 0.5, 1.0, n, Accuracy::Coarse);
    let before = largest();
    let mut steps = 0;
    let mut once = |()| {
        let outcome = simulate(&case, None, &mut Silent).expect("simulated");
        assert_eq!(outcome.summary.stopped, slenderjet::outcome::Stopped::DropsReached);
        steps = outcome.counts.steps_accepted;
    };
    // a long run is its own average
    let cost = cost(if n < LONG { LEAST } else { 1 }, 0.0, || (), &mut once);
    println!(
        "{{\"drops\": {n}, \"steps\": {steps}, \"wall_s\": {:.5}, \"cpu_s\": {:.5}, \"runs\": {}, \"memory_before_kb\": {before}, \
         \"memory_kb\": {}}}",
        cost.wall,
        cost.processor,
        cost.runs,
        largest()
    );
}
