//! Snapshots: evenly spaced ones, one at each pinch-off, and a burst about those of the attached thread.
//!
//! While the bodies are moved over a slice of time, [`Tape`] keeps copies of them after accepted steps; snapshots are made
//! from these copies afterwards, so that no step is shortened or moved for a picture and the state is the same whatever is recorded.
//! A body is interpolated between the steps on either side of the snapshot. Where its mesh changed between them, a mesh that follows the
//! shape is first laid on the later one, in proportion to the lengths; one that goes with the liquid is taken from the nearer step and
//! carried with its own velocities. On the way to a pinch-off snapshots
//! follow the neck's radius, cut * 1.7^k: evenly on a logarithmic axis of the time to pinch-off where the neck thins linearly.
//! On the way out they lie at [`RECOIL`] periods after it. Everything but the copies follows from the state
//! at the slice's start and the steps, so a resumed run records the same snapshots.

use super::frames;
use super::necks::Seen;
use super::schedule::{self, Schedule};
use super::setup::Setup;
use super::world::World;
use crate::case::Stop;
use crate::drops::detached::Sphere;
use crate::drops::tally::primaries;
use crate::outcome::{Budget, Frame, Moment};
use crate::thread::body::{Body, End};
use crate::thread::mesh::regrid::carry;
use std::f64::consts::PI;

/// Snapshots after a pinch-off, in periods: three a decade.
pub const RECOIL: [f64; 9] = [1e-4, 2.2e-4, 4.6e-4, 1e-3, 2.2e-3, 4.6e-3, 1e-2, 1.7e-2, 4.6e-2];
/// Ratio of the neck's radii at two snapshots on the way in, and how many there are above the cut radius.
const LEVEL: f64 = 1.7;
const LEVELS: i32 = 6;
/// Most snapshots on the way to one pinch-off: necks that heal and thin again must not fill the record.
const APPROACHES_MAX: usize = 16;
/// The first so many pinch-offs of the thread have bursts, then so many in each octave of their number.
const WHOLE_FIRST: usize = 30;
const WHOLE_OCTAVE: usize = 8;
/// Bursts go on again when so many drops, or periods, are left.
const LAST: u32 = 2;
/// The period is that of so many pinch-offs of the thread, and a snapshot belongs to one of so many latest ones.
const RECENT: usize = 16;
const RECENT_ALL: usize = 64;
/// Copies of a body, and snapshots, are at least this many periods apart.
const APART: f64 = 2e-6;

/// So many copies of a body may a slice hold; then every other of them goes, so that the oldest are the farthest apart.
const COPIES_MAX: usize = 2048;

/// Copies of the bodies over one slice of time, kept while somebody listens.
#[derive(Debug, Clone, Default)]
pub struct Tape {
    on: bool,
    apart: f64,
    /// Of each body, oldest first; the bodies in the world's order.
    shots: Vec<Vec<Shot>>,
    /// Drops on their way, from the slice's start or from their birth.
    spheres: Vec<Sphere>,
    /// Times at which the thread's neck passed a level or was about to be cut, with the number of breaks before.
    approach: Vec<(f64, usize)>,
}

/// A copy of a body; those on either side of a cut stay when copies are thinned.
#[derive(Debug, Clone)]
struct Shot {
    body: Body,
    at_cut: bool,
}

/// A snapshot to record.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Wanted {
    time: f64,
    moment: Moment,
    pinch: Option<usize>,
}

/// The stretch of time over which the bodies were moved last, and the energy budgets at both its ends.
#[derive(Debug, Clone, Copy)]
pub struct Slice {
    pub start: f64,
    pub before: Budget,
    pub after: Budget,
}

impl Tape {
    /// Starts a slice.
    pub fn rewind(&mut self, on: bool, bodies: &[Body], spheres: &[Sphere], period: f64) {
        *self = Tape { on, apart: APART * period, ..Tape::default() };
        if on {
            self.shots = bodies.iter().map(|b| vec![Shot { body: b.clone(), at_cut: false }]).collect();
            self.spheres = spheres.to_vec();
        }
    }

    /// Body `k` after an accepted step.
    pub fn note(&mut self, k: usize, body: &Body) {
        if !self.on {
            return;
        }
        let apart = self.apart;
        let row = self.row(k);
        if row.last().is_none_or(|last| body.time >= last.body.time + apart) {
            row.push(Shot { body: body.clone(), at_cut: false });
        }
        if row.len() > COPIES_MAX {
            let mut place = 0;
            row.retain(|shot| {
                place += 1;
                place % 2 == 1 || shot.at_cut
            });
        }
    }

