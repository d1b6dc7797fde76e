//! What the tolerances of the inputs make of the answer.
//!
//! Equation: each input with a tolerance t is spread evenly over value (1 - t) to value (1 + t); N points of a Sobol sequence fill
//! the box; each is simulated. Bands are the 5, 50 and 95 % sample quantiles. Effects of the inputs are fitted together, each with its
//! 95 % interval; an input whose effect is not told from none is not ranked.
//!
//! Symbols: t relative tolerance (-).
//!
//! Source: rectangular distribution for a stated tolerance: JCGM 100:2008, 4.3.7; Sobol 1967, scrambled after Owen 1995 (the
//! `sobol_burley` crate); all recalled from memory.
//!
//! Holds for: inputs that are independent of each other; influence needs a monotone answer and some ten points an input.

use crate::case::Case;
use crate::outcome::Mode;
use crate::study::StudyError;
use crate::study::evaluate::Counted;
use crate::study::map::fill::in_parallel;
use crate::study::quantiles::{mean, sample_quantile};
use nalgebra::{DMatrix, DVector};
use serde::Serialize;
use statrs::distribution::{ContinuousCDF, StudentsT};

/// Most points: the sequence's own limit.
pub const POINTS_MAX: u32 = 1 << 16;
/// Scrambling of the sequence; the same for everyone, so that equal cases give equal answers.
const SEED: u32 = 1;
/// Most uncertain inputs: the sequence's own limit.
const INPUTS_MAX: usize = 256;

/// An input with its tolerance.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Input {
    pub key: String,
    /// SI.
    pub value: f64,
    /// Relative.
    pub tolerance: f64,
}

/// Median and the interval that holds 90 % of the answers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Band {
    pub median: f64,
    pub low: f64,
    pub high: f64,
}

/// How often a mode came out.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct ModeShare {
    pub mode: Mode,
    pub share: f64,
}

/// What one input does to the diameter.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Influence {
    pub key: String,
    /// Spearman's, -1 to 1.
    pub rank_correlation: f64,
    /// Share of the scatter that significant inputs make, 0 to 1; zero where not significant.
    pub share: f64,
    /// Relative change of the diameter from the low end of the tolerance to the high end, other inputs held.
    pub effect: f64,
    /// Half width of its 95 % interval.
    pub effect_error95: f64,
    /// Whether the effect is told from none: larger than that half width.
    pub significant: bool,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Uncertain {
    pub inputs: Vec<Input>,
    pub runs: usize,
    /// Runs without an answer, left out of the bands.
    pub failed: usize,
    /// Why, each reason once.
    pub reasons: Vec<String>,
    pub diameter_m: Option<Band>,
    pub rate_per_s: Option<Band>,
    pub cv: Option<Band>,
    pub satellites_per_primary: Option<Band>,
    pub satellite_volume_fraction: Option<Band>,
    pub modes: Vec<ModeShare>,
    /// Most influential first.
    pub influences: Vec<Influence>,
    pub statement: String,
}

/// Inputs of a case that were typed with a tolerance.
pub fn inputs(case: &Case) -> Vec<Input> {
    let with = case.typed.iter().filter_map(|t| t.tolerance.filter(|w| *w > 0.0).map(|w| (t, w)));
    with.map(|(t, tolerance)| Input { key: t.key.clone(), value: t.si, tolerance }).collect()
}

/// SI values of the inputs at point `index` of the sequence.
pub fn point(inputs: &[Input], index: u32) -> Vec<f64> {
    let value = |(dimension, input): (usize, &Input)| {
        let u = f64::from(sobol_burley::sample(index, dimension as u32, SEED));
        input.value * (1.0 + input.tolerance * (2.0 * u - 1.0))
    };
    inputs.iter().enumerate().map(value).collect()
}

/// One run of the sample: what it was asked and what came out.
struct Answered {
    values: Vec<f64>,
    found: Result<crate::outcome::Summary, StudyError>,
}

/// Propagate the tolerances of `inputs` through `points` runs. `make` sets the inputs, `done` hears of each run.
///
/// # Errors
/// Where there is no input with a tolerance, too many points, the runs were interrupted, or threads cannot be started.
pub fn propagate(
    inputs: &[Input],
    points: u32,
    make: &(dyn Fn(&[f64]) -> Result<Case, StudyError> + Sync),
    ask: &Counted<'_>,
    threads: usize,
    done: &(dyn Fn() + Sync),
) -> Result<Uncertain, StudyError> {
    if inputs.is_empty() {
        return Err(StudyError::NoTolerance);
    }
    if inputs.len() > INPUTS_MAX || !(2..=POINTS_MAX).contains(&points) {
        return Err(StudyError::Sample { runs_max: POINTS_MAX, inputs_max: INPUTS_MAX });
    }
    let indices: Vec<u32> = (0..points).collect();
    let answers = in_parallel(threads, &indices, |&index| {
        let values = point(inputs, index);
        let found = make(&values).and_then(|case| ask.ask_short(&case)).map(|outcome| outcome.summary);
        done();
        Answered { values, found }
    })?;
    if answers.iter().any(|a| matches!(a.found, Err(StudyError::Interrupted))) {
        return Err(StudyError::Interrupted);
    }
    Ok(summed_up(inputs, &answers))
}

