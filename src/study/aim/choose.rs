//! Which glass gives a wished drop: designs simulated, and ranked by what their inputs may drift.
//!
//! ```text
//! values that can be made -> coarse search of the flows in each combination -> slopes -> the best few at the case's own accuracy
//! ```
//! Equation: a design's score is the least of |margin|/tolerance over its inputs and both directions: 1 is a design that leaves the
//! wish just at the edge of a tolerance. Before margins are run, `0.05/(|d ln d/d ln x| t)` stands in for it.
//!
//! Symbols: t relative tolerance of input x (-), as the case says it, else [`tolerance`].
//!
//! Holds for: what [`super::aim`] and [`crate::study::margins`] hold for.

use super::{Aimed, DROPS, Wish, aim, bounds};
use crate::case::glass::Pressures;
use crate::case::{Case, keys};
use crate::outcome::{Established, Primary, Satellites, Size};
use crate::study::crossings::key;
use crate::study::evaluate::{Ask, Counted, INTERRUPTED, quick};
use crate::study::map::fill::in_parallel;
use crate::study::margins::{DIAMETER_BAND, Input, Margin};
use serde::Serialize;
use std::collections::BTreeMap;

/// A key and the SI values that can be made of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    pub key: String,
    pub values: Vec<f64>,
}

/// SI values by key.
pub type Settings = BTreeMap<String, f64>;

/// Pressures above the outlet.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Inlets {
    pub inner_pa: f64,
    pub outer_pa: Option<f64>,
}

/// A simulated design.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Design {
    /// The chosen keys, what follows them, and the flows.
    pub settings: Settings,
    pub predicted: Primary,
    pub satellites: Option<Satellites>,
    pub mode: String,
    pub established: Option<Established>,
    /// Where the diameter of a bench drop is expected to lie.
    pub size: Option<Size>,
    pub accuracy: String,
    pub diameter_error: Option<f64>,
    pub rate_error: Option<f64>,
    /// Relative changes by key.
    pub margins: BTreeMap<String, [f64; 2]>,
    #[serde(skip)]
    pub margins_told: Vec<Margin>,
    pub pressure: Option<Inlets>,
    /// Time to make a millilitre of drops.
    pub seconds_per_ml: f64,
    pub score: f64,
    /// The margin that sets the score.
    pub limited_by: String,
    pub warnings: Vec<crate::outcome::Warning>,
}

/// A combination that was tried.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct TriedGlass {
    pub settings: Settings,
    /// Whether coarse runs met the wish.
    pub found: bool,
    pub reason: String,
    pub mean_diameter_m: Option<f64>,
}

/// What stands in the way of a wish, and from which value on it would not.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Obstacle {
    pub key: String,
    /// SI.
    pub needed: f64,
    pub text: String,
}

/// The answer; with that of the best design it makes `aim --choose --json`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Chosen {
    pub found: bool,
    pub reason: String,
    /// Best first.
    pub designs: Vec<Design>,
    pub tried: Vec<TriedGlass>,
    pub obstacle: Option<Obstacle>,
    pub evaluations: usize,
}

/// Combinations searched at most, and designs told.
const COMBINATIONS_MAX: usize = 36;
const DESIGNS: usize = 3;
/// Factors by which a key that stands in the way is tried, the nearest first, and halvings of the last of them.
const FACTORS: [f64; 6] = [0.7, 1.4, 0.5, 2.0, 0.25, 4.0];
const HALVINGS: usize = 3;
/// A search of the flows keeps outer velocities where the bore changes.
const AREA: i32 = 2;

/// Tolerance of an input that the case tells none of (common practice, no source).
pub fn tolerance(case: &Case, input: Input) -> f64 {
    let told = case.typed.iter().find(|t| t.key == key(case, input)).and_then(|t| t.tolerance).filter(|t| *t > 0.0);
    told.unwrap_or(match input {
        Input::InnerFlow | Input::OuterFlow => 0.02,
        Input::Tension => 0.1,
        Input::Tip => 0.03,
    })
}

