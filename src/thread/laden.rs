//! Forces of cells whose liquid thins and whose surface carries a surfactant, and how what a surface carries changes at the end of a step
//! (a polymer: [`super::polymer`]).
//!
//! Equation: tensions of [`super::rheology`] in place of the plain ones of [`super::force`], with their derivatives by lengths, volumes and
//! velocities.
//! Symbols: see [`super::rheology`].
//! Source: differentiation by hand, tested against differences.
//! Holds for: surfaces that go with the liquid or, where the mesh follows the shape of a filling drop, with the mesh.

use super::adsorption::Pending;
use super::body::{Body, End};
use super::cells::{Partials, Triple};
use super::chains::{longest, shorten};
use super::foot::OfCell;
use super::force::Work;
use super::load::{Law, Load, Remap};
use super::polymer::PolymerWork;
use super::rheology::{Polymer, Rheology, girth};
use super::surfactant::{Surfactant, diffuse};
use std::f64::consts::PI;
use std::ops::Range;

/// Surface per volume of thread that enters at the nozzle: a cylinder of its radius. It enters where the surface goes with the liquid;
/// where the mesh follows the shape of a filling drop its surface does too, and nothing enters past the contact line.
const ENTERING: f64 = 2.0;

/// What the cells carry during a step, and its stages.
#[derive(Debug, Clone, Default)]
pub struct LadenWork {
    /// g of every cell at the last evaluation ...
    pub tensions: Vec<f64>,
    /// ... and at the first of the step.
    first: Vec<f64>,
    /// Surfaces at the start of the step, and what a dissolved surfactant will bring to them.
    areas: Vec<f64>,
    pending: Vec<Pending>,
    /// Whether surfaces are to be seen as they are before the step has brought anything.
    before: bool,
}

/// Add what the plain tensions lack, at the state of the last `geometry`; with `DERIVATIVES` also to `work.h`, `work.eta` and,
/// for the first two cells, `work.g` (but those of a polymer, [`PolymerWork::eliminate`]).
pub fn add_tensions<const DERIVATIVES: bool>(
    rheology: &Rheology,
    ohnesorge: f64,
    body: &Body,
    u: &[f64],
    work: &mut Work,
) {
    if let Some(polymer) = &rheology.polymer {
        PolymerWork::add_tensions(polymer, polymer.modulus(ohnesorge), body, u, work);
    }
    let mut laden = std::mem::take(&mut work.laden);
    if rheology.thinning.is_some() || rheology.polymer.is_some() {
        add_viscous::<DERIVATIVES>(rheology, ohnesorge, u, work);
    }
    if let Some(surfactant) = &rheology.surfactant {
        laden.add_monolayers::<DERIVATIVES>(surfactant, body, work);
    }
    work.laden = laden;
}

/// Surface per volume that enters with the first cell's new volume.
fn fresh(body: &Body, work: &Work, j: usize) -> f64 {
    if j == 0 && body.left == End::Nozzle && !work.follow.flowing { ENTERING } else { 0.0 }
}

/// Viscous tension beyond that of the plain liquid.
fn add_viscous<const DERIVATIVES: bool>(rheology: &Rheology, ohnesorge: f64, u: &[f64], work: &mut Work) {
    for j in 0..work.v.len() {
        let (v, inv_d, du) = (work.v[j], work.inv_d[j + 1], u[j + 1] - u[j]);
        let slender = 3.0 * ohnesorge * v * inv_d * inv_d;
        let stiffness = slender * work.foot[j];
        let trouton = stiffness * du;
        let (m, slope) = rheology.thinned(du * inv_d);
        work.tension[j] += trouton * (m - 1.0);
        if DERIVATIVES {
            work.h[1][j] -= trouton * inv_d * (2.0 * (m - 1.0) + slope);
            work.eta[j] += stiffness * (m - 1.0 + slope);
            let (by, moved) = (OfCell::at(&work.steep.sides(), j), slender * du * (m - 1.0));
            work.eta[j] += moved * by.by_difference;
            (0..3).for_each(|k| work.h[k][j] += moved * by.by_length[k]);
            if j < 2 || work.follow.flowing {
                work.g[1][j] += trouton * (m - 1.0) / v;
                (0..3).for_each(|k| work.g[k][j] += moved * by.by_volume[k]);
            }
        }
    }
}

