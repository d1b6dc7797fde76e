//! Resistance of a thread to stretching where it is steep or sharply curved.
//!
//! Equation: the dissipation of a thread of viscosity mu is the integral of 3 mu pi h^2 f u_z^2, its tension 3 mu pi h^2 f u_z, with
//!   f = 1 + p (F - 1),  p = s g/(1 + 3/4 s g Oh h max(-u_z, 0)),  g = x/(1 + x),  x = j^2 Oh/sqrt(h),
//!   F = C + X (X >= 0),  C^3/(C^2 - C X + X^2) (X < 0),  C = (1 + cos(t)^3)/2,  X = h k/4,
//! tan(t) = h_z, k = h_zz cos^3(t) the meridian's curvature, s the inner liquid's share of what resists shear at the surface
//! ([`crate::thread::closures::core_annular::sheared_share`]).
//! g: the section's own flow is at rest with the stretching where viscosity evens it out (rate j^2 Oh/h^2, J_1(j) = 0) faster than
//! capillarity moves the thread (h^(-3/2)).
//! p: in a thread that is compressed the tension of the curvature, 3 pi h^2 Oh u_z h h_zz/4, acts against that of the surface,
//! pi h^2 h_zz. Where it is the larger, waves grow the faster the shorter they are, which no thread does: the flow in them no longer
//! follows the section's mean, as F supposes. So weighed it stays below the surface's. The slope's part is weighed with it: where it is
//! compressed, a flank that resists less the steeper it is grows steeper yet, to a corner.
//! Symbols: a = h^2; C, X of the cell's parabola; scaled as in [`super`].
//! Source: own, no number fitted. Given the flow through every cross-section, the motion of the surface is known, and Stokes flow is the
//! one of least dissipation that has it. With u + w (r^2 - h^2/2) along the thread (continuity gives the rest) the least over w, the
//! known w = u_zz/4 + 3 u_z h_z/(2h), leaves to second order in the slope, after one integration by parts,
//!   F = 1 - 3 h_z^2/4 + h h_zz/4.
//! F is a simple form that is this, stays positive and has a second derivative. What lies beyond second order, that a flank at a right
//! angle to the axis keeps half of Trouton's tension, was chosen by Stokes flow in dumbbells (own boundary elements,
//! `validation/reference/stokes_bem/steep_foot.py`), where slopes of 1.5 to 1.9 keep 0.48 to 0.66: within 9 % rms, where 1 misses by up
//! to 107 %. (The dissipation of radial flow in a cone beyond the cap that meets the section at its surface, cos(t) (1 + cos(t))/2, differs
//! in the fourth order; it falls on to 0, too little by 12 % rms up to slopes of 1.25 and by up to 45 % beyond.)
//! g is the ratio of these two rates, p/(s g) the ratio of the two tensions, ours; where p is small Trouton's tension is left.
//! In a gas s is 0 here, though the derivation says 1: Trouton's tension alone is what runs in a gas are held against (drop volumes, satellites,
//! necks), F moves satellites there by up to a half at Oh from 0.1 on, and no row of the full equations says which is right.
//! Holds for: creeping flow within the cross-section (g near 1); on bulging flanks too small by 6 to 19 %.

/// Slowest decay of a flow within a section whose surface bears no shear, over Oh/h^2: j^2, J_1(j) = 0 (elementary).
const DECAY: f64 = 14.681_970_642;

/// g and its derivative by a.
#[inline(always)]
pub fn evened(ohnesorge: f64, a: f64) -> (f64, f64) {
    let x = DECAY * ohnesorge / a.max(f64::MIN_POSITIVE).sqrt().sqrt();
    let below = 1.0 / (1.0 + x);
    (x * below, -0.25 * x * below * below / a.max(f64::MIN_POSITIVE))
}

/// f of a cell and its derivatives.
#[derive(Debug, Clone, Copy)]
pub struct Resistance {
    pub f: f64,
    /// By the parabola's (c0, c1, c2).
    pub by: [f64; 3],
    /// By s, by the cell's own a, and by the rate of stretching u_z.
    pub by_share: f64,
    pub by_a: f64,
    pub by_rate: f64,
}

/// p over s g (`even`), and its derivatives by s g h and by the rate.
#[inline(always)]
fn compression(ohnesorge: f64, even: f64, h: f64, rate: f64) -> (f64, f64, f64) {
    let compressed = if rate < 0.0 { 0.75 * ohnesorge } else { 0.0 };
    let share = 1.0 / (1.0 - compressed * even * h * rate);
    let by_both = compressed * rate * share * share;
    (share, by_both, compressed * even * h * share * share)
}