    /// Body `k` just before or after a cut, whatever the time since the last copy.
    pub fn note_cut(&mut self, k: usize, body: &Body) {
        if self.on {
            self.row(k).push(Shot { body: body.clone(), at_cut: true });
        }
    }

    fn row(&mut self, k: usize) -> &mut Vec<Shot> {
        if self.shots.len() <= k {
            self.shots.resize_with(k + 1, Vec::new);
        }
        &mut self.shots[k]
    }

    /// A drop starts on its way.
    pub fn note_sphere(&mut self, sphere: &Sphere) {
        if self.on {
            self.spheres.push(*sphere);
        }
    }

    /// The thread's neck after a step; `last` are the last steps of it.
    pub fn note_neck(&mut self, last: &[Seen], cut: f64, breaks: usize) {
        let passes = |before: f64, now: f64| {
            (0..=LEVELS).any(|k| {
                let level = cut * LEVEL.powi(k);
                before > level && level >= now
            })
        };
        let reached = match last {
            [.., before, now] if passes(before.radius, now.radius) => Some(now.time),
            _ => None,
        };
        if let Some(time) = reached.filter(|_| self.on) {
            self.approach.push((time, breaks));
        }
    }

    /// The snapshot before the thread is cut.
    pub fn about_to_cut(&mut self, body: &Body, breaks: usize) {
        if self.on {
            self.note_cut(0, body);
            self.approach.push((body.time, breaks));
        }
    }

    /// Bodies and drops at `time`; with `before` what was there just before it.
    fn at(&self, time: f64, before: bool, setup: &Setup) -> (Vec<Body>, Vec<Sphere>) {
        let there = |t: f64| if before { t < time } else { t <= time };
        let bodies = self.shots.iter().filter_map(|row| {
            let next = row.partition_point(|shot| there(shot.body.time));
            let last = &row.get(next.checked_sub(1)?)?.body;
            Some(match row.get(next) {
                Some(after) => between(last, &after.body, time),
                None => shifted(last, time),
            })
        });
        let spheres = self.spheres.iter().filter(|s| there(s.time)).map(|s| {
            let mut s = *s;
            setup.fly(&mut s, time);
            s
        });
        (bodies.collect(), spheres.collect())
    }
}

/// A body between two accepted steps. On one mesh its velocities and cells lie in proportion between the two, and so do its nodes where
/// the mesh follows the shape; where they go with the liquid they lie on the cubics that have its velocities at both ends (Hermite), of
/// fourth order in the step. Where another mesh follows the shape, whose speed is not that of the liquid, the earlier body is laid on the
/// later one's nodes first; else the nearer step's body is carried.
fn between(last: &Body, after: &Body, time: f64) -> Body {
    let ends = last.left == after.left && last.right == after.right && after.time > last.time;
    if ends && one_mesh(last, after) {
        return mixed(last, after, time);
    }
    if ends && (last.follows || after.follows) {
        let last = Body { follows: true, ..laid(last, after) };
        return mixed(&last, after, time);
    }
    let near = if after.time - time < time - last.time { after } else { last };
    carried(near, time)
}

/// Whether two bodies have one mesh: as many cells, and where nodes go with the liquid each within half a cell of where its velocities lead.
fn one_mesh(last: &Body, after: &Body) -> bool {
    let cells = last.cells();
    if cells != after.cells() || last.follows || after.follows {
        return cells == after.cells();
    }
    let step = after.time - last.time;
    let off = |i: usize| (after.z[i] - last.z[i] - 0.5 * step * (last.u[i] + after.u[i])).abs();
    (1..cells).all(|i| off(i) < 0.5 * (after.z[i] - after.z[i - 1]).min(after.z[i + 1] - after.z[i]))
}

/// A body on nodes that share out its length as another one's do.
fn laid(body: &Body, like: &Body) -> Body {
    let (start, scale) = (body.z[0], body.length() / like.length());
    let last = like.cells();
    let place = |(i, z): (usize, &f64)| if i == last { body.z[body.cells()] } else { start + scale * (z - like.z[0]) };
    let nodes: Vec<f64> = like.z.iter().enumerate().map(place).collect();
    let there = carry(body, &nodes, false);
    if there.v.iter().all(|v| *v > 0.0) { there } else { carry(body, &nodes, true) }
}

