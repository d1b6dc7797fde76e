//! A safeguarded search for one flow that gives one diameter.
//!
//! Works on y = ln(d/d*) against x = ln(flow). The next flow is where the line through the runs so far meets the wish ([`law`]), kept
//! inside a bracket where there is one and past the end of what was tried where there is none. A run's drops may scatter: the search
//! asks no more of a run than its drops can know, and ends when all runs together know the size at the wish well enough. The
//! diameter jumps where the mode changes, so a bracket can close without an answer: then the wish lies in the gap.

use super::law::{Law, error, law};
use crate::outcome::{Mode, Outcome, Stopped};
use crate::study::StudyError;
use crate::study::evaluate::UNAFFORDABLE;

/// One run of the search.
#[derive(Debug, Clone, PartialEq)]
pub struct Tried {
    /// m3/s.
    pub flow: f64,
    /// ln of the diameter over the wished one; infinite where no drop comes off because it grows too slowly or too large,
    /// minus infinite where the thread runs out of the device unbroken.
    pub off: f64,
    /// `None` where the run gave no answer.
    pub mode: Option<Mode>,
    /// m; `None` without a drop.
    pub diameter: Option<f64>,
    /// Why there is no drop.
    pub why: Option<String>,
    /// Drops in the mean, and their CV.
    pub drops: usize,
    pub cv: f64,
    /// Whether the case's own accuracy (else coarse).
    pub own: bool,
    /// Whether the run was stopped because it cost too much.
    pub costly: bool,
}

impl Tried {
    /// A coarse run of eight drops that do not scatter.
    pub fn with_drop(flow: f64, off: f64, mode: Mode) -> Tried {
        let (mode, diameter) = (Some(mode), Some(off.exp()));
        Tried { flow, off, mode, diameter, why: None, drops: 8, cv: 0.0, own: false, costly: false }
    }

    fn nothing(flow: f64, off: f64, mode: Option<Mode>, why: String) -> Tried {
        Tried { off, mode, diameter: None, why: Some(why), drops: 0, ..Tried::with_drop(flow, 0.0, Mode::None) }
    }
}

/// How the search ended.
#[derive(Debug, Clone, PartialEq)]
pub enum Found {
    /// Runs bracket or meet the wish at this flow.
    At(f64),
    /// The diameter jumps over the wish between these two runs.
    Gap(Tried, Tried),
    /// No flow up to a bound gives it.
    Bound(String),
}

/// Settings of a search.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    /// Smallest and largest flow, m3/s, and what each of them is in words.
    pub flow: [f64; 2],
    pub bounds: [String; 2],
    /// |ln(d/d*)| that is near enough.
    pub near: f64,
    /// d ln(d) / d ln(flow) supposed before runs tell it.
    pub slope: f64,
    /// Most runs.
    pub runs: usize,
}

/// Width of the bracket in ln(flow) at which a jump is called a jump.
const JUMP_WIDTH: f64 = 0.01;
/// Largest step without a bracket, in ln(flow).
const STEP_MAX: f64 = 1.4;
/// Smallest step past the end of what was tried: a search must not stand still.
const STEP_MIN: f64 = 0.03;
/// Standard deviation of ln(d) at the wish at which runs with scattered drops have told enough: well inside the 2 % that an answer
/// may be off.
const KNOWN: f64 = 0.008;
/// Standard errors by which a run must be off the wish to lie on one side of it.
const CERTAIN: f64 = 3.0;
/// Slope supposed along the outer flow: between the square root of a jet and the weaker fall of slow dripping.
pub const SLOPE_OUTER: f64 = -0.4;
/// Slope supposed along the inner flow of a hanging drop: it grows while its neck drains.
pub const SLOPE_INNER: f64 = 0.1;

/// The whole search: every run, and how it ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Search {
    pub tried: Vec<Tried>,
    pub found: Found,
}

impl Search {
    /// The run nearest to the wish.
    pub fn nearest(&self) -> Option<&Tried> {
        let with_drop = self.tried.iter().filter(|t| t.diameter.is_some());
        with_drop.min_by(|a, b| a.off.abs().total_cmp(&b.off.abs()))
    }
}

