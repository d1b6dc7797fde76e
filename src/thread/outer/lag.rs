//! What the inner liquid stretches at where its surface lags behind its mean, and the force of that.
//!
//! Equation: with w = u_z + 2 (u - u_s) h_z/h the mean over a section of the rate at which the inner liquid itself is stretched
//! (u - u_s: parallel flow in the section, [`crate::thread::closures::core_annular`]), a cell dissipates 3 mu_i v f w^2 and not
//! 3 mu_i v f u_z^2, which the thread's own tension gives ([`crate::thread::force`]); the stretch b of the stream works on w too. So
//!   F_i += -3 mu_i v f (w dw/du_i - u_z du_z/du_i) + 3 m v b d(w - u_z)/du_i,
//! and of a liquid that thins, n(rate) its viscosity over that at rest ([`crate::thread::rheology`]), n(w) w and n(u_z) u_z in place of w and
//! u_z before the derivatives;
//!   w = du/d + l,  l = g [(1 - alpha) (u_j + u_(j+1))/2 - S beta] a'/(a + a'^2/4),  u_s = alpha u + S beta.
//! Symbols: as in [`super`]; f, and g for how far viscosity evens out the section's flow, of [`crate::thread::foot`].
//! Source: own, nothing fitted: u_zz of the section's parabola u + (u_s - u)(2 r^2/h^2 - 1) averaged over it. A thread of the outer
//! liquid's viscosity that goes with the stream along its surfaces has w = b and feels nothing, whatever its slope (test).
//! Holds for: slopes to second order; no share of a drop-shaped end. Of a polymer solution this is the solvent's part; the polymer is stretched
//! at w by itself ([`crate::thread::polymer`]).

use super::cell::{CellTerms, Motion, NodeArea};
use super::response::ByShape;
use super::{OuterField, node_areas};
use crate::thread::body::Body;
use crate::thread::cells::Triple;
use crate::thread::foot;
use crate::thread::force::Work;
use crate::thread::polymer::Stretching;
use crate::thread::rheology::Rheology;
use std::f64::consts::PI;

/// What the steepness factor of one cell changes by.
#[derive(Debug, Clone, Copy)]
pub(super) struct Steep {
    pub cell: foot::OfCell,
    /// Derivatives of s by the cell's squared radius and place.
    pub share_by: (f64, f64),
}

/// The viscosity of an inner liquid that thins, over that at rest, where it is stretched at the lagging rate w and at the mean one u_z.
#[derive(Debug, Clone, Copy)]
pub(super) struct Thinner {
    /// n(w), d(n w)/dw, and n(u_z).
    at_w: f64,
    slope: f64,
    pub at_mean: f64,
    /// d(n w)/dw - d(n u_z)/du_z.
    bend: f64,
}

impl Thinner {
    /// A liquid that does not thin.
    const NONE: Thinner = Thinner { at_w: 1.0, slope: 1.0, at_mean: 1.0, bend: 0.0 };

    #[inline(always)]
    fn new(rheology: Option<&Rheology>, w: f64, mean: f64) -> Thinner {
        let Some(rheology) = rheology.filter(|r| r.thinning.is_some() || r.polymer.is_some()) else {
            return Thinner::NONE;
        };
        let ((at_w, more), (at_mean, more_mean)) = (rheology.thinned(w), rheology.thinned(mean));
        Thinner { at_w, slope: at_w + more, at_mean, bend: at_w + more - at_mean - more_mean }
    }
}

impl OuterField {
    /// How the polymer in each cell is stretched over the step that starts with the velocities `u`, for which [`OuterField::share_shear`] holds.
    pub fn stretch_polymer(&self, body: &Body, u: &[f64], work: &mut Work) {
        let mut o = std::mem::take(&mut work.outer);
        node_areas(body, &work.d, &work.a, &mut o.node);
        let ohnesorge = self.liquids.viscosity * self.liquids.viscosity_ratio;
        for j in 0..body.cells() {
            let (d, a) = (work.d[j + 1], work.a[j + 1]);
            let around = (o.envelope[j], o.ends[j], &o.about[j].sheared);
            let terms = CellTerms::new::<true>(&self.liquids, &o.places[j], a, around, o.thinned.get(j));
            let motion = Motion::new(&terms, (d, a), (o.node[j].a, o.node[j + 1].a), (u[j], u[j + 1]));
            let surface = &terms.local.surface;
            let turned = foot::evened(ohnesorge, a).0 * motion.flare * terms.slender;
            let parabola = Triple::around(&work.d, &work.a, j).parabola().coefficients();
            let steep = foot::resistance(ohnesorge, (work.sheared[j], a, motion.stretch), parabola);
            work.polymer.stretching[j] = Stretching {
                factor: steep.sqrt(),
                rate: -turned * terms.wake.0 * surface.beta.value,
                share: 0.5 * turned * (1.0 - surface.alpha.value),
            };
        }
        work.outer = o;
    }
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
    /// d w, and d u_z.
    opened: f64,
    parted: f64,
    d: f64,
    thinner: Thinner,
}

