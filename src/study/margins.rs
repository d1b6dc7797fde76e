//! How far each input can change before the answer is another one.
//!
//! Equation: along one input scaled by a factor, the margin is where the mode changes or the mean diameter leaves +-5 % of its
//! own value at factor 1, found by widening steps and then bisection on the factor.
//!
//! Holds for: coarse runs compared with a coarse run at factor 1, so that the error of the mesh cancels; other inputs fixed.

use crate::case::Case;
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

/// What the answer is at factor 1.
struct Base {
    mode: String,
    diameter: f64,
}

/// Margins of all inputs of a case, from coarse runs of `drops` drops side by side.
///
/// # Errors
/// Where the case itself gives no drop, the run was interrupted, or the threads cannot be started.
pub fn margins(case: &Case, drops: u32, ask: &Counted<'_>, threads: usize) -> Result<Vec<Margin>, String> {
    let case = quick(case, drops);
    let first = ask.ask(&case)?.summary;
    let diameter = first.primary.mean_diameter_m.ok_or("the case itself gives no settled drop to have margins of")?;
    let base = Base { mode: first.mode, diameter };
    let inputs = Input::of(&case);
    let sides: Vec<(Input, f64)> = inputs.iter().flat_map(|i| [(*i, -1.0), (*i, 1.0)]).collect();
    let found = in_parallel(threads, &sides, |(input, sign)| side(&case, &base, *input, *sign, ask))?;
    let found: Vec<Side> = found.into_iter().collect::<Result<_, _>>()?;
    let pairs = inputs.iter().zip(found.chunks(2));
    Ok(pairs.map(|(input, pair)| Margin { input: *input, down: pair[0].clone(), up: pair[1].clone() }).collect())
}

fn side(case: &Case, base: &Base, input: Input, sign: f64, ask: &Counted<'_>) -> Result<Side, String> {
    let (mut good, mut change) = (0.0, CHANGE_FIRST);
    let (mut bad, mut end) = loop {
        if let Some(end) = judged(case, base, input, sign * change, ask)? {
            break (change, end);
        }
        good = change;
        if change >= CHANGE_MAX {
            return Ok(Side { change: sign * good, beyond: sign * good, end: End::Beyond });
        }
        change = (WIDEN * change).min(CHANGE_MAX);
    };
    for _ in 0..HALVINGS_MAX {
        if bad - good <= (CHANGE_WIDTH * bad).max(CHANGE_FINEST) {
            break;
        }
        let middle = 0.5 * (good + bad);
        match judged(case, base, input, sign * middle, ask)? {
            None => good = middle,
            Some(nearer) => (bad, end) = (middle, nearer),
        }
    }
    Ok(Side { change: sign * good, beyond: sign * bad, end })
}

/// `None` where the answer is still the same one.
fn judged(case: &Case, base: &Base, input: Input, change: f64, ask: &Counted<'_>) -> Result<Option<End>, String> {
    let found = match ask.ask(&input.scaled(case, 1.0 + change)) {
        Ok(outcome) => outcome.summary,
        Err(why) if why == INTERRUPTED => return Err(why),
        Err(why) => return Ok(Some(End::NoAnswer(why))),
    };
    if found.mode != base.mode {
        return Ok(Some(End::Mode(found.mode)));
    }
    Ok(match found.primary.mean_diameter_m {
        None => Some(End::NoAnswer(found.stopped.replace('_', " "))),
        Some(d) if (d / base.diameter - 1.0).abs() > DIAMETER_BAND => Some(End::Diameter),
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
    use crate::study::synthetic;
    use approx::assert_relative_eq;

    /// Invented: d = D (tension/outer flow)^(1/2), jetting above an inner flow 12 % higher, no answer for tiny tips.
    fn invented(case: &Case) -> Result<Outcome, String> {
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
        let base = Base { mode: "dripping".into(), diameter: 60e-6 };
        for margin in margins(&case, 8, &ask, 2).expect("an answer") {
            for side in [&margin.down, &margin.up] {
                let at = |change| judged(&case, &base, margin.input, change, &ask).expect("not interrupted");
                assert_eq!(at(side.change), None);
                assert!(side.end == End::Beyond || at(side.beyond).is_some());
            }
        }
    }

    #[test]
    fn a_case_without_drops_has_no_margins() {
        let none = |case: &Case| Ok(synthetic::outcome(case, "none", None, 0.0));
        assert!(margins(&synthetic::case(), 8, &Counted::new(&none), 1).is_err());
    }
}
