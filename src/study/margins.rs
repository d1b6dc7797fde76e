//! How far each input can change before the answer is another one.
//!
//! Equation: along one input scaled by a factor, the margin is where the mode changes or the mean diameter leaves +-5 % of its
//! own value at factor 1, found by widening steps and then bisection on the factor.
//!
//! Holds for: the case's own accuracy, other inputs fixed. Where that is finer than `coarse`, coarse runs (compared with a coarse
//! run at factor 1, so that the error of the mesh cancels) only tell where to look; both ends of what is answered were run at the
//! case's own accuracy. Drops of an irregular jet have a mean that is itself uncertain by their spread over sqrt(n): a margin in
//! diameter narrower than that is chance.

use crate::case::{Accuracy, Case};
use crate::study::evaluate::{Counted, INTERRUPTED, quick};
use crate::study::map::fill::in_parallel;
use serde::Serialize;

/// Change of the mean diameter that ends a margin.
pub const DIAMETER_BAND: f64 = 0.05;
/// Largest change tried.
const CHANGE_MAX: f64 = 0.5;
/// First change tried, and the factor between steps.
const CHANGE_FIRST: f64 = 0.05;
const WIDEN: f64 = 2.2;
/// The factor between steps around a bracket that coarse runs found.
const WIDEN_NEAR: f64 = 1.3;
/// Width of the bracket at the end, of the change itself.
const CHANGE_WIDTH: f64 = 0.08;
/// ... but never finer than this change.
const CHANGE_FINEST: f64 = 0.002;
const HALVINGS_MAX: usize = 12;

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
    /// The nearest change tried that is not; equal to `change` where none was found.
    pub beyond: f64,
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
struct Level {
    case: Case,
    mode: String,
    diameter: f64,
}

/// What is known of one side: the largest change that is good, and the smallest that is not with its reason.
#[derive(Debug, Clone, PartialEq)]
struct Bracket {
    good: f64,
    bad: Option<(f64, End)>,
}

/// Margins of all inputs of a case, from coarse runs of at most `drops` drops and then runs at the case's own accuracy, side by
/// side.
///
/// # Errors
/// Where the case itself gives no drop, the run was interrupted, or the threads cannot be started.
pub fn margins(case: &Case, drops: u32, ask: &Counted<'_>, threads: usize) -> Result<Vec<Margin>, String> {
    let mut own = case.clone();
    own.run.frames = 2;
    let mut levels = Vec::new();
    for case in [quick(case, drops), own] {
        // A coarse run that finds another mode than the case's own accuracy tells nothing about where that one ends.
        if levels.is_empty() || case.run.accuracy != Accuracy::Coarse {
            levels.extend(level(case, ask)?);
        }
    }
    let mode = levels.last().map(|level| level.mode.clone());
    let own_answers = levels.last().is_some_and(|level| level.case.run.accuracy == case.run.accuracy);
    let mode = mode.filter(|_| own_answers).ok_or("the case itself gives no settled drop to have margins of")?;
    levels.retain(|level| level.mode == mode);
    let inputs = Input::of(case);
    let sides: Vec<(Input, f64)> = inputs.iter().flat_map(|i| [(*i, -1.0), (*i, 1.0)]).collect();
    let found = in_parallel(threads, &sides, |(input, sign)| side(&levels, *input, *sign, ask))?;
    let found: Vec<Side> = found.into_iter().collect::<Result<_, _>>()?;
    let pairs = inputs.iter().zip(found.chunks(2));
    Ok(pairs.map(|(input, pair)| Margin { input: *input, down: pair[0].clone(), up: pair[1].clone() }).collect())
}

/// `None` where the case gives no settled drop at this accuracy.
fn level(case: Case, ask: &Counted<'_>) -> Result<Option<Level>, String> {
    let found = match ask.ask_short(&case) {
        Ok(outcome) => outcome.summary,
        Err(why) if why == INTERRUPTED => return Err(why),
        Err(_) => return Ok(None),
    };
    Ok(found.primary.mean_diameter_m.map(|diameter| Level { case, mode: found.mode, diameter }))
}

fn side(levels: &[Level], input: Input, sign: f64, ask: &Counted<'_>) -> Result<Side, String> {
    let mut bracket = None;
    for level in levels {
        let mut judge = |change: f64| judged(level, input, sign * change, ask);
        bracket = Some(close(&mut judge, bracket.as_ref())?);
    }
    let Bracket { good, bad } = bracket.ok_or("nothing was run")?;
    let (beyond, end) = bad.unwrap_or((good, End::Beyond));
    Ok(Side { change: sign * good, beyond: sign * beyond, end })
}

type Judge<'a> = &'a mut dyn FnMut(f64) -> Result<Option<End>, String>;

