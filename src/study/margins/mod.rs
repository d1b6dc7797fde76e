//! How far each input can change before the answer is another one.
//!
//! Equation: along one input scaled by a factor, the margin is where the mode changes or the mean diameter leaves +-5 % of its
//! own value at factor 1. The size is smooth along an input, so its border is looked for where the change so far, in proportion,
//! reaches 5 %; a change of mode is not, and is bisected. The transition between two modes is a doubt, and no change by itself
//! ([`Mode::differs`]).
//!
//! Holds for: the case's own accuracy, other inputs fixed. Where that is finer than `coarse`, coarse runs (compared with a coarse
//! run at factor 1, so that the error of the mesh cancels) only tell where to look; the change that is answered as good was run at
//! the case's own accuracy, and moved the size by at least nine tenths of 5 % where that is what ends it (so it lies within a tenth
//! of the border), or has a bad run close beyond it. Drops of an irregular jet have a mean that a run of ten or twenty does not tell
//! to 5 %, and an undisturbed jet that looks regular for some drops may not stay so, or locks to another pattern, some percent
//! larger or smaller, at the next setting: there lines through many runs tell what re-runs of 20 drops show (`irregular.rs`). At
//! `change` 95 % of them still lie in the band, at `beyond` 95 % do not any more.

mod bracket;
mod irregular;
mod line;

use crate::case::{Accuracy, Case};
use crate::outcome::{Mode, Summary};
use crate::study::StudyError;
use crate::study::evaluate::{Counted, Length, quick};
use crate::study::map::fill::in_parallel;
use bracket::{AT_BORDER, Bracket, Seen, close};
use serde::Serialize;

/// Change of the mean diameter that ends a margin.
pub const DIAMETER_BAND: f64 = 0.05;
/// Largest change tried.
const CHANGE_MAX: f64 = 0.5;

/// An input that a margin belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
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
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum End {
    /// The mode changes to this one.
    Mode(Mode),
    /// The diameter leaves +-5 %.
    Diameter,
    /// The rate of drops, where it is to be kept too, leaves +-5 %.
    Rate,
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
            End::Rate => "the rate leaves 5 %".into(),
            End::NoAnswer(why) => format!("a run gives no answer: {why}"),
            End::Beyond => "nothing changes up to there".into(),
        }
    }
}

/// How much is run for margins of drops that scatter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// Lines through 6 runs an input, and runs that look for where the mode ends.
    Full,
    /// Lines through 4 shorter runs an input, to rank designs.
    Brief,
}

/// One direction of one input.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Side {
    /// Relative change that is still good (negative downwards).
    pub change: f64,
    /// The nearest change that is not; `None` where none was found up to 50 %.
    pub beyond: Option<f64>,
    /// Whether a run was made there; else it is where the size leaves 5 %, in proportion to that at `change` or, where drops
    /// scatter, at the far end of the interval that all runs leave.
    pub beyond_run: bool,
    pub end: End,
}

/// Both directions of one input.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Margin {
    pub input: Input,
    pub down: Side,
    pub up: Side,
    /// Where drops scatter, how much; `change` and `beyond` are then the ends of an interval: most runs of 20 drops still keep within
    /// 5 % at the one, and no more at the other.
    pub scatter: Option<Scatter>,
}

/// Drops of the re-runs for which margins of scattered drops are told.
pub const RERUN_DROPS: u32 = irregular::DROPS;

/// What all runs of scattered drops say together.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Scatter {
    /// Standard deviation of a run's mean diameter over the mean, times the root of its drops.
    pub relative: f64,
    /// Diameter of the case itself at its own accuracy.
    pub diameter_m: f64,
}

impl Margin {
    /// Drops of a run that shows its mean to within +-`share` (95 %), where drops scatter.
    pub fn drops_to_tell(&self, share: f64) -> Option<usize> {
        self.scatter.map(|scatter| (1.96 * scatter.relative / share).powi(2).ceil() as usize)
    }
}

/// A case at one accuracy, and what its answer is at factor 1.
#[derive(Debug, Clone)]
struct Level {
    case: Case,
    mode: Mode,
    diameter: f64,
    /// Settled drops behind it, and their CV.
    drops: usize,
    cv: f64,
    /// The rate, where it is to be kept.
    rate: Option<f64>,
}

impl Level {
    /// Whether the drops scatter so much that a single run tells little of a border.
    fn scatters(&self) -> bool {
        self.cv / (self.drops.max(1) as f64).sqrt() > (1.0 - AT_BORDER) * DIAMETER_BAND
    }

    /// The same of a run of many drops; those of a jet follow their neighbours, so that their number tells little.
    fn irregular(&self, jet: bool) -> bool {
        self.scatters() || jet && self.cv > (1.0 - AT_BORDER) * DIAMETER_BAND
    }
}

/// Margins of all inputs of a case, from coarse runs of at most `drops` drops (more where they scatter) and then runs at the case's
/// own accuracy, side by side. `own` is the answer of the case itself, where it was run already.
///
/// # Errors
/// Where the case itself gives no drop, the run was interrupted, or the threads cannot be started.
pub fn margins(
    case: &Case,
    own: Option<&Summary>,
    drops: u32,
    ask: &Counted<'_>,
    threads: usize,
) -> Result<Vec<Margin>, StudyError> {
    keeping(case, own, drops, (false, Depth::Full), ask, threads)
}

