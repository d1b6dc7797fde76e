//! Rows of the table as runs: what the model answers there, how it moves with each parameter, and how far it may be off.

use super::laplace::{self, Posterior};
use super::{
    CalibrateError, DIAMETER_ASSUMED, Estimate, MODEL_ERROR_ASSUMED, Next, Parameter, Predicted, Problem, Question,
    RATE_ASSUMED, RowTold, SCALE,
};
use crate::case::{Case, CaseErrors, Stop};
use crate::limits::interval::own_error;
use crate::limits::reference::Place;
use crate::outcome::Mode;
use crate::study::aim::DROPS;
use crate::study::error::{self, StudyError};
use crate::study::evaluate::{Counted, quick};
use crate::study::map::fill::in_parallel;
use crate::study::measured::Measured;
use nalgebra::{DMatrix, DVector};
use std::collections::BTreeMap;

/// Settings of a row: keys of the case with SI values.
pub type Settings = Vec<(String, f64)>;

/// What was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Size,
    Rate,
}

/// A row of the table.
#[derive(Debug, Clone, PartialEq)]
pub struct Observation {
    pub line: u64,
    pub settings: Settings,
    pub diameter: Option<f64>,
    /// Relative standard deviations, and whether the table told them.
    pub diameter_sd: f64,
    pub diameter_sd_told: bool,
    pub rate: Option<f64>,
    pub rate_sd: f64,
    pub mode: Option<Mode>,
}

impl Observation {
    /// ln of what was measured.
    pub fn logarithm(&self, kind: Kind) -> f64 {
        let value = if kind == Kind::Size { self.diameter } else { self.rate };
        value.map_or(f64::NAN, f64::ln)
    }

    fn sd(&self, kind: Kind) -> f64 {
        if kind == Kind::Size { self.diameter_sd } else { self.rate_sd }
    }
}

/// The rows of a measured table.
///
/// # Errors
/// Where nothing in it can be compared.
pub fn observations(table: &Measured) -> Result<Vec<Observation>, CalibrateError> {
    if table.reals("diameter").is_none() && table.reals("rate").is_none() {
        return Err(CalibrateError::NothingMeasured);
    }
    let at = |name: &str, i: usize| table.reals(name).and_then(|values| values[i]);
    let modes = table.texts("mode");
    let one = |i: usize| {
        let unknown = |mode: &str| CalibrateError::UnknownMode { line: table.lines[i], mode: mode.to_owned() };
        let known = |mode: &str| mode.parse().ok().filter(|mode| *mode != Mode::None).ok_or_else(|| unknown(mode));
        let mode = modes.map(|m| m[i].as_str()).filter(|m| !m.is_empty()).map(known).transpose()?;
        let (diameter, rate) = (at("diameter", i), at("rate", i));
        let share = |sd: Option<f64>, of: Option<f64>| Some(sd? / of?);
        let diameter_sd = share(at("diameter_sd", i), diameter);
        Ok(Observation {
            line: table.lines[i],
            settings: table.keys().into_iter().filter_map(|key| Some((key.to_owned(), at(key, i)?))).collect(),
            diameter,
            diameter_sd: diameter_sd.unwrap_or(DIAMETER_ASSUMED),
            diameter_sd_told: diameter_sd.is_some(),
            rate,
            rate_sd: share(at("rate_sd", i), rate).unwrap_or(RATE_ASSUMED),
            mode,
        })
    };
    (0..table.rows()).map(one).collect()
}

/// What the model answers to a row.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Answered {
    /// `None` where there was no answer.
    pub mode: Option<Mode>,
    pub size: Option<f64>,
    pub rate: Option<f64>,
    /// Standard error of the mean of its drops, relative.
    pub scatter: f64,
    pub model_error: Option<f64>,
    /// Why there is no size.
    pub reason: String,
}

/// d ln(size), d ln(rate) over d ln(parameter) in one row; `None` where a small change ends the mode.
type Slope = Option<[f64; 2]>;

/// Slopes of all rows and, last, of the case itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Slopes {
    free: Vec<Vec<Slope>>,
    fixed: Vec<Vec<Slope>>,
}

/// Everything needed to answer rows.
pub struct Bench<'a> {
    pub case: &'a Case,
    pub rows: &'a [Observation],
    pub free: &'a [Parameter],
    pub fixed: &'a [Parameter],
    pub ask: &'a Counted<'a>,
    pub threads: usize,
}