/// Derivatives by the left, own and right cell: a mirrored neighbour moves with the cell, a known end value does not move.
fn add_sides(body: &Body, j: usize, [left, own, right]: [f64; 3], to: &mut [Vec<f64>; 3]) {
    to[1][j] += own;
    if j > 0 {
        to[0][j] += left;
    } else if body.left.mirrors() {
        to[1][j] += left;
    }
    if j + 1 < body.cells() {
        to[2][j] += right;
    } else if body.right.mirrors() {
        to[1][j] += right;
    }
}

fn around(work: &Work, j: usize) -> Triple {
    Triple::around(&work.d, &work.a, j)
}

/// Power dissipated by the inner liquid, by its viscosity and by the polymer's relaxation, at the last evaluation; and what a polymer whose
/// liquid lags behind its surface draws from the nozzle.
pub fn dissipation(rheology: &Rheology, ohnesorge: f64, body: &Body, u: &[f64], work: &Work) -> (f64, f64) {
    let of = |j: usize| {
        let rate = (u[j + 1] - u[j]) * work.inv_d[j + 1];
        work.v[j] * 3.0 * ohnesorge * work.foot[j] * rate * rate * rheology.thinned(rate).0
    };
    let viscous: f64 = (0..work.v.len()).map(of).sum();
    let polymer = rheology.polymer.map(|p| work.polymer.powers(&p, p.modulus(ohnesorge), body, u, work));
    polymer.map_or((viscous, 0.0), |(lost, drawn)| (viscous + lost, drawn))
}

/// Power that gradients of tension give to the liquid beyond what the surface's free energy pays. A surface whose energy is all that
/// acts pulls with `pi [g F + g' h^2 h'/S]`, its second part being work on the radial motion that a long thread leaves out; and where
/// the mesh follows the shape the surface goes with it, not with the liquid: 2 pi h S g' (1 - theta) u.
pub fn slip(rheology: &Rheology, u: &[f64], work: &Work) -> f64 {
    let (tensions, moves) = (&work.laden.tensions, &work.follow.moves[1..]);
    if rheology.surfactant.is_none() {
        return 0.0;
    }
    let n = tensions.len();
    let slopes = (0..n).map(|j| {
        let triple = around(work, j);
        let (s, p) = (girth(&triple).0, triple.parabola());
        // an end has no neighbour beyond: a mirrored one is the cell itself
        let (before, after) = (tensions[j.saturating_sub(1)], tensions[(j + 1).min(n - 1)]);
        let sides = if j > 0 { triple.dl } else { triple.d } + if j + 1 < n { triple.dr } else { triple.d };
        let gradient = (after - before) / (0.5 * sides + triple.d);
        PI * gradient * p.c0 * 0.5 * p.c1 / s * (u[j + 1] - u[j])
    });
    let radial: f64 = slopes.sum();
    if !work.follow.flowing {
        return radial;
    }
    let of = |i: usize| {
        let (before, after) = (girth(&around(work, i - 1)).0, girth(&around(work, i)).0);
        PI * (before + after) * (tensions[i] - tensions[i - 1]) * (1.0 - moves[i]) * u[i]
    };
    radial + (1..n).map(of).sum::<f64>()
}

/// g at the nozzle, and what surface that enters brings of its own free energy, per volume of liquid. The variation of the surface's
/// energy has g' h'/S beside g K there; what [`slip`] leaves at the nozzle when its radial part is integrated by parts takes that away.
/// g is even within a cell in both, so that here it is that of the first.
pub fn entering(rheology: &Rheology, work: &Work) -> (f64, f64) {
    let (Some(surfactant), Some(&first)) = (rheology.surfactant, work.laden.tensions.first()) else {
        return (1.0, 0.0);
    };
    let brought =
        if work.follow.flowing { 0.0 } else { ENTERING * surfactant.potential(1.0 / girth(&around(work, 0)).0) };
    (first, brought)
}

