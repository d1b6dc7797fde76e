//! Viscous inertial round jet in a passive gas whose surface carries an insoluble surfactant; the liquid may hold a polymer.
//!
//! Equation: with `F(q) = l I0(l)/I1(l)`, q = l^2, its divided difference G, `l^2 = x^2 + s/Oh`, `N = F(x^2) - 1 - 2 x^2 G`,
//! the four conditions at the surface (kinematic, amount of surfactant, tangential stress = Marangoni stress, normal stress)
//! leave
//! `s^2 F + 2 Oh x^2 s [2F - 1 - 2 x^2 G] + E x^2 s N^2/(s + x^2/Pe + x^2 E G/Oh) = x^2 (1 - x^2)`.
//! E to infinity (a surface that cannot stretch): the third term becomes `Oh s N^2/G`. With a polymer Oh is Oh(s).
//! Long-wave form, of the one-dimensional equations: `s^2 + 3 Oh x^2 s + E x^2 s/(2 (s + x^2/Pe)) = x^2 (1 - x^2)/2`.
//!
//! Symbols: x = k R, Oh = mu/sqrt(rho gamma R), E = -(Gamma/gamma) dgamma/dGamma, Pe = R sqrt(gamma/(rho R))/D_s, s growth
//! rate in sqrt(gamma/(rho R^3)); all at the undisturbed amount of surfactant.
//!
//! Source: own derivation from the linearised Navier-Stokes equations, arranged without cancellation; E = 0 is the relation of
//! [`super::viscous_jet`] (Rayleigh 1892; Chandrasekhar 1961). Held against tables made by two other routes (2x2 Bessel
//! determinant at 30 digits, Chebyshev eigenvalues of the stream function).
//!
//! Holds for: small perturbations of a uniform jet in vacuum, surfactant that stays on the surface. The long-wave form puts the
//! Marangoni stress on the whole section, the full one on a layer: they part at small Oh (Oh 0.01, E 0.3, x 0.7: 0.220
//! against 0.322), and for E > 1 - x^2 without surface diffusion the first is stable while the jet still grows.

use super::viscoelastic::Liquid;
use super::{Mode, bessel, roots};
use crate::math::Pinned as _;
use nalgebra::{Complex, DMatrix};

type C = Complex<f64>;

/// How much the surface resists being stretched.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Surface {
    /// Surfactant of elasticity E and inverse surface Peclet number 1/Pe (0: no surface diffusion).
    Laden { elasticity: f64, inverse_peclet: f64 },
    /// E to infinity.
    Inextensible,
}

impl Surface {
    /// A surface without surfactant.
    pub const CLEAN: Surface = Surface::Laden { elasticity: 0.0, inverse_peclet: 0.0 };
}

/// A jet in a passive gas.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jet {
    pub liquid: Liquid,
    pub surface: Surface,
}

/// Steps in x by which the mode is followed beyond x = 1, where it decays.
const MARCH: f64 = 0.005;
/// Largest number of Newton steps on a root of the long-wave polynomial.
const POLISH: usize = 4;

impl Jet {
    /// Left minus right side of the full relation.
    pub fn residual(&self, x: f64, s: C) -> C {
        let square = Complex::from(x * x);
        let oh = self.liquid.ohnesorge_at(s);
        let f = bessel::f_ratio(square);
        let g = bessel::f_difference(square, square + s / oh);
        let slide = f - 1.0 - square * g * 2.0;
        let surface = match self.surface {
            Surface::Laden { elasticity, inverse_peclet } => {
                let spread = s + square * inverse_peclet + square * g * elasticity / oh;
                if elasticity == 0.0 { Complex::from(0.0) } else { square * s * slide * slide * elasticity / spread }
            }
            Surface::Inextensible => oh * s * slide * slide / g,
        };
        s * s * f + square * oh * s * (slide + f) * 2.0 + surface - square * (-square + 1.0)
    }

    /// Growth rate of the full theory at reduced wavenumber x; beyond x = 1 that of the same mode, which decays there. NaN
    /// where it cannot be followed.
    pub fn growth(&self, x: f64) -> f64 {
        if x < 1.0 { self.growing(x).unwrap_or(f64::NAN) } else { self.decaying(x).map_or(f64::NAN, |s| s.re) }
    }

    /// The left side rises with s > 0 from 0 and is at least s^2 F: one root below the rate of a jet without viscosity.
    fn growing(&self, x: f64) -> Option<f64> {
        let inviscid = super::rayleigh::growth_squared(x).sqrt();
        let real = |s: f64| self.residual(x, Complex::from(s)).re;
        // Slow modes of viscous threads lie decades below: bracket from above.
        let mut high = inviscid * (1.0 + 1e-12);
        for _ in 0..60 {
            let low = 0.1 * high;
            if real(low) < 0.0 {
                return roots::bracketed(real, low, high);
            }
            high = low;
        }
        None
    }