/// The combinations of all choices, thinned where they are too many.
pub fn combinations(choices: &[Choice]) -> Vec<Settings> {
    let mut lists: Vec<Vec<f64>> = choices.iter().map(|c| c.values.clone()).collect();
    while lists.iter().map(Vec::len).product::<usize>() > COMBINATIONS_MAX {
        let Some(longest) = lists.iter_mut().max_by_key(|list| list.len()) else { break };
        // Every other value; the last one stays.
        let last = longest.len() - 1;
        *longest = longest.iter().enumerate().filter(|(i, _)| i % 2 == last % 2).map(|(_, v)| *v).collect();
    }
    let mut all = vec![Settings::new()];
    for (choice, list) in choices.iter().zip(&lists) {
        let with = |settings: &Settings, value: f64| {
            let mut settings = settings.clone();
            settings.insert(choice.key.clone(), value);
            settings
        };
        all = all.iter().flat_map(|s| list.iter().map(move |v| with(s, *v))).collect();
    }
    all
}

/// What people write for a value of a key.
fn written(name: &str, si: f64) -> String {
    let trimmed = |text: String| text.trim_end_matches('0').trim_end_matches('.').to_owned();
    match name {
        "inner.flow" | "outer.flow" => super::start::written(si),
        _ => format!("{} um", trimmed(format!("{:.4}", 1e6 * si))),
    }
}

/// The case with these keys, and with what follows them where it is not chosen itself: a tip's and a capillary's outside, and the
/// outer flow the search begins with.
fn made(case: &Case, settings: &Settings) -> Result<(Case, Settings), String> {
    let mut all = settings.clone();
    let d = &case.device;
    let mut follow = |leader: &str, own: Option<f64>, follower: &str, value: Option<f64>, power: i32| {
        if let (Some(chosen), Some(own), Some(value)) = (settings.get(leader), own, value)
            && !settings.contains_key(follower)
        {
            all.insert(follower.into(), value * (chosen / own).powi(power));
        }
    };
    let bore = match d.bore {
        crate::case::Bore::Square(width) | crate::case::Bore::Round(width) => Some(width),
        crate::case::Bore::Unbounded => None,
    };
    let outer = case.outer.as_ref().map(|o| o.flow).filter(|flow| *flow > 0.0);
    follow("device.tip_bore", Some(d.tip_bore), "device.tip_outer", d.tip_outer, 1);
    for leader in ["device.square_bore", "device.round_bore"] {
        follow(leader, bore, "device.round_outer", d.round_outer, 1);
        follow(leader, bore, "outer.flow", outer, AREA);
    }
    follow("device.orifice_bore", d.orifice.map(|o| o.bore), "outer.flow", outer, AREA);
    // All at once: one after another they might not fit each other on the way.
    let arguments: Vec<String> = all.iter().map(|(name, si)| format!("{name}={}", written(name, *si))).collect();
    let base = if case.text.is_empty() { case.with("inner.flow", case.inner.flow) } else { Ok(case.clone()) };
    let found = base.and_then(|base| crate::case::parse_with(&base.text, "design", &arguments));
    match found {
        Ok(mut found) => {
            found.run = case.run;
            Ok((found, all))
        }
        Err(errors) => {
            let first = errors.problems.first().map(|p| format!("{}: {}; {}", p.key, p.found, p.right));
            Err(first.unwrap_or_else(|| "is no case".into()))
        }
    }
}

/// A coarse search in one combination.
struct Probe {
    tried: TriedGlass,
    /// The case with its flows, where they were found.
    case: Option<Case>,
    /// ln of the nearest diameter over the wish.
    off: f64,
}

fn probe(case: &Case, settings: &Settings, wish: &Wish, ask: Ask<'_>) -> Result<Probe, String> {
    let failed = |settings: Settings, reason: String| {
        Ok(Probe {
            tried: TriedGlass { settings, found: false, reason, mean_diameter_m: None },
            case: None,
            off: f64::INFINITY,
        })
    };
    let (glass, settings) = match made(case, settings) {
        Ok(made) => made,
        Err(why) => return failed(settings.clone(), why),
    };
    if let Some((most, place)) = bounds::widest(&glass).filter(|(most, _)| wish.diameter > *most) {
        return failed(settings, format!("{place} takes drops up to {:.1} um", 1e6 * most));
    }
    let coarse = Wish { margins: false, ..*wish };
    let (aimed, found) = aim(&quick(&glass, DROPS), &coarse, ask, 1)?;
    let size = aimed.predicted.as_ref().and_then(|p| p.mean_diameter_m);
    let tried = TriedGlass { settings, found: aimed.found, reason: aimed.reason, mean_diameter_m: size };
    let case = found.map(|found| {
        let mut glass = glass;
        glass.inner.flow = found.inner.flow;
        if let (Some(outer), Some(own)) = (glass.outer.as_mut(), found.outer) {
            outer.flow = own.flow;
        }
        glass
    });
    Ok(Probe { tried, case, off: size.map_or(f64::INFINITY, |d| (d / wish.diameter).ln().abs()) })
}

