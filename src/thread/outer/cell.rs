//! The outer forces of single cells, and of all cells several at a time.
//!
//! Equation: see [`super`]; here for one cell, from what is known of it and its two nodes.
//! Symbols: see [`super`].
//! Source: see [`super`].
//! Holds for: see [`super`]. Cells with a wide gap and liquids that do not thin go through a loop of which the compiler makes vector code;
//! the others through the same expressions one by one.

use super::OuterField;
use super::cap::Share;
use super::lag::{Lag, Steep};
use super::profile::Wall;
use super::rate::Normal;
use super::response::{ByShape, Own, drag_on, film_in};
use super::thinning::Thinned;
use crate::thread::closures::{Dual, Local, Outer, Sheared, drag, ends, wall};
use crate::thread::foot;
use crate::thread::rheology::Rheology;
use multiversion::multiversion;
use std::f64::consts::PI;
use std::ops::Range;

/// Squared radius at a node, and its derivatives by the lengths and by the volumes of the cells before and after it.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct NodeArea {
    pub a: f64,
    pub by_length: [f64; 2],
    pub by_volume: [f64; 2],
}

/// What is where a cell is: the wall's radius and slope, the wake, and the stretch of the stream on the axis over 2 Q_T/pi, each with its
/// slope.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Place {
    pub wall: Option<(f64, f64)>,
    pub wake: (f64, f64),
    pub on_axis: (f64, f64),
}

impl Place {
    /// The wall's radius.
    #[inline(always)]
    pub fn radius(&self) -> Option<f64> {
        self.wall.map(|(radius, _)| radius)
    }
}

/// What is sheared about a cell, and the derivatives of the inner liquid's share of the resistance to it by the cell's squared radius and
/// place.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct About {
    pub sheared: Sheared,
    pub share_by: (f64, f64),
}

impl About {
    /// About a cell, with that share.
    #[inline(always)]
    pub fn new(liquids: &Outer, a: f64, envelope: Option<f64>, place: &Place) -> (About, f64) {
        let sheared = liquids.sheared(a, envelope, place.radius());
        let share = liquids.shear_share(place.radius(), &sheared);
        let by_place = share.by_wall * place.wall.map_or(0.0, |(_, slope)| slope);
        (About { sheared, share_by: (share.by_a, by_place) }, share.value)
    }
}

/// The same of all cells of a liquid that does not thin.
#[multiversion(targets("x86_64+avx2"))]
pub(super) fn shear_about(
    liquids: &Outer,
    a: &[f64],
    envelope: &[Option<f64>],
    places: &[Place],
    about: &mut [About],
    share: &mut [f64],
) {
    let n = a.len();
    let (envelope, places) = (&envelope[..n], &places[..n]);
    let (about, share) = (&mut about[..n], &mut share[..n]);
    for j in 0..n {
        (about[j], share[j]) = About::new(liquids, a[j], envelope[j], &places[j]);
    }
}

/// The closures in one cell, joined and weighted.
pub(super) struct CellTerms {
    pub local: Local,
    pub drag: ends::Joined,
    pub wake: (f64, f64),
    /// Pressure of the film.
    pub film: Dual,
    /// Slope of the wall.
    pub flank: f64,
    pub stretch: Stretch,
    /// Viscosity over mu_o with which the stretch holds the cell: none in an end.
    pub hold: f64,
    /// How far the cell is no end, and the inner viscosity over mu_o.
    pub slender: f64,
    pub ratio: f64,
}

/// Stretch b of the stream, mean over a cell's cross-section, with its derivatives by place and squared radius.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Stretch {
    pub rate: f64,
    pub by_z: f64,
    pub by_a: f64,
}

impl Stretch {
    /// Over a cell of squared radius `a`, from what is there.
    #[inline(always)]
    fn new(liquids: &Outer, a: f64, at: &Place) -> Stretch {
        let ((s, s_z), (on_axis, on_axis_z)) = (at.wake, at.on_axis);
        let Some((radius, slope)) = at.wall else { return Stretch::default() };
        let flow = 2.0 / PI * liquids.total_flow;
        let inverse = 1.0 / radius;
        let inverse_area = inverse * inverse;
        let y = a * inverse_area;
        // beyond the stream there is none
        let within = if y < 1.0 { 1.0 } else { 0.0 };
        let (inside, by_z) = (within * (1.0 - y), within * 2.0 * y * slope * inverse);
        Stretch {
            rate: flow * s * on_axis * inside,
            by_z: flow * ((s_z * on_axis + s * on_axis_z) * inside + s * on_axis * by_z),
            by_a: -flow * s * on_axis * within * inverse_area,
        }
    }
}

