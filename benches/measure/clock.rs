//! Time on the processor, which other programs of the machine do not lengthen (much), beside time on the wall.

use std::time::{Duration, Instant};

/// Seconds that this process has spent on a processor, from the kernel's own account; `None` where it keeps none.
/// The account is brought up to date when a process sleeps, so it sleeps for a moment first.
fn processor() -> Option<f64> {
    std::thread::sleep(Duration::from_micros(1));
    let text = std::fs::read_to_string("/proc/self/schedstat").ok()?;
    let nanoseconds: f64 = text.split_whitespace().next()?.parse().ok()?;
    Some(1e-9 * nanoseconds)
}

/// Fewest runs that make a measurement.
pub const LEAST: usize = 3;

/// Cost of one of several runs.
pub struct Cost {
    /// Shortest on the wall.
    pub wall: f64,
    /// Median on the processor; NaN where the kernel keeps no account. Not the shortest: on a virtual machine the account
    /// now and then lacks a part of a run (a third of the wall was seen once in 2,000 measurements).
    pub processor: f64,
    pub runs: usize,
}

/// Run `once` at least `least` times and until `seconds` are over; `prepare` is not timed.
pub fn cost<T>(least: usize, seconds: f64, mut prepare: impl FnMut() -> T, mut once: impl FnMut(T)) -> Cost {
    let (mut wall, mut used) = (f64::INFINITY, Vec::new());
    let start = Instant::now();
    while used.len() < least || start.elapsed().as_secs_f64() < seconds {
        let thing = prepare();
        let (began, cpu) = (Instant::now(), processor());
        once(thing);
        wall = wall.min(began.elapsed().as_secs_f64());
        used.push(processor().zip(cpu).map_or(f64::NAN, |(after, before)| after - before));
    }
    used.sort_by(f64::total_cmp);
    Cost { wall, processor: 0.5 * (used[used.len() / 2] + used[(used.len() - 1) / 2]), runs: used.len() }
}

/// The same for something short: `many` calls of `once` in a row, seconds for one of them.
pub fn each(seconds: f64, mut once: impl FnMut()) -> f64 {
    let start = Instant::now();
    once();
    let many = (2e-3 / start.elapsed().as_secs_f64().max(1e-9)).ceil().max(1.0) as u32;
    cost(LEAST, seconds, || (), |()| (0..many).for_each(|_| once())).wall / f64::from(many)
}
