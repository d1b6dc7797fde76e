//! The two problems of the comparison by the integrators of the crate diffsol; prints one line of JSON.
//!
//! integrators-diffsol CASE METHOD RESOLUTION TOLERANCE [SECONDS]
//!   CASE dripping (resolution: cells per length, inverted), segment or segment-graded (number of cells); METHOD bdf,
//!   tr_bdf2 or esdirk34

mod banded;
#[path = "../../../measure/clock.rs"]
#[allow(dead_code)]
mod clock;
mod drop;
mod leg;
mod mesh;
mod neck;
mod real;
mod segment;
mod spline;

use leg::Method;

/// Radius at which a run ends.
pub const STOP: f64 = 0.01;

/// What a run found and how much it did.
pub struct Answer {
    pub time: f64,
    pub steps: usize,
    pub cells: usize,
    pub evaluations: usize,
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let word = |i: usize| words.get(i).map(String::as_str).unwrap_or_default();
    let number = |i: usize| word(i).parse::<f64>().unwrap_or_else(|_| panic!("word {i} is no number"));
    let (case, name, resolution, rtol) = (word(0), word(1), number(2), number(3));
    let seconds = if words.len() > 4 { number(4) } else { 0.5 };
    let method = match name {
        "bdf" => Method::Bdf,
        "tr_bdf2" => Method::TrBdf2,
        "esdirk34" => Method::Esdirk34,
        other => panic!("no method {other:?}"),
    };
    let once = || match case {
        "dripping" => drop::run(method, resolution, rtol),
        "segment" => segment::run(method, resolution as usize, rtol, false),
        "segment-graded" => segment::run(method, resolution as usize, rtol, true),
        other => panic!("no case {other:?}"),
    };
    let answer = once().unwrap_or_else(|why| {
        eprintln!("{why}");
        std::process::exit(1);
    });
    let cost = clock::cost(
        clock::LEAST,
        seconds,
        || (),
        |()| {
            let again = once().map(|a| a.time.to_bits());
            assert_eq!(again, Ok(answer.time.to_bits()), "the same run twice");
        },
    );
    println!(
        "{{\"solver\": \"diffsol {name}\", \"case\": \"{case}\", \"resolution\": {resolution}, \"tolerance\": {rtol}, \
         \"time\": {:.12}, \"steps\": {}, \"cells\": {}, \"evaluations\": {}, \"wall_s\": {:.6}, \"cpu_s\": {:.6}, \
         \"runs\": {}}}",
        answer.time, answer.steps, answer.cells, answer.evaluations, cost.wall, cost.processor, cost.runs
    );
}