impl CellTerms {
    /// In a cell of squared radius `a`; only with `NARROW` may its gap be so ([`drag::is_narrow`]).
    #[inline(always)]
    pub fn new<const NARROW: bool>(
        liquids: &Outer,
        place: &Place,
        a: f64,
        (envelope, end, sheared): (Option<f64>, Share, &Sheared),
        thinned: Option<&Thinned>,
    ) -> CellTerms {
        let wall = place.radius();
        let mut local = match thinned {
            None => liquids.at::<NARROW>(a, wall, sheared),
            Some(thinned) => {
                let own = liquids.thinned(thinned.drag, thinned.stress);
                thinned.over_rest(own.at::<true>(a, wall, &own.sheared(a, envelope, wall)))
            }
        };
        let slender = 1.0 - end.weight;
        local.c_e = slender * local.c_e;
        let ratio = liquids.viscosity_ratio;
        let own = thinned.map_or(1.0, |thinned| thinned.stress);
        CellTerms {
            drag: ends::mix(local.drag.value, place.wake.0 * local.u_eq.value, end.drag, end.drift, end.weight),
            local,
            wake: place.wake,
            film: wall.map_or(Dual::default(), |radius| wall::film(a, radius, 1.0)),
            flank: place.wall.map_or(0.0, |(_, slope)| slope),
            stretch: Stretch::new(liquids, a, place),
            hold: slender * 2.0 * own * ratio / (own + ratio),
            slender,
            ratio,
        }
    }
}

/// How a cell moves relative to its interface.
pub(super) struct Motion {
    pub mean: f64,
    pub stretch: f64,
    /// a', a and 1/(a + a'^2/4).
    pub slope: f64,
    a: f64,
    inverse: f64,
    pub flare: f64,
}

impl Motion {
    #[inline(always)]
    pub fn new((d, a): (f64, f64), (left, right): (f64, f64), (lo, hi): (f64, f64)) -> Motion {
        let inv_d = 1.0 / d;
        let (slope, stretch) = ((right - left) * inv_d, (hi - lo) * inv_d);
        let inverse = 1.0 / (a + 0.25 * slope * slope);
        Motion { mean: 0.5 * (lo + hi), stretch, slope, a, inverse, flare: slope * inverse }
    }

    /// How far the section's surface stands along the axis, a/(a + a'^2/4), with its derivatives by a' and by a.
    #[inline(always)]
    pub fn slender(&self) -> [f64; 3] {
        let square = self.inverse * self.inverse;
        [self.a * self.inverse, -0.5 * self.a * self.slope * square, 0.25 * self.slope * self.slope * square]
    }

    /// Derivatives of the flare by a' and by a.
    #[inline(always)]
    pub fn flare_by(&self) -> [f64; 2] {
        let square = self.inverse * self.inverse;
        [(self.a - 0.25 * self.slope * self.slope) * square, -self.slope * square]
    }
}

/// Forces of a cell: drag on its two nodes, the tension and the pull on both nodes of what it is stretched at, and the film's pressure
/// times pi.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Forces {
    pub drag: [f64; 2],
    pub tension: f64,
    pub pull: f64,
    pub film: f64,
}

/// Their derivatives.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Slopes {
    /// Of all on the two nodes by their velocities: lower by lower, lower by upper, ...
    pub by_u: [f64; 4],
    /// Of the drag on the two nodes by the cell's length, its place and its volume.
    pub drag_by: [Own; 2],
    /// Of the tension, with those of the cell's own through the share of shear, and of the pull on both nodes.
    pub stretch_by: [ByShape; 2],
    pub film_by: Own,
    /// mu_o (c_E + D/(a k^2)), see [`super::OuterWork::resistance`].
    pub resistance: f64,
}

