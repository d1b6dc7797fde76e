//! The outer liquid's forces on the nodes of a body, with their derivatives.
//!
//! Equation: half of each cell's drag goes to each of its nodes, with the node's own velocity,
//!   F_i += (pi mu_o d_j/2) D_j (V_j - u_i);
//! outer normal stress and film pressure act outside the cross-section,
//!   F_i += pi a_i (N_i - N_(i-1)),  N = mu_o c_E (w - b) - p_film,  w = du/d + (u - u_r) a'/(a + a'^2/4),
//! where a'/(a + a'^2/4) is 2 h'/h at small slope and stays finite at a round tip;
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
mod lag;
pub mod profile;
mod response;
pub mod thinning;

#[cfg(test)]
mod tests;

use super::body::{Body, End};
use super::closures::inertia::{self, BoundaryLayer};
use super::closures::{Dual, Local, Outer, Sheared, ends, wall};
use super::foot::OfCell;
use super::force::Work;
use super::rheology::Rheology;
use super::stream::Stream;
use crate::device::core_annular::axis_velocity;
use crate::device::thinning::Carreau;
use cap::{Around, Cap, Share};
use lag::{ByShape, Lag, Steep};
use profile::Wall;
use response::{Own, by_velocity, drag_on, stress_in, stretch_of};
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
    /// The flows where they change; `None` where the total flow is that of `liquids` at all times.
    pub stream: Option<Stream>,
}

/// Squared radius at a node and its derivatives by the lengths and by the volumes of the cells before and after it.
#[derive(Debug, Clone, Copy, Default)]
struct NodeArea {
    a: f64,
    by_length: [f64; 2],
    by_volume: [f64; 2],
}

/// What is where a cell is: the wall's radius and slope, and the wake.
#[derive(Debug, Clone, Copy, Default)]
struct Place {
    wall: Option<(f64, f64)>,
    wake: (f64, f64),
}

/// Per-cell and per-node values of the outer terms.
#[derive(Debug, Clone, Default)]
pub struct OuterWork {
    places: Vec<Place>,
    /// Envelope radius of each cell, frozen over a step; `None` where it is the cell's own and moves with it.
    envelope: Vec<Option<f64>>,
    ends: Vec<Share>,
    node: Vec<NodeArea>,
    /// Viscosities of a thinning outer liquid about each cell, frozen over a step; empty where it does not thin.
    thinned: Vec<Thinned>,
    stress: Vec<f64>,
    film_stress: Vec<f64>,
    /// Derivatives of drag and stress on the two nodes of a cell by their velocities: lower by lower, lower by upper, ...
    by_u: Vec<[f64; 4]>,
    /// Derivatives of the drag on the two nodes of a cell by its length, its place and its volume.
    drag_by: Vec<[Own; 2]>,
    /// What is sheared about each cell, and derivatives of the inner liquid's share of the resistance to it by a cell's squared radius
    /// and place.
    sheared: Vec<(Sheared, (f64, f64))>,
    /// Derivatives of the lag's forces, and of the tension through that share.
    lag_by: Vec<[ByShape; 2]>,
    /// Derivatives of a cell's stress by the lengths and the volumes of the cells before, here and after, and by its place.
    stress_by: Vec<([f64; 3], [f64; 3], f64)>,
    /// mu_o (c_E + D/(a k^2)) of each cell at the start of the step, k = pi/(2 d): what the outer liquid adds to the inner one's 3 mu_i where a
    /// wave of four cells flattens.
    resistance: Vec<f64>,
    /// Power that drag, normal stress and film put into the body at the last evaluation.
    pub drag: f64,
    pub pull: f64,
    pub film: f64,
}

impl OuterWork {
    /// What the outer liquid adds to the resistance of each cell; nothing in a gas.
    pub fn resistance(&self, in_liquid: bool) -> &[f64] {
        if in_liquid { &self.resistance } else { &[] }
    }
}

/// The closures in one cell, joined and weighted.
struct CellTerms {
    local: Local,
    drag: ends::Joined,
    wake: (f64, f64),
    /// Pressure of the film.
    film: Dual,
    /// Slope of the wall.
    flank: f64,
    stretch: Stretch,
    /// Viscosity over mu_o with which the stretch holds the cell: none in an end.
    hold: f64,
    /// How far the cell is no end, and the inner viscosity over mu_o.
    slender: f64,
    ratio: f64,
}

