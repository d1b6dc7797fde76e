//! When instants are recorded.
//!
//! The length of a run that stops after so many drops is not known beforehand. Instants start at an interval guessed from
//! the flow; after half of those allowed the interval doubles, after half of the rest again: never more than allowed,
//! never a gap. As soon as two drops have come off, the rest of the run is foreseen from them, and again at each drop:
//! so a wrong guess does not leave a run with a handful of instants.

/// Where the recording has got to, scaled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Schedule {
    /// Present interval.
    pub interval: f64,
    /// Next instant.
    pub next: f64,
    /// Instants so far.
    pub emitted: usize,
    /// Instants since the interval last changed.
    pub since_doubling: usize,
}

impl Schedule {
    /// Start with `interval`; the first instant is at time zero.
    pub fn new(interval: f64) -> Schedule {
        Schedule { interval, next: 0.0, emitted: 0, since_doubling: 0 }
    }

    /// An instant has been recorded; `limit` is how many there may be.
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

    /// The rest of the run will take about `rest` from `now`: spread the instants that are left over it.
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