/// Closes a bracket, from nothing by wide steps, or around one that coarse runs found.
fn close(judge: Judge<'_>, from: Option<&Bracket>) -> Result<Bracket, String> {
    let mut found = Bracket { good: 0.0, bad: None };
    let first = from.map_or(vec![CHANGE_FIRST], |b| std::iter::once(b.good).chain(b.bad.iter().map(|b| b.0)).collect());
    let widen = if from.is_some() { WIDEN_NEAR } else { WIDEN };
    for change in first.into_iter().filter(|change| *change > 0.0) {
        look(judge, &mut found, change)?;
    }
    while found.bad.is_none() && found.good < CHANGE_MAX {
        let change = (widen * found.good.max(CHANGE_FINEST)).min(CHANGE_MAX);
        look(judge, &mut found, change)?;
    }
    // Already the smallest change known was too large: come in by the same factor.
    while let (Some((bad, _)), true) = (&found.bad, from.is_some() && found.good == 0.0) {
        if *bad <= CHANGE_FINEST {
            break;
        }
        let change = bad / widen;
        look(judge, &mut found, change)?;
    }
    for _ in 0..HALVINGS_MAX {
        let Some((bad, _)) = &found.bad else { break };
        if bad - found.good <= (CHANGE_WIDTH * bad).max(CHANGE_FINEST) {
            break;
        }
        let middle = 0.5 * (found.good + bad);
        look(judge, &mut found, middle)?;
    }
    Ok(found)
}

/// One more run, unless it lies beyond what is known to be bad.
fn look(judge: Judge<'_>, found: &mut Bracket, change: f64) -> Result<(), String> {
    if found.bad.as_ref().is_some_and(|(bad, _)| change >= *bad) {
        return Ok(());
    }
    match judge(change)? {
        None => found.good = change,
        Some(end) => found.bad = Some((change, end)),
    }
    Ok(())
}

/// `None` where the answer is still the same one.
fn judged(level: &Level, input: Input, change: f64, ask: &Counted<'_>) -> Result<Option<End>, String> {
    let found = match ask.ask_short(&input.scaled(&level.case, 1.0 + change)) {
        Ok(outcome) => outcome.summary,
        Err(why) if why == INTERRUPTED => return Err(why),
        Err(why) => return Ok(Some(End::NoAnswer(why))),
    };
    if found.mode != level.mode {
        return Ok(Some(End::Mode(found.mode)));
    }
    Ok(match found.primary.mean_diameter_m {
        None => Some(End::NoAnswer(found.stopped.replace('_', " "))),
        Some(d) if (d / level.diameter - 1.0).abs() > DIAMETER_BAND => Some(End::Diameter),
        Some(_) => None,
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
mod tests {
    use super::*;
    use crate::outcome::Outcome;
    use crate::study::evaluate::Length;
    use crate::study::synthetic;
    use approx::assert_relative_eq;

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
        let found = margins(&synthetic::case(), 8, &ask, 2).expect("an answer");
        let of = |input| found.iter().find(|m| m.input == input).expect("every input");
        let inner = of(Input::InnerFlow);
        assert_eq!((&inner.up.end, &inner.down.end), (&End::Mode("jetting".into()), &End::Beyond));
        assert!(inner.up.change <= 0.12 && inner.up.beyond >= 0.12 && inner.up.beyond < 0.13, "{inner:?}");
        let outer = of(Input::OuterFlow);
        assert_relative_eq!(outer.up.change, 0.95f64.powi(-2) - 1.0, epsilon = 0.01);
        assert_relative_eq!(outer.down.change, 1.05f64.powi(-2) - 1.0, epsilon = 0.01);
        assert_eq!(of(Input::Tension).up.end, End::Diameter);
        let tip = of(Input::Tip);
        assert!(matches!(tip.down.end, End::NoAnswer(_)) && tip.down.change > -0.26, "{tip:?}");
        assert!(ask.count() > 20 && ask.count() < 80, "{}", ask.count());
        assert_eq!(found, margins(&synthetic::case(), 8, &ask, 1).expect("an answer"));
        let words = in_words(&found);
        assert!(words[0].starts_with("outer flow -8.8 %"), "{words:?}");
    }

    // What the margin promises: at `change` the answer is the same one, at `beyond` it is not.
    #[test]
    fn margins_agree_with_reruns() {
        let ask = Counted::new(&invented);
        let case = quick(&synthetic::case(), 8);
        let level = Level { case: case.clone(), mode: "dripping".into(), diameter: 60e-6 };
        for margin in margins(&case, 8, &ask, 2).expect("an answer") {
            for side in [&margin.down, &margin.up] {
                let at = |change| judged(&level, margin.input, change, &ask).expect("not interrupted");
                assert_eq!(at(side.change), None);
                assert!(side.end == End::Beyond || at(side.beyond).is_some());
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
            let found = margins(&case, 8, &Counted::new(&answer), 1).expect("an answer");
            let side = &found[0].up;
            let exact = 1.05f64.powf(1.0 / (0.5 * steeper)) - 1.0;
            assert_eq!(side.end, End::Diameter);
            assert!(side.change <= exact + 1e-12 && exact <= side.beyond + 1e-12, "{side:?} around {exact}");
            assert!(side.beyond - side.change <= CHANGE_WIDTH * side.beyond + 1e-12, "{side:?}");
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
        let found = margins(&case, 8, &Counted::new(&answer), 1).expect("an answer");
        let tension = found.iter().find(|m| m.input == Input::Tension).expect("every input");
        assert_eq!(tension.up.end, End::Diameter);
        let exact = 1.05f64.powi(2) - 1.0;
        assert!(tension.up.change <= exact + 1e-12 && exact <= tension.up.beyond + 1e-12, "{tension:?}");
    }

    #[test]
    fn a_case_without_drops_has_no_margins() {
        let none = |case: &Case, _| Ok(synthetic::outcome(case, "none", None, 0.0));
        assert!(margins(&synthetic::case(), 8, &Counted::new(&none), 1).is_err());
    }
}
