//! Which tension, tip or scale explains measured drops, how sure that is, and what is predicted now.
//!
//! ```text
//! case with tolerances, measured table -> runs of every row -> slopes by coarse runs -> most probable values (laplace.rs)
//! ```
//! Equation: `ln d_measured = ln d(p) - ln s + m + e` and `ln f_measured = ln f(p) - 3 m + e`, p the free keys, s the scale (true over
//! read diameter), e the error of measuring, m the model's own error: normal with the standard deviation that the program tells of
//! itself (the model's, its numbers', and what a warning names as left out: [`crate::limits::interval::own_error`]), common to two rows as far as their places in the first-principles table are near each other
//! ([`crate::limits::reference::Place`]), wholly common where there is no such place. Inputs with a tolerance that are not free
//! shift all rows together.
//!
//! Holds for: settings that keep their mode within the tolerances; a row whose predicted mode is not the measured one is left out and
//! named. Tolerances are rectangular (JCGM 100:2008, 4.3.7, recalled from memory): their standard deviation is t over the root of 3.

mod error;
pub mod laplace;
mod question;
mod rows;
mod words;

use crate::case::Case;
use crate::outcome::Mode;
use crate::study::StudyError;
use crate::study::evaluate::Counted;
use crate::study::measured::Measured;
use crate::study::quantiles;
use laplace::Belief;
use nalgebra::{DMatrix, DVector};
use rows::{Answered, Bench, Kind};
use serde::Serialize;
use std::collections::BTreeMap;

pub use error::CalibrateError;
pub use rows::{Observation, observations};

/// The name of the camera's scale among the free keys.
pub const SCALE: &str = "scale";
/// Standard deviation of ln(p) where a free key has no tolerance: a factor of 1.35 either way.
pub const WIDE: f64 = 0.3;
/// The model's own error where nothing outside the model tells it (common practice, no source).
pub const MODEL_ERROR_ASSUMED: f64 = 0.1;
/// Error of a diameter and of a rate that the table does not tell (common practice, no source).
pub const DIAMETER_ASSUMED: f64 = 0.02;
pub const RATE_ASSUMED: f64 = 0.02;
/// Steps of a search at most, and how small the last one is, in standard deviations of the posterior.
const STEPS_MAX: usize = 6;
const STEP_LAST: f64 = 0.1;
/// 90 % of a normal law lie within so many standard deviations.
const NINETY: f64 = 1.644_853_6;

/// A parameter: a key of the case, or [`SCALE`].
#[derive(Debug, Clone, PartialEq)]
pub struct Parameter {
    pub key: String,
    /// The case's own value, SI; the scale's centre.
    pub value: f64,
    /// Standard deviation of its logarithm.
    pub sd: f64,
    /// Whether a tolerance told it.
    pub told: bool,
}

/// A value with its 90 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Estimate {
    pub mean: f64,
    pub interval90: [f64; 2],
    /// Of its logarithm.
    pub sd_relative: f64,
}

impl Estimate {
    fn of(value: f64, phi: f64, sd: f64) -> Estimate {
        let at = |z: f64| value * (phi + z * sd).exp();
        Estimate { mean: at(0.0), interval90: [at(-NINETY), at(NINETY)], sd_relative: sd }
    }
}

/// A free key before and after.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Freed {
    pub prior: Estimate,
    pub mean: f64,
    pub interval90: [f64; 2],
    pub sd_relative: f64,
    /// Width of the interval over that before.
    pub narrowed_to: f64,
}

/// A row of the table and what the model says of it. Diameters as the camera would read them.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct RowTold {
    pub line: u64,
    pub measured_m: Option<f64>,
    pub before_m: Option<f64>,
    pub after_m: Option<f64>,
    /// Of the difference: measuring, model and inputs together.
    pub sd_m: Option<f64>,
    pub measured_rate_per_s: Option<f64>,
    pub before_rate_per_s: Option<f64>,
    pub after_rate_per_s: Option<f64>,
    pub mode: Option<Mode>,
    /// Null where the model gave no answer.
    pub predicted_mode: Option<Mode>,
    /// Difference from what the other rows predict for it, in its standard deviations.
    pub left_out: Option<f64>,
    pub used: bool,
    /// Why it was not.
    pub reason: String,
}

/// The measurement that would help most.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Next {
    /// SI.
    pub settings: BTreeMap<String, f64>,
    pub measure: String,
    pub why: String,
}

/// Prediction for the case itself.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Predicted {
    pub mode: Mode,
    pub diameter_m: Estimate,
}

