//! Which snapshots a strip shows: those of one break-up by event, or the ones asked for.

use super::FigureError;
use super::unit::time_text;
use crate::case::Layout;
use crate::outcome::{BodyFrame, DropKind, Frame, Moment};
use crate::record::Recorded;

/// Snapshots of a strip whose user named none.
const SNAPSHOTS: usize = 8;
/// The snapshots before a break-up, as shares of the way to it.
const BEFORE: [f64; 3] = [0.25, 0.6, 0.9];
/// A snapshot of what comes next, at this share of the period after the break-up, at the latest; bursts end long before.
const NEXT: f64 = 0.3;
/// A satellite's pinch-off is shown if it follows within this share of the period.
const SATELLITE_WITHIN: f64 = 0.5;
/// Snapshots asked for may lie beyond the record by this share of it.
const BEYOND: f64 = 1e-6;

/// The snapshots of a strip, in order of time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Chosen {
    pub frames: Vec<Frame>,
    /// The break-up from which times are counted.
    pub broke_at: Option<f64>,
    /// How many lie between recorded snapshots.
    pub carried: usize,
}

/// The wished snapshots, every one of them; without a wish, one drop before, at and after its break-up.
pub fn chosen(run: &Recorded, at: &[f64]) -> Result<Chosen, FigureError> {
    if run.frames.is_empty() {
        return Err(FigureError::Nothing("the record holds no snapshots; set [run] frames and run again".into()));
    }
    if !at.is_empty() {
        return wished(run, at);
    }
    let event = match run.case.layout {
        Layout::Segment(_) => run.pinch_offs.first().map(|_| 0),
        _ => shown_break(run),
    };
    let Some(pinch) = event else {
        let frames = evenly(&run.frames, SNAPSHOTS).into_iter().map(|i| run.frames[i].clone()).collect();
        return Ok(Chosen { frames, ..Chosen::default() });
    };
    let mut chosen = about(run, pinch);
    chosen.sort_unstable();
    chosen.dedup();
    let frames = chosen.into_iter().map(|i| run.frames[i].clone()).collect();
    Ok(Chosen { frames, broke_at: Some(run.pinch_offs[pinch].time), carried: 0 })
}

fn wished(run: &Recorded, at: &[f64]) -> Result<Chosen, FigureError> {
    let (start, end) = (run.frames[0].time, run.frames[run.frames.len() - 1].time);
    let room = BEYOND * (end - start);
    if let Some(t) = at.iter().find(|t| **t < start - room || **t > end + room) {
        let (asked, from, to) = (time_text(*t, 3), time_text(start, 3), time_text(end, 3));
        return Err(FigureError::Nothing(format!("{asked} lies outside what was recorded, {from} to {to}")));
    }
    let mut at = at.to_vec();
    at.sort_by(f64::total_cmp);
    let frames: Vec<Frame> = at.iter().map(|t| carried_to(run, *t)).collect();
    let carried = frames.iter().filter(|f| run.frames.iter().all(|g| g.time != f.time)).count();
    Ok(Chosen { frames, broke_at: None, carried })
}

/// The bodies at any time. The attached one lies between its shapes in the recorded snapshots before and after, if nothing broke
/// between them; all others, and it too where there is but one such snapshot, are carried there by their own velocities.
fn carried_to(run: &Recorded, time: f64) -> Frame {
    let near = nearest(&run.frames, time);
    let unbroken = |i: &usize| {
        let t = run.frames[*i].time;
        let (a, b) = (t.min(time), t.max(time));
        !run.pinch_offs.iter().any(|p| p.time > a && p.time <= b)
    };
    let others = [near.saturating_sub(1), (near + 1).min(run.frames.len() - 1)];
    let from = [near].into_iter().chain(others).find(unbroken).unwrap_or(near);
    let frame = &run.frames[from];
    let dt = time - frame.time;
    if dt == 0.0 {
        return frame.clone();
    }
    let beyond = if dt > 0.0 { from + 1 } else { from.wrapping_sub(1) };
    let other = run.frames.get(beyond).filter(|_| unbroken(&beyond));
    let thread = |f: &Frame| f.bodies.iter().position(|b| b.attached);
    let bodies = frame.bodies.iter().enumerate().map(|(i, body)| {
        let there = other.filter(|_| thread(frame) == Some(i)).and_then(|o| Some((o.time, &o.bodies[thread(o)?])));
        match there {
            Some((t, after)) if t != frame.time => between(body, after, dt / (t - frame.time)),
            _ => carried(body, dt),
        }
    });
    Frame { time, bodies: bodies.collect(), ..Frame::default() }
}

