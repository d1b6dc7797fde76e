//! A first look at a glass: balances on paper say where to look, a few short coarse runs what is there.
//!
//! Equation: the flow is begun where the expected size ([`crate::limits::expected`]) crosses the wish; from there on the search of
//! [`super::search`] on runs of `DROPS` drops, until the size is within `NEAR`.
//!
//! Symbols: ln(d/d*) of the wish d* (-), flows in m3/s.
//!
//! Source: the estimates' own; limits are ours.
//!
//! Holds for: a choice among glasses, never an answer. A run that has not settled counts with its latest drops; what a run costs is
//! counted, not timed, and no run costs more than it is told to.

use super::search::{self, Found, Limits, Search, Tried, placed};
use super::{Wish, apart, bounds, flow_of, searches_outer, size, start, with_flow};
use crate::case::Case;
use crate::case::glass::Pressures;
use crate::limits::expected::expected;
use crate::outcome::{DropKind, Mode, Outcome, Summary};
use crate::study::StudyError;
use crate::study::evaluate::{Ask, Length, quick};

/// Drops of a short run: two that settle, two to look at.
const DROPS: u32 = 4;
/// Most work of a short run, cells times steps: half a second; and where every run near the wish costs more.
pub const EFFORT: u64 = 500_000;
pub const EFFORT_MORE: u64 = 4_000_000;
/// ln(d/d*) that is near enough to look closer, and that at which a search which gave up is still worth it.
const NEAR: f64 = 0.03;
const CLOSE: f64 = 0.08;
/// Runs of a search, and searches of a glass.
const RUNS: usize = 6;
const STARTS: usize = 2;
/// How far the flow may be moved from the one that keeps the outer velocity.
const FACTOR_MAX: f64 = 3000.0;
/// Places at which the expected size is looked at, and halvings at a crossing.
const PLACES: u32 = 32;
const HALVINGS: usize = 8;
/// CV given to a mean of drops that have not settled.
const CV_UNSETTLED: f64 = 0.05;

/// What was seen.
pub struct Seen {
    /// The glass at the flow nearest to the wish, where that is near enough to look closer.
    pub case: Option<Case>,
    /// |ln(d/d*)| of the nearest run; infinite without a drop.
    pub off: f64,
    pub diameter: Option<f64>,
    /// Whether the nearest run jets: then its drops scatter from setting to setting.
    pub jets: bool,
    /// Share of the volume in satellites at that flow.
    pub satellites: Option<f64>,
    /// Whether nothing is known because every run near the wish costs more than a short run may.
    pub costly: bool,
    /// Why it is not near enough, or what was done.
    pub reason: String,
}

impl Seen {
    pub(super) fn refused(reason: String) -> Seen {
        Seen { case: None, off: f64::INFINITY, diameter: None, jets: false, satellites: None, costly: false, reason }
    }
}

/// Looks at a glass for a wish.
///
/// # Errors
/// Where the runs were interrupted.
pub fn look(glass: &Case, wish: &Wish, effort: u64, ask: Ask<'_>) -> Result<Seen, StudyError> {
    let mut glass = glass.clone();
    if let (Some(rate), true) = (wish.rate, searches_outer(&glass)) {
        glass.inner.flow = start::as_written(start::inner_flow(wish.diameter, rate, 0.0));
    }
    if let Some((most, place)) = bounds::widest(&glass).filter(|(most, _)| wish.diameter > *most) {
        return Ok(Seen::refused(format!("{place} takes drops up to {:.1} um", 1e6 * most)));
    }
    let own = flow_of(&glass);
    let whole = wish.range.unwrap_or([own / FACTOR_MAX, own * FACTOR_MAX]);
    let range = match allowed(&glass, whole, wish.pressure) {
        Ok(range) => range,
        Err(above) => return Ok(Seen::refused(above.to_string())),
    };
    let mut best: Option<Seen> = None;
    for from in starts(&glass, wish.diameter, range) {
        let seen = searched(&glass, wish, from, (whole, range), effort, ask)?;
        let done = seen.case.is_some();
        if best.as_ref().is_none_or(|b| done || seen.off < b.off) {
            best = Some(seen);
        }
        if done {
            break;
        }
    }
    Ok(best.unwrap_or_else(|| Seen::refused("no flow is left to try".into())))
}

/// An inlet that needs more than the guide at any flow tried.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("its {which} inlet needs {:.2} bar at any flow tried, the guide is {:.2} bar", needed / 1e5, guide / 1e5)]
struct AboveGuide {
    which: &'static str,
    /// Pa.
    needed: f64,
    guide: f64,
}

