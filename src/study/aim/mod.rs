//! Which flows give a wished drop: searched on simulated answers, and ended by simulating what is answered.
//!
//! ```text
//! balances on paper -> coarse runs, a safeguarded search -> the answer at the case's own accuracy -> margins
//! ```

pub mod bounds;
pub mod choose;
pub mod law;
pub mod obstacle;
pub mod rank;
pub mod scout;
pub mod search;
pub mod start;

use crate::case::{Accuracy, Case, Layout};
use crate::outcome::{Established, Mode, Outcome, Primary, Satellites, Size, Summary};
use crate::study::StudyError;
use crate::study::evaluate::{Ask, Counted, UNAFFORDABLE, quick};
use crate::study::margins::{self, Depth, Margin};
use crate::study::quantiles;
use crate::tolerances::SATELLITE_FREE;
use law::law;
use search::{Found, Limits, Search, Tried, placed};
use serde::Serialize;
use std::sync::Mutex;

/// What the user wants.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wish {
    /// m.
    pub diameter: f64,
    /// Primary drops a second; with it the inner flow follows from the mass balance.
    pub rate: Option<f64>,
    pub no_satellites: bool,
    /// Pressure that no inlet may exceed, Pa.
    pub pressure: Option<f64>,
    /// Flows between which the one that is searched must lie, m3/s; else anything within some thousand times of the case's own.
    pub range: Option<[f64; 2]>,
    /// Whether margins are wanted.
    pub margins: bool,
}

/// A setting and what it gives.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Setting {
    pub inner_flow_m3_per_s: f64,
    pub outer_flow_m3_per_s: Option<f64>,
    /// Null where the run gave no answer.
    pub mode: Option<Mode>,
    pub mean_diameter_m: Option<f64>,
}

/// The answer; the field names are the keys of `aim --json`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Aimed {
    pub found: bool,
    /// Where not found: which bound the wish breaks and by how much. Where found: what was done.
    pub reason: String,
    /// Flows of the answer, or, where nothing was found, of the nearest setting.
    pub inner_flow_m3_per_s: Option<f64>,
    pub outer_flow_m3_per_s: Option<f64>,
    /// Drops of the run at these flows, at `accuracy`.
    pub predicted: Option<Primary>,
    /// The case's own accuracy; `coarse` for a nearest setting whose run at the case's own would take too long.
    pub accuracy: String,
    pub satellites: Option<Satellites>,
    pub mode: Option<Mode>,
    /// Whether the run came to repeat itself, and what speaks for or against it.
    pub established: Option<Established>,
    /// Where the diameter of a bench drop is expected to lie.
    pub size: Option<Size>,
    /// Predicted mean diameter over the wished one, less one.
    pub diameter_error: Option<f64>,
    /// Half of the 95 % interval of the mean diameter over the mean (Student's t), from the spread of the drops in all runs of the
    /// search and of the margins: how far a run of other drops of the same setting may come out.
    pub diameter_scatter: Option<f64>,
    /// Drops that would bring that half to 1 %; null where it is less already.
    pub drops_for_one_percent: Option<usize>,
    /// Predicted over wished rate, less one.
    pub rate_error: Option<f64>,
    /// Runs of all kinds.
    pub evaluations: usize,
    pub nearest: Option<Setting>,
    /// Where satellites are unwanted and nothing free of them was found: the settings tried that no other one beats in both size and
    /// satellites, the nearest size first.
    pub trade_off: Vec<Traded>,
    pub margins: Vec<Margin>,
    pub warnings: Vec<crate::outcome::Warning>,
    pub cautions: Vec<String>,
}

/// Size against satellites at one setting tried (coarse runs).
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Traded {
    pub inner_flow_m3_per_s: f64,
    pub outer_flow_m3_per_s: Option<f64>,
    pub mode: Mode,
    pub mean_diameter_m: f64,
    pub satellite_volume_fraction: f64,
    pub satellites_per_primary: f64,
}

/// The settings that no other one beats in both nearness of size and satellites, the nearest size first.
fn traded(mut all: Vec<Traded>, wish: f64) -> Vec<Traded> {
    let off = |t: &Traded| (t.mean_diameter_m / wish).ln().abs();
    all.sort_by(|a, b| {
        off(a).total_cmp(&off(b)).then(a.satellite_volume_fraction.total_cmp(&b.satellite_volume_fraction))
    });
    let mut best: Vec<Traded> = Vec::new();
    for t in all {
        if best.last().is_none_or(|b| t.satellite_volume_fraction < b.satellite_volume_fraction) {
            best.push(t);
        }
    }
    best
}

