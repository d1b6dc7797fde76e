//! What was found, in words.

use super::laplace::Posterior;
use super::rows::{Answered, Observation};
use super::{DIAMETER_ASSUMED, MODEL_ERROR_ASSUMED, Parameter, Question, RATE_ASSUMED, SCALE};
use nalgebra::DVector;

/// Chance of a misfit below which model, errors and tolerances do not explain the measurements together.
const UNLIKELY: f64 = 0.01;
/// A direction of which the measurements tell less than the tolerances did.
const UNDETERMINED: f64 = 1.0;
/// A key that takes part in a direction: its share of it.
const PART: f64 = 0.3;

/// The answer in a sentence or two.
pub fn verdict(
    free: &[Parameter],
    phi: &DVector<f64>,
    posterior: &Posterior,
    chance: f64,
    [before, after]: [f64; 2],
    rows: usize,
) -> String {
    let moved = |(j, f): (usize, &Parameter)| {
        let sd = posterior.covariance[(j, j)].sqrt();
        format!("{} {:+.1} % (+-{:.1} %)", f.key, 100.0 * phi[j].exp_m1(), 100.0 * sd)
    };
    let list = free.iter().enumerate().map(moved).collect::<Vec<_>>().join(", ");
    let fit = format!(
        "{rows} rows: {list}; sizes then differ by {:.1} % rms, before by {:.1} %",
        100.0 * after,
        100.0 * before
    );
    if chance < UNLIKELY {
        return format!(
            "Not explained: {fit}. A misfit this large comes in {:.2} of 100 such tables where model, errors and tolerances are right: \
             an error is larger than told, or something else differs. Do not use these values.",
            100.0 * chance
        );
    }
    let narrow = (0..free.len()).any(|j| posterior.covariance[(j, j)].sqrt() < 0.8 * free[j].sd);
    match narrow {
        true => format!("Explained: {fit}."),
        false => {
            format!("Explained, but hardly anything was learnt: {fit}; each stays about as uncertain as its tolerance.")
        }
    }
}

/// What the measurements cannot tell apart, each in a sentence.
pub fn undetermined(free: &[Parameter], posterior: &Posterior) -> Vec<String> {
    let one = |(told, direction): &(f64, DVector<f64>)| {
        if *told >= UNDETERMINED {
            return None;
        }
        let sign = direction.iter().copied().max_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or(1.0).signum();
        let parts: Vec<(usize, f64)> =
            direction.iter().enumerate().filter(|(_, v)| v.abs() >= PART).map(|(j, v)| (j, sign * v)).collect();
        let change =
            |(j, v): &(usize, f64)| format!("{} by {:+.1} %", free[*j].key, 100.0 * (v * free[*j].sd).exp_m1());
        Some(match parts.as_slice() {
            [(j, _)] => format!("{} is told by its tolerance more than by these measurements", free[*j].key),
            many => {
                let names: Vec<&str> = many.iter().map(|(j, _)| free[*j].key.as_str()).collect();
                let changes: Vec<String> = many.iter().map(change).collect();
                format!(
                    "{} cannot be told apart: changing {} gives the same drops within the errors",
                    names.join(" and "),
                    changes.join(" together with ")
                )
            }
        })
    };
    posterior.told.iter().filter_map(one).collect()
}

/// What was assumed.
pub fn notes(question: &Question, rows: &[Observation], answers: &[Answered], fixed: &[Parameter]) -> Vec<String> {
    let mut notes = Vec::new();
    let wide: Vec<&str> = question.free.iter().filter(|f| !f.told).map(|f| f.key.as_str()).collect();
    if !wide.is_empty() {
        notes.push(format!(
            "{} has no tolerance in the case: a wide one was taken (one standard deviation a factor {:.2})",
            wide.join(", "),
            super::WIDE.exp()
        ));
    }
    if rows.iter().any(|row| row.diameter.is_some() && !row.diameter_sd_told) {
        notes.push(format!(
            "diameters without a diameter_sd were taken to be read to {:.0} %",
            100.0 * DIAMETER_ASSUMED
        ));
    }
    if rows.iter().any(|row| row.rate.is_some()) {
        notes.push(format!("rates without a rate_sd were taken to be counted to {:.0} %", 100.0 * RATE_ASSUMED));
    }
    match question.model_error {
        Some(error) => notes.push(format!("the model's own error is {:.1} %, as given", 100.0 * error)),
        None if answers.iter().any(|a| a.size.is_some() && a.model_error.is_none()) => notes.push(format!(
            "nothing outside the model tells its own error for some rows: {:.0} % was taken, common to all of them",
            100.0 * MODEL_ERROR_ASSUMED
        )),
        None => {}
    }
    if !fixed.is_empty() {
        let keys: Vec<&str> = fixed.iter().map(|f| f.key.as_str()).collect();
        notes.push(format!("the tolerances of {} count as errors common to all rows", keys.join(", ")));
    }
    if question.free.iter().any(|f| f.key == SCALE) {
        notes.push(
            "the scale is true over read diameter; rates do not hear of it, so counting drops tells it from tension"
                .into(),
        );
    }
    notes
}
