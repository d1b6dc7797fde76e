//! Transcendental functions of a run, the same to the last bit on every processor and with every C library.
//!
//! The standard library hands `exp`, `ln`, `powf` and their like to the C library, which picks among variants by what the processor
//! can do (with fused products or without): 23 of 41 datasets of a record differed between two such variants, by up to 1.1e-3 after
//! some thousand steps. Here they come from one library in pure Rust (`libm`, a port of the functions of FreeBSD's msun, below 1 ulp),
//! pinned in Cargo.toml and compiled in. Everything that enters a run's numbers uses these; `clippy.toml` forbids the others there.
//! Sums, products, quotients and square roots are exact to rounding by IEEE 754 and need no such care.

/// Names in full, since the short ones would be those of the standard library.
pub trait Pinned {
    /// e^x.
    fn exponential(self) -> f64;
    /// e^x - 1, without cancellation near zero.
    fn exponential_less_one(self) -> f64;
    /// ln x.
    fn logarithm(self) -> f64;
    /// ln(1 + x), without cancellation near zero.
    fn logarithm_of_one_more(self) -> f64;
    /// log10 x.
    fn decimal_logarithm(self) -> f64;
    /// log2 x.
    fn binary_logarithm(self) -> f64;
    /// x^y.
    fn power(self, exponent: f64) -> f64;
    fn sine(self) -> f64;
    fn cosine(self) -> f64;
    fn sine_and_cosine(self) -> (f64, f64);
    fn tangent(self) -> f64;
    fn arcsine(self) -> f64;
    fn arccosine(self) -> f64;
    fn arctangent(self) -> f64;
    /// Angle of the point (other, self).
    fn arctangent_over(self, other: f64) -> f64;
    fn hyperbolic_sine(self) -> f64;
    fn hyperbolic_cosine(self) -> f64;
    fn hyperbolic_tangent(self) -> f64;
    fn hyperbolic_arctangent(self) -> f64;
    /// x^(1/3), real for negative x too.
    fn cube_root(self) -> f64;
    /// sqrt(x^2 + y^2) without overflow.
    fn hypotenuse(self, other: f64) -> f64;
}

impl Pinned for f64 {
    #[inline]
    fn exponential(self) -> f64 {
        libm::exp(self)
    }
    #[inline]
    fn exponential_less_one(self) -> f64 {
        libm::expm1(self)
    }
    #[inline]
    fn logarithm(self) -> f64 {
        libm::log(self)
    }
    #[inline]
    fn logarithm_of_one_more(self) -> f64 {
        libm::log1p(self)
    }
    #[inline]
    fn decimal_logarithm(self) -> f64 {
        libm::log10(self)
    }
    #[inline]
    fn binary_logarithm(self) -> f64 {
        libm::log2(self)
    }
    #[inline]
    fn power(self, exponent: f64) -> f64 {
        libm::pow(self, exponent)
    }
    #[inline]
    fn sine(self) -> f64 {
        libm::sin(self)
    }
    #[inline]
    fn cosine(self) -> f64 {
        libm::cos(self)
    }
    #[inline]
    fn sine_and_cosine(self) -> (f64, f64) {
        libm::sincos(self)
    }
    #[inline]
    fn tangent(self) -> f64 {
        libm::tan(self)
    }
    #[inline]
    fn arcsine(self) -> f64 {
        libm::asin(self)
    }
    #[inline]
    fn arccosine(self) -> f64 {
        libm::acos(self)
    }
    #[inline]
    fn arctangent(self) -> f64 {
        libm::atan(self)
    }
    #[inline]
    fn arctangent_over(self, other: f64) -> f64 {
        libm::atan2(self, other)
    }
    #[inline]
    fn hyperbolic_sine(self) -> f64 {
        libm::sinh(self)
    }
    #[inline]
    fn hyperbolic_cosine(self) -> f64 {
        libm::cosh(self)
    }
    #[inline]
    fn hyperbolic_tangent(self) -> f64 {
        libm::tanh(self)
    }
    #[inline]
    fn hyperbolic_arctangent(self) -> f64 {
        libm::atanh(self)
    }
    #[inline]
    fn cube_root(self) -> f64 {
        libm::cbrt(self)
    }
    #[inline]
    fn hypotenuse(self, other: f64) -> f64 {
        libm::hypot(self, other)
    }
}