fn summed_up(inputs: &[Input], answers: &[Answered]) -> Uncertain {
    let good: Vec<_> = answers.iter().filter_map(|a| a.found.as_ref().ok().map(|s| (&a.values, s))).collect();
    let of = |get: fn(&crate::outcome::Summary) -> Option<f64>| {
        let numbers: Vec<f64> = good.iter().filter_map(|(_, s)| get(s)).collect();
        let at = |p| sample_quantile(&numbers, p);
        Some(Band { median: at(0.5)?, low: at(0.05)?, high: at(0.95)? })
    };
    let mut modes: Vec<ModeShare> = Vec::new();
    for (_, s) in &good {
        let share = 1.0 / good.len() as f64;
        match modes.iter_mut().find(|m| m.mode == s.mode) {
            Some(mode) => mode.share += share,
            None => modes.push(ModeShare { mode: s.mode, share }),
        }
    }
    modes.sort_by(|a, b| b.share.total_cmp(&a.share).then_with(|| a.mode.cmp(&b.mode)));
    let mut reasons: Vec<String> =
        answers.iter().filter_map(|a| a.found.as_ref().err().map(ToString::to_string)).collect();
    reasons.sort();
    reasons.dedup();
    let with_drops: Vec<(&Vec<f64>, f64)> =
        good.iter().filter_map(|(values, s)| s.primary.mean_diameter_m.map(|d| (*values, d))).collect();
    let mut found = Uncertain {
        inputs: inputs.to_vec(),
        runs: answers.len(),
        failed: answers.len() - good.len(),
        reasons,
        diameter_m: of(|s| s.primary.mean_diameter_m),
        rate_per_s: of(|s| s.primary.rate_per_s),
        cv: of(|s| s.primary.cv),
        satellites_per_primary: of(|s| s.satellites.per_primary),
        satellite_volume_fraction: of(|s| s.satellites.volume_fraction),
        modes,
        influences: influences(inputs, &with_drops),
        statement: String::new(),
    };
    found.statement = statement(&found);
    found
}

/// Effects of all inputs at once, by least squares: a straight line in each over its tolerance.
///
/// Equation: d/mean = a + sum b_i u_i, u_i = (value/typed - 1)/t in -1 to 1; effect 2 b_i, its error 2 t_95 s_i.
/// Symbols: t_95 quantile of Student's t with N - k - 1 degrees of freedom, s_i standard error of b_i; k inputs, N runs.
/// Source: ordinary least squares (NIST/SEMATECH e-Handbook, 4.4.3.1, recalled from memory).
/// Holds for: answers that are nearly straight over the tolerances; what is not straight counts as error.
fn influences(inputs: &[Input], answers: &[(&Vec<f64>, f64)]) -> Vec<Influence> {
    let (n, k) = (answers.len(), inputs.len());
    if n < k + 3 {
        return Vec::new();
    }
    let diameters: Vec<f64> = answers.iter().map(|(_, d)| *d).collect();
    let (ranks, middle) = (ranked(&diameters), mean(&diameters));
    let u = |values: &[f64], i: usize| (values[i] / inputs[i].value - 1.0) / inputs[i].tolerance;
    let rows = DMatrix::from_fn(n, k + 1, |r, c| if c == 0 { 1.0 } else { u(answers[r].0, c - 1) });
    let seen = DVector::from_iterator(n, diameters.iter().map(|d| d / middle));
    let Some(inverse) = (rows.transpose() * &rows).try_inverse() else { return Vec::new() };
    let slopes = &inverse * rows.transpose() * &seen;
    let freedom = (n - k - 1) as f64;
    let variance = (&seen - &rows * &slopes).norm_squared() / freedom;
    let quantile = StudentsT::new(0.0, 1.0, freedom).map_or(f64::INFINITY, |t| t.inverse_cdf(0.975));
    let one = |(i, input): (usize, &Input)| {
        let values: Vec<f64> = answers.iter().map(|(values, _)| values[i]).collect();
        let effect = 2.0 * slopes[i + 1];
        let error = 2.0 * quantile * (variance * inverse[(i + 1, i + 1)]).sqrt();
        Influence {
            key: input.key.clone(),
            rank_correlation: correlation(&ranked(&values), &ranks),
            share: 0.0,
            effect,
            effect_error95: error,
            significant: effect.abs() > error,
        }
    };
    let mut list: Vec<Influence> = inputs.iter().enumerate().map(one).collect();
    let whole: f64 = list.iter().filter(|i| i.significant).map(|i| i.effect.powi(2)).sum();
    list.iter_mut().filter(|i| i.significant).for_each(|i| i.share = i.effect.powi(2) / whole);
    list.sort_by(|a, b| b.share.total_cmp(&a.share).then_with(|| a.key.cmp(&b.key)));
    list
}

