//! Forces on the nodes of a body.
//!
//! Equation: m_i du_i/dt = T_i - T_(i-1) + m_i Bo + outer liquid, with half of each cell's volume at each of its nodes and
//!   T = capillary tension                      (see [`super::cells`])
//!     + 3 Oh f v du/d^2                        inner extension (Trouton; f of a steep thread, [`super::foot`])
//!     + C v |du|/d du  where du < 0            artificial viscosity, second order in d
//! and, where liquid passes the nodes, the momentum that it carries ([`add_carried`]; at the first node after a nozzle
//! Q (u_0 - u_1)/4).
//! Symbols: v cell volume, d its length, du velocity difference across it, all scaled (see [`super`]).
//! Source: Eggers & Dupont 1994, J. Fluid Mech. 262, 205 (equations); artificial viscosity after von Neumann &
//! Richtmyer 1950, J. Appl. Phys. 21, 232: recoiling filaments of thin liquid steepen into fronts that the 1-D model
//! cannot carry. C = 0.5, and 2 below Oh = 0.01; it moves a drop's volume by 0.02 % (measured, validation page).
//! Holds for: |h'| up to order one away from caps; f carries the viscous tension to second order in it.

use super::body::{Body, End};
use super::cells::{Parabola, Triple};
use super::crossing::Section;
use super::fields::Fields;
use super::foot;
use super::inflow::Inflow;
use super::laden::{self, LadenWork};
use super::mesh::follow::Follow;
use super::outer::{OuterField, OuterWork};
use super::polymer::PolymerWork;
use super::rheology::Rheology;
use super::rows::{lanes, smallest, total};
use multiversion::multiversion;
use std::f64::consts::PI;

/// What the thread is made of and what acts on it, scaled.
#[derive(Debug, Clone)]
pub struct Physics {
    /// Ohnesorge number of the inner liquid on the pinned radius.
    pub ohnesorge: f64,
    /// Gravity (less buoyancy) along the flow as a Bond number; negative against the flow.
    pub bond: f64,
    /// Strength of the artificial viscosity.
    pub artificial: f64,
    /// Inflow at the nozzle.
    pub inflow: Inflow,
    /// Outer liquid, if any.
    pub outer: Option<OuterField>,
    /// What liquid and surface have beyond that, if anything.
    pub rheology: Option<Rheology>,
    /// Whether the inflow is a parabola and no plug ([`super::profile`]): in a liquid always, in a gas where asked for.
    pub parabolic: bool,
}

impl Physics {
    /// Artificial viscosity that a thread of this Ohnesorge number needs.
    pub fn artificial_for(ohnesorge: f64) -> f64 {
        if ohnesorge < 0.01 { 2.0 } else { 0.5 }
    }
}

/// Two nodes met or passed each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Crossing;

/// Everything one step needs, reused from step to step so that stepping allocates nothing.
#[derive(Debug, Clone, Default)]
pub struct Work {
    /// How the nodes move.
    pub follow: Follow,
    /// Cell volumes.
    pub v: Vec<f64>,
    /// Cell lengths with a ghost at each end.
    pub d: Vec<f64>,
    /// Their inverses; 0 for a ghost of no width.
    pub inv_d: Vec<f64>,
    /// Mean squared radii with a ghost at each end.
    pub a: Vec<f64>,
    /// Capillary and viscous tension of each cell.
    pub tension: Vec<f64>,
    /// Node forces.
    pub force: Vec<f64>,
    /// Node inertia (with added mass).
    pub inertia: Vec<f64>,
    /// Node masses (without).
    pub mass: Vec<f64>,
    /// Inertia over mass of each node, frozen over a step; empty without an outer liquid.
    pub added: Vec<f64>,
    /// The inner liquid's share of what resists shear at each cell's surface; 0 in a gas.
    pub sheared: Vec<f64>,
    /// Viscous tension of each cell over that of a slender one, at the last forces.
    pub foot: Vec<f64>,
    /// Derivatives of the tension by the lengths of the left, own and right cell.
    pub h: [Vec<f64>; 3],
    /// Derivatives of the tension by their volumes.
    pub g: [Vec<f64>; 3],
    /// Derivative of the tension by the velocity difference.
    pub eta: Vec<f64>,
    /// Slopes of the resistance of steep threads.
    pub steep: foot::Slopes,
    /// Outer-liquid terms.
    pub outer: OuterWork,
    /// The viscous forces of both liquids where sections have two velocities.
    pub fields: Fields,
    /// What the surfaces of the cells carry.
    pub laden: LadenWork,
    /// The polymer in them.
    pub polymer: PolymerWork,
    /// How the liquid that comes in goes through them, where its profile counts; frozen over a step.
    pub sections: Vec<Section>,
}

