//! Bessel functions as the theory needs them.
//!
//! Equation: `F(s) = l I0(l)/I1(l)`, s = l^2, by its continued fraction `F = 2 + s/(4 + s/(6 + s/(8 + ...)))`, entire in
//! neither l nor its sign; modified functions I_n, K_n scaled by their exponentials; Airy Ai'/Ai; ratios of J.
//!
//! Symbols: all arguments and values are numbers.
//!
//! Source: Abramowitz & Stegun 1964, 9.1.73 and 9.6 (continued fraction, scaling), 10.4 (Airy). The functions themselves come
//! from the crate `complex-bessel` (Amos 1986, ACM Trans. Math. Softw. 12, 265, Algorithm 644, in Rust). Tried: that crate
//! (kept: complex argument, real order, scaled forms, Airy; agrees with arbitrary-precision tables to 2e-14);
//! `amos-bessel-rs` (the same algorithm, works as well, no advantage here); `puruspe` (real argument only, no scaled forms:
//! overflows beyond 700); `complex-bessel-rs` (needs a Fortran compiler to build).
//!
//! Holds for: arguments of modulus up to 1e8. Outside a function's range the answer is NaN, never a panic.

use complex_bessel::{airy_scaled, airyprime_scaled, besseli_scaled, besselj_scaled, besselk_scaled};
use nalgebra::Complex;

/// `exp(-x) I_n(x)` for real x >= 0.
pub fn i_scaled(order: u32, x: f64) -> f64 {
    besseli_scaled(f64::from(order), Complex::new(x, 0.0)).map_or(f64::NAN, |value| value.re)
}

/// `exp(x) K_n(x)` for real x > 0.
pub fn k_scaled(order: u32, x: f64) -> f64 {
    besselk_scaled(f64::from(order), Complex::new(x, 0.0)).map_or(f64::NAN, |value| value.re)
}

/// `J_(nu+1)(z)/J_nu(z)` for complex z.
pub fn j_ratio(order: f64, z: Complex<f64>) -> Complex<f64> {
    match (besselj_scaled(order + 1.0, z), besselj_scaled(order, z)) {
        (Ok(above), Ok(below)) => above / below,
        _ => Complex::new(f64::NAN, f64::NAN),
    }
}

/// `Ai'(x)/Ai(x)` for real x.
pub fn airy_log_derivative(x: f64) -> f64 {
    let z = Complex::new(x, 0.0);
    match (airyprime_scaled(z), airy_scaled(z)) {
        (Ok(slope), Ok(value)) => (slope / value).re,
        _ => f64::NAN,
    }
}

/// `F(s) = l I0(l)/I1(l)`, s = l^2, for any complex s (l imaginary where s is negative).
pub fn f_ratio(s: Complex<f64>) -> Complex<f64> {
    let depth = depth(s);
    let mut tail = start(depth, s);
    for n in (1..depth).rev() {
        tail = s / tail + 2.0 * n as f64;
    }
    tail
}

/// Divided difference `(F(s) - F(t))/(s - t)`, without cancellation, equal to F'(s) where s = t.
pub fn f_difference(s: Complex<f64>, t: Complex<f64>) -> Complex<f64> {
    // From T_n(s) = 2n + s/T_(n+1)(s): D_n = (T(s) - s D)/(T(s) T(t)), all with index n+1 on the right.
    let depth = depth(s).max(depth(t));
    let (mut at_s, mut at_t) = (start(depth, s), start(depth, t));
    let n = depth as f64;
    let mut difference = ((s + n * n).sqrt() + (t + n * n).sqrt()).inv();
    for n in (1..depth).rev() {
        difference = (at_s - s * difference) / (at_s * at_t);
        at_s = s / at_s + 2.0 * n as f64;
        at_t = t / at_t + 2.0 * n as f64;
    }
    difference
}

/// Terms after which the continued fraction has forgotten how it was started.
fn depth(s: Complex<f64>) -> usize {
    let l = s.sqrt();
    40 + (10.0 * l.norm().sqrt() + 1.3 * l.im.abs()).min(1e6) as usize
}

/// Asymptotic tail of the continued fraction, `n + sqrt(n^2 + s)`.
fn start(depth: usize, s: Complex<f64>) -> Complex<f64> {
    let n = depth as f64;
    (s + n * n).sqrt() + n
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn real(s: f64) -> Complex<f64> {
        Complex::new(s, 0.0)
    }

    // Arbitrary precision: mpmath, 60 digits, scripts/theory_reference.py.
    #[test]
    fn reference_ratio_of_modified_functions() {
        for (l, value, slope) in [
            (1e-3, 2.0000002499999896, 0.24999997916666862),
            (0.5, 2.0618589641391604, 0.24491108055461868),
            (3.0, 3.7037709479217993, 0.14942348117633639),
            (58.0, 58.506579591791927, 0.0086196943598246572),
            (2000.0, 2000.5001875938116, 0.0002499999765390394),
        ] {
            let s = real(l * l);
            assert_relative_eq!(f_ratio(s).re, value, max_relative = 4e-15);
            assert_relative_eq!(l * i_scaled(0, l) / i_scaled(1, l), value, max_relative = 1e-14);
            assert_relative_eq!(f_difference(s, s).re, slope, max_relative = 1e-14);
        }
    }

    #[test]
    fn theory_large_argument_tends_to_l_plus_one_half() {
        let l = 1e5;
        assert_relative_eq!(f_ratio(real(l * l)).re, l + 0.5 + 0.375 / l, max_relative = 1e-14);
    }

    // l = 3.8317...i is a zero of I1: F has a pole there, and changes sign.
    #[test]
    fn theory_pole_at_the_first_zero_of_j1() {
        let zero: f64 = 3.831_705_970_207_512;
        let below = f_ratio(real(-(zero - 1e-6).powi(2))).re;
        let above = f_ratio(real(-(zero + 1e-6).powi(2))).re;
        assert!(below < -1e5 && above > 1e5, "{below} {above}");
    }

    #[test]
    fn theory_divided_difference() {
        for (s, t) in [(0.1, 4.0), (1e-6, 3000.0), (0.25, 0.2500001), (0.9, 0.9)] {
            let difference = f_difference(real(s), real(t)).re;
            if (s - t).abs() > 0.1 {
                let plain = (f_ratio(real(s)) - f_ratio(real(t))).re / (s - t);
                assert_relative_eq!(difference, plain, max_relative = 1e-13);
            } else {
                let plain = (f_ratio(real(s + 1e-4)) - f_ratio(real(s - 1e-4))).re / 2e-4;
                assert_relative_eq!(difference, plain, max_relative = 1e-7);
            }
        }
        let (s, t) = (Complex::new(1.0, 2.0), Complex::new(-3.0, 5.0));
        let plain = (f_ratio(s) - f_ratio(t)) / (s - t);
        assert!((f_difference(s, t) - plain).norm() < 1e-14);
    }
}
