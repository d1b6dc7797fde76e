//! A safeguarded search for one flow that gives one diameter.
//!
//! Works on y = ln(d/d*) against x = ln(flow). Between two runs on either side of y = 0 the next flow is the secant's, kept away
//! from the ends of the bracket; without a bracket it is the secant's too, in bounded steps. The diameter jumps where the mode
//! changes, so a bracket can close without an answer: then the wish lies in the gap.

use crate::outcome::Outcome;

/// One run of the search.
#[derive(Debug, Clone, PartialEq)]
pub struct Tried {
    /// m3/s.
    pub flow: f64,
    /// ln of the diameter over the wished one; infinite where no drop comes off because it grows too slowly or too large,
    /// minus infinite where the thread runs out of the device unbroken.
    pub off: f64,
    pub mode: String,
    /// m; `None` without a drop.
    pub diameter: Option<f64>,
    /// Why there is no drop.
    pub why: Option<String>,
}

/// How the search ended.
#[derive(Debug, Clone, PartialEq)]
pub enum Found {
    /// Runs bracket or meet the wish at this flow.
    At(f64),
    /// The diameter jumps over the wish between these two runs.
    Gap(Tried, Tried),
    /// No flow up to a bound gives it.
    Bound(String),
}

/// Settings of a search.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Smallest and largest flow, m3/s.
    pub flow: [f64; 2],
    /// |ln(d/d*)| that is near enough.
    pub near: f64,
    /// d ln(d) / d ln(flow) supposed before two runs tell it.
    pub slope: f64,
    /// Most runs.
    pub runs: usize,
}

/// Width of the bracket in ln(flow) at which a jump is called a jump.
const JUMP_WIDTH: f64 = 0.004;
/// Largest step without a bracket, in ln(flow).
const STEP_MAX: f64 = 1.4;
/// Slope supposed along the outer flow: between the square root of a jet and the weaker fall of slow dripping.
pub const SLOPE_OUTER: f64 = -0.4;
/// Slope supposed along the inner flow of a hanging drop: it grows while its neck drains.
pub const SLOPE_INNER: f64 = 0.1;

/// The whole search: every run, and how it ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Search {
    pub tried: Vec<Tried>,
    pub found: Found,
}

impl Search {
    /// The run nearest to the wish.
    pub fn nearest(&self) -> Option<&Tried> {
        let with_drop = self.tried.iter().filter(|t| t.diameter.is_some());
        with_drop.min_by(|a, b| a.off.abs().total_cmp(&b.off.abs()))
    }

    /// d ln(d) / d ln(flow) from the two runs nearest to the wish.
    pub fn slope(&self, supposed: f64) -> f64 {
        let mut near: Vec<&Tried> = self.tried.iter().filter(|t| t.diameter.is_some()).collect();
        near.sort_by(|a, b| a.off.abs().total_cmp(&b.off.abs()));
        match near[..] {
            [a, b, ..] if a.mode == b.mode => slope(a, b).unwrap_or(supposed),
            _ => supposed,
        }
    }
}

fn slope(a: &Tried, b: &Tried) -> Option<f64> {
    let found = (a.off - b.off) / (a.flow / b.flow).ln();
    // Steeper or flatter ones come from noise or from a jump.
    (found.is_finite() && found.abs() > 0.02).then(|| found.clamp(-3.0, 3.0))
}

