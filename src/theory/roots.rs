//! Roots and maxima of one real function, and of one analytic function.
//!
//! Equation: f(x) = 0 on a bracket (regula falsi, Illinois, with bisection as a floor); f(z) = 0 near a start (secant method
//! in the complex plane); maximum of a unimodal function (golden section).
//!
//! Symbols: none.
//!
//! Source: Dowell & Jarratt 1971, BIT 11, 168 (Illinois); Kiefer 1953, Proc. Am. Math. Soc. 4, 502 (golden section).
//!
//! Holds for: continuous f with a change of sign; every loop has a limit.

use nalgebra::Complex;

const STEPS: usize = 200;
const GOLDEN: f64 = 0.618_033_988_749_894_9;

/// Root of f between `a` and `b`; `None` without a change of sign.
pub fn bracketed(f: impl Fn(f64) -> f64, a: f64, b: f64) -> Option<f64> {
    let (mut a, mut b) = (a, b);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return Some(a);
    }
    if fb == 0.0 {
        return Some(b);
    }
    // Written so that a NaN at either end is no bracket.
    let opposite = fa * fb < 0.0;
    if !opposite {
        return None;
    }
    for step in 0..STEPS {
        let secant = (a * fb - b * fa) / (fb - fa);
        let inside = secant > a.min(b) && secant < a.max(b);
        let c = if step % 4 == 3 || !inside { 0.5 * (a + b) } else { secant };
        let fc = f(c);
        if fc == 0.0 || (b - a).abs() <= 4.0 * f64::EPSILON * c.abs() {
            return Some(c);
        }
        if fc * fb < 0.0 {
            (a, fa) = (b, fb);
        } else {
            fa *= 0.5;
        }
        (b, fb) = (c, fc);
    }
    Some(b)
}

/// Place of the maximum of a function that has one hump between `low` and `high`, to about 1e-10: golden section stops at the
/// square root of round-off, so the end is a root of the slope (differences over a thousandth of the place: smooth f only).
pub fn maximum(f: impl Fn(f64) -> f64, low: f64, high: f64) -> f64 {
    let centre = golden_section(&f, low, high, 1e-5);
    let width = 1e-3 * centre.abs();
    let slope = |x: f64| {
        let d = |step: f64| (f(x + step) - f(x - step)) / (2.0 * step);
        (4.0 * d(0.5 * width) - d(width)) / 3.0
    };
    bracketed(slope, centre - 0.1 * width, centre + 0.1 * width).unwrap_or(centre)
}

/// The same to a relative width of `tolerance`, for functions that are not smooth enough to be differenced.
pub fn golden_section(f: impl Fn(f64) -> f64, low: f64, high: f64, tolerance: f64) -> f64 {
    let (mut low, mut high) = (low, high);
    let mut left = high - GOLDEN * (high - low);
    let mut right = low + GOLDEN * (high - low);
    let (mut at_left, mut at_right) = (f(left), f(right));
    for _ in 0..STEPS {
        if high - low <= tolerance * high.abs() {
            break;
        }
        if at_left > at_right {
            (high, right, at_right) = (right, left, at_left);
            left = high - GOLDEN * (high - low);
            at_left = f(left);
        } else {
            (low, left, at_left) = (left, right, at_right);
            right = low + GOLDEN * (high - low);
            at_right = f(right);
        }
    }
    0.5 * (low + high)
}

/// Root of an analytic function near two starts, by the secant method; `None` where it does not settle.
pub fn analytic(
    f: impl Fn(Complex<f64>) -> Complex<f64>,
    start: Complex<f64>,
    other: Complex<f64>,
) -> Option<Complex<f64>> {
    let (mut a, mut b) = (other, start);
    let (mut fa, mut fb) = (f(a), f(b));
    for _ in 0..STEPS {
        if fb.norm() == 0.0 {
            return Some(b);
        }
        let step = fb * (b - a) / (fb - fa);
        if !(step.re.is_finite() && step.im.is_finite()) {
            return None;
        }
        (a, fa) = (b, fb);
        b -= step;
        if step.norm() <= 1e-14 * b.norm() {
            return Some(b);
        }
        fb = f(b);
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn theory_square_root_of_two_by_bracket() {
        assert_relative_eq!(bracketed(|x| x * x - 2.0, 0.0, 5.0).expect("bracketed"), 2f64.sqrt(), epsilon = 1e-15);
        assert_eq!(bracketed(|x| x * x + 1.0, -1.0, 1.0), None);
        assert_eq!(bracketed(|_| f64::NAN, -1.0, 1.0), None);
    }

    #[test]
    fn theory_place_of_a_maximum_to_ten_digits() {
        assert_relative_eq!(maximum(|x| x * (-x).exp(), 0.1, 5.0), 1.0, epsilon = 1e-10);
    }

    #[test]
    fn theory_complex_root() {
        let root = analytic(|z| z * z + 1.0, Complex::new(0.1, 0.7), Complex::new(0.2, 0.8)).expect("a root");
        assert!((root - Complex::i()).norm() < 1e-14);
    }
}