/// Drops of a coarse run: three that settle and five to average.
pub const DROPS: u32 = 8;
/// ln(d/d*) that is near enough on coarse runs, and on the final run.
const NEAR_COARSE: f64 = 0.004;
const NEAR_FINAL: f64 = 0.008;
/// ... unless its drops scatter so that their mean is not known so well: then its standard error, but no more than this, which
/// leaves room within the 2 % that an answer may be off.
const NEAR_FINAL_MAX: f64 = 0.015;
/// Most coarse runs of a search.
const RUNS_MAX: usize = 24;
/// Corrections of the final run.
const CORRECTIONS_MAX: usize = 4;
/// How far flows may be moved from the case's own.
const FACTOR_MAX: f64 = 3000.0;
/// How far, in ln(flow), the law of the runs may be followed past them, to say what a wish would take.
const FAR: f64 = 4.7;
/// Inner flows tried, over the case's own, where satellites are unwanted and no rate fixes the inner flow.
const INNER_FACTORS: [f64; 7] = [1.0, 0.5, 2.0, 0.25, 4.0, 0.125, 8.0];

/// Flows looked at about the nearest setting where satellites are unwanted and none is free of them, over its own.
const SURVEY: [f64; 6] = [0.25, 0.5, 2.0, 4.0, 8.0, 16.0];

/// Aim a case. Gives the answer and, where it was found, the case that goes with it.
///
/// # Errors
/// Where the layout has no flow to aim with, the run was interrupted, or no thread can be started.
pub fn aim(case: &Case, wish: &Wish, ask: Ask<'_>, threads: usize) -> Result<(Aimed, Option<Case>), StudyError> {
    if matches!(case.layout, Layout::Segment(_)) {
        return Err(StudyError::NoFlow);
    }
    let ask = Counted::new(ask);
    let aimer = Aimer { case, wish, ask: &ask, threads, seen: Mutex::new(Vec::new()) };
    let factors: &[f64] =
        if wish.no_satellites && wish.rate.is_none() && aimer.by_outer() { &INNER_FACTORS } else { &[1.0] };
    let mut best: Option<Attempt> = None;
    for factor in factors {
        let attempt = aimer.attempt(*factor)?;
        let done = attempt.good;
        if best.as_ref().is_none_or(|b| attempt.rank(wish.diameter) < b.rank(wish.diameter)) {
            best = Some(attempt);
        }
        if done {
            break;
        }
    }
    let best = best.ok_or(StudyError::NothingRun)?;
    if wish.no_satellites && !best.good {
        aimer.survey(&best.case)?;
    }
    aimer.answer(best)
}

struct Aimer<'a> {
    case: &'a Case,
    wish: &'a Wish,
    ask: &'a Counted<'a>,
    threads: usize,
    /// What all coarse runs gave, for a trade-off.
    seen: Mutex<Vec<Traded>>,
}

/// One search and its final run.
struct Attempt {
    case: Case,
    last: Option<Summary>,
    /// CV of the drops of all runs of its mode, or its own where larger.
    cv: Option<f64>,
    accuracy: Accuracy,
    good: bool,
    reason: String,
}

impl Attempt {
    /// Lower is better: found, then nearness of the diameter.
    fn rank(&self, wish: f64) -> (bool, u64) {
        let diameter = self.last.as_ref().and_then(|s| s.primary.mean_diameter_m);
        (!self.good, diameter.map_or(u64::MAX, |d| (1e9 * (d / wish).ln().abs()) as u64))
    }
}

/// A search with what its runs gave.
struct Searched {
    search: Search,
    /// Flow and answer of each coarse run with a drop.
    answers: Vec<(f64, Summary)>,
}

/// Whether the outer flow is the one searched (else the inner one).
pub fn searches_outer(case: &Case) -> bool {
    case.outer.as_ref().is_some_and(|outer| outer.flow > 0.0)
}

/// The case at this flow of the one searched, as it would be read from a file.
fn with_flow(base: &Case, flow: f64) -> Case {
    let mut case = base.clone();
    let flow = start::as_written(flow);
    match case.outer.as_mut().filter(|outer| outer.flow > 0.0) {
        Some(outer) => outer.flow = flow,
        None => case.inner.flow = flow,
    }
    case
}

