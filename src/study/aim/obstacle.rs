//! What stands in the way of a wish, and from which value on it does not.
//!
//! ```text
//! the combination nearest to the wish -> the ends of the searched flow left out, and one key of the glass after another changed, the
//! nearest factors first, then halved -> else the guide for pressure left out -> whatever lets coarse runs near the wish is aimed at
//! ```
//! Equation: none; a value is told where coarse runs of [`super::aim`] meet the wish there, rounded to two digits away from the value
//! that does not.
//!
//! Holds for: one key at a time, changed up to ten times.

use super::choose::{Choice, Looked, Settings, looked, within_means};
use super::scout::EFFORT;
use super::{DROPS, Wish, aim, bounds, flow_of, searches_outer};
use crate::case::{Case, keys};
use crate::limits::figure;
use crate::study::StudyError;
use crate::study::evaluate::{Ask, Length, quick};
use crate::study::map::fill::in_parallel;
use serde::Serialize;

/// What stands in the way of a wish, and from which value on it would not.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Obstacle {
    /// A key of the case, or `pressure`: the guide for the inlets.
    pub key: String,
    /// SI.
    pub needed: f64,
    pub text: String,
}

/// Factors by which a key that stands in the way is tried, the nearest first, and halvings of the last of them.
const FACTORS: [f64; 8] = [0.7, 1.4, 0.5, 2.0, 0.25, 4.0, 0.1, 10.0];
const HALVINGS: usize = 3;
/// Combinations, the nearest first, whose flow is freed of its ends or of the guide for pressure.
const FREED: usize = 3;
/// Keys that are looked at.
const GLASS: [&str; 6] = [
    "device.tip_bore",
    "device.round_bore",
    "device.square_bore",
    "device.orifice_bore",
    "device.collection_bore",
    "device.standoff",
];

/// What stands in the way of the combination nearest to the wish.
pub(super) fn obstacle(
    case: &Case,
    wish: &Wish,
    choices: &[Choice],
    looks: &[Looked],
    ask: Ask<'_>,
    threads: usize,
) -> Result<Option<Obstacle>, StudyError> {
    let mut order: Vec<&Looked> = looks.iter().collect();
    order.sort_by(|a, b| a.seen.off.total_cmp(&b.seen.off));
    let chosen: Vec<Settings> = order
        .iter()
        .map(|l| {
            let own = |(name, _): &(&String, &f64)| choices.iter().any(|c| c.key == **name);
            l.settings.iter().filter(own).map(|(k, v)| (k.clone(), *v)).collect()
        })
        .collect();
    let site = Site { case, wish, ask };
    let nearest = &chosen[..chosen.len().min(FREED)];
    let none = Settings::new();
    let flow = site.first(nearest, Site::flow)?;
    let glass = site.glass(chosen.first().unwrap_or(&none), threads)?;
    match (flow, glass) {
        (Some(flow), Some(glass)) => Ok(Some(Obstacle { text: format!("{}; or {}", flow.text, glass.text), ..flow })),
        (Some(found), None) | (None, Some(found)) => Ok(Some(found)),
        (None, None) => site.first(nearest, Site::pressure),
    }
}

/// Where an obstacle is looked for.
pub(super) struct Site<'a> {
    pub case: &'a Case,
    pub wish: &'a Wish,
    pub ask: Ask<'a>,
}

type Way<'a> = fn(&Site<'a>, &Settings) -> Result<Option<Obstacle>, StudyError>;

impl<'a> Site<'a> {
    fn first(&self, combinations: &[Settings], way: Way<'a>) -> Result<Option<Obstacle>, StudyError> {
        for settings in combinations {
            if let Some(found) = way(self, settings)? {
                return Ok(Some(found));
            }
        }
        Ok(None)
    }

    /// The ends between which the searched flow must lie.
    fn flow(&self, settings: &Settings) -> Result<Option<Obstacle>, StudyError> {
        let Some([low, high]) = self.wish.range else { return Ok(None) };
        let freed = Wish { range: None, ..*self.wish };
        let Some(glass) = self.met(settings, &freed)? else { return Ok(None) };
        let flow = flow_of(&glass);
        let above = flow > high;
        let needed = rounded(flow, above);
        let range = if above { [low, needed] } else { [needed, high] };
        if !self.meets(settings, &Wish { range: Some(range), ..*self.wish })? {
            return Ok(None);
        }
        let (key, end) =
            (if searches_outer(&glass) { "outer.flow" } else { "inner.flow" }, if above { high } else { low });
        let at_hand = if above { "at most" } else { "at least" };
        Ok(Some(told(key, (end, needed), above, at_hand)))
    }

