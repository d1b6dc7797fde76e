//! Where the mode changes along each input of a case: every crossing within a factor, the nearest first.
//!
//! Equation: an input is scaled by factors in equal ratios from 1/F to F; between neighbours of different mode the place is
//! bisected to 2 % ([`super::map::border`]).
//!
//! Holds for: coarse runs, other inputs fixed; two borders between neighbouring factors (some 20 % apart) hide each other.

use crate::case::Case;
use crate::outcome::Mode;
use crate::study::StudyError;
use crate::study::evaluate::{Counted, Length, quick};
use crate::study::map::fill::{Bench, fill};
use crate::study::map::{Axis, Plan, Row, Spacing, Status, border};
use crate::study::margins::{DIAMETER_BAND, Input, Margin};
use serde::Serialize;
use std::collections::BTreeMap;

/// A place where the mode changes.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Crossing {
    pub key: &'static str,
    /// SI value of the key there.
    pub at: f64,
    /// Its SI unit.
    pub unit: &'static str,
    /// Mode on the case's side, and beyond.
    pub from: Mode,
    pub to: Mode,
    /// `at` over the case's own value.
    pub factor: f64,
    /// Whether it was bisected to 2 %.
    pub closed: bool,
}

/// All that was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Borders {
    /// Mode of the case itself in a coarse run; `None` where that gave no answer.
    pub mode: Option<Mode>,
    pub within: f64,
    /// The nearest first.
    pub crossings: Vec<Crossing>,
    /// Inputs of which some values gave no answer, and why.
    pub no_answer: Vec<String>,
}

/// Ratio of neighbouring factors, at most.
const RATIO: f64 = 1.2;

/// Margins of the size and borders of the mode, the answer of `margins`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Told {
    pub title: String,
    /// Of the runs behind the margins.
    pub accuracy: &'static str,
    /// Relative change of the diameter that a margin allows.
    pub band: f64,
    /// By key: relative changes downwards and upwards that are still good.
    pub size: BTreeMap<String, [f64; 2]>,
    pub detail: Vec<Margin>,
    /// Every change of mode on the way, the nearest first; null where it was not asked for, as all that follows but the last.
    pub border: Option<Vec<Crossing>>,
    pub border_accuracy: Option<&'static str>,
    /// Mode of the case itself there.
    pub border_mode: Option<Mode>,
    /// Largest factor tried.
    pub searched_within: Option<f64>,
    /// Inputs of which some values gave no answer, and why.
    pub no_answer: Option<Vec<String>>,
    /// Runs of all kinds.
    pub evaluations: usize,
}

/// Both together.
pub fn told(case: &Case, size: &[Margin], border: Option<&Borders>, runs: usize) -> Told {
    Told {
        title: case.title.clone(),
        accuracy: case.run.accuracy.name(),
        band: DIAMETER_BAND,
        size: size.iter().map(|m| (key(case, m.input).to_owned(), [m.down.change, m.up.change])).collect(),
        detail: size.to_vec(),
        border: border.map(|b| b.crossings.clone()),
        border_accuracy: border.map(|_| "coarse"),
        border_mode: border.and_then(|b| b.mode),
        searched_within: border.map(|b| b.within),
        no_answer: border.map(|b| b.no_answer.clone()),
        evaluations: runs,
    }
}

/// The key that an input stands for.
pub fn key(case: &Case, input: Input) -> &'static str {
    match input {
        Input::InnerFlow => "inner.flow",
        Input::OuterFlow => "outer.flow",
        Input::Tension => "interface.tension",
        Input::Tip if case.device.wetting == crate::case::Wetting::TipOuter => "device.tip_outer",
        Input::Tip => "device.tip_bore",
    }
}

fn own(case: &Case, input: Input) -> (f64, &'static str) {
    match input {
        Input::InnerFlow => (case.inner.flow, "m3/s"),
        Input::OuterFlow => (case.outer.as_ref().map_or(0.0, |o| o.flow), "m3/s"),
        Input::Tension => (case.tension, "N/m"),
        Input::Tip => (2.0 * case.device.pinned_radius(), "m"),
    }
}