fn flow_of(case: &Case) -> f64 {
    case.outer.as_ref().map(|o| o.flow).filter(|flow| *flow > 0.0).unwrap_or(case.inner.flow)
}

impl Aimer<'_> {
    fn by_outer(&self) -> bool {
        searches_outer(self.case)
    }

    /// d ln(d) / d ln(flow) supposed before runs tell it.
    fn slope(&self) -> f64 {
        if self.by_outer() { search::SLOPE_OUTER } else { search::SLOPE_INNER }
    }

    fn attempt(&self, inner_factor: f64) -> Result<Attempt, StudyError> {
        let mut base = self.case.clone();
        base.inner.flow = start::as_written(base.inner.flow * inner_factor);
        if let (Some(rate), true) = (self.wish.rate, self.by_outer()) {
            base.inner.flow = start::as_written(start::inner_flow(self.wish.diameter, rate, 0.0));
        }
        // A wish that no glass of this case can hold is not searched for: what is nearest to it is.
        let widest = bounds::widest(&base).filter(|(most, _)| self.wish.diameter > *most);
        let target = widest.as_ref().map_or(self.wish.diameter, |(most, _)| *most);
        let found = self.search(&base, target)?;
        if let Some((most, what)) = widest {
            let on_the_way = match &found.search.found {
                Found::Bound(bound) => format!(" (and before it is reached, {bound})"),
                _ => String::new(),
            };
            let why = format!(
                "a drop of {} does not fit {what}: the largest that the model follows there is {}, {}{on_the_way}",
                size(self.wish.diameter),
                size(most),
                apart(most, self.wish.diameter)
            );
            return self.not_found(&base, &found, Some(why));
        }
        match found.search.found {
            Found::At(flow) => self.finished(base, flow, found),
            _ => self.not_found(&base, &found, None),
        }
    }

    /// Coarse runs towards `target`.
    fn search(&self, base: &Case, target: f64) -> Result<Searched, StudyError> {
        let first = flow_of(base);
        let mut limits = Limits {
            flow: self.wish.range.unwrap_or([first / FACTOR_MAX, first * FACTOR_MAX]),
            bounds: ["smallest", "largest"].map(|side| match self.wish.range {
                Some(_) => format!("the {side} flow that may be used is reached"),
                None => format!("the {side} flow that is tried is reached ({FACTOR_MAX:.0} times from the case's own)"),
            }),
            near: NEAR_COARSE,
            slope: self.slope(),
            runs: RUNS_MAX,
        };
        let guide = self.wish.pressure.and_then(|guide| {
            let flow = bounds::flow_at_pressure(first, limits.flow, guide, &|flow| with_flow(base, flow))?;
            Some((flow, guide))
        });
        if let Some((flow, guide)) = guide {
            limits.flow[1] = flow;
            limits.bounds[1] = format!("beyond it an inlet needs more than the guide of {:.2} bar", guide / 1e5);
        }
        let mut answers = Vec::new();
        let guess = |seen: f64| start::second(base, seen, target).filter(|_| self.by_outer());
        let search = search::search(first, &limits, &guess, &mut |flow| {
            let answer = self.ask.ask_affordable(&quick(&with_flow(base, flow), DROPS));
            if matches!(answer, Err(StudyError::Interrupted)) {
                return Err(StudyError::Interrupted);
            }
            let place = placed(flow, target, false, answer.as_ref());
            if let Ok(outcome) = &answer {
                self.note(&with_flow(base, flow), &outcome.summary);
            }
            answers.extend(answer.ok().filter(|_| place.diameter.is_some()).map(|o| (flow, o.summary)));
            Ok(place)
        })?;
        Ok(Searched { search, answers })
    }

    /// Coarse runs at flows about the nearest setting, so that a trade-off knows more than the way to the wish.
    fn survey(&self, nearest: &Case) -> Result<(), StudyError> {
        let own = flow_of(nearest);
        let [low, high] = self.wish.range.unwrap_or([0.0, f64::INFINITY]);
        for flow in SURVEY.map(|factor| own * factor).into_iter().filter(|flow| (low..=high).contains(flow)) {
            let case = with_flow(nearest, flow);
            if self.wish.pressure.is_some_and(|guide| bounds::highest(&case) > guide) {
                continue;
            }
            match self.ask.ask_affordable(&quick(&case, DROPS)) {
                Ok(outcome) => self.note(&case, &outcome.summary),
                Err(why @ StudyError::Interrupted) => return Err(why),
                Err(_) => {}
            }
        }
        Ok(())
    }

    fn note(&self, case: &Case, found: &Summary) {
        if let (Some(mean_diameter_m), Some(share), Ok(mut seen)) =
            (found.primary.mean_diameter_m, found.satellites.volume_fraction, self.seen.lock())
        {
            seen.push(Traded {
                inner_flow_m3_per_s: case.inner.flow,
                outer_flow_m3_per_s: case.outer.as_ref().map(|o| o.flow).filter(|flow| *flow > 0.0),
                mode: found.mode,
                mean_diameter_m,
                satellite_volume_fraction: share.max(0.0),
                satellites_per_primary: found.satellites.per_primary.unwrap_or(0.0),
            });
        }
    }

    /// Runs at the case's own accuracy, each moved by what all runs so far say together; the nearest of them is the answer.
    fn finished(&self, base: Case, flow: f64, searched: Searched) -> Result<Attempt, StudyError> {
        let mut tried = searched.search.tried.clone();
        let coarse = tried.len();
        let (mut case, mut flow) = (base, flow);
        let mut best: Option<(Tried, Case, Summary)> = None;
        for _ in 0..=CORRECTIONS_MAX {
            case = with_flow(&case, flow);
            let outcome = self.ask.ask(&case)?;
            let place = placed(flow, self.wish.diameter, true, Ok(&outcome));
            tried.push(place.clone());
            let last = outcome.summary;
            let inner = self.inner_for(&case, &last);
            let near = NEAR_FINAL.max(law::error(&place, &tried).min(NEAR_FINAL_MAX));
            let met = place.off.abs() <= near && (inner / case.inner.flow - 1.0).abs() < 0.002;
            if best.as_ref().is_none_or(|(nearest, ..)| met || place.off.abs() < nearest.off.abs()) {
                best = Some((place.clone(), case.clone(), last));
            }
            let Some(line) = law(&tried, self.slope()).filter(|_| !met && place.diameter.is_some()) else { break };
            flow = line.own.clamp(flow * (-0.5f64).exp(), flow * 0.5f64.exp());
            if let Some([low, high]) = self.wish.range {
                flow = flow.clamp(low, high);
            }
            case.inner.flow = inner;
        }
        let (place, case, last) = best.ok_or(StudyError::NothingRun)?;
        let mut attempt = self.judged(case, last, &searched, coarse, tried.len() - coarse)?;
        attempt.cv = Some(law::pooled_cv(&place, &tried));
        Ok(attempt)
    }

    /// Inner flow that gives the wished rate, from the share of volume that this run lost to satellites.
    fn inner_for(&self, case: &Case, last: &Summary) -> f64 {
        let lost = last.satellites.volume_fraction.unwrap_or(0.0);
        match (self.wish.rate, self.by_outer()) {
            (Some(rate), true) => start::as_written(start::inner_flow(self.wish.diameter, rate, lost.min(0.9))),
            _ => case.inner.flow,
        }
    }

    /// The final run against the wish.
    fn judged(
        &self,
        case: Case,
        last: Summary,
        found: &Searched,
        coarse: usize,
        finals: usize,
    ) -> Result<Attempt, StudyError> {
        let Some(diameter) = last.primary.mean_diameter_m else {
            return self.not_found(&case, found, Some("the final run gives no settled drop".into()));
        };
        let error = diameter / self.wish.diameter - 1.0;
        let mut broken = Vec::new();
        if error.abs() > 0.02 {
            broken.push(format!("the final run is {:.1} % off the wished diameter", 100.0 * error));
        }
        let share = last.satellites.volume_fraction.unwrap_or(0.0);
        if self.wish.no_satellites && share > SATELLITE_FREE {
            broken.push(format!(
                "satellites carry {:.2} % of the volume there ({:.2} a drop)",
                100.0 * share,
                last.satellites.per_primary.unwrap_or(0.0)
            ));
        }
        if let Some(limit) = self.wish.pressure {
            let pressure = [last.pressure.inner_pa, last.pressure.outer_pa].into_iter().flatten().fold(0.0, f64::max);
            if pressure > limit {
                broken.push(format!(
                    "an inlet needs {:.2} bar, {:.0} % above the guide of {:.2} bar",
                    pressure / 1e5,
                    100.0 * (pressure / limit - 1.0),
                    limit / 1e5
                ));
            }
        }
        if let (Some(rate), Some(got)) = (self.wish.rate, last.primary.rate_per_s)
            && (got / rate - 1.0).abs() > 0.05
        {
            broken.push(format!("the rate there is {:.1} % off", 100.0 * (got / rate - 1.0)));
        }
        let reason = if broken.is_empty() {
            format!("{coarse} coarse runs, then {finals} at `{}`", self.case.run.accuracy.name())
        } else {
            broken.join("; ")
        };
        let accuracy = self.case.run.accuracy;
        Ok(Attempt { case, last: Some(last), cv: None, accuracy, good: broken.is_empty(), reason })
    }

    /// Where the search found nothing: the bound in words, and the nearest setting simulated.
    fn not_found(&self, base: &Case, found: &Searched, why: Option<String>) -> Result<Attempt, StudyError> {
        let accuracy = self.case.run.accuracy;
        let Some(nearest) = found.search.nearest() else {
            let told = found.search.tried.iter().find_map(|t| t.why.clone());
            let reason = format!("no flow tried gives a drop: {}", why.or(told).unwrap_or_default());
            return Ok(Attempt { case: base.clone(), last: None, cv: None, accuracy, good: false, reason });
        };
        let case = with_flow(base, nearest.flow);
        let mut own = case.clone();
        own.run.frames = 2;
        let answer =
            if nearest.costly { Err(StudyError::other(UNAFFORDABLE.word())) } else { self.ask.ask_affordable(&own) };
        let (last, accuracy) = match answer {
            Err(why @ StudyError::Interrupted) => return Err(why),
            Ok(Outcome { summary, .. })
                if summary.primary.mean_diameter_m.is_some() && summary.stopped != UNAFFORDABLE =>
            {
                (Some(summary), accuracy)
            }
            _ => (found.answers.iter().find(|a| a.0 == nearest.flow).map(|a| a.1.clone()), Accuracy::Coarse),
        };
        let why = why.unwrap_or_else(|| self.bound(base, &found.search, nearest));
        let reached = last.as_ref().and_then(|s| s.primary.mean_diameter_m).or(nearest.diameter).unwrap_or(f64::NAN);
        let reason =
            format!("{why}; the nearest simulated is {}, {}", size(reached), apart(reached, self.wish.diameter));
        Ok(Attempt { case, last, cv: None, accuracy, good: false, reason })
    }

    fn bound(&self, base: &Case, search: &Search, nearest: &Tried) -> String {
        let which = if self.by_outer() { "outer" } else { "inner" };
        let wish = size(self.wish.diameter);
        match &search.found {
            Found::Gap(low, high) => match (low.diameter, high.diameter) {
                (Some(a), Some(b)) if low.mode == high.mode => format!(
                    "{wish} lies in the gap where drops ({}) jump from {} to {} near an {which} flow of {:.4} mL/h",
                    Mode::word_of(low.mode),
                    size(a),
                    size(b),
                    3.6e9 * (low.flow * high.flow).sqrt()
                ),
                (Some(a), Some(b)) => format!(
                    "{wish} lies in the gap where {} ({}) turns into {} ({})",
                    Mode::word_of(low.mode),
                    size(a),
                    Mode::word_of(high.mode),
                    size(b)
                ),
                _ => {
                    let why = low.why.as_ref().or(high.why.as_ref()).map_or("no drop comes off", String::as_str);
                    format!("beyond a certain {which} flow {why}, and up to there no drop of {wish} comes off")
                }
            },
            Found::Bound(bound) => {
                let tip = 2e0 * self.case.device.pinned_radius();
                let small = if self.wish.diameter < tip {
                    format!(" (a drop below the diameter of the tip, {}, needs a jet thinner than the tip)", size(tip))
                } else {
                    String::new()
                };
                let needed = law(&search.tried, self.slope()).filter(|_| self.by_outer()).and_then(|line| {
                    let flow = nearest.flow * (-nearest.off / line.slope).exp();
                    let near = (flow / nearest.flow).ln().abs() < FAR;
                    near.then(|| bounds::needed(flow, self.wish.pressure, &with_flow(base, flow)))
                });
                format!("no {which} flow tried gives {wish}: {bound}{small}{}", needed.unwrap_or_default())
            }
            Found::At(_) => "no flow tried gives it".into(),
        }
    }

    fn answer(&self, best: Attempt) -> Result<(Aimed, Option<Case>), StudyError> {
        let outer = best.case.outer.as_ref().filter(|_| self.by_outer()).map(|o| o.flow);
        let last = best.last.as_ref();
        let diameter = last.and_then(|s| s.primary.mean_diameter_m);
        let margins = match (best.good && self.wish.margins, DROPS) {
            (true, drops) => margins::keeping(
                &best.case,
                last,
                drops,
                (self.wish.rate.is_some(), Depth::Full),
                self.ask,
                self.threads,
            )?,
            (false, _) => Vec::new(),
        };
        // Runs of the margins also tell how far drops follow their neighbours.
        let spread = [best.cv, last.and_then(|s| s.primary.cv), margins.iter().find_map(|m| Some(m.scatter?.relative))];
        let spread = spread.into_iter().flatten().reduce(f64::max);
        let nearest = (!best.good).then(|| Setting {
            inner_flow_m3_per_s: best.case.inner.flow,
            outer_flow_m3_per_s: outer,
            mode: last.map(|s| s.mode),
            mean_diameter_m: diameter,
        });
        let seen = self.seen.lock().map_or(Vec::new(), |seen| seen.clone());
        let trade_off =
            if self.wish.no_satellites && !best.good { traded(seen, self.wish.diameter) } else { Vec::new() };
        let aimed = Aimed {
            trade_off,
            found: best.good,
            reason: best.reason.clone(),
            inner_flow_m3_per_s: last.map(|_| best.case.inner.flow),
            outer_flow_m3_per_s: last.and(outer),
            predicted: last.map(|s| s.primary.clone()),
            satellites: last.map(|s| s.satellites.clone()),
            mode: last.map(|s| s.mode),
            established: last.map(|s| s.established.clone()),
            size: last.map(|s| s.size.clone()),
            diameter_error: diameter.map(|d| d / self.wish.diameter - 1.0),
            accuracy: best.accuracy.name().into(),
            diameter_scatter: last.and_then(|s| scatter(&s.primary, spread?)),
            drops_for_one_percent: last.and_then(|s| drops_for(&s.primary, spread?, 0.01)),
            rate_error: self.wish.rate.and_then(|f| last?.primary.rate_per_s.map(|got| got / f - 1.0)),
            evaluations: self.ask.count(),
            nearest: nearest.filter(|_| last.is_some()),
            margins,
            warnings: last.map_or(Vec::new(), |s| s.warnings.clone()),
            cautions: last.map_or(Vec::new(), |s| s.cautions.clone()),
        };
        let case = best.good.then_some(best.case);
        Ok((aimed, case))
    }
}

