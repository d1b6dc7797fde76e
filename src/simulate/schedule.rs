//! When snapshots are recorded.
//!
//! The length of a run that stops after so many drops is not known beforehand. Until two drops have come off, snapshots
//! start at a quarter of the interval guessed from the flow and are then spaced in proportion to the time gone by: the
//! same share of whatever the time of the first drops turns out to be. Then the rest of the run is foreseen from them, and
//! again at each drop: so a wrong guess leaves neither a handful of snapshots nor gaps between them. Where the guess is all there
//! is, the interval doubles after half of the snapshots allowed, after half of the rest again: never more than allowed. A run until
//! a time has its snapshots at equal intervals.

/// Past their share, early snapshots come so much more seldom.
const BEYOND_SHARE: f64 = 0.25;

/// Where the recording has got to, scaled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Schedule {
    /// Present interval.
    pub interval: f64,
    /// Next snapshot.
    pub next: f64,
    /// Snapshots so far.
    pub emitted: usize,
    /// Snapshots since the interval last changed.
    pub since_doubling: usize,
    /// Snapshots on the way to the next pinch-off, see [`super::snapshots`].
    pub approaches: usize,
}

impl Schedule {
    /// Start with `interval`; the first snapshot is at time zero.
    pub fn new(interval: f64) -> Schedule {
        Schedule { interval, next: 0.0, emitted: 0, since_doubling: 0, approaches: 0 }
    }

    /// A snapshot has been recorded; `limit` is how many there may be.
    pub fn emitted(&mut self, limit: usize) {
        self.emitted += 1;
        self.since_doubling += 1;
        let before = self.emitted - self.since_doubling;
        if self.since_doubling >= (limit.saturating_sub(before) / 2).max(1) {
            self.interval *= 2.0;
            self.since_doubling = 0;
        }
        self.next += self.interval;
    }

    /// A snapshot has been recorded of a run whose end is known.
    pub fn emitted_evenly(&mut self) {
        self.emitted += 1;
        self.next = self.interval * self.emitted as f64;
    }

    /// A snapshot has been recorded before anything is known of the drops: about `share` of them may go to that.
    pub fn emitted_early(&mut self, guessed: f64, share: usize) {
        self.emitted += 1;
        self.since_doubling = 0;
        // Five shares: one at the first interval, four for a factor of e in time each.
        let each = (share as f64 / 5.0).max(1.0) * if self.emitted > share { BEYOND_SHARE } else { 1.0 };
        self.interval = (0.25 * guessed).max(self.next / each);
        self.next += self.interval;
    }

    /// The rest of the run will take about `rest` from `now`: spread the snapshots that are left over it.
    pub fn foresee(&mut self, now: f64, rest: f64, limit: usize) {
        let left = limit.saturating_sub(self.emitted);
        if left == 0 || rest <= 0.0 {
            return;
        }
        self.interval = rest / left as f64;
        self.since_doubling = 0;
        self.next = self.next.min(now + self.interval);
    }

    /// True while there is room for another.
    pub fn has_room(&self, limit: usize) -> bool {
        self.emitted < limit
    }
}

/// A gap shorter than this share of the longest is that of a satellite.
const SATELLITE_GAP: f64 = 0.2;

/// How many gaps between these times are those of drops, and their median.
pub fn period(times: &[f64]) -> Option<(usize, f64)> {
    let mut gaps: Vec<f64> = times.windows(2).map(|w| w[1] - w[0]).collect();
    let longest = gaps.iter().copied().fold(0.0, f64::max);
    gaps.retain(|g| *g > SATELLITE_GAP * longest);
    gaps.sort_by(f64::total_cmp);
    gaps.get(gaps.len() / 2).map(|median| (gaps.len(), *median))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_guess_ten_times_too_long_is_mended_by_the_first_drops() {
        let (mut s, limit, mut time) = (Schedule::new(10.0), 100, 0.0);
        for drop in 0..10 {
            if drop >= 2 {
                s.foresee(time, 10.0 - f64::from(drop), limit);
            }
            while time < f64::from(drop + 1) {
                if time >= s.next && s.has_room(limit) {
                    s.emitted(limit);
                }
                time += 0.01;
            }
        }
        assert!((70..=limit).contains(&s.emitted), "{}", s.emitted);
    }

    #[test]
    fn first_drops_that_come_late_are_followed_without_gaps() {
        for (lateness, gap) in [(0.3, 0.03), (1.0, 0.03), (5.0, 0.03), (50.0, 0.12)] {
            let (mut s, mut widest) = (Schedule::new(1.0), 0.0_f64);
            while s.next < 100.0 * lateness {
                s.emitted_early(1.0, 200);
                widest = widest.max(s.interval);
            }
            assert!(widest <= gap * 100.0 * lateness + 0.25, "{lateness}: {widest}");
            assert!((60..=250).contains(&s.emitted), "{lateness}: {}", s.emitted);
        }
    }

    #[test]
    fn gaps_of_satellites_are_no_periods() {
        assert_eq!(period(&[0.0, 10.0, 10.1, 10.2, 20.0, 20.1, 30.5]), Some((3, 10.0)));
        assert_eq!(period(&[0.0]), None);
    }

    #[test]
    fn never_more_than_allowed_and_half_of_them_at_the_first_interval() {
        let mut s = Schedule::new(1.0);
        let mut first = 0;
        while s.has_room(100) && s.next < 1e6 {
            if s.interval == 1.0 {
                first += 1;
            }
            s.emitted(100);
        }
        assert!(s.emitted <= 100 && first == 50, "{} {first}", s.emitted);
    }
}