impl Work {
    /// Fill lengths and squared radii with their ghosts, for the volumes in `self.v`; refuses crossed nodes and empty cells.
    pub fn geometry(&mut self, body: &Body, z: &[f64]) -> Result<(), Crossing> {
        let n = body.v.len();
        for buffer in [&mut self.d, &mut self.inv_d, &mut self.a] {
            buffer.resize(n + 2, 0.0);
        }
        let (d, inv_d, a) = (&mut self.d[1..=n], &mut self.inv_d[1..=n], &mut self.a[1..=n]);
        lengths(z, &self.v, d, inv_d, a);
        // the sum finds a NaN, which the least passes over
        if !(smallest(d) > 0.0 && total(d).is_finite() && (!self.follow.flowing || smallest(a) > 0.0)) {
            return Err(Crossing);
        }
        (self.d[0], self.inv_d[0], self.a[0]) = ghost(body.left, self.d[1], self.inv_d[1], self.a[1]);
        (self.d[n + 1], self.inv_d[n + 1], self.a[n + 1]) = ghost(body.right, self.d[n], self.inv_d[n], self.a[n]);
        Ok(())
    }

    /// Masses and inertia of the nodes at the start of a step, without added mass, and the shares of shear in a gas.
    pub fn masses(&mut self) {
        self.added.clear();
        self.sheared.clear();
        self.sheared.resize(self.v.len(), 0.0);
        self.lump();
        self.inertia.clone_from(&self.mass);
    }

    fn lump(&mut self) {
        let (n, v) = (self.v.len(), &self.v);
        self.mass.resize(n + 1, 0.0);
        self.mass[0] = 0.5 * v[0];
        for (mass, (before, after)) in self.mass[1..n].iter_mut().zip(v.iter().zip(&v[1..])) {
            *mass = 0.5 * (before + after);
        }
        self.mass[n] = 0.5 * v[n - 1];
    }

    /// The same within a step: the added mass of a node stays in proportion to its own.
    pub fn masses_within(&mut self, body: &Body) {
        let (n, flowing) = (self.v.len(), self.follow.flowing);
        if flowing {
            self.lump();
        } else if body.left == End::Nozzle {
            // only the first cell's volume has changed
            let beyond = self.v.get(1).copied().unwrap_or(0.0);
            (self.mass[0], self.mass[1]) = (0.5 * self.v[0], 0.5 * (self.v[0] + beyond));
        }
        let changed = if flowing { n + 1 } else { 2 };
        for (i, (inertia, mass)) in self.inertia.iter_mut().zip(&self.mass).take(changed).enumerate() {
            *inertia = self.added.get(i).map_or(*mass, |ratio| mass * ratio);
        }
    }

    /// Viscosities of the tensions: none but the artificial one where the viscous forces are those of the fields.
    fn viscosities(&self, physics: &Physics) -> [f64; 2] {
        [if self.fields.active() { 0.0 } else { physics.ohnesorge }, physics.artificial]
    }

    /// Node `i`'s inertia over its mass.
    pub fn ratio(&self, i: usize) -> f64 {
        self.added.get(i).copied().unwrap_or(1.0)
    }
}