/// A body between two steps on one mesh.
fn mixed(last: &Body, after: &Body, time: f64) -> Body {
    let step = after.time - last.time;
    let x = (time - last.time) / step;
    let mix = |a: &[f64], b: &[f64]| -> Vec<f64> { a.iter().zip(b).map(|(a, b)| a + x * (b - a)).collect() };
    let mut there =
        Body { z: mix(&last.z, &after.z), u: mix(&last.u, &after.u), v: mix(&last.v, &after.v), ..last.clone() };
    if !last.follows && !after.follows {
        let n = last.cells();
        let pinned = |i: usize| i == 0 && last.left.is_fixed() || i == n && last.right.is_fixed();
        // what the cubic adds to the straight line
        let bent = |i: usize| {
            let way = after.z[i] - last.z[i];
            x * (1.0 - x) * ((1.0 - x) * (step * last.u[i] - way) - x * (step * after.u[i] - way))
        };
        let nodes: Vec<f64> = (0..=n).map(|i| there.z[i] + if pinned(i) { 0.0 } else { bent(i) }).collect();
        if nodes.windows(2).all(|w| w[1] > w[0]) {
            there.z = nodes;
        }
    }
    there
}

/// Least length of a first cell over that of the next one.
const SLIVER: f64 = 1e-3;

/// A body half a step away: its nodes move on with their velocities, but for those that glass or a mirror holds, and liquid goes on through
/// a nozzle; what had not come in yet is left out.
fn carried(body: &Body, time: f64) -> Body {
    let mut there = body.clone();
    let (last, passed) = (body.cells(), time - body.time);
    let pinned = |i: usize| i == 0 && body.left.is_fixed() || i == last && body.right.is_fixed();
    for (_, (z, u)) in there.z.iter_mut().zip(&body.u).enumerate().filter(|(i, _)| !pinned(*i)) {
        *z += u * passed;
    }
    if body.left == End::Nozzle {
        let mut entered = PI * body.u[0] * passed;
        // a sliver goes to the cell after it
        while there.cells() > 1 && there.z[1] - there.z[0] <= SLIVER * (there.z[2] - there.z[1]) {
            entered += there.v.remove(0);
            there.z.remove(1);
            there.u.remove(1);
        }
        if !there.load.is_empty() {
            there.load = there.load.part(last - there.cells()..last, 1.0, 1.0);
        }
        there.v[0] += entered;
    }
    let whole = there.z.windows(2).all(|w| w[1] > w[0]) && there.v.iter().all(|v| *v > 0.0);
    if whole { there } else { body.clone() }
}

/// A body whose shape is no longer followed moves on as it is.
fn shifted(body: &Body, time: f64) -> Body {
    let mut there = body.clone();
    if !body.left.is_fixed() && !body.right.is_fixed() {
        let way = body.momentum() / body.volume() * (time - body.time);
        there.z.iter_mut().for_each(|z| *z += way);
    }
    there
}

/// Period of the thread's pinch-offs up to the one with this number: satellites left out, the start as the first.
pub fn period(world: &World, breaks: usize) -> f64 {
    let recent = breaks.min(world.breaks.len());
    let mut times: Vec<f64> =
        world.breaks[recent.saturating_sub(RECENT)..recent].iter().map(|b| world.pinch_offs[b.pinch].time).collect();
    if times.len() < 3 {
        times.insert(0, 0.0);
    }
    schedule::period(&times).map_or(f64::INFINITY, |(_, period)| period)
}

/// Whether the thread's pinch-off of this number has its burst.
fn is_whole(world: &World, setup: &Setup, number: usize) -> bool {
    let octave = (number / WHOLE_FIRST).checked_ilog2().map_or(0, |o| o + 1);
    let stride = (WHOLE_FIRST << octave) / WHOLE_OCTAVE / 2;
    let near_end = match setup.stop {
        Stop::Drops(n) => primaries(&world.drops) as u32 + LAST >= n,
        Stop::Until(end) => world.time + f64::from(LAST) * period(world, number + 1) >= end,
    };
    octave == 0 || number.is_multiple_of(stride.max(1)) || near_end
}