/// Ranks from 0; equal numbers share their mean rank.
fn ranked(numbers: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..numbers.len()).collect();
    order.sort_by(|a, b| numbers[*a].total_cmp(&numbers[*b]));
    let mut ranks = vec![0.0; numbers.len()];
    let mut start = 0;
    while start < order.len() {
        let same = order[start..].iter().take_while(|i| numbers[**i] == numbers[order[start]]).count();
        let rank = start as f64 + 0.5 * (same as f64 - 1.0);
        order[start..start + same].iter().for_each(|i| ranks[*i] = rank);
        start += same;
    }
    ranks
}

fn products(x: &[f64], y: &[f64]) -> f64 {
    let (mx, my) = (mean(x), mean(y));
    x.iter().zip(y).map(|(x, y)| (x - mx) * (y - my)).sum()
}

fn correlation(x: &[f64], y: &[f64]) -> f64 {
    let scale = (products(x, x) * products(y, y)).sqrt();
    if scale > 0.0 { products(x, y) / scale } else { 0.0 }
}

/// Change of the diameter from one end of a tolerance to the other below which nobody would see it.
const UNFELT: f64 = 1e-3;

fn statement(found: &Uncertain) -> String {
    let Some(d) = found.diameter_m else {
        return format!("None of the {} runs gave a settled drop.", found.runs);
    };
    let (unit, scale) = if d.median < 1e-3 { ("um", 1e6) } else { ("mm", 1e3) };
    let size = |x: f64| format!("{:.digits$}", scale * x, digits = if unit == "um" { 1 } else { 3 });
    let first = found.influences.first();
    let felt = found.influences.iter().any(|i| i.effect.abs() >= UNFELT);
    let most = first.filter(|i| i.significant);
    let most = if first.is_some() && !felt {
        format!("; no tolerance changes it by as much as {} %", 100.0 * UNFELT)
    } else {
        most.map_or("; no input is told from none".to_string(), |i| {
            format!(
                "; {} matters most ({:.0} % of the scatter; from its low to its high end the diameter changes by {:+.1} +- {:.1} %)",
                i.key,
                100.0 * i.share,
                100.0 * i.effect,
                100.0 * i.effect_error95
            )
        })
    };
    let modes: Vec<String> = found.modes.iter().map(|m| format!("{} in {:.0} %", m.mode, 100.0 * m.share)).collect();
    format!(
        "Diameter {} {unit} (90 % of {} runs between {} and {} {unit}), {}{most}.",
        size(d.median),
        found.runs - found.failed,
        size(d.low),
        size(d.high),
        modes.join(", ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outcome::{Mode, Outcome};
    use crate::study::evaluate::Length;
    use crate::study::synthetic;
    use approx::assert_relative_eq;

    fn inputs() -> Vec<Input> {
        let input = |key: &str, value, tolerance| Input { key: key.into(), value, tolerance };
        vec![
            input("interface.tension", 7e-3, 0.3),
            input("inner.flow", 4e-11, 0.1),
            input("device.tip_bore", 30e-6, 0.02),
        ]
    }

    fn make(values: &[f64]) -> Result<Case, StudyError> {
        let mut case = synthetic::case();
        (case.tension, case.inner.flow, case.device.tip_bore) = (values[0], values[1], values[2]);
        Ok(case)
    }

    /// Invented: the diameter is a straight line of the tension, with a little of the flow.
    fn invented(case: &Case, _length: Length) -> Result<Outcome, StudyError> {
        let d = 60e-6 * (case.tension / 7e-3) * (1.0 + 0.2 * (case.inner.flow / 4e-11 - 1.0));
        Ok(synthetic::outcome(case, if case.tension > 8.4e-3 { Mode::Jetting } else { Mode::Dripping }, Some(d), 0.0))
    }

    fn go(points: u32, threads: usize) -> Uncertain {
        propagate(&inputs(), points, &make, &Counted::new(&invented), threads, &|| ()).expect("not interrupted")
    }

    // A straight line of a rectangular input: quantiles of the diameter are those of the input.
    #[test]
    fn theory_bands_of_a_straight_line() {
        let found = go(512, 2);
        let d = found.diameter_m.expect("drops");
        assert_relative_eq!(d.median, 60e-6, max_relative = 0.004);
        assert_relative_eq!(d.low, 60e-6 * (1.0 - 0.27), max_relative = 0.01);
        assert_relative_eq!(d.high, 60e-6 * (1.0 + 0.27), max_relative = 0.01);
        let first = &found.influences[0];
        assert_eq!(first.key, "interface.tension");
        assert!(first.share > 0.97 && found.influences[2].share < 0.01, "{:?}", found.influences);
        assert_relative_eq!(first.effect, 0.6, max_relative = 0.01);
        let jetting = found.modes.iter().find(|m| m.mode == Mode::Jetting).expect("some");
        assert_relative_eq!(jetting.share, 1.0 / 6.0, epsilon = 0.01);
        assert!(found.statement.contains("interface.tension matters most"), "{}", found.statement);
    }

    // The third input does nothing: a slope of its own, beside the scatter that the first one makes, once said otherwise.
    #[test]
    fn what_does_nothing_is_not_ranked() {
        for points in [12, 20, 64] {
            let found = go(points, 1);
            let tip = found.influences.iter().find(|i| i.key == "device.tip_bore").expect("fitted");
            assert!(!tip.significant && tip.share == 0.0 && tip.effect.abs() < 0.01, "{points}: {tip:?}");
            assert!(
                found.influences[0].significant && found.influences[0].effect_error95 < 0.1,
                "{:?}",
                found.influences[0]
            );
        }
        assert!(go(5, 1).influences.is_empty(), "five runs tell nothing of three inputs");
    }

    #[test]
    fn the_answer_does_not_depend_on_the_number_of_threads() {
        assert_eq!(go(64, 1), go(64, 3));
    }

    // A density known to half a percent moves a drop by parts in a million, and without any scatter that is told from none.
    #[test]
    fn what_nobody_would_see_matters_least_not_most() {
        let nearly = |case: &Case, _: Length| {
            let d = 60e-6 * (1.0 + 1e-6 * (case.tension / 7e-3 - 1.0));
            Ok(synthetic::outcome(case, Mode::Dripping, Some(d), 0.0))
        };
        let found = propagate(&inputs(), 32, &make, &Counted::new(&nearly), 1, &|| ()).expect("not interrupted");
        assert!(found.influences[0].significant, "{:?}", found.influences);
        assert!(!found.statement.contains("matters most") && found.statement.contains("0.1 %"), "{}", found.statement);
    }

    // A Sobol sequence leaves no eighth of a side empty in 64 points, in any two inputs.
    #[test]
    fn theory_points_fill_the_box_evenly() {
        let list = inputs();
        for i in 0..list.len() {
            let mut seen = [0; 8];
            for index in 0..64 {
                let share = (point(&list, index)[i] / list[i].value - 1.0) / list[i].tolerance;
                assert!((-1.0..1.0).contains(&share));
                seen[(4.0 * (share + 1.0)) as usize] += 1;
            }
            assert_eq!(seen, [8; 8]);
        }
    }

    #[test]
    fn runs_without_an_answer_are_counted_and_named() {
        let refused = || Err(StudyError::other("invented refusal"));
        let half = |case: &Case, l| if case.tension < 7e-3 { refused() } else { invented(case, l) };
        let found = propagate(&inputs(), 32, &make, &Counted::new(&half), 1, &|| ()).expect("goes on");
        assert_eq!((found.runs, found.failed), (32, 16));
        assert_eq!(found.reasons, ["invented refusal"]);
        let never = |_: &Case, _| refused();
        let none = propagate(&inputs(), 8, &make, &Counted::new(&never), 1, &|| ()).expect("goes on");
        assert!(none.diameter_m.is_none() && none.statement.contains("None"));
        let nothing = propagate(&[], 8, &make, &Counted::new(&never), 1, &|| ());
        assert!(matches!(nothing, Err(StudyError::NoTolerance)));
        let once = propagate(&inputs(), 1, &make, &Counted::new(&never), 1, &|| ());
        assert!(matches!(once, Err(StudyError::Sample { .. })));
        let stopped = |_: &Case, _| Err(StudyError::Interrupted);
        let stopped = propagate(&inputs(), 8, &make, &Counted::new(&stopped), 1, &|| ());
        assert!(matches!(stopped, Err(StudyError::Interrupted)));
    }
}