/// A thread between two shapes: length, squared radius and velocity in proportion, place by place along it.
fn between(a: &BodyFrame, b: &BodyFrame, share: f64) -> BodyFrame {
    let (Some((a0, a1)), Some((b0, b1))) = (ends(a), ends(b)) else { return a.clone() };
    let mix = |x: f64, y: f64| x + share * (y - x);
    let (from, until) = (mix(a0, b0), mix(a1, b1));
    let part = |z: f64| (z - a0) / (a1 - a0);
    let other = |z: f64| {
        let z = b0 + part(z) * (b1 - b0);
        let after = b.z.partition_point(|node| *node < z).clamp(1, b.z.len() - 1);
        let s = ((z - b.z[after - 1]) / (b.z[after] - b.z[after - 1])).clamp(0.0, 1.0);
        let of = |x: &dyn Fn(usize) -> f64| x(after - 1) + s * (x(after) - x(after - 1));
        (of(&|i| b.h[i] * b.h[i]), of(&|i| b.u[i]))
    };
    let mut there = a.clone();
    for i in 0..a.z.len() {
        let (square, u) = other(a.z[i]);
        there.z[i] = from + part(a.z[i]) * (until - from);
        there.h[i] = mix(a.h[i] * a.h[i], square).max(0.0).sqrt();
        there.u[i] = mix(a.u[i], u);
    }
    there
}

/// First and last node of a body that has a length.
fn ends(body: &BodyFrame) -> Option<(f64, f64)> {
    let (first, last) = (*body.z.first()?, *body.z.last()?);
    (last > first).then_some((first, last))
}

/// Nodes move with the liquid, and so does the volume between them.
fn carried(body: &BodyFrame, dt: f64) -> BodyFrame {
    let mut z: Vec<f64> = body.z.iter().zip(&body.u).map(|(z, u)| z + u * dt).collect();
    if body.attached {
        // the contact line is pinned where liquid enters
        z[0] = body.z[0];
    }
    if z.windows(2).any(|w| w[1] <= w[0]) {
        return body.clone();
    }
    let last = z.len() - 1;
    // liquid comes in at a pinned end: what is beside it is stretched by more of it, not thinner
    let first = if body.h[0] > 0.0 { 2 } else { 1 };
    let mut h = body.h.clone();
    for i in first..last {
        let (before, now) = (body.z[i + 1] - body.z[i - 1], z[i + 1] - z[i - 1]);
        h[i] *= (before / now).sqrt();
    }
    BodyFrame { attached: body.attached, z, h, u: body.u.clone() }
}

fn nearest(frames: &[Frame], time: f64) -> usize {
    let after = frames.partition_point(|f| f.time < time).min(frames.len() - 1);
    let before = after.saturating_sub(1);
    if (frames[before].time - time).abs() <= (frames[after].time - time).abs() { before } else { after }
}

/// The pinch-off that is shown of a run: the last one of a primary drop with a burst about it and snapshots of recoil after it.
pub fn shown_break(run: &Recorded) -> Option<usize> {
    let primaries = run.summary.drops.iter().filter(|d| d.kind == DropKind::Primary);
    let breaks: Vec<usize> = primaries.filter_map(|d| d.pinch).filter(|p| *p < run.pinch_offs.len()).collect();
    let count =
        |pinch: usize, moment| run.frames.iter().filter(|f| f.pinch == Some(pinch) && f.moment == moment).count();
    let whole = |p: &&usize| count(**p, Moment::Approach) > 2 && count(**p, Moment::Recoil) > 4;
    let followed = |p: &&usize| run.frames.iter().any(|f| f.time > run.pinch_offs[**p].time);
    let last = breaks.iter().rev().find(whole).or_else(|| breaks.iter().rev().find(followed));
    last.copied().or_else(|| run.pinch_offs.len().checked_sub(1))
}

/// Index of the snapshot at which a pinch-off is shown: the recorded one of it, or the first after it.
pub fn at_break(run: &Recorded, pinch: usize) -> usize {
    let of = |f: &Frame| f.pinch == Some(pinch) && f.moment == Moment::PinchOff;
    let after = || run.frames.partition_point(|f| f.time < run.pinch_offs[pinch].time);
    run.frames.iter().position(of).unwrap_or_else(|| after().min(run.frames.len() - 1))
}

