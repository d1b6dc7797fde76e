//! The answer in words.

use super::Spread;
use super::detect::{Needed, POWER};

/// How the interval is made, for every answer.
pub const METHOD: &str = "one-way variance components; 95 % generalized confidence interval of the true CV (normal drops and readings), \
                          lower limit above zero exactly where an F test tells at 5 %; coverage 93 to 98 % (simulated, two \
                          drops integrated) for 2 to 100 drops, 2 to 10 readings each or unequal numbers, true \
                          spread from zero to ten times the error of a reading";

/// What can be told about the true spread, and what cannot.
pub fn statement(spread: &Spread) -> String {
    let counts = format!("{} drops, {} readings", spread.n_drops, spread.n_readings);
    let (Some(observed), true) = (spread.cv_observed, spread.n_drops > 1) else {
        return format!("One drop has no spread ({counts}): nothing can be told about it.");
    };
    let (Some(truth), Some([lower, upper]), Some(reading)) =
        (spread.cv_true, spread.cv_true_interval95, spread.sd_measurement_m)
    else {
        return format!(
            "The observed CV is {} ({counts}). With one reading a drop it cannot be told how much of it is measurement: the true CV \
             may be anything up to it. Read at least some drops again without looking at the first reading, or give the error of a \
             reading.",
            percent(observed)
        );
    };
    let reading = percent(reading / spread.mean_m);
    if lower > 0.0 {
        return format!(
            "True CV {} (95 % interval {} to {}; {counts}); the observed CV {} holds an error of {reading} a reading.",
            percent(truth),
            percent(lower),
            percent(upper),
            percent(observed)
        );
    }
    format!(
        "Cannot be told from measurement uncertainty: readings that scatter by {reading} explain the observed CV of {} ({counts}); the \
         true CV is below {} (97.5 %).{}",
        percent(observed),
        percent(upper),
        spread.needed.as_ref().map_or(String::new(), |needed| enough(needed, spread.n_drops))
    )
}

fn enough(needed: &Needed, drops: usize) -> String {
    let readings = needed.readings_per_drop.map(|n| format!("{n} readings of each of these {drops} drops"));
    let more = needed.drops.map(|k| format!("{} readings of each of {k} drops", needed.readings_at_drops));
    let ways: Vec<String> = readings.into_iter().chain(more).collect();
    if ways.is_empty() {
        return format!(
            " No practical number of readings would detect a true CV of {}: measure better instead.",
            percent(needed.cv)
        );
    }
    format!(
        " A true CV of {} would be detected in {:.0} of 100 tries with {}.",
        percent(needed.cv),
        100.0 * POWER,
        ways.join(", or ")
    )
}

/// Three significant digits.
fn percent(share: f64) -> String {
    let value = 100.0 * share;
    let digits = match value {
        v if v >= 100.0 => 0,
        v if v >= 10.0 => 1,
        v if v >= 1.0 => 2,
        _ => 3,
    };
    format!("{value:.digits$} %")
}
