//! The outer liquid's forces on the nodes of a body, with their derivatives.
//!
//! Equation: half of each cell's drag goes to each of its nodes, with the node's own velocity,
//!   F_i += (pi mu_o d_j/2) D_j (V_j - u_i);
//! outer normal stress is the slope of what it dissipates (`rate`),
//!   F_i -= d/du_i sum_j (pi/2) mu_o c_E cos(t)^2 a d (w - b)^2,  w = du/d + (u - u_r) a'/(a + a'^2/4),
//! where a'/(a + a'^2/4) is 2 h'/h at small slope and stays finite at a round tip; the film's pressure acts outside the cross-section,
//!   F_i -= pi a_i (p_i - p_(i-1));
//! and where the wall narrows or widens the stream's own stretch b pulls back, as it does at the outer liquid's own cross-section,
//!   F_i += T_i - T_(i-1),  T = -3 m pi a b,  m = 2 mu_i mu_o/(mu_i + mu_o),  b = -(4 Q_T/pi) S R_w'/R_w^3 (1 - a/R_w^2),
//! so that a body of the outer liquid's viscosity that goes with the stream feels nothing. The inner liquid's surface lags behind its
//! mean (`lag`). D and V join the slender thread with
//! the drop-shaped ends ([`cap`]). The slender d is bounded by the envelope h_ref(z) = max over z' of h(z') - |z - z'|.
//! Behind the tip lies a wake: V is multiplied by 1 - (1 - S(z)) min(1, (R_w(z)/R_w(0))^2), S from the closures: where
//! the wall narrows, the stream outruns what it lost at the tip.
//! Symbols: mu_o outer viscosity over sqrt(rho_i gamma R), d cell length, a = h^2, all lengths in R.
//! Source: [`super::closures`]. The envelope is ours: a body is felt one radius of its own away. With the local radius an
//! equal-viscosity thread pinches too slowly; slopes from 0.03 to 1 give 0.033 to 0.035 gamma/mu (0.0335: Lister & Stone 1998,
//! recalled; 0.0314 our boundary elements), above 1.2 it falls to 0.02. Of these 1 was chosen with eleven rows of the boundary-
//! element table in view (1, 2, 7, 22, 28, 33, 44, 49, 51, 52, 80): a smaller slope lets a far drop thin the drag on a thread, which then
//! pinches at its tip's end where the reference pinches at the drop's (27 of 74 rows at 0.1, 3 at 1). Drop sizes do not feel it.
//! b: mean of the parabola's u_z over r < h at fixed r. The stream without the body is in balance (Stokes), so its traction on the side
//! of a slice is what the stress leaves in its two cross-sections, -(3 mu_o pi a b)' by Trouton's tension (elementary; exact at equal
//! viscosities). At others the body's surface passes on what both liquids bear: nothing of it where the body is inviscid, no more than the
//! outer liquid has where it is stiff; m is the simplest that does, held against computed flows at given shapes for ratios 0.1, 0.3, 3
//! and 10 (validation topic orifice). No number is fitted. The stretch in the wake is left to the wake's own closures, and of a
//! drop-shaped end, whose drag is that of a whole drop, b takes no part.
//! Holds for: see the closures. Added mass, ends, and the envelope where it is a neighbour's are frozen over a step; the
//! derivatives are those of the rest.

pub mod cap;
mod cell;
mod lag;
pub mod profile;
mod rate;
mod response;
pub mod thinning;

#[cfg(test)]
mod tests;

use super::body::{Body, End};
use super::closures::Outer;
use super::closures::ends::{self, Wake};
use super::closures::inertia::{self, BoundaryLayer};
use super::fields;
use super::force::Work;
use super::rheology::Rheology;
use super::stream::Stream;
use crate::device::core_annular::axis_velocity;
use crate::device::thinning::Carreau;
use cap::{Around, Cap, Share};
use cell::{About, CellTerms, Forces, Given, Motion, NodeArea, Place, Slopes, shear_about};
use profile::Wall;
use rate::Normal;
use std::f64::consts::PI;
use thinning::{Thinned, thinned};

