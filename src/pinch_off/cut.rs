//! Cutting a neck and closing both ends with round caps.
//!
//! Equation: the last stretch of about one neck radius, of volume V behind a cross-section pi a_e, becomes the spherical cap
//! of the same volume on the same base, V/pi = a_e l/2 + l^3/6 (l its height), so that it starts as a discrete
//! equilibrium shape; its velocities are linear, with the momentum kept, and its chains are as long as those at its base.
//! Source: geometry of the spherical cap; the choice of the stretch is ours.

use super::neck::Neck;
use crate::math::Pinned as _;
use crate::thread::body::{Body, End};
use crate::thread::laden::{areas, refitted};
use crate::thread::rheology::Polymer;
use std::f64::consts::PI;

/// Cells of a new cap; of a polymer solution it has more where the thread's own are shorter, since a mesh that divides the last of them would
/// spread its conformation evenly over sections that vanish towards the tip.
const CAP_CELLS: usize = 8;
const CAP_CELLS_MOST: usize = 64;
/// By how much the next step is shortened after a cut.
const STEP_AFTER_CUT: f64 = 0.3;

/// Cut at the neck: what stays (with the body's left end) and what comes off (with its right end). A neck in a mirror
/// plane gives one body only.
pub fn cut(body: &Body, neck: &Neck) -> (Body, Option<Body>) {
    let n = body.cells();
    let (j, middle) = (neck.cell, body.middle(neck.cell));
    if j + 1 == n && body.right == End::Symmetry {
        let mut left = Body { right: End::Tip, ..body.clone() };
        shorten_step(&mut left);
        close_right(&mut left);
        return (left, None);
    }
    if j == 0 && body.left == End::Symmetry {
        let mut right = Body { left: End::Tip, ..body.clone() };
        shorten_step(&mut right);
        close_left(&mut right);
        return (right, None);
    }
    let half = 0.5 * body.v[j];
    let speed = 0.5 * (body.u[j] + body.u[j + 1]);
    let mut left = body.without_nodes();
    left.right = End::Tip;
    left.z = body.z[..=j].iter().copied().chain([middle]).collect();
    left.u = body.u[..=j].iter().copied().chain([speed]).collect();
    left.v = body.v[..j].iter().copied().chain([half]).collect();
    left.load = body.load.part(0..j + 1, 1.0, 0.5);
    let mut right = body.without_nodes();
    right.left = End::Tip;
    right.z = [middle].into_iter().chain(body.z[j + 1..].iter().copied()).collect();
    right.u = [speed].into_iter().chain(body.u[j + 1..].iter().copied()).collect();
    right.v = [half].into_iter().chain(body.v[j + 1..].iter().copied()).collect();
    right.load = body.load.part(j..n, 0.5, 1.0);
    for side in [&mut left, &mut right] {
        shorten_step(side);
    }
    close_right(&mut left);
    close_left(&mut right);
    (left, Some(right))
}

/// Give what lies beyond a neck back to the body: the last stretch, with it, becomes one round cap.
pub fn absorb_right(body: &mut Body, neck: &Neck) {
    shorten_step(body);
    // back to where the body is as wide as the bit would be as a sphere: a cap on a thread, not a bead on a hair
    let bit: f64 = body.v[neck.cell..].iter().sum();
    let wide = 0.6 * (0.75 * bit / PI).power(2.0 / 3.0);
    let mut i = neck.cell.saturating_sub(2).max(1);
    while i > 3 && body.area(i - 1) < wide {
        i -= 1;
    }
    close_from(body, i);
}

/// The same at the first node.
pub fn absorb_left(body: &mut Body, neck: &Neck) {
    mirror(body);
    let cell = body.cells() - 1 - neck.cell;
    absorb_right(body, &Neck { cell, ..*neck });
    mirror(body);
}

fn shorten_step(body: &mut Body) {
    body.dt *= STEP_AFTER_CUT;
    body.since_regrid = 0;
    body.last_powers = None;
}

/// Height of the spherical cap of volume pi `w` on a base of squared radius `a`.
fn cap_height(w: f64, a: f64) -> f64 {
    let mut l = w.cube_root() * 1.8171205928321397; // root for a = 0: (6 w)^(1/3)
    for _ in 0..60 {
        let step = (l * (0.5 * a + l * l / 6.0) - w) / (0.5 * (a + l * l));
        l -= step;
        if step.abs() < 1e-15 * l {
            break;
        }
    }
    l
}

/// Replace the last stretch by a round cap.
fn close_right(body: &mut Body) {
    let n = body.cells();
    let end = body.z[n];
    // first node of the stretch: one local radius from the end, and never the whole body
    let mut i = n - 1;
    while i > 2 && end - body.z[i] < body.area(i - 1).sqrt() {
        i -= 1;
    }
    close_from(body, i.max(1.min(n - 1)).max(usize::from(body.left.is_fixed())));
}