/// What the forces of all cells are found from, in slices of one length.
pub(super) struct Given<'a> {
    pub field: &'a OuterField,
    /// Of an inner liquid whose viscosity changes.
    pub rheology: Option<&'a Rheology>,
    pub d: &'a [f64],
    pub a: &'a [f64],
    pub u: [&'a [f64]; 2],
    pub node: [&'a [NodeArea]; 2],
    pub places: &'a [Place],
    pub envelope: &'a [Option<f64>],
    pub ends: &'a [Share],
    pub about: &'a [About],
    /// Empty where the outer liquid does not thin.
    pub thinned: &'a [Thinned],
    pub foot: &'a [f64],
    /// As [`foot::Slopes::sides`]; empty where no slopes are asked for.
    pub steep: [&'a [f64]; 8],
}

impl<'a> Given<'a> {
    /// Forces of all cells, and with `DERIVATIVES` their slopes.
    pub fn all<const DERIVATIVES: bool>(&self, forces: &mut [Forces], slopes: &mut [Slopes]) {
        let n = forces.len();
        let unbounded = matches!(self.field.wall, Wall::Unbounded);
        let changing = unbounded || self.rheology.is_some() || !self.thinned.is_empty();
        let alone = |about: &About| changing || drag::is_narrow(about.sheared.y.value);
        let mut start = 0;
        while start < n {
            let kind = alone(&self.about[start]);
            let end = start + self.about[start..n].iter().take_while(|about| alone(about) == kind).count();
            let slopes = if DERIVATIVES { &mut slopes[start..end] } else { &mut slopes[..0] };
            let (cells, forces) = (self.part(start..end), &mut forces[start..end]);
            match (kind, &self.field.liquids.boundary_layer) {
                (true, _) => cells.one_by_one::<DERIVATIVES>(forces, slopes),
                (false, None) => side_by_side::<false, DERIVATIVES>(&cells, forces, slopes),
                (false, Some(_)) => side_by_side::<true, DERIVATIVES>(&cells, forces, slopes),
            }
            start = end;
        }
    }

    /// Some of the cells.
    #[inline(always)]
    fn part(&self, cells: Range<usize>) -> Given<'a> {
        fn of<T>(all: &[T], cells: Range<usize>) -> &[T] {
            if all.is_empty() { all } else { &all[cells] }
        }
        let of_floats = |all: &'a [f64]| of(all, cells.clone());
        Given {
            field: self.field,
            rheology: self.rheology,
            d: of_floats(self.d),
            a: of_floats(self.a),
            u: self.u.map(of_floats),
            node: self.node.map(|node| of(node, cells.clone())),
            places: of(self.places, cells.clone()),
            envelope: of(self.envelope, cells.clone()),
            ends: of(self.ends, cells.clone()),
            about: of(self.about, cells.clone()),
            thinned: of(self.thinned, cells.clone()),
            foot: of_floats(self.foot),
            steep: self.steep.map(of_floats),
        }
    }

    fn one_by_one<const DERIVATIVES: bool>(&self, forces: &mut [Forces], slopes: &mut [Slopes]) {
        for (j, forces) in forces.iter_mut().enumerate() {
            let terms = CellTerms::new::<true>(
                &self.field.liquids,
                &self.places[j],
                self.a[j],
                (self.envelope[j], self.ends[j], &self.about[j].sheared),
                self.thinned.get(j),
            );
            let cell = Cell::new(self, j, &terms, self.rheology);
            *forces = cell.forces();
            if DERIVATIVES {
                slopes[j] = cell.slopes(self, j);
            }
        }
    }
}

/// Cells of liquids that do not thin, in wide gaps before a wall.
#[multiversion(targets("x86_64+avx2"))]
fn side_by_side<const LAYER: bool, const DERIVATIVES: bool>(
    given: &Given,
    forces: &mut [Forces],
    slopes: &mut [Slopes],
) {
    // the compiler sees here that all lengths are one
    let n = forces.len();
    let given = Given {
        d: &given.d[..n],
        a: &given.a[..n],
        u: [&given.u[0][..n], &given.u[1][..n]],
        node: [&given.node[0][..n], &given.node[1][..n]],
        places: &given.places[..n],
        envelope: &given.envelope[..n],
        ends: &given.ends[..n],
        about: &given.about[..n],
        foot: &given.foot[..n],
        steep: if DERIVATIVES {
            let [s0, s1, s2, s3, s4, s5, s6, s7] = &given.steep;
            [&s0[..n], &s1[..n], &s2[..n], &s3[..n], &s4[..n], &s5[..n], &s6[..n], &s7[..n]]
        } else {
            given.steep
        },
        ..*given
    };
    let slopes = if DERIVATIVES { &mut slopes[..n] } else { &mut slopes[..0] };
    let mut liquids = given.field.liquids;
    liquids.boundary_layer = match (LAYER, liquids.boundary_layer) {
        (true, Some(layer)) => Some(layer),
        (false, _) => None,
        (true, None) => return,
    };
    for j in 0..n {
        let around = (given.envelope[j], given.ends[j], &given.about[j].sheared);
        let place = Place { wall: Some(given.places[j].wall.unwrap_or((1.0, 0.0))), ..given.places[j] };
        let terms = CellTerms::new::<false>(&liquids, &place, given.a[j], around, None);
        let cell = Cell::new(&given, j, &terms, None);
        forces[j] = cell.forces();
        if DERIVATIVES {
            slopes[j] = cell.slopes(&given, j);
        }
    }
}

/// One cell with all that its forces and their slopes share.
struct Cell<'a> {
    terms: &'a CellTerms,
    mu: f64,
    d: f64,
    a: f64,
    u: (f64, f64),
    foot: f64,
    motion: Motion,
    lag: Lag,
    normal: Normal,
}

