//! Bodies and drops that meet: with coalescence on they become one.
//!
//! Looked for at the common times of the world, in order along the axis. Two drops become one drop; a drop or filament
//! that meets a body followed in shape is joined to it.

use super::setup::Setup;
use super::world::World;
use crate::drops::detached::{Detached, Sphere};
use crate::math::Pinned as _;
use crate::pinch_off::coalesce::join;
use crate::thread::body::{Body, End};
use crate::thread::energy::energy;
use crate::thread::laden;
use crate::thread::load::Load;

/// Overlap, in units of the cut radius, from which two ends count as met.
const OVERLAP_IN_CUTS: f64 = 0.2;
/// Cells of a sphere that is followed in shape again.
const SPHERE_CELLS: usize = 40;

/// Something on the axis.
#[derive(Debug, Clone, Copy)]
enum Thing {
    Body(usize),
    Sphere(usize),
}

/// Let everything that has met become one.
pub fn coalesce(world: &mut World, setup: &Setup) {
    // each merger shortens one of the lists, so this ends
    while let Some((first, second)) = meeting(world, setup) {
        let merged = match (first, second) {
            (Thing::Sphere(i), Thing::Sphere(k)) => merge_drops(world, i, k),
            (Thing::Body(i), Thing::Body(k)) => merge_bodies(world, setup, i, k),
            (Thing::Body(i), Thing::Sphere(k)) | (Thing::Sphere(k), Thing::Body(i)) => {
                sphere_to_body(world, setup, i, k)
            }
        };
        if !merged {
            return;
        }
        world.counts.coalescences += 1;
    }
}

/// Ends of a thing and their velocities.
fn ends(world: &World, thing: Thing) -> (f64, f64, f64, f64) {
    match thing {
        Thing::Body(k) => {
            let b = &world.bodies[k];
            (b.z[0], b.z[b.cells()], b.u[0], b.u[b.cells()])
        }
        Thing::Sphere(k) => {
            let s = &world.spheres[k];
            (s.position - s.radius(), s.position + s.radius(), s.velocity, s.velocity)
        }
    }
}

/// The first pair of neighbours that overlap and approach.
fn meeting(world: &World, setup: &Setup) -> Option<(Thing, Thing)> {
    let mut things: Vec<Thing> = (0..world.bodies.len()).map(Thing::Body).collect();
    things.extend((0..world.spheres.len()).map(Thing::Sphere));
    let middle = |thing: &Thing| {
        let (lo, hi, ..) = ends(world, *thing);
        lo + hi
    };
    things.sort_by(|a, b| middle(a).total_cmp(&middle(b)));
    let least = OVERLAP_IN_CUTS * setup.numerics.fineness.neck_cut;
    things.windows(2).find_map(|w| {
        let (.., hi, _, u_hi) = ends(world, w[0]);
        let (lo, _, u_lo, _) = ends(world, w[1]);
        (hi - lo > least && u_hi > u_lo).then_some((w[0], w[1]))
    })
}

fn merge_drops(world: &mut World, i: usize, k: usize) -> bool {
    let (a, b) = (world.spheres[i], world.spheres[k]);
    let volume = a.volume + b.volume;
    let mix = |x: f64, y: f64| (a.volume * x + b.volume * y) / volume;
    let (position, velocity) = (mix(a.position, b.position), mix(a.velocity, b.velocity));
    let number = world.drops.len();
    let (one, other) = (&world.drops[a.drop], &world.drops[b.drop]);
    let merged = Detached {
        // the larger one's date: a satellite that catches up does not date the drop anew
        time: if a.volume >= b.volume { one.time } else { other.time },
        volume,
        position,
        velocity,
        merged_from: vec![a.drop, b.drop],
        merged_into: None,
        copies: 1,
        in_domain: one.in_domain + other.in_domain,
        flagged: one.flagged || other.flagged,
        pinch: if a.volume >= b.volume { one.pinch } else { other.pinch },
    };
    for drop in [a.drop, b.drop] {
        world.drops[drop].in_domain = 0.0;
        world.drops[drop].merged_into = Some(number);
    }
    world.drops.push(merged);
    if !world.surfactant.drops.is_empty() {
        let (one, other) = (world.surfactant.take(a.drop), world.surfactant.take(b.drop));
        world.surfactant.keep(number, one.joined(&other));
    }
    world.spheres[i] = Sphere { drop: number, position, velocity, volume, time: a.time };
    world.spheres.remove(k);
    true
}

fn merge_bodies(world: &mut World, setup: &Setup, i: usize, k: usize) -> bool {
    let Some(joined) = join(&world.bodies[i], &world.bodies[k], setup.numerics.fineness.neck_cut) else { return false };
    let bond = setup.physics.bond;
    // what the vanished surface and the impact release is lost to the liquid
    let apart = energy(&world.bodies[i], bond) + energy(&world.bodies[k], bond);
    world.ledger.cuts = world.ledger.cuts + (energy(&joined, bond) - apart);
    // the thread on the nozzle stays first
    let (keep, drop) = (i.min(k), i.max(k));
    let larger = if world.bodies[i].volume() >= world.bodies[k].volume() { i } else { k };
    let Body { born, born_at, parent_pinch, .. } = world.bodies[larger];
    let mut joined = joined;
    if keep != 0 {
        (joined.born, joined.born_at, joined.parent_pinch) = (born, born_at, parent_pinch);
    }
    joined.plain_since = joined.time;
    world.bodies[keep] = joined;
    world.bodies.remove(drop);
    true
}

/// A drop that met a body is followed in shape again, and joined to it.
fn sphere_to_body(world: &mut World, setup: &Setup, body: usize, sphere: usize) -> bool {
    let s = world.spheres[sphere];
    let r = s.radius();
    let z = (0..=SPHERE_CELLS).map(|n| s.position + r * (2.0 * n as f64 / SPHERE_CELLS as f64 - 1.0)).collect();
    let area = |z: f64| r * r - (z - s.position) * (z - s.position);
    let mut round = Body::from_profile(z, End::Tip, End::Tip, area, |_| s.velocity);
    let scale = s.volume / round.volume();
    round.v.iter_mut().for_each(|v| *v *= scale);
    round.time = world.time;
    round.dt = 1e-3 * r.power(1.5);
    round.born = world.drops[s.drop].time;
    round.parent_pinch = world.drops[s.drop].pinch.map_or(0, |p| p as u64 + 1);
    if let Some(law) = setup.law() {
        let surface = world.surfactant.drops.get(s.drop).map(|load| load.spread(SPHERE_CELLS)).unwrap_or_default();
        round.load = Load { state: laden::at_rest(law, &round).state, law: Some(law), ..surface };
    }
    let taken_back = energy(&round, setup.physics.bond);
    world.bodies.push(round);
    let last = world.bodies.len() - 1;
    let (first, second) = if world.bodies[body].z[0] < s.position { (body, last) } else { (last, body) };
    if !merge_bodies(world, setup, first, second) {
        world.bodies.pop();
        return false;
    }
    world.spheres.remove(sphere);
    world.ledger.hand_over(taken_back * -1.0);
    world.surfactant.take(s.drop);
    // it is no drop any more
    world.drops[s.drop].in_domain = 0.0;
    world.drops[s.drop].merged_into = Some(s.drop);
    true
}
