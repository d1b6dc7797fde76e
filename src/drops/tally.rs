//! Primaries and satellites, transients, mean, spread with its interval, rate.
//!
//! Equation: a drop is a satellite if its volume is below a quarter of the volume-weighted median volume (a diameter below
//! 0.63 of the drops that carry the liquid; those that fill at the start and never again do not count: `typical_volume`); CV = s/mean of the settled primaries' diameters, with the 95 % interval
//! s sqrt((n-1)/chi2) for normal scatter; rate = (n-1)/(time between first and last).
//! Source: interval, NIST/SEMATECH e-Handbook 1.3.5.8; the quarter is ours: satellites of the classical breakups carry
//! 0.1-15 % of a drop (Rutland & Jameson 1971 and our own runs), twin drops more than half.
//! Holds for: at least 2 settled primaries; the interval takes drops as independent.

use super::detached::{Detached, sphere_radius};
use crate::outcome::DropKind;
use statrs::distribution::{ChiSquared, ContinuousCDF};

/// Share of the median volume below which a drop is a satellite.
pub const SATELLITE_SHARE: f64 = 0.25;
/// Fewest late drops, and the least share of the mean flow up to then that they carry, from which they and not all drops say what a drop is.
const LATE_MIN: usize = 8;
const CARRIES: f64 = 0.5;
/// Fewest primaries from which a settled state is read.
const SETTLED_MIN: usize = 3;
/// A leading drop whose diameter differs by more than this from the settled ones is a transient ...
const TRANSIENT_RELATIVE: f64 = 0.005;
/// ... or by more than this many of their standard deviations.
const TRANSIENT_SIGMAS: f64 = 3.0;

/// What the drops say, scaled.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tally {
    /// Kind of each drop, in the order given.
    pub kinds: Vec<DropKind>,
    /// Indices of the settled primaries in order of time.
    pub settled: Vec<usize>,
    /// Leading primaries left out; `None` if too few to tell.
    pub settled_after: Option<usize>,
    /// Mean diameter of the settled primaries.
    pub mean_diameter: Option<f64>,
    /// Its coefficient of variation and 95 % interval.
    pub cv: Option<(f64, [f64; 2])>,
    /// Settled primaries a unit of time.
    pub rate: Option<f64>,
    /// Satellites for each settled primary.
    pub satellites_per_primary: Option<f64>,
    /// Share of the detached volume that they carry.
    pub satellite_fraction: Option<f64>,
    /// Their mean diameter.
    pub satellite_diameter: Option<f64>,
}

/// Volume-weighted median volume of some drops, and their volume together; zero of none.
fn median_volume<'a>(drops: impl Iterator<Item = &'a Detached>) -> (f64, f64) {
    let mut volumes: Vec<f64> = drops.filter(|d| d.merged_into.is_none()).map(|d| d.volume).collect();
    volumes.sort_by(f64::total_cmp);
    let total: f64 = volumes.iter().sum();
    let mut passed = 0.0;
    let median = volumes.iter().copied().find(|v| {
        passed += v;
        passed >= 0.5 * total
    });
    (median.unwrap_or(0.0), total)
}

/// The same of the drops that say what is one: all of them, but where those of the later half of the time since the first came off
/// would all be satellites of the earlier ones and yet carry the liquid off, those. What filled on the tip before a thin thread stood
/// there outweighs hundreds of its drops.
fn typical_volume(drops: &[Detached]) -> f64 {
    let (median, total) = median_volume(drops.iter());
    let times = drops.iter().map(|d| d.time);
    let (first, last) = times.fold((f64::INFINITY, 0.0_f64), |(a, b), t| (a.min(t), b.max(t)));
    let middle = 0.5 * (first + last);
    let late = || drops.iter().filter(|d| d.time > middle);
    if late().count() < LATE_MIN {
        return median;
    }
    let (late, carried) = median_volume(late());
    let carries = carried / (last - middle) > CARRIES * total / last;
    if late < SATELLITE_SHARE * median && carries { late } else { median }
}