/// Slope of the envelope.
const ENVELOPE_SLOPE: f64 = 1.0;
/// Laplace number of the outer liquid on the pinned radius above which its boundary layer is looked at (it matters above ~10).
const LAYER_FROM: f64 = 1.0;
/// Square of the confinement above which the added mass grows no more: from there on the film's pressure holds.
const MASS_LIMIT: f64 = 0.96;

/// The outer stream, scaled.
#[derive(Debug, Clone)]
pub struct OuterField {
    /// Liquids and total flow; viscosity over sqrt(rho_i gamma R).
    pub liquids: Outer,
    /// rho_o/rho_i.
    pub density_ratio: f64,
    /// The wall, z from the tip.
    pub wall: Wall,
    /// Whether a tube at z <= 0 leaves a wake.
    pub wake: bool,
    /// Outside radius of that tube, which sets the wake.
    pub tip: f64,
    /// Share of the free-drop drag that acts on an end.
    pub end_share: f64,
    /// How it thins; `liquids` have its viscosity at rest.
    pub thinning: Option<Carreau>,
    /// What the fields of a thread on its nozzle need of the device; without it the closures hold.
    pub fields: Option<fields::Device>,
    /// The flows where they change; `None` where the total flow is that of `liquids` at all times.
    pub stream: Option<Stream>,
}

/// Per-cell and per-node values of the outer terms.
#[derive(Debug, Clone, Default)]
pub struct OuterWork {
    places: Vec<Place>,
    wakes: Vec<(f64, f64)>,
    /// Envelope radius of each cell, frozen over a step; `None` where it is the cell's own and moves with it.
    envelope: Vec<Option<f64>>,
    ends: Vec<Share>,
    node: Vec<NodeArea>,
    /// Viscosities of a thinning outer liquid about each cell, frozen over a step; empty where it does not thin.
    thinned: Vec<Thinned>,
    about: Vec<About>,
    forces: Vec<Forces>,
    slopes: Vec<Slopes>,
    /// mu_o (c_E + D/(a k^2)) of each cell at the start of the step, k = pi/(2 d): what the outer liquid adds to the inner one's 3 mu_i where a
    /// wave of four cells flattens.
    resistance: Vec<f64>,
    /// Power that drag, normal stress and film put into the body at the last evaluation.
    pub drag: f64,
    pub pull: f64,
    pub film: f64,
    /// Whether a film pressed then.
    pressed: bool,
}

impl OuterWork {
    /// The powers of viscous forces that are not these.
    pub fn replaced(&mut self, drag: f64) {
        (self.drag, self.pull, self.film, self.pressed) = (drag, 0.0, 0.0, false);
    }

    /// Drag on a cell at the last forces.
    pub fn dragged(&self, j: usize) -> f64 {
        self.forces[j].drag[0] + self.forces[j].drag[1]
    }

    /// What the outer liquid adds to the resistance of each cell; nothing in a gas.
    pub fn resistance(&self, in_liquid: bool) -> &[f64] {
        if in_liquid { &self.resistance } else { &[] }
    }
}

impl OuterField {
    /// A stream about a thread whose inner liquid has Ohnesorge number `ohnesorge`; `flow` is the total volume flow, scaled.
    pub fn new(ohnesorge: f64, viscosity_ratio: f64, density_ratio: f64, wall: Wall, flow: f64) -> OuterField {
        let viscosity = ohnesorge / viscosity_ratio;
        let mut liquids = Outer::new(viscosity_ratio, viscosity, flow);
        liquids.boundary_layer = (density_ratio > LAYER_FROM * viscosity * viscosity).then_some(BoundaryLayer {
            inner_density: 1.0,
            outer_density: density_ratio,
            inner_viscosity: ohnesorge,
            outer_viscosity: viscosity,
            tension: 1.0,
        });
        OuterField {
            liquids,
            density_ratio,
            wall,
            wake: true,
            tip: 1.0,
            end_share: 1.0,
            thinning: None,
            fields: None,
            stream: None,
        }
    }