/// Cube root of a positive normal number in line, to 1 ulp: where a loop over cells asks for it, the library's costs twice as much.
/// A third of the exponent (and of the mantissa, within 4 %), two steps of Halley's rule (cubic) and one of Newton's.
#[inline(always)]
pub fn cube_root_in_line(x: f64) -> f64 {
    // a third of the upper half of the bits, by way of a float, which loops over several numbers at a time know how to do
    let third = (whole(x.to_bits() >> 32) * (1.0 / 3.0) + WHOLE).to_bits() << 32;
    let mut t = f64::from_bits(third.wrapping_add(0x2a9f_7893_0000_0000));
    for _ in 0..2 {
        let cube = t * t * t;
        t *= (cube + 2.0 * x) / (2.0 * cube + x);
    }
    t - (t - x / (t * t)) * (1.0 / 3.0)
}

/// e^x in line, to 2 ulp, for |x| up to 700: x = k ln 2 + r with |r| up to ln(2)/2, e^r by its series to the thirteenth term.
#[inline(always)]
pub fn exponential_in_line(x: f64) -> f64 {
    let shifted = x * std::f64::consts::LOG2_E + WHOLE;
    let k = shifted - WHOLE;
    let r = (x - k * LN_2[0]) - k * LN_2[1];
    let (r2, r4) = (r * r, (r * r) * (r * r));
    let low = (1.0 / 2.0 + r * (1.0 / 6.0)) + r2 * (1.0 / 24.0 + r * (1.0 / 120.0));
    let middle = (1.0 / 720.0 + r * (1.0 / 5040.0)) + r2 * (1.0 / 40_320.0 + r * (1.0 / 362_880.0));
    let high =
        (1.0 / 3_628_800.0 + r * (1.0 / 39_916_800.0)) + r2 * (1.0 / 479_001_600.0 + r * (1.0 / 6_227_020_800.0));
    let value = 1.0 + (r + r2 * (low + r4 * (middle + r4 * high)));
    f64::from_bits(value.to_bits().wrapping_add(shifted.to_bits() << 52))
}

/// 1.5 times 2^52: what is added to it is rounded to a whole number, which stands in the last bits of the sum.
const WHOLE: f64 = 6_755_399_441_055_744.0;

/// A whole number below 2^51 as a float.
#[inline(always)]
fn whole(bits: u64) -> f64 {
    f64::from_bits(WHOLE.to_bits().wrapping_add(bits)) - WHOLE
}

/// ln 2 with 32 bits, so that a whole number times it is exact, and the rest.
const LN_2: [f64; 2] = [0.693_147_180_369_123_8, 1.908_214_929_270_587_7e-10];

/// Logarithm of a positive normal number in line, to 2 ulp: x = 2^k m with m within sqrt 2 of one, ln m = 2 artanh((m - 1)/(m + 1)) by
/// its series to the eleventh term.
#[inline(always)]
pub fn logarithm_in_line(x: f64) -> f64 {
    // bits of the root of one half, to which the bits of m are brought
    const ROOT_HALF: u64 = 0x3fe6_a09e_667f_3bcd;
    // k + 1023 of a normal number, which is not negative
    let biased = x.to_bits().wrapping_add((1023 << 52) - ROOT_HALF) >> 52;
    let m = f64::from_bits(x.to_bits().wrapping_sub(biased << 52).wrapping_add(1023 << 52));
    let s = (m - 1.0) / (m + 1.0);
    let (z, k) = (s * s, whole(biased) - 1023.0);
    let (z2, z4) = (z * z, (z * z) * (z * z));
    let low = (1.0 / 3.0 + z * (1.0 / 5.0)) + z2 * (1.0 / 7.0 + z * (1.0 / 9.0));
    let high = (1.0 / 11.0 + z * (1.0 / 13.0)) + z2 * (1.0 / 15.0 + z * (1.0 / 17.0));
    let rest = z * (low + z4 * (high + z4 * (1.0 / 19.0 + z * (1.0 / 21.0 + z * (1.0 / 23.0)))));
    k * LN_2[0] + (2.0 * s + (2.0 * s * rest + k * LN_2[1]))
}

#[cfg(test)]
mod tests {
    use super::Pinned;