    /// From the neutral point x = 1 onwards in steps, each root starting the next.
    fn decaying(&self, x: f64) -> Option<C> {
        let steps = ((x - 1.0) / MARCH).ceil().max(1.0) as usize;
        let (mut s, mut before) = (Complex::from(0.0), Complex::from(0.0));
        for i in 1..=steps {
            let at = 1.0 + (x - 1.0) * i as f64 / steps as f64;
            if at == 1.0 {
                return Some(s);
            }
            // First step: by the slope of the left side, which is linear in a small s.
            let guess = if i == 1 {
                let tiny = 1e-6;
                let slope =
                    (self.residual(at, Complex::from(tiny)) - self.residual(at, Complex::from(-tiny))) / (2.0 * tiny);
                -self.residual(at, Complex::from(0.0)) / slope
            } else {
                s * 2.0 - before
            };
            // Two real modes meet and part as a pair of oscillations: a start off the real axis sees both.
            let aside = Complex::new(1e-4, 1e-3) * guess.norm();
            let root = roots::analytic(|s| self.residual(at, s), guess, guess + aside)?;
            before = s;
            s = Complex::new(root.re, root.im.abs());
        }
        Some(s)
    }

    /// The mode of the full theory that grows fastest.
    pub fn fastest(&self) -> Mode {
        fastest(|x| self.growth(x))
    }

    /// Least damped root of the long-wave relation (a root s = 0 that only carries a surfactant out of step is left out).
    pub fn long_wave(&self, x: f64) -> C {
        let square = x * x;
        let drive = 0.5 * square * (1.0 - square);
        let Liquid { ohnesorge, solvent_share, deborah } = self.liquid;
        let damping = 3.0 * ohnesorge * square;
        // (1 + De s) times [s^2 + 3 Oh(s) x^2 s - drive], ascending powers
        let mut sum = vec![-drive, damping - deborah * drive, 1.0 + damping * solvent_share * deborah, deborah];
        match self.surface {
            Surface::Laden { elasticity, inverse_peclet } if elasticity > 0.0 => {
                let (decay, pull) = (square * inverse_peclet, 0.5 * elasticity * square);
                if decay > 0.0 {
                    sum = multiplied(&sum, &[decay, 1.0]);
                    sum[1] += pull;
                    sum[2] += pull * deborah;
                } else {
                    sum[0] += pull;
                    sum[1] += pull * deborah;
                }
            }
            // No stretch at all: the plug flow stands still.
            Surface::Inextensible => return Complex::from(0.0),
            Surface::Laden { .. } => {}
        }
        least_damped(&sum)
    }

    /// Growth rate of the long-wave relation.
    pub fn long_wave_growth(&self, x: f64) -> f64 {
        self.long_wave(x).re
    }

    /// The mode of the long-wave relation that grows fastest.
    pub fn fastest_long_wave(&self) -> Mode {
        fastest(|x| self.long_wave_growth(x))
    }
}

/// Maximum of a rate with one hump between x = 0 and 1: viscous threads have it at small x, so the search is in ln x.
fn fastest(rate: impl Fn(f64) -> f64) -> Mode {
    const SECTIONS: usize = 48;
    let at = |i: usize| (1e-3f64.logarithm() * (1.0 - i as f64 / SECTIONS as f64)).exponential();
    let best = (1..SECTIONS).max_by(|&a, &b| rate(at(a)).total_cmp(&rate(at(b)))).unwrap_or(1);
    let wavenumber = roots::maximum(&rate, at(best - 1), at(best + 1).min(0.999));
    Mode { wavenumber, rate: rate(wavenumber) }
}

/// Product of two polynomials, ascending powers.
fn multiplied(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut product = vec![0.0; a.len() + b.len() - 1];
    for (i, a) in a.iter().enumerate() {
        for (j, b) in b.iter().enumerate() {
            product[i + j] += a * b;
        }
    }
    product
}