    /// Axis velocity far from the tip where the wall's radius is `radius`.
    fn axis_velocity(&self, radius: f64) -> f64 {
        axis_velocity(self.liquids.total_flow, radius)
    }

    /// The wake behind the tip; none where there is no tube or no wall.
    fn behind_tip(&self) -> Option<Wake> {
        self.wall.radius(0.0).filter(|_| self.wake).map(|at_tip| Wake::new(self.tip, at_tip))
    }

    /// Share of the stream that is there at `z`, and its derivative.
    fn wake(&self, z: f64) -> (f64, f64) {
        let wake = self.behind_tip();
        narrowed(wake.map_or((1.0, 0.0), |wake| wake.at(z)), wake.as_ref(), self.wall.at(z))
    }

    /// Add the outer liquid's added mass to the inertia of the nodes, with the shape at the start of the step (in `work`):
    /// frozen over it, since its rate of change would be a force of its own.
    pub fn add_mass(&self, body: &Body, work: &mut Work) {
        let (z, n) = (&body.z, body.v.len());
        let free = body.left == End::Tip && body.right == End::Tip;
        let floor = if free { inertia::spheroid(0.5 * body.length() / body.radius_max()) } else { 0.0 };
        let a = &work.a[1..=n];
        let mut from = 0;
        for (i, place) in z.iter().enumerate() {
            let a = 0.5 * (a[i.saturating_sub(1)] + a[i.min(n - 1)]);
            let wall = self.wall.next(*place, &mut from);
            let y = wall.map_or(0.0, |(radius, _)| (a / (radius * radius)).min(MASS_LIMIT));
            let ratio = 1.0 + self.density_ratio * inertia::added_mass(y).max(floor);
            work.added.push(ratio);
            work.inertia[i] = ratio * work.mass[i];
        }
    }

    /// Wall and wake at the middle of every cell.
    fn find_places(&self, z: &[f64], OuterWork { places, wakes, .. }: &mut OuterWork) {
        let (behind_tip, mut from) = (self.behind_tip(), 0);
        wakes.clear();
        wakes.resize(z.len() - 1, (1.0, 0.0));
        if let Some(wake) = &behind_tip {
            ends::wakes(wake, z, wakes);
        }
        places.clear();
        places.extend(z.windows(2).zip(wakes).map(|(z, wake)| {
            let (wall, on_axis) = self.wall.with_stretch(0.5 * (z[0] + z[1]), &mut from);
            Place { wall, wake: narrowed(*wake, behind_tip.as_ref(), wall), on_axis }
        }));
    }

    /// The inner liquid's share of what resists shear at each cell's surface, for the tensions; with `FIRST`, at the start of a step, what
    /// is frozen over it is found before.
    pub fn share_shear<const FIRST: bool>(&self, body: &Body, (z, u): (&[f64], &[f64]), work: &mut Work) {
        let n = body.v.len();
        self.find_places(z, &mut work.outer);
        if FIRST {
            let mut o = std::mem::take(&mut work.outer);
            o.about.resize(n, Default::default());
            self.freeze(body, (z, u), work, &mut o);
            work.outer = o;
        }
        let Work { outer, sheared, a, .. } = work;
        let OuterWork { places, envelope, thinned, about, .. } = outer;
        if thinned.is_empty() {
            shear_about(&self.liquids, &a[1..=n], envelope, places, about, sheared);
            return;
        }
        for j in 0..n {
            let own = self.liquids.thinned(thinned[j].drag, thinned[j].stress);
            (about[j], sheared[j]) = About::new(&own, a[j + 1], envelope[j], &places[j]);
        }
    }

