//! Pressure that a stream takes through each part of the glass.
//!
//! Equation (mu viscosity, Q flow, L length, R radius, a inside width):
//!   straight tube           8 mu L Q/(pi R^4)
//!   taper R1 -> R2          8 mu Q/(3 pi tan(alpha)) (1/R1^3 - 1/R2^3), tan(alpha) = (R2 - R1)/L
//!   gap between tubes       mu L Q / { pi/8 [R^4 - r^4 - (R^2 - r^2)^2/ln(R/r)] }, concentric
//!   round tube in a square  the same with R = a (0.547767 + 0.01758 D - 0.055058 D^2 + 0.186343 D^3 - 0.232807 D^4
//!                           + 0.127465 D^5), D = 2r/a; empty square: mu L Q/(0.0351443 a^4)
//!   entry into an orifice   1.5 mu Q/R^3 (half of what both sides take)
//!   speed                   rho U^2: kinetic energy of a parabolic profile of mean velocity U
//!   curved end              2 gamma/R
//!
//! Symbols: Pa, m, m3/s, Pa s, N/m.
//!
//! Source: Poiseuille; lubrication (taper); Sampson 1891, Phil. Trans. R. Soc. A 182, 449 (orifice); orifice and tube in
//! series: Dagan, Weinbaum & Pfeffer 1982, J. Fluid Mech. 115, 505; Boussinesq 1868 (square); the polynomial is fitted to own
//! computed two-dimensional flow (0.083 % for D >= 0.02, `tests/data/two_liquid/square_round_conductance.csv`).
//!
//! Holds for: laminar flow, parts long against their width, the round tube centred (one lying in a corner lets more through).

use crate::math::Pinned as _;
use std::f64::consts::PI;

/// C of the empty square duct: Q = C G a^4/mu.
const SQUARE: f64 = 0.0351443;
const EFFECTIVE: [f64; 6] = [0.547767, 0.01758, -0.055058, 0.186343, -0.232807, 0.127465];

/// Hydraulic resistance of a straight tube over viscosity, 1/m3.
pub fn tube(radius: f64, length: f64) -> f64 {
    8.0 * length / (PI * radius.powi(4))
}

/// The same of a cone; equal radii make it a tube.
pub fn taper(one: f64, other: f64, length: f64) -> f64 {
    // (1/R1^3 - 1/R2^3)/(R2 - R1) without the difference of equal numbers
    let sum = one * one + one * other + other * other;
    8.0 * length * sum / (3.0 * PI * one.powi(3) * other.powi(3))
}

/// The same of the gap between concentric tubes.
pub fn gap(outer: f64, inner: f64, length: f64) -> f64 {
    let (o2, i2) = (outer * outer, inner * inner);
    let shape = o2 * o2 - i2 * i2 - (o2 - i2) * (o2 - i2) / (outer / inner).logarithm();
    8.0 * length / (PI * shape)
}

/// The same of a square bore, empty or with a centred round tube of diameter `tube` in it.
pub fn square(side: f64, tube: Option<f64>, length: f64) -> f64 {
    match tube.filter(|d| *d > 0.0) {
        None => length / (SQUARE * side.powi(4)),
        Some(diameter) => gap(as_round(side, Some(diameter)), 0.5 * diameter, length),
    }
}

/// Radius of the round bore that stands for a square one about a centred round tube of diameter `tube`.
pub fn as_round(side: f64, tube: Option<f64>) -> f64 {
    let share = tube.unwrap_or(0.0) / side;
    side * EFFECTIVE.iter().rev().fold(0.0, |sum, c| sum * share + c)
}

/// The same of one side of a thin orifice.
pub fn entry(radius: f64) -> f64 {
    1.5 / radius.powi(3)
}

/// Pressure that the speed of a developed stream takes, Pa.
pub fn speed(density: f64, flow: f64, radius: f64) -> f64 {
    let mean = flow / (PI * radius * radius);
    density * mean * mean
}

/// Pressure behind a hemispherical end, Pa.
pub fn curved_end(tension: f64, radius: f64) -> f64 {
    2.0 * tension / radius
}

/// Time in which a feed line settles: resistance x compliance of `air` (m3) at `pressure` (Pa, absolute), s.
/// Isothermal gas: compliance V/p.
pub fn settling_time(resistance: f64, air: f64, pressure: f64) -> f64 {
    resistance * air / pressure
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    // Own two-dimensional computation of the square duct with a round rod.
    #[test]
    fn reference_conductance_of_a_round_tube_in_a_square() {
        let text = include_str!("../../tests/data/two_liquid/square_round_conductance.csv");
        let mut checked = 0;
        for line in text.lines().skip(1) {
            let row: Vec<f64> = line.split(',').map(|x| x.parse().unwrap_or(f64::NAN)).collect();
            let ours = 1.0 / square(1.0, Some(row[0]), 1.0);
            assert_relative_eq!(ours, row[1], max_relative = 1e-3);
            checked += 1;
        }
        assert_eq!(checked, 15);
    }

    // dp/L = 28.454 mu Q/a^4 (White 1991, eq. 3-48).
    #[test]
    fn published_square_duct() {
        assert_relative_eq!(square(1.0, None, 1.0), 28.454, max_relative = 1e-4);
    }

    #[test]
    fn parts_join() {
        assert_relative_eq!(taper(2.0, 2.0, 3.0), tube(2.0, 3.0), max_relative = 1e-14);
        // Two cones in a row make one cone.
        assert_relative_eq!(taper(1.0, 1.5, 1.0) + taper(1.5, 2.0, 1.0), taper(1.0, 2.0, 2.0), max_relative = 1e-14);
        // As the tangent form of the head of this file.
        let (r1, r2, l) = (10e-6, 290e-6, 3e-3);
        let tangent: f64 = (r2 - r1) / l;
        let closed = 8.0 / (3.0 * PI * tangent) * (1.0 / f64::powi(r1, 3) - 1.0 / f64::powi(r2, 3));
        assert_relative_eq!(taper(r1, r2, l), closed, max_relative = 1e-12);
        // A narrow gap is two parallel plates: 12 L/(w t^3), w = 2 pi R.
        let t = 1e-3;
        assert_relative_eq!(gap(1.0 + 0.5 * t, 1.0 - 0.5 * t, 1.0), 12.0 / (2.0 * PI * t.powi(3)), max_relative = 1e-4);
    }

    // 10 uL of air at 1 bar behind a 20 um tip: 1 s at 1 mPa.s, 95 s at 100 mPa.s (worked example, own, cone of 5 degrees).
    #[test]
    fn worked_example_of_a_settling_line() {
        let length = (290e-6 - 10e-6) / 5f64.to_radians().tan();
        let tau = |mu: f64| settling_time(mu * taper(10e-6, 290e-6, length), 10e-9, 1e5);
        assert_relative_eq!(tau(1e-3), 1.0, max_relative = 0.05);
        assert_relative_eq!(tau(0.1), 95.0, max_relative = 0.05);
    }
}