/// Search from `start`. `run` answers a flow.
///
/// # Errors
/// What `run` says, where the search cannot go on (interrupted).
pub fn search(
    start: f64,
    limits: &Limits,
    run: &mut dyn FnMut(f64) -> Result<Tried, String>,
) -> Result<Search, String> {
    let mut tried: Vec<Tried> = Vec::new();
    let mut next = start.clamp(limits.flow[0], limits.flow[1]);
    for _ in 0..limits.runs {
        let found = run(next)?;
        let met = found.off.abs() <= limits.near;
        tried.push(found);
        if met {
            return Ok(Search { tried, found: Found::At(next) });
        }
        tried.sort_by(|a, b| a.flow.total_cmp(&b.flow));
        next = match bracket(&tried) {
            Some((low, high)) if (high.flow / low.flow).ln() < JUMP_WIDTH => {
                let found = closed(low, high, limits);
                return Ok(Search { tried, found });
            }
            Some((low, high)) => inside(low, high),
            None => match outside(&tried, limits) {
                Ok(flow) => flow,
                Err(bound) => return Ok(Search { tried, found: Found::Bound(bound) }),
            },
        };
    }
    let found = Found::Bound(format!("the search gave up after {} runs", limits.runs));
    Ok(Search { tried, found })
}

/// Neighbours on either side of the wish; where there are several, the nearest to it.
fn bracket(tried: &[Tried]) -> Option<(&Tried, &Tried)> {
    let pairs = tried.windows(2).filter(|pair| pair[0].off.signum() != pair[1].off.signum());
    let distance = |pair: &&[Tried]| {
        let off = |t: &Tried| if t.off.is_finite() { t.off.abs() } else { 10.0 };
        off(&pair[0]) + off(&pair[1])
    };
    pairs.min_by(|a, b| distance(a).total_cmp(&distance(b))).map(|pair| (&pair[0], &pair[1]))
}

/// A bracket that cannot close further: an answer if both sides are near, else a jump.
fn closed(low: &Tried, high: &Tried, limits: &Limits) -> Found {
    let nearest = if low.off.abs() < high.off.abs() { low } else { high };
    if nearest.off.abs() <= 3.0 * limits.near { Found::At(nearest.flow) } else { Found::Gap(low.clone(), high.clone()) }
}

fn inside(low: &Tried, high: &Tried) -> f64 {
    let (a, b) = (low.flow.ln(), high.flow.ln());
    let secant = a + (b - a) * low.off / (low.off - high.off);
    let middle = 0.5 * (a + b);
    // Across a change of mode the secant means nothing.
    let smooth = low.off.is_finite() && high.off.is_finite() && low.mode == high.mode && secant.is_finite();
    let x = if smooth { secant.clamp(a + 0.1 * (b - a), b - 0.1 * (b - a)) } else { middle };
    x.exp()
}

/// The next flow where all runs lie on one side; an error names the bound.
fn outside(tried: &[Tried], limits: &Limits) -> Result<f64, String> {
    let ends = [&tried[0], &tried[tried.len() - 1]];
    let nearest = if ends[0].off.abs() < ends[1].off.abs() { ends[0] } else { ends[1] };
    let second = tried.iter().filter(|t| t.flow != nearest.flow && t.off.is_finite());
    let second = second.min_by(|a, b| a.off.abs().total_cmp(&b.off.abs()));
    let slope = second.and_then(|s| slope(nearest, s)).unwrap_or(limits.slope);
    let wanted = if nearest.off.is_finite() { -nearest.off / slope } else { nearest.off.signum() * STEP_MAX };
    // Always past the end of what was tried: a search must not stand still.
    let step = wanted.signum() * (1.15 * wanted.abs()).clamp(0.03, STEP_MAX);
    let from = if step > 0.0 { ends[1] } else { ends[0] };
    let bound = if step > 0.0 { limits.flow[1] } else { limits.flow[0] };
    if (bound / from.flow).ln().abs() < 0.02 {
        let side = if step > 0.0 { "largest" } else { "smallest" };
        return Err(format!("the {side} flow that may be tried is reached"));
    }
    if let (Some(why), true) = (&from.why, from.off.is_finite()) {
        return Err(why.clone());
    }
    Ok((from.flow * step.exp()).clamp(limits.flow[0], limits.flow[1]))
}