/// f alone, where the inner liquid's share is `sheared`, the squared radius `a` and the rate of stretching `rate`.
#[inline(always)]
pub fn resistance(ohnesorge: f64, (sheared, a, rate): (f64, f64, f64), [c0, c1, c2]: [f64; 3]) -> f64 {
    let even = sheared * evened(ohnesorge, a).0;
    let (share, ..) = compression(ohnesorge, even, a.max(f64::MIN_POSITIVE).sqrt(), rate);
    let square = c0.max(f64::MIN_POSITIVE) / (c0 + 0.25 * c1 * c1);
    let cosine = square.sqrt();
    let (c, x) = (0.5 * (1.0 + square * cosine), 0.25 * cosine * (square * (1.0 + c2) - 1.0));
    let curved = if x < 0.0 { c * x * (c - x) / (c * c - c * x + x * x) } else { x };
    1.0 + even * share * (c - 1.0 + curved)
}

/// f with its derivatives.
#[inline(always)]
pub fn resistance_and_slopes(
    ohnesorge: f64,
    (sheared, a, rate): (f64, f64, f64),
    [c0, c1, c2]: [f64; 3],
) -> Resistance {
    let quarter = 0.25 * c1 * c1;
    let inverse = 1.0 / (c0 + quarter);
    let square = c0.max(f64::MIN_POSITIVE) * inverse;
    let cosine = square.sqrt();
    let (square_0, square_1) = (quarter * inverse * inverse, -0.5 * square * c1 * inverse);
    let half = 0.5 / cosine;
    let (cosine_0, cosine_1) = (half * square_0, half * square_1);
    let y = 0.25 * (square * (1.0 + c2) - 1.0);
    let (y_0, y_1, y_2) = (0.25 * square_0 * (1.0 + c2), 0.25 * square_1 * (1.0 + c2), 0.25 * square);
    let (c, x) = (0.5 * (1.0 + square * cosine), cosine * y);
    let (curved, curved_c, curved_x) = if x < 0.0 {
        let below = c * c - c * x + x * x;
        let ratio = c / below;
        (ratio * x * (c - x), ratio * (3.0 * c - ratio * c * (2.0 * c - x)) - 1.0, ratio * ratio * c * (c - 2.0 * x))
    } else {
        (x, 0.0, 1.0)
    };
    let (g, g_a) = evened(ohnesorge, a);
    let (even, h) = (sheared * g, a.max(f64::MIN_POSITIVE).sqrt());
    let (share, by_both, by_rate) = compression(ohnesorge, even, h, rate);
    let by = |cosine_k: f64, y_k: f64| {
        let c_k = 1.5 * square * cosine_k;
        even * share * (c_k * (1.0 + curved_c) + curved_x * (cosine_k * y + cosine * y_k))
    };
    let beyond = c - 1.0 + curved;
    // by s g at the same h, and by h
    let by_even = beyond * (share + even * by_both * h);
    Resistance {
        f: 1.0 + even * share * beyond,
        by: [by(cosine_0, y_0), by(cosine_1, y_1), by(0.0, y_2)],
        by_share: by_even * g,
        by_a: by_even * sheared * g_a + even * beyond * by_both * even * 0.5 / h,
        by_rate: even * beyond * by_rate,
    }
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

/// The same of all cells, found with the forces' derivatives ([`super::force::forces_with_derivatives`]).
#[derive(Debug, Clone, Default)]
pub struct Slopes {
    pub by_share: Vec<f64>,
    pub by_difference: Vec<f64>,
    pub by_length: [Vec<f64>; 3],
    pub by_volume: [Vec<f64>; 3],
}

impl Slopes {
    /// Room for `n` cells.
    pub fn resize(&mut self, n: usize) {
        let Slopes { by_share, by_difference, by_length, by_volume } = self;
        [by_share, by_difference].into_iter().chain(by_length).chain(by_volume).for_each(|by| by.resize(n, 0.0));
    }

    /// By share, difference, lengths and volumes, in this order.
    pub fn sides(&self) -> [&[f64]; 8] {
        let Slopes { by_share, by_difference, by_length: [l0, l1, l2], by_volume: [v0, v1, v2] } = self;
        [by_share, by_difference, l0, l1, l2, v0, v1, v2]
    }
}

impl OfCell {
    /// Of cell `j` in [`Slopes::sides`].
    #[inline(always)]
    pub fn at(sides: &[&[f64]; 8], j: usize) -> OfCell {
        OfCell {
            by_share: sides[0][j],
            by_difference: sides[1][j],
            by_length: [sides[2][j], sides[3][j], sides[4][j]],
            by_volume: [sides[5][j], sides[6][j], sides[7][j]],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::cells::Triple;
    use super::*;
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    /// F: f where all of the resistance to shear is the inner liquid's and its flow has evened out.
    fn factor(c: [f64; 3]) -> f64 {
        resistance(1e20, (1.0, 1.0, 0.0), c)
    }

    /// The parabola of a profile a(z) about `z`.
    fn about(z: f64, a: impl Fn(f64) -> f64) -> [f64; 3] {
        let d = 1e-3;
        let mean = |z: f64| a(z) + (a(z + d) - 2.0 * a(z) + a(z - d)) / 24.0;
        Triple { dl: d, d, dr: d, al: mean(z - d), a: mean(z), ar: mean(z + d) }.parabola().coefficients()
    }

    // Own derivation: exact radial flow in a cone of half angle t, dissipation beyond the cap that meets the section at its surface
    // over Trouton's, is cos(t) (1 + cos(t))/2; the two differ by t^4/4, and in the wide cone by what lies between cap and section.
    #[test]
    fn theory_a_cylinder_stretches_as_trouton_said_and_a_slender_cone_as_radial_flow_does() {
        assert_relative_eq!(factor(about(0.0, |_| 0.3)), 1.0, max_relative = 1e-12);
        for angle in [0.1f64, 0.2, 0.3] {
            let cone = about(1.0, |z| (z * angle.tan()).powi(2));
            let radial = 0.5 * angle.cos() * (1.0 + angle.cos());
            assert_relative_eq!(factor(cone) - radial, 0.25 * angle.powi(4), max_relative = 0.1);
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

    // Source: tests/data/first_principles/steep_foot.csv (own boundary-element computation, `stokes_bem/steep_foot.py`; the form beyond second
    // order was chosen by it): Stokes flow in dumbbells, in necks and on their flanks up to three neck radii wide, slopes up to 1.9.
    // Trouton's 1 misses by 46 % rms.
    #[test]
    fn reference_stokes_flow_in_dumbbells() {
        let (mut squares, mut slender, mut count) = (0.0, 0.0, 0.0f64);
        let table = include_str!("../../tests/data/first_principles/steep_foot.csv");
        for line in table.lines().filter(|line| line.starts_with(|c: char| c.is_ascii_digit())) {
            let row: Vec<f64> = line.split(',').map(|cell| cell.parse().expect("a number")).collect();
            let [_, _, neck, _, h, slope, bend, found] = row[..] else { panic!("columns") };
            if h > 3.0 * neck {
                continue;
            }
            // a = h^2, a' = 2 h h', a''/2 = h'^2 + h h''
            let miss = factor([h * h, 2.0 * h * slope, slope * slope + bend]) / found - 1.0;
            let (least, most) = if bend > 1.0 { (-0.04, 0.25) } else { (-0.2, 0.13) };
            assert!(miss > least && miss < most, "{line}: {miss}");
            (squares, slender, count) = (squares + miss * miss, slender + (1.0 / found - 1.0).powi(2), count + 1.0);
        }
        assert!(count > 40.0 && (squares / count).sqrt() < 0.095, "{count} {squares}");
        assert!((slender / count).sqrt() > 0.45, "{slender}");
    }

    proptest! {
        // Compressed however fast, the viscous part of h_zz stays below the surface's: dT/dc_2 = pi sqrt(a) cos^3 of the surface alone.
        #[test]
        fn a_compressed_thread_is_held_by_its_surface(
            ohnesorge in 0.001f64..300.0, sheared in 0.0f64..1.0, rate in -100.0f64..10.0,
            c0 in 1e-4f64..4.0, c1 in -4.0f64..4.0, c2 in -3.0f64..6.0,
        ) {
            let found = resistance_and_slopes(ohnesorge, (sheared, c0, rate), [c0, c1, c2]);
            let cosine = (c0 / (c0 + 0.25 * c1 * c1)).sqrt();
            let surface = c0.sqrt() * cosine.powi(3);
            prop_assert!(3.0 * ohnesorge * c0 * -rate * found.by[2] < surface);
        }

        #[test]
        fn the_resistance_is_positive_and_its_slopes_are_derivatives(
            ohnesorge in 0.001f64..300.0, sheared in 0.0f64..1.0, a in 1e-4f64..4.0, rate in -100.0f64..10.0,
            c0 in 1e-4f64..4.0, c1 in -4.0f64..4.0, c2 in -3.0f64..6.0,
        ) {
            let at = [sheared, a, rate, c0, c1, c2];
            let of = |x: [f64; 6]| resistance(ohnesorge, (x[0], x[1], x[2]), [x[3], x[4], x[5]]);
            let found = resistance_and_slopes(ohnesorge, (sheared, a, rate), [c0, c1, c2]);
            prop_assert!(found.f > 0.0 && (found.f - of(at)).abs() < 1e-12 * found.f);
            let ours = [found.by_share, found.by_a, found.by_rate, found.by[0], found.by[1], found.by[2]];
            for (k, slope) in ours.into_iter().enumerate() {
                let step = 1e-6 * at[k].abs().max(1e-3);
                let moved = |sign: f64| { let mut x = at; x[k] += sign * step; of(x) };
                let numeric = (moved(1.0) - moved(-1.0)) / (2.0 * step);
                let scale = found.f / at[k].abs().max(1e-3) + numeric.abs();
                prop_assert!((slope - numeric).abs() < 1e-4 * scale, "{k} {slope} {numeric}");
            }
        }
    }
}