/// Lengths of the cells, their inverses and mean squared radii.
#[multiversion(targets("x86_64+avx2"))]
fn lengths(z: &[f64], v: &[f64], d: &mut [f64], inv_d: &mut [f64], a: &mut [f64]) {
    let n = v.len();
    let (lo, hi, d, inv_d, a) = (&z[..n], &z[1..=n], &mut d[..n], &mut inv_d[..n], &mut a[..n]);
    for j in 0..n {
        d[j] = hi[j] - lo[j];
        inv_d[j] = 1.0 / d[j];
        a[j] = v[j] * (1.0 / PI) * inv_d[j];
    }
}

/// Width, its inverse and value of the neighbour that stands for an end.
fn ghost(end: End, d: f64, inv_d: f64, a: f64) -> (f64, f64, f64) {
    match end {
        End::Nozzle => (0.0, 0.0, 1.0),
        End::Tip => (0.0, 0.0, 0.0),
        End::Symmetry | End::Outflow => (d, inv_d, a),
    }
}

/// Viscous tension of a cell as if it were slender, and its artificial one. The comparison, not `min`: it needs no second look for NaN.
#[inline(always)]
fn stretching([ohnesorge, artificial]: [f64; 2], v: f64, inv_d: f64, du: f64) -> (f64, f64) {
    let closing = if du < 0.0 { du } else { 0.0 };
    let rate = v * inv_d;
    (3.0 * ohnesorge * rate * du * inv_d, -artificial * rate * closing * closing)
}