/// The same; with `rate`, a margin also ends where the rate of drops leaves +-5 %, as it must where the rate is part of what was
/// wished. Where drops scatter, the rate is taken to go with the inner flow alone.
///
/// # Errors
/// As [`margins`].
pub fn keeping(
    case: &Case,
    own: Option<&Summary>,
    drops: u32,
    (rate, depth): (bool, Depth),
    ask: &Counted<'_>,
    threads: usize,
) -> Result<Vec<Margin>, StudyError> {
    let own = match own {
        Some(summary) => level(case.clone(), summary),
        None => match ask.ask_for(case, Length::UntilAlike) {
            // To rank designs, a reading of a jet will do.
            Ok(outcome) if depth == Depth::Brief => {
                level_at(case.clone(), &outcome.summary, outcome.summary.mean_of_settled())
            }
            Ok(outcome) => level(case.clone(), &outcome.summary),
            Err(why @ StudyError::Interrupted) => return Err(why),
            Err(_) => None,
        },
    };
    let kept = |level: Level| Level { rate: level.rate.filter(|_| rate), ..level };
    let own = own.map(kept).ok_or(StudyError::NoDrop)?;
    let inputs = Input::of(case);
    // Drops of a jet may be alike for a while and scatter later.
    let jet = own.mode == Mode::Jetting;
    let coarse = match case.run.accuracy {
        Accuracy::Coarse if depth == Depth::Brief => None,
        Accuracy::Coarse if !jet && !own.scatters() => None,
        _ if jet || own.scatters() => asked_level(quick(case, irregular::DROPS), Length::AllDrops, ask)?,
        _ => asked_level(quick(case, drops), Length::UntilAlike, ask)?,
    };
    // A coarse run that finds another mode than the case's own accuracy tells nothing about where that one ends.
    let coarse = coarse.map(kept).filter(|level| !level.mode.differs(own.mode));
    if own.scatters() || coarse.as_ref().is_some_and(|level| level.irregular(jet)) || jet && depth == Depth::Brief {
        let found = irregular::margins(coarse.as_ref().unwrap_or(&own), &own, &inputs, depth, ask, threads)?;
        return Ok(if rate { found.into_iter().map(with_rate).collect() } else { found });
    }
    let levels: Vec<Level> =
        coarse.into_iter().filter(|_| case.run.accuracy != Accuracy::Coarse).chain([own.clone()]).collect();
    let sides: Vec<(Input, f64)> = inputs.iter().flat_map(|i| [(*i, -1.0), (*i, 1.0)]).collect();
    let found = in_parallel(threads, &sides, |(input, sign)| side(&levels, *input, *sign, ask))?;
    let found: Vec<Side> = found.into_iter().collect::<Result<_, _>>()?;
    let pairs = inputs.iter().zip(found.chunks(2));
    let margin = |(input, pair): (&Input, &[Side])| Margin {
        input: *input,
        down: pair[0].clone(),
        up: pair[1].clone(),
        scatter: None,
    };
    Ok(pairs.map(margin).collect())
}

/// The margin of scattered drops whose rate is to be kept: the rate goes with the inner flow.
fn with_rate(mut margin: Margin) -> Margin {
    if margin.input == Input::InnerFlow {
        for side in [&mut margin.down, &mut margin.up] {
            if side.change.abs() > DIAMETER_BAND {
                let change = DIAMETER_BAND * side.change.signum();
                *side = Side { change, beyond: Some(change), beyond_run: false, end: End::Rate };
            }
        }
    }
    margin
}

/// `None` where the case gives no settled drop at this accuracy.
fn asked_level(case: Case, length: Length, ask: &Counted<'_>) -> Result<Option<Level>, StudyError> {
    match ask.ask_for(&case, length) {
        Ok(outcome) => Ok(level(case, &outcome.summary)),
        Err(why @ StudyError::Interrupted) => Err(why),
        Err(_) => Ok(None),
    }
}

fn level(case: Case, found: &Summary) -> Option<Level> {
    level_at(case, found, found.primary.mean_diameter_m)
}

fn level_at(case: Case, found: &Summary, diameter: Option<f64>) -> Option<Level> {
    let diameter = diameter?;
    let cv = found.primary.cv.unwrap_or(0.0);
    let rate = found.primary.rate_per_s;
    Some(Level { case, mode: found.mode, diameter, drops: found.primary.count, cv, rate })
}

fn side(levels: &[Level], input: Input, sign: f64, ask: &Counted<'_>) -> Result<Side, StudyError> {
    let (mut bracket, mut before) = (Bracket::default(), Bracket::default());
    for (i, level) in levels.iter().enumerate() {
        let mut judge = |change: f64| judged(level, input, sign * change, ask);
        before = bracket;
        bracket = close(&mut judge, &before, i + 1 == levels.len())?;
    }
    Ok(bracket.side(&before, sign))
}

/// One run against the case itself.
fn judged(level: &Level, input: Input, change: f64, ask: &Counted<'_>) -> Result<Seen, StudyError> {
    let bad = |end: End| Ok(Seen { change: change.abs(), moved: None, end: Some(end.clone()), leads: end });
    let found = match ask.ask_short(&input.scaled(&level.case, 1.0 + change)) {
        Ok(outcome) => outcome.summary,
        Err(why @ StudyError::Interrupted) => return Err(why),
        Err(why) => return bad(End::NoAnswer(why.to_string())),
    };
    if found.mode.differs(level.mode) {
        return bad(End::Mode(found.mode));
    }
    let Some(diameter) = found.primary.mean_diameter_m else {
        return bad(End::NoAnswer(found.why_no_drop()));
    };
    let size = (diameter / level.diameter - 1.0).abs();
    let rate = level.rate.zip(found.primary.rate_per_s).map_or(0.0, |(own, rate)| (rate / own - 1.0).abs());
    let moved = size.max(rate);
    let leads = if rate > size { End::Rate } else { End::Diameter };
    let end = (moved > DIAMETER_BAND).then(|| leads.clone());
    Ok(Seen { change: change.abs(), moved: Some(moved), end, leads })
}

#[cfg(test)]
mod tests;