/// Kind of every drop.
pub fn kinds(drops: &[Detached]) -> Vec<DropKind> {
    let limit = SATELLITE_SHARE * typical_volume(drops);
    drops.iter().map(|d| if d.volume < limit { DropKind::Satellite } else { DropKind::Primary }).collect()
}

/// Number of primaries among the drops that have not merged into others.
pub fn primaries(drops: &[Detached]) -> usize {
    kinds(drops).iter().zip(drops).filter(|(k, d)| **k == DropKind::Primary && d.merged_into.is_none()).count()
}

/// Tally of all drops.
pub fn tally(drops: &[Detached]) -> Tally {
    tally_from(drops, None)
}

/// The same with `skipped` leading primaries left out, where that is known already.
pub fn tally_from(drops: &[Detached], skipped: Option<usize>) -> Tally {
    let kinds = kinds(drops);
    let alive = |kind: DropKind| {
        let mut list: Vec<usize> =
            (0..drops.len()).filter(|&i| kinds[i] == kind && drops[i].merged_into.is_none()).collect();
        list.sort_by(|&a, &b| drops[a].time.total_cmp(&drops[b].time));
        list
    };
    let (primary, satellite) = (alive(DropKind::Primary), alive(DropKind::Satellite));
    let diameter = |i: usize| 2.0 * sphere_radius(drops[i].volume);
    let diameters: Vec<f64> = primary.iter().map(|&i| diameter(i)).collect();
    let settled_after = skipped.or_else(|| transients(&diameters));
    let skipped = settled_after.unwrap_or(0);
    let settled: Vec<usize> = primary[skipped..].to_vec();
    let sizes = &diameters[skipped..];
    let mut out = Tally { settled_after, ..Tally::default() };
    if !sizes.is_empty() {
        out.mean_diameter = Some(mean(sizes));
        out.cv = variation(sizes);
        out.rate = rate(&settled, drops);
        // Satellites come off after their primary, and those of the last one may still be to come: count whole periods, from the
        // first settled primary to the last.
        let (since, periods) = match settled[..] {
            [_] => (f64::NEG_INFINITY, &settled[..]),
            _ => (drops[settled[0]].time, &settled[1..]),
        };
        let until = drops[settled[settled.len() - 1]].time;
        let late: Vec<usize> =
            satellite.iter().copied().filter(|&i| drops[i].time > since && drops[i].time <= until + 1e-9).collect();
        // from 0.0: the sum of nothing is -0.0, and would be printed so
        let weight =
            |list: &[usize]| list.iter().fold(0.0, |sum, &i| sum + drops[i].volume * f64::from(drops[i].copies));
        let count = |list: &[usize]| list.iter().map(|&i| drops[i].copies).sum::<u32>();
        out.satellites_per_primary = Some(f64::from(count(&late)) / f64::from(count(periods)));
        out.satellite_fraction = Some(weight(&late) / (weight(&late) + weight(periods)));
        if !late.is_empty() {
            out.satellite_diameter = Some(mean(&late.iter().map(|&i| diameter(i)).collect::<Vec<_>>()));
        }
    }
    out.kinds = kinds;
    out.settled = settled;
    out
}

/// How many leading primaries differ from the settled ones; `None` if too few to tell.
fn transients(diameters: &[f64]) -> Option<usize> {
    let n = diameters.len();
    if n < SETTLED_MIN + 1 {
        return None;
    }
    let late = &diameters[n - (n / 2).max(SETTLED_MIN)..];
    let (middle, scatter) = (mean(late), deviation(late));
    let band = (TRANSIENT_SIGMAS * scatter).max(TRANSIENT_RELATIVE * middle);
    let is_settled = |d: &f64| (d - middle).abs() <= band;
    diameters.iter().position(is_settled)
}

fn rate(settled: &[usize], drops: &[Detached]) -> Option<f64> {
    let (first, last) = (*settled.first()?, *settled.last()?);
    let span = drops[last].time - drops[first].time;
    (settled.len() >= 2 && span > 0.0).then(|| (settled.len() - 1) as f64 / span)
}

