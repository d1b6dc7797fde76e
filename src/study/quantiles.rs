//! Quantiles and tail areas of the four distributions that interval estimates need.
//!
//! Equation: the inverse and the complement of the normal, chi-square and F distribution functions.
//!
//! Symbols: p probability below (-), dof degrees of freedom (-).
//!
//! Source: the `statrs` crate computes them; the tests hold it against printed tables and worked examples.
//!
//! Holds for: 0 < p < 1 and dof >= 1; callers make sure, and a breach is a programming error.

use statrs::distribution::{ChiSquared, Continuous, ContinuousCDF, FisherSnedecor, Normal};

/// Standard normal quantile.
pub fn normal(p: f64) -> f64 {
    assert!(p > 0.0 && p < 1.0, "probability {p}");
    Normal::standard().inverse_cdf(p)
}

/// Standard normal distribution function.
pub fn normal_below(z: f64) -> f64 {
    Normal::standard().cdf(z)
}

/// Standard normal density.
pub fn normal_density(z: f64) -> f64 {
    Normal::standard().pdf(z)
}

/// Chi-square quantile.
pub fn chi_square(p: f64, dof: f64) -> f64 {
    assert!(p > 0.0 && p < 1.0, "probability {p}");
    let law = chi_square_law(dof);
    polished(law.inverse_cdf(p), p, |x| law.cdf(x), |x| law.pdf(x))
}

/// Probability that a chi-square variable exceeds x (1 for x <= 0, 0 for x infinite).
pub fn chi_square_above(x: f64, dof: f64) -> f64 {
    match x {
        x if x <= 0.0 => 1.0,
        x if x.is_finite() => chi_square_law(dof).sf(x),
        _ => 0.0,
    }
}

/// F quantile.
pub fn f_ratio(p: f64, dof_numerator: f64, dof_denominator: f64) -> f64 {
    assert!(p > 0.0 && p < 1.0, "probability {p}");
    let law = f_law(dof_numerator, dof_denominator);
    polished(law.inverse_cdf(p), p, |x| law.cdf(x), |x| law.pdf(x))
}

/// Probability that an F variable exceeds x.
pub fn f_ratio_above(x: f64, dof_numerator: f64, dof_denominator: f64) -> f64 {
    match x {
        x if x <= 0.0 => 1.0,
        x if x.is_finite() => f_law(dof_numerator, dof_denominator).sf(x),
        _ => 0.0,
    }
}

/// Median, and the `p`-quantile, of numbers by linear interpolation between order statistics (Hyndman & Fan 1996, type 7).
/// `None` for an empty slice. Numbers must not be NaN.
pub fn sample_quantile(numbers: &[f64], p: f64) -> Option<f64> {
    let mut sorted = numbers.to_vec();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len().checked_sub(1)?;
    let at = p.clamp(0.0, 1.0) * last as f64;
    let (below, share) = (at.floor() as usize, at.fract());
    let above = (below + 1).min(last);
    Some(sorted[below] + share * (sorted[above] - sorted[below]))
}

/// Arithmetic mean, exact where all numbers agree; zero for none.
pub fn mean(numbers: &[f64]) -> f64 {
    let first = numbers.first().copied().unwrap_or(0.0);
    first + numbers.iter().map(|y| y - first).sum::<f64>() / numbers.len().max(1) as f64
}

/// Newton steps on ln F against ln x: the library's inverses stop at an absolute tolerance, too early in the lower tail, and
/// lose digits of F above a million degrees of freedom. Ends when a step no longer changes x, or after 20.
fn polished(start: f64, p: f64, below: impl Fn(f64) -> f64, density: impl Fn(f64) -> f64) -> f64 {
    let mut x = start.max(f64::MIN_POSITIVE);
    for _ in 0..20 {
        let (at, slope) = (below(x), x * density(x));
        let step = (p / at).ln() * at / slope;
        if !step.is_finite() || step.abs() < 1e-14 {
            break;
        }
        x *= step.clamp(-2.0, 2.0).exp();
    }
    x
}

fn chi_square_law(dof: f64) -> ChiSquared {
    ChiSquared::new(dof).unwrap_or_else(|_| panic!("degrees of freedom {dof}"))
}

/// Degrees of freedom of the denominator beyond which F is as good as at infinity (it moves by 5e-6); the library's F loses
/// digits above (3e-4 at ten million).
const DENOMINATOR_MAX: f64 = 1e6;

fn f_law(numerator: f64, denominator: f64) -> FisherSnedecor {
    let denominator = denominator.min(DENOMINATOR_MAX);
    FisherSnedecor::new(numerator, denominator)
        .unwrap_or_else(|_| panic!("degrees of freedom {numerator}, {denominator}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    // NIST/SEMATECH e-Handbook of Statistical Methods, tables 1.3.6.7.1, 1.3.6.7.3 and 1.3.6.7.4 (recalled from memory).
    #[test]
    fn published_tables_of_quantiles() {
        assert_relative_eq!(normal(0.975), 1.959964, max_relative = 1e-6);
        for (p, dof, value) in [
            (0.95, 9.0, 16.919),
            (0.975, 10.0, 20.483),
            (0.025, 10.0, 3.247),
            (0.95, 1.0, 3.841),
            (0.975, 100.0, 129.561),
        ] {
            assert_relative_eq!(chi_square(p, dof), value, max_relative = 2e-4);
            assert_relative_eq!(chi_square_above(value, dof), 1.0 - p, max_relative = 3e-3);
        }
        for (p, n, m, value) in [(0.95, 9.0, 20.0, 2.393), (0.95, 1.0, 1.0, 161.448), (0.99, 5.0, 10.0, 5.636)] {
            assert_relative_eq!(f_ratio(p, n, m), value, max_relative = 3e-4);
            assert_relative_eq!(f_ratio_above(value, n, m), 1.0 - p, max_relative = 3e-3);
        }
    }

    // An F variable with 1 and m degrees of freedom is a squared Student t; with m to infinity a chi-square over its dof.
    #[test]
    fn theory_limits_of_the_f_distribution() {
        assert_relative_eq!(f_ratio(0.95, 1.0, 10.0), 2.228_139f64.powi(2), max_relative = 1e-6);
        assert_relative_eq!(f_ratio(0.975, 7.0, 1e7), chi_square(0.975, 7.0) / 7.0, max_relative = 1e-5);
    }

    #[test]
    fn quantiles_invert_the_tail_areas_from_one_degree_of_freedom_to_a_million() {
        for dof in [1.0, 2.0, 5.0, 59.0, 1e3, 1e6] {
            for p in [1e-9, 0.025, 0.5, 0.975, 1.0 - 1e-9] {
                assert_relative_eq!(chi_square_law(dof).cdf(chi_square(p, dof)), p, max_relative = 1e-8);
            }
        }
        assert_eq!(chi_square_above(-1.0, 3.0), 1.0);
        assert_eq!(chi_square_above(f64::INFINITY, 3.0), 0.0);
    }

    #[test]
    fn sample_quantiles_interpolate() {
        assert_eq!(sample_quantile(&[4.0, 1.0, 2.0, 3.0], 0.5), Some(2.5));
        assert_eq!(sample_quantile(&[7.0], 0.9), Some(7.0));
        assert_eq!(sample_quantile(&[], 0.5), None);
    }
}
