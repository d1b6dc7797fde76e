//! How uniform measured drops really are: the true spread apart from the error of measuring.
//!
//! ```text
//! readings -> split off satellites -> variance components -> interval of the true CV -> what can be told, in words
//! ```
//! Outliers are shown and kept; nothing is dropped. Files and printing are elsewhere.

pub mod against;
pub mod components;
pub mod detect;
pub mod interval;
pub mod moments;
pub mod notes;
pub mod readings;
pub mod split;
pub mod statement;

use crate::study::quantiles;
use components::Components;
use interval::CvPivot;
use moments::{Moments, Percentiles};
use serde::Serialize;

/// One reading of a drop's diameter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// m.
    pub diameter: f64,
    /// Line in the table, from 1.
    pub line: u64,
    /// Which picture it was read in, if told.
    pub image: Option<u32>,
}

/// A drop and its readings (at least one).
#[derive(Debug, Clone, PartialEq)]
pub struct DropReadings {
    /// Label in the table.
    pub name: String,
    pub readings: Vec<Reading>,
}

impl DropReadings {
    /// A drop from bare diameters, m: for programs that have no table.
    pub fn from_diameters(name: impl Into<String>, diameters: &[f64]) -> DropReadings {
        let readings = diameters.iter().map(|&diameter| Reading { diameter, line: 0, image: None }).collect();
        DropReadings { name: name.into(), readings }
    }

    /// Mean of the readings, m.
    pub fn mean(&self) -> f64 {
        let first = self.readings[0].diameter;
        first + self.readings.iter().map(|r| r.diameter - first).sum::<f64>() / self.readings.len() as f64
    }

    /// Sum of squares about the mean, m2.
    pub fn squares(&self) -> f64 {
        let mean = self.mean();
        self.readings.iter().map(|r| (r.diameter - mean).powi(2)).sum()
    }
}

/// What the user knows beside the readings.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Known {
    /// Standard deviation of one reading, m, if known from elsewhere.
    pub reading_sd: Option<f64>,
    /// Drops a second.
    pub rate: Option<f64>,
    /// Pumped flow of the inner liquid, m3/s.
    pub flow: Option<f64>,
    /// Diameter below which drops are satellites, m, in place of the gap rule.
    pub satellites_below: Option<f64>,
    /// Size of a pixel, m.
    pub pixel: Option<f64>,
    /// Relative tolerance of the scale: its factor lies evenly within it (JCGM 100:2008, 4.3.7, recalled from memory).
    pub scale_tolerance: Option<f64>,
}

/// One drop as a figure or a table shows it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct DropSize {
    pub drop: String,
    /// Mean of its readings.
    pub mean_m: f64,
    pub readings: usize,
    pub satellite: bool,
    pub outlier: bool,
}

/// Small drops between the primary ones.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct MeasuredSatellites {
    pub count: usize,
    pub per_primary: f64,
    pub volume_fraction: f64,
    pub mean_diameter_m: Option<f64>,
    /// Drops below this are satellites; null where nothing was split off.
    pub below_m: Option<f64>,
    /// The rule.
    pub how: String,
}

/// A drop or a reading far from the others: shown, and kept.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Outlier {
    pub drop: String,
    /// Line of the reading; null where the whole drop stands out.
    pub line: Option<u64>,
    pub diameter_m: f64,
    /// 0.6745 |y - median| / MAD.
    pub score: f64,
}

/// Volume that the drops carry away over the volume pumped.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Closure {
    /// 1 where they agree.
    pub ratio: f64,
    /// True outside 0.85 to 1.15.
    pub flagged: bool,
    pub text: String,
}

/// The answer; the field names are the keys of `spread --json`. SI; what cannot be told is null.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Spread {
    /// Primary drops.
    pub n_drops: usize,
    /// Their readings.
    pub n_readings: usize,
    pub mean_m: f64,
    /// Of the mean, by Student's t on the drops' means.
    pub mean_interval95_m: Option<[f64; 2]>,
    /// The same with the uncertainty of the scale, which all drops share (no CV hears of it); null where none was told.
    pub mean_interval95_with_scale_m: Option<[f64; 2]>,
    /// Standard deviation of the drops' means.
    pub sd_observed_m: Option<f64>,
    /// Standard deviation of one reading.
    pub sd_measurement_m: Option<f64>,
    pub sd_true_m: Option<f64>,
    pub cv_observed: Option<f64>,
    pub cv_true: Option<f64>,
    pub cv_true_interval95: Option<[f64; 2]>,
    /// Whether drops differ by more than readings do; null where that cannot be told at all.
    pub distinguishable: Option<bool>,
    pub statement: String,
    /// How the interval was made and how often it holds the truth.
    pub method: String,
    /// True CV if the outliers were left out, for comparison only; null without outliers.
    pub cv_true_without_outliers: Option<f64>,
    pub needed: Option<detect::Needed>,
    /// All drops, satellites among them.
    pub moments: Option<Moments>,
    pub percentiles: Option<Percentiles>,
    /// Primary drops only.
    pub moments_primary: Option<Moments>,
    pub percentiles_primary: Option<Percentiles>,
    pub satellites: MeasuredSatellites,
    pub outliers: Vec<Outlier>,
    pub closure: Option<Closure>,
    pub against: Option<against::Against>,
    pub notes: Vec<String>,
    /// Every drop, in the table's order.
    pub drops: Vec<DropSize>,
}