/// Energy that some cells' polymer stores, and free energy of their surface with surfactant beyond that of a clean one.
pub fn stored(body: &Body, cells: Range<usize>) -> f64 {
    let Some(Law { rheology, ohnesorge }) = body.load.law else { return 0.0 };
    let mut sum = 0.0;
    if let Some(polymer) = rheology.polymer {
        let modulus = polymer.modulus(ohnesorge);
        let state = &body.load.state;
        let of = |j: usize| body.v[j] * polymer.energy(modulus, body.area(j), [state[0][j], state[1][j]]).0;
        sum += cells.clone().map(of).sum::<f64>();
    }
    if let Some(surfactant) = rheology.surfactant
        && let Some(areas) = areas(body)
    {
        sum += cells.map(|j| surfactant.energy(areas[j], body.load.amount[j]) - areas[j]).sum::<f64>();
    }
    sum
}

/// Surface of every cell; `None` where nodes have crossed.
pub fn areas(body: &Body) -> Option<Vec<f64>> {
    let mut work = Work { v: body.v.clone(), ..Work::default() };
    work.geometry(body, &body.z).ok()?;
    Some((0..body.cells()).map(|j| area(&work, j)).collect())
}

/// Surface of a cell.
fn area(work: &Work, j: usize) -> f64 {
    let triple = around(work, j);
    2.0 * PI * triple.d * girth(&triple).0
}

/// What a body at rest in equilibrium with its surroundings carries.
pub fn at_rest(law: Law, body: &Body) -> Load {
    let mut load = Load { law: Some(law), ..Load::default() };
    if law.rheology.polymer.is_some() {
        for j in 0..body.cells() {
            let [x, y] = Polymer::at_rest(body.area(j));
            load.state[0].push(x);
            load.state[1].push(y);
        }
    }
    if let Some(surfactant) = law.rheology.surfactant {
        let area = areas(body).unwrap_or_else(|| vec![0.0; body.cells()]);
        let empty = vec![0.0; body.cells()];
        match surfactant.exchange {
            // a surface that has just been made
            Some(exchange) => {
                load.memory = vec![empty.clone(); exchange.modes()];
                load.memory.extend([area, empty.clone()]);
                load.amount = empty;
            }
            None => load.amount = area,
        }
    }
    load
}

/// The load of a body on new nodes between the same ends, `volumes` those of the new cells.
pub fn on_nodes(body: &Body, nodes: &[f64], volumes: &[f64]) -> Load {
    let volumes = [&body.v[..], volumes];
    let surfaces = if body.load.amount.is_empty() { Default::default() } else { surfaces_on(body, nodes) };
    let mut load = body.load.carried(&Remap { volumes, surfaces: [&surfaces[0], &surfaces[1]] });
    let area = |j: usize| volumes[1][j] / (PI * (nodes[j + 1] - nodes[j]));
    shorten(&mut load, longest(body), area);
    load
}

/// The load of cells of which those from `first` on, `replaced` of them, have become `made` new ones of equal surface; `areas` are
/// those of the old cells, `volumes` the volumes before and after.
pub fn refitted(load: &Load, areas: &[f64], [first, replaced, made]: [usize; 3], volumes: [&[f64]; 2]) -> Load {
    if load.amount.is_empty() {
        return load.carried(&Remap { volumes, surfaces: [&[], &[]] });
    }
    let share = areas[first..first + replaced].iter().sum::<f64>() / made as f64;
    let mut after = areas[..first].to_vec();
    after.extend(std::iter::repeat_n(share, made));
    after.extend(&areas[first + replaced..]);
    load.carried(&Remap { volumes, surfaces: [areas, &after] })
}

