//! One measurement of the program for a script: prints one line of JSON (or of CSV) and nothing else.
//!
//! `cargo bench --bench measure -- WHAT ...`; the scripts call the built program, so that each measurement is a process.
//!   front CASE C TOL [SECONDS]   time at which the neck of `dripping` or `segment` passes 0.01, and what it costs
//!   run CASE ACCURACY [SECONDS]  the same by a whole run at `coarse`, `standard` or `fine`
//!   item NAME TIMES              does a kernel or a case so often and prints nothing (for counts of instructions)
//!   items                        the names
//!   cells N                      times of force, Jacobian, solve and one step on N cells
//!   drops N                      N dripping drops at We 1, coarse, without a record: time and largest memory

mod cells;
mod clock;
#[path = "../common/mod.rs"]
mod common;
mod drops;
mod front;
mod items;

fn number<T: std::str::FromStr>(words: &[String], at: usize, name: &str) -> T {
    words.get(at).and_then(|w| w.parse().ok()).unwrap_or_else(|| panic!("{name} is missing or no number"))
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|w| w != "--bench").collect();
    match words.first().map(String::as_str) {
        Some("front") => {
            let case = words.get(1).map(String::as_str).unwrap_or_default();
            let accuracy = (number(&words, 2, "C"), number(&words, 3, "TOL"));
            let seconds = if words.len() > 4 { number(&words, 4, "SECONDS") } else { 0.5 };
            front::print(case, accuracy, seconds);
        }
        Some("run") => {
            let word = |i: usize| words.get(i).map(String::as_str).unwrap_or_default();
            let seconds = if words.len() > 3 { number(&words, 3, "SECONDS") } else { 0.5 };
            front::print_run(word(1), word(2), seconds);
        }
        Some("items") => items::NAMES.iter().for_each(|name| println!("{name}")),
        Some("item") => {
            let name = words.get(1).map(String::as_str).unwrap_or_default();
            items::run(name, number(&words, 2, "TIMES"));
        }
        Some("cells") => cells::print(number(&words, 1, "N")),
        Some("drops") => drops::print(number(&words, 1, "N")),
        // `cargo bench` without a word runs every bench: this one only answers scripts
        _ => println!("say what to measure: front, run, item, items, cells, drops (see benches/measure/main.rs)"),
    }
}