/// The answer; field names are the keys of `calibrate --json`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Calibrated {
    pub free: BTreeMap<String, Freed>,
    pub rows: Vec<RowTold>,
    pub rms_relative_before: f64,
    pub rms_relative_after: f64,
    /// Chance of so large a misfit where model, errors and tolerances are right.
    pub chance: f64,
    pub verdict: String,
    /// What these measurements cannot tell apart.
    pub undetermined: Vec<String>,
    pub before: Option<Predicted>,
    pub after: Option<Predicted>,
    pub next: Option<Next>,
    pub notes: Vec<String>,
    pub evaluations: usize,
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    pub free: Vec<Parameter>,
    /// The model's own error, in place of what it tells of itself.
    pub model_error: Option<f64>,
    /// Factor from read to true diameters before calibrating.
    pub scale: f64,
}

/// The parameter of a key with its tolerance in the case; `None` where the case has no such number.
pub fn parameter(case: &Case, key: &str) -> Option<Parameter> {
    let typed = case.typed.iter().find(|t| t.key == key).filter(|t| t.si > 0.0)?;
    let tolerance = typed.tolerance.filter(|t| *t > 0.0);
    let sd = tolerance.map_or(WIDE, |t| t / 3f64.sqrt());
    Some(Parameter { key: key.to_owned(), value: typed.si, sd, told: tolerance.is_some() })
}

/// Calibrates a case on measured rows.
///
/// # Errors
/// Where no row can be used, the runs were interrupted, or threads cannot be started.
pub fn calibrate(
    case: &Case,
    table: &Measured,
    question: &Question,
    ask: &Counted<'_>,
    threads: usize,
) -> Result<Calibrated, StudyError> {
    let rows = observations(table)?;
    let free = &question.free;
    let fixed: Vec<Parameter> = case
        .typed
        .iter()
        .filter(|t| t.tolerance.is_some_and(|w| w > 0.0) && !free.iter().any(|f| f.key == t.key))
        .filter_map(|t| parameter(case, &t.key))
        .collect();
    let bench = Bench { case, rows: &rows, free, fixed: &fixed, ask, threads };
    let start = DVector::zeros(free.len());
    let before = bench.answers(&start, false)?;
    let mut slopes = bench.slopes(&start)?;
    let used = rows::used(&rows, &before, &slopes);
    let mut problem = Problem::new(&bench, question, &used, &before, &slopes)?;
    let (mut phi, mut answers) = (start.clone(), before.clone());
    let r0 = problem.residuals(&before, &start);
    for _ in 0..STEPS_MAX {
        let r = problem.residuals(&answers, &phi);
        let Some((next, found)) = problem.improve(&bench, &phi, &r)? else { break };
        let moved = &next - &phi;
        (phi, answers) = (next, found);
        let posterior = problem.posterior()?;
        if (0..phi.len()).all(|j| moved[j].abs() <= STEP_LAST * posterior.covariance[(j, j)].sqrt()) {
            break;
        }
    }
    if phi.iter().zip(free).any(|(p, f)| p.abs() > 0.5 * f.sd) {
        slopes = bench.slopes(&phi)?;
        problem.set_slopes(&bench, &slopes);
    }
    let posterior = problem.posterior()?;
    let r = problem.residuals(&answers, &phi);
    let chance = quantiles::chi_square_above(problem.belief.misfit(&r, &phi), r.len() as f64);
    let left_out = problem.left_out(free, &r0);
    let told = bench.told(question, &problem, &before, &answers, &phi, left_out.as_deref());
    let (rms_before, rms_after) = (rms(&told, |row| row.before_m), rms(&told, |row| row.after_m));
    let freed = |(j, f): (usize, &Parameter)| {
        let sd = posterior.covariance[(j, j)].sqrt();
        let now = Estimate::of(f.value, phi[j], sd);
        let freed = Freed {
            prior: Estimate::of(f.value, 0.0, f.sd),
            mean: now.mean,
            interval90: now.interval90,
            sd_relative: sd,
            narrowed_to: sd / f.sd,
        };
        (f.key.clone(), freed)
    };
    let predicted =
        |answers: &[Answered], covariance: &DMatrix<f64>| bench.predicted(question, &slopes, answers, covariance);
    let prior = DMatrix::from_diagonal(&DVector::from_iterator(free.len(), free.iter().map(|f| f.sd * f.sd)));
    let next = bench.next(question, &problem, &posterior, &phi)?;
    Ok(Calibrated {
        free: free.iter().enumerate().map(freed).collect(),
        verdict: words::verdict(
            free,
            &phi,
            &posterior,
            chance,
            [rms_before, rms_after],
            told.iter().filter(|t| t.used).count(),
        ),
        undetermined: words::undetermined(free, &posterior),
        notes: words::notes(question, &rows, &before, &fixed),
        rows: told,
        rms_relative_before: rms_before,
        rms_relative_after: rms_after,
        chance,
        before: predicted(&before, &prior),
        after: predicted(&answers, &posterior.covariance),
        next,
        evaluations: ask.count(),
    })
}