/// t cv/sqrt(n).
fn scatter(primary: &Primary, cv: f64) -> Option<f64> {
    let freedom = primary.count.checked_sub(1).filter(|n| *n > 0)? as f64;
    Some(quantiles::f_ratio(0.95, 1.0, freedom).sqrt() * cv / (primary.count as f64).sqrt())
}

/// Drops of this CV whose mean would be known to +-`share` (Student's t for a large number, 1.96); `None` where it is already.
fn drops_for(primary: &Primary, cv: f64, share: f64) -> Option<usize> {
    scatter(primary, cv).filter(|now| *now > share)?;
    Some((1.96 * cv / share).powi(2).ceil() as usize)
}

/// How far a diameter is from the wished one, in words.
fn apart(reached: f64, wish: f64) -> String {
    match reached / wish {
        ratio if ratio > 3.0 => format!("{ratio:.1} times as large as wished"),
        ratio if ratio >= 1.0 => format!("{:.1} % larger than wished", 100.0 * (ratio - 1.0)),
        ratio => format!("{:.1} % smaller than wished", 100.0 * (1.0 - ratio)),
    }
}

fn size(d: f64) -> String {
    if d < 1e-3 { format!("{:.2} um", 1e6 * d) } else { format!("{:.3} mm", 1e3 * d) }
}

#[cfg(test)]
mod tests;
