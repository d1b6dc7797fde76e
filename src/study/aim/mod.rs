//! Which flows give a wished drop: searched on simulated answers, and ended by simulating what is answered.
//!
//! ```text
//! balances on paper -> coarse runs, a safeguarded search -> the answer at the case's own accuracy -> margins
//! ```

pub mod search;
pub mod start;

use crate::case::{Case, Layout};
use crate::outcome::{Primary, Satellites, Summary};
use crate::study::evaluate::{Ask, Counted, INTERRUPTED, quick};
use crate::study::margins::{self, Margin};
use crate::study::quantiles;
use crate::tolerances::SATELLITE_FREE;
use search::{Found, Limits, Search, Tried, placed};
use serde::Serialize;

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
    /// Whether margins are wanted.
    pub margins: bool,
}

/// A setting and what it gives.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Setting {
    pub inner_flow_m3_per_s: f64,
    pub outer_flow_m3_per_s: Option<f64>,
    pub mode: String,
    pub mean_diameter_m: Option<f64>,
}

/// The answer; the field names are the keys of `aim --json`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Aimed {
    pub found: bool,
    /// Where not found: which bound the wish breaks and by how much. Where found: what was done.
    pub reason: String,
    /// Flows of the answer, or, where nothing was found, of the nearest setting.
    pub inner_flow_m3_per_s: Option<f64>,
    pub outer_flow_m3_per_s: Option<f64>,
    /// Drops of the last run, at the case's own accuracy, at these flows.
    pub predicted: Option<Primary>,
    pub satellites: Option<Satellites>,
    pub mode: Option<String>,
    /// Predicted mean diameter over the wished one, less one.
    pub diameter_error: Option<f64>,
    /// Half of the 95 % interval of the mean diameter over the mean, from the spread of the drops (Student's t): how far a run of
    /// other drops of the same setting may come out.
    pub diameter_scatter: Option<f64>,
    /// Predicted over wished rate, less one.
    pub rate_error: Option<f64>,
    /// Runs of all kinds.
    pub evaluations: usize,
    pub nearest: Option<Setting>,
    pub margins: Vec<Margin>,
    pub warnings: Vec<crate::outcome::Warning>,
    pub cautions: Vec<String>,
}

/// Drops of a coarse run: three that settle and five to average.
pub const DROPS: u32 = 8;
/// ln(d/d*) that a coarse run must meet, and the one that the final run must meet.
const NEAR_COARSE: f64 = 0.004;
const NEAR_FINAL: f64 = 0.008;
const RUNS_MAX: usize = 40;
/// Corrections of the final run.
const CORRECTIONS_MAX: usize = 4;
/// How far flows may be moved from the case's own.
const FACTOR_MAX: f64 = 3000.0;
/// Inner flows tried, over the case's own, where satellites are unwanted and no rate fixes the inner flow.
const INNER_FACTORS: [f64; 7] = [1.0, 0.5, 2.0, 0.25, 4.0, 0.125, 8.0];

/// Aim a case. Gives the answer and, where it was found, the case that goes with it.
///
/// # Errors
/// Where the layout has no flow to aim with, the run was interrupted, or no thread can be started.
pub fn aim(case: &Case, wish: &Wish, ask: Ask<'_>, threads: usize) -> Result<(Aimed, Option<Case>), String> {
    if case.layout == Layout::Segment {
        return Err("a segment has no flow to aim with".into());
    }
    let ask = Counted::new(ask);
    let aimer = Aimer { case, wish, ask: &ask, threads };
    let factors: &[f64] =
        if wish.no_satellites && wish.rate.is_none() && aimer.by_outer() { &INNER_FACTORS } else { &[1.0] };
    let mut best: Option<Attempt> = None;
    for factor in factors {
        let attempt = aimer.attempt(*factor)?;
        let done = attempt.good;
        if best.as_ref().is_none_or(|b| attempt.rank() < b.rank()) {
            best = Some(attempt);
        }
        if done {
            break;
        }
    }
    let best = best.ok_or("nothing was tried")?;
    aimer.answer(best)
}

struct Aimer<'a> {
    case: &'a Case,
    wish: &'a Wish,
    ask: &'a Counted<'a>,
    threads: usize,
}

/// One search and its final run.
struct Attempt {
    case: Case,
    last: Option<Summary>,
    good: bool,
    reason: String,
}