/// Replace everything from node `i` on by a round cap.
fn close_from(body: &mut Body, i: usize) {
    let n = body.cells();
    let volume: f64 = body.v[i..].iter().sum();
    let momentum: f64 = (i..n).map(|j| 0.5 * body.v[j] * (body.u[j] + body.u[j + 1])).sum();
    let base = node_area(body, i);
    let l = cap_height(volume / PI, base);
    let radius = (base + l * l) / (2.0 * l);
    let (z0, u0) = (body.z[i], body.u[i]);
    let before =
        if body.load.is_empty() { None } else { Some((body.v.clone(), areas(body).unwrap_or_else(|| body.v.clone()))) };
    let beyond = |s: f64| PI * s * s * (radius - s / 3.0);
    let cells = match i.checked_sub(1) {
        Some(before) if !body.load.state[0].is_empty() => {
            ((l / (z0 - body.z[before])).ceil() as usize).clamp(CAP_CELLS, CAP_CELLS_MOST)
        }
        _ => CAP_CELLS,
    };
    body.z.truncate(i + 1);
    body.u.truncate(i + 1);
    body.v.truncate(i);
    let s = |k: usize| l * (1.0 - k as f64 / cells as f64);
    let (mut moment, mut mass) = (0.0, 0.0);
    for k in 0..cells {
        // differences of an analytic volume; the first takes what round-off leaves so that the sum is exact
        let v = beyond(s(k)) - beyond(s(k + 1));
        body.v.push(v);
        moment += v * (k as f64 + 0.5) / cells as f64;
        mass += v;
        body.z.push(z0 + l * (k + 1) as f64 / cells as f64);
    }
    let first = body.v.len() - cells;
    body.v[first] += volume - mass;
    let rise = (momentum - volume * u0) / moment;
    for k in 1..=cells {
        body.u.push(u0 + rise * k as f64 / cells as f64);
    }
    if let Some((volumes, areas)) = before {
        // cells of a spherical cap of one height have one surface
        body.load = refitted(&body.load, &areas, [i, n - i, cells], [&volumes, &body.v]);
        if !body.load.state[0].is_empty() && i > 0 {
            let [x, y] = [0, 1].map(|k: usize| body.load.state[k][i - 1]);
            let [x_rest, y_rest] = Polymer::at_rest(body.area(i - 1));
            for j in i..body.cells() {
                let [x_own, y_own] = Polymer::at_rest(body.area(j));
                [body.load.state[0][j], body.load.state[1][j]] = [x / x_rest * x_own, y / y_rest * y_own];
            }
        }
    }
}

fn close_left(body: &mut Body) {
    mirror(body);
    close_right(body);
    mirror(body);
}

/// Reflect a body about z = 0.
fn mirror(body: &mut Body) {
    body.z.reverse();
    body.u.reverse();
    body.v.reverse();
    body.load.reverse();
    for x in body.z.iter_mut().chain(&mut body.u) {
        *x = -*x;
    }
    std::mem::swap(&mut body.left, &mut body.right);
}

fn node_area(body: &Body, i: usize) -> f64 {
    if i == 0 {
        return body.area_left();
    }
    let (dl, dr) = (body.z[i] - body.z[i - 1], body.z[i + 1] - body.z[i]);
    (body.area(i - 1) * dr + body.area(i) * dl) / (dl + dr)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pinch_off::neck::thinnest;
    use crate::thread::laden::at_rest;
    use crate::thread::load::Law;
    use crate::thread::rheology::Rheology;
    use approx::assert_relative_eq;

    #[test]
    fn a_cut_keeps_volume_and_momentum_and_leaves_round_ends() {
        let z: Vec<f64> = (0..=400).map(|i| i as f64 / 100.0).collect();
        let area = |z: f64| 1e-4 + (z - 1.8).powi(2) * if z < 1.8 { 0.3 } else { 0.4 };
        let body = Body::from_profile(z, End::Symmetry, End::Symmetry, area, |z| 0.2 * z * (4.0 - z));
        let neck = thinnest(&body).expect("a neck");
        assert_relative_eq!(neck.position, 1.8, epsilon = 0.02);
        let (left, right) = cut(&body, &neck);
        let right = right.expect("two bodies");
        assert_relative_eq!(left.volume() + right.volume(), body.volume(), max_relative = 1e-14);
        assert_relative_eq!(left.momentum() + right.momentum(), body.momentum(), max_relative = 1e-12);
        assert_eq!((left.right, right.left), (End::Tip, End::Tip));
        assert!(left.v.iter().chain(&right.v).all(|v| *v > 0.0));
    }

    // Chains stretched twofold keep that length in a cap whose cells are as short as the thread's.
    #[test]
    fn a_cap_of_a_polymer_solution_is_as_finely_divided_and_stretched_as_its_thread() {
        let z = (0..=400).map(|i| f64::from(i) / 100.0).collect();
        let mut body = Body::from_profile(z, End::Nozzle, End::Outflow, |_| 0.09, |_| 0.2);
        let polymer = Polymer { share: 0.5, relaxation: 2.0, inverse_extensibility: 0.0 };
        let law = Law { rheology: Rheology { polymer: Some(polymer), ..Rheology::default() }, ohnesorge: 0.4 };
        body.load = at_rest(law, &body);
        body.load.state[0].iter_mut().for_each(|x| *x *= 4.0);
        body.right = End::Tip;
        let plain = Body { load: Default::default(), ..body.clone() };
        let cells = |mut body: Body| {
            close_right(&mut body);
            body
        };
        let (plain, laden) = (cells(plain), cells(body));
        assert!(laden.z.windows(2).all(|z| z[1] - z[0] < 0.0101) && plain.cells() < laden.cells());
        assert_relative_eq!(laden.volume(), plain.volume(), max_relative = 1e-14);
        for j in 0..laden.cells() {
            let stretch = laden.load.state[0][j] / Polymer::at_rest(laden.area(j))[0];
            assert_relative_eq!(stretch, 4.0, max_relative = 1e-9);
        }
    }

    #[test]
    fn theory_a_hemisphere_is_its_own_cap() {
        assert_relative_eq!(cap_height(2.0 / 3.0, 1.0), 1.0, max_relative = 1e-14);
    }
}
