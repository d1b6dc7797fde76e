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
//! over sqrt(n): there a run counts as at the border when its drops cannot tell it from that.

use crate::case::{Accuracy, Case};
use crate::outcome::{Primary, Summary};
use crate::study::evaluate::{Counted, INTERRUPTED, quick};
use crate::study::map::fill::in_parallel;
use serde::Serialize;

/// Change of the mean diameter that ends a margin.
pub const DIAMETER_BAND: f64 = 0.05;
/// Largest change tried.
const CHANGE_MAX: f64 = 0.5;
/// First change tried.
const CHANGE_FIRST: f64 = 0.1;
/// Largest and smallest factor from one change to a larger one.
const WIDEN_MAX: f64 = 5.0;
const WIDEN_MIN: f64 = 1.1;
/// Width of the bracket at a change of mode, of the change itself.
const CHANGE_WIDTH: f64 = 0.08;
/// ... but never finer than this change.
const CHANGE_FINEST: f64 = 0.002;
/// A size that has moved by this share of the band is at its border.
const AT_BORDER: f64 = 0.9;
/// Where the next run is made, of where the border is expected: inside, for the answer must be a good one.
const INSIDE: f64 = 0.97;
/// Where the size is taken to have left the band, of where it is expected to.
const OUTSIDE: f64 = 1.03;
/// Most runs of one side at one accuracy.
const RUNS_MAX: usize = 14;

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
    /// Relative standard error of that diameter.
    error: f64,
}

/// A run of a side.
#[derive(Debug, Clone, PartialEq)]
struct Seen {
    change: f64,
    /// |d/d_0 - 1|, where there is a drop of the same mode, and its standard error.
    moved: Option<f64>,
    error: f64,
    /// Why it is not the same answer; `None` where it is.
    end: Option<End>,
}

impl Seen {
    fn at_border(&self) -> bool {
        self.moved.is_some_and(|moved| moved >= (AT_BORDER * DIAMETER_BAND).min(DIAMETER_BAND - self.error))
    }

    /// Where the size reaches the border, in proportion.
    fn reaches(&self) -> f64 {
        let least = DIAMETER_BAND * self.change / CHANGE_MAX / WIDEN_MAX;
        self.change * DIAMETER_BAND / self.moved.unwrap_or(0.0).max(least).max(1e-9)
    }
}

/// What is known of one side: the largest change that is good, and the smallest that is not.
#[derive(Debug, Clone, PartialEq, Default)]
struct Bracket {
    good: Option<Seen>,
    bad: Option<Seen>,
}

impl Bracket {
    fn good_change(&self) -> f64 {
        self.good.as_ref().map_or(0.0, |seen| seen.change)
    }

    fn take(&mut self, seen: Seen) {
        let slot = if seen.end.is_some() { &mut self.bad } else { &mut self.good };
        *slot = Some(seen);
    }

    /// Where another accuracy looks first.
    fn first(&self) -> f64 {
        match (&self.good, &self.bad) {
            (Some(good), _) if good.change >= CHANGE_MAX => CHANGE_MAX,
            (Some(good), _) if good.at_border() => (INSIDE * good.reaches()).min(CHANGE_MAX),
            (Some(good), _) => good.change,
            (None, Some(bad)) => bad.change,
            (None, None) => CHANGE_FIRST,
        }
    }

    /// The next change to run; `None` where enough is known. `hint` is the change at which another accuracy found a bad run.
    fn next(&self, hint: Option<f64>) -> Option<f64> {
        let good = self.good_change();
        if good >= CHANGE_MAX || self.good.as_ref().is_some_and(Seen::at_border) {
            return None;
        }
        let Some(bad) = &self.bad else {
            let wanted = self.good.as_ref().map_or(CHANGE_FIRST, |seen| INSIDE * seen.reaches());
            let wanted = hint.filter(|hint| *hint > good).map_or(wanted, |hint| hint.min(wanted));
            return Some(wanted.clamp(WIDEN_MIN * good, WIDEN_MAX * good).min(CHANGE_MAX));
        };
        let width = bad.change - good;
        if width <= (CHANGE_WIDTH * bad.change).max(CHANGE_FINEST) {
            return None;
        }
        let middle = good + 0.5 * width;
        let Some(far) = bad.moved else { return Some(middle) };
        let near = self.good.as_ref().and_then(|seen| seen.moved).unwrap_or(0.0);
        let wanted = INSIDE * (good + width * (DIAMETER_BAND - near) / (far - near));
        Some(wanted.clamp(good + 0.1 * width, bad.change - 0.1 * width))
    }