/// The snapshots of a slice of time, in order of time; `even` are the times of the evenly spaced ones.
pub fn of_slice(world: &World, setup: &Setup, schedule: &mut Schedule, slice: &Slice, even: &[f64]) -> Vec<Frame> {
    if !world.tape.on {
        return Vec::new();
    }
    let mut wanted: Vec<Wanted> = by_event(world, setup, slice.start);
    wanted.extend(even.iter().map(|time| Wanted { time: *time, moment: Moment::Even, pinch: None }));
    // of those at one time a pinch-off goes first, then the even one
    let rank = |moment: Moment| match moment {
        Moment::PinchOff => 0,
        Moment::Even => 1,
        Moment::Approach | Moment::Recoil => 2,
    };
    wanted.sort_by(|a, b| a.time.total_cmp(&b.time).then(rank(a.moment).cmp(&rank(b.moment))));
    let mut frames = Vec::new();
    let mut last = slice.start;
    for w in wanted {
        let burst = matches!(w.moment, Moment::Approach | Moment::Recoil);
        schedule.approaches = match w.moment {
            Moment::Approach => schedule.approaches + 1,
            Moment::PinchOff => 0,
            _ => schedule.approaches,
        };
        let crowded = w.time <= last || burst && w.time < last + world.tape.apart;
        if crowded || w.moment == Moment::Approach && schedule.approaches > APPROACHES_MAX {
            continue;
        }
        let (bodies, spheres) = world.tape.at(w.time, w.moment == Moment::Approach, setup);
        let frame = frames::at(w.time, &bodies, &spheres, setup);
        let share = (w.time - slice.start) / (world.time - slice.start);
        let budget = (w.moment == Moment::Even).then(|| slice.before.towards(&slice.after, share));
        frames.push(Frame { moment: w.moment, pinch: w.pinch, budget, ..frame });
        last = w.time;
    }
    frames
}