/// Stretch b of the stream, mean over a cell's cross-section, with its derivatives by place and squared radius.
#[derive(Debug, Clone, Copy, Default)]
struct Stretch {
    rate: f64,
    by_z: f64,
    by_a: f64,
}

/// How a cell moves relative to its interface.
struct Motion {
    mean: f64,
    stretch: f64,
    /// a' and 1/(a + a'^2/4).
    slope: f64,
    inverse: f64,
    flare: f64,
    /// u - u_r.
    lag: f64,
    /// w - b.
    w: f64,
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
        OuterField { liquids, density_ratio, wall, wake: true, tip: 1.0, end_share: 1.0, thinning: None, stream: None }
    }

    /// Axis velocity far from the tip where the wall's radius is `radius`.
    fn axis_velocity(&self, radius: f64) -> f64 {
        axis_velocity(self.liquids.total_flow, radius)
    }

    /// Share of the stream that is there at `z`, and its derivative.
    fn wake(&self, z: f64) -> (f64, f64) {
        self.wake_within(z, self.wall.at(z), self.wall.radius(0.0))
    }

    /// The same with the wall (radius and slope) there and its radius at the tip.
    fn wake_within(&self, z: f64, wall: Option<(f64, f64)>, at_tip: Option<f64>) -> (f64, f64) {
        let (Some((wall, slope)), true) = (wall, self.wake) else { return (1.0, 0.0) };
        let (s, s_z) = ends::wake(z, self.tip, at_tip);
        let ratio = wall / at_tip.unwrap_or(wall);
        if ratio >= 1.0 {
            return (s, s_z);
        }
        let (square, square_z) = (ratio * ratio, 2.0 * ratio * ratio * slope / wall);
        (1.0 - (1.0 - s) * square, s_z * square - (1.0 - s) * square_z)
    }

    /// Stretch of the stream over a cell of squared radius `a`, from the wall and the wake there.
    fn stretch(&self, z: f64, a: f64, wall: Option<(f64, f64)>, (s, s_z): (f64, f64), from: &mut usize) -> Stretch {
        let (on_axis, on_axis_z) = self.wall.stretch(z, from);
        let Some((radius, slope)) = wall.filter(|_| on_axis != 0.0 || on_axis_z != 0.0) else {
            return Stretch::default();
        };
        let flow = 2.0 / PI * self.liquids.total_flow;
        let y = a / (radius * radius);
        // beyond the stream there is none
        let (inside, by_z, by_a) =
            if y < 1.0 { (1.0 - y, 2.0 * y * slope / radius, -1.0 / (radius * radius)) } else { (0.0, 0.0, 0.0) };
        Stretch {
            rate: flow * s * on_axis * inside,
            by_z: flow * ((s_z * on_axis + s * on_axis_z) * inside + s * on_axis * by_z),
            by_a: flow * s * on_axis * by_a,
        }
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
    fn find_places(&self, z: &[f64], places: &mut Vec<Place>) {
        let (at_tip, mut from) = (self.wall.radius(0.0), 0);
        places.clear();
        places.extend(z.windows(2).map(|z| {
            let middle = 0.5 * (z[0] + z[1]);
            let wall = self.wall.next(middle, &mut from);
            Place { wall, wake: self.wake_within(middle, wall, at_tip) }
        }));
    }

    /// The inner liquid's share of what resists shear at each cell's surface, for the tensions; with `FIRST`, at the start of a step, what
    /// is frozen over it is found before.
    pub fn share_shear<const FIRST: bool>(&self, body: &Body, (z, u): (&[f64], &[f64]), work: &mut Work) {
        let n = body.v.len();
        self.find_places(z, &mut work.outer.places);
        if FIRST {
            let mut o = std::mem::take(&mut work.outer);
            o.sheared.resize(n, Default::default());
            self.freeze(body, (z, u), work, &mut o);
            work.outer = o;
        }
        let Work { outer, sheared, a, .. } = work;
        for j in 0..n {
            let (a, envelope, wall) = (a[j + 1], outer.envelope[j], outer.places[j].wall);
            let radius = wall.map(|(radius, _)| radius);
            let thinner = outer.thinned.get(j).map(|own| self.liquids.thinned(own.drag, own.stress));
            let liquids = thinner.as_ref().unwrap_or(&self.liquids);
            let about = liquids.sheared(a, envelope, radius);
            let share = liquids.shear_share(radius, &about);
            sheared[j] = share.value;
            outer.sheared[j] = (about, (share.by_a, share.by_wall * wall.map_or(0.0, |(_, slope)| slope)));
        }
    }

    /// Add the outer forces at (z, u), for which [`OuterField::share_shear`] holds, on an inner liquid of this `rheology` to `work.force`;
    /// with `DERIVATIVES` their blocks are filled.
    pub fn add_forces<const DERIVATIVES: bool>(
        &self,
        rheology: Option<&Rheology>,
        body: &Body,
        (z, u): (&[f64], &[f64]),
        work: &mut Work,
    ) {
        let n = body.v.len();
        let mut o = std::mem::take(&mut work.outer);
        o.stress.resize(n, 0.0);
        o.film_stress.resize(n, 0.0);
        if DERIVATIVES {
            o.by_u.resize(n, [0.0; 4]);
            o.drag_by.resize(n, [Own::default(); 2]);
            o.lag_by.resize(n, Default::default());
            o.stress_by.resize(n, Default::default());
            o.resistance.resize(n, 0.0);
        }
        node_areas(body, &work.d, &work.a, &mut o.node);
        (o.drag, o.pull, o.film) = (0.0, 0.0, 0.0);
        let (mu, mut from, mut pressed) = (self.liquids.viscosity, 0, false);
        for j in 0..n {
            let (d, a, middle) = (work.d[j + 1], work.a[j + 1], 0.5 * (z[j] + z[j + 1]));
            let Place { wall, wake } = o.places[j];
            let stretch = self.stretch(middle, a, wall, wake, &mut from);
            let around = (o.envelope[j], o.ends[j], &o.sheared[j].0);
            let terms = self.cell(wall, a, around, wake, (stretch, o.thinned.get(j)));
            let motion = Motion::new(&terms, (d, a), (o.node[j].a, o.node[j + 1].a), (u[j], u[j + 1]));
            o.stress[j] = PI * (mu * terms.local.c_e.value * motion.w - terms.film.value);
            o.film_stress[j] = -PI * terms.film.value;
            pressed |= terms.film.value != 0.0;
            for (i, u) in [(j, u[j]), (j + 1, u[j + 1])] {
                let drag = 0.5 * PI * mu * d * terms.drag.drag * (terms.drag.velocity - u);
                work.force[i] += drag;
                // a pinned node does no work
                if i > 0 || !body.left.is_fixed() {
                    o.drag += drag * u;
                }
            }
            let held = 3.0 * PI * mu * terms.hold * a * stretch.rate;
            work.force[j] -= held;
            work.force[j + 1] += held;
            o.pull += held * (u[j + 1] - if j > 0 || !body.left.is_fixed() { u[j] } else { 0.0 });
            let lag = Lag::new(&terms, (mu, rheology), work.foot[j], (d, a), &motion);
            for (i, force) in (j..).zip(lag.forces()) {
                work.force[i] += force;
                if i > 0 || !body.left.is_fixed() {
                    o.pull += force * u[i];
                }
            }
            if DERIVATIVES {
                let k = 0.5 * PI / d;
                o.resistance[j] = mu * (terms.local.c_e.value + terms.drag.drag / (a * k * k));
                let nodes = (o.node[j], o.node[j + 1]);
                o.by_u[j] = by_velocity(&terms, mu, d, &motion, (pulled(j, n, nodes.0.a), pulled(j + 1, n, nodes.1.a)));
                o.drag_by[j] = drag_on(&terms, mu, (d, a), (u[j], u[j + 1]));
                stretch_of(&terms, mu, (d, a), &mut o.drag_by[j]);
                let ohnesorge = mu * self.liquids.viscosity_ratio;
                let steep = Steep { cell: OfCell::new(body, u, work, ohnesorge, j), share_by: o.sheared[j].1 };
                let by_velocity = lag.by_velocity(work.foot[j], steep.cell.by_difference);
                o.by_u[j].iter_mut().zip(by_velocity).for_each(|(sum, by)| *sum += by);
                o.lag_by[j] = lag.by_shape(&terms, mu, (a, work.foot[j]), nodes, &motion, &steep);
                o.stress_by[j] = stress_in(&terms, mu, (d, a), nodes, &motion);
            }
        }
        for (i, u) in u.iter().enumerate().take(n).skip(1) {
            let pull = o.node[i].a * (o.stress[i] - o.stress[i - 1]);
            work.force[i] += pull;
            o.pull += pull * u;
        }
        if pressed {
            for (i, u) in u.iter().enumerate().take(n).skip(1) {
                o.film += o.node[i].a * (o.film_stress[i] - o.film_stress[i - 1]) * u;
            }
            o.pull -= o.film;
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
        let mut from = 0;
        for j in 0..n {
            let (d, a, middle) = (work.d[j + 1], work.a[j + 1], 0.5 * (z[j] + z[j + 1]));
            let Place { wall, wake } = o.places[j];
            let stretch = self.stretch(middle, a, wall, wake, &mut from);
            let nodes = (o.node[j].a, o.node[j + 1].a);
            let mean = 0.5 * (u[j] + u[j + 1]);
            let found = thinned(law, a, |so_far| {
                let terms =
                    self.cell(wall, a, (o.envelope[j], o.ends[j], &o.sheared[j].0), wake, (stretch, Some(&so_far)));
                let motion = Motion::new(&terms, (d, a), nodes, (u[j], u[j + 1]));
                let liquids = self.liquids.thinned(so_far.drag, so_far.stress);
                (liquids.shear_flow(a, o.envelope[j], wall.map(|w| w.0), (mean, wake.0)), motion.w)
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

    #[inline(always)]
    fn cell(
        &self,
        at: Option<(f64, f64)>,
        a: f64,
        (envelope, end, sheared): (Option<f64>, Share, &Sheared),
        wake: (f64, f64),
        (stretch, thinned): (Stretch, Option<&Thinned>),
    ) -> CellTerms {
        let wall = at.map(|(radius, _)| radius);
        let (other, about);
        let (liquids, sheared) = match thinned {
            None => (&self.liquids, sheared),
            Some(thinned) => {
                other = self.liquids.thinned(thinned.drag, thinned.stress);
                about = other.sheared(a, envelope, wall);
                (&other, &about)
            }
        };
        let mut local = liquids.at(a, wall, sheared);
        if let Some(thinned) = thinned {
            local = thinned.over_rest(local);
        }
        let slender = 1.0 - end.weight;
        local.c_e = slender * local.c_e;
        let ratio = self.liquids.viscosity_ratio;
        let own = thinned.map_or(1.0, |thinned| thinned.stress);
        let hold = slender * 2.0 * own * ratio / (own + ratio);
        let drag = ends::mix(local.drag.value, wake.0 * local.u_eq.value, end.drag, end.drift, end.weight);
        let film = wall.map_or(Dual::default(), |radius| wall::film(a, radius, 1.0));
        CellTerms { local, drag, wake, film, flank: at.map_or(0.0, |(_, slope)| slope), stretch, hold, slender, ratio }
    }
}

impl Motion {
    #[inline(always)]
    fn new(terms: &CellTerms, (d, a): (f64, f64), (left, right): (f64, f64), (lo, hi): (f64, f64)) -> Motion {
        let slope = (right - left) / d;
        let inverse = 1.0 / (a + 0.25 * slope * slope);
        let flare = slope * inverse;
        let mean = 0.5 * (lo + hi);
        let lag = mean * (1.0 - terms.local.near.alpha.value) - terms.wake.0 * terms.local.near.beta.value;
        Motion {
            mean,
            stretch: (hi - lo) / d,
            slope,
            inverse,
            flare,
            lag,
            w: (hi - lo) / d + lag * flare - terms.stretch.rate,
        }
    }
}

/// Cross-section on which the stress pulls at node `i`: none at the ends.
fn pulled(i: usize, n: usize, a: f64) -> f64 {
    if i == 0 || i == n { 0.0 } else { a }
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