/// Search from `start`. `run` answers a flow; `guess` names a second flow, from the first run's diameter (m).
///
/// # Errors
/// What `run` says, where the search cannot go on (interrupted).
pub fn search(
    start: f64,
    limits: &Limits,
    guess: &dyn Fn(f64) -> Option<f64>,
    run: &mut dyn FnMut(f64) -> Result<Tried, StudyError>,
) -> Result<Search, StudyError> {
    let mut limits = limits.clone();
    let mut tried: Vec<Tried> = Vec::new();
    let mut next = start.clamp(limits.flow[0], limits.flow[1]);
    for _ in 0..limits.runs {
        let found = run(next)?;
        tried.push(found.clone());
        let line = law(&tried, limits.slope);
        if let Some(flow) = met(&found, &tried, line.as_ref(), &limits) {
            return Ok(Search { tried, found: Found::At(flow) });
        }
        if let Some(why) = found.why.as_ref().filter(|_| found.costly && tried.len() == 1) {
            let found = Found::Bound(why.clone());
            return Ok(Search { tried, found });
        }
        if found.costly && next != start {
            // A wall: nothing farther out is run.
            let side = usize::from(next > start);
            limits.flow[side] = next;
            limits.bounds[side] = COSTLY.into();
        }
        let second = found.diameter.and_then(guess).filter(|_| tried.len() == 1);
        tried.sort_by(|a, b| a.flow.total_cmp(&b.flow));
        let known: Vec<&Tried> = tried.iter().filter(|t| !t.costly || t.diameter.is_some()).collect();
        let step = match (second, bracket(&known)) {
            (Some(flow), _) => Ok(flow.clamp(limits.flow[0], limits.flow[1])),
            (None, Some((low, high))) if (high.flow / low.flow).ln() < JUMP_WIDTH => {
                Err(closed(low, high, &tried, &limits))
            }
            (None, Some((low, high))) => Ok(inside(low, high, line.as_ref())),
            (None, None) => outside(&known, &tried, line.as_ref(), &limits).map_err(|Bound(text)| Found::Bound(text)),
        };
        next = match step {
            Ok(flow) => flow,
            Err(found) => return Ok(Search { tried, found }),
        };
        // The same flow gives the same answer.
        if let Some(again) = tried.iter().find(|t| (t.flow / next - 1.0).abs() < SAME_FLOW) {
            let can_know = limits.near.max(error(again, &tried));
            let near = again.diameter.is_some() && again.off.abs() <= CERTAIN * can_know;
            let found = if near { Found::At(next) } else { Found::Bound(AGAIN.into()) };
            return Ok(Search { tried, found });
        }
    }
    let found = Found::Bound(format!("the search gave up after {} runs", limits.runs));
    Ok(Search { tried, found })
}

/// Flows alike to this are one.
const SAME_FLOW: f64 = 1e-6;
/// Why a search ends at a flow that it would try twice.
const AGAIN: &str = "all that the runs tell leads to a flow that was tried already";

/// Why a search does not go on past a run that costs too much.
const COSTLY: &str = "a run there takes more work than a search may spend, its thread being so thin or long";

/// The flow of the wish, if the newest run is as near as its drops can tell and all runs together know the size there.
fn met(found: &Tried, tried: &[Tried], line: Option<&Law>, limits: &Limits) -> Option<f64> {
    found.diameter?;
    let can_know = limits.near.max(2.0 * error(found, tried));
    let line = line?;
    let known = line.known[0] <= limits.near.max(KNOWN);
    (found.off.abs() <= can_know && known).then(|| line.coarse.clamp(limits.flow[0], limits.flow[1]))
}

/// Neighbours on either side of the wish; where there are several, the nearest to it.
fn bracket<'a>(tried: &[&'a Tried]) -> Option<(&'a Tried, &'a Tried)> {
    let pairs = tried.windows(2).filter(|pair| pair[0].off.signum() != pair[1].off.signum());
    let distance = |pair: &&[&Tried]| {
        let off = |t: &Tried| if t.off.is_finite() { t.off.abs() } else { 10.0 };
        off(pair[0]) + off(pair[1])
    };
    pairs.min_by(|a, b| distance(a).total_cmp(&distance(b))).map(|pair| (pair[0], pair[1]))
}

/// A bracket that cannot close further: an answer if a side is as near as its drops can tell, else a jump.
fn closed(low: &Tried, high: &Tried, tried: &[Tried], limits: &Limits) -> Found {
    let nearest = if low.off.abs() < high.off.abs() { low } else { high };
    let can_know = limits.near.max(error(nearest, tried));
    if nearest.off.abs() <= CERTAIN * can_know {
        Found::At(nearest.flow)
    } else {
        Found::Gap(low.clone(), high.clone())
    }
}

fn inside(low: &Tried, high: &Tried, line: Option<&Law>) -> f64 {
    let (a, b) = (low.flow.ln(), high.flow.ln());
    let middle = 0.5 * (a + b);
    // Across a change of mode a line means nothing.
    let smooth = low.off.is_finite() && high.off.is_finite() && low.mode == high.mode;
    let wanted = line.filter(|_| smooth).map_or(middle, |line| line.coarse.ln());
    wanted.clamp(a + 0.05 * (b - a), b - 0.05 * (b - a)).exp()
}

/// What a search without a bracket ran into, in words.
struct Bound(String);

