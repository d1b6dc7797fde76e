//! How many readings would tell a true spread from measurement.
//!
//! Equation: with k drops of n readings the F statistic is (1 + n t) F(k-1, k(n-1)), t = s_a^2/s_e^2, and the spread is told when
//! it exceeds the 95 % point; the chance of that is the power.
//!
//! Symbols: s_a true spread (m), s_e error of one reading (m), k drops (-), n readings of each (-).
//!
//! Source: power of the one-way random-effects F test, Searle, Casella & McCulloch 1992, section 3.6 (recalled from memory).
//!
//! Holds for: equal numbers of readings; s_e taken as found.

use crate::study::quantiles;
use serde::Serialize;

/// Chance of telling that the counts below promise.
pub const POWER: f64 = 0.9;
const READINGS_MAX: usize = 1_000;
const DROPS_MAX: usize = 1_000_000;

/// What would tell a true CV from measurement.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Needed {
    /// The true CV that would be told.
    pub cv: f64,
    /// Readings of each of the present drops; null if more than 1,000.
    pub readings_per_drop: Option<usize>,
    /// Or this many drops at two readings (or at the present number, if larger); null if more than a million.
    pub drops: Option<usize>,
    /// Readings of each of those drops.
    pub readings_at_drops: usize,
    /// Chance that it is told.
    pub power: f64,
}

/// Chance that a true spread is told by `k` drops of `n` readings; `ratio` is s_a^2/s_e^2.
pub fn power(k: usize, n: usize, ratio: f64) -> f64 {
    if k < 2 || n < 2 {
        return 0.0;
    }
    let (between, within) = ((k - 1) as f64, (k * (n - 1)) as f64);
    let critical = quantiles::f_ratio(0.95, between, within);
    quantiles::f_ratio_above(critical / (1.0 + n as f64 * ratio), between, within)
}

/// Readings of each of `drops` drops, or drops at `readings`, that tell a true CV of `cv` when one reading scatters by
/// `reading_cv`.
pub fn needed(cv: f64, reading_cv: f64, drops: usize, readings: usize) -> Needed {
    let ratio = (cv / reading_cv).powi(2);
    let readings_at_drops = readings.max(2);
    Needed {
        cv,
        readings_per_drop: smallest(2, READINGS_MAX, |n| power(drops, n, ratio) >= POWER),
        drops: smallest(2, DROPS_MAX, |k| power(k, readings_at_drops, ratio) >= POWER),
        readings_at_drops,
        power: POWER,
    }
}

/// Smallest whole number in `from..=to` for which a condition that stays true holds.
fn smallest(from: usize, to: usize, holds: impl Fn(usize) -> bool) -> Option<usize> {
    let (mut low, mut high) = (from, from);
    while !holds(high) {
        if high >= to {
            return None;
        }
        (low, high) = (high + 1, (2 * high).min(to));
    }
    while low < high {
        let middle = low + (high - low) / 2;
        if holds(middle) { high = middle } else { low = middle + 1 }
    }
    Some(high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn theory_power_is_the_level_at_zero_and_grows_to_one() {
        assert_relative_eq!(power(20, 3, 0.0), 0.05, max_relative = 1e-6);
        assert!(power(20, 3, 0.5) < power(20, 6, 0.5));
        assert!(power(20, 3, 100.0) > 0.999);
        assert_eq!(power(20, 1, 1.0), 0.0);
    }

    #[test]
    fn counts_are_the_smallest_that_reach_the_power() {
        let found = needed(0.01, 0.02, 30, 3);
        let ratio = 0.25;
        let n = found.readings_per_drop.expect("possible");
        assert!(power(30, n, ratio) >= POWER && power(30, n - 1, ratio) < POWER, "{found:?}");
        let k = found.drops.expect("possible");
        assert!(power(k, 3, ratio) >= POWER && power(k - 1, 3, ratio) < POWER, "{found:?}");
        assert_eq!(needed(1e-9, 0.02, 30, 3).readings_per_drop, None);
    }
}