/// Take the measured spread apart. `drops` holds at least one drop.
pub fn analyse(drops: &[DropReadings], known: &Known) -> Spread {
    assert!(!drops.is_empty() && drops.iter().all(|d| !d.readings.is_empty()), "drops without readings");
    let sizes: Vec<f64> = drops.iter().map(DropReadings::mean).collect();
    let (satellites, below) = satellites(&sizes, known.satellites_below);
    let primary: Vec<DropReadings> = drops.iter().filter(|d| below.is_none_or(|b| d.mean() >= b)).cloned().collect();
    let parts = Components::of(&primary, known.reading_sd);
    let outliers = outliers(&primary, parts.measurement);
    let whole_drops: Vec<&str> = outliers.iter().filter(|o| o.line.is_none()).map(|o| o.drop.as_str()).collect();
    let kept: Vec<DropReadings> = primary.iter().filter(|d| !whole_drops.contains(&d.name.as_str())).cloned().collect();
    let pivot = CvPivot::of(&primary, parts.measurement, parts.measurement_dof);
    let interval = pivot.as_ref().map(|p| p.interval(0.05));
    let relative = |variance: Option<f64>| variance.map(|v| v.sqrt() / parts.mean);
    let sizes_primary: Vec<f64> = primary.iter().map(DropReadings::mean).collect();
    let without = (!whole_drops.is_empty() && kept.len() > 1).then(|| Components::of(&kept, known.reading_sd));
    let mut spread = Spread {
        n_drops: parts.drops,
        n_readings: parts.readings,
        mean_m: parts.mean,
        mean_interval95_m: mean_interval(&parts),
        mean_interval95_with_scale_m: known.scale_tolerance.map(|tolerance| with_scale(&parts, tolerance)),
        sd_observed_m: parts.observed.map(f64::sqrt),
        sd_measurement_m: parts.measurement.map(f64::sqrt),
        sd_true_m: parts.truth.map(f64::sqrt),
        cv_observed: relative(parts.observed),
        cv_true: relative(parts.truth),
        cv_true_interval95: interval,
        distinguishable: interval.map(|[lower, _]| lower > 0.0),
        statement: String::new(),
        method: statement::METHOD.into(),
        cv_true_without_outliers: without.and_then(|c| c.truth.map(|t| t.sqrt() / c.mean)),
        needed: needed(&parts, interval),
        moments: moments::moments(&sizes),
        percentiles: moments::percentiles(&sizes),
        moments_primary: moments::moments(&sizes_primary),
        percentiles_primary: moments::percentiles(&sizes_primary),
        satellites,
        closure: closure(&sizes, parts.drops, known),
        against: None,
        notes: notes::notes(&primary, &parts, known),
        drops: drop_sizes(drops, below, &whole_drops),
        outliers,
    };
    spread.statement = statement::statement(&spread);
    spread
}

fn mean_interval(parts: &Components) -> Option<[f64; 2]> {
    let variance = parts.observed?;
    let dof = (parts.drops - 1) as f64;
    let half = quantiles::f_ratio(0.95, 1.0, dof).sqrt() * (variance / parts.drops as f64).sqrt();
    Some([parts.mean - half, parts.mean + half])
}

/// The interval of the mean with that of the scale, whose standard deviation is the tolerance over the root of 3.
fn with_scale(parts: &Components, tolerance: f64) -> [f64; 2] {
    let sampling = mean_interval(parts).map_or(0.0, |[low, high]| 0.5 * (high - low));
    let scale = quantiles::normal(0.975) * parts.mean * tolerance / 3f64.sqrt();
    let half = sampling.hypot(scale);
    [parts.mean - half, parts.mean + half]
}

/// Where the spread is not told apart: what would tell the estimate, or, where that is zero, the upper limit.
fn needed(parts: &Components, interval: Option<[f64; 2]>) -> Option<detect::Needed> {
    let [lower, upper] = interval?;
    let reading = parts.measurement?.sqrt() / parts.mean;
    let estimate = parts.truth?.sqrt() / parts.mean;
    let target = if estimate > 0.0 { estimate } else { upper };
    let per_drop = parts.readings / parts.drops;
    (lower == 0.0 && target > 0.0 && reading > 0.0).then(|| detect::needed(target, reading, parts.drops, per_drop))
}