/// Surface of the old cells, and how much of it lies between new nodes: within a cell it changes linearly, as on a cone; on a
/// cylinder and on a sphere it is even.
fn surfaces_on(body: &Body, nodes: &[f64]) -> [Vec<f64>; 2] {
    let n = body.cells();
    let mut work = Work { v: body.v.clone(), ..Work::default() };
    if work.geometry(body, &body.z).is_err() {
        return [body.v.clone(), body.v.clone()];
    }
    let edges = |j: usize| {
        let triple = around(&work, j);
        let p = triple.parabola();
        let girth = |x: f64| (p.at(x) + 0.25 * (p.c1 + 2.0 * p.c2 * x).powi(2)).max(0.0).sqrt();
        let (left, right) = (girth(-0.5 * triple.d), girth(0.5 * triple.d));
        // written so that a NaN is even
        if left + right > 0.0 { (left, right) } else { (1.0, 1.0) }
    };
    let whole = |j: usize, (l, r): (f64, f64)| PI * (l + r) * (body.z[j + 1] - body.z[j]);
    let upto = |j: usize, z: f64, (l, r): (f64, f64)| {
        let (d, x) = (body.z[j + 1] - body.z[j], z - body.z[j]);
        PI * x * (2.0 * l + (r - l) * x / d)
    };
    let before: Vec<f64> = (0..n).map(|j| whole(j, edges(j))).collect();
    let mut after = Vec::with_capacity(nodes.len() - 1);
    let (mut j, mut given) = (0, 0.0);
    for (k, &z) in nodes.iter().enumerate().skip(1) {
        let mut sum = 0.0;
        while j + 1 < n && body.z[j + 1] < z {
            sum += before[j] - given;
            given = 0.0;
            j += 1;
        }
        let here = if k + 1 == nodes.len() { before[j] } else { upto(j, z, edges(j)).clamp(given, before[j]) };
        after.push(sum + here - given);
        given = here;
    }
    [before, after]
}

/// What a surface is like: mean tension, coverage and age over some cells.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Seen {
    /// g.
    pub tension: f64,
    /// Gamma.
    pub amount: f64,
    /// 0 where it is not kept.
    pub age: f64,
}

/// The surface of some cells; `None` where there is no surfactant.
pub fn seen(body: &Body, cells: Range<usize>) -> Option<Seen> {
    let surfactant = body.load.law?.rheology.surfactant?;
    let areas = areas(body)?;
    let area: f64 = areas[cells.clone()].iter().sum();
    let pull = |j: usize| areas[j] * surfactant.monolayer(body.load.amount[j] / areas[j]).tension;
    let part = body.load.part(cells.clone(), 1.0, 1.0);
    Some(Seen {
        tension: cells.map(pull).sum::<f64>() / area,
        amount: part.total_amount() / area,
        age: part.age().unwrap_or(0.0),
    })
}

/// Whether the surface of some cell is packed with surfactant.
pub fn is_packed(body: &Body) -> bool {
    let Some(surfactant) = body.load.law.and_then(|law| law.rheology.surfactant) else { return false };
    let packed =
        |areas: Vec<f64>| areas.iter().zip(&body.load.amount).any(|(area, held)| surfactant.is_packed(held / area));
    areas(body).is_some_and(packed)
}

impl LadenWork {
    /// Surfaces at the start of a step of `dt`, from the work's geometry.
    pub fn begin_surfaces(rheology: &Rheology, body: &Body, work: &mut Work, dt: f64) {
        let Some(surfactant) = &rheology.surfactant else { return };
        let mut laden = std::mem::take(&mut work.laden);
        laden.areas.clear();
        laden.areas.extend((0..body.cells()).map(|j| area(work, j)));
        if let Some(exchange) = &surfactant.exchange {
            exchange.prepare(body, laden.areas.iter().copied(), dt, &mut laden.pending);
        }
        work.laden = laden;
    }

    /// Tension is steady in time, but the forces of a step have at its start that to which adsorption brings it by its end: of velocities
    /// that are in balance with the old one they would make a power that nothing takes up. So the budget's start has the old one.
    /// `evaluate` makes forces, `seen` reads them; forces and tensions are left as they were.
    pub fn before_adsorption<T>(
        rheology: &Rheology,
        work: &mut Work,
        mut evaluate: impl FnMut(&mut Work),
        seen: impl Fn(&Work) -> T,
    ) -> Option<T> {
        rheology.surfactant.filter(|s| s.exchange.is_some())?;
        let used = (work.force.clone(), work.tension.clone(), work.laden.tensions.clone());
        work.laden.before = true;
        evaluate(work);
        work.laden.before = false;
        let found = seen(work);
        let tensions = std::mem::replace(&mut work.laden.tensions, used.2);
        work.laden.first = tensions;
        (work.force, work.tension) = (used.0, used.1);
        Some(found)
    }

    /// Start of a step.
    pub fn begin(&mut self) {
        self.first.clear();
    }

