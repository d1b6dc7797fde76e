//! Variance components: what part of the scatter is the drops', what part the reader's.
//!
//! Equation: reading j of drop i is `y_ij = mu + a_i + e_ij`, a with variance s_a^2 (true spread), e with s_e^2 (measurement).
//! One-way analysis of variance: `MS_w = sum (y_ij - y_i)^2 / (N - k)`, `MS_b = sum n_i (y_i - y)^2 / (k - 1)`,
//! `s_e^2 = MS_w`, `s_a^2 = (MS_b - MS_w) / n_0`, `n_0 = (N - sum n_i^2 / N) / (k - 1)`.
//!
//! Symbols: k drops (-), n_i readings of drop i (-), N readings in all (-), y_i mean of drop i (m), y mean of all (m).
//!
//! Source: Searle, Casella & McCulloch 1992, Variance Components, section 3.6 (recalled from memory); the same scheme is
//! annex H.5 of JCGM 100:2008.
//!
//! Holds for: readings that are independent of each other. A bias common to all readings (where the edge is put) shifts the
//! mean and shows in no variance.

use super::DropReadings;
use crate::study::quantiles;

/// Scatter taken apart. Lengths in m, variances in m2.
#[derive(Debug, Clone, PartialEq)]
pub struct Components {
    /// k.
    pub drops: usize,
    /// N.
    pub readings: usize,
    /// Mean of the drops' means.
    pub mean: f64,
    /// Variance of the drops' means, as anyone would compute it; `None` for a single drop.
    pub observed: Option<f64>,
    /// Mean square between drops; `None` for a single drop.
    pub between: Option<f64>,
    /// Variance of a reading, from repeats or given; `None` where neither is there.
    pub measurement: Option<f64>,
    /// Degrees of freedom of `measurement`; `None` where it was given as known.
    pub measurement_dof: Option<usize>,
    /// s_a^2, zero where the estimate is below zero.
    pub truth: Option<f64>,
}

impl Components {
    /// Take the scatter of `drops` apart. `known` is the standard deviation of a reading where it is known from elsewhere;
    /// it then stands in for the repeats. Every drop has at least one reading, and there is at least one drop.
    pub fn of(drops: &[DropReadings], known: Option<f64>) -> Components {
        let (k, n) = (drops.len(), drops.iter().map(|d| d.readings.len()).sum::<usize>());
        assert!(k > 0 && n >= k, "{k} drops with {n} readings");
        let means: Vec<f64> = drops.iter().map(DropReadings::mean).collect();
        let mean = quantiles::mean(&means);
        let observed = (k > 1).then(|| means.iter().map(|m| (m - mean).powi(2)).sum::<f64>() / (k - 1) as f64);
        let weighted =
            mean + drops.iter().zip(&means).map(|(d, m)| d.readings.len() as f64 * (m - mean)).sum::<f64>() / n as f64;
        let between = (k > 1).then(|| {
            let squares = drops.iter().zip(&means).map(|(d, m)| d.readings.len() as f64 * (m - weighted).powi(2));
            squares.sum::<f64>() / (k - 1) as f64
        });
        let within = (n > k).then(|| drops.iter().map(DropReadings::squares).sum::<f64>() / (n - k) as f64);
        let measurement = known.map(|sd| sd * sd).or(within);
        let truth = match (between, measurement) {
            (Some(b), Some(w)) => Some(((b - w) / effective_readings(drops)).max(0.0)),
            _ => None,
        };
        let measurement_dof = (known.is_none() && n > k).then_some(n - k);
        Components { drops: k, readings: n, mean, observed, between, measurement, measurement_dof, truth }
    }
}

/// n_0: readings of a drop, as the variance component counts them.
fn effective_readings(drops: &[DropReadings]) -> f64 {
    let n: f64 = drops.iter().map(|d| d.readings.len() as f64).sum();
    let squares: f64 = drops.iter().map(|d| (d.readings.len() as f64).powi(2)).sum();
    (n - squares / n) / (drops.len() as f64 - 1.0)
}