/// The next flow where all runs lie on one side; else the bound that ends the search.
fn outside(known: &[&Tried], tried: &[Tried], line: Option<&Law>, limits: &Limits) -> Result<f64, Bound> {
    let (Some(first), Some(last)) = (known.first(), known.last()) else { return Err(Bound(COSTLY.into())) };
    let nearest = known.iter().min_by(|a, b| a.off.abs().total_cmp(&b.off.abs())).unwrap_or(first);
    let wanted = match line {
        // Its drops scatter: it may lie on either side.
        Some(line) if nearest.off.abs() <= CERTAIN * error(nearest, tried) => {
            return Ok(line.coarse.clamp(limits.flow[0], limits.flow[1]));
        }
        Some(line) if nearest.off.is_finite() => -nearest.off / line.slope,
        _ => nearest.off.signum() * STEP_MAX,
    };
    let step = wanted.signum() * (1.15 * wanted.abs()).clamp(STEP_MIN, STEP_MAX);
    let (from, side) = if step > 0.0 { (last, 1) } else { (first, 0) };
    if (limits.flow[side] / from.flow).ln().abs() < 0.02 {
        return Err(Bound(limits.bounds[side].clone()));
    }
    if let (Some(why), true) = (&from.why, from.off.is_finite()) {
        return Err(Bound(why.clone()));
    }
    let next = from.flow * step.exp();
    // Nor most of the way to a run that cost too much.
    if limits.bounds[side] == COSTLY && (next * next / limits.flow[side] / from.flow).ln() * step > 0.0 {
        return Err(Bound(COSTLY.into()));
    }
    Ok(next.clamp(limits.flow[0], limits.flow[1]))
}

/// A run's place in the search.
pub fn placed(flow: f64, wish: f64, own: bool, answer: Result<&Outcome, &StudyError>) -> Tried {
    let s = match answer {
        Err(why) => return Tried::nothing(flow, f64::NEG_INFINITY, None, why.to_string()),
        Ok(outcome) => &outcome.summary,
    };
    let costly = s.stopped == UNAFFORDABLE;
    match s.primary.mean_diameter_m {
        // A drop or two of a run that was cut short may be no more than its beginning.
        Some(d) if !costly || s.primary.count >= COSTLY_DROPS => Tried {
            diameter: Some(d),
            drops: s.primary.count,
            cv: s.primary.cv.unwrap_or(0.0),
            own,
            costly,
            ..Tried::with_drop(flow, (d / wish).ln(), s.mode)
        },
        _ if costly => Tried { costly, ..Tried::nothing(flow, f64::NEG_INFINITY, Some(Mode::None), COSTLY.into()) },
        _ if matches!(s.stopped, Stopped::NoBreakup | Stopped::LeavesTube | Stopped::UnbrokenJet) => {
            Tried::nothing(flow, f64::NEG_INFINITY, Some(Mode::None), s.stopped.words().into())
        }
        _ => {
            let why = format!("no settled drop comes off ({})", s.why_no_drop());
            Tried::nothing(flow, f64::INFINITY, Some(Mode::None), why)
        }
    }
}

/// Fewest drops of a run that was cut short that are believed.
const COSTLY_DROPS: usize = 3;

#[cfg(test)]
mod tests {
    use super::*;

    const WISH: f64 = 60e-6;
    fn limits() -> Limits {
        let bounds = ["the smallest flow".to_string(), "the largest flow".to_string()];
        Limits { flow: [1e-12, 1e-6], bounds, near: 0.003, slope: SLOPE_OUTER, runs: 40 }
    }

    fn tried(flow: f64, diameter: f64, mode: Mode) -> Tried {
        Tried { diameter: Some(diameter), ..Tried::with_drop(flow, (diameter / WISH).ln(), mode) }
    }

    fn go(start: f64, law: impl Fn(f64) -> Tried) -> Search {
        search(start, &limits(), &|_| None, &mut |flow| Ok(law(flow))).expect("never interrupted")
    }

    #[test]
    fn smooth_laws_are_met_in_few_runs() {
        // Force balance and jet, invented scales.
        for law in [
            (|q: f64| 30e-6 * (1.0 + 1e-9 / q)) as fn(f64) -> f64,
            |q| 90e-6 * (1e-9 / q).sqrt(),
            |q| 60e-6 * (1e-9 / q).powf(0.08),
        ] {
            for start in [1e-10, 9e-10, 3e-8] {
                let found = go(start, |q| tried(q, law(q), Mode::Dripping));
                let Found::At(flow) = found.found else { panic!("{found:?}") };
                assert!((law(flow) / WISH).ln().abs() <= limits().near);
                assert!(found.tried.len() <= 12, "{} runs", found.tried.len());
            }
        }
    }

