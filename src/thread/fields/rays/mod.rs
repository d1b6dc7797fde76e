//! The outer liquid about a thread by rays: its dissipation as a quadratic form in the two fields of the nodes.
//!
//! Equation: x^T P^T H P x = 2 int e:e dV of the liquid between thread and glass, x = (u_0, q_0, u_1, q_1, ...), H the
//! least dissipation in the values at the rays ([`operator`], `least`) and P what they are in the fields:
//!   psi_0 = a u/2,   psi_1 = |X_xi| (a w N_z/2 + h (u + q) N_r),   w = u' - q a'/a,
//! for on the surface u_z = u + q and u_r = -h w/2, psi_z = -r u_r and psi_r = r u_z. A cell's w is that of its nodes'
//! difference of u and mean of q, a node's the mean of its cells' (each by the other's length); between nodes
//! four-point interpolation along the meridian, with the mirror image beyond the pole.
//! Symbols: a = h^2 squared radii, u mean velocity of a section, u + q that of its surface; N the ray's direction at
//! the surface, |X_xi| its length there; lengths in R, the viscosity 1.
//! Source: own; Helmholtz' principle ([`operator`]). No number is fitted.
//! Holds for: creeping flow about a thread whose surface is at rest at the tip (the slip past a stream). A thread that
//! overlaps the glass gives rays that cross; the share of such places is told.

mod layout;
mod least;
pub mod operator;
pub(super) mod splines;

#[cfg(test)]
mod tests;

use super::glass::Glass;
use layout::Layout;
use least::GIVEN;
pub use least::{Least, LeastWork};
use operator::{Edge, Operator};

/// Most intervals between rays.
pub const MOST: usize = 80;
/// Fewest nodes.
const FEWEST_NODES: usize = 8;
/// Nodes that a value at a ray depends on.
pub const NODES: usize = 6;
/// Free profiles along a ray.
const FREE: usize = 2;

/// What a value at a ray is in the two fields: coefficients of the unknowns from `first` on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    pub first: usize,
    pub coefficients: [f64; 2 * NODES],
}

impl Row {
    /// The value.
    fn of(&self, x: &[f64]) -> f64 {
        let x = &x[self.first..][..2 * NODES];
        let at = |k: usize| self.coefficients[k] * x[k];
        let part = |k: usize| (at(k) + at(k + 1)) + (at(k + 2) + at(k + 3));
        part(0) + part(4) + part(8)
    }
}

/// Dissipation of the outer liquid: x^T P^T H P x.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Rays {
    /// Values at the rays: psi_0, psi_1 of the first, of the second, ...
    pub count: usize,
    /// H, and its inverse by rows, symmetric.
    pub resistance: Least,
    pub mobility: Vec<f64>,
    /// P.
    pub rows: Vec<Row>,
    /// Share of the places where rays cross.
    pub crossed: f64,
}

impl Rays {
    /// Intervals between rays.
    pub fn intervals(&self) -> usize {
        self.count / GIVEN + 1
    }

    /// Add the product of P^T H P with `x`, times `viscosity`, to `out`.
    pub fn add_product(&self, x: &[f64], viscosity: f64, work: &mut RayForces, out: &mut [f64]) {
        let RayForces { at_rays, least } = work;
        at_rays.clear();
        at_rays.extend(self.rows.iter().map(|row| row.of(x)));
        self.resistance.multiply(least, at_rays);
        for (force, row) in at_rays.iter().zip(&self.rows) {
            let force = viscosity * force;
            for (out, by) in out[row.first..][..2 * NODES].iter_mut().zip(&row.coefficients) {
                *out += force * by;
            }
        }
    }
}

/// Buffers that are kept from step to step.
#[derive(Debug, Clone, Default)]
pub struct RayWork {
    layout: Layout,
    operator: Operator,
    least: LeastWork,
    /// Per cell 1/d and -a'/(2 a).
    cells: Vec<[f64; 2]>,
}

/// Buffers of a product.
#[derive(Debug, Clone, Default)]
pub struct RayForces {
    at_rays: Vec<f64>,
    least: LeastWork,
}