fn satellites(sizes: &[f64], given: Option<f64>) -> (MeasuredSatellites, Option<f64>) {
    let median = moments::percentiles(sizes).map_or(0.0, |p| p.d50v);
    let largest = sizes.iter().copied().fold(0.0, f64::max);
    // A limit that would leave no primary drop is not used.
    let below = given.filter(|limit| *limit <= largest).or_else(|| split::satellite_limit(sizes, median));
    let small: Vec<f64> = sizes.iter().copied().filter(|d| below.is_some_and(|b| *d < b)).collect();
    let volume = |drops: &[f64]| drops.iter().map(|d| (d / largest).powi(3)).sum::<f64>();
    let how = match (given, below) {
        (Some(limit), Some(used)) if limit == used => format!("drops below {:.4} um, as given", 1e6 * used),
        (_, Some(used)) => format!(
            "drops below {:.4} um: the uppermost gap of a factor {} or more between neighbouring diameters below the volume median",
            1e6 * used,
            split::GAP
        ),
        (_, None) => {
            format!("none: no gap of a factor {} between neighbouring diameters below the volume median", split::GAP)
        }
    };
    let primaries = sizes.len() - small.len();
    let found = MeasuredSatellites {
        count: small.len(),
        per_primary: small.len() as f64 / primaries as f64,
        volume_fraction: volume(&small) / volume(sizes),
        mean_diameter_m: (!small.is_empty()).then(|| small.iter().sum::<f64>() / small.len() as f64),
        below_m: below,
        how,
    };
    (found, below)
}

/// Drops far from the other drops, and readings far from the other readings of their drop.
fn outliers(primary: &[DropReadings], measurement: Option<f64>) -> Vec<Outlier> {
    let sizes: Vec<f64> = primary.iter().map(DropReadings::mean).collect();
    let far = |score: &f64| *score > split::OUTLIER_SCORE;
    let drops = primary.iter().zip(split::modified_scores(&sizes)).filter(|(_, score)| far(score));
    let mut found: Vec<Outlier> = drops
        .map(|(drop, score)| Outlier { drop: drop.name.clone(), line: None, diameter_m: drop.mean(), score })
        .collect();
    if measurement.is_none() {
        return found;
    }
    // Deviations of the readings of all drops with repeats, brought to one scale by sqrt(n/(n-1)).
    let repeated: Vec<&DropReadings> = primary.iter().filter(|d| d.readings.len() > 1).collect();
    let deviation = |drop: &DropReadings, r: &Reading| {
        let n = drop.readings.len() as f64;
        (r.diameter - drop.mean()) * (n / (n - 1.0)).sqrt()
    };
    let rows = repeated.iter().flat_map(|d| d.readings.iter().map(move |r| (d.name.as_str(), r, deviation(d, r))));
    let rows: Vec<(&str, &Reading, f64)> = rows.collect();
    let scores = split::modified_scores(&rows.iter().map(|row| row.2).collect::<Vec<f64>>());
    found.extend(rows.iter().zip(scores).filter(|(_, score)| far(score)).map(|((name, reading, _), score)| Outlier {
        drop: (*name).to_string(),
        line: Some(reading.line),
        diameter_m: reading.diameter,
        score,
    }));
    found
}

fn drop_sizes(drops: &[DropReadings], below: Option<f64>, outliers: &[&str]) -> Vec<DropSize> {
    let size = |d: &DropReadings| DropSize {
        drop: d.name.clone(),
        mean_m: d.mean(),
        readings: d.readings.len(),
        satellite: below.is_some_and(|b| d.mean() < b),
        outlier: outliers.contains(&d.name.as_str()),
    };
    drops.iter().map(size).collect()
}

/// All drops' volume for each primary, times the rate of primaries, over the pumped flow.
fn closure(sizes: &[f64], primaries: usize, known: &Known) -> Option<Closure> {
    let (rate, flow) = (known.rate?, known.flow?);
    let volume: f64 = sizes.iter().map(|d| std::f64::consts::PI / 6.0 * d.powi(3)).sum();
    let ratio = volume / primaries as f64 * rate / flow;
    let flagged = !(0.85..=1.15).contains(&ratio);
    let verdict = if flagged {
        "outside 0.85 to 1.15: check the size of a pixel, the lens effect of the wall, the rate, the pump, and leaks"
    } else {
        "within 0.85 to 1.15"
    };
    let scale = known.scale_tolerance.map_or(String::new(), |tolerance| {
        format!(" (the scale alone leaves +-{:.1} % of it open)", 300.0 * tolerance)
    });
    let text = format!("the drops carry {ratio:.3} of the pumped flow, {verdict}{scale}");
    Some(Closure { ratio, flagged, text })
}

#[cfg(test)]
mod tests;
