//! Resistance of a thread to stretching where it is steep or sharply curved.
//!
//! Equation: the dissipation of a thread of viscosity mu is the integral of 3 mu pi h^2 f u_z^2, its tension 3 mu pi h^2 f u_z, with
//!   f = 1 + p (F - 1),  p = s g/(1 + 3/4 s g Oh h max(-u_z, 0)),  g = x/(1 + x),  x = j^2 Oh/sqrt(h),
//!   F = C + X (X >= 0),  C^3/(C^2 - C X + X^2) (X < 0),  C = cos(t) (1 + cos(t))/2,  X = h k/4,
//! tan(t) = h_z, k = h_zz cos^3(t) the meridian's curvature, s the inner liquid's share of what resists shear at the surface
//! ([`crate::thread::closures::core_annular::sheared_share`]).
//! g: the section's own flow is at rest with the stretching where viscosity evens it out (rate j^2 Oh/h^2, J_1(j) = 0) faster than
//! capillarity moves the thread (h^(-3/2)).
//! p: in a thread that is compressed the tension 3 pi h^2 Oh u_z h h_zz/4 acts against that of the surface, pi h^2 h_zz. Where it is the
//! larger, waves grow the faster the shorter they are, which no thread does: the flow in them no longer follows the section's mean, as F
//! supposes. So weighed it stays below the surface's.
//! Symbols: a = h^2; C, X of the cell's parabola; scaled as in [`super`].
//! Source: own, nothing fitted. Given the flow through every cross-section, the motion of the surface is known, and Stokes flow is the
//! one of least dissipation that has it. With u + w (r^2 - h^2/2) along the thread (continuity gives the rest) the least over w, the
//! known w = u_zz/4 + 3 u_z h_z/(2h), leaves to second order in the slope, after one integration by parts,
//!   F = 1 - 3 h_z^2/4 + h h_zz/4.
//! Radial flow in a cone without shear on its surface is exact (u_r of r^-2): dissipation beyond the cap that meets the section at the
//! surface over Trouton's is C. F is the simplest that is both, stays positive and has a second derivative. Measured by Stokes flow in dumbbells (own boundary
//! elements, `validation/reference/stokes_bem/steep_foot.py`): within 13 % rms, necks within 11 %, where 1 misses by up to 68 %.
//! g is the ratio of these two rates, p/g the ratio of the two tensions, ours; where p is small Trouton's tension is left.
//! In a gas s is 0 here, though the derivation says 1: Trouton's tension alone is what runs in a gas are held against (drop volumes, satellites,
//! necks), F moves satellites there by up to a half at Oh from 0.1 on, and no row of the full equations says which is right.
//! Holds for: creeping flow within the cross-section (g near 1); at slopes above 1.2 F is too small (C falls on to 0, flow into a wide space keeps 0.5
//! to 0.6), on bulging flanks by 15 to 24 %.

use super::body::Body;
use super::cells::{Partials, Triple};
use super::force::Work;
use std::f64::consts::PI;

/// Slowest decay of a flow within a section whose surface bears no shear, over Oh/h^2: j^2, J_1(j) = 0 (elementary).
const DECAY: f64 = 14.681_970_642;

/// g and its derivative by a.
#[inline(always)]
pub fn evened(ohnesorge: f64, a: f64) -> (f64, f64) {
    let x = DECAY * ohnesorge / a.max(f64::MIN_POSITIVE).sqrt().sqrt();
    let below = 1.0 / (1.0 + x);
    (x * below, -0.25 * x * below * below / a.max(f64::MIN_POSITIVE))
}

/// p and its derivatives.
#[derive(Debug, Clone, Copy)]
pub struct Weight {
    pub p: f64,
    pub by_sheared: f64,
    pub by_a: f64,
    /// By the rate of stretching u_z.
    pub by_rate: f64,
}

/// p where the share `sheared` is s.
#[inline(always)]
pub fn weight(ohnesorge: f64, sheared: f64, a: f64, rate: f64) -> Weight {
    let a = a.max(f64::MIN_POSITIVE);
    let h = a.sqrt();
    let x = DECAY * ohnesorge / h.sqrt();
    let compressed = if rate < 0.0 { 1.0 } else { 0.0 };
    let per_rate = 0.75 * ohnesorge * sheared * x * h * compressed;
    let against = -per_rate * rate;
    let below = 1.0 / (1.0 + x + against);
    let p = sheared * x * below;
    Weight {
        p,
        by_sheared: x * (1.0 + x) * below * below,
        by_a: -0.5 * p * below * (0.5 + against) / a,
        by_rate: p * below * per_rate,
    }
}