/// The part of a range of flows at which no inlet is above the guide, if there is any.
fn allowed(glass: &Case, range: [f64; 2], guide: Option<f64>) -> Result<[f64; 2], AboveGuide> {
    let Some(guide) = guide else { return Ok(range) };
    if let Some(low) = Pressures::of(&with_flow(glass, range[0])) {
        for (which, inlet) in [("inner", Some(low.inner)), ("outer", low.outer)] {
            if let Some(total) = inlet.map(|i| i.total).filter(|total| *total > guide) {
                return Err(AboveGuide { which, needed: total, guide });
            }
        }
    }
    let top = bounds::flow_at_pressure(range[0], range, guide, &|flow| with_flow(glass, flow));
    Ok([range[0], top.unwrap_or(range[1])])
}

/// Flows at which the expected size crosses the wish, the slowest first; else the one at which it is nearest.
fn starts(glass: &Case, wish: f64, range: [f64; 2]) -> Vec<f64> {
    let off = |flow: f64| {
        let d = expected(&with_flow(glass, flow)).drop_diameter_m.filter(|d| *d > 0.0)?;
        Some((d / wish).ln())
    };
    let flow = |i: u32| (range[0].ln() + (range[1] / range[0]).ln() * f64::from(i) / f64::from(PLACES)).exp();
    let seen: Vec<(f64, f64)> = (0..=PLACES).filter_map(|i| Some((flow(i), off(flow(i))?))).collect();
    let crossings = seen.windows(2).filter(|pair| pair[0].1.signum() != pair[1].1.signum());
    let refined = crossings.map(|pair| {
        let (mut low, mut high) = (pair[0].0, pair[1].0);
        for _ in 0..HALVINGS {
            let middle = (low * high).sqrt();
            let same = off(middle).is_none_or(|o| o.signum() == pair[0].1.signum());
            if same { low = middle } else { high = middle }
        }
        (low * high).sqrt()
    });
    let found: Vec<f64> = refined.take(STARTS).collect();
    let nearest = || seen.iter().min_by(|a, b| a.1.abs().total_cmp(&b.1.abs())).map(|s| s.0);
    if found.is_empty() { vec![nearest().unwrap_or(flow_of(glass).clamp(range[0], range[1]))] } else { found }
}

fn searched(
    glass: &Case,
    wish: &Wish,
    from: f64,
    (whole, range): ([f64; 2], [f64; 2]),
    effort: u64,
    ask: Ask<'_>,
) -> Result<Seen, StudyError> {
    let pressed = wish.pressure.filter(|_| range[1] < whole[1]);
    let top = match pressed {
        Some(guide) => format!("beyond it an inlet needs more than the guide of {:.2} bar", guide / 1e5),
        None => "the largest flow that is tried is reached".into(),
    };
    let limits = Limits {
        flow: range,
        bounds: ["the smallest flow that is tried is reached".into(), top],
        near: NEAR,
        slope: if searches_outer(glass) { search::SLOPE_OUTER } else { search::SLOPE_INNER },
        runs: RUNS,
    };
    let guess = |seen: f64| start::second(glass, seen, wish.diameter).filter(|_| searches_outer(glass));
    let mut shares: Vec<(f64, Option<f64>)> = Vec::new();
    let found = search::search(from, &limits, &guess, &mut |flow| {
        let case = with_flow(glass, flow);
        let answer = ask(&quick(&case, DROPS), Length::Within(effort));
        if matches!(answer, Err(StudyError::Interrupted)) {
            return Err(StudyError::Interrupted);
        }
        shares.extend(answer.as_ref().ok().map(|o| (flow, o.summary.satellites.volume_fraction)));
        Ok(glimpsed(flow, wish.diameter, answer.as_ref()))
    })?;
    Ok(judged(glass, wish, &found, &shares))
}