/// Snapshots that the pinch-offs of a slice, and those before it, ask for.
fn by_event(world: &World, setup: &Setup, start: f64) -> Vec<Wanted> {
    let mut wanted: Vec<Wanted> = Vec::new();
    for &(time, breaks) in &world.tape.approach {
        let pinch = world.breaks.get(breaks).map_or(world.pinch_offs.len(), |b| b.pinch);
        if is_whole(world, setup, breaks) {
            wanted.push(Wanted { time, moment: Moment::Approach, pinch: Some(pinch) });
        }
    }
    for (pinch, p) in world.pinch_offs.iter().enumerate().rev().take(RECENT_ALL) {
        let mut push = |time: f64, moment| {
            if time > start && time <= world.time {
                wanted.push(Wanted { time, moment, pinch: Some(pinch) });
            }
        };
        push(p.time, Moment::PinchOff);
        let Ok(number) = world.breaks.binary_search_by_key(&pinch, |b| b.pinch) else { continue };
        let period = period(world, number + 1);
        if p.time + RECOIL[RECOIL.len() - 1] * period > start && is_whole(world, setup, number) {
            RECOIL.iter().for_each(|share| push(p.time + share * period, Moment::Recoil));
        }
    }
    wanted
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sphere(centre: f64, time: f64) -> Body {
        let z = (0..=20).map(|i| centre - 1.0 + f64::from(i) / 10.0).collect();
        let mut body = Body::from_profile(z, End::Tip, End::Tip, move |z| 1.0 - (z - centre).powi(2), |_| 3.0);
        body.time = time;
        body
    }

    #[test]
    fn a_body_is_taken_from_the_nearest_step_and_carried_to_the_instant() {
        let mut tape = Tape { on: true, ..Tape::default() };
        tape.note(0, &sphere(0.0, 0.0));
        tape.note(0, &sphere(3.0, 1.0));
        let case = crate::case::parse(crate::case::examples::find("tap").unwrap().text, "tap").unwrap();
        let setup = Setup::new(&case);
        for (time, centre) in [(0.2, 0.6), (0.8, 2.4), (1.0, 3.0), (1.5, 4.5)] {
            let (bodies, _) = tape.at(time, false, &setup);
            approx::assert_relative_eq!(bodies[0].centre(), centre, max_relative = 1e-12);
        }
        assert!(tape.at(0.0, true, &setup).0.is_empty(), "nothing before its birth");
    }

    /// Nodes that go with a liquid stretched exponentially, z = z_0 exp(t): a cubic leaves step^4/384 of that, a line step^2/8.
    #[test]
    fn theory_nodes_of_a_thread_between_two_steps_lie_on_cubics() {
        let stretched = |time: f64| {
            let z = (0..=20).map(|i| f64::from(i) * time.exp()).collect();
            let mut body = Body::from_profile(z, End::Tip, End::Tip, |_| 1.0, |z| z);
            body.time = time;
            body
        };
        let (first, last) = (stretched(0.0), stretched(0.2));
        for time in [0.05, 0.1, 0.15] {
            let off = between(&first, &last, time).z[20] / (20.0 * f64::exp(time)) - 1.0;
            assert!(off.abs() < 0.2f64.powi(4) / 384.0 * 1.3, "{off:e}");
        }
    }

    /// A thread that hangs on the nozzle never leaves it, whether its neighbours in time have its mesh or not.
    #[test]
    fn the_contact_line_stays_at_the_nozzle() {
        let hanging = |cells: u32, length: f64, time: f64| {
            let z = (0..=cells).map(|i| length * f64::from(i) / f64::from(cells)).collect();
            let mut body = Body::from_profile(z, End::Nozzle, End::Tip, move |z| 1.0 - (z / length).powi(2), |_| 2.0);
            body.time = time;
            body
        };
        let case = crate::case::parse(crate::case::examples::find("tap").unwrap().text, "tap").unwrap();
        let setup = Setup::new(&case);
        for cells in [20, 24] {
            let mut tape = Tape { on: true, ..Tape::default() };
            let (first, last) = (hanging(20, 3.0, 0.0), hanging(cells, 3.4, 0.2));
            tape.note(0, &first);
            tape.note(0, &last);
            for time in [0.03, 0.12, 0.19] {
                let body = &tape.at(time, false, &setup).0[0];
                assert_eq!(body.z[0], 0.0, "{cells} cells at {time}");
                let within = first.volume() * (1.0 - 1e-12)..=last.volume() * (1.0 + 1e-12);
                assert!(within.contains(&body.volume()), "{cells} cells at {time}");
            }
        }
    }

    /// A cylinder that comes out of its nozzle as it is stays one between two steps, also where its mesh changed and where the first
    /// cells of the later step had not come in.
    #[test]
    fn theory_a_thread_that_comes_out_stays_a_cylinder_between_steps() {
        let thread = |cells: u32, length: f64, time: f64| {
            let z = (0..=cells).map(|i| length * f64::from(i) / f64::from(cells)).collect();
            let mut body = Body::from_profile(z, End::Nozzle, End::Outflow, |_| 1.0, |_| 2.0);
            body.time = time;
            body
        };
        // the same number of cells on another mesh, and another number
        for cells in [40, 60] {
            let (first, last) = (thread(40, 2.0, 0.0), thread(cells, 4.0, 1.0));
            for time in [0.2, 0.4, 0.6, 0.8] {
                let body = between(&first, &last, time);
                approx::assert_relative_eq!(body.length(), 2.0 + 2.0 * time, max_relative = 1e-12);
                for j in 0..body.cells() {
                    approx::assert_relative_eq!(body.area(j), 1.0, max_relative = 1e-9);
                }
            }
        }
    }

    /// Spherical caps on a rim, filled through a mesh that follows them: whatever the liquid's speed in it, the cap between two steps is one
    /// of the family, up to the square of the step (z = length s, so that a line in z and V leaves the curvature of V over the step).
    #[test]
    fn theory_a_filling_cap_stays_a_cap_where_its_mesh_changes() {
        let cap = |cells: u32, length: f64, time: f64| {
            // a sphere through the rim of radius 1 at z = 0: h^2 = 1 + z (length - 1/length) - z^2
            let z = (0..=cells).map(|i| length * f64::from(i) / f64::from(cells)).collect();
            let area = move |z: f64| 1.0 + z * (length - 1.0 / length) - z * z;
            let mut body = Body::from_profile(z, End::Nozzle, End::Tip, area, |_| 40.0);
            (body.time, body.follows) = (time, true);
            body
        };
        let (first, last) = (cap(20, 3.0, 0.0), cap(24, 3.1, 0.05));
        for time in [0.01, 0.02, 0.03, 0.045] {
            let (length, body) = (3.0 + 2.0 * time, between(&first, &last, time));
            approx::assert_relative_eq!(body.length(), length, max_relative = 1e-12);
            let widest = 0.5 * (length + 1.0 / length);
            approx::assert_relative_eq!(body.radius_max(), widest, max_relative = 5e-3);
            // V = pi (3 L + L^3)/6: a line in L leaves an eighth of the step's square times V'' = pi L, 6e-4 of it
            approx::assert_relative_eq!(body.volume(), cap(24, length, time).volume(), max_relative = 1e-3);
        }
    }
}