fn mean(x: &[f64]) -> f64 {
    x.iter().sum::<f64>() / x.len() as f64
}

fn deviation(x: &[f64]) -> f64 {
    let m = mean(x);
    (x.iter().map(|x| (x - m) * (x - m)).sum::<f64>() / (x.len().max(2) - 1) as f64).sqrt()
}

/// CV and its 95 % interval; `None` below two values.
pub fn variation(x: &[f64]) -> Option<(f64, [f64; 2])> {
    if x.len() < 2 {
        return None;
    }
    let cv = deviation(x) / mean(x);
    let freedom = (x.len() - 1) as f64;
    let chi = ChiSquared::new(freedom).ok()?;
    let bound = |p: f64| cv * (freedom / chi.inverse_cdf(p)).sqrt();
    Some((cv, [bound(0.975), bound(0.025)]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn drop(time: f64, volume: f64) -> Detached {
        Detached {
            time,
            volume,
            position: 0.0,
            velocity: 0.0,
            merged_from: Vec::new(),
            merged_into: None,
            copies: 1,
            in_domain: volume,
            flagged: false,
            pinch: None,
        }
    }

    // A bulb of 30 came off after ten times as long as its flow took to fill one of 3; then a thin thread's drops, with satellites, that carry
    // all of the flow, or a spike's, that carry a hundredth of it.
    #[test]
    fn a_bulb_at_the_start_does_not_make_a_threads_drops_satellites() {
        let after = |share: f64| {
            let mut drops = vec![drop(10.0, 30.0)];
            for k in 1..=20 {
                drops.push(drop(10.0 + 0.025 * f64::from(k), 0.07 * share));
                drops.push(drop(10.001 + 0.025 * f64::from(k), 0.005 * share));
            }
            drops
        };
        let t = tally(&after(1.0));
        assert_eq!((t.settled_after, t.settled.len(), primaries(&after(1.0))), (Some(1), 20, 21));
        assert_relative_eq!(t.rate.expect("a rate"), 40.0, max_relative = 1e-9);
        assert_eq!(primaries(&after(0.01)), 1);
        // where larger ones come again, the small ones between are theirs
        let mut both = after(1.0);
        both.push(drop(10.6, 30.0));
        assert_eq!(primaries(&both), 2);
    }

    /// NIST/SEMATECH e-Handbook 1.3.5.8, gear data: N = 100, s = 0.006278908, 95 % interval 0.005513 to 0.007294.
    #[test]
    fn published_interval_of_a_standard_deviation() {
        let chi = ChiSquared::new(99.0).expect("positive");
        let bound = |p: f64| 0.006278908 * (99.0 / chi.inverse_cdf(p)).sqrt();
        assert_relative_eq!(bound(0.975), 0.00551292, max_relative = 1e-5);
        assert_relative_eq!(bound(0.025), 0.00729405, max_relative = 1e-5);
    }

    #[test]
    fn satellites_are_apart_and_the_first_drop_is_a_transient() {
        let mut drops = vec![drop(1.0, 1.2)];
        for k in 0..6 {
            drops.push(drop(2.0 + f64::from(k), 1.0));
            drops.push(drop(2.01 + f64::from(k), 0.05));
        }
        let t = tally(&drops);
        assert_eq!(t.settled_after, Some(1));
        assert_eq!(t.settled.len(), 6);
        assert_relative_eq!(t.rate.expect("a rate"), 1.0, max_relative = 1e-12);
        assert!(t.cv.expect("a spread").0 < 1e-12);
        // One satellite a period, whether or not the last one has come off yet.
        assert_relative_eq!(t.satellites_per_primary.expect("a share"), 1.0, max_relative = 1e-12);
        assert_relative_eq!(t.satellite_fraction.expect("a share"), 0.05 / 1.05, max_relative = 1e-12);
        drops.pop();
        assert_eq!(tally(&drops).satellites_per_primary, Some(1.0));
        drops.retain(|d| d.volume > 0.5);
        assert!(tally(&drops).satellite_fraction.is_some_and(|f| f == 0.0 && f.is_sign_positive()));
    }
}
