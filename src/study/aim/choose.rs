//! Which glass gives a wished drop: every combination looked at, the best few simulated, ranked by what their inputs may drift.
//!
//! ```text
//! values that can be made -> a look at each combination (scout) -> slopes on paper, then of coarse runs -> the best few aimed at
//! and run at the case's own accuracy, with margins by coarse runs
//! ```
//! Equation: a design's score is the least of |margin|/tolerance over its inputs and both directions: 1 is a design that leaves the
//! wish just at the edge of a tolerance. Before margins are run, the promise of [`super::rank`] stands in for it.
//!
//! Symbols: tolerance of an input (-), as the case says it, else [`tolerance`].
//!
//! Holds for: what [`super::aim`] and [`crate::study::margins`] hold for. How many runs are made, and of what, does not depend on the
//! number of threads.

use super::obstacle::{Obstacle, obstacle};
use super::rank::ranked;
pub use super::rank::tolerance;
use super::scout::{self, Seen};
use super::{Aimed, DROPS, Wish, aim, searches_outer};
use crate::case::glass::Pressures;
use crate::case::{Case, CaseErrors};
use crate::outcome::{Established, Mode, Outcome, Primary, Satellites, Size};
use crate::study::crossings::key;
use crate::study::error::{self, StudyError};
use crate::study::evaluate::{Ask, Counted, Length, UNAFFORDABLE, quick};
use crate::study::map::fill::in_parallel;
use crate::study::margins::{self, Depth, Margin};
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};

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
    pub mode: Mode,
    pub established: Option<Established>,
    /// Where the diameter of a bench drop is expected to lie.
    pub size: Option<Size>,
    pub accuracy: String,
    pub diameter_error: Option<f64>,
    pub rate_error: Option<f64>,
    /// Relative changes by key, by coarse runs.
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
    /// Whether short coarse runs came near the wish.
    pub found: bool,
    pub reason: String,
    pub mean_diameter_m: Option<f64>,
    pub satellite_volume_fraction: Option<f64>,
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
    /// Where satellites are unwanted and no design is free of them: the combinations that no other one beats in both nearness of size
    /// and satellites, the nearest size first.
    pub trade_off: Vec<TriedGlass>,
    pub obstacle: Option<Obstacle>,
    pub evaluations: usize,
}

/// Combinations looked at at most, looked at twice, and designs told.
const COMBINATIONS_MAX: usize = 48;
const SECOND_LOOKS: usize = 6;
const DESIGNS: usize = 3;
/// Rounds of that many designs aimed at.
const ROUNDS: usize = 3;
/// Most work of a coarse run towards a design, or for its margins, cells times steps: four seconds.
const EFFORT_AIMED: u64 = 4_000_000;
/// The same of a run of a design at the case's own accuracy: ten drops of a long jet take ten million at `standard`.
const EFFORT_OWN: u64 = 40_000_000;
/// Once so much work is done, no further round begins where there is a design: two minutes.
const PURSE: u64 = 120_000_000;
/// Why a design is given up at the case's own accuracy.
const TOO_COSTLY: &str =
    "a run at the case's own accuracy takes more work than a design may (aim at this glass alone, without --choose)";
/// A search of the flows keeps outer velocities where the bore changes.
const AREA: i32 = 2;

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
fn made(case: &Case, settings: &Settings) -> Result<(Case, Settings), CaseErrors> {
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
    follow("device.orifice_bore", case.layout.orifice().map(|o| o.bore), "outer.flow", outer, AREA);
    // All at once: one after another they might not fit each other on the way.
    let arguments: Vec<String> = all.iter().map(|(name, si)| format!("{name}={}", written(name, *si))).collect();
    let base = if case.text.is_empty() { case.with("inner.flow", case.inner.flow) } else { Ok(case.clone()) };
    let found = base.and_then(|base| crate::case::parse_with(&base.text, "design", &arguments));
    found.map(|mut found| {
        found.run = case.run;
        (found, all)
    })
}

/// A combination and what was seen of it.
pub(super) struct Looked {
    pub settings: Settings,
    pub seen: Seen,
}

