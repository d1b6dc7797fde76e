//! When evenly spaced snapshots are recorded.
//!
//! A run until a time has as many as asked for, from its start to its end. How long a run takes that stops after so many drops is not known
//! beforehand: its snapshots begin close together, and each time that as many as asked for have gone by the interval doubles. Those
//! in between are superfluous from then on ([`crate::outcome::Frame::stays`]), so that in the end at most as many as asked for, and at least
//! half of them, lie at equal intervals over the whole run. (With fewer only where it was over in a small part of the time guessed.)

/// Where the recording has got to, scaled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Schedule {
    /// Present interval.
    pub interval: f64,
    /// Snapshots at that interval so far: the next is as many intervals from the start.
    pub passed: usize,
    /// Snapshots on the way to the next pinch-off, see [`super::snapshots`].
    pub approaches: usize,
}

impl Schedule {
    /// Start with `interval`; the first snapshot is at time zero.
    pub fn new(interval: f64) -> Schedule {
        Schedule { interval, passed: 0, approaches: 0 }
    }

    /// The snapshots that are due by `now`; where more than `limit` would lie at one interval, it doubles.
    pub fn due(&mut self, now: f64, limit: usize) -> Vec<f64> {
        let mut times = Vec::new();
        loop {
            let next = self.interval * self.passed as f64;
            if next > now {
                return times;
            }
            if self.passed < limit {
                times.push(next);
                self.passed += 1;
            } else {
                self.interval *= 2.0;
                self.passed = limit.div_ceil(2);
            }
        }
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
    use crate::tolerances::BETWEEN;

    /// However long the run turns out to be, those that stay are evenly spaced, no more than allowed and no fewer than half.
    #[test]
    fn those_that_stay_are_evenly_spaced() {
        for limit in [2, 3, 10, 99, 400] {
            for whole in [1.0, 1.9, 3.0, 17.0, 1234.5] {
                let (mut s, mut times) = (Schedule::new(1.0 / limit as f64), Vec::new());
                for slice in 1..=1000 {
                    times.extend(s.due(whole * f64::from(slice) / 1000.0, limit));
                }
                assert!(times.windows(2).all(|w| w[0] < w[1]));
                let off = |t: f64, i: f64| (t / s.interval - i).abs();
                times.retain(|t| off(*t, (t / s.interval).round()) < BETWEEN);
                assert!((limit.div_ceil(2)..=limit).contains(&times.len()), "{limit} {whole}: {}", times.len());
                assert!(
                    times.iter().enumerate().all(|(i, t)| off(*t, i as f64) < BETWEEN),
                    "{limit} {whole}: {times:?}"
                );
                assert!(times[times.len() - 1] + s.interval > whole - BETWEEN, "{limit} {whole}: up to the end");
            }
        }
    }

    #[test]
    fn gaps_of_satellites_are_no_periods() {
        assert_eq!(period(&[0.0, 10.0, 10.1, 10.2, 20.0, 20.1, 30.5]), Some((3, 10.0)));
        assert_eq!(period(&[0.0]), None);
    }
}
