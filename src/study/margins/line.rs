//! Where margins end if drops scatter: a line through coarse runs on both sides of each input.

use super::bracket::{Bracket, CHANGE_MAX, Seen};
use super::{DIAMETER_BAND, Input, Level, judged};
use crate::study::evaluate::Counted;
use crate::study::map::fill::in_parallel;

/// Changes through which a line is laid where drops scatter.
const LINE: [f64; 4] = [-0.25, -0.1, 0.1, 0.25];
/// Where a line through runs of one level sees each side's border, two sides an input; `None` for a side where a run gives another
/// mode or no drop.
pub(super) fn lines(
    level: &Level,
    inputs: &[Input],
    ask: &Counted<'_>,
    threads: usize,
) -> Result<Vec<Option<Bracket>>, String> {
    let runs: Vec<(Input, f64)> = inputs.iter().flat_map(|i| LINE.map(|change| (*i, change))).collect();
    let seen = in_parallel(threads, &runs, |(input, change)| judged(level, *input, *change, ask))?;
    let seen: Vec<Seen> = seen.into_iter().collect::<Result<_, _>>()?;
    let of_input = |seen: &[Seen]| {
        let slope = slope(level, seen);
        let clear = |side: &[Seen]| side.iter().all(|seen| seen.ratio.is_some());
        [(clear(&seen[..2]), -1.0), (clear(&seen[2..]), 1.0)]
            .map(|(clear, sign)| slope.filter(|_| clear).map(|b| border(level, b, sign)))
    };
    Ok(seen.chunks(LINE.len()).flat_map(of_input).collect())
}

/// d ln(d) / d ln(factor) by weighted least squares with a free level, the case itself among the runs.
fn slope(level: &Level, seen: &[Seen]) -> Option<f64> {
    let runs = LINE.iter().zip(seen).filter_map(|(change, seen)| {
        // The error of the case itself is common to all ratios and goes into the level.
        let own = (seen.error.powi(2) - level.error.powi(2)).max(f64::MIN_POSITIVE);
        Some((change.ln_1p(), seen.ratio?.ln(), own.recip()))
    });
    let points: Vec<(f64, f64, f64)> = runs.chain([(0.0, 0.0, level.error.powi(-2))]).collect();
    let sum = |of: &dyn Fn(&(f64, f64, f64)) -> f64| points.iter().map(of).sum::<f64>();
    let weight = sum(&|p| p.2);
    let (x, y) = (sum(&|p| p.2 * p.0) / weight, sum(&|p| p.2 * p.1) / weight);
    let (across, along) = (sum(&|p| p.2 * (p.0 - x) * (p.1 - y)), sum(&|p| p.2 * (p.0 - x).powi(2)));
    (points.len() > 2 && along > 0.0).then(|| across / along)
}

/// What the line expects of one side.
fn border(level: &Level, slope: f64, sign: f64) -> Bracket {
    let band = if slope * sign > 0.0 { DIAMETER_BAND.ln_1p() } else { (-DIAMETER_BAND).ln_1p() };
    let change = ((band / slope).exp_m1() * sign).min(CHANGE_MAX);
    let moved = (slope * (sign * change).ln_1p()).exp_m1().abs();
    let error = level.error.hypot(level.error);
    Bracket { good: Some(Seen { change, moved: Some(moved), ratio: None, error, end: None }), bad: None }
}
