//! Redistribution of the nodes of a whole body.
//!
//! Equation: nodes stand at equal steps of I(z) = integral of dz/s, with 1/s linear between nodes.
//! Volume is kept to round-off, momentum exactly up to the spread of its defect; splitting and merging single cells was
//! refused because it excites waves (2.5 times the steps).

use super::size::{Fineness, wanted};
use super::transfer::Source;
use crate::thread::body::{Body, End};
use crate::thread::laden::on_nodes;
use crate::thread::outer::profile::Wall;
use crate::tolerances::{REGRID_EXCESS, REGRID_STRETCH, REGRID_STRETCH_FILLING, REGRID_STRETCH_FIRST};

/// Fewest cells of a body.
pub const CELLS_MIN: usize = 10;

/// True if some cell is too long for its place or there are many more cells than needed. `s` receives the wanted sizes.
pub fn is_due(body: &Body, fineness: &Fineness, wall: &Wall, s: &mut Vec<f64>) -> bool {
    wanted(body, fineness, wall, s);
    let mut needed = 0.0;
    let mut stretched = false;
    for (j, s) in s.iter().enumerate() {
        let ratio = (body.z[j + 1] - body.z[j]) / s;
        needed += ratio;
        let allowed = match (j, body.left, body.filling) {
            _ if body.follows => REGRID_STRETCH,
            (0, End::Nozzle, true) => REGRID_STRETCH_FILLING,
            (0, End::Nozzle, false) => REGRID_STRETCH_FIRST,
            _ => REGRID_STRETCH,
        };
        stretched |= ratio > allowed;
    }
    stretched || body.cells() as f64 > (REGRID_EXCESS * needed + 2.0).max(CELLS_MIN as f64)
}

/// New nodes by the wanted sizes `s`; volumes and velocities carried over.
pub fn regrid(body: &mut Body, s: &[f64]) {
    let nodes = equidistribute(body, s);
    let mut next = carry(body, &nodes, false);
    if !next.v.iter().all(|v| *v > 0.0) {
        next = carry(body, &nodes, true);
    }
    let (fixed_left, fixed_right) = (body.left.is_fixed(), body.right.is_fixed());
    let defect = body.momentum() - next.momentum();
    let n = next.cells();
    let pinned = if fixed_left { 0.5 * next.v[0] } else { 0.0 } + if fixed_right { 0.5 * next.v[n - 1] } else { 0.0 };
    let shift = defect / (next.volume() - pinned);
    let free = usize::from(fixed_left)..(n + 1 - usize::from(fixed_right));
    for u in &mut next.u[free] {
        *u += shift;
    }
    if !body.load.is_empty() {
        body.load = on_nodes(body, &next.z, &next.v);
    }
    (body.z, body.u, body.v) = (next.z, next.u, next.v);
    body.last_powers = None;
}

/// Places of the new nodes, ends kept.
fn equidistribute(body: &Body, s: &[f64]) -> Vec<f64> {
    let n = body.cells();
    // density at nodes, and its integral over each cell
    let mut density = Vec::with_capacity(n + 1);
    density.push(1.0 / s[0]);
    density.extend((1..n).map(|i| 0.5 * (1.0 / s[i - 1] + 1.0 / s[i])));
    density.push(1.0 / s[n - 1]);
    let share = |j: usize| 0.5 * (density[j] + density[j + 1]) * (body.z[j + 1] - body.z[j]);
    let total: f64 = (0..n).map(share).sum();
    let cells = (total.ceil() as usize).max(CELLS_MIN);
    let step = total / cells as f64;
    let mut nodes = Vec::with_capacity(cells + 1);
    nodes.push(body.z[0]);
    let (mut j, mut passed) = (0, 0.0);
    for k in 1..cells {
        let goal = step * k as f64;
        while j + 1 < n && passed + share(j) < goal {
            passed += share(j);
            j += 1;
        }
        let d = body.z[j + 1] - body.z[j];
        let (p, q) = (density[j], density[j + 1]);
        // p x + (q - p) x^2/(2 d) = goal - passed, solved without cancellation
        let rest = (goal - passed).max(0.0);
        let x = 2.0 * rest / (p + (p * p + 2.0 * (q - p) / d * rest).max(0.0).sqrt());
        nodes.push(body.z[j] + x.clamp(0.0, d));
    }
    nodes.push(body.z[n]);
    nodes
}

/// The body on other nodes between the same ends, without what it carries; `monotone` where a cell would come out empty.
pub fn carry(body: &Body, nodes: &[f64], monotone: bool) -> Body {
    let source = Source::new(body, monotone);
    let n = body.cells();
    let mut next = Body {
        z: nodes.to_vec(),
        u: Vec::with_capacity(nodes.len()),
        v: Vec::with_capacity(nodes.len()),
        ..body.without_nodes()
    };
    let (mut j, mut offset) = (0, 0.0);
    next.u.push(body.u[0]);
    for (k, &x) in nodes.iter().enumerate().skip(1) {
        let mut volume = 0.0;
        while j + 1 < n && body.z[j + 1] < x {
            volume += body.v[j] - offset;
            offset = 0.0;
            j += 1;
        }
        let last = k + 1 == nodes.len();
        let (here, u) = if last { (body.v[j], body.u[n]) } else { source.read(j, x) };
        volume += here - offset;
        offset = here;
        next.v.push(volume);
        next.u.push(u);
    }
    next
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::thread::body::End;
    use approx::assert_relative_eq;

    fn fineness(c: f64) -> Fineness {
        Fineness { c, neck_cut: 1e-2, ohnesorge: 0.1, longest: 100.0 }
    }

    fn drop_like(cells: usize) -> Body {
        let z = (0..=cells).map(|i| 2.0 * i as f64 / cells as f64).collect();
        Body::from_profile(z, End::Tip, End::Tip, |z| z * (2.0 - z), |z| 0.3 * z)
    }

    #[test]
    fn theory_a_sphere_stays_a_sphere_and_keeps_volume_and_momentum() {
        let mut body = drop_like(60);
        let (volume, momentum) = (body.volume(), body.momentum());
        let mut s = Vec::new();
        wanted(&body, &fineness(0.1), &Wall::Unbounded, &mut s);
        regrid(&mut body, &s);
        assert_relative_eq!(body.volume(), volume, max_relative = 1e-14);
        assert_relative_eq!(body.momentum(), momentum, max_relative = 1e-13);
        for j in 0..body.cells() {
            let exact = Body::from_profile(body.z.clone(), End::Tip, End::Tip, |z| z * (2.0 - z), |_| 0.0).v[j];
            assert_relative_eq!(body.v[j], exact, max_relative = 1e-9);
        }
    }

    #[test]
    fn a_fine_body_is_thinned_and_then_left_alone() {
        let mut body = drop_like(900);
        let mut s = Vec::new();
        assert!(is_due(&body, &fineness(0.1), &Wall::Unbounded, &mut s));
        regrid(&mut body, &s);
        assert!(body.cells() < 120, "{}", body.cells());
        assert!(!is_due(&body, &fineness(0.1), &Wall::Unbounded, &mut s));
    }
}
