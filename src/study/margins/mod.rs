//! How far each input can change before the answer is another one.
//!
//! Equation: along one input scaled by a factor, the margin is where the mode changes or the mean diameter leaves +-5 % of its
//! own value at factor 1. The size is smooth along an input, so its border is looked for where the change so far, in proportion,
//! reaches 5 %; a change of mode is not, and is bisected.
//!
//! Holds for: the case's own accuracy, other inputs fixed. Where that is finer than `coarse`, coarse runs (compared with a coarse
//! run at factor 1, so that the error of the mesh cancels) only tell where to look; the change that is answered as good was run at
//! the case's own accuracy, and moved the size by at least nine tenths of 5 % where that is what ends it (so it lies within a tenth
//! of the border), or has a bad run close beyond it. Drops of an irregular jet have a mean that is itself uncertain by their CV
//! over sqrt(n), often a third of the band: there a line through coarse runs on both sides (ln d over ln of the factor, weighted by
//! those errors) says where the band ends, and a good run inside is answered, at least half as far out. Such margins are rough: of a counter-flow
//! jet's four that were said to move the size by 5 %, re-runs at `standard` moved it by 0.9, 3.0, 3.7 and 5.9 % (means known to 2 %).

mod bracket;
mod line;

use crate::case::{Accuracy, Case};
use crate::outcome::{Primary, Summary};
use crate::study::evaluate::{Counted, INTERRUPTED, quick};
use crate::study::map::fill::in_parallel;
use bracket::{AT_BORDER, Bracket, Seen, close};
use serde::Serialize;

/// Change of the mean diameter that ends a margin.
pub const DIAMETER_BAND: f64 = 0.05;
/// An input that a margin belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Input {
    InnerFlow,
    OuterFlow,
    Tension,
    Tip,
}

impl Input {
    /// The inputs that a case has.
    pub fn of(case: &Case) -> Vec<Input> {
        let mut inputs = vec![Input::InnerFlow];
        if case.outer.as_ref().is_some_and(|o| o.flow > 0.0) {
            inputs.push(Input::OuterFlow);
        }
        inputs.extend([Input::Tension, Input::Tip]);
        inputs
    }

    /// As people say it.
    pub fn word(self) -> &'static str {
        match self {
            Input::InnerFlow => "inner flow",
            Input::OuterFlow => "outer flow",
            Input::Tension => "interfacial tension",
            Input::Tip => "tip diameter",
        }
    }

    /// The case with this input multiplied. The tip keeps its shape: both of its rims scale.
    pub fn scaled(self, case: &Case, factor: f64) -> Case {
        let mut case = case.clone();
        match self {
            Input::InnerFlow => case.inner.flow *= factor,
            Input::OuterFlow => {
                if let Some(outer) = case.outer.as_mut() {
                    outer.flow *= factor;
                }
            }
            Input::Tension => case.tension *= factor,
            Input::Tip => {
                case.device.tip_bore *= factor;
                case.device.tip_outer = case.device.tip_outer.map(|outer| outer * factor);
            }
        }
        case
    }
}

/// Why a margin ends where it does.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum End {
    /// The mode changes to this one.
    Mode(String),
    /// The diameter leaves +-5 %.
    Diameter,
    /// A run beyond gave no answer.
    NoAnswer(String),
    /// Nothing changes within the largest change tried.
    Beyond,
}

impl End {
    /// In words.
    pub fn words(&self) -> String {
        match self {
            End::Mode(mode) => format!("the mode changes to {mode}"),
            End::Diameter => "the diameter leaves 5 %".into(),
            End::NoAnswer(why) => format!("a run gives no answer: {why}"),
            End::Beyond => "nothing changes up to there".into(),
        }
    }
}

/// One direction of one input.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Side {
    /// Relative change that is still good (negative downwards).
    pub change: f64,
    /// The nearest change that is not; equal to `change` where none was found.
    pub beyond: f64,
    /// Whether a run was made there; else it is where the size, in proportion to that at `change`, leaves 5 %.
    pub beyond_run: bool,
    pub end: End,
}

/// Both directions of one input.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Margin {
    pub input: Input,
    pub down: Side,
    pub up: Side,
}

/// A case at one accuracy, and what its answer is at factor 1.
#[derive(Debug, Clone)]
struct Level {
    case: Case,
    mode: String,
    diameter: f64,
    /// Its CV, and the relative standard error of the mean.
    cv: f64,
    error: f64,
}

impl Level {
    /// Whether the drops scatter so much that a single run tells little of a border.
    fn scatters(&self) -> bool {
        self.error > (1.0 - AT_BORDER) * DIAMETER_BAND
    }
}