/// Before, on the way to, at and after a pinch-off, and its satellite's.
fn about(run: &Recorded, pinch: usize) -> Vec<usize> {
    let broke = run.pinch_offs[pinch].time;
    let primaries = run.summary.drops.iter().filter(|d| d.kind == DropKind::Primary && d.time_s < broke);
    let start = primaries.map(|d| d.time_s).fold(run.frames[0].time, f64::max);
    let period = (broke - start).max(f64::MIN_POSITIVE);
    let of = |moment: Moment| -> Vec<usize> {
        let found = run.frames.iter().enumerate().filter(|(_, f)| f.pinch == Some(pinch) && f.moment == moment);
        found.map(|(i, _)| i).collect()
    };
    let (approach, recoil) = (of(Moment::Approach), of(Moment::Recoil));
    let mut chosen: Vec<usize> = BEFORE.iter().map(|s| nearest(&run.frames, start + s * period)).collect();
    let whole = at_break(run, pinch).saturating_sub(1);
    match approach.as_slice() {
        [] => chosen.push(whole),
        [.., last] => chosen.extend([approach[approach.len() / 2], *last]),
    }
    chosen.push(at_break(run, pinch));
    let later = run.pinch_offs.iter().enumerate().skip(pinch + 1);
    let within = later.take_while(|(_, p)| p.time < broke + SATELLITE_WITHIN * period);
    let satellite = within
        .filter(|(i, _)| run.summary.drops.iter().any(|d| d.pinch == Some(*i) && d.kind == DropKind::Satellite))
        .map(|(i, _)| at_break(run, i))
        .next();
    let last = run.frames.len() - 1;
    match recoil.as_slice() {
        [] => chosen.extend([at_break(run, pinch) + 1, at_break(run, pinch) + 3].map(|i| i.min(last))),
        [.., end] => {
            chosen.push(recoil[recoil.len() * 2 / 3]);
            chosen.extend(satellite);
            if satellite.is_none() {
                chosen.push(*end);
            }
        }
    }
    chosen.push(nearest(&run.frames, broke + NEXT * period));
    chosen
}

/// Snapshots nearest to evenly spaced times.
fn evenly(frames: &[Frame], n: usize) -> Vec<usize> {
    let (start, end) = (frames[0].time, frames[frames.len() - 1].time);
    let n = n.min(frames.len());
    let mut found: Vec<usize> =
        (0..n).map(|i| nearest(frames, start + (end - start) * i as f64 / (n - 1).max(1) as f64)).collect();
    found.dedup();
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A cylinder that is drawn out evenly keeps its volume while it is carried.
    #[test]
    fn theory_a_stretched_thread_thins_as_its_volume_asks() {
        let z: Vec<f64> = (0..=10).map(f64::from).collect();
        let mut h = vec![1.0; 11];
        (h[0], h[10]) = (0.0, 0.0);
        let body = BodyFrame { attached: false, u: z.iter().map(|z| 0.1 * z).collect(), z, h };
        let later = carried(&body, 1.0);
        for i in 1..10 {
            assert!((later.z[i] - 1.1 * body.z[i]).abs() < 1e-12);
            assert!((later.h[i] - (1.0_f64 / 1.1).sqrt()).abs() < 1e-12);
        }
    }

    /// Half-way in time a thread is half-way in shape, and its foot stays.
    #[test]
    fn a_thread_lies_between_its_neighbours_in_time() {
        let thread = |length: f64, nodes: u32, wide: f64| {
            let z: Vec<f64> = (0..=nodes).map(|i| length * f64::from(i) / f64::from(nodes)).collect();
            let h = z.iter().map(|z| (wide * (1.0 - z / length)).sqrt()).collect();
            BodyFrame { attached: true, u: vec![1.0; z.len()], z, h }
        };
        let (a, b) = (thread(2.0, 20, 1.0), thread(3.0, 31, 2.0));
        let half = between(&a, &b, 0.5);
        assert_eq!((half.z[0], half.z[20], half.h[20]), (0.0, 2.5, 0.0));
        for (z, h) in half.z.iter().zip(&half.h) {
            assert!((h * h - 1.5 * (1.0 - z / 2.5)).abs() < 1e-12);
        }
        assert!((between(&a, &b, 0.0).h[7] - a.h[7]).abs() < 1e-12);
    }

    /// A thread that is pushed out of its nozzle at one velocity: the contact line stays, and what lies beyond it gains the volume
    /// that flows in, pi h^2 u dt.
    #[test]
    fn theory_an_attached_thread_keeps_its_foot_and_gains_what_flows_in() {
        let z: Vec<f64> = (0..=10).map(f64::from).collect();
        let mut h = vec![1.0; 11];
        h[10] = 0.0;
        let body = BodyFrame { attached: true, u: vec![0.3; 11], z, h };
        let volume = |b: &BodyFrame| -> f64 {
            let square = |i: usize| b.h[i] * b.h[i];
            b.z.windows(2).enumerate().map(|(i, w)| 0.5 * (square(i) + square(i + 1)) * (w[1] - w[0])).sum()
        };
        let later = carried(&body, 0.5);
        assert_eq!(later.z[0], body.z[0]);
        assert!((later.z[10] - 10.15).abs() < 1e-12);
        assert!((volume(&later) - volume(&body) - 0.15).abs() < 1e-12, "{} {}", volume(&later), volume(&body));
    }
}