/// The stand-in for the score, by one coarse run an input.
fn promise(case: &Case, ask: &Counted<'_>) -> Result<f64, String> {
    let base = quick(case, DROPS);
    let answer = |case: &Case| match ask.ask_affordable(case) {
        Ok(outcome) => Ok(Some(outcome.summary)),
        Err(why) if why == INTERRUPTED => Err(why),
        Err(_) => Ok(None),
    };
    let Some(own) = answer(&base)? else { return Ok(0.0) };
    let mut least = f64::INFINITY;
    for input in Input::of(case) {
        let t = tolerance(case, input);
        let moved = answer(&input.scaled(&base, 1.0 + t))?;
        let size = |s: &crate::outcome::Summary| s.primary.mean_diameter_m;
        let change = match moved.as_ref().filter(|m| m.mode == own.mode).and_then(size).zip(size(&own)) {
            Some((there, here)) => (there / here).ln().abs(),
            None => return Ok(0.0),
        };
        least = least.min(DIAMETER_BAND / change.max(1e-6));
    }
    Ok(least)
}

/// Designs of a wish among choices of glass and flows, best first, and the cases that go with them.
///
/// # Errors
/// Where the layout has no flow to aim with, the runs were interrupted, or threads cannot be started.
pub fn choose(
    case: &Case,
    wish: &Wish,
    choices: &[Choice],
    ask: Ask<'_>,
    threads: usize,
) -> Result<(Chosen, Vec<Case>), String> {
    let counted = Counted::new(ask);
    let count = |case: &Case, length| counted.ask_for(case, length);
    let all = combinations(choices);
    let probes = in_parallel(threads, &all, |settings| probe(case, settings, wish, &count))?;
    let probes: Vec<Probe> = probes.into_iter().collect::<Result<_, _>>()?;
    let good: Vec<&Case> = probes.iter().filter_map(|p| p.case.as_ref()).collect();
    let promises = in_parallel(threads, &good, |case| promise(case, &counted))?;
    let promises: Vec<f64> = promises.into_iter().collect::<Result<_, _>>()?;
    let mut order: Vec<usize> = (0..good.len()).collect();
    order.sort_by(|a, b| promises[*b].total_cmp(&promises[*a]));
    let mut designs: Vec<(Design, Case)> = Vec::new();
    for i in order {
        if designs.len() == DESIGNS {
            break;
        }
        let (aimed, found) = aim(good[i], &Wish { margins: true, ..*wish }, &count, threads)?;
        designs.extend(found.and_then(|found| Some((design(&aimed, &found, choices)?, found))));
    }
    designs.sort_by(|a, b| b.0.score.total_cmp(&a.0.score));
    let obstacle = if designs.is_empty() { obstacle(case, wish, choices, &probes, &count, threads)? } else { None };
    let (designs, cases): (Vec<Design>, Vec<Case>) = designs.into_iter().unzip();
    let tried: Vec<TriedGlass> = probes.into_iter().map(|p| p.tried).collect();
    let met = tried.iter().filter(|t| t.found).count();
    let reason = match (designs.is_empty(), &obstacle) {
        (false, _) => {
            format!("{met} of {} combinations meet the wish in coarse runs; the best were simulated", tried.len())
        }
        (true, Some(obstacle)) => {
            format!("none of {} combinations meets the wish; it would take {}", tried.len(), obstacle.text)
        }
        (true, None) => format!(
            "none of {} combinations meets the wish, and no single key changed up to four times makes one",
            tried.len()
        ),
    };
    Ok((Chosen { found: !designs.is_empty(), reason, designs, tried, obstacle, evaluations: counted.count() }, cases))
}

