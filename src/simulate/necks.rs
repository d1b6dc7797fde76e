//! The neck of the attached thread against time: samples for figures, times at which it passed given radii, and the
//! time of pinch-off extrapolated from the last steps.
//!
//! Equation: near pinch-off h falls linearly in time when viscosity matters and as the 2/3 power when it does not; the
//! linear law is used (from h = 0.01 the two differ by a third of a time that is below 0.1 % of a drop's).

use crate::outcome::NeckSample;
use crate::pinch_off::neck::{Neck, volume_beyond};
use crate::thread::body::Body;

/// Radii at which the first neck is timed.
pub const MARKS: [f64; 5] = [0.5, 0.1, 0.05, 0.02, 0.01];
/// A sample is kept when the neck has thinned by this factor since the last ...
const THINNED: f64 = 0.97;
/// ... and it is thinner than this.
const THICKEST: f64 = 0.98;
/// A neck that moves by more than this many of its radii in one step is another neck.
const JUMP: f64 = 4.0;
/// A neck this much wider than the last sample is another one: what was kept led to no pinch-off.
const WIDENED: f64 = 1.5;
/// Most samples kept for one pinch-off.
const SAMPLES_MAX: usize = 400;

/// A neck at one step.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Seen {
    pub time: f64,
    pub radius: f64,
    pub position: f64,
    pub length: f64,
    pub beyond: f64,
}

/// History, scaled.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NeckLog {
    /// Kept samples.
    pub samples: Vec<NeckSample>,
    /// First passage of each of [`MARKS`] by the first neck.
    pub marks: [Option<Seen>; MARKS.len()],
    /// The last three steps of the present neck, oldest first.
    pub last: Vec<Seen>,
    /// Samples that belong to the present neck start here.
    pub open: usize,
}

impl NeckLog {
    /// Look at the body after a step.
    pub fn sample(&mut self, body: &Body, neck: Option<&Neck>, pinches: usize) {
        let Some(neck) = neck else {
            self.last.clear();
            return;
        };
        let length = body.z[body.cells()];
        let seen = Seen {
            time: body.time,
            radius: neck.radius,
            position: neck.position,
            length,
            beyond: volume_beyond(body, neck),
        };
        let moved_on = |l: &Seen| l.radius <= neck.radius || (l.position - neck.position).abs() > JUMP * l.radius;
        if self.last.last().is_some_and(moved_on) {
            self.last.clear();
        }
        self.last.push(seen);
        if self.last.len() > 3 {
            self.last.remove(0);
        }
        if pinches == 0 {
            self.pass_marks();
        }
        if self.samples[self.open..].last().is_some_and(|before| neck.radius > WIDENED * before.radius) {
            self.samples.truncate(self.open);
        }
        let thinned = match self.samples[self.open..].last() {
            Some(before) => neck.radius < THINNED * before.radius,
            None => true,
        };
        if thinned && neck.radius < THICKEST && self.samples.len() - self.open < SAMPLES_MAX {
            self.samples.push(NeckSample {
                time: body.time,
                position: neck.position,
                radius: neck.radius,
                length,
                pinch: None,
            });
        }
    }

    fn pass_marks(&mut self) {
        let Some(now) = self.last.last().copied() else { return };
        for (mark, radius) in self.marks.iter_mut().zip(MARKS) {
            if mark.is_none() && now.radius <= radius {
                *mark = Some(at_radius(&self.last, radius));
            }
        }
    }

    /// The present neck has pinched: its samples lead to that pinch-off.
    pub fn pinched(&mut self, number: usize) {
        for sample in &mut self.samples[self.open..] {
            sample.pinch = Some(number);
        }
        self.open = self.samples.len();
        self.last.clear();
    }

    /// Time at which the present neck reaches zero radius: not before the pinch-off of a neck that was cut while this one stood.
    pub fn pinched_at(&self, time: f64, radius: f64, last: f64) -> f64 {
        let time = match self.last.as_slice() {
            [.., before, now] if before.radius > now.radius => {
                time + radius * (now.time - before.time) / (before.radius - now.radius)
            }
            _ => time,
        };
        time.max(last)
    }

    /// What the last steps say of the moment when the neck had this radius.
    pub fn when(&self, radius: f64) -> Option<Seen> {
        let now = self.last.last()?;
        (now.radius <= radius && self.last.len() >= 2).then(|| at_radius(&self.last, radius))
    }
}

/// Interpolate the last steps (thinning) to a radius.
fn at_radius(last: &[Seen], radius: f64) -> Seen {
    let weigh = |pick: fn(&Seen) -> f64| {
        let mut value = 0.0;
        for (i, s) in last.iter().enumerate() {
            let others = last.iter().enumerate().filter(|(k, _)| *k != i);
            value += pick(s) * others.map(|(_, o)| (radius - o.radius) / (s.radius - o.radius)).product::<f64>();
        }
        value
    };
    Seen {
        time: weigh(|s| s.time),
        radius,
        position: weigh(|s| s.position),
        length: weigh(|s| s.length),
        beyond: weigh(|s| s.beyond),
    }
}
