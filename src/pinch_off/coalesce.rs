//! Joining two bodies whose ends have met.
//!
//! Equation: what lies beyond a node of the first body and before a node of the second becomes a bridge of uniform
//! cross-section between them, of the same volume and momentum; the nodes are taken far enough back that the bridge is
//! thicker than a neck that would be cut at once.
//! Source: ours; the film between the bodies is taken to drain at once, which surfactants can prevent (hence off by default).
//! Holds for: bodies on one axis, ordered in z.

use crate::thread::body::{Body, End};
use crate::thread::chains::{longest, shorten};
use crate::thread::laden::{areas, refitted};
use std::f64::consts::PI;

/// Cells of the bridge.
const BRIDGE_CELLS: usize = 6;
/// Radius of the bridge in units of the cut radius, at least.
const BRIDGE_IN_CUTS: f64 = 3.0;

/// The two bodies as one, the second after the first; `None` where no bridge thick enough can be made.
pub fn join(first: &Body, second: &Body, cut: f64) -> Option<Body> {
    if first.right != End::Tip || second.left != End::Tip {
        return None;
    }
    let least = (BRIDGE_IN_CUTS * cut).powi(2);
    let (mut i, mut k) = (first.cells() - 1, 1);
    let (mut volume, mut momentum) = (last(first, i), head(second, k));
    loop {
        let length = second.z[k] - first.z[i];
        let (v, p) = (volume.0 + momentum.0, volume.1 + momentum.1);
        if length > 0.0 && v > least * PI * length {
            return Some(bridge(first, second, i, k, (v, p)));
        }
        if i <= 1 + usize::from(first.left.is_fixed()) || k + 1 >= second.cells() {
            return None;
        }
        (i, k) = (i - 1, k + 1);
        (volume, momentum) = (last(first, i), head(second, k));
    }
}

/// Volume and momentum of a body beyond node `i`.
fn last(body: &Body, i: usize) -> (f64, f64) {
    sum(body, i..body.cells())
}

/// Volume and momentum of a body before node `k`.
fn head(body: &Body, k: usize) -> (f64, f64) {
    sum(body, 0..k)
}

fn sum(body: &Body, cells: std::ops::Range<usize>) -> (f64, f64) {
    cells.fold((0.0, 0.0), |(v, p), j| (v + body.v[j], p + 0.5 * body.v[j] * (body.u[j] + body.u[j + 1])))
}

fn bridge(first: &Body, second: &Body, i: usize, k: usize, (volume, momentum): (f64, f64)) -> Body {
    let mut joined = first.clone();
    joined.right = second.right;
    joined.time = first.time.max(second.time);
    joined.flagged |= second.flagged;
    joined.last_powers = None;
    joined.dt = 0.1 * first.dt.min(second.dt);
    joined.z.truncate(i + 1);
    joined.u.truncate(i + 1);
    joined.v.truncate(i);
    let (z0, z1) = (first.z[i], second.z[k]);
    let (u0, u1) = (first.u[i], second.u[k]);
    for n in 1..=BRIDGE_CELLS {
        let share = n as f64 / BRIDGE_CELLS as f64;
        joined.v.push(volume / BRIDGE_CELLS as f64);
        joined.z.push(z0 + share * (z1 - z0));
        joined.u.push(u0 + share * (u1 - u0));
    }
    // the inner nodes of the bridge carry what the straight line leaves of the momentum
    let defect = momentum - volume * 0.5 * (u0 + u1);
    let inner = volume * (BRIDGE_CELLS - 1) as f64 / BRIDGE_CELLS as f64;
    for u in &mut joined.u[i + 1..i + BRIDGE_CELLS] {
        *u += defect / inner;
    }
    joined.z.extend(&second.z[k + 1..]);
    joined.u.extend(&second.u[k + 1..]);
    joined.v.extend(&second.v[k..]);
    if !first.load.is_empty() {
        let volumes: Vec<f64> = first.v.iter().chain(&second.v).copied().collect();
        let of = |body: &Body| areas(body).unwrap_or_else(|| body.v.clone());
        let surfaces: Vec<f64> = of(first).into_iter().chain(of(second)).collect();
        let load = first.load.clone().followed_by(&second.load);
        let replaced = first.cells() - i + k;
        let most = longest(first).max(longest(second));
        joined.load = refitted(&load, &surfaces, [i, replaced, BRIDGE_CELLS], [&volumes, &joined.v]);
        let radii: Vec<f64> = (0..joined.cells()).map(|j| joined.area(j)).collect();
        shorten(&mut joined.load, most, |j| radii[j]);
    }
    joined
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn joining_keeps_volume_and_momentum() {
        let sphere = |centre: f64, u: f64| {
            let z = (0..=40).map(|i| centre - 1.0 + f64::from(i) / 20.0).collect();
            Body::from_profile(z, End::Tip, End::Tip, move |z| 1.0 - (z - centre) * (z - centre), move |_| u)
        };
        let (a, b) = (sphere(0.0, 0.3), sphere(1.99, -0.1));
        let one = join(&a, &b, 0.01).expect("a bridge");
        assert_relative_eq!(one.volume(), a.volume() + b.volume(), max_relative = 1e-14);
        assert_relative_eq!(one.momentum(), a.momentum() + b.momentum(), max_relative = 1e-12);
        assert!(one.z.windows(2).all(|w| w[1] > w[0]) && one.v.iter().all(|v| *v > 0.0));
    }
}
