//! Whether a run has come to a state that repeats itself.
//!
//! Equation: over the primary drops of a window, from the instant at which its first came off to that at which its last did,
//! flow share = volume of all drops in the window (that first one left out) over the inner flow pumped meanwhile. Established:
//! share within 0.95 to 1.05; in a window of eight periods or more each half of it within 0.85 to 1.15; and diameter, period and
//! place of breakup of its two halves differ by no more than their scatter allows (three standard errors) or a small floor.
//! With fewer than six drops there is no scatter to speak of: their diameters must agree within 1 %.
//!
//! Symbols: as above. The window leaves out the leading transients, or an eighth, a quarter, three eighths or half of the drops:
//! the longest that passes counts.
//!
//! Source: conservation of volume (what comes off is what is pumped unless the thread grows or shrinks); the criteria are ours.
//!
//! Holds for: at least half as many drops as were asked for, three if four or more were.

/// Share of the pumped flow that drops of an established run carry.
pub const FLOW_SHARE: (f64, f64) = (0.95, 1.05);
/// The same of each half of a long window.
const HALF_SHARE: (f64, f64) = (0.85, 1.15);
/// Periods from which the halves of a window are looked at one by one.
const LONG: usize = 8;
/// Drops from which scatter is told from drift.
const SCATTER_FROM: usize = 6;
/// Largest relative difference between fewer drops.
const ALIKE: f64 = 0.01;
/// Differences between halves that are no drift: relative, of diameter, period and place; of the place in tip radii too.
const FLOOR_SIZE: f64 = 0.01;
const FLOOR_PERIOD: f64 = 0.03;
const FLOOR_PLACE: (f64, f64) = (0.05, 0.5);
/// Standard errors that are no drift.
const SIGMAS: f64 = 3.0;

/// What a run has shown so far, scaled.
pub struct Seen<'a> {
    /// Primary drops in order of time: when they came off, and their diameter.
    pub primaries: Vec<(f64, f64)>,
    /// Every drop, and every fragment that will become some: when it came off, and its volume.
    pub volumes: Vec<(f64, f64)>,
    /// Breakups of the thread on the nozzle: when and where.
    pub breaks: Vec<(f64, f64)>,
    /// Volume pumped between two instants.
    pub pumped: &'a dyn Fn(f64, f64) -> f64,
    /// Leading primaries that are transients.
    pub transients: usize,
    /// Drops asked for; zero where a time was.
    pub wanted: usize,
}

/// What comes of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    pub is: bool,
    /// Leading primaries outside of the window.
    pub first: usize,
    pub share: Option<f64>,
    pub why: String,
}

/// Judge a run.
pub fn judge(seen: &Seen) -> Verdict {
    let n = seen.primaries.len();
    let enough = if (1..4).contains(&seen.wanted) { seen.wanted.max(2) } else { seen.wanted.div_ceil(2).max(3) };
    let refused = |share, why| Verdict { is: false, first: seen.transients, share, why };
    if n < 2 {
        return refused(None, format!("{} came off: too few to tell", if n == 0 { "no drop" } else { "one drop" }));
    }
    let mut last = None;
    for eighths in 0..=4 {
        let first = seen.transients.max(eighths * n / 8);
        if first + enough > n {
            break;
        }
        match window(seen, first) {
            Ok(share) => {
                let why = format!(
                    "{} drops carry {} of the pumped flow; size, place and rate repeat",
                    n - first,
                    percent(share)
                );
                return Verdict { is: true, first, share: Some(share), why };
            }
            Err(found) => last = Some(found),
        }
    }
    match last {
        Some((share, why)) => refused(Some(share), why),
        None => {
            let share = share(seen, seen.primaries[0].0, seen.primaries[n - 1].0);
            let left = n - seen.transients.min(n);
            refused(
                Some(share),
                format!("{left} of {n} drops are past the transient: too few to tell ({enough} are needed)"),
            )
        }
    }
}

fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

fn share(seen: &Seen, from: f64, to: f64) -> f64 {
    let inside = seen.volumes.iter().filter(|(time, _)| *time > from && *time <= to);
    inside.map(|(_, volume)| volume).sum::<f64>() / (seen.pumped)(from, to)
}

/// The flow share of the drops from `first` on, or what speaks against them.
fn window(seen: &Seen, first: usize) -> Result<f64, (f64, String)> {
    let drops = &seen.primaries[first..];
    let (n, from, to) = (drops.len(), drops[0].0, drops[drops.len() - 1].0);
    let whole = share(seen, from, to);
    let within = |x: f64, range: (f64, f64)| (range.0..=range.1).contains(&x);
    if !within(whole, FLOW_SHARE) {
        let doing = if whole < 1.0 { "the thread still grows" } else { "the thread still shrinks" };
        return Err((whole, format!("drops carry {} of the pumped flow: {doing}", percent(whole))));
    }
    let middle = drops[n / 2].0;
    if n > LONG {
        for (a, b) in [(from, middle), (middle, to)] {
            let half = share(seen, a, b);
            if !within(half, HALF_SHARE) {
                return Err((whole, format!("over half of the time drops carry {} of the pumped flow", percent(half))));
            }
        }
    }
    let sizes: Vec<f64> = drops.iter().map(|d| d.1).collect();
    if n < SCATTER_FROM {
        let (small, large) = sizes.iter().fold((f64::INFINITY, 0.0_f64), |(a, b), d| (a.min(*d), b.max(*d)));
        if large - small > ALIKE * small {
            let differ = percent(large / small - 1.0);
            return Err((
                whole,
                format!("the {n} drops differ by {differ} in diameter: too few to tell scatter from drift"),
            ));
        }
        return Ok(whole);
    }
    if let Some(change) = drift(&sizes[..n / 2], &sizes[n / 2..], |mean| FLOOR_SIZE * mean) {
        return Err((whole, format!("the diameter still drifts by {}", signed(change))));
    }
    let periods: Vec<f64> = drops.windows(2).map(|w| w[1].0 - w[0].0).collect();
    if let Some(change) = drift(&periods[..n / 2], &periods[n / 2..], |mean| FLOOR_PERIOD * mean) {
        return Err((whole, format!("the period still drifts by {}", signed(change))));
    }
    let places = |a: f64, b: f64| -> Vec<f64> {
        seen.breaks.iter().filter(|(time, _)| *time >= a && *time < b).map(|(_, place)| *place).collect()
    };
    let (early, late) = (places(from, middle), places(middle, to));
    let floor = |mean: f64| FLOOR_PLACE.0 * mean + FLOOR_PLACE.1;
    match drift(&early, &late, floor) {
        Some(change) => Err((whole, format!("the place of breakup still drifts by {}", signed(change)))),
        None => Ok(whole),
    }
}

