//! What the inner liquid stretches at where its surface lags behind its mean, and the force of that.
//!
//! Equation: with w = u_z + 2 (u - u_s) h_z/h the mean over a section of the rate at which the inner liquid itself is stretched
//! (u - u_s: parallel flow in the section, [`crate::thread::closures::core_annular`]), a cell dissipates 3 mu_i v f w^2 and not
//! 3 mu_i v f u_z^2, which the thread's own tension gives ([`crate::thread::force`]); the stretch b of the stream works on w too (its
//! tension by u_z alone is the -3 m pi a b of [`super`], found here with the rest). So
//!   F_i += -3 mu_i v f (w dw/du_i - u_z du_z/du_i) + 3 m v b dw/du_i,
//! and of a liquid that thins, n(rate) its viscosity over that at rest ([`crate::thread::rheology`]), n(w) w and n(u_z) u_z in place of w and
//! u_z before the derivatives;
//!   w = du/d + l,  l = g [(1 - alpha) (u_j + u_(j+1))/2 - S beta] a'/(a + a'^2/4),  u_s = alpha u + S beta.
//! Symbols: as in [`super`]; f, and g for how far viscosity evens out the section's flow, of [`crate::thread::foot`].
//! Source: own, nothing fitted: u_zz of the section's parabola u + (u_s - u)(2 r^2/h^2 - 1) averaged over it. A thread of the outer
//! liquid's viscosity that goes with the stream along its surfaces has w = b and feels nothing, whatever its slope (test).
//! Holds for: slopes to second order; no share of a drop-shaped end. Of a polymer solution this is the solvent's part; the polymer is stretched
//! at w by itself ([`crate::thread::polymer`]).

use super::cell::{CellTerms, Motion};
use super::rate::{By, Rate, Slip};
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
            let motion = Motion::new((d, a), (o.node[j].a, o.node[j + 1].a), (u[j], u[j + 1]));
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

/// The lag of one cell, and the stream's stretch that works on the rate it makes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lag {
    /// 3 pi mu_i f a, and that of the stream's stretch, 3 pi m a b.
    stiffness: f64,
    held: f64,
    /// l.
    rate: Rate,
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
        let slip = Slip::new(terms, &terms.local.surface, foot::evened(mu * terms.ratio, a), motion.mean);
        let rate = Rate::new(slip, motion);
        Lag {
            stiffness: 3.0 * PI * mu * terms.ratio * foot * terms.slender * a,
            held: 3.0 * PI * mu * terms.hold * a * terms.stretch.rate,
            rate,
            opened: d * (motion.stretch + rate.value),
            parted: d * motion.stretch,
            d,
            thinner: Thinner::new(rheology, motion.stretch + rate.value, motion.stretch),
        }
    }

    /// n(w) w - n(u_z) u_z, and d n(w) w. Of a liquid that does not thin l and d w, to the last bit.
    #[inline(always)]
    fn stretched(&self) -> (f64, f64) {
        let t = &self.thinner;
        let more = ((t.at_w - 1.0) * self.opened - (t.at_mean - 1.0) * self.parted) / self.d;
        (self.rate.value + more, t.at_w * self.opened)
    }

    /// The cell's tension and the pull on both its nodes.
    #[inline(always)]
    pub(super) fn forces(&self) -> [f64; 2] {
        let (lagging, opened) = self.stretched();
        [self.stiffness * lagging - self.held, self.rate.by_u * (self.held * self.d - self.stiffness * opened)]
    }

    /// Derivatives of the forces on the two nodes by the two velocities: lower by lower, lower by upper, ...; `by_difference` that of f by their
    /// difference.
    #[inline(always)]
    pub(super) fn by_velocity(&self, foot: f64, by_difference: f64) -> [f64; 4] {
        let (t, by_u) = (&self.thinner, self.rate.by_u);
        let (lagging, opened) = self.stretched();
        let stiff = self.stiffness * t.slope;
        let (square, cross) = (-stiff * self.d * by_u * by_u, 2.0 * stiff * by_u);
        let bend = self.stiffness * t.bend / self.d;
        let stiffer = self.stiffness / foot * by_difference;
        let (lower, upper) = (stiffer * (lagging - by_u * opened), -stiffer * (lagging + by_u * opened));
        [square + cross - lower - bend, square + lower + bend, square - upper + bend, square - cross + upper - bend]
    }

    /// Derivatives of tension and pull by the shape, and of the first with those of the cell's own tension through s.
    #[inline(always)]
    pub(super) fn by_shape(
        &self,
        terms: &CellTerms,
        mu: f64,
        (a, foot): (f64, f64),
        motion: &Motion,
        steep: &Steep,
    ) -> [By; 2] {
        let (b, t, d) = (&terms.stretch, &self.thinner, self.d);
        let (lagging, opened) = self.stretched();
        let (stiff, by_u) = (self.stiffness * t.slope, self.rate.by_u);
        let held = 3.0 * PI * mu * terms.hold;
        let (held_a, held_z) = (held * (b.rate + a * b.by_a), held * a * b.by_z);
        // d w = du + d l, and both rates fall as 1/d with du held
        let turned = self.stiffness * motion.stretch;
        let slender = 3.0 * PI * mu * terms.ratio * a * motion.stretch * t.at_mean;
        let changes = self.rate.changes(motion);
        let by_stiffness = [lagging, -by_u * opened];
        let by_foot = by_stiffness.map(|by| self.stiffness / foot * by);
        let by_share = [(by_foot[0] + slender) * steep.cell.by_share, by_foot[1] * steep.cell.by_share];
        // of l and dl/du
        let tension = |[l, _]: [f64; 2]| stiff * l;
        let pull = |[l, by]: [f64; 2]| -by_u * stiff * d * l + (self.held * d - self.stiffness * opened) * by;
        let stiffer = self.stiffness / a;
        [
            By {
                slope: tension(changes.slope),
                area: tension(changes.area) + by_stiffness[0] * stiffer - held_a + by_share[0] * steep.share_by.0,
                place: tension(changes.place) - held_z + by_share[0] * steep.share_by.1,
                own: -turned * t.bend / d,
                foot: by_foot[0],
            },
            By {
                slope: pull(changes.slope),
                area: pull(changes.area)
                    + by_stiffness[1] * stiffer
                    + by_u * d * held_a
                    + by_share[1] * steep.share_by.0,
                place: pull(changes.place) + by_u * d * held_z + by_share[1] * steep.share_by.1,
                own: by_u
                    * (self.held - self.stiffness * (self.rate.value + (t.at_w - 1.0) * self.opened / d)
                        + turned * (t.slope - 1.0)),
                foot: by_foot[1],
            },
        ]
    }
}