fn rms(rows: &[RowTold], of: fn(&RowTold) -> Option<f64>) -> f64 {
    let differences: Vec<f64> =
        rows.iter().filter(|row| row.used).filter_map(|row| Some((row.measured_m? / of(row)?).ln().powi(2))).collect();
    if differences.is_empty() { 0.0 } else { quantiles::mean(&differences).sqrt() }
}

/// Parameters and the answers of all rows there.
type Step = (DVector<f64>, Vec<Answered>);

/// The measurements that are used, their errors and slopes.
struct Problem {
    /// Row and what was measured of it.
    list: Vec<(usize, Kind)>,
    y: DVector<f64>,
    errors: DMatrix<f64>,
    jacobian: DMatrix<f64>,
    belief: Belief,
    scale: Option<usize>,
    prior: Vec<f64>,
}

impl Problem {
    fn new(
        bench: &Bench<'_>,
        question: &Question,
        used: &[Option<String>],
        answers: &[Answered],
        slopes: &rows::Slopes,
    ) -> Result<Problem, CalibrateError> {
        let mut list = Vec::new();
        for (i, row) in bench.rows.iter().enumerate().filter(|(i, _)| used[*i].is_none()) {
            list.extend(row.diameter.map(|_| (i, Kind::Size)));
            list.extend(row.rate.filter(|_| answers[i].rate.is_some()).map(|_| (i, Kind::Rate)));
        }
        if list.is_empty() {
            let first = used.iter().flatten().next().map_or("it has no diameter and no rate", String::as_str);
            return Err(CalibrateError::NoUsableRow { first: first.to_owned() });
        }
        let y = DVector::from_iterator(list.len(), list.iter().map(|(i, kind)| bench.rows[*i].logarithm(*kind)));
        let errors = bench.errors(question, &list, answers, slopes);
        let prior: Vec<f64> = bench.free.iter().map(|f| f.sd).collect();
        let belief = Belief::new(&errors, &prior).ok_or(CalibrateError::NoErrors)?;
        let jacobian = bench.jacobian(&list, slopes);
        let scale = bench.free.iter().position(|f| f.key == SCALE);
        // The readings as they would be with the scale told: the free scale moves about it.
        let centre = question.scale.ln();
        let y = DVector::from_iterator(
            list.len(),
            y.iter().zip(&list).map(|(y, (_, kind))| if *kind == Kind::Size { y + centre } else { *y }),
        );
        Ok(Problem { list, y, errors, jacobian, belief, scale, prior })
    }

    fn set_slopes(&mut self, bench: &Bench<'_>, slopes: &rows::Slopes) {
        self.jacobian = bench.jacobian(&self.list, slopes);
    }

    /// Measured less predicted, logarithms.
    fn residuals(&self, answers: &[Answered], phi: &DVector<f64>) -> DVector<f64> {
        let scale = self.scale.map_or(0.0, |j| phi[j]);
        let predicted = self.list.iter().map(|(i, kind)| match kind {
            Kind::Size => answers[*i].size.map_or(f64::NAN, f64::ln) - scale,
            Kind::Rate => answers[*i].rate.map_or(f64::NAN, f64::ln),
        });
        DVector::from_iterator(self.y.len(), self.y.iter().zip(predicted).map(|(y, p)| y - p))
    }

    /// A step that lowers the misfit, halved where it does not; `None` where none does.
    fn improve(&self, bench: &Bench<'_>, phi: &DVector<f64>, r: &DVector<f64>) -> Result<Option<Step>, StudyError> {
        let now = self.belief.misfit(r, phi);
        let Some(step) = self.belief.step(&self.jacobian, r, phi) else { return Ok(None) };
        let mut share = (2.0 * self.prior.iter().copied().fold(0.0, f64::max) / step.amax().max(1e-12)).min(1.0);
        for _ in 0..4 {
            let next = phi + &step * share;
            let answers = bench.answers(&next, false)?;
            let misfit = self.belief.misfit(&self.residuals(&answers, &next), &next);
            if misfit < now {
                return Ok(Some((next, answers)));
            }
            // Nearer than runs repeat each other, there is nothing to gain.
            if (misfit - now).abs() < 0.01 {
                break;
            }
            share *= 0.5;
        }
        Ok(None)
    }

    fn posterior(&self) -> Result<laplace::Posterior, CalibrateError> {
        self.belief.posterior(&self.jacobian).ok_or(CalibrateError::NoWeights)
    }

    /// For each measurement, its distance from what the others predict.
    fn left_out(&self, free: &[Parameter], r0: &DVector<f64>) -> Option<Vec<f64>> {
        let prior: Vec<f64> = free.iter().map(|f| f.sd).collect();
        laplace::left_out(&self.errors, &self.jacobian, &prior, r0)
    }
}

#[cfg(test)]
mod tests;
