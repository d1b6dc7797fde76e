//! The full equations' outline over the thread model's, at equal times.
//!
//! An outline stands where a step of that solver ended; the nearest one is drawn, and how far off its time is at most is told. Behind
//! its last one, the first pinch-off, there is none.

use super::drawing::{Drawing, Look};
use super::palette::{DASHES, SERIES};
use super::unit;
use crate::record::Recorded;
use crate::record::full::Outlines;

/// Times of a strip whose user named none, as shares of the way to the first pinch-off of either model.
const SHARES: [f64; 6] = [0.15, 0.4, 0.65, 0.85, 0.95, 0.995];
/// Whose outlines lie over a strip.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Over {
    /// Those in the record itself, where the run was confirmed.
    #[default]
    Own,
    /// These, from a file of their own.
    These(Outlines),
    /// None.
    Nothing,
}

static NONE: Outlines = Outlines::new();

impl Over {
    /// The outlines to lay over this run.
    pub fn of<'a>(&'a self, run: &'a Recorded) -> &'a Outlines {
        match self {
            Over::Own => run.full.as_ref().map_or(&NONE, |full| &full.outlines),
            Over::These(outlines) => outlines,
            Over::Nothing => &NONE,
        }
    }
}

/// Its name in a legend.
pub const NAME: &str = "full equations without inertia";

/// How it is drawn.
pub fn look<'a>() -> Look<'a> {
    Look::line(SERIES[2], 0.9).dashed(DASHES[4])
}

/// The times that a strip shows: those asked for, else spread over the time that both have before their first pinch-off.
pub fn times(run: &Recorded, outlines: &Outlines, asked: &[f64]) -> Vec<f64> {
    let (Some(first), true) = (run.frames.first(), asked.is_empty()) else { return asked.to_vec() };
    let Some(last) = outlines.last() else { return Vec::new() };
    let broke = run.pinch_offs.first().map_or(f64::INFINITY, |p| p.time);
    let recorded = run.frames.last().map_or(first.time, |f| f.time);
    let end = last.0.min(broke).min(recorded);
    SHARES.iter().map(|share| first.time + share * (end - first.time)).collect()
}

/// The outline nearest to an instant; `None` behind the last one.
fn nearest(outlines: &Outlines, time: f64) -> Option<&(f64, Vec<f64>, Vec<f64>)> {
    let last = outlines.last()?;
    let after = outlines.partition_point(|o| o.0 < time).min(outlines.len() - 1);
    let before = after.saturating_sub(1);
    let near = if (outlines[before].0 - time).abs() <= (outlines[after].0 - time).abs() { before } else { after };
    // the last step ends just before the pinch-off itself
    (time <= last.0 + 2e-3 * last.0.abs()).then_some(&outlines[near])
}

/// Farthest place that the outlines at these times reach, and their greatest radius.
pub fn extent(outlines: &Outlines, times: impl Iterator<Item = f64>) -> (f64, f64) {
    let shown = times.filter_map(|t| nearest(outlines, t));
    shown.fold((0.0, 0.0), |(z, r), o| (o.1.iter().copied().fold(z, f64::max), o.2.iter().copied().fold(r, f64::max)))
}

/// Draws the outline of an instant on both sides of the axis; gives how far off its time is, `None` where there is none.
pub fn draw(to: &mut Drawing, outlines: &Outlines, time: f64, place: &impl Fn(f64, f64) -> (f64, f64)) -> Option<f64> {
    let (at, z, r) = nearest(outlines, time)?;
    let upper = z.iter().zip(r).map(|(z, r)| place(*z, *r));
    let lower = z.iter().zip(r).rev().map(|(z, r)| place(*z, -r));
    to.polyline(&upper.chain(lower).collect::<Vec<_>>(), look());
    Some((at - time).abs())
}

/// What a figure with it says of itself.
pub fn note(off: &[Option<f64>]) -> String {
    let drawn: Vec<f64> = off.iter().copied().flatten().collect();
    let most = drawn.iter().copied().fold(0.0, f64::max);
    let without = off.len() - drawn.len();
    let rest =
        if without == 0 { String::new() } else { format!("; {without} snapshots lie behind its first pinch-off") };
    format!(
        "dashed: the {NAME} (slenderjet confirm), each outline within {} of its instant{rest}",
        unit::time_text(most, 2)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_outline_is_drawn_and_none_behind_the_last() {
        let at = |t: f64| (t, vec![0.0, 1.0 + t], vec![1.0, 0.0]);
        let outlines: Outlines = vec![at(0.0), at(1.0), at(3.0)];
        let told = |t: f64| nearest(&outlines, t).map(|o| o.0);
        assert_eq!((told(0.4), told(0.6), told(2.9), told(3.005)), (Some(0.0), Some(1.0), Some(3.0), Some(3.0)));
        assert_eq!(told(3.1), None);
        assert_eq!(extent(&outlines, [0.4, 2.9].into_iter()), (4.0, 1.0));
    }
}