    #[test]
    fn a_jump_over_the_wish_is_called_a_gap() {
        let law = |q: f64| {
            if q < 2e-9 {
                tried(q, 80e-6 * (1e-9 / q).powf(0.1), Mode::Dripping)
            } else {
                tried(q, 45e-6, Mode::Jetting)
            }
        };
        let found = go(1e-10, law);
        let Found::Gap(low, high) = &found.found else { panic!("{found:?}") };
        assert_eq!((low.mode, high.mode), (Some(Mode::Dripping), Some(Mode::Jetting)));
        assert!(low.flow < 2e-9 && high.flow >= 2e-9 && high.flow / low.flow < 1.011);
        assert!(found.nearest().is_some_and(|t| t.mode == Some(Mode::Dripping)));
    }

    #[test]
    fn too_small_a_wish_ends_at_a_bound() {
        // Never below 65 um, and no drop above 1e-8.
        let law = |q: f64| {
            if q > 1e-8 {
                placed(q, WISH, false, Err(&StudyError::other("the flow is too fast")))
            } else {
                tried(q, 65e-6 + 1e-15 / q, Mode::Dripping)
            }
        };
        let found = go(1e-9, law);
        assert!(
            matches!(&found.found, Found::Gap(_, high) if high.why.as_deref() == Some("the flow is too fast")),
            "{found:?}"
        );
        let endless = go(1e-9, |q| tried(q, 65e-6, Mode::Dripping));
        assert!(matches!(&endless.found, Found::Bound(why) if why.contains("flow")), "{endless:?}");
    }

    #[test]
    fn rising_laws_are_met_too() {
        let found = go(1e-10, |q| tried(q, 60e-6 * (q / 3e-9).powf(0.25), Mode::Dripping));
        assert!(matches!(found.found, Found::At(flow) if (flow / 3e-9).ln().abs() < 0.02), "{found:?}");
    }

    #[test]
    fn an_interrupt_ends_the_search() {
        assert!(search(1e-9, &limits(), &|_| None, &mut |_| Err(StudyError::Interrupted)).is_err());
    }

    /// Small deterministic scatter of about unit size: no two flows alike.
    fn scatter(flow: f64) -> f64 {
        let bits = flow.to_bits().wrapping_mul(0x9e37_79b9_7f4a_7c15);
        let uniform = |shift: u32| ((bits >> shift) & 0xffff) as f64 / 65_536.0 - 0.5;
        2.0 * (uniform(0) + uniform(16) + uniform(48))
    }

    // The mean of 8 drops of CV 3.6 % scatters by 1.3 %: no run can tell more, and the search must not run away for it.
    #[test]
    fn jets_whose_drops_scatter_are_met_as_well_as_the_drops_can_know() {
        for start in [4e-10, 1.1e-9, 3e-9] {
            let jet = |q: f64| {
                let d = WISH * (1e-9 / q).powf(0.35) * (1.0 + 0.013 * scatter(q));
                Tried { drops: 8, cv: 0.036, ..tried(q, d, Mode::Jetting) }
            };
            let found = go(start, jet);
            let Found::At(flow) = found.found else { panic!("{found:?}") };
            let truth = -0.35 * (flow / 1e-9).ln();
            assert!(truth.abs() < 0.02, "{truth} off at {flow}");
            assert!(found.tried.len() <= 9, "{} runs", found.tried.len());
            assert!(found.tried.iter().all(|t| (1e-10..1e-8).contains(&t.flow)), "{found:?}");
        }
    }

    // Nothing but the same flow again would come of a wish at the end of the range: that flow is not run twice.
    #[test]
    fn no_flow_is_run_twice() {
        let flat = |q: f64| Tried { drops: 2, cv: 0.05, ..tried(q, 1.04 * WISH, Mode::Jetting) };
        for start in [1e-12, 1e-9, 1e-6] {
            let found = go(start, flat);
            let mut flows: Vec<f64> = found.tried.iter().map(|t| t.flow).collect();
            flows.sort_by(f64::total_cmp);
            assert!(flows.windows(2).all(|pair| pair[1] > pair[0] * (1.0 + SAME_FLOW)), "{flows:?}");
        }
    }

    #[test]
    fn a_run_that_costs_too_much_is_a_wall() {
        let heavy = |q: f64| match q {
            q if q > 3e-8 => {
                Tried { costly: true, ..Tried::nothing(q, f64::NEG_INFINITY, Some(Mode::None), COSTLY.into()) }
            }
            q => tried(q, 90e-6 * (1e-9 / q).powf(0.1), Mode::Jetting),
        };
        let found = go(1e-9, heavy);
        assert!(matches!(&found.found, Found::Bound(why) if why == COSTLY), "{found:?}");
        assert_eq!(found.tried.iter().filter(|t| t.costly).count(), 1);
        let first = go(1e-7, heavy);
        assert!(first.tried.len() == 1 && matches!(&first.found, Found::Bound(_)), "{first:?}");
    }
}