impl Cell<'_> {
    #[inline(always)]
    fn new<'a>(given: &Given, j: usize, terms: &'a CellTerms, rheology: Option<&Rheology>) -> Cell<'a> {
        let (mu, d, a, u) = (given.field.liquids.viscosity, given.d[j], given.a[j], (given.u[0][j], given.u[1][j]));
        let motion = Motion::new((d, a), (given.node[0][j].a, given.node[1][j].a), u);
        let lag = Lag::new(terms, (mu, rheology), given.foot[j], (d, a), &motion);
        let normal = Normal::new(terms, mu, (d, a), &motion);
        Cell { terms, mu, d, a, u, foot: given.foot[j], motion, lag, normal }
    }

    #[inline(always)]
    fn forces(&self) -> Forces {
        let terms = self.terms;
        let stiffness = 0.5 * PI * self.mu * self.d * terms.drag.drag;
        let (lag, normal) = (self.lag.forces(), self.normal.forces());
        Forces {
            drag: [stiffness * (terms.drag.velocity - self.u.0), stiffness * (terms.drag.velocity - self.u.1)],
            tension: lag[0] + normal[0],
            pull: lag[1] + normal[1],
            film: PI * terms.film.value,
        }
    }

    #[inline(always)]
    fn slopes(&self, given: &Given, j: usize) -> Slopes {
        let Cell { terms, mu, d, a, u, foot, motion, lag, normal } = self;
        let nodes = (&given.node[0][j], &given.node[1][j]);
        let steep = Steep { cell: foot::OfCell::at(&given.steep, j), share_by: given.about[j].share_by };
        let drag = -0.5 * PI * mu * d * terms.drag.drag;
        let (outer, inner) = (normal.by_velocity(), lag.by_velocity(*foot, steep.cell.by_difference));
        let lag_by = lag.by_shape(terms, *mu, (*a, *foot), motion, &steep);
        let normal_by = normal.by_shape(terms, *mu, *a, motion);
        let tension = lag_by[0].and(&normal_by[0]);
        let pull = lag_by[1].and(&normal_by[1]);
        Slopes {
            by_u: [drag + outer[0] + inner[0], outer[1] + inner[1], outer[2] + inner[2], drag + outer[3] + inner[3]],
            drag_by: drag_on(terms, *mu, (*d, *a), *u),
            stretch_by: [
                tension.shape((*d, *a), nodes, motion, &steep.cell),
                pull.shape((*d, *a), nodes, motion, &steep.cell),
            ],
            film_by: film_in(terms, (*d, *a)),
            resistance: mu * (terms.local.c_e.value + terms.drag.drag * d * d * (4.0 / (PI * PI)) / a),
        }
    }
}