/// Root of largest real part of a polynomial (ascending powers): eigenvalues of its companion matrix, then Newton's method.
fn least_damped(coefficients: &[f64]) -> C {
    let degree = coefficients.iter().rposition(|c| *c != 0.0).unwrap_or(0);
    if degree == 0 {
        return Complex::from(f64::NAN);
    }
    let mut companion = DMatrix::zeros(degree, degree);
    for i in 0..degree {
        companion[(i, degree - 1)] = -coefficients[i] / coefficients[degree];
        if i > 0 {
            companion[(i, i - 1)] = 1.0;
        }
    }
    let found = companion.complex_eigenvalues();
    let start = found.iter().copied().max_by(|a, b| a.re.total_cmp(&b.re)).unwrap_or(Complex::from(f64::NAN));
    let mut s = start;
    for _ in 0..POLISH {
        let (mut value, mut slope) = (Complex::from(0.0), Complex::from(0.0));
        for c in coefficients[..=degree].iter().rev() {
            slope = slope * s + value;
            value = value * s + *c;
        }
        let step = value / slope;
        // a double root has no slope: the eigenvalue stands
        if !(step.norm() < 0.1 * start.norm()) {
            break;
        }
        s -= step;
    }
    s
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::{viscous_jet, weber};
    use approx::assert_relative_eq;

    fn rows(text: &str) -> Vec<Vec<f64>> {
        let lines = text.lines().filter(|l| !l.starts_with('#')).skip(1);
        let number = |cell: &str| if cell == "inf" { f64::INFINITY } else { cell.parse().expect("a number") };
        lines.map(|line| line.split(',').map(number).collect()).collect()
    }

    // tests/data/real_liquids: 2x2 Bessel determinant, root by arbitrary precision (30 digits); 1-D polynomial roots.
    #[test]
    fn reference_growth_with_surfactant() {
        let table = rows(include_str!("../../tests/data/real_liquids/lin_surfactant.csv"));
        assert!(table.len() > 50);
        for row in table {
            let [pe, oh, elasticity, x, full, _, long, oscillation, _] = row[..] else { panic!("{row:?}") };
            let surface = Surface::Laden { elasticity, inverse_peclet: 1.0 / pe };
            let jet = Jet { liquid: Liquid::newtonian(oh), surface };
            assert_relative_eq!(jet.growth(x), full, max_relative = 1e-10);
            let root = jet.long_wave(x);
            assert_relative_eq!(root.re, long, max_relative = 1e-9);
            assert_relative_eq!(root.im.abs(), oscillation, max_relative = 1e-6, epsilon = 1e-9);
        }
    }

    #[test]
    fn reference_growth_under_a_surface_that_cannot_stretch() {
        for row in rows(include_str!("../../tests/data/real_liquids/lin_inextensible.csv")) {
            let (oh, x, full) = (row[0], row[1], row[2]);
            let liquid = Liquid::newtonian(oh);
            assert_relative_eq!(Jet { liquid, surface: Surface::Inextensible }.growth(x), full, max_relative = 1e-10);
            let stiff = Surface::Laden { elasticity: 1e6, inverse_peclet: 0.0 };
            assert_relative_eq!(Jet { liquid, surface: stiff }.growth(x) / full - 1.0, row[4], max_relative = 0.01);
        }
    }

    #[test]
    fn reference_growth_with_polymer() {
        let table = rows(include_str!("../../tests/data/real_liquids/lin_oldroydb.csv"));
        assert!(table.len() > 60);
        for row in table {
            let [ohnesorge, deborah, solvent_share, x, full, long, _] = row[..] else { panic!("{row:?}") };
            let liquid = Liquid { ohnesorge, solvent_share, deborah };
            let jet = Jet { liquid, surface: Surface::CLEAN };
            assert_relative_eq!(jet.growth(x), full, max_relative = 1e-10);
            assert_relative_eq!(jet.long_wave_growth(x), long, max_relative = 1e-9);
        }
    }

    #[test]
    fn theory_a_clean_newtonian_jet_is_the_classical_one_also_where_it_decays() {
        for oh in [0.01, 0.1, 1.0, 10.0] {
            let jet = Jet { liquid: Liquid::newtonian(oh), surface: Surface::CLEAN };
            for x in [0.1, 0.7, 0.95, 1.02, 1.1, 1.2] {
                assert_relative_eq!(jet.growth(x), viscous_jet::growth(oh, x), max_relative = 1e-8);
            }
            for x in [0.1, 0.7, 0.95] {
                assert_relative_eq!(jet.long_wave_growth(x), weber::growth(oh, x), max_relative = 1e-10);
            }
            let (own, classical) = (jet.fastest(), viscous_jet::fastest(oh));
            assert_relative_eq!(own.wavenumber, classical.wavenumber, max_relative = 1e-7);
            assert_relative_eq!(own.rate, classical.rate, max_relative = 1e-10);
            let (own, classical) = (jet.fastest_long_wave(), weber::fastest(oh));
            assert_relative_eq!(own.wavenumber, classical.wavenumber, max_relative = 1e-7);
        }
    }

    // Slow waves: a polymer that relaxes at once is a Newtonian liquid, one that never does leaves its solvent alone.
    #[test]
    fn theory_limits_of_the_relaxation_time() {
        let rate = |deborah: f64| {
            Jet { liquid: Liquid { ohnesorge: 1.0, solvent_share: 0.3, deborah }, surface: Surface::CLEAN }.growth(0.6)
        };
        assert_relative_eq!(rate(1e-9), viscous_jet::growth(1.0, 0.6), max_relative = 1e-8);
        assert_relative_eq!(rate(1e9), viscous_jet::growth(0.3, 0.6), max_relative = 1e-8);
    }
}
