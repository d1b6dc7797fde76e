//! Which glass is worth aiming at: how far tolerances move its drop, on paper, then by coarse runs.
//!
//! Equation: the promise of a glass is the least of `0.05/(|d ln y/d ln x| t)` over its inputs, y the size or, where it is part of the
//! wish, the rate.
//!
//! Symbols: t relative tolerance of input x (-), as the case says it, else [`tolerance`].
//!
//! Holds for: an order among glasses; margins by runs say more. Drops of a jet scatter from setting to setting by as much as a tolerance
//! moves them, so that no two runs tell its slope: there that on paper stands.

use super::choose::Looked;
use super::scout::Seen;
use super::{DROPS, Wish};
use crate::case::Case;
use crate::limits::expected::expected;
use crate::outcome::Summary;
use crate::study::StudyError;
use crate::study::crossings::key;
use crate::study::evaluate::{Ask, Length, quick};
use crate::study::map::fill::in_parallel;
use crate::study::margins::{DIAMETER_BAND, Input};
use crate::tolerances::SATELLITE_FREE;

/// Glasses ranked by coarse runs.
const CANDIDATES: usize = 9;
/// Most work of a run that tells a slope, cells times steps: two seconds.
const EFFORT: u64 = 2_000_000;
/// Largest promise.
const PROMISE_MAX: f64 = 1e6;

/// Tolerance of an input that the case tells none of (common practice, no source).
pub fn tolerance(case: &Case, input: Input) -> f64 {
    let told = case.typed.iter().find(|t| t.key == key(case, input)).and_then(|t| t.tolerance).filter(|t| *t > 0.0);
    told.unwrap_or(match input {
        Input::InnerFlow | Input::OuterFlow => 0.02,
        Input::Tension => 0.1,
        Input::Tip => 0.03,
    })
}

/// How far size and, where it is part of the wish, rate (Q_i/d^3) move, whichever more.
fn change(sizes: [f64; 2], flows: [f64; 2], wish: &Wish) -> f64 {
    let [size, flow] = [sizes, flows].map(|[here, there]| (there / here).ln());
    let rate = if wish.rate.is_some() { (flow - 3.0 * size).abs() } else { 0.0 };
    size.abs().max(rate).max(1e-6)
}

/// The stand-in for the score, by sizes that simple theory expects; zero where it expects another mode within a tolerance.
fn promise_on_paper(case: &Case, wish: &Wish) -> f64 {
    let own = expected(case);
    let Some(here) = own.drop_diameter_m else { return 0.0 };
    let mut least = f64::INFINITY;
    for input in Input::of(case) {
        let t = tolerance(case, input);
        for factor in [1.0 - t, 1.0 + t] {
            let scaled = input.scaled(case, factor);
            let moved = expected(&scaled);
            let Some(there) = moved.drop_diameter_m.filter(|_| moved.mode == own.mode) else { return 0.0 };
            least = least.min(DIAMETER_BAND / change([here, there], [case.inner.flow, scaled.inner.flow], wish));
        }
    }
    least
}

/// The same, by two coarse runs an input.
fn promise(case: &Case, wish: &Wish, ask: Ask<'_>) -> Result<f64, StudyError> {
    let base = quick(case, DROPS);
    let answer = |case: &Case| match ask(case, Length::Within(EFFORT)) {
        Ok(outcome) => Ok(Some(outcome.summary)),
        Err(why @ StudyError::Interrupted) => Err(why),
        Err(_) => Ok(None),
    };
    let Some(own) = answer(&base)? else { return Ok(0.0) };
    let mut least = f64::INFINITY;
    for input in Input::of(case) {
        let t = tolerance(case, input);
        for factor in [1.0 - t, 1.0 + t] {
            let scaled = input.scaled(&base, factor);
            let moved = answer(&scaled)?;
            let size = |s: &Summary| s.primary.mean_diameter_m;
            let same = moved.as_ref().filter(|m| !m.mode.differs(own.mode));
            let Some((there, here)) = same.and_then(size).zip(size(&own)) else { return Ok(0.0) };
            least = least.min(DIAMETER_BAND / change([here, there], [base.inner.flow, scaled.inner.flow], wish));
        }
    }
    Ok(least)
}

/// Indices in falling order of a number.
fn falling(numbers: &[f64]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..numbers.len()).collect();
    order.sort_by(|a, b| numbers[*b].total_cmp(&numbers[*a]));
    order
}

/// Those worth aiming at, the most promising first.
pub(super) fn ranked<'a>(
    looks: &'a [Looked],
    wish: &Wish,
    ask: Ask<'_>,
    threads: usize,
) -> Result<Vec<(f64, &'a Case)>, StudyError> {
    let near: Vec<(&Case, &Seen)> = looks.iter().filter_map(|l| Some((l.seen.case.as_ref()?, &l.seen))).collect();
    let papers: Vec<f64> = near.iter().map(|(case, _)| promise_on_paper(case, wish).min(PROMISE_MAX)).collect();
    // Where satellites are unwanted, whoever shows some comes last.
    let free = |seen: &Seen| !wish.no_satellites || seen.satellites.is_none_or(|s| s <= SATELLITE_FREE);
    let first: Vec<f64> = near
        .iter()
        .zip(&papers)
        .map(|((_, seen), paper)| paper + if free(seen) { 2.0 * PROMISE_MAX } else { 0.0 })
        .collect();
    let candidates: Vec<usize> = falling(&first).into_iter().take(CANDIDATES).collect();
    let promises = in_parallel(threads, &candidates, |i| match near[*i] {
        (_, seen) if seen.jets => Ok(papers[*i]),
        (case, _) => promise(case, wish, ask),
    })?;
    let promises: Vec<f64> = promises.into_iter().collect::<Result<_, _>>()?;
    Ok(falling(&promises).into_iter().map(|i| (promises[i], near[candidates[i]].0)).collect())
}