/// F and its derivatives by the parabola's (c0, c1, c2).
#[inline(always)]
pub fn factor_and_gradient([c0, c1, c2]: [f64; 3]) -> (f64, [f64; 3]) {
    let quarter = 0.25 * c1 * c1;
    let inverse = 1.0 / (c0 + quarter);
    let square = c0.max(f64::MIN_POSITIVE) * inverse;
    let cosine = square.sqrt();
    let (square_0, square_1) = (quarter * inverse * inverse, -0.5 * square * c1 * inverse);
    let half = 0.5 / cosine;
    let (cosine_0, cosine_1) = (half * square_0, half * square_1);
    // C = cos g and X = cos y
    let (g, y) = (0.5 * (1.0 + cosine), 0.25 * (square * (1.0 + c2) - 1.0));
    let (y_0, y_1, y_2) = (0.25 * square_0 * (1.0 + c2), 0.25 * square_1 * (1.0 + c2), 0.25 * square);
    let (g_0, g_1) = (0.5 * cosine_0, 0.5 * cosine_1);
    let (over, by_g, by_y) = if y < 0.0 {
        let below = g * g - g * y + y * y;
        let ratio = g / below;
        let over = g * g * ratio;
        (over, ratio * (3.0 * g - ratio * g * (2.0 * g - y)), ratio * ratio * g * (g - 2.0 * y))
    } else {
        (g + y, 1.0, 1.0)
    };
    (
        cosine * over,
        [
            cosine_0 * over + cosine * (by_g * g_0 + by_y * y_0),
            cosine_1 * over + cosine * (by_g * g_1 + by_y * y_1),
            cosine * by_y * y_2,
        ],
    )
}

/// F alone.
#[inline(always)]
pub fn factor([c0, c1, c2]: [f64; 3]) -> f64 {
    let square = c0.max(f64::MIN_POSITIVE) / (c0 + 0.25 * c1 * c1);
    let cosine = square.sqrt();
    let (g, y) = (0.5 * (1.0 + cosine), 0.25 * (square * (1.0 + c2) - 1.0));
    cosine * if y < 0.0 { g * g * g / (g * g - g * y + y * y) } else { g + y }
}

/// f of one cell of a body: its derivatives by s, by the velocity difference across the cell, and by the lengths and the volumes of the
/// cells before, here and after at fixed s.
#[derive(Debug, Clone, Copy)]
pub struct OfCell {
    pub by_share: f64,
    pub by_difference: f64,
    pub by_length: [f64; 3],
    pub by_volume: [f64; 3],
}