impl Attempt {
    /// Lower is better: found, then nearness of the diameter.
    fn rank(&self) -> (bool, u64) {
        let diameter = self.last.as_ref().and_then(|s| s.primary.mean_diameter_m);
        (!self.good, diameter.map_or(u64::MAX, |d| (1e9 * d) as u64))
    }
}

impl Aimer<'_> {
    /// Whether the outer flow is the one searched (else the inner one).
    fn by_outer(&self) -> bool {
        self.case.outer.as_ref().is_some_and(|outer| outer.flow > 0.0)
    }

    /// d ln(d) / d ln(flow) supposed before two runs tell it.
    fn slope(&self) -> f64 {
        if self.by_outer() { search::SLOPE_OUTER } else { search::SLOPE_INNER }
    }

    fn with_flow(&self, base: &Case, flow: f64) -> Case {
        let mut case = base.clone();
        match case.outer.as_mut() {
            Some(outer) if self.by_outer() => outer.flow = flow,
            _ => case.inner.flow = flow,
        }
        case
    }

    fn attempt(&self, inner_factor: f64) -> Result<Attempt, String> {
        let mut base = self.case.clone();
        base.inner.flow *= inner_factor;
        if let (Some(rate), true) = (self.wish.rate, self.by_outer()) {
            base.inner.flow = start::inner_flow(self.wish.diameter, rate, 0.0);
        }
        let first = if self.by_outer() { start::outer_flow(&base, self.wish.diameter) } else { base.inner.flow };
        let mut search = self.search(&base, first)?;
        let Some(flow) = self.flow_of(&search) else { return self.not_found(&base, &search, None) };
        let coarse = search.tried.len();
        let mut case = self.with_flow(&base, flow);
        let mut last = self.ask.ask(&case)?.summary;
        for _ in 0..CORRECTIONS_MAX {
            let lost = last.satellites.volume_fraction.unwrap_or(0.0);
            let off = last.primary.mean_diameter_m.map_or(f64::INFINITY, |d| (d / self.wish.diameter).ln());
            let inner = match (self.wish.rate, self.by_outer()) {
                (Some(rate), true) => start::inner_flow(self.wish.diameter, rate, lost.min(0.9)),
                _ => case.inner.flow,
            };
            let met = off.abs() <= NEAR_FINAL && (inner / case.inner.flow - 1.0).abs() < 0.002;
            if met || !off.is_finite() || search.tried.len() > RUNS_MAX {
                break;
            }
            let searched = if self.by_outer() { case.outer.as_ref().map_or(0.0, |o| o.flow) } else { case.inner.flow };
            let flow = searched * (-off / search.slope(self.slope())).clamp(-0.5, 0.5).exp();
            case.inner.flow = inner;
            case = self.with_flow(&case, flow);
            last = self.ask.ask(&case)?.summary;
            search.tried.push(placed_summary(flow, self.wish.diameter, &last));
        }
        self.judged(case, last, &search, coarse)
    }

    fn search(&self, base: &Case, first: f64) -> Result<Search, String> {
        let limits = Limits {
            flow: [first / FACTOR_MAX, first * FACTOR_MAX],
            near: NEAR_COARSE,
            slope: self.slope(),
            runs: RUNS_MAX,
        };
        search::search(first, &limits, &mut |flow| {
            let answer = self.ask.ask_short(&quick(&self.with_flow(base, flow), DROPS));
            match answer {
                Err(why) if why == INTERRUPTED => Err(why),
                other => Ok(placed(flow, self.wish.diameter, other)),
            }
        })
    }

    fn flow_of(&self, search: &Search) -> Option<f64> {
        match search.found {
            Found::At(flow) => Some(flow),
            _ => None,
        }
    }

    /// The final run against the wish.
    fn judged(&self, case: Case, last: Summary, search: &Search, coarse: usize) -> Result<Attempt, String> {
        let Some(diameter) = last.primary.mean_diameter_m else {
            return self.not_found(&case, search, Some("the final run gives no settled drop".into()));
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
            format!(
                "{coarse} coarse runs, then {} at `{}`",
                1 + search.tried.len() - coarse,
                self.case.run.accuracy.name()
            )
        } else {
            broken.join("; ")
        };
        Ok(Attempt { case, last: Some(last), good: broken.is_empty(), reason })
    }

    /// Where the search found nothing: the bound in words, and the nearest setting simulated.
    fn not_found(&self, base: &Case, search: &Search, why: Option<String>) -> Result<Attempt, String> {
        let Some(nearest) = search.nearest() else {
            let why = why.or_else(|| search.tried.iter().find_map(|t| t.why.clone())).unwrap_or_default();
            return Ok(Attempt {
                case: base.clone(),
                last: None,
                good: false,
                reason: format!("no flow tried gives a drop: {why}"),
            });
        };
        let case = self.with_flow(base, nearest.flow);
        let last = match self.ask.ask(&case) {
            Err(why) if why == INTERRUPTED => return Err(why),
            other => other.ok().map(|outcome| outcome.summary),
        };
        let reason = why.unwrap_or_else(|| self.bound(search, nearest));
        Ok(Attempt { case, last, good: false, reason })
    }

    fn bound(&self, search: &Search, nearest: &Tried) -> String {
        let which = if self.by_outer() { "outer" } else { "inner" };
        let um = |d: f64| format!("{:.2} um", 1e6 * d);
        let wish = um(self.wish.diameter);
        let reached = nearest.diameter.unwrap_or(f64::NAN);
        let by = format!(
            "the nearest is {}, {:.1} % {} than wished",
            um(reached),
            100.0 * (reached / self.wish.diameter - 1.0).abs(),
            if reached > self.wish.diameter { "larger" } else { "smaller" }
        );
        match &search.found {
            Found::Gap(low, high) => match (low.diameter, high.diameter) {
                (Some(a), Some(b)) => format!(
                    "{wish} lies in the gap where {} ({}) turns into {} ({}); {by}",
                    low.mode,
                    um(a),
                    high.mode,
                    um(b)
                ),
                _ => {
                    let why = low.why.as_ref().or(high.why.as_ref()).map_or("no drop comes off", String::as_str);
                    format!("beyond a certain {which} flow {why}, and up to there no drop of {wish} comes off; {by}")
                }
            },
            Found::Bound(bound) => {
                let tip = 2e0 * self.case.device.pinned_radius();
                let small = if self.wish.diameter < tip {
                    format!(" (a drop below the diameter of the tip, {}, needs a jet thinner than the tip)", um(tip))
                } else {
                    String::new()
                };
                format!("no {which} flow gives {wish}: {bound}{small}; {by}")
            }
            Found::At(_) => by,
        }
    }

    fn answer(&self, best: Attempt) -> Result<(Aimed, Option<Case>), String> {
        let outer = best.case.outer.as_ref().filter(|_| self.by_outer()).map(|o| o.flow);
        let last = best.last.as_ref();
        let diameter = last.and_then(|s| s.primary.mean_diameter_m);
        let margins = match (best.good && self.wish.margins, DROPS) {
            (true, drops) => margins::margins(&best.case, drops, self.ask, self.threads)?,
            (false, _) => Vec::new(),
        };
        let nearest = (!best.good).then(|| Setting {
            inner_flow_m3_per_s: best.case.inner.flow,
            outer_flow_m3_per_s: outer,
            mode: last.map_or(String::new(), |s| s.mode.clone()),
            mean_diameter_m: diameter,
        });
        let aimed = Aimed {
            found: best.good,
            reason: best.reason.clone(),
            inner_flow_m3_per_s: last.map(|_| best.case.inner.flow),
            outer_flow_m3_per_s: last.and(outer),
            predicted: last.map(|s| s.primary.clone()),
            satellites: last.map(|s| s.satellites.clone()),
            mode: last.map(|s| s.mode.clone()),
            diameter_error: diameter.map(|d| d / self.wish.diameter - 1.0),
            diameter_scatter: last.and_then(|s| scatter(&s.primary)),
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

/// t s/(mean sqrt(n)).
fn scatter(primary: &Primary) -> Option<f64> {
    let freedom = primary.count.checked_sub(1).filter(|n| *n > 0)? as f64;
    Some(quantiles::f_ratio(0.95, 1.0, freedom).sqrt() * primary.cv? / (primary.count as f64).sqrt())
}

fn placed_summary(flow: f64, wish: f64, s: &Summary) -> Tried {
    let diameter = s.primary.mean_diameter_m;
    let off = diameter.map_or(f64::INFINITY, |d| (d / wish).ln());
    Tried { flow, off, mode: s.mode.clone(), diameter, why: None }
}

#[cfg(test)]
mod tests;
