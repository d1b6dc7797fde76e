//! Satellites apart from primary drops, and outliers that are shown but kept.
//!
//! Equation: satellites are all drops below the uppermost gap of a factor 1.3 or more between neighbouring diameters below the
//! volume median; an outlier has `0.6745 |y - median| / MAD > 3.5`.
//!
//! Symbols: y diameter (m), MAD median absolute deviation (m).
//!
//! Source: gap rule: our own, stated in every answer (one satellite a drop makes the number median useless, while the volume
//! median stays with the primary drops as long as they carry half the liquid). Outlier rule: Iglewicz & Hoaglin 1993, as in
//! NIST/SEMATECH e-Handbook 1.3.5.17 (recalled from memory).
//!
//! Holds for: primary drops whose CV is below about 8 %; a continuous distribution has no gap, and then nothing is split off.

use crate::study::quantiles::sample_quantile;

/// Factor between neighbouring diameters that counts as a gap: 1.3 in diameter is 2.2 in volume, wider than any gap expected
/// among 1,000 normal drops of CV 8 % (the smallest two of them differ by 3 % on average).
pub const GAP: f64 = 1.3;
/// Modified score beyond which a drop or a reading is shown as an outlier.
pub const OUTLIER_SCORE: f64 = 3.5;

/// Diameter below which drops are satellites; `None` where there is no gap. `volume_median` is D50 by volume.
pub fn satellite_limit(diameters: &[f64], volume_median: f64) -> Option<f64> {
    let mut sorted: Vec<f64> = diameters.iter().copied().filter(|d| *d <= volume_median).collect();
    // The first drop above the median closes the uppermost gap.
    sorted.extend(diameters.iter().copied().filter(|d| *d > volume_median).reduce(f64::min));
    sorted.sort_by(f64::total_cmp);
    let gap = sorted.windows(2).rev().find(|pair| pair[1] >= GAP * pair[0] && pair[0] < volume_median)?;
    Some((gap[0] * gap[1]).sqrt())
}

/// Modified scores of numbers (zero where all but a few agree to the last digit and the number agrees too).
pub fn modified_scores(numbers: &[f64]) -> Vec<f64> {
    let Some(median) = sample_quantile(numbers, 0.5) else { return Vec::new() };
    let deviations: Vec<f64> = numbers.iter().map(|y| (y - median).abs()).collect();
    let spread = sample_quantile(&deviations, 0.5).unwrap_or(0.0);
    // Where more than half agree exactly, the mean absolute deviation stands in (same source, factor 1.2533).
    let mean = deviations.iter().sum::<f64>() / deviations.len() as f64;
    let unit = if spread > 0.0 { spread / 0.6745 } else { 1.253314 * mean };
    deviations.iter().map(|d| if unit > 0.0 { d / unit } else { 0.0 }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::spread::moments::percentiles;

    fn limit(diameters: &[f64]) -> Option<f64> {
        satellite_limit(diameters, percentiles(diameters)?.d50v)
    }

    #[test]
    fn satellites_are_split_off_even_where_they_outnumber_the_drops() {
        let mut drops = vec![98.0, 99.0, 100.0, 101.0, 102.0];
        assert_eq!(limit(&drops), None);
        drops.extend([30.0; 12]);
        let cut = limit(&drops).expect("a gap");
        assert!(cut > 30.0 && cut < 98.0, "{cut}");
    }

    #[test]
    fn the_uppermost_gap_counts_so_that_dust_does_not_hide_satellites() {
        let cut = limit(&[100.0, 101.0, 99.0, 40.0, 35.0, 31.0, 2.0]).expect("a gap");
        assert!(cut > 40.0 && cut < 99.0, "{cut}");
    }

    #[test]
    fn a_large_merged_drop_is_no_gap_among_satellites() {
        // Two drops that merged have 1.26 times the diameter and lie above the volume median.
        assert_eq!(limit(&[100.0, 100.0, 100.0, 101.0, 126.0]), None);
    }

    // NIST/SEMATECH e-Handbook 1.3.5.17 tells to label scores beyond 3.5; numbers are our own.
    #[test]
    fn outliers_score_high_and_equal_numbers_score_nothing() {
        let scores = modified_scores(&[10.0, 10.1, 9.9, 10.05, 9.95, 12.0]);
        assert!(scores[5] > OUTLIER_SCORE && scores[..5].iter().all(|s| *s < OUTLIER_SCORE), "{scores:?}");
        assert_eq!(modified_scores(&[5.0; 4]), vec![0.0; 4]);
        let nearly = modified_scores(&[5.0, 5.0, 5.0, 5.0, 5.0, 5.0, 5.0, 5.0, 6.0]);
        assert!(nearly[8] > OUTLIER_SCORE && nearly[0] == 0.0, "{nearly:?}");
        assert!(modified_scores(&[]).is_empty());
    }
}