fn judged(glass: &Case, wish: &Wish, found: &Search, shares: &[(f64, Option<f64>)]) -> Seen {
    let nearest = found.nearest();
    let off = nearest.map_or(f64::INFINITY, |t| t.off.abs());
    let flow = match &found.found {
        Found::At(flow) => Some(*flow),
        _ => nearest.filter(|t| t.off.abs() <= CLOSE).map(|t| t.flow),
    };
    let reason = match (flow, nearest.and_then(|t| t.diameter)) {
        (Some(_), _) => format!("near the wish after {} short coarse runs", found.tried.len()),
        (None, Some(d)) => {
            format!("{}; the nearest is {}, {}", why(glass, wish, found), size(d), apart(d, wish.diameter))
        }
        (None, None) => why(glass, wish, found),
    };
    Seen {
        case: flow.map(|flow| with_flow(glass, flow)),
        off,
        diameter: nearest.and_then(|t| t.diameter),
        jets: nearest.is_some_and(|t| t.mode == Some(Mode::Jetting)),
        satellites: nearest.and_then(|t| shares.iter().find(|s| s.0 == t.flow)?.1),
        costly: flow.is_none() && found.tried.iter().any(|t| t.costly),
        reason,
    }
}

fn why(glass: &Case, wish: &Wish, found: &Search) -> String {
    let word = |tried: &Tried| Mode::word_of(tried.mode);
    let which = if searches_outer(glass) { "outer" } else { "inner" };
    match &found.found {
        Found::Gap(low, high) => match (low.diameter, high.diameter) {
            (Some(a), Some(b)) => {
                format!("drops jump from {} ({}) to {} ({})", size(a), word(low), size(b), word(high))
            }
            _ => {
                let why = low.why.as_ref().or(high.why.as_ref()).map_or("no drop comes off", String::as_str);
                format!("beyond a certain {which} flow {why}")
            }
        },
        Found::Bound(bound) => format!("no {which} flow tried gives {}: {bound}", size(wish.diameter)),
        Found::At(_) => String::new(),
    }
}

/// A short run's place in the search: its mean where it settled, else that of its latest drops.
fn glimpsed(flow: f64, wish: f64, answer: Result<&Outcome, &StudyError>) -> Tried {
    let latest = answer.as_ref().ok().filter(|o| o.summary.primary.mean_diameter_m.is_none());
    match latest.and_then(|o| latest_diameter(&o.summary)) {
        Some((d, drops)) => {
            let mode = answer.ok().map(|o| o.summary.mode);
            Tried {
                mode,
                diameter: Some(d),
                drops,
                cv: CV_UNSETTLED,
                ..Tried::with_drop(flow, (d / wish).ln(), Mode::None)
            }
        }
        None => placed(flow, wish, false, answer),
    }
}

/// Mean by volume of the last two primary drops of three or more, and their number.
fn latest_diameter(s: &Summary) -> Option<(f64, usize)> {
    let mut primaries: Vec<_> = s.drops.iter().filter(|d| d.kind == DropKind::Primary).collect();
    primaries.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    let late = primaries.get(primaries.len().checked_sub(2).filter(|from| *from > 0)?..)?;
    let volume = late.iter().map(|d| d.diameter_m.powi(3)).sum::<f64>() / late.len() as f64;
    Some((volume.cbrt(), late.len()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{examples, parse};

    fn coflow() -> Case {
        parse(examples::find("coflow").expect("an example").text, "coflow").unwrap_or_else(|e| panic!("{e}"))
    }

    fn wish(diameter: f64) -> Wish {
        Wish { diameter, rate: None, no_satellites: false, pressure: Some(2e5), range: None, margins: false }
    }

    #[test]
    fn paper_says_where_to_look() {
        let case = coflow();
        let own = flow_of(&case);
        for flow in [0.5 * own, own, 2.0 * own] {
            let d = expected(&with_flow(&case, flow)).drop_diameter_m.expect("an estimate");
            let from = starts(&case, d, [own / 100.0, own * 100.0]);
            assert!(from.iter().any(|f| (f / flow).ln().abs() < 0.02), "{from:?} for {flow}");
        }
    }

    #[test]
    fn an_inlet_above_the_guide_at_any_flow_is_refused_without_a_run() {
        let runs = std::sync::atomic::AtomicUsize::new(0);
        let ask = |_: &Case, _: Length| {
            runs.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
            Err(StudyError::other("not asked for"))
        };
        let tight = coflow().with_text("device.tip_bore", "2 um").unwrap_or_else(|e| panic!("{e}"));
        let seen = look(&tight, &Wish { rate: Some(5000.0), ..wish(60e-6) }, EFFORT, &ask).expect("an answer");
        assert!(seen.case.is_none() && seen.reason.contains("inner inlet needs"), "{}", seen.reason);
        let large = look(&coflow(), &wish(2e-3), EFFORT, &ask).expect("an answer");
        assert!(large.reason.contains("takes drops up to"), "{}", large.reason);
        assert_eq!(runs.into_inner(), 0);
    }
}