fn signed(change: f64) -> String {
    format!("{:+.0} %", 100.0 * change)
}

/// Relative change of the mean from one list to the next, where it is more than the floor and their scatter allow.
fn drift(early: &[f64], late: &[f64], floor: impl Fn(f64) -> f64) -> Option<f64> {
    if early.len() < 2 || late.len() < 2 {
        return None;
    }
    let moments = |x: &[f64]| {
        let mean = x.iter().sum::<f64>() / x.len() as f64;
        let variance = x.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / (x.len() - 1) as f64;
        (mean, variance / x.len() as f64)
    };
    let ((a, va), (b, vb)) = (moments(early), moments(late));
    ((b - a).abs() > floor(a).max(SIGMAS * (va + vb).sqrt())).then(|| b / a - 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const PUMPED: &dyn Fn(f64, f64) -> f64 = &|a, b| b - a;

    /// Invented: drops of unit volume (or a tenth in satellites) at these instants, broken off at `place`.
    fn seen(
        times: &[f64],
        diameter: impl Fn(usize) -> f64,
        place: impl Fn(usize) -> f64,
        wanted: usize,
    ) -> Seen<'static> {
        Seen {
            primaries: times.iter().enumerate().map(|(i, t)| (*t, diameter(i))).collect(),
            volumes: times.iter().flat_map(|t| [(*t, 0.9), (*t + 1e-3, 0.1)]).collect(),
            breaks: times.iter().enumerate().map(|(i, t)| (*t, place(i))).collect(),
            pumped: PUMPED,
            transients: 0,
            wanted,
        }
    }

    fn evenly(n: usize, period: f64) -> Vec<f64> {
        (1..=n).map(|i| period * i as f64).collect()
    }

    #[test]
    fn regular_dripping_is_established_with_few_drops() {
        for n in [2, 3, 4, 10] {
            let found = judge(&seen(&evenly(n, 1.0), |_| 1.0, |_| 3.0, n));
            assert!(found.is && found.first == 0, "{n}: {found:?}");
        }
        assert!(!judge(&seen(&evenly(1, 1.0), |_| 1.0, |_| 3.0, 1)).is);
        assert!(!judge(&seen(&[], |_| 1.0, |_| 3.0, 4)).is);
    }

    #[test]
    fn a_thread_that_fills_or_empties_is_not() {
        let filling = judge(&seen(&evenly(20, 1.4), |_| 1.0, |_| 3.0, 20));
        assert!(!filling.is && filling.why.contains("71 %") && filling.why.contains("grows"), "{filling:?}");
        let emptying = judge(&seen(&evenly(20, 0.8), |_| 1.0, |_| 3.0, 20));
        assert!(!emptying.is && emptying.why.contains("125 %") && emptying.why.contains("shrinks"), "{emptying:?}");
    }

    #[test]
    fn a_window_past_the_filling_counts() {
        let times: Vec<f64> = (1..=40).map(|i| if i <= 12 { 2.0 * i as f64 } else { 12.0 + i as f64 }).collect();
        let found = judge(&seen(&times, |_| 1.0, |_| 3.0, 20));
        assert!(found.is && (10..=20).contains(&found.first), "{found:?}");
    }

    #[test]
    fn drift_of_size_place_or_rate_is_not_and_scatter_is() {
        let steady = evenly(20, 1.0);
        assert!(judge(&seen(&steady, |i| 1.0 + 0.004 * i as f64, |_| 3.0, 20)).why.contains("diameter"));
        assert!(judge(&seen(&steady, |_| 1.0, |i| 10.0 + i as f64, 20)).why.contains("place"));
        let scatter = |i: usize| 1.0 + 0.1 * ((i * 7919) % 11) as f64 / 11.0;
        let found = judge(&seen(&steady, scatter, |i| 20.0 * scatter(i), 20));
        assert!(found.is, "{found:?}");
    }

    // A spike sheds tiny drops at an even rate: 0.4 % of the flow.
    #[test]
    fn a_spike_of_tiny_drops_is_not() {
        let mut tiny = seen(&evenly(20, 1.0), |_| 1.0, |_| 3.0, 20);
        tiny.volumes.iter_mut().for_each(|v| v.1 *= 0.004);
        assert!(!judge(&tiny).is);
    }
}