/// Looks at one combination.
pub(super) fn looked(
    case: &Case,
    settings: &Settings,
    wish: &Wish,
    effort: u64,
    ask: Ask<'_>,
) -> Result<Looked, StudyError> {
    let (settings, seen) = match made(case, settings) {
        Ok((glass, settings)) => (settings, scout::look(&glass, wish, effort, ask)?),
        Err(errors) => (settings.clone(), Seen::refused(error::first(&errors))),
    };
    Ok(Looked { settings, seen })
}

/// Work of a run in cells times steps, near enough for a purse: a thread has on average half of its most cells.
fn work(outcome: &Outcome) -> u64 {
    outcome.summary.cost.steps * outcome.summary.cost.cells_max as u64 / 2
}

/// The flow that is searched takes any value between its ends: those become part of the wish; the other choices are combined.
fn split(case: &Case, wish: &Wish, choices: &[Choice]) -> (Wish, Vec<Choice>) {
    let searched = if searches_outer(case) { "outer.flow" } else { "inner.flow" };
    let (flows, choices): (Vec<_>, Vec<_>) = choices.iter().cloned().partition(|c| c.key == searched);
    let ends = flows.first().and_then(|c| Some([*c.values.first()?, *c.values.last()?]));
    (Wish { range: ends.or(wish.range), ..*wish }, choices)
}

/// Looks at every `of`-th combination, from the `index`-th (counted from 1) on, for an asker that keeps the answers; their number.
///
/// # Errors
/// Where the runs were interrupted or threads cannot be started.
pub fn look_at_shard(
    case: &Case,
    wish: &Wish,
    choices: &[Choice],
    (index, of): (usize, usize),
    ask: Ask<'_>,
    threads: usize,
) -> Result<usize, StudyError> {
    let (wish, choices) = split(case, wish, choices);
    let all = combinations(&choices);
    let own: Vec<&Settings> = all.iter().skip(index - 1).step_by(of).collect();
    let looks = in_parallel(threads, &own, |settings| looked(case, settings, &wish, scout::EFFORT, ask))?;
    looks.into_iter().collect::<Result<Vec<_>, _>>().map(|looks| looks.len())
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
) -> Result<(Chosen, Vec<Case>), StudyError> {
    let counted = Counted::new(ask);
    let spent = AtomicU64::new(0);
    let count = |case: &Case, length| {
        let outcome = counted.ask_for(case, length)?;
        spent.fetch_add(work(&outcome), Ordering::Relaxed);
        Ok(outcome)
    };
    let (wish, choices) = split(case, wish, choices);
    let wish = &wish;
    let all = combinations(&choices);
    let looks = in_parallel(threads, &all, |settings| looked(case, settings, wish, scout::EFFORT, &count))?;
    let mut looks: Vec<Looked> = looks.into_iter().collect::<Result<_, _>>()?;
    if looks.iter().all(|l| l.seen.case.is_none()) {
        // Thin or long threads everywhere: a second look, with more work, at those that were nearest.
        let mut costly: Vec<usize> = (0..looks.len()).filter(|i| looks[*i].seen.costly).collect();
        costly.sort_by(|a, b| looks[*a].seen.off.total_cmp(&looks[*b].seen.off));
        costly.truncate(SECOND_LOOKS);
        let again = in_parallel(threads, &costly, |i| looked(case, &all[*i], wish, scout::EFFORT_MORE, &count))?;
        for (i, look) in costly.into_iter().zip(again) {
            looks[i] = look?;
        }
    }
    let order = ranked(&looks, wish, &count, threads)?;
    let mut designs: Vec<(Design, Case)> = Vec::new();
    let mut missed: Vec<String> = Vec::new();
    for round in order.chunks(DESIGNS).take(ROUNDS) {
        if designs.len() >= DESIGNS || !designs.is_empty() && spent.load(Ordering::Relaxed) > PURSE {
            break;
        }
        let aimed = in_parallel(threads, round, |(promise, case)| designed(case, *promise, wish, &choices, &count))?;
        for found in aimed {
            match found? {
                Designed::Met(design) => designs.push(*design),
                Designed::Missed(why) => missed.push(why),
            }
        }
    }
    designs.sort_by(|a, b| b.0.score.total_cmp(&a.0.score));
    designs.truncate(DESIGNS);
    let obstacle = if designs.is_empty() { obstacle(case, wish, &choices, &looks, &count, threads)? } else { None };
    let (designs, cases): (Vec<Design>, Vec<Case>) = designs.into_iter().unzip();
    let costly = looks.iter().filter(|l| l.seen.costly).count();
    let tried: Vec<TriedGlass> = looks.into_iter().map(told).collect();
    let near = tried.iter().filter(|t| t.found).count();
    let mut reason = match (designs.is_empty(), &obstacle, missed.first()) {
        (false, ..) => {
            format!("{near} of {} combinations come near the wish in short runs; the best were simulated", tried.len())
        }
        (true, Some(obstacle), _) => {
            format!("none of {} combinations meets the wish; it would take {}", tried.len(), obstacle.text)
        }
        (true, None, Some(why)) => {
            format!("{near} of {} combinations come near the wish, but none meets it: {why}", tried.len())
        }
        (true, None, None) => format!(
            "none of {} combinations meets the wish, and no single key changed up to four times makes one",
            tried.len()
        ),
    };
    if costly > 0 {
        reason.push_str(&format!(
            "; {costly} were left aside, since a run near the wish takes more work than a first look may spend there (aim at such a \
             glass alone, without --choose)"
        ));
    }
    let trade_off = if wish.no_satellites && designs.is_empty() { traded(&tried, wish.diameter) } else { Vec::new() };
    let found = !designs.is_empty();
    Ok((Chosen { found, reason, designs, tried, trade_off, obstacle, evaluations: counted.count() }, cases))
}