/// Margins of all inputs of a case, from coarse runs of at most `drops` drops and then runs at the case's own accuracy, side by
/// side. `own` is the answer of the case itself, where it was run already.
///
/// # Errors
/// Where the case itself gives no drop, the run was interrupted, or the threads cannot be started.
pub fn margins(
    case: &Case,
    own: Option<&Summary>,
    drops: u32,
    ask: &Counted<'_>,
    threads: usize,
) -> Result<Vec<Margin>, String> {
    const NOTHING: &str = "the case itself gives no settled drop to have margins of";
    let own = match own {
        Some(summary) => level(case.clone(), summary),
        None => asked_level(case.clone(), ask)?,
    };
    let own = own.ok_or(NOTHING)?;
    let coarse = match case.run.accuracy {
        Accuracy::Coarse => None,
        _ => asked_level(quick(case, drops), ask)?,
    };
    // A coarse run that finds another mode than the case's own accuracy tells nothing about where that one ends.
    let levels: Vec<Level> = coarse.into_iter().filter(|level| level.mode == own.mode).chain([own.clone()]).collect();
    let inputs = Input::of(case);
    let sides: Vec<(Input, f64)> = inputs.iter().flat_map(|i| [(*i, -1.0), (*i, 1.0)]).collect();
    let starts = match levels.first().filter(|level| level.scatters()) {
        Some(level) => line::lines(level, &inputs, ask, threads)?,
        None => vec![None; sides.len()],
    };
    let sides: Vec<((Input, f64), Option<Bracket>)> = sides.into_iter().zip(starts).collect();
    let found =
        in_parallel(threads, &sides, |((input, sign), start)| side(&levels, *input, *sign, start.as_ref(), ask))?;
    let found: Vec<Side> = found.into_iter().collect::<Result<_, _>>()?;
    let pairs = inputs.iter().zip(found.chunks(2));
    Ok(pairs.map(|(input, pair)| Margin { input: *input, down: pair[0].clone(), up: pair[1].clone() }).collect())
}

/// `None` where the case gives no settled drop at this accuracy.
fn asked_level(case: Case, ask: &Counted<'_>) -> Result<Option<Level>, String> {
    match ask.ask_short(&case) {
        Ok(outcome) => Ok(level(case, &outcome.summary)),
        Err(why) if why == INTERRUPTED => Err(why),
        Err(_) => Ok(None),
    }
}

fn level(case: Case, found: &Summary) -> Option<Level> {
    let diameter = found.primary.mean_diameter_m?;
    let cv = found.primary.cv.unwrap_or(0.0);
    Some(Level { case, mode: found.mode.clone(), diameter, cv, error: relative_error(&found.primary, cv) })
}

/// CV over the root of the number of drops; a few drops may agree by chance, hence not below `least`.
fn relative_error(primary: &Primary, least: f64) -> f64 {
    primary.cv.unwrap_or(0.0).max(least) / (primary.count.max(1) as f64).sqrt()
}

fn side(levels: &[Level], input: Input, sign: f64, start: Option<&Bracket>, ask: &Counted<'_>) -> Result<Side, String> {
    let (mut bracket, mut before) = (start.cloned().unwrap_or_default(), Bracket::default());
    // With a line there is no need of another look with coarse runs.
    let skipped = if start.is_some() { levels.len() - 1 } else { 0 };
    for (i, level) in levels.iter().enumerate().skip(skipped) {
        let mut judge = |change: f64| judged(level, input, sign * change, ask);
        before = bracket;
        bracket = close(&mut judge, &before, i + 1 == levels.len())?;
    }
    Ok(bracket.side(&before, sign))
}

/// One run against the case itself.
fn judged(level: &Level, input: Input, change: f64, ask: &Counted<'_>) -> Result<Seen, String> {
    let bad = |end| Ok(Seen { change: change.abs(), moved: None, ratio: None, error: 0.0, end: Some(end) });
    let found = match ask.ask_short(&input.scaled(&level.case, 1.0 + change)) {
        Ok(outcome) => outcome.summary,
        Err(why) if why == INTERRUPTED => return Err(why),
        Err(why) => return bad(End::NoAnswer(why)),
    };
    if found.mode != level.mode {
        return bad(End::Mode(found.mode));
    }
    let Some(diameter) = found.primary.mean_diameter_m else {
        return bad(End::NoAnswer(found.stopped.replace('_', " ")));
    };
    let ratio = diameter / level.diameter;
    let moved = (ratio - 1.0).abs();
    let end = (moved > DIAMETER_BAND).then_some(End::Diameter);
    Ok(Seen {
        change: change.abs(),
        moved: Some(moved),
        ratio: Some(ratio),
        error: relative_error(&found.primary, level.cv).hypot(level.error),
        end,
    })
}

/// The margins in one line each, narrowest first.
pub fn in_words(margins: &[Margin]) -> Vec<String> {
    let mut sides: Vec<(&Margin, &Side)> = margins.iter().flat_map(|m| [(m, &m.down), (m, &m.up)]).collect();
    sides.sort_by(|a, b| a.1.change.abs().total_cmp(&b.1.change.abs()));
    let line = |(margin, side): (&Margin, &Side)| {
        format!("{} {:+.1} %: {}", margin.input.word(), 100.0 * side.change, side.end.words())
    };
    sides.into_iter().map(line).collect()
}

#[cfg(test)]
mod tests;