/// The outer liquid about the thread through nodes at `z` of the squared radii `a` (1 at the tip, 0 at the pole). None
/// where that is no thread: values that are not numbers, places that do not increase, radii that are not positive,
/// fewer than eight nodes. `held` intervals between rays, those of the step before, stay where they do: each change of their number changes the
/// dissipation by up to 2 %.
pub fn about(glass: &Glass, (z, a): (&[f64], &[f64]), held: usize, work: &mut RayWork, out: &mut Rays) -> Option<()> {
    let n = z.len();
    let increasing = z.windows(2).all(|pair| pair[1] > pair[0] && (pair[1] - pair[0]).is_finite());
    let wide =
        n >= FEWEST_NODES && a.len() == n && a[..n - 1].iter().all(|a| *a > 0.0 && a.is_finite()) && a[n - 1] == 0.0;
    if !(increasing && wide && glass.is_sound()) {
        return None;
    }
    work.layout.lay(glass, (z, a), held)?;
    work.operator.form(&work.layout.lines, [Edge::Wall, Edge::Pole]);
    let Operator { blocks, at_rays, crossed, direction, stretch, .. } = &work.operator;
    out.resistance.set(blocks, at_rays, FREE)?;
    out.resistance.invert(&mut work.least, &mut out.mobility)?;
    (out.count, out.crossed) = (GIVEN * blocks.len(), *crossed);
    work.cells.clear();
    work.cells.extend(z.windows(2).zip(a.windows(2)).map(|(z, a)| {
        let inverse = 1.0 / (z[1] - z[0]);
        [inverse, -(a[1] - a[0]) / (a[1] + a[0]) * inverse]
    }));
    let arc = &work.layout.arc;
    out.rows.clear();
    let mut k = 0;
    for ray in 1..=blocks.len() {
        let at = work.layout.at[ray];
        k = splines::interval(arc, at, k);
        let first = k.saturating_sub(2).min(n - NODES);
        let mut rows = [Row { first: 2 * first, coefficients: [0.0; 2 * NODES] }; GIVEN];
        let scale = stretch[ray];
        let along = 0.5 * scale * direction[0][ray];
        let across = scale * work.layout.lines.surface[1][ray] * direction[1][ray];
        for (node, weight) in interpolation(arc, k, at) {
            let own = 2 * (node - first);
            rows[0].coefficients[own] += weight * 0.5 * a[node];
            rows[1].coefficients[own] += weight * across;
            rows[1].coefficients[own + 1] += weight * across;
            stretching(z, a, &work.cells, node, |other, [by_u, by_q]| {
                let at = 2 * (other - first);
                rows[1].coefficients[at] += weight * along * by_u;
                rows[1].coefficients[at + 1] += weight * along * by_q;
            });
        }
        out.rows.extend(rows);
    }
    Some(())
}

/// Nodes and their weights in a value at `at` within interval `k`: Lagrange's cubic through two on either side, at the
/// tip the first four; beyond the pole the mirror image.
fn interpolation(arc: &[f64], k: usize, at: f64) -> [(usize, f64); 4] {
    let last = arc.len() - 1;
    let first = k.saturating_sub(1);
    let node = |j: usize| if first + j > last { 2 * last - first - j } else { first + j };
    let place = |j: usize| if first + j > last { 2.0 * arc[last] - arc[node(j)] } else { arc[first + j] };
    let places = [place(0), place(1), place(2), place(3)];
    std::array::from_fn(|j| {
        let factor = |i: usize| if i == j { 1.0 } else { (at - places[i]) / (places[j] - places[i]) };
        (node(j), factor(0) * factor(1) * factor(2) * factor(3))
    })
}

/// Hands over what a w of a node is in (u, q) of the nodes about it.
fn stretching(z: &[f64], a: &[f64], cells: &[[f64; 2]], node: usize, mut add: impl FnMut(usize, [f64; 2])) {
    let last = z.len() - 1;
    let mut of_cell = |cell: usize, share: f64| {
        let [inverse, flare] = cells[cell];
        add(cell, [-share * inverse, share * flare]);
        add(cell + 1, [share * inverse, share * flare]);
    };
    if node == 0 {
        of_cell(0, a[0]);
    } else if node < last {
        let (left, right) = (z[node] - z[node - 1], z[node + 1] - z[node]);
        let share = a[node] / (left + right);
        of_cell(node, share * left);
        of_cell(node - 1, share * right);
    }
}