/// A run's place in the search.
pub fn placed(flow: f64, wish: f64, answer: Result<Outcome, String>) -> Tried {
    let nothing = |off, mode: &str, why: String| Tried { flow, off, mode: mode.into(), diameter: None, why: Some(why) };
    match answer {
        Err(why) => nothing(f64::NEG_INFINITY, "", why),
        Ok(outcome) => {
            let s = outcome.summary;
            match s.primary.mean_diameter_m {
                Some(d) => Tried { flow, off: (d / wish).ln(), mode: s.mode, diameter: Some(d), why: None },
                None if s.stopped == "no_breakup" => {
                    nothing(f64::NEG_INFINITY, "none", "the thread leaves the device without breaking".into())
                }
                None => nothing(
                    f64::INFINITY,
                    "none",
                    format!("no settled drop comes off ({})", s.stopped.replace('_', " ")),
                ),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WISH: f64 = 60e-6;
    const LIMITS: Limits = Limits { flow: [1e-12, 1e-6], near: 0.003, slope: SLOPE_OUTER, runs: 40 };

    fn tried(flow: f64, diameter: f64, mode: &str) -> Tried {
        Tried { flow, off: (diameter / WISH).ln(), mode: mode.into(), diameter: Some(diameter), why: None }
    }

    fn go(start: f64, law: impl Fn(f64) -> Tried) -> Search {
        search(start, &LIMITS, &mut |flow| Ok(law(flow))).expect("never interrupted")
    }

    #[test]
    fn smooth_laws_are_met_in_few_runs() {
        // Force balance and jet, invented scales.
        for law in [
            (|q: f64| 30e-6 * (1.0 + 1e-9 / q)) as fn(f64) -> f64,
            |q| 90e-6 * (1e-9 / q).sqrt(),
            |q| 60e-6 * (1e-9 / q).powf(0.08),
        ] {
            for start in [1e-10, 9e-10, 3e-8] {
                let found = go(start, |q| tried(q, law(q), "dripping"));
                let Found::At(flow) = found.found else { panic!("{found:?}") };
                assert!((law(flow) / WISH).ln().abs() <= LIMITS.near);
                assert!(found.tried.len() <= 12, "{} runs", found.tried.len());
            }
        }
    }

    #[test]
    fn a_jump_over_the_wish_is_called_a_gap() {
        let law = |q: f64| {
            if q < 2e-9 { tried(q, 80e-6 * (1e-9 / q).powf(0.1), "dripping") } else { tried(q, 45e-6, "jetting") }
        };
        let found = go(1e-10, law);
        let Found::Gap(low, high) = &found.found else { panic!("{found:?}") };
        assert_eq!((low.mode.as_str(), high.mode.as_str()), ("dripping", "jetting"));
        assert!(low.flow < 2e-9 && high.flow >= 2e-9 && high.flow / low.flow < 1.005);
        assert!(found.nearest().is_some_and(|t| t.mode == "dripping"));
    }

    #[test]
    fn too_small_a_wish_ends_at_a_bound() {
        // Never below 65 um, and no drop above 1e-8.
        let law = |q: f64| {
            if q > 1e-8 {
                placed(q, WISH, Err("the flow is too fast".into()))
            } else {
                tried(q, 65e-6 + 1e-15 / q, "dripping")
            }
        };
        let found = go(1e-9, law);
        assert!(
            matches!(&found.found, Found::Gap(_, high) if high.why.as_deref() == Some("the flow is too fast")),
            "{found:?}"
        );
        let endless = go(1e-9, |q| tried(q, 65e-6, "dripping"));
        assert!(matches!(&endless.found, Found::Bound(why) if why.contains("flow")), "{endless:?}");
    }

    #[test]
    fn rising_laws_are_met_too() {
        let found = go(1e-10, |q| tried(q, 60e-6 * (q / 3e-9).powf(0.25), "dripping"));
        assert!(matches!(found.found, Found::At(flow) if (flow / 3e-9).ln().abs() < 0.02), "{found:?}");
    }

    #[test]
    fn an_interrupt_ends_the_search() {
        assert!(search(1e-9, &LIMITS, &mut |_| Err("interrupted".into())).is_err());
    }
}