    /// Add the outer forces at the velocities `u` and the places of the last [`OuterField::share_shear`] on an inner liquid of this
    /// `rheology` to `work.force`; with `DERIVATIVES` their blocks are filled.
    pub fn add_forces<const DERIVATIVES: bool>(
        &self,
        rheology: Option<&Rheology>,
        body: &Body,
        u: &[f64],
        work: &mut Work,
    ) {
        let n = body.v.len();
        let mut o = std::mem::take(&mut work.outer);
        node_areas(body, &work.d, &work.a, &mut o.node);
        o.forces.resize(n, Forces::default());
        if DERIVATIVES {
            o.slopes.resize(n, Slopes::default());
        }
        let given = Given {
            field: self,
            rheology: rheology.filter(|r| r.thinning.is_some() || r.polymer.is_some()),
            d: &work.d[1..=n],
            a: &work.a[1..=n],
            u: [&u[..n], &u[1..=n]],
            node: [&o.node[..n], &o.node[1..=n]],
            places: &o.places,
            envelope: &o.envelope,
            ends: &o.ends,
            about: &o.about,
            thinned: &o.thinned,
            foot: &work.foot[..n],
            steep: if DERIVATIVES { work.steep.sides() } else { Default::default() },
        };
        given.all::<DERIVATIVES>(&mut o.forces, &mut o.slopes);
        if DERIVATIVES {
            o.resistance.clear();
            o.resistance.extend(o.slopes.iter().map(|slopes| slopes.resistance));
        }

        (o.drag, o.pull, o.film, o.pressed) = (0.0, 0.0, 0.0, false);
        // a pinned node does no work
        let free = if body.left.is_fixed() { 0.0 } else { 1.0 };
        for (j, f) in o.forces.iter().enumerate() {
            let (lo, hi) = (if j > 0 { u[j] } else { free * u[j] }, u[j + 1]);
            let (low, high) = (f.pull + f.tension, f.pull - f.tension);
            work.force[j] += f.drag[0] + low;
            work.force[j + 1] += f.drag[1] + high;
            o.drag += f.drag[0] * lo + f.drag[1] * hi;
            o.pull += low * lo + high * hi;
            o.pressed |= f.film != 0.0;
        }
        if o.pressed {
            for (i, u) in u.iter().enumerate().take(n).skip(1) {
                let pressed = o.node[i].a * (o.forces[i - 1].film - o.forces[i].film);
                work.force[i] += pressed;
                o.film += pressed * u;
            }
        }
        work.outer = o;
    }

    /// Envelope, ends and viscosities, frozen over a step: they jump when a neck forms, and a jump within a step is an error no shorter step
    /// cures.
    fn freeze(&self, body: &Body, (z, u): (&[f64], &[f64]), work: &Work, o: &mut OuterWork) {
        envelope(&work.d, &work.a, body.v.len(), &mut o.envelope);
        self.find_ends(body, (z, u), (&work.a, &o.places), &mut o.ends);
        if let Some(law) = &self.thinning {
            node_areas(body, &work.d, &work.a, &mut o.node);
            self.thin(law, (z, u), work, o);
        }
    }

    /// Viscosities of a thinning outer liquid about every cell.
    fn thin(&self, law: &Carreau, (z, u): (&[f64], &[f64]), work: &Work, o: &mut OuterWork) {
        let n = z.len() - 1;
        o.thinned.clear();
        for j in 0..n {
            let (d, a, place) = (work.d[j + 1], work.a[j + 1], &o.places[j]);
            let nodes = (o.node[j].a, o.node[j + 1].a);
            let mean = 0.5 * (u[j] + u[j + 1]);
            let found = thinned(law, a, |so_far| {
                let around = (o.envelope[j], o.ends[j], &o.about[j].sheared);
                let terms = CellTerms::new::<true>(&self.liquids, place, a, around, Some(&so_far));
                let motion = Motion::new((d, a), nodes, (u[j], u[j + 1]));
                let beyond = Normal::new(&terms, self.liquids.viscosity, (d, a), &motion).beyond;
                let liquids = self.liquids.thinned(so_far.drag, so_far.stress);
                (liquids.shear_flow(a, o.envelope[j], place.radius(), (mean, place.wake.0)), beyond)
            });
            o.thinned.push(found);
        }
    }