fn told(looked: Looked) -> TriedGlass {
    let Looked { settings, seen } = looked;
    TriedGlass {
        settings,
        found: seen.case.is_some(),
        reason: seen.reason,
        mean_diameter_m: seen.diameter,
        satellite_volume_fraction: seen.satellites,
    }
}

/// The combinations that no other one beats in both nearness of size and satellites, the nearest size first.
fn traded(tried: &[TriedGlass], wish: f64) -> Vec<TriedGlass> {
    let known = tried
        .iter()
        .filter_map(|t| Some(((t.mean_diameter_m? / wish).ln().abs(), t.satellite_volume_fraction?.max(0.0), t)));
    let mut known: Vec<(f64, f64, &TriedGlass)> = known.collect();
    known.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let mut least = f64::INFINITY;
    known.retain(|(_, share, _)| {
        let better = *share < least;
        least = least.min(*share);
        better
    });
    known.into_iter().map(|(.., t)| t.clone()).collect()
}

/// Asks for no more work than a design may take: where a run costs too much, the search has its wall there, and a side of a margin
/// its end.
pub(super) fn within_means(case: &Case, length: Length, ask: Ask<'_>) -> Result<Outcome, StudyError> {
    match length {
        Length::Whole => match ask(case, Length::AllDropsWithin(EFFORT_OWN))? {
            outcome if outcome.summary.stopped == UNAFFORDABLE => Err(StudyError::other(TOO_COSTLY)),
            outcome => Ok(outcome),
        },
        Length::AllDrops => ask(case, Length::AllDropsWithin(EFFORT_AIMED)),
        _ => ask(case, Length::Within(EFFORT_AIMED)),
    }
}

/// A glass that was aimed at: its design and case, or why the wish is not met.
enum Designed {
    Met(Box<(Design, Case)>),
    Missed(String),
}

/// Aims at one glass, and finds its margins by coarse runs.
fn designed(glass: &Case, promise: f64, wish: &Wish, choices: &[Choice], ask: Ask<'_>) -> Result<Designed, StudyError> {
    let capped = |case: &Case, length| within_means(case, length, ask);
    let (mut aimed, found) = match aim(glass, &Wish { margins: false, ..*wish }, &capped, 1) {
        Ok((aimed, Some(found))) => (aimed, found),
        Ok((aimed, None)) => return Ok(Designed::Missed(aimed.reason)),
        Err(why @ StudyError::Interrupted) => return Err(why),
        Err(why) => return Ok(Designed::Missed(why.to_string())),
    };
    if wish.margins {
        let counted = Counted::new(&capped);
        match margins::keeping(&quick(&found, DROPS), None, DROPS, (wish.rate.is_some(), Depth::Brief), &counted, 1) {
            Ok(margins) => aimed.margins = margins,
            Err(why @ StudyError::Interrupted) => return Err(why),
            Err(why) => return Ok(Designed::Missed(format!("its margins cannot be told by coarse runs: {why}"))),
        }
    }
    Ok(match design(&aimed, &found, choices, promise) {
        Some(design) => Designed::Met(Box::new((design, found))),
        None => Designed::Missed(aimed.reason),
    })
}