impl OfCell {
    /// At the state of the last `geometry`.
    pub fn new(body: &Body, u: &[f64], work: &Work, ohnesorge: f64, j: usize) -> OfCell {
        let inverse = [work.inv_d[j], work.inv_d[j + 1], work.inv_d[j + 2]];
        let triple = Triple::around(&work.d, &work.a, j);
        let p = triple.parabola();
        let (factor, by) = factor_and_gradient(p.coefficients());
        let rate = (u[j + 1] - u[j]) * inverse[1];
        let weight = weight(ohnesorge, work.sheared[j], triple.a, rate);
        let chain = |d: Partials, a_own: f64| {
            let mut sides: [f64; 3] =
                std::array::from_fn(|k| weight.p * (by[0] * d.c0[k] + by[1] * d.c1[k] + by[2] * d.c2[k]));
            sides[1] += weight.by_a * (factor - 1.0) * a_own;
            // a mirrored neighbour moves with the cell, a known end value does not move
            for (k, end, last) in [(0, body.left, j == 0), (2, body.right, j + 1 == body.cells())] {
                if last {
                    sides[1] += if end.mirrors() { sides[k] } else { 0.0 };
                    sides[k] = 0.0;
                }
            }
            sides
        };
        let own = inverse[1];
        let by_difference = weight.by_rate * (factor - 1.0) * own;
        let mut by_length = chain(triple.partials(&p, inverse), -triple.a * own);
        by_length[1] -= by_difference * rate;
        OfCell {
            by_share: weight.by_sheared * (factor - 1.0),
            by_difference,
            by_length,
            by_volume: chain(triple.partials_by_volume(&p, inverse), own * (1.0 / PI)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    /// The parabola of a profile a(z) about `z`.
    fn about(z: f64, a: impl Fn(f64) -> f64) -> [f64; 3] {
        let d = 1e-3;
        let mean = |z: f64| a(z) + (a(z + d) - 2.0 * a(z) + a(z - d)) / 24.0;
        Triple { dl: d, d, dr: d, al: mean(z - d), a: mean(z), ar: mean(z + d) }.parabola().coefficients()
    }

    #[test]
    fn theory_a_cylinder_stretches_as_trouton_said_and_a_cone_as_radial_flow_does() {
        assert_relative_eq!(factor(about(0.0, |_| 0.3)), 1.0, max_relative = 1e-12);
        for angle in [0.1f64, 0.5, 1.0] {
            let cone = about(1.0, |z| (z * angle.tan()).powi(2));
            assert_relative_eq!(factor(cone), 0.5 * angle.cos() * (1.0 + angle.cos()), max_relative = 1e-5);
        }
    }

    // 1 - 3 h'^2/4 + h h''/4, own derivation (second order in the slope).
    #[test]
    fn theory_second_order_in_the_slope() {
        for sign in [1.0, -1.0] {
            let miss = |e: f64| {
                let h = |z: f64| 1.0 + sign * e * e * z * z + e * z;
                let exact = 1.0 - 0.75 * e * e + 0.5 * sign * e * e;
                factor(about(0.0, |z| h(z) * h(z))) - exact
            };
            // what is left is of fourth order
            assert!(miss(0.1).abs() < 2.0 * 0.1f64.powi(4) && miss(0.05).abs() < 2.0 * 0.05f64.powi(4) + 1e-7);
        }
    }

    // Source: tests/data/first_principles/steep_foot.csv (own boundary-element computation, `stokes_bem/steep_foot.py`; nothing is fitted to
    // it): Stokes flow in dumbbells, in necks and on their flanks up to three neck radii wide and slopes of 1.25. Where a flank bulges F is
    // too small. Trouton's 1 misses by 39 % rms and 68 % at worst.
    #[test]
    fn reference_stokes_flow_in_dumbbells() {
        let (mut squares, mut slender, mut count) = (0.0, 0.0, 0.0f64);
        let table = include_str!("../../tests/data/first_principles/steep_foot.csv");
        for line in table.lines().filter(|line| line.starts_with(|c: char| c.is_ascii_digit())) {
            let row: Vec<f64> = line.split(',').map(|cell| cell.parse().expect("a number")).collect();
            let [_, _, neck, _, h, slope, bend, factor] = row[..] else { panic!("columns") };
            if h > 3.0 * neck || slope.abs() > 1.25 {
                continue;
            }
            // a = h^2, a' = 2 h h', a''/2 = h'^2 + h h''
            let miss = super::factor([h * h, 2.0 * h * slope, slope * slope + bend]) / factor - 1.0;
            let (least, most) = if bend > 1.0 { (-0.07, 0.12) } else { (-0.25, 0.0) };
            assert!(miss > least && miss < most, "{line}: {miss}");
            (squares, slender, count) = (squares + miss * miss, slender + (1.0 / factor - 1.0).powi(2), count + 1.0);
        }
        assert!(count > 30.0 && (squares / count).sqrt() < 0.13, "{count} {squares}");
        assert!((slender / count).sqrt() > 0.35, "{slender}");
    }

    proptest! {
        // Compressed however fast, the viscous part of h_zz stays below the surface's.
        #[test]
        fn a_compressed_thread_is_held_by_its_surface_and_the_weight_s_slopes_are_derivatives(
            ohnesorge in 0.001f64..300.0, sheared in 0.0f64..1.0, a in 1e-4f64..4.0, rate in -100.0f64..10.0,
        ) {
            let found = weight(ohnesorge, sheared, a, rate);
            let (g, h) = (evened(ohnesorge, a).0, a.sqrt());
            let written = sheared * g / (1.0 + 0.75 * sheared * g * ohnesorge * h * (-rate).max(0.0));
            prop_assert!((found.p - written).abs() < 1e-12);
            prop_assert!(0.75 * found.p * ohnesorge * h * -rate < 1.0);
            let difference = |at: f64, of: &dyn Fn(f64) -> f64| {
                let step = 1e-5 * at.abs().max(1e-3);
                (of(at + step) - of(at - step)) / (2.0 * step)
            };
            let pairs = [
                (found.by_sheared, difference(sheared, &|s| weight(ohnesorge, s, a, rate).p), sheared),
                (found.by_a, difference(a, &|a| weight(ohnesorge, sheared, a, rate).p), a),
                (found.by_rate, difference(rate, &|rate| weight(ohnesorge, sheared, a, rate).p), rate),
            ];
            for (ours, numeric, at) in pairs {
                prop_assert!((ours - numeric).abs() < 1e-6 * (found.p / at.abs().max(1e-3) + ours.abs()), "{ours} {numeric}");
            }
        }

        #[test]
        fn the_factor_is_positive_and_its_slopes_are_derivatives(
            c0 in 1e-4f64..4.0, c1 in -4.0f64..4.0, c2 in -3.0f64..6.0,
        ) {
            let s = [c0, c1, c2];
            let (f, gradient) = factor_and_gradient(s);
            prop_assert!(f > 0.0 && (f - factor(s)).abs() < 1e-12 * f);
            for k in 0..3 {
                let step = 1e-6 * s[k].abs().max(1e-3);
                let moved = |sign: f64| { let mut s = s; s[k] += sign * step; factor(s) };
                let numeric = (moved(1.0) - moved(-1.0)) / (2.0 * step);
                prop_assert!((gradient[k] - numeric).abs() < 1e-4 * (f / s[k].abs().max(1e-3) + numeric.abs()), "{k} {gradient:?} {numeric}");
            }
        }
    }
}