    /// Tension of the surfaces beyond the plain one: g F in place of F, the whole axial force through a section.
    fn add_monolayers<const DERIVATIVES: bool>(&mut self, surfactant: &Surfactant, body: &Body, work: &mut Work) {
        let n = body.cells();
        self.tensions.clear();
        for j in 0..n {
            let triple = around(work, j);
            let (s, by_c) = girth(&triple);
            let area = 2.0 * PI * triple.d * s;
            let entering = fresh(body, work, j) * surfactant.entering();
            let held = body.load.amount[j] + entering * (work.v[j] - body.v[j]);
            let (amount, share) = match &surfactant.exchange {
                Some(exchange) if !self.before => exchange.coverage(self.pending[j], area),
                _ => (held / area, 1.0),
            };
            let layer = surfactant.monolayer(amount);
            self.tensions.push(layer.tension);
            if !DERIVATIVES {
                work.tension[j] += (layer.tension - 1.0) * triple.tension();
                continue;
            }
            self.first.push(layer.tension);
            let parabola = triple.parabola();
            let (clean, g) = parabola.tension_and_gradient();
            work.tension[j] += (layer.tension - 1.0) * clean;
            let inverse = [work.inv_d[j], work.inv_d[j + 1], work.inv_d[j + 2]];
            // dg/d ln A
            let elastic = layer.slope * layer.amount * share;
            let thinner = |p: &Partials, k: usize| (by_c[0] * p.c0[k] + by_c[1] * p.c1[k]) / s;
            let by = |p: &Partials, k: usize, more: f64| {
                let own = g[0] * p.c0[k] + g[1] * p.c1[k] + g[2] * p.c2[k];
                (layer.tension - 1.0) * own - clean * elastic * (thinner(p, k) + more)
            };
            let p = triple.partials(&parabola, inverse);
            add_sides(body, j, [by(&p, 0, 0.0), by(&p, 1, inverse[1]), by(&p, 2, 0.0)], &mut work.h);
            if j < 2 || work.follow.flowing {
                let p = triple.partials_by_volume(&parabola, inverse);
                let brought = if entering > 0.0 { -entering / held } else { 0.0 };
                add_sides(body, j, [by(&p, 0, 0.0), by(&p, 1, brought), by(&p, 2, 0.0)], &mut work.g);
            }
        }
    }

    /// End of a step: the surface of what came in through the nozzle, `grown`, joins the first cell if it goes
    /// with the liquid; the surfactant spreads and adsorbs. Returns the free energy that this has lost and the
    /// surfactant that has come. `volumes` are those at the start.
    pub fn finish(
        &mut self,
        rheology: &Rheology,
        body: &mut Body,
        volumes: &[f64],
        dt: f64,
        grown: f64,
        flowing: bool,
    ) -> (f64, f64) {
        let Some(surfactant) = rheology.surfactant else { return (0.0, 0.0) };
        let mut come = 0.0;
        if grown > 0.0 && !flowing {
            come = ENTERING * surfactant.entering() * grown;
            if let Some(amount) = body.load.amount.first_mut() {
                *amount += come;
            }
            // new surface: its modes are empty, its age is nothing
            if let [.., label, _] = &mut body.load.memory[..] {
                label[0] += ENTERING * grown;
            }
        }
        let mut lost = 0.0;
        if surfactant.diffusivity > 0.0 {
            let whole = 0..body.cells();
            let before = stored(body, whole.clone());
            diffuse(surfactant.diffusivity, body, dt);
            lost = before - stored(body, whole);
        }
        if let Some(exchange) = &surfactant.exchange
            && let Some(after) = areas(body)
        {
            // free energy at the start, less that at the end, and what stretching has put into it
            let free = |load: &Load, areas: &[f64]| {
                areas.iter().zip(&load.amount).map(|(area, held)| surfactant.energy(*area, *held)).sum::<f64>()
            };
            let start = free(&body.load, &self.areas);
            come += exchange.adsorb(&mut body.load, volumes, [&self.areas, &after], dt);
            let cells = self.areas.iter().zip(&after).zip(self.first.iter().zip(&body.load.amount));
            let stretched = cells.map(|((before, after), (first, held))| {
                0.5 * (first + surfactant.monolayer(held / after).tension) * (after - before)
            });
            lost += start - free(&body.load, &after) + stretched.sum::<f64>();
        }
        (lost, come)
    }
}