/// Sum of squares and mean square of repeats pooled over groups: `sqrt(sum SS / sum dof)`.
pub fn pooled_sd(groups: &[(f64, f64)]) -> f64 {
    let (squares, dof) = groups.iter().fold((0.0, 0.0), |(s, d), (squares, dof)| (s + squares, d + dof));
    (squares / dof).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn readings(rows: &[&[f64]]) -> Vec<DropReadings> {
        rows.iter().enumerate().map(|(i, row)| DropReadings::from_diameters(i.to_string(), row)).collect()
    }

    // Houf & Berman 1988, IEEE Trans. Components, Hybrids, Manuf. Technol. 11, 516, operator 1 (data as in Vidakovic 2011,
    // Statistics for Bioengineering Sciences, exercise 11.14, recalled from memory; the mean squares confirm them).
    #[test]
    fn published_gauge_study_gives_its_part_variance() {
        let parts = readings(&[
            &[37.0, 38.0, 37.0],
            &[42.0, 41.0, 43.0],
            &[30.0, 31.0, 31.0],
            &[42.0, 43.0, 42.0],
            &[28.0, 30.0, 29.0],
            &[42.0, 42.0, 43.0],
            &[25.0, 26.0, 27.0],
            &[40.0, 40.0, 40.0],
            &[25.0, 25.0, 25.0],
            &[35.0, 34.0, 34.0],
        ]);
        let found = Components::of(&parts, None);
        assert_relative_eq!(found.between.expect("ten parts"), 141.0407407, max_relative = 1e-8);
        assert_relative_eq!(found.measurement.expect("repeats"), 0.4666667, max_relative = 1e-6);
        assert_relative_eq!(found.truth.expect("both"), 46.8580247, max_relative = 1e-8);
        assert_eq!(found.measurement_dof, Some(20));
    }

    // JCGM 100:2008 H.5, Zener voltage, ten days of five readings: s_a = 128 uV of the daily means times sqrt 5, s_b = 85 uV
    // (inputs recalled from memory). Readings are laid out here to have exactly those two standard deviations.
    #[test]
    fn published_gum_annex_h5_between_day_spread() {
        let day_offset = |day: usize| 128.0 / 5f64.sqrt() * (2.0 * day as f64 - 9.0) / (330.0f64 / 9.0).sqrt();
        let within = [-2.0, -1.0, 0.0, 1.0, 2.0].map(|x: f64| x / 2.5f64.sqrt() * 85.0);
        let days: Vec<DropReadings> = (0..10)
            .map(|day| DropReadings::from_diameters(day.to_string(), &within.map(|e| 1e7 + day_offset(day) + e)))
            .collect();
        let found = Components::of(&days, None);
        assert_relative_eq!(found.between.expect("ten days").sqrt(), 128.0, max_relative = 1e-9);
        assert_relative_eq!(found.measurement.expect("repeats").sqrt(), 85.0, max_relative = 1e-6);
        assert_relative_eq!(found.truth.expect("both").sqrt(), 42.7995, max_relative = 1e-5);
        assert_relative_eq!((found.between.expect("ten days") / 50.0).sqrt(), 18.1019, max_relative = 1e-5);
    }

    // NIST/SEMATECH e-Handbook 2.4.4.4, five probes of 60 degrees of freedom each.
    #[test]
    fn published_pooled_repeatability() {
        let probes = [0.48115, 0.69209, 0.48483, 1.21752, 0.30076].map(|squares| (squares, 60.0));
        assert_relative_eq!(pooled_sd(&probes), 0.10289720, max_relative = 1e-6);
    }

    #[test]
    fn unequal_numbers_of_readings_keep_the_estimate_unbiased() {
        // Expected mean squares worked by hand for n = 1, 2, 3: n_0 = (6 - 14/6)/2.
        let drops = readings(&[&[1.0], &[2.0, 2.0], &[3.0, 3.0, 3.0]]);
        assert_relative_eq!(effective_readings(&drops), (6.0 - 14.0 / 6.0) / 2.0);
        let found = Components::of(&drops, None);
        assert_eq!(found.measurement, Some(0.0));
        assert_relative_eq!(found.mean, 2.0);
    }

    #[test]
    fn one_reading_each_tells_no_measurement_error_unless_it_is_given() {
        let single = readings(&[&[1.0], &[2.0], &[4.0]]);
        let found = Components::of(&single, None);
        assert_eq!((found.measurement, found.truth), (None, None));
        let known = Components::of(&single, Some(0.5));
        assert_relative_eq!(known.truth.expect("known"), known.observed.expect("three") - 0.25);
        assert_eq!(Components::of(&single[..1], None).observed, None);
    }
}
