//! Gauss rules on 0..1, Lagrange polynomials and quintic Hermite pieces.
//!
//! Equation: int_0^1 f dt = sum w_i f(t_i), exact to degree 2 n - 1; with t = w^4 a logarithm at t = 0 is tamed too.
//!
//! Symbols: t the parameter of an element.
//!
//! Source: common practice (Newton's iteration for the roots of Legendre polynomials), no source.
//!
//! Holds for: n >= 1.

use crate::math::Pinned as _;
use std::sync::OnceLock;

/// Nodes and weights.
#[derive(Debug, Clone)]
pub struct Rule {
    pub t: Vec<f64>,
    pub w: Vec<f64>,
}

/// Gauss-Legendre rule with `n` points on 0..1.
pub fn gauss(n: usize) -> Rule {
    let mut rule = Rule { t: vec![0.0; n], w: vec![0.0; n] };
    for i in 0..n {
        let mut x = (std::f64::consts::PI * (i as f64 + 0.75) / (n as f64 + 0.5)).cosine();
        let mut slope = 1.0;
        for _ in 0..60 {
            let (mut p, mut before) = (1.0, 0.0);
            for k in 0..n {
                let k = k as f64;
                (p, before) = (((2.0 * k + 1.0) * x * p - k * before) / (k + 1.0), p);
            }
            slope = n as f64 * (x * p - before) / (x * x - 1.0);
            let step = p / slope;
            x -= step;
            if step.abs() < 1e-15 {
                break;
            }
        }
        let at = n - 1 - i;
        rule.t[at] = 0.5 * (1.0 + x);
        rule.w[at] = 1.0 / ((1.0 - x * x) * slope * slope);
    }
    rule
}

/// The rules that the integrals over elements use.
#[derive(Debug)]
pub struct Rules {
    /// 2, 3, 4, 6 points.
    pub plain: [Rule; 4],
    /// Graded towards t = 0.
    pub singular: Rule,
}

/// The rules, computed once.
pub fn rules() -> &'static Rules {
    static RULES: OnceLock<Rules> = OnceLock::new();
    RULES.get_or_init(|| {
        let base = gauss(10);
        let singular = Rule {
            t: base.t.iter().map(|t| t.powi(4)).collect(),
            w: base.t.iter().zip(&base.w).map(|(t, w)| 4.0 * w * t.powi(3)).collect(),
        };
        Rules { plain: [gauss(2), gauss(3), gauss(4), gauss(6)], singular }
    })
}

/// Coefficients (ascending powers) of the cubic Lagrange polynomials through four positions.
pub fn cubic(at: [f64; 4]) -> [[f64; 4]; 4] {
    std::array::from_fn(|m| {
        let mut poly = [1.0, 0.0, 0.0, 0.0];
        let others = at.iter().enumerate().filter(|(k, _)| *k != m).map(|(_, x)| x);
        for (degree, x) in others.enumerate() {
            let below = at[m] - x;
            for d in (0..=degree).rev() {
                poly[d + 1] += poly[d] / below;
                poly[d] *= -x / below;
            }
        }
        poly
    })
}

/// Coefficients (ascending powers) of the quintic on 0..1 with value, slope and second derivative at both ends.
pub fn quintic(start: [f64; 3], end: [f64; 3]) -> [f64; 6] {
    let [f, d, s] = start;
    let p = end[0] - f - d - 0.5 * s;
    let q = end[1] - d - s;
    let r = end[2] - s;
    [f, d, 0.5 * s, 10.0 * p - 4.0 * q + 0.5 * r, -15.0 * p + 7.0 * q - r, 6.0 * p - 3.0 * q + 0.5 * r]
}

/// Value of a polynomial.
#[inline]
pub fn value(c: &[f64; 6], t: f64) -> f64 {
    ((((c[5] * t + c[4]) * t + c[3]) * t + c[2]) * t + c[1]) * t + c[0]
}

/// Slope of a polynomial.
#[inline]
pub fn slope(c: &[f64; 6], t: f64) -> f64 {
    (((5.0 * c[5] * t + 4.0 * c[4]) * t + 3.0 * c[3]) * t + 2.0 * c[2]) * t + c[1]
}

/// Second derivative of a polynomial.
pub fn bend(c: &[f64; 6], t: f64) -> f64 {
    ((20.0 * c[5] * t + 12.0 * c[4]) * t + 6.0 * c[3]) * t + 2.0 * c[2]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn theory_gauss_rules_are_exact_to_their_degree() {
        for n in 1..12 {
            let rule = gauss(n);
            for degree in 0..2 * n {
                let sum: f64 = rule.t.iter().zip(&rule.w).map(|(t, w)| w * t.powi(degree as i32)).sum();
                assert!((sum - 1.0 / (degree as f64 + 1.0)).abs() < 1e-14, "{n} {degree}");
            }
        }
        // -ln t over 0..1 is 1
        let rule = &rules().singular;
        let sum: f64 = rule.t.iter().zip(&rule.w).map(|(t, w)| -w * t.ln()).sum();
        assert!((sum - 1.0).abs() < 2e-7, "{sum}");
    }

    #[test]
    fn theory_pieces_meet_their_data() {
        let c = quintic([1.0, -2.0, 3.0], [0.5, 4.0, -1.0]);
        let got = [value(&c, 0.0), slope(&c, 0.0), bend(&c, 0.0), value(&c, 1.0), slope(&c, 1.0), bend(&c, 1.0)];
        for (a, b) in got.iter().zip([1.0, -2.0, 3.0, 0.5, 4.0, -1.0]) {
            assert!((a - b).abs() < 1e-13, "{got:?}");
        }
        let at = [-1.0, 0.0, 1.0, 2.5];
        let polys = cubic(at);
        for (m, poly) in polys.iter().enumerate() {
            for (k, x) in at.iter().enumerate() {
                let v = poly[0] + x * (poly[1] + x * (poly[2] + x * poly[3]));
                assert!((v - if m == k { 1.0 } else { 0.0 }).abs() < 1e-13);
            }
        }
    }
}