    fn side(&self, sign: f64) -> Side {
        let change = self.good_change();
        let answer =
            |beyond: f64, beyond_run, end| Side { change: sign * change, beyond: sign * beyond, beyond_run, end };
        let expected = self.good.as_ref().filter(|seen| seen.at_border()).map(|seen| {
            // Drops that scatter may have moved by more than the border is away.
            seen.change * OUTSIDE * (seen.reaches() / seen.change).clamp(1.0, 1.0 / AT_BORDER)
        });
        match (&self.bad, expected) {
            (_, _) if change >= CHANGE_MAX => answer(change, false, End::Beyond),
            (Some(bad), Some(expected)) if bad.moved.is_some() && expected < bad.change => {
                answer(expected, false, End::Diameter)
            }
            (Some(bad), _) => answer(bad.change, true, bad.end.clone().unwrap_or(End::Diameter)),
            (None, Some(expected)) => answer(expected, false, End::Diameter),
            (None, None) => answer(change, false, End::Beyond),
        }
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
    let found = in_parallel(threads, &sides, |(input, sign)| side(&levels, *input, *sign, ask))?;
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
    Some(Level { case, mode: found.mode.clone(), diameter, error: relative_error(&found.primary) })
}

/// CV over the root of the number of drops.
fn relative_error(primary: &Primary) -> f64 {
    primary.cv.unwrap_or(0.0) / (primary.count.max(1) as f64).sqrt()
}

fn side(levels: &[Level], input: Input, sign: f64, ask: &Counted<'_>) -> Result<Side, String> {
    let mut bracket = Bracket::default();
    for level in levels {
        let mut judge = |change: f64| judged(level, input, sign * change, ask);
        bracket = close(&mut judge, &bracket)?;
    }
    Ok(bracket.side(sign))
}

type Judge<'a> = &'a mut dyn FnMut(f64) -> Result<Seen, String>;

/// Closes a bracket, beginning where `from` (of another accuracy, or empty) says.
fn close(judge: Judge<'_>, from: &Bracket) -> Result<Bracket, String> {
    let hint = from.bad.as_ref().map(|bad| bad.change);
    let mut found = Bracket::default();
    let mut next = Some(from.first());
    for _ in 0..RUNS_MAX {
        let Some(change) = next else { break };
        found.take(judge(change)?);
        next = found.next(hint);
    }
    Ok(found)
}

/// One run against the case itself.
fn judged(level: &Level, input: Input, change: f64, ask: &Counted<'_>) -> Result<Seen, String> {
    let bad = |end| Ok(Seen { change: change.abs(), moved: None, error: 0.0, end: Some(end) });
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
    let moved = (diameter / level.diameter - 1.0).abs();
    let end = (moved > DIAMETER_BAND).then_some(End::Diameter);
    Ok(Seen { change: change.abs(), moved: Some(moved), error: relative_error(&found.primary).hypot(level.error), end })
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
mod tests {
    use super::*;
    use crate::outcome::Outcome;
    use crate::study::evaluate::Length;
    use crate::study::synthetic;

    /// Invented: d = D (tension/outer flow)^(1/2), jetting above an inner flow 12 % higher, no answer for tiny tips.
    fn invented(case: &Case, _length: Length) -> Result<Outcome, String> {
        let base = synthetic::case();
        let outer = case.outer.as_ref().map_or(1.0, |o| o.flow) / base.outer.as_ref().map_or(1.0, |o| o.flow);
        let tip = case.device.tip_bore / base.device.tip_bore;
        if tip < 0.75 {
            return Err("too small a tip".into());
        }
        let diameter = 60e-6 * (case.tension / base.tension / outer).sqrt();
        let mode = if case.inner.flow > 1.12 * base.inner.flow { "jetting" } else { "dripping" };
        Ok(synthetic::outcome(case, mode, Some(diameter), 0.0))
    }

    #[test]
    fn margins_end_where_the_invented_answer_changes() {
        let ask = Counted::new(&invented);
        let found = margins(&synthetic::case(), None, 8, &ask, 2).expect("an answer");
        let of = |input| found.iter().find(|m| m.input == input).expect("every input");
        let inner = of(Input::InnerFlow);
        assert_eq!((&inner.up.end, &inner.down.end), (&End::Mode("jetting".into()), &End::Beyond));
        assert!(inner.up.change <= 0.12 && inner.up.beyond >= 0.12 && inner.up.beyond < 0.13, "{inner:?}");
        let outer = of(Input::OuterFlow);
        for (side, exact) in [(&outer.up, 0.95f64.powi(-2) - 1.0), (&outer.down, 1.05f64.powi(-2) - 1.0)] {
            let (change, beyond) = (side.change / exact, side.beyond / exact);
            assert!((0.89..=1.0).contains(&change) && (1.0..1.06).contains(&beyond), "{side:?} around {exact}");
        }
        assert_eq!(of(Input::Tension).up.end, End::Diameter);
        let tip = of(Input::Tip);
        assert!(matches!(tip.down.end, End::NoAnswer(_)) && tip.down.change > -0.26, "{tip:?}");
        assert!(ask.count() > 16 && ask.count() < 40, "{}", ask.count());
        assert_eq!(found, margins(&synthetic::case(), None, 8, &ask, 1).expect("an answer"));
        let words = in_words(&found);
        assert!(words[0].starts_with("outer flow -"), "{words:?}");
    }

    // What the margin promises: at `change` the answer is the same one, at `beyond` it is not.
    #[test]
    fn margins_agree_with_reruns() {
        let ask = Counted::new(&invented);
        let case = quick(&synthetic::case(), 8);
        let level = Level { case: case.clone(), mode: "dripping".into(), diameter: 60e-6, error: 0.0 };
        for margin in margins(&case, None, 8, &ask, 2).expect("an answer") {
            for side in [&margin.down, &margin.up] {
                let at = |change| judged(&level, margin.input, change, &ask).expect("not interrupted");
                assert_eq!(at(side.change).end, None);
                assert!(side.end == End::Beyond || at(side.beyond).end.is_some(), "{side:?}");
            }
        }
    }

    // Invented: drops fall off faster along every input than coarse runs show, so that the coarse bracket is wrong on purpose.
    #[test]
    fn what_is_answered_was_run_at_the_cases_own_accuracy() {
        for steeper in [0.4, 1.0, 2.5] {
            let answer = move |case: &Case, _: Length| {
                let base = synthetic::case();
                let power = if case.run.accuracy == Accuracy::Coarse { 0.5 } else { 0.5 * steeper };
                let diameter = 60e-6 * (case.inner.flow / base.inner.flow * case.tension / base.tension).powf(power);
                Ok(synthetic::outcome(case, "dripping", Some(diameter), 0.0))
            };
            let mut case = synthetic::case();
            case.run.accuracy = Accuracy::Standard;
            let found = margins(&case, None, 8, &Counted::new(&answer), 1).expect("an answer");
            let side = &found[0].up;
            let exact = 1.05f64.powf(1.0 / (0.5 * steeper)) - 1.0;
            assert_eq!(side.end, End::Diameter);
            assert!(side.change <= exact + 1e-12 && exact <= side.beyond + 1e-12, "{side:?} around {exact}");
            assert!(side.beyond - side.change <= (1.0 - AT_BORDER * INSIDE) * side.beyond, "{side:?}");
        }
    }

    #[test]
    fn coarse_runs_of_another_mode_are_not_asked_where_it_ends() {
        let answer = |case: &Case, _: Length| {
            let base = synthetic::case();
            let coarse = case.run.accuracy == Accuracy::Coarse;
            let diameter = 60e-6 * (case.tension / base.tension).powf(0.5);
            Ok(synthetic::outcome(case, if coarse { "jetting" } else { "dripping" }, Some(diameter), 0.0))
        };
        let mut case = synthetic::case();
        case.run.accuracy = Accuracy::Standard;
        let found = margins(&case, None, 8, &Counted::new(&answer), 1).expect("an answer");
        let tension = found.iter().find(|m| m.input == Input::Tension).expect("every input");
        assert_eq!(tension.up.end, End::Diameter);
        let exact = 1.05f64.powi(2) - 1.0;
        assert!(tension.up.change <= exact + 1e-12 && exact <= tension.up.beyond + 1e-12, "{tension:?}");
    }

    #[test]
    fn a_case_without_drops_has_no_margins() {
        let none = |case: &Case, _| Ok(synthetic::outcome(case, "none", None, 0.0));
        assert!(margins(&synthetic::case(), None, 8, &Counted::new(&none), 1).is_err());
    }
}
