//! Drop size over flow, by the library: `cargo run --release --example sizes`. Invented data. Needs no feature (no HDF5).
//!
//! Shows a study with an answerer of one's own, and what to do with each way in which it may end.

use slenderjet::outcome::Mode;
use slenderjet::prelude::*;
use slenderjet::study::evaluate::{Length, simulated};
use slenderjet::study::map::fill::{Bench, fill};
use slenderjet::study::map::{Axis, Plan, Row, Spacing};
use std::process::ExitCode;
use std::time::{Duration, Instant};

const CASE: &str = r#"
title = "Nutrient oil over a seedling tray (invented)"
layout = "pendant"
[inner]
viscosity = "24 mPa.s"
density = "920 kg/m3"
flow = "60 mL/h"
[interface]
tension = "32 mN/m"
[device]
tip_bore = "1 mm"
[gravity]
along = "down"
[run]
drops = 2
accuracy = "coarse"
"#;

const UL_PER_HOUR: f64 = 1e-9 / 3600.0;

fn sizes(case: &Case, patience: Duration) -> Result<Vec<Row>, StudyError> {
    let began = Instant::now();
    let flows = [30e3, 60e3, 120e3].map(|flow| flow * UL_PER_HOUR).to_vec();
    let axis = Axis { key: "inner.flow".into(), unit: "m3/s".into(), spacing: Spacing::List, values: flows };
    let plan = Plan::new(vec![axis])?;
    let make = |values: &[f64]| {
        case.with("inner.flow", values[0]).map_err(|errors| StudyError::Case { errors, note: " (in the example)" })
    };
    // A user of one's own may stop a run by any rule; here it is the clock.
    let answer = |case: &Case| simulated(case, Length::Whole, &|| began.elapsed() > patience);
    let cells: Vec<usize> = (0..plan.len()).collect();
    let rows = fill(&Bench { make: &make, answer: &answer, threads: 1 }, &plan, &cells, &|_| ())?;
    if rows.len() < plan.len() { Err(StudyError::Interrupted) } else { Ok(rows) }
}

fn main() -> ExitCode {
    let case = match parse(CASE, "nursery.toml") {
        Ok(case) => case,
        Err(errors) => {
            errors.problems.iter().for_each(|p| eprintln!("{:?} at `{}`: {}", p.code, p.key, p.right));
            return ExitCode::from(2);
        }
    };
    // Without patience nothing is found, and nothing is wrong.
    assert!(matches!(sizes(&case, Duration::ZERO), Err(StudyError::Interrupted)));
    match sizes(&case, Duration::from_secs(600)) {
        Ok(rows) => {
            for row in rows {
                let size = row.mean_diameter_m.map_or("-".into(), |d| format!("{:.0} um", 1e6 * d));
                println!(
                    "{:6.0} uL/h  {:10}  {size:>8}  {}",
                    row.values[0] / UL_PER_HOUR,
                    Mode::word_of(row.mode),
                    row.reason
                );
            }
            ExitCode::SUCCESS
        }
        Err(StudyError::Interrupted) => {
            eprintln!("stopped by the clock");
            ExitCode::from(130)
        }
        Err(why) => {
            eprintln!("{why}");
            ExitCode::FAILURE
        }
    }
}
