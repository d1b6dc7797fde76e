//! What the inner liquid stretches at where its surface lags behind its mean, and the force of that.
//!
//! Equation: with w = u_z + 2 (u - u_s) h_z/h the mean over a section of the rate at which the inner liquid itself is stretched
//! (u - u_s: parallel flow in the section, [`crate::thread::closures::core_annular`]), a cell dissipates 3 mu_i v f w^2 and not
//! 3 mu_i v f u_z^2, which the thread's own tension gives ([`crate::thread::force`]); the stretch b of the stream works on w too. So
//!   F_i += -3 mu_i v f (w dw/du_i - u_z du_z/du_i) + 3 m v b d(w - u_z)/du_i,
//!   w = du/d + l,  l = g [(1 - alpha) (u_j + u_(j+1))/2 - S beta] a'/(a + a'^2/4),  u_s = alpha u + S beta.
//! Symbols: as in [`super`]; f, and g for how far viscosity evens out the section's flow, of [`crate::thread::foot`].
//! Source: own, nothing fitted: u_zz of the section's parabola u + (u_s - u)(2 r^2/h^2 - 1) averaged over it. A thread of the outer
//! liquid's viscosity that goes with the stream along its surfaces has w = b and feels nothing, whatever its slope (test).
//! Holds for: slopes to second order; no share of a drop-shaped end.

use super::{CellTerms, Motion, NodeArea};
use crate::thread::foot;
use std::f64::consts::PI;

/// Derivatives by the lengths of the cells before, here and after, by their volumes, and by the cell's place.
pub(super) type ByShape = ([f64; 3], [f64; 3], f64);

/// What the steepness factor of one cell changes by.
#[derive(Debug, Clone, Copy)]
pub(super) struct Steep {
    pub cell: foot::OfCell,
    /// Derivatives of s by the cell's squared radius and place.
    pub share_by: (f64, f64),
}

/// The lag of one cell.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lag {
    /// 3 pi mu_i f a, and that of the stream's stretch, 3 pi m a b.
    stiffness: f64,
    held: f64,
    /// g (u - u_s) and its derivative by a, and the share of u in both.
    behind: (f64, f64),
    share: (f64, f64),
    /// g.
    evened: f64,
    /// l, and dl/du_i.
    rate: f64,
    by_u: f64,
    /// d w.
    opened: f64,
    d: f64,
}

impl Lag {
    #[inline(always)]
    pub(super) fn new(terms: &CellTerms, mu: f64, foot: f64, (d, a): (f64, f64), motion: &Motion) -> Lag {
        let l = &terms.local;
        let (g, g_a) = foot::evened(mu * terms.ratio, a);
        let alone = 1.0 - l.surface.alpha.value;
        let slip = motion.mean * alone - terms.wake.0 * l.surface.beta.value;
        let slip_a = -motion.mean * l.surface.alpha.by_a - terms.wake.0 * l.surface.beta.by_a;
        let behind = (g * slip, g * slip_a + g_a * slip);
        let share = (g * alone, g_a * alone - g * l.surface.alpha.by_a);
        let rate = behind.0 * motion.flare;
        Lag {
            stiffness: 3.0 * PI * mu * terms.ratio * foot * terms.slender * a,
            held: 3.0 * PI * mu * terms.hold * a * terms.stretch.rate,
            behind,
            share,
            evened: g,
            rate,
            by_u: 0.5 * share.0 * motion.flare,
            opened: d * (motion.stretch + rate),
            d,
        }
    }

    /// Forces on the cell's two nodes.
    #[inline(always)]
    pub(super) fn forces(&self) -> [f64; 2] {
        let (along, both) =
            (self.stiffness * self.rate, self.by_u * (self.held * self.d - self.stiffness * self.opened));
        [along + both, both - along]
    }

    /// Their derivatives by the two velocities: lower by lower, lower by upper, ...; `by_difference` that of f by their difference.
    pub(super) fn by_velocity(&self, foot: f64, by_difference: f64) -> [f64; 4] {
        let (square, cross) = (-self.stiffness * self.d * self.by_u * self.by_u, 2.0 * self.stiffness * self.by_u);
        let stiffer = self.stiffness / foot * by_difference;
        let [lower, upper] = [1.0, -1.0].map(|sign| stiffer * (sign * self.rate - self.by_u * self.opened));
        [square + cross - lower, square + lower, square - upper, square - cross + upper]
    }

    /// Their derivatives by the shape, with those of the cell's own tension through s.
    pub(super) fn by_shape(
        &self,
        terms: &CellTerms,
        mu: f64,
        (a, foot): (f64, f64),
        (left, right): (NodeArea, NodeArea),
        motion: &Motion,
        steep: &Steep,
    ) -> [ByShape; 2] {
        let (l, b, flank, (s, s_z)) = (&terms.local, &terms.stretch, terms.flank, terms.wake);
        let held = 3.0 * PI * mu * terms.hold;
        // (sign of the tension's part) what changes stiffness, l, dl/du, d w and the stretch's part by so much
        let change = |sign: f64, stiffness: f64, rate: f64, by_u: f64, opened: f64, held: f64| {
            sign * (stiffness * self.rate + self.stiffness * rate)
                + by_u * (self.held * self.d - self.stiffness * self.opened)
                + self.by_u * (held * self.d - stiffness * self.opened - self.stiffness * opened)
        };
        let inverse = motion.inverse * motion.inverse;
        let (flare_slope, flare_a) = ((a - 0.25 * motion.slope * motion.slope) * inverse, -motion.slope * inverse);
        let by_z = -self.evened
            * ((motion.mean * l.surface.alpha.by_wall + s * l.surface.beta.by_wall) * flank
                + s_z * l.surface.beta.value);
        let slender = 3.0 * PI * mu * terms.ratio * a * motion.stretch;
        [1.0, -1.0].map(|sign| {
            let by_foot = self.stiffness / foot * (sign * self.rate - self.by_u * self.opened);
            let by_share = (by_foot + sign * slender) * steep.cell.by_share;
            let through_flare = |flare: f64, behind: f64, share: f64, stiffness: f64, held: f64| {
                let rate = self.behind.0 * flare + behind * motion.flare;
                let by_u = 0.5 * (self.share.0 * flare + share * motion.flare);
                change(sign, stiffness, rate, by_u, self.d * rate, held)
            };
            let slope = through_flare(flare_slope, 0.0, 0.0, 0.0, 0.0) / self.d;
            let area =
                through_flare(flare_a, self.behind.1, self.share.1, self.stiffness / a, held * (b.rate + a * b.by_a))
                    + by_share * steep.share_by.0;
            let place =
                through_flare(0.0, by_z, -self.evened * l.surface.alpha.by_wall * flank, 0.0, held * a * b.by_z)
                    + by_share * steep.share_by.1;
            // d w = du + d l
            let own = self.by_u * (self.held - self.stiffness * self.rate) - slope * motion.slope;
            let by = |left: [f64; 2], right: [f64; 2], own: f64, through: [f64; 3]| {
                let sides = [-slope * left[0], slope * (right[0] - left[1]) + own, slope * right[1]];
                std::array::from_fn(|k| sides[k] + by_foot * through[k])
            };
            (
                by(left.by_length, right.by_length, own - area * a / self.d, steep.cell.by_length),
                by(left.by_volume, right.by_volume, area / (PI * self.d), steep.cell.by_volume),
                place,
            )
        })
    }
}