fn design(aimed: &Aimed, case: &Case, choices: &[Choice]) -> Option<Design> {
    let mut settings = Settings::new();
    for t in &case.typed {
        let follows = ["device.tip_outer", "device.round_outer"].contains(&t.key.as_str());
        if follows || choices.iter().any(|c| c.key == t.key) {
            settings.insert(t.key.clone(), t.si);
        }
    }
    settings.insert("inner.flow".into(), case.inner.flow);
    settings.extend(case.outer.as_ref().filter(|o| o.flow > 0.0).map(|o| ("outer.flow".to_owned(), o.flow)));
    let (mut score, mut limited_by) = (f64::INFINITY, String::from("nothing up to 50 %"));
    for m in &aimed.margins {
        let t = tolerance(case, m.input);
        for side in [&m.down, &m.up] {
            if side.change.abs() / t < score {
                score = side.change.abs() / t;
                limited_by = format!("{} {:+.1} %: {}", key(case, m.input), 100.0 * side.change, side.end.words());
            }
        }
    }
    Some(Design {
        settings,
        predicted: aimed.predicted.clone()?,
        satellites: aimed.satellites.clone(),
        mode: aimed.mode.clone()?,
        established: aimed.established.clone(),
        size: aimed.size.clone(),
        accuracy: aimed.accuracy.clone(),
        diameter_error: aimed.diameter_error,
        rate_error: aimed.rate_error,
        margins: aimed.margins.iter().map(|m| (key(case, m.input).to_owned(), [m.down.change, m.up.change])).collect(),
        margins_told: aimed.margins.clone(),
        pressure: Pressures::of(case).map(|p| Inlets { inner_pa: p.inner.total, outer_pa: p.outer.map(|o| o.total) }),
        seconds_per_ml: 1e-6 / case.inner.flow,
        score,
        limited_by,
        warnings: aimed.warnings.clone(),
    })
}