    /// The guide for the inlets' pressures.
    pub fn pressure(&self, settings: &Settings) -> Result<Option<Obstacle>, StudyError> {
        let Some(guide) = self.wish.pressure else { return Ok(None) };
        let freed = Wish { pressure: None, ..*self.wish };
        let Some(glass) = self.met(settings, &freed)? else { return Ok(None) };
        let highest = bounds::highest(&glass);
        // A search that ends at a guide needs some room before it.
        let needed = rounded(1.1 * highest, true);
        if highest <= guide || !self.meets(settings, &Wish { pressure: Some(needed), ..*self.wish })? {
            return Ok(None);
        }
        let text = format!(
            "inlets at up to {} bar, here the guide is {} bar: a matter of what glass, joints and tubing are rated for and of the \
             laboratory's own rules, not of this estimate",
            figure(needed / 1e5),
            figure(guide / 1e5)
        );
        Ok(Some(Obstacle { key: "pressure".into(), needed, text }))
    }

    /// One key of the glass after another. The nearest factors first: whatever meets the wish there ends the search.
    fn glass(&self, chosen: &Settings, threads: usize) -> Result<Option<Obstacle>, StudyError> {
        let here = |name: &str| chosen.get(name).copied().or_else(|| self.case.value(name));
        for factors in FACTORS.chunks(2) {
            let tasks: Vec<(&str, f64, f64)> = factors
                .iter()
                .flat_map(|factor| GLASS.iter().map(move |name| (*name, *factor)))
                .filter_map(|(name, factor)| Some((name, here(name)?, factor)))
                .collect();
            let near = in_parallel(threads, &tasks, |(name, own, factor)| {
                self.near(&with(chosen, name, own * factor), self.wish)
            })?;
            let near: Vec<Option<Case>> = near.into_iter().collect::<Result<_, _>>()?;
            for ((name, own, factor), _) in tasks.iter().zip(&near).filter(|(_, near)| near.is_some()) {
                let (mut bad, mut good) = (*own, own * factor);
                for _ in 0..HALVINGS {
                    let middle = (bad * good).sqrt();
                    let met = self.near(&with(chosen, name, middle), self.wish)?.is_some();
                    if met { good = middle } else { bad = middle }
                }
                // Near is not met: then some way on, or all of it.
                for value in [good, (good * own * factor).sqrt(), own * factor] {
                    let needed = rounded(value, *factor > 1.0);
                    if self.meets(&with(chosen, name, needed), self.wish)? {
                        return Ok(Some(told(name, (*own, needed), *factor > 1.0, "")));
                    }
                }
            }
        }
        Ok(None)
    }

    /// The glass at the flow at which short coarse runs come near the wish.
    pub fn near(&self, settings: &Settings, wish: &Wish) -> Result<Option<Case>, StudyError> {
        Ok(looked(self.case, settings, wish, EFFORT, self.ask)?.seen.case)
    }

    /// The glass at the flow at which coarse runs meet the wish.
    fn met(&self, settings: &Settings, wish: &Wish) -> Result<Option<Case>, StudyError> {
        let Some(glass) = self.near(settings, wish)? else { return Ok(None) };
        let capped = |case: &Case, length: Length| within_means(case, length, self.ask);
        match aim(&quick(&glass, DROPS), &Wish { margins: false, ..*wish }, &capped, 1) {
            Ok((_, found)) => Ok(found),
            Err(why @ StudyError::Interrupted) => Err(why),
            Err(_) => Ok(None),
        }
    }

    fn meets(&self, settings: &Settings, wish: &Wish) -> Result<bool, StudyError> {
        self.met(settings, wish).map(|found| found.is_some())
    }
}

fn with(settings: &Settings, name: &str, value: f64) -> Settings {
    let mut settings = settings.clone();
    settings.insert(name.into(), value);
    settings
}

fn told(name: &str, (own, needed): (f64, f64), above: bool, at_hand: &str) -> Obstacle {
    let about = keys::find(name).map_or(name, |key| key.about);
    let side = if above { "above" } else { "below" };
    let shown = |si: f64| match name {
        "inner.flow" | "outer.flow" => format!("{} mL/h", figure(3.6e9 * si)),
        _ => format!("{} um", figure(1e6 * si)),
    };
    let here = format!("{at_hand} {}", shown(own));
    let text = format!("{about} ({name}) {side} {}, here {}", shown(needed), here.trim_start());
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