fn design(aimed: &Aimed, case: &Case, choices: &[Choice], promise: f64) -> Option<Design> {
    let mut settings = Settings::new();
    for t in &case.typed {
        let follows = ["device.tip_outer", "device.round_outer"].contains(&t.key.as_str());
        if follows || choices.iter().any(|c| c.key == t.key) {
            settings.insert(t.key.clone(), t.si);
        }
    }
    settings.insert("inner.flow".into(), case.inner.flow);
    settings.extend(case.outer.as_ref().filter(|o| o.flow > 0.0).map(|o| ("outer.flow".to_owned(), o.flow)));
    let (mut score, mut limited_by) = match aimed.margins.is_empty() {
        true => (promise, String::from("slopes of coarse runs (no margins asked for)")),
        false => (f64::INFINITY, String::from("nothing up to 50 %")),
    };
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
        mode: aimed.mode?,
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

#[cfg(test)]
mod tests {
    use super::super::bounds;
    use super::super::obstacle::Site;
    use super::*;
    use crate::case::parse;
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
    fn invented(case: &Case, _: Length) -> Result<Outcome, StudyError> {
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
        Wish { diameter, rate: None, no_satellites: false, pressure: Some(3e5), range: None, margins: true }
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

    // By the invented law 60 um behind a tip of 40 um take an outer velocity of 16 times 2 mm/s in a tube of 800 um: 73.7 mL/h.
    #[test]
    fn a_bounded_flow_is_named_with_the_end_that_would_do() {
        const NEEDED: f64 = 16.0 * 2e-3 * 0.8e-3 * 0.8e-3;
        let case = parse(TEXT, "invented").unwrap_or_else(|e| panic!("{e}"));
        let tip = Choice { key: "device.tip_bore".into(), values: vec![40e-6] };
        for (ends, above) in [([1e-9, 6e-9], true), ([6e-8, 1e-7], false)] {
            let flow = Choice { key: "outer.flow".into(), values: ends.to_vec() };
            let (found, _) = choose(&case, &wish(60e-6), &[tip.clone(), flow], &invented, 1).expect("an answer");
            let obstacle = found.obstacle.expect("an obstacle");
            let off = obstacle.needed / NEEDED - 1.0;
            assert!(!found.found && obstacle.key == "outer.flow", "{}", found.reason);
            assert!(if above { (0.0..0.08).contains(&off) } else { (-0.08..0.0).contains(&off) }, "{obstacle:?}");
            assert!(obstacle.text.contains(if above { "above" } else { "below" }), "{}", obstacle.text);
        }
    }

    // A guide below what the wish's own flow takes is named, with the pressure at which the flow is allowed.
    #[test]
    fn a_guide_in_the_way_is_named_with_the_pressure_that_it_would_take() {
        let case = crate::case::parse(TEXT, "invented").unwrap_or_else(|e| panic!("{e}"));
        let highest = |wish: &Wish| {
            let site = Site { case: &case, wish, ask: &invented };
            let glass = site.near(&Settings::new(), wish).expect("an answer");
            glass.as_ref().map(bounds::highest)
        };
        let free = Wish { pressure: None, ..wish(60e-6) };
        let takes = highest(&free).expect("near the wish");
        let tight = Wish { pressure: Some(0.5 * takes), ..wish(60e-6) };
        assert_eq!(highest(&tight), None);
        let site = Site { case: &case, wish: &tight, ask: &invented };
        let found = site.pressure(&Settings::new()).expect("an answer").expect("an obstacle");
        assert!(found.key == "pressure" && (takes..1.3 * takes).contains(&found.needed), "{found:?} for {takes}");
        let loose = Wish { pressure: Some(2.0 * takes), ..wish(60e-6) };
        let site = Site { case: &case, wish: &loose, ask: &invented };
        assert_eq!(site.pressure(&Settings::new()).expect("an answer"), None, "it stands in nobody's way");
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
