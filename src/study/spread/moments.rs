//! Mean diameters and volume percentiles of a population.
//!
//! Equation: `D[p,q] = (M_p / M_q)^(1/(p-q))`, M_p = sum d^p; Q_3(x) is the share of the volume in drops up to x, taken at
//! drop i as what lies below it plus half its own, linear between drops; D_P is where Q_3 reaches P percent.
//!
//! Symbols: d diameter of a drop (m).
//!
//! Source: ISO 9276-2:2014, moment-ratio notation (definition recalled from memory); the half-own rule is common practice.
//!
//! Holds for: diameters free of measurement error; readings scatter by s_e lengthen `D[4,3]` by about 3 s_e^2/d, which is noted
//! where it exceeds 1 %.

use serde::Serialize;

/// Mean diameters, m.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Moments {
    pub d10: f64,
    pub d21: f64,
    pub d32: f64,
    pub d43: f64,
}

/// Diameters below which 10, 50 and 90 % of the volume lie, m.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Percentiles {
    pub d10v: f64,
    pub d50v: f64,
    pub d90v: f64,
}

/// Mean diameters of drops; `None` without drops.
pub fn moments(diameters: &[f64]) -> Option<Moments> {
    if diameters.is_empty() {
        return None;
    }
    // Relative to the largest, so that fourth powers of micrometres keep their digits.
    let scale = diameters.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
    let moment = |p: i32| diameters.iter().map(|d| (d / scale).powi(p)).sum::<f64>();
    let ratio = |p: i32| scale * moment(p) / moment(p - 1);
    Some(Moments { d10: ratio(1), d21: ratio(2), d32: ratio(3), d43: ratio(4) })
}

/// Volume percentiles; `None` without drops.
pub fn percentiles(diameters: &[f64]) -> Option<Percentiles> {
    let mut sorted = diameters.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = |share| volume_percentile(&sorted, share);
    Some(Percentiles { d10v: at(0.1)?, d50v: at(0.5)?, d90v: at(0.9)? })
}

fn volume_percentile(sorted: &[f64], share: f64) -> Option<f64> {
    let scale = *sorted.last()?;
    let volume = |d: f64| (d / scale).powi(3);
    let wanted = share * sorted.iter().map(|d| volume(*d)).sum::<f64>();
    let (mut below, mut previous) = (0.0, None);
    for &d in sorted {
        let here = below + 0.5 * volume(d);
        if here >= wanted {
            let Some((at, d_before)) = previous else { return Some(d) };
            return Some(d_before + (d - d_before) * (wanted - at) / (here - at));
        }
        below += volume(d);
        previous = Some((here, d));
    }
    sorted.last().copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::quantiles;
    use approx::assert_relative_eq;

    // Definition, ISO 9276-2:2014 moment-ratio notation; values computed independently from it.
    #[test]
    fn published_definition_of_moment_ratios() {
        let found = moments(&[98.0, 99.0, 100.0, 100.0, 101.0, 102.0, 40.0]).expect("drops");
        assert_relative_eq!(found.d10, 640.0 / 7.0, max_relative = 1e-12);
        assert_relative_eq!(found.d32, 98.4742737, max_relative = 1e-8);
        assert_relative_eq!(found.d43, 99.4165212, max_relative = 1e-8);
    }

    // Exact for a lognormal law: D[p,q] = median exp((p+q) s^2/2); volume median = median exp(3 s^2).
    #[test]
    fn theory_lognormal_population() {
        let (median, s, n) = (50e-6, 0.1, 20_000);
        let drops: Vec<f64> =
            (0..n).map(|i| median * (s * quantiles::normal((f64::from(i) + 0.5) / f64::from(n))).exp()).collect();
        let found = moments(&drops).expect("drops");
        assert_relative_eq!(found.d32, 51.2657560e-6, max_relative = 1e-5);
        assert_relative_eq!(found.d43, median * (3.5 * s * s).exp(), max_relative = 1e-5);
        let percent = percentiles(&drops).expect("drops");
        assert_relative_eq!(percent.d50v, median * (3.0 * s * s).exp(), max_relative = 1e-5);
        let z90 = quantiles::normal(0.9);
        assert_relative_eq!(percent.d90v, median * (3.0 * s * s + z90 * s).exp(), max_relative = 1e-4);
        assert_relative_eq!(percent.d10v, median * (3.0 * s * s - z90 * s).exp(), max_relative = 1e-4);
    }

    #[test]
    fn equal_drops_have_one_diameter_and_no_drops_have_none() {
        let found = percentiles(&[2e-5; 5]).expect("drops");
        assert_eq!([found.d10v, found.d50v, found.d90v], [2e-5; 3]);
        assert_eq!(moments(&[]), None);
        assert_eq!(percentiles(&[]), None);
        assert_eq!(percentiles(&[3.0]).expect("one").d90v, 3.0);
    }
}