/// The key that stands in the way of the combination nearest to the wish, with the value from which on it does not.
fn obstacle(
    case: &Case,
    wish: &Wish,
    choices: &[Choice],
    probes: &[Probe],
    ask: Ask<'_>,
    threads: usize,
) -> Result<Option<Obstacle>, String> {
    let nearest = probes.iter().min_by(|a, b| a.off.total_cmp(&b.off));
    let chosen: Settings = nearest.map_or(Settings::new(), |p| {
        p.tried
            .settings
            .iter()
            .filter(|(name, _)| choices.iter().any(|c| c.key == **name))
            .map(|(k, v)| (k.clone(), *v))
            .collect()
    });
    let glass = ["square_bore", "round_bore", "tip_bore", "orifice_bore", "collection_bore", "standoff"];
    let mut tasks: Vec<(String, f64, f64)> = Vec::new();
    for name in glass.map(|name| format!("device.{name}")) {
        let own = chosen.get(&name).copied().or_else(|| case.typed.iter().find(|t| t.key == name).map(|t| t.si));
        tasks.extend(own.into_iter().flat_map(|own| FACTORS.map(|factor| (name.clone(), own, factor))));
    }
    let with = |name: &str, value: f64| {
        let mut settings = chosen.clone();
        settings.insert(name.into(), value);
        settings
    };
    // The nearest factors first: whatever meets the wish there ends the search.
    for factors in FACTORS.chunks(2) {
        let now: Vec<&(String, f64, f64)> = tasks.iter().filter(|t| factors.contains(&t.2)).collect();
        let found =
            in_parallel(threads, &now, |(name, own, factor)| probe(case, &with(name, own * factor), wish, ask))?;
        let found: Vec<Probe> = found.into_iter().collect::<Result<_, _>>()?;
        let Some(at) = found.iter().position(|p| p.case.is_some()) else { continue };
        let (name, own, factor) = now[at];
        let (mut bad, mut good) = (*own, own * factor);
        for _ in 0..HALVINGS {
            let middle = (bad * good).sqrt();
            let met = probe(case, &with(name, middle), wish, ask)?.case.is_some();
            if met { good = middle } else { bad = middle }
        }
        let about = keys::find(name).map_or(name.as_str(), |key| key.about);
        let side = if *factor > 1.0 { "above" } else { "below" };
        let text = format!("{about} ({name}) {side} {:.3} um, here {:.3} um", 1e6 * good, 1e6 * own);
        return Ok(Some(Obstacle { key: name.clone(), needed: good, text }));
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::parse;
    use crate::outcome::Outcome;
    use crate::study::evaluate::Length;
    use crate::study::synthetic;

    const TEXT: &str = "layout = \"coflow\"
[inner]
viscosity = \"5 mPa.s\"
density = \"800 kg/m3\"
flow = \"100 uL/h\"
[outer]
viscosity = \"1 mPa.s\"
density = \"1000 kg/m3\"
flow = \"5 mL/h\"
[interface]
tension = \"10 mN/m\"
[device]
round_bore = \"800 um\"
tip_bore = \"40 um\"
tip_outer = \"50 um\"
[run]
accuracy = \"coarse\"
";

    /// Invented: a size that falls with the outer velocity, down to the tip's own diameter and no further.
    fn invented(case: &Case, _: Length) -> Result<Outcome, String> {
        let bore = match case.device.bore {
            crate::case::Bore::Round(d) | crate::case::Bore::Square(d) => d,
            crate::case::Bore::Unbounded => 1.0,
        };
        let speed = case.outer.as_ref().map_or(0.0, |o| o.flow) / (bore * bore);
        let tip = case.device.tip_bore;
        let d = tip * (1.0 + 2.0 * (2e-3 / speed).powf(0.5) * (case.tension / 0.01).powf(0.3));
        Ok(synthetic::outcome(case, crate::outcome::Mode::Dripping, Some(d), 0.0))
    }

    fn wish(diameter: f64) -> Wish {
        Wish { diameter, rate: None, no_satellites: false, pressure: Some(3e5), margins: true }
    }

    #[test]
    fn designs_meet_the_wish_and_come_best_first() {
        let case = parse(TEXT, "invented").unwrap_or_else(|e| panic!("{e}"));
        let choices = [
            Choice { key: "device.tip_bore".into(), values: vec![10e-6, 20e-6, 40e-6, 80e-6] },
            Choice { key: "device.round_bore".into(), values: vec![400e-6, 800e-6] },
        ];
        let (found, cases) = choose(&case, &wish(60e-6), &choices, &invented, 2).expect("an answer");
        assert!(found.found && found.designs.len() == DESIGNS && found.tried.len() == 8, "{}", found.reason);
        assert!(found.designs.windows(2).all(|pair| pair[0].score >= pair[1].score));
        for (design, case) in found.designs.iter().zip(&cases) {
            assert!(design.diameter_error.is_some_and(|e| e.abs() < 0.02), "{design:?}");
            let tip = design.settings["device.tip_bore"];
            // The rim follows the bore: 50 um at 40 um.
            assert!((design.settings["device.tip_outer"] / tip - 1.25).abs() < 1e-6, "{:?}", design.settings);
            assert_eq!(case.inner.flow, design.settings["inner.flow"]);
            assert!((design.seconds_per_ml * case.inner.flow - 1e-6).abs() < 1e-15);
        }
        // Drops of 80 um and more from the widest tip only.
        assert!(found.tried.iter().filter(|t| t.settings["device.tip_bore"] > 60e-6).all(|t| !t.found));
    }

    #[test]
    fn an_impossible_wish_names_what_stands_in_its_way() {
        let case = parse(TEXT, "invented").unwrap_or_else(|e| panic!("{e}"));
        let choices = [Choice { key: "device.round_bore".into(), values: vec![400e-6, 800e-6] }];
        // No drop below its tip of 40 um: one of 30 um takes a tip below 30 um.
        let (found, cases) = choose(&case, &wish(30e-6), &choices, &invented, 2).expect("an answer");
        assert!(!found.found && cases.is_empty());
        let obstacle = found.obstacle.expect("an obstacle");
        assert_eq!(obstacle.key, "device.tip_bore");
        assert!(obstacle.needed < 30e-6 && obstacle.needed > 15e-6, "{obstacle:?}");
        assert!(found.reason.contains("below"), "{}", found.reason);
    }

    #[test]
    fn combinations_are_thinned_and_keep_their_ends() {
        let choice = |key: &str, n: usize| Choice { key: key.into(), values: (1..=n).map(|i| i as f64).collect() };
        let few = combinations(&[choice("a", 3), choice("b", 2)]);
        assert_eq!(few.len(), 6);
        let many = combinations(&[choice("a", 40), choice("b", 5)]);
        assert!(many.len() <= COMBINATIONS_MAX && many.len() > 10, "{}", many.len());
        assert!(many.iter().any(|s| s["a"] == 40.0) && many.iter().any(|s| s["b"] == 5.0));
    }
}
