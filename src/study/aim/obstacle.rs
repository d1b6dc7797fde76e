//! Which key of the glass stands in the way of a wish, and from which value on it does not.
//!
//! ```text
//! the combination nearest to the wish -> one key after another changed, the nearest factors first -> halved -> aimed at
//! ```
//! Equation: none; a value is told where coarse runs of [`super::aim`] meet the wish there, rounded to two digits away from the value
//! that does not.
//!
//! Holds for: one key at a time, changed up to four times.

use super::choose::{Choice, Looked, Settings, looked};
use super::scout::EFFORT;
use super::{DROPS, Wish, aim};
use crate::case::{Case, keys};
use crate::study::StudyError;
use crate::study::evaluate::{Ask, quick};
use crate::study::map::fill::in_parallel;
use serde::Serialize;

/// What stands in the way of a wish, and from which value on it would not.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Obstacle {
    pub key: String,
    /// SI.
    pub needed: f64,
    pub text: String,
}

/// Factors by which a key that stands in the way is tried, the nearest first, and halvings of the last of them.
const FACTORS: [f64; 6] = [0.7, 1.4, 0.5, 2.0, 0.25, 4.0];
const HALVINGS: usize = 3;
/// Keys that are looked at.
const GLASS: [&str; 6] = [
    "device.tip_bore",
    "device.round_bore",
    "device.square_bore",
    "device.orifice_bore",
    "device.collection_bore",
    "device.standoff",
];

/// The key that stands in the way of the combination nearest to the wish.
pub(super) fn obstacle(
    case: &Case,
    wish: &Wish,
    choices: &[Choice],
    looks: &[Looked],
    ask: Ask<'_>,
    threads: usize,
) -> Result<Option<Obstacle>, StudyError> {
    let nearest = looks.iter().min_by(|a, b| a.seen.off.total_cmp(&b.seen.off));
    let chosen: Settings = nearest.map_or(Settings::new(), |l| {
        let own = |(name, _): &(&String, &f64)| choices.iter().any(|c| c.key == **name);
        l.settings.iter().filter(own).map(|(k, v)| (k.clone(), *v)).collect()
    });
    let here = |name: &str| chosen.get(name).copied().or_else(|| case.value(name));
    let with = |name: &str, value: f64| {
        let mut settings = chosen.clone();
        settings.insert(name.into(), value);
        settings
    };
    let tasks: Vec<(&str, f64, f64)> = FACTORS
        .iter()
        .flat_map(|factor| GLASS.iter().map(move |name| (*name, *factor)))
        .filter_map(|(name, factor)| Some((name, here(name)?, factor)))
        .collect();
    // The nearest factors first: whatever meets the wish there ends the search.
    for factors in FACTORS.chunks(2) {
        let now: Vec<&(&str, f64, f64)> = tasks.iter().filter(|t| factors.contains(&t.2)).collect();
        let found = in_parallel(threads, &now, |(name, own, factor)| {
            looked(case, &with(name, own * factor), wish, EFFORT, ask)
        })?;
        let found: Vec<Looked> = found.into_iter().collect::<Result<_, _>>()?;
        for ((name, own, factor), look) in now.into_iter().zip(&found) {
            if look.seen.case.is_none() {
                continue;
            }
            let (mut bad, mut good) = (*own, own * factor);
            for _ in 0..HALVINGS {
                let middle = (bad * good).sqrt();
                let met = looked(case, &with(name, middle), wish, EFFORT, ask)?.seen.case.is_some();
                if met { good = middle } else { bad = middle }
            }
            let needed = rounded(good, *factor > 1.0);
            if meets(case, &with(name, needed), wish, ask)? {
                return Ok(Some(told(name, *own, needed, *factor > 1.0)));
            }
        }
    }
    Ok(None)
}

/// Whether coarse runs meet the wish with these settings.
fn meets(case: &Case, settings: &Settings, wish: &Wish, ask: Ask<'_>) -> Result<bool, StudyError> {
    let Some(glass) = looked(case, settings, wish, EFFORT, ask)?.seen.case else { return Ok(false) };
    Ok(aim(&quick(&glass, DROPS), &Wish { margins: false, ..*wish }, ask, 1)?.0.found)
}

fn told(name: &str, own: f64, needed: f64, above: bool) -> Obstacle {
    let about = keys::find(name).map_or(name, |key| key.about);
    let side = if above { "above" } else { "below" };
    let um = |m: f64| format!("{} um", crate::limits::figure(1e6 * m));
    let text = format!("{about} ({name}) {side} {}, here {}", um(needed), um(own));
    Obstacle { key: name.into(), needed, text }
}

/// Two significant digits, up or down.
fn rounded(value: f64, up: bool) -> f64 {
    // Away from what is known not to go, but not for the last bit of what has two digits already.
    let unit = 10f64.powi(value.log10().floor() as i32 - 1);
    let digits = value / unit;
    (if up { (digits - 1e-6).ceil() } else { (digits + 1e-6).floor() }) * unit
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn values_are_rounded_to_the_side_that_goes() {
        assert_relative_eq!(rounded(183.4e-6, false), 180e-6, max_relative = 1e-12);
        assert_relative_eq!(rounded(183.4e-6, true), 190e-6, max_relative = 1e-12);
        assert_relative_eq!(rounded(25e-6, true), 25e-6, max_relative = 1e-12);
        assert_relative_eq!(rounded(25e-6, false), 25e-6, max_relative = 1e-12);
    }
}