    /// The library's own, below 1 ulp, hold them.
    #[test]
    fn in_line_functions_agree_with_the_librarys() {
        for i in 1..200_000 {
            let x = (f64::from(i) * 2e-4 - 20.0).exponential();
            let (cube, log) = (super::cube_root_in_line(x), super::logarithm_in_line(x));
            assert!((cube / x.cube_root() - 1.0).abs() < 2.5 * f64::EPSILON, "{x} {cube}");
            let exact = x.logarithm();
            assert!((log - exact).abs() <= 2.0 * f64::EPSILON * exact.abs(), "{x} {log} {exact}");
            let power = f64::from(i) * 7e-3 - 700.0;
            let (ours, exact) = (super::exponential_in_line(power), power.exponential());
            assert!((ours / exact - 1.0).abs() < 2.0 * f64::EPSILON, "{power} {ours:e} {exact:e}");
        }
        for x in [1e-300, 1e-17, 1.0 - 1e-12, 1.0, 1.0 + 1e-9, 1e17, 1e300] {
            let (log, exact) = (super::logarithm_in_line(x), x.logarithm());
            assert!((log - exact).abs() <= 2.0 * f64::EPSILON * exact.abs(), "{x} {log} {exact}");
        }
    }

    /// The C library's own functions, correct to 1 ulp (glibc manual, "Known Maximum Errors in Math Functions"), hold ours to 4 ulp.
    #[test]
    fn reference_the_c_librarys_functions_agree() {
        type Pair = (&'static str, fn(f64) -> f64, fn(f64) -> f64);
        let pairs: [Pair; 16] = [
            ("exp", Pinned::exponential, f64::exp),
            ("expm1", Pinned::exponential_less_one, f64::exp_m1),
            ("ln", Pinned::logarithm, f64::ln),
            ("log1p", Pinned::logarithm_of_one_more, f64::ln_1p),
            ("log10", Pinned::decimal_logarithm, f64::log10),
            ("log2", Pinned::binary_logarithm, f64::log2),
            ("sin", Pinned::sine, f64::sin),
            ("cos", Pinned::cosine, f64::cos),
            ("tan", Pinned::tangent, f64::tan),
            ("asin", |x| (x % 1.0).arcsine(), |x| (x % 1.0).asin()),
            ("acos", |x| (x % 1.0).arccosine(), |x| (x % 1.0).acos()),
            ("atan", Pinned::arctangent, f64::atan),
            ("sinh", Pinned::hyperbolic_sine, f64::sinh),
            ("tanh", Pinned::hyperbolic_tangent, f64::tanh),
            ("atanh", |x| (x % 1.0).hyperbolic_arctangent(), |x| (x % 1.0).atanh()),
            ("cbrt", Pinned::cube_root, f64::cbrt),
        ];
        for i in 1..4000 {
            let x = f64::from(i) * 0.017_3;
            let near = |name: &str, a: f64, b: f64| {
                assert!(
                    (a - b).abs() <= 4.0 * f64::EPSILON * b.abs() + f64::MIN_POSITIVE,
                    "{name}({x}): {a:e} and {b:e}"
                );
            };
            for (name, ours, theirs) in pairs {
                near(name, ours(x), theirs(x));
            }
            near("cosh", x.hyperbolic_cosine(), x.cosh());
            near("pow", x.power(1.37), x.powf(1.37));
            near("pow", x.power(-0.3), x.powf(-0.3));
            near("atan2", x.arctangent_over(0.7), x.atan2(0.7));
            near("hypot", x.hypotenuse(3.1), x.hypot(3.1));
            near("sincos", x.sine_and_cosine().0, x.sin());
            near("sincos", x.sine_and_cosine().1, x.cos());
        }
    }

    /// Bits of a few values, so that another version of the library cannot come in unnoticed. Ours, `libm` 0.2.16: they prove nothing
    /// but that they are the same on every machine that runs this test.
    #[test]
    fn regress_the_bits_are_the_same_everywhere() {
        let hash = (1..2000).fold(0_u64, |hash, i| {
            let x = f64::from(i) * 0.013_7;
            let values = [
                x.exponential(),
                x.logarithm(),
                x.power(0.37),
                x.sine(),
                x.cosine(),
                x.hyperbolic_tangent(),
                x.cube_root(),
            ];
            values.iter().fold(hash, |hash, v| (hash ^ v.to_bits()).wrapping_mul(0x0000_0100_0000_01b3))
        });
        assert_eq!(format!("{hash:016x}"), "6ec10bf6d623cfd9");
    }
}