/// Borders of the mode along every input of a case, up to a factor `within` in both directions, from runs of `drops` drops.
///
/// # Errors
/// Where the runs were interrupted, or threads cannot be started.
pub fn borders(case: &Case, within: f64, drops: u32, ask: &Counted<'_>, threads: usize) -> Result<Borders, StudyError> {
    let base = quick(case, drops);
    let mut found = Borders { mode: None, within, crossings: Vec::new(), no_answer: Vec::new() };
    for input in Input::of(case) {
        along(&base, input, ask, threads, &mut found)?;
    }
    found.crossings.sort_by(|a, b| a.factor.ln().abs().total_cmp(&b.factor.ln().abs()));
    Ok(found)
}

fn along(base: &Case, input: Input, ask: &Counted<'_>, threads: usize, found: &mut Borders) -> Result<(), StudyError> {
    let steps = (found.within.ln() / RATIO.ln()).ceil().max(1.0) as usize;
    let key = key(base, input);
    let axis = Axis::between(key, "1", [1.0 / found.within, found.within], 2 * steps + 1, Spacing::Log)?;
    let plan = Plan::new(vec![axis])?;
    let make = |values: &[f64]| Ok(input.scaled(base, values[0]));
    let answer = |case: &Case| ask.ask_for(case, Length::Affordable);
    let bench = Bench { make: &make, answer: &answer, threads };
    let cells: Vec<usize> = (0..plan.len()).collect();
    let rows = fill(&bench, &plan, &cells, &|_| ())?;
    if rows.len() < cells.len() {
        return Err(StudyError::Interrupted);
    }
    let points = border::trace(&bench, &plan, &rows, &|| ())?.ok_or(StudyError::Interrupted)?;
    let middle: &Row = &rows[steps];
    found.mode = found.mode.or(middle.mode);
    let silent: Vec<&Row> = rows.iter().filter(|row| row.status == Status::Failed).collect();
    if let Some(first) = silent.first() {
        found.no_answer.push(format!(
            "{key}: {} of {} values gave no answer: {}",
            silent.len(),
            rows.len(),
            first.reason
        ));
    }
    let (value, unit) = own(base, input);
    found.crossings.extend(points.into_iter().map(|point| {
        let factor = point.values[0];
        // From the case's side outwards.
        let [low, high] = point.modes;
        let (from, to) = if factor > 1.0 { (low, high) } else { (high, low) };
        Crossing { key, at: factor * value, unit, from, to, factor, closed: point.closed }
    }));
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outcome::Mode;
    use crate::study::synthetic;

    // Invented: dripping between 0.5 and 1.3 of the case's inner flow, and again above 2.6 of it.
    fn invented(case: &Case, _: Length) -> Result<crate::outcome::Outcome, StudyError> {
        let share = case.inner.flow / synthetic::case().inner.flow;
        let mode = if (0.5..1.3).contains(&share) || share > 2.6 { Mode::Dripping } else { Mode::Jetting };
        Ok(synthetic::outcome(case, mode, Some(60e-6), 0.0))
    }

    #[test]
    fn every_crossing_is_found_and_the_nearest_comes_first() {
        let found = borders(&synthetic::case(), 4.0, 8, &Counted::new(&invented), 2).expect("an answer");
        assert_eq!(found.mode, Some(Mode::Dripping));
        let at: Vec<f64> = found.crossings.iter().map(|c| c.factor).collect();
        assert_eq!(at.len(), 3, "{found:?}");
        for (seen, truth) in at.iter().zip([1.3, 0.5, 2.6]) {
            assert!((seen / truth - 1.0).abs() < 0.02, "{seen} {truth}");
        }
        assert!(found.crossings.iter().all(|c| c.key == "inner.flow" && c.closed));
        let told: Vec<[Mode; 2]> = found.crossings.iter().map(|c| [c.from, c.to]).collect();
        let opens = [Mode::Dripping, Mode::Jetting];
        assert_eq!(told, [opens, opens, [Mode::Jetting, Mode::Dripping]]);
    }

    #[test]
    fn values_without_an_answer_are_told() {
        let half = |case: &Case, l: Length| match case.tension < 0.5 * synthetic::case().tension {
            true => Err(StudyError::other("invented refusal")),
            false => invented(case, l),
        };
        let found = borders(&synthetic::case(), 4.0, 8, &Counted::new(&half), 1).expect("an answer");
        assert!(found.no_answer.len() == 1 && found.no_answer[0].contains("invented refusal"), "{found:?}");
    }
}