/// Drops of a run at the case's own accuracy at most.
const DROPS_OWN: u32 = 10;
/// Changes of ln(p) by which slopes are taken: half a standard deviation of the prior, within these.
const CHANGE: [f64; 2] = [0.01, 0.08];

fn change(parameter: &Parameter) -> f64 {
    (0.5 * parameter.sd).clamp(CHANGE[0], CHANGE[1])
}

/// A change of ln(p) of one free or fixed parameter.
#[derive(Debug, Clone, Copy)]
enum Moved {
    None,
    Free(usize, f64),
    Fixed(usize, f64),
}

/// The case with a key multiplied. A tip keeps its shape: its outer rim follows the bore.
fn scaled(case: &Case, key: &str, value: f64, factor: f64) -> Result<Case, CaseErrors> {
    let outer = case.device.tip_outer.filter(|_| key == "device.tip_bore");
    match outer {
        Some(rim) if factor > 1.0 => {
            case.with("device.tip_outer", rim * factor).and_then(|case| case.with(key, value * factor))
        }
        Some(rim) => case.with(key, value * factor).and_then(|case| case.with("device.tip_outer", rim * factor)),
        None => case.with(key, value * factor),
    }
}

impl Bench<'_> {
    /// Settings of all rows, and of the case itself.
    fn places(&self) -> Vec<Settings> {
        self.rows.iter().map(|row| row.settings.clone()).chain([Vec::new()]).collect()
    }

    fn case_at(&self, settings: &Settings, phi: &DVector<f64>, moved: Moved) -> Result<Case, CaseErrors> {
        let mut case = self.case.clone();
        for (key, value) in settings {
            case = scaled(&case, key, *value, 1.0)?;
        }
        for (j, parameter) in self.free.iter().enumerate().filter(|(_, f)| f.key != SCALE) {
            let extra = if let Moved::Free(i, by) = moved { if i == j { by } else { 0.0 } } else { 0.0 };
            case = scaled(&case, &parameter.key, parameter.value, (phi[j] + extra).exp())?;
        }
        if let Moved::Fixed(i, by) = moved {
            let key = &self.fixed[i].key;
            let own = settings.iter().find(|(k, _)| k == key).map_or(self.fixed[i].value, |(_, value)| *value);
            case = scaled(&case, key, own, by.exp())?;
        }
        Ok(case)
    }

    fn answer(
        &self,
        settings: &Settings,
        phi: &DVector<f64>,
        moved: Moved,
        coarse: bool,
    ) -> Result<Answered, StudyError> {
        let case = match self.case_at(settings, phi, moved) {
            Ok(case) => case,
            Err(errors) => return Ok(Answered { reason: error::first(&errors), ..Answered::default() }),
        };
        let mut asked = if coarse { quick(&case, DROPS) } else { case };
        asked.run.frames = 2;
        if let Stop::Drops(n) = asked.run.stop {
            asked.run.stop = Stop::Drops(n.min(DROPS_OWN));
        }
        match self.ask.ask_affordable(&asked) {
            Ok(outcome) => {
                let s = outcome.summary;
                let n = s.primary.count.max(1) as f64;
                Ok(Answered {
                    mode: Some(s.mode),
                    size: s.primary.mean_diameter_m,
                    rate: s.primary.rate_per_s,
                    scatter: s.primary.cv.unwrap_or(0.0) / n.sqrt(),
                    // The case's own inputs are told apart by their priors.
                    model_error: s.primary.mean_diameter_m.and(own_error(&asked, &s)),
                    reason: match s.primary.mean_diameter_m {
                        Some(_) => String::new(),
                        None => format!("the run gives no settled drop: {}", s.why_no_drop()),
                    },
                })
            }
            Err(why @ StudyError::Interrupted) => Err(why),
            Err(why) => Ok(Answered { reason: why.to_string(), ..Answered::default() }),
        }
    }

    /// Answers of all rows and, last, of the case itself.
    pub fn answers(&self, phi: &DVector<f64>, coarse: bool) -> Result<Vec<Answered>, StudyError> {
        let found = in_parallel(self.threads, &self.places(), |s| self.answer(s, phi, Moved::None, coarse))?;
        found.into_iter().collect()
    }

    /// Slopes of all rows and of the case itself, by coarse runs.
    pub fn slopes(&self, phi: &DVector<f64>) -> Result<Slopes, StudyError> {
        self.slopes_at(&self.places(), phi, true)
    }

    fn slopes_at(&self, places: &[Settings], phi: &DVector<f64>, with_fixed: bool) -> Result<Slopes, StudyError> {
        let mut moves = vec![Moved::None];
        for (j, f) in self.free.iter().enumerate().filter(|(_, f)| f.key != SCALE) {
            moves.extend([Moved::Free(j, -change(f)), Moved::Free(j, change(f))]);
        }
        if with_fixed {
            moves.extend(self.fixed.iter().enumerate().map(|(j, f)| Moved::Fixed(j, change(f))));
        }
        let tasks: Vec<(&Settings, Moved)> = places.iter().flat_map(|s| moves.iter().map(move |m| (s, *m))).collect();
        let found = in_parallel(self.threads, &tasks, |(s, m)| self.answer(s, phi, *m, true))?;
        let found: Vec<Answered> = found.into_iter().collect::<Result<_, _>>()?;
        let mut slopes = Slopes { free: Vec::new(), fixed: Vec::new() };
        for own in found.chunks(moves.len()) {
            let (mut at, mut free) = (1, Vec::new());
            for parameter in self.free {
                if parameter.key == SCALE {
                    free.push(Some([0.0, 0.0]));
                    continue;
                }
                free.push(slope(&own[0], &own[at], &own[at + 1], change(parameter)));
                at += 2;
            }
            let fixed =
                self.fixed.iter().zip(&own[at..]).map(|(f, up)| slope(&own[0], &Answered::default(), up, change(f)));
            slopes.fixed.push(if with_fixed { fixed.collect() } else { Vec::new() });
            slopes.free.push(free);
        }
        Ok(slopes)
    }

    /// Slopes of the measurements; a scale that makes true diameters larger makes read ones smaller.
    pub fn jacobian(&self, list: &[(usize, Kind)], slopes: &Slopes) -> DMatrix<f64> {
        DMatrix::from_fn(list.len(), self.free.len(), |i, j| self.slope(list[i], j, &slopes.free))
    }

    fn slope(&self, (row, kind): (usize, Kind), j: usize, free: &[Vec<Slope>]) -> f64 {
        match (self.free[j].key == SCALE, kind) {
            (true, Kind::Size) => -1.0,
            (true, Kind::Rate) => 0.0,
            _ => free[row][j].map_or(0.0, |s| s[kind as usize]),
        }
    }

    /// Covariance of the measurements: measuring, the drops' own scatter, the model, inputs that are not free.
    pub fn errors(
        &self,
        question: &Question,
        list: &[(usize, Kind)],
        answers: &[Answered],
        slopes: &Slopes,
    ) -> DMatrix<f64> {
        let zero = DVector::zeros(self.free.len());
        let places: Option<Vec<Place>> = self
            .rows
            .iter()
            .map(|row| self.case_at(&row.settings, &zero, Moved::None).ok().and_then(|case| Place::of(&case)))
            .collect();
        let near = |a: usize, b: usize| places.as_ref().map_or(1.0, |p| p[a].nearness(&p[b]));
        let model = |i: usize| model_error(question, &answers[i]);
        // The volume of the drops is that of the pumped liquid: a size too large by m comes with a rate too low by 3 m.
        let weight = |kind: Kind| if kind == Kind::Size { 1.0 } else { -3.0 };
        DMatrix::from_fn(list.len(), list.len(), |i, j| {
            let ((a, of_a), (b, of_b)) = (list[i], list[j]);
            let mut sum = weight(of_a) * weight(of_b) * model(a) * model(b) * near(a, b);
            for (k, input) in self.fixed.iter().enumerate() {
                let slope = |row: usize, kind: Kind| slopes.fixed[row][k].map_or(0.0, |s| s[kind as usize]);
                sum += slope(a, of_a) * slope(b, of_b) * input.sd * input.sd;
            }
            if i == j {
                let scatter = weight(of_a) * answers[a].scatter;
                sum += self.rows[a].sd(of_a).powi(2) + scatter * scatter;
            }
            sum
        })
    }

    /// The rows with what was measured and what is predicted, as the camera reads it.
    pub fn told(
        &self,
        question: &Question,
        problem: &Problem,
        before: &[Answered],
        after: &[Answered],
        phi: &DVector<f64>,
        left_out: Option<&[f64]>,
    ) -> Vec<RowTold> {
        let scale = problem.scale.map_or(question.scale, |j| question.scale * phi[j].exp());
        let used: Vec<Option<String>> = (0..self.rows.len())
            .map(|i| match problem.list.iter().any(|(row, _)| *row == i) {
                true => None,
                false => Some(unused(&self.rows[i], &before[i])),
            })
            .collect();
        let one = |(i, row): (usize, &Observation)| {
            let place = problem.list.iter().position(|(at, kind)| *at == i && *kind == Kind::Size);
            let sd = place.map(|k| problem.errors[(k, k)].sqrt());
            let any = problem.list.iter().position(|(at, _)| *at == i);
            RowTold {
                line: row.line,
                measured_m: row.diameter,
                before_m: before[i].size.map(|d| d / question.scale),
                after_m: after[i].size.map(|d| d / scale),
                sd_m: sd.and_then(|sd| Some(sd * row.diameter?)),
                measured_rate_per_s: row.rate,
                before_rate_per_s: before[i].rate,
                after_rate_per_s: after[i].rate,
                mode: row.mode,
                predicted_mode: after[i].mode,
                left_out: any.and_then(|k| left_out.map(|z| z[k])),
                used: used[i].is_none(),
                reason: used[i].clone().unwrap_or_default(),
            }
        };
        self.rows.iter().enumerate().map(one).collect()
    }

    /// What is predicted of the case itself: true diameters.
    pub fn predicted(
        &self,
        question: &Question,
        slopes: &Slopes,
        answers: &[Answered],
        covariance: &DMatrix<f64>,
    ) -> Option<Predicted> {
        let (own, last) = (answers.last()?, self.rows.len());
        let j = DVector::from_iterator(
            self.free.len(),
            slopes.free[last].iter().map(|s| s.map_or(0.0, |s| s[Kind::Size as usize])),
        );
        let inputs: f64 = self
            .fixed
            .iter()
            .zip(&slopes.fixed[last])
            .map(|(input, slope)| (input.sd * slope.map_or(0.0, |s| s[0])).powi(2))
            .sum();
        let variance = (j.transpose() * covariance * &j)[0] + inputs + model_error(question, own).powi(2);
        Some(Predicted { mode: own.mode?, diameter_m: Estimate::of(own.size?, 0.0, variance.sqrt()) })
    }

    /// The further measurement that narrows the free keys most, of a few that any bench can make.
    pub fn next(
        &self,
        question: &Question,
        problem: &Problem,
        posterior: &Posterior,
        phi: &DVector<f64>,
    ) -> Result<Option<Next>, StudyError> {
        let flows =
            [("inner.flow", self.case.inner.flow), ("outer.flow", self.case.outer.as_ref().map_or(0.0, |o| o.flow))];
        let places: Vec<Settings> = flows
            .iter()
            .filter(|(_, flow)| *flow > 0.0)
            .flat_map(|(key, flow)| [0.5, 2.0].map(|factor| vec![((*key).to_owned(), factor * flow)]))
            .collect();
        let answers = in_parallel(self.threads, &places, |s| self.answer(s, phi, Moved::None, true))?;
        let answers: Vec<Answered> = answers.into_iter().collect::<Result<_, _>>()?;
        let slopes = self.slopes_at(&places, phi, false)?;
        let own = answers
            .iter()
            .zip(&slopes.free)
            .zip(&places)
            .filter(|((answer, slope), _)| answer.size.is_some() && slope.iter().all(Option::is_some));
        let mut best: Option<(f64, Next)> = None;
        let mut offer = |settings: &Settings, kinds: &[Kind], model: f64, slope: &[Slope]| {
            let j =
                DMatrix::from_fn(kinds.len(), self.free.len(), |i, k| match (self.free[k].key == SCALE, kinds[i]) {
                    (true, Kind::Size) => -1.0,
                    (true, Kind::Rate) => 0.0,
                    _ => slope[k].map_or(0.0, |s| s[kinds[i] as usize]),
                });
            let weight = |kind: Kind| if kind == Kind::Size { 1.0 } else { -3.0 };
            let sd = |kind: Kind| if kind == Kind::Size { DIAMETER_ASSUMED } else { RATE_ASSUMED };
            let e = DMatrix::from_fn(kinds.len(), kinds.len(), |a, b| {
                let common = weight(kinds[a]) * weight(kinds[b]) * model * model;
                common + if a == b { sd(kinds[a]).powi(2) } else { 0.0 }
            });
            let Some(after) = laplace::after(&posterior.covariance, &j, &e) else { return };
            let gain = 0.5 * (posterior.covariance.determinant() / after.determinant()).ln();
            if gain.is_finite() && best.as_ref().is_none_or(|(most, _)| gain > *most) {
                let measure = if kinds.len() == 2 { "diameter and rate" } else { "rate" };
                let narrowed = |(k, f): (usize, &Parameter)| {
                    let of = |c: &DMatrix<f64>| 100.0 * c[(k, k)].sqrt();
                    format!(
                        "{} from {:.1} to {:.1} % (one standard deviation)",
                        f.key,
                        of(&posterior.covariance),
                        of(&after)
                    )
                };
                let why = self.free.iter().enumerate().map(narrowed).collect::<Vec<_>>().join(", ");
                let settings: BTreeMap<String, f64> = settings.iter().cloned().collect();
                best = Some((gain, Next { settings, measure: measure.into(), why }));
            }
        };
        for ((answer, slope), settings) in own {
            offer(settings, &[Kind::Size, Kind::Rate], model_error(question, answer), slope);
        }
        for (i, row) in self.rows.iter().enumerate() {
            if row.rate.is_none() && problem.list.contains(&(i, Kind::Size)) {
                let slope: Vec<Slope> = (0..self.free.len())
                    .map(|k| Some([self.slope_of(problem, i, k), -3.0 * self.slope_of(problem, i, k)]))
                    .collect();
                offer(
                    &row.settings,
                    &[Kind::Rate],
                    MODEL_ERROR_ASSUMED.min(question.model_error.unwrap_or(MODEL_ERROR_ASSUMED)),
                    &slope,
                );
            }
        }
        Ok(best.map(|(_, next)| next))
    }

    fn slope_of(&self, problem: &Problem, row: usize, k: usize) -> f64 {
        let at = problem.list.iter().position(|(i, kind)| *i == row && *kind == Kind::Size);
        at.map_or(0.0, |i| problem.jacobian[(i, k)])
    }
}