    /// What every cell has of the drop-shaped ends.
    fn find_ends(&self, body: &Body, (z, u): (&[f64], &[f64]), (a, places): (&[f64], &[Place]), ends: &mut Vec<Share>) {
        let n = body.v.len();
        ends.clear();
        ends.resize(n, Share::default());
        if body.left != End::Tip && body.right != End::Tip {
            return;
        }
        let mut next = 0;
        let around = |(z, place): (&[f64], &Place)| Around {
            stream: place.wake.0,
            passage: self.wall.passage(0.5 * (z[0] + z[1]), &mut next),
            axis: place.wall.map_or(0.0, |(radius, _)| self.axis_velocity(radius)),
        };
        let around: Vec<Around> = z.windows(2).zip(places).map(around).collect();
        let cell = |j: usize| (a[j + 1], z[j + 1] - z[j], 0.5 * (u[j] + u[j + 1]), around[j]);
        let left = (body.left == End::Tip).then(|| Cap::new(self, z[0], true, (0..n).map(cell)));
        let right = (body.right == End::Tip).then(|| Cap::new(self, z[n], false, (0..n).rev().map(cell)));
        for cap in [left, right].into_iter().flatten() {
            for (j, end) in ends.iter_mut().enumerate() {
                let share = cap.share(0.5 * (z[j] + z[j + 1]), a[j + 1], around[j]);
                if share.weight > end.weight {
                    *end = share;
                }
            }
        }
    }
}

/// A wake where the wall (radius and slope) is: where it has narrowed, the stream outruns what it lost at the tip.
#[inline(always)]
fn narrowed((s, s_z): (f64, f64), behind_tip: Option<&Wake>, wall: Option<(f64, f64)>) -> (f64, f64) {
    let (Some(behind_tip), Some((radius, slope))) = (behind_tip, wall) else { return (s, s_z) };
    if radius >= behind_tip.wall {
        return (s, s_z);
    }
    let ratio = radius / behind_tip.wall;
    let (square, square_z) = (ratio * ratio, 2.0 * ratio / behind_tip.wall * slope);
    (1.0 - (1.0 - s) * square, s_z * square - (1.0 - s) * square_z)
}

/// Squared radius at every node (known at a tip and a nozzle) with its derivatives.
fn node_areas(body: &Body, d: &[f64], a: &[f64], out: &mut Vec<NodeArea>) {
    let n = body.v.len();
    let end = |side: End, k: usize, cell: usize| {
        let mut node = NodeArea { a: side.beyond((d[cell], a[cell])).1, ..NodeArea::default() };
        if side.mirrors() {
            (node.by_length[k], node.by_volume[k]) = (-a[cell] / d[cell], 1.0 / (PI * d[cell]));
        }
        node
    };
    out.clear();
    out.push(end(body.left, 1, 1));
    for i in 1..n {
        let (dl, dr, al, ar) = (d[i], d[i + 1], a[i], a[i + 1]);
        let inverse = 1.0 / (dl + dr);
        let mean = (al * dr + ar * dl) * inverse;
        let by_length = [(ar - al * dr / dl - mean) * inverse, (al - ar * dl / dr - mean) * inverse];
        let by_volume = [dr / (PI * dl) * inverse, dl / (PI * dr) * inverse];
        out.push(NodeArea { a: mean, by_length, by_volume });
    }
    out.push(end(body.right, 0, n));
}

/// Envelope radius of every cell; `None` where it is the cell's own.
fn envelope(d: &[f64], a: &[f64], n: usize, out: &mut Vec<Option<f64>>) {
    out.clear();
    out.resize(n, None);
    let own = |j: usize| a[j + 1].max(0.0).sqrt();
    let mut pass = |from: usize, to: usize| {
        let last = from.max(to);
        let seen = out[from].unwrap_or_else(|| own(from)) - 0.5 * ENVELOPE_SLOPE * (d[last] + d[last + 1]);
        if seen > out[to].unwrap_or_else(|| own(to)) {
            out[to] = Some(seen);
        }
    };
    (1..n).for_each(|j| pass(j - 1, j));
    (1..n).rev().for_each(|j| pass(j, j - 1));
}