impl Lag {
    #[inline(always)]
    pub(super) fn new(
        terms: &CellTerms,
        (mu, rheology): (f64, Option<&Rheology>),
        foot: f64,
        (d, a): (f64, f64),
        motion: &Motion,
    ) -> Lag {
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
            parted: d * motion.stretch,
            d,
            thinner: Thinner::new(rheology, motion.stretch + rate, motion.stretch),
        }
    }

    /// n(w) w - n(u_z) u_z, and d n(w) w. Of a liquid that does not thin l and d w, to the last bit.
    #[inline(always)]
    fn stretched(&self) -> (f64, f64) {
        let t = &self.thinner;
        let more = ((t.at_w - 1.0) * self.opened - (t.at_mean - 1.0) * self.parted) / self.d;
        (self.rate + more, t.at_w * self.opened)
    }

    /// Forces on the cell's two nodes.
    #[inline(always)]
    pub(super) fn forces(&self) -> [f64; 2] {
        let (rate, opened) = self.stretched();
        let (along, both) = (self.stiffness * rate, self.by_u * (self.held * self.d - self.stiffness * opened));
        [along + both, both - along]
    }

    /// Their derivatives by the two velocities: lower by lower, lower by upper, ...; `by_difference` that of f by their difference.
    #[inline(always)]
    pub(super) fn by_velocity(&self, foot: f64, by_difference: f64) -> [f64; 4] {
        let t = &self.thinner;
        let (rate, opened) = self.stretched();
        let stiff = self.stiffness * t.slope;
        let (square, cross) = (-stiff * self.d * self.by_u * self.by_u, 2.0 * stiff * self.by_u);
        let bend = self.stiffness * t.bend / self.d;
        let stiffer = self.stiffness / foot * by_difference;
        let (lower, upper) = (stiffer * (rate - self.by_u * opened), -stiffer * (rate + self.by_u * opened));
        [square + cross - lower - bend, square + lower + bend, square - upper + bend, square - cross + upper - bend]
    }

    /// The forces are a tension of the cell and a pull on both its nodes; derivatives of the two by the shape, with those of the cell's own
    /// tension through s.
    #[inline(always)]
    pub(super) fn by_shape(
        &self,
        terms: &CellTerms,
        mu: f64,
        (a, foot): (f64, f64),
        nodes: (&NodeArea, &NodeArea),
        motion: &Motion,
        steep: &Steep,
    ) -> [ByShape; 2] {
        let (l, b, t) = (&terms.local, &terms.stretch, &self.thinner);
        let (flank, (s, s_z)) = (terms.flank, terms.wake);
        let (lagging, opened) = self.stretched();
        let stiff = self.stiffness * t.slope;
        let held = 3.0 * PI * mu * terms.hold;
        // d w = du + d l, and both rates fall as 1/d with du held
        let turned = self.stiffness * motion.stretch;
        let tension =
            Part { by_stiffness: lagging, by_rate: stiff, by_u: 0.0, by_held: 0.0, own: -turned * t.bend / self.d };
        let pull = Part {
            by_stiffness: -self.by_u * opened,
            by_rate: -self.by_u * stiff * self.d,
            by_u: self.held * self.d - self.stiffness * opened,
            by_held: self.by_u * self.d,
            own: self.by_u
                * (self.held - self.stiffness * (self.rate + (t.at_w - 1.0) * self.opened / self.d)
                    + turned * (t.slope - 1.0)),
        };
        let slender = 3.0 * PI * mu * terms.ratio * a * motion.stretch * t.at_mean;

        let inverse = motion.inverse * motion.inverse;
        let (flare_slope, flare_a) = ((a - 0.25 * motion.slope * motion.slope) * inverse, -motion.slope * inverse);
        // l and dl/du by what changes the flare, u - u_s and its share of u
        let by = |flare: f64, behind: f64, share: f64| {
            (self.behind.0 * flare + behind * motion.flare, 0.5 * (self.share.0 * flare + share * motion.flare))
        };
        let behind_z = -self.evened
            * ((motion.mean * l.surface.alpha.by_wall + s * l.surface.beta.by_wall) * flank
                + s_z * l.surface.beta.value);
        let by_slope = by(flare_slope, 0.0, 0.0);
        let by_a = by(flare_a, self.behind.1, self.share.1);
        let by_z = by(0.0, behind_z, -self.evened * l.surface.alpha.by_wall * flank);
        let inv_d = 1.0 / self.d;
        let shape = |part: &Part, slender: f64| {
            let by_foot = self.stiffness / foot * part.by_stiffness;
            let by_share = (by_foot + slender) * steep.cell.by_share;
            let slope = part.change(by_slope) * inv_d;
            let area = part.change(by_a)
                + part.by_stiffness * self.stiffness / a
                + part.by_held * held * (b.rate + a * b.by_a)
                + by_share * steep.share_by.0;
            let place = part.change(by_z) + part.by_held * held * a * b.by_z + by_share * steep.share_by.1;
            let own = part.own - slope * motion.slope - area * a * inv_d;
            let through = |left: [f64; 2], right: [f64; 2], own: f64, foot: [f64; 3]| {
                [
                    by_foot * foot[0] - slope * left[0],
                    by_foot * foot[1] + slope * (right[0] - left[1]) + own,
                    by_foot * foot[2] + slope * right[1],
                ]
            };
            ByShape {
                length: through(nodes.0.by_length, nodes.1.by_length, own, steep.cell.by_length),
                volume: through(nodes.0.by_volume, nodes.1.by_volume, area * inv_d / PI, steep.cell.by_volume),
                place,
            }
        };
        [shape(&tension, slender), shape(&pull, 0.0)]
    }
}

/// What changes one of the two forces: the stiffness, l, dl/du, the stretch's part, and the cell's own length beside those.
struct Part {
    by_stiffness: f64,
    by_rate: f64,
    by_u: f64,
    by_held: f64,
    own: f64,
}

impl Part {
    /// By changes of l and of dl/du.
    #[inline(always)]
    fn change(&self, (rate, by_u): (f64, f64)) -> f64 {
        self.by_rate * rate + self.by_u * by_u
    }
}