fn model_error(question: &Question, answer: &Answered) -> f64 {
    question.model_error.or(answer.model_error).unwrap_or(MODEL_ERROR_ASSUMED)
}

fn slope(centre: &Answered, down: &Answered, up: &Answered, h: f64) -> Slope {
    let good = |a: &Answered| a.mode == centre.mode && a.size.is_some() && a.rate.is_some();
    let between = |a: &Answered, b: &Answered, h: f64| {
        let of = |x: Option<f64>, y: Option<f64>| (y.unwrap_or(f64::NAN) / x.unwrap_or(f64::NAN)).ln() / h;
        Some([of(a.size, b.size), of(a.rate, b.rate)])
    };
    match (good(centre), good(down), good(up)) {
        (true, true, true) => between(down, up, 2.0 * h),
        (true, true, false) => between(down, centre, h),
        (true, false, true) => between(centre, up, h),
        _ => None,
    }
}

/// Why a row cannot be used; `None` where it can.
pub fn used(rows: &[Observation], answers: &[Answered], slopes: &Slopes) -> Vec<Option<String>> {
    let one = |(i, row): (usize, &Observation)| {
        let reason = unused(row, &answers[i]);
        if !reason.is_empty() {
            return Some(reason);
        }
        let steady = slopes.free[i].iter().all(Option::is_some);
        (!steady).then(|| "a small change of a free key ends its mode".to_owned())
    };
    rows.iter().enumerate().map(one).collect()
}

fn unused(row: &Observation, answer: &Answered) -> String {
    match (row.mode, row.diameter.is_none() && row.rate.is_none()) {
        (_, true) => "neither diameter nor rate was measured".into(),
        _ if answer.size.is_none() => answer.reason.clone(),
        // At the border people name either side.
        (Some(mode), _) if answer.mode.is_none_or(|predicted| mode.differs(predicted)) => {
            format!("measured {mode}, predicted {}: another size", answer.mode.unwrap_or(Mode::None))
        }
        _ => String::new(),
    }
}
