//! Which of the recorded instants a strip shows.

use super::FigureError;
use crate::case::Layout;
use crate::outcome::{DropKind, Frame};
use crate::record::Recorded;

/// Instants of a strip whose user named none.
const INSTANTS: usize = 8;
/// Of these, so many after the breakup.
const AFTER: usize = 2;
/// The instants before a breakup gather towards it with this power.
const GATHER: f64 = 1.7;

/// Indices of the instants nearest to the wished ones; without a wish, one settled drop from breakup to breakup.
pub fn chosen(run: &Recorded, at: &[f64]) -> Result<Vec<usize>, FigureError> {
    if run.frames.is_empty() {
        return Err(FigureError::Nothing("the record holds no instants; set [run] frames and run again".into()));
    }
    let mut chosen: Vec<usize> = if !at.is_empty() {
        at.iter().map(|t| nearest(&run.frames, *t)).collect()
    } else if run.case.layout == Layout::Segment {
        by_thinning(run)
    } else {
        one_drop(run)
    };
    chosen.sort_unstable();
    chosen.dedup();
    Ok(chosen)
}

fn nearest(frames: &[Frame], time: f64) -> usize {
    let after = frames.partition_point(|f| f.time < time).min(frames.len() - 1);
    let before = after.saturating_sub(1);
    if (frames[before].time - time).abs() <= (frames[after].time - time).abs() { before } else { after }
}

/// The making of the last primary drop that has instants after it: denser towards its breakup, then a little beyond.
fn one_drop(run: &Recorded) -> Vec<usize> {
    let last = run.frames.len() - 1;
    let after = |t: f64| run.frames.partition_point(|f| f.time <= t);
    let primaries = run.summary.drops.iter().filter(|d| d.kind == DropKind::Primary);
    let times: Vec<f64> = primaries.map(|d| d.time_s).collect();
    let followed = times.iter().rposition(|t| after(*t) + AFTER <= run.frames.len());
    let Some(k) = followed.or(times.len().checked_sub(1)) else { return evenly(&run.frames, INSTANTS) };
    let broken = after(times[k]).min(last);
    let whole = broken.saturating_sub(1);
    let start = if k > 0 { after(times[k - 1]) } else { 0 };
    // A drop that takes fewer instants than the strip has places is shown with what went before it.
    let spacing = (whole - start.min(whole)).div_ceil(12).max(1);
    let beyond: Vec<usize> = (0..AFTER).map(|i| broken + i * spacing).filter(|i| *i <= last).collect();
    let before = INSTANTS - beyond.len() - 1;
    let start = start.min(whole.saturating_sub(before));
    let share = |i: usize| 1.0 - (1.0 - i as f64 / before as f64).powf(GATHER);
    let mut chosen: Vec<usize> =
        (0..=before).map(|i| start + (share(i) * (whole - start) as f64).round() as usize).collect();
    chosen.extend(beyond);
    chosen
}

/// Instants nearest to evenly spaced times.
fn evenly(frames: &[Frame], n: usize) -> Vec<usize> {
    let (start, end) = (frames[0].time, frames[frames.len() - 1].time);
    let n = n.min(frames.len());
    (0..n).map(|i| nearest(frames, start + (end - start) * i as f64 / (n - 1).max(1) as f64)).collect()
}

/// Instants at which the thinnest place has lost equal shares of its radius, then what became of it.
fn by_thinning(run: &Recorded) -> Vec<usize> {
    let last = run.frames.len() - 1;
    let attached = |f: &Frame| -> f64 {
        f.bodies.iter().filter(|b| b.attached).flat_map(|b| b.h.iter().copied()).fold(f64::MAX, f64::min)
    };
    let broken = run.pinch_offs.first().map_or(last + 1, |p| run.frames.partition_point(|f| f.time < p.time));
    let start = attached(&run.frames[0]);
    let places = INSTANTS - AFTER;
    let reached = |i: usize| {
        let wanted = start * (1.0 - i as f64 / places as f64) * (1.0 + 1e-9);
        (0..broken).find(|k| attached(&run.frames[*k]) <= wanted)
    };
    let mut chosen: Vec<usize> = (0..places).filter_map(reached).collect();
    chosen.extend(broken.checked_sub(1));
    if broken <= last {
        chosen.push(broken);
        // Drops at rest stay as they are: once is enough.
        chosen.push((broken + (broken / 8).max(1)).min(last));
    }
    chosen
}