/// The slices of a body's cells that the loops over them read, all of one length.
struct Cells<'a> {
    d: [&'a [f64]; 3],
    inv_d: [&'a [f64]; 3],
    a: [&'a [f64]; 3],
    v: &'a [f64],
    sheared: &'a [f64],
    u: [&'a [f64]; 2],
}

impl<'a> Cells<'a> {
    fn new([d, inv_d, a]: [&'a [f64]; 3], v: &'a [f64], sheared: &'a [f64], u: &'a [f64]) -> Cells<'a> {
        let n = v.len();
        let three = |x: &'a [f64]| [&x[..n], &x[1..=n], &x[2..n + 2]];
        Cells { d: three(d), inv_d: three(inv_d), a: three(a), v, sheared: &sheared[..n], u: [&u[..n], &u[1..=n]] }
    }

    /// The same once more where the loop is, so that the compiler sees that all lengths are one.
    #[inline(always)]
    fn of(&self, n: usize) -> Cells<'a> {
        let three = |x: [&'a [f64]; 3]| [&x[0][..n], &x[1][..n], &x[2][..n]];
        Cells {
            d: three(self.d),
            inv_d: three(self.inv_d),
            a: three(self.a),
            v: &self.v[..n],
            sheared: &self.sheared[..n],
            u: [&self.u[0][..n], &self.u[1][..n]],
        }
    }

    #[inline(always)]
    fn triple(&self, j: usize) -> Triple {
        let (d, a) = (&self.d, &self.a);
        Triple { dl: d[0][j], d: d[1][j], dr: d[2][j], al: a[0][j], a: a[1][j], ar: a[2][j] }
    }

    /// f with its slopes, the parabola, the rate of stretching, and the inverse lengths about cell `j`.
    #[inline(always)]
    fn steep(&self, ohnesorge: f64, j: usize) -> (foot::Resistance, Parabola, f64, [f64; 3]) {
        let inverse = [self.inv_d[0][j], self.inv_d[1][j], self.inv_d[2][j]];
        let parabola = self.triple(j).parabola();
        let rate = (self.u[1][j] - self.u[0][j]) * inverse[1];
        let own = (self.sheared[j], self.a[1][j], rate);
        (foot::resistance_and_slopes(ohnesorge, own, parabola.coefficients()), parabola, rate, inverse)
    }

    #[inline(always)]
    fn stretching(&self, viscosities: [f64; 2], j: usize) -> (f64, f64) {
        stretching(viscosities, self.v[j], self.inv_d[1][j], self.u[1][j] - self.u[0][j])
    }
}

/// Node forces at (z, u, t) but for the momentum that liquid carries past the nodes. `work.geometry` and the masses must hold
/// for the same state.
pub fn forces(physics: &Physics, body: &Body, u: &[f64], work: &mut Work) {
    work.tension.resize(body.v.len(), 0.0);
    work.foot.resize(body.v.len(), 1.0);
    let cells = Cells::new([&work.d, &work.inv_d, &work.a], &work.v, &work.sheared, u);
    let viscosities = work.viscosities(physics);
    match physics.outer {
        Some(_) => tensions::<true>(viscosities, &cells, &mut work.tension, &mut work.foot),
        None => tensions::<false>(viscosities, &cells, &mut work.tension, &mut work.foot),
    }
    if let Some(rheology) = &physics.rheology {
        laden::add_tensions::<false>(rheology, physics.ohnesorge, body, u, work);
    }
    node_forces(physics, body, work);
    if physics.rheology.is_some_and(|rheology| rheology.polymer.is_some()) {
        PolymerWork::add_forces(work);
    }
}

// In a gas (not `STEEP`) Trouton's tension alone.
#[multiversion(targets("x86_64+avx2"))]
fn tensions<const STEEP: bool>(
    [ohnesorge, artificial]: [f64; 2],
    cells: &Cells,
    tension: &mut [f64],
    foot: &mut [f64],
) {
    let n = tension.len();
    let (cells, foot) = (cells.of(n), &mut foot[..n]);
    for j in 0..n {
        let (trouton, artificial) = cells.stretching([ohnesorge, artificial], j);
        let parabola = cells.triple(j).parabola();
        foot[j] = 1.0;
        if STEEP {
            let rate = (cells.u[1][j] - cells.u[0][j]) * cells.inv_d[1][j];
            let own = (cells.sheared[j], cells.a[1][j], rate);
            foot[j] = foot::resistance(ohnesorge, own, parabola.coefficients());
        }
        tension[j] = parabola.tension() + trouton * foot[j] + artificial;
    }
}

/// Tensions to forces.
fn node_forces(physics: &Physics, body: &Body, work: &mut Work) {
    let n = body.v.len();
    work.force.resize(n + 1, 0.0);
    let (tension, mass, force) = (&work.tension[..n], &work.mass[..=n], &mut work.force[..=n]);
    force[0] = tension[0] + mass[0] * physics.bond;
    for (force, (mass, (before, after))) in
        force[1..n].iter_mut().zip(mass[1..n].iter().zip(tension.iter().zip(&tension[1..])))
    {
        *force = after - before + mass * physics.bond;
    }
    force[n] = mass[n] * physics.bond - if body.right == End::Outflow { 0.0 } else { tension[n - 1] };
}

/// Add the momentum that liquid carries past the nodes, in the form that keeps both momentum and kinetic energy: with
/// f_i u_i the flow past node i and phi_j = (f_j u_j + f_(j+1) u_(j+1))/2 that through the middle of cell j,
///   F_i -= (phi_(i-1) (u_i - u_(i-1)) + phi_i (u_(i+1) - u_i))/2.
/// Added mass goes with the liquid: it bears the same share more.
pub fn add_carried(body: &Body, u: &[f64], work: &mut Work) {
    let n = body.v.len();
    let last = match (work.follow.flowing, body.left) {
        (true, _) => n,
        (false, End::Nozzle) => 1,
        _ => return,
    };
    let passes = &work.follow.passes[1..];
    let through = |j: usize| 0.5 * (passes[j] * u[j] + passes[j + 1] * u[j + 1]) * (u[j + 1] - u[j]);
    let mut before = through(0);
    for i in 1..=last {
        let after = if i < n { through(i) } else { 0.0 };
        work.force[i] -= 0.5 * work.added.get(i).map_or(1.0, |ratio| *ratio) * (before + after);
        before = after;
    }
}

/// Node forces at the start of a step (as [`forces`]) with the derivatives of the tensions, at the state of the last
/// `geometry`: by cell lengths into `work.h`, by cell volumes into `work.g` (only the first two cells where no liquid passes
/// the nodes), by velocity differences into `work.eta`. Mirrored ends are folded into the cell's own derivative.
pub fn forces_with_derivatives(physics: &Physics, body: &Body, u: &[f64], work: &mut Work) {
    let n = body.v.len();
    let viscosities = work.viscosities(physics);
    let Work { d, inv_d, a, v, sheared, foot, tension, h, g, eta, .. } = work;
    for buffer in [&mut *tension, &mut *eta, &mut *foot].into_iter().chain(h.iter_mut()).chain(g.iter_mut()) {
        buffer.resize(n, 0.0);
    }
    let cells = Cells::new([d, inv_d, a], v, sheared, u);
    let ([hl, hc, hr], [gl, gc, gr]) = (h, g);
    let counted = if work.follow.flowing { n } else { n.min(2) };
    let (vl, vc, vr) = (&mut gl[..counted], &mut gc[..counted], &mut gr[..counted]);
    match physics.outer {
        Some(_) => {
            tensions_with_derivatives::<true>(viscosities, &cells, [tension, foot, eta], hl, hc, hr);
            by_volumes::<true>(viscosities, &cells, vl, vc, vr);
        }
        None => {
            tensions_with_derivatives::<false>(viscosities, &cells, [tension, foot, eta], hl, hc, hr);
            by_volumes::<false>(viscosities, &cells, vl, vc, vr);
        }
    }
    for [outward, own, inward] in [[hl, hc, hr], [gl, gc, gr]] {
        fold(body.left, &mut outward[0], &mut own[0]);
        fold(body.right, &mut inward[n - 1], &mut own[n - 1]);
    }
    if !work.fields.active() && (physics.outer.is_some() || physics.rheology.is_some()) {
        slopes_of_foot(physics.ohnesorge, body, u, work);
    }
    if let Some(rheology) = &physics.rheology {
        laden::add_tensions::<true>(rheology, physics.ohnesorge, body, u, work);
    }
    node_forces(physics, body, work);
    if physics.rheology.is_some_and(|rheology| rheology.polymer.is_some()) {
        PolymerWork::add_forces(work);
    }
}

// Seven separate slices: only so does the compiler know that none overlaps another and make vector code.
#[multiversion(targets("x86_64+avx2"))]
fn tensions_with_derivatives<const STEEP: bool>(
    viscosities: [f64; 2],
    cells: &Cells,
    [tension, foot, eta]: [&mut [f64]; 3],
    hl: &mut [f64],
    hc: &mut [f64],
    hr: &mut [f64],
) {
    let n = cells.v.len();
    let cells = cells.of(n);
    let (tension, foot, eta) = (&mut tension[..n], &mut foot[..n], &mut eta[..n]);
    let (hl, hc, hr) = (&mut hl[..n], &mut hc[..n], &mut hr[..n]);
    for j in 0..n {
        let triple = cells.triple(j);
        let parabola = triple.parabola();
        let inverse = [cells.inv_d[0][j], cells.inv_d[1][j], cells.inv_d[2][j]];
        let p = triple.partials(&parabola, inverse);
        let (inv_d, du) = (inverse[1], cells.u[1][j] - cells.u[0][j]);
        let (slender, artificial) = cells.stretching(viscosities, j);
        let (capillary, g, factor, [by_a, by_rate]) =
            with_foot::<STEEP>(&parabola, slender, cells.sheared[j], (viscosities[0], triple.a, du * inv_d));
        foot[j] = factor;
        let trouton = slender * factor;
        tension[j] = capillary + trouton + artificial;
        let by_d = 2.0 * trouton + artificial + by_a * triple.a + by_rate * du * inv_d;
        hl[j] = g[0] * p.c0[0] + g[1] * p.c1[0] + g[2] * p.c2[0];
        hc[j] = g[0] * p.c0[1] + g[1] * p.c1[1] + g[2] * p.c2[1] - by_d * inv_d;
        hr[j] = g[0] * p.c0[2] + g[1] * p.c1[2] + g[2] * p.c2[2];
        let closing = if du < 0.0 { du } else { 0.0 };
        let stiffness = 3.0 * viscosities[0] * factor * inv_d - 2.0 * viscosities[1] * closing;
        eta[j] = (stiffness * cells.v[j] + by_rate) * inv_d;
    }
}

/// Capillary tension, its gradient by (c0, c1, c2) with that of the viscous tension, the latter over `slender`, and its derivatives by a
/// alone and by u_z through f.
#[inline(always)]
fn with_foot<const STEEP: bool>(
    parabola: &Parabola,
    slender: f64,
    sheared: f64,
    (ohnesorge, a, rate): (f64, f64, f64),
) -> (f64, [f64; 3], f64, [f64; 2]) {
    let (capillary, g) = parabola.tension_and_gradient();
    if !STEEP {
        return (capillary, g, 1.0, [0.0; 2]);
    }
    let found = foot::resistance_and_slopes(ohnesorge, (sheared, a, rate), parabola.coefficients());
    let g = std::array::from_fn(|k| g[k] + slender * found.by[k]);
    (capillary, g, found.f, [slender * found.by_a, slender * found.by_rate])
}

/// Derivatives of the first tensions by the volumes of the left, own and right cell.
#[multiversion(targets("x86_64+avx2"))]
fn by_volumes<const STEEP: bool>(
    [ohnesorge, artificial]: [f64; 2],
    cells: &Cells,
    gl: &mut [f64],
    gc: &mut [f64],
    gr: &mut [f64],
) {
    let n = gl.len();
    let cells = cells.of(n);
    let (gl, gc, gr) = (&mut gl[..n], &mut gc[..n], &mut gr[..n]);
    for j in 0..n {
        let triple = cells.triple(j);
        let parabola = triple.parabola();
        let inverse = [cells.inv_d[0][j], cells.inv_d[1][j], cells.inv_d[2][j]];
        let p = triple.partials_by_volume(&parabola, inverse);
        let (slender, artificial) = cells.stretching([ohnesorge, artificial], j);
        let rate = (cells.u[1][j] - cells.u[0][j]) * cells.inv_d[1][j];
        let (_, g, factor, [by_a, _]) =
            with_foot::<STEEP>(&parabola, slender, cells.sheared[j], (ohnesorge, triple.a, rate));
        let trouton = slender * factor;
        gl[j] = g[0] * p.c0[0] + g[1] * p.c1[0] + g[2] * p.c2[0];
        gc[j] =
            g[0] * p.c0[1] + g[1] * p.c1[1] + g[2] * p.c2[1] + (trouton + artificial + by_a * triple.a) / cells.v[j];
        gr[j] = g[0] * p.c0[2] + g[1] * p.c1[2] + g[2] * p.c2[2];
    }
}

/// The slopes of f in all cells at the state of the last `geometry`, into `work.steep`.
fn slopes_of_foot(ohnesorge: f64, body: &Body, u: &[f64], work: &mut Work) {
    let n = body.v.len();
    let Work { d, inv_d, a, v, sheared, steep, follow, .. } = work;
    steep.resize(n);
    let cells = Cells::new([d, inv_d, a], v, sheared, u);
    let foot::Slopes { by_share, by_difference, by_length: [hl, hc, hr], by_volume: [gl, gc, gr] } = steep;
    let counted = if follow.flowing { n } else { n.min(2) };
    by_lengths_of_foot(ohnesorge, &cells, [by_share, by_difference], hl, hc, hr);
    by_volumes_of_foot(ohnesorge, &cells, &mut gl[..counted], &mut gc[..counted], &mut gr[..counted]);
    for by in [&mut *gl, &mut *gc, &mut *gr] {
        by[counted..].fill(0.0);
    }
    for [outward, own, inward] in [[hl, hc, hr], [gl, gc, gr]] {
        fold(body.left, &mut outward[0], &mut own[0]);
        fold(body.right, &mut inward[n - 1], &mut own[n - 1]);
    }
}

#[multiversion(targets("x86_64+avx2"))]
fn by_lengths_of_foot(
    ohnesorge: f64,
    cells: &Cells,
    [by_share, by_difference]: [&mut [f64]; 2],
    hl: &mut [f64],
    hc: &mut [f64],
    hr: &mut [f64],
) {
    let n = cells.v.len();
    let cells = cells.of(n);
    let (by_share, by_difference) = (&mut by_share[..n], &mut by_difference[..n]);
    let (hl, hc, hr) = (&mut hl[..n], &mut hc[..n], &mut hr[..n]);
    for j in 0..n {
        let (found, parabola, rate, inverse) = cells.steep(ohnesorge, j);
        let triple = cells.triple(j);
        let p = triple.partials(&parabola, inverse);
        let g = found.by;
        by_share[j] = found.by_share;
        by_difference[j] = found.by_rate * inverse[1];
        hl[j] = g[0] * p.c0[0] + g[1] * p.c1[0] + g[2] * p.c2[0];
        hc[j] = g[0] * p.c0[1] + g[1] * p.c1[1] + g[2] * p.c2[1]
            - (found.by_a * triple.a + found.by_rate * rate) * inverse[1];
        hr[j] = g[0] * p.c0[2] + g[1] * p.c1[2] + g[2] * p.c2[2];
    }
}

#[multiversion(targets("x86_64+avx2"))]
fn by_volumes_of_foot(ohnesorge: f64, cells: &Cells, gl: &mut [f64], gc: &mut [f64], gr: &mut [f64]) {
    let n = gl.len();
    let cells = cells.of(n);
    let (gl, gc, gr) = (&mut gl[..n], &mut gc[..n], &mut gr[..n]);
    for j in 0..n {
        let (found, parabola, _, inverse) = cells.steep(ohnesorge, j);
        let p = cells.triple(j).partials_by_volume(&parabola, inverse);
        let g = found.by;
        gl[j] = g[0] * p.c0[0] + g[1] * p.c1[0] + g[2] * p.c2[0];
        gc[j] = g[0] * p.c0[1] + g[1] * p.c1[1] + g[2] * p.c2[1] + found.by_a * inverse[1] * (1.0 / PI);
        gr[j] = g[0] * p.c0[2] + g[1] * p.c1[2] + g[2] * p.c2[2];
    }
}

/// Power dissipated by the inner viscosity and by the artificial one, at the state of the last forces.
pub fn dissipation(physics: &Physics, u: &[f64], work: &Work) -> [f64; 2] {
    let n = work.v.len();
    let cells = Cells::new([&work.d, &work.inv_d, &work.a], &work.v, &work.sheared, u).of(n);
    let foot = &work.foot[..n];
    let [ohnesorge, artificial] = work.viscosities(physics);
    let of_cell = |j: usize| {
        let (du, (trouton, artificial)) = (cells.u[1][j] - cells.u[0][j], cells.stretching([ohnesorge, artificial], j));
        (trouton * foot[j] * du, artificial * du)
    };
    let (inner, artificial) = lanes(n, (0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1), of_cell);
    [inner, artificial]
}

/// A mirrored neighbour moves with the cell; a known end value does not move.
fn fold(end: End, outward: &mut f64, own: &mut f64) {
    if end.mirrors() {
        *own += *outward;
    }
    *outward = 0.0;
}
