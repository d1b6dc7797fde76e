//! What the inner liquid dissipates in sections of two velocities.
//!
//! Equation: within a section the velocity along the thread is a parabola, u + q (2 r^2/a - 1), so that u is its mean and u + q that of the
//! surface. At unit viscosity the dissipation is
//!   pi int { P^2/2 + 2 P S/3 + S^2/4 + a (3 w^2 + K B^2/3) } dz,
//!   w = u' - q a'/a,  B = 2 q' - 2 q a'/a,  P = 4 q - a (u'' - q'')/2,  S = -a (B' - B a'/a)/4.
//! Symbols: w the mean and w - B/2 + B r^2/a the local rate of stretching; P r/a + S r^3/a^2 that of shear, with the radial velocity's part.
//! Source: the dissipation of that parabola, complete to second order in the slope (own derivation). Other profiles than the parabola relax B:
//! K = 13/16 makes slow flow in a cone whose surface is at rest exact to second order (1 + 11/6 tan^2 of Poiseuille's dissipation); for K = 1
//! it would be the parabola's own. Nothing is fitted.
//! Holds for: creeping flow within the section. Exact for a sphere that deforms (3 E^2 a volume) and for Hill's flow in one that moves (6 U^2
//! over its squared radius a volume).

use crate::solver::banded::Banded;
use std::f64::consts::PI;

/// K.
const RELAXED: f64 = 13.0 / 16.0;
/// Diagonals of a matrix in the velocities of the nodes, u and q of each beside each other: two nodes on either side.
pub const WIDTH: usize = 11;

/// Squared radii at the nodes of a thread on its nozzle (1, 0 at the other end), from its cells.
pub fn node_areas(z: &[f64], v: &[f64], node: &mut Vec<f64>) {
    node.clear();
    node.push(1.0);
    node.extend(z.windows(3).zip(v.windows(2)).map(|(z, v)| {
        let (before, after) = (z[1] - z[0], z[2] - z[1]);
        (v[0] / before * after + v[1] / after * before) / (PI * (before + after))
    }));
    node.push(0.0);
}

/// Add weight times the square of a rate that is `by` times the unknowns from `first` on.
fn add<const N: usize>(matrix: &mut Banded<WIDTH>, first: usize, by: [f64; N], weight: f64) {
    for (i, a) in by.iter().enumerate() {
        for (j, b) in by.iter().enumerate() {
            *matrix.entry(first + i, first + j) += weight * a * b;
        }
    }
}

/// Stretching of a cell: w and B by (u, q) at both of its nodes, and a'/a.
#[derive(Clone, Copy)]
struct Cell {
    d: f64,
    w: [f64; 4],
    b: [f64; 4],
    flare: f64,
}

impl Cell {
    fn new(d: f64, a: f64, node: [f64; 2]) -> Cell {
        let (inverse, flare) = (1.0 / d, (node[1] - node[0]) / (d * a));
        let (w, b) = (-0.5 * flare, 2.0 * inverse);
        Cell { d, w: [-inverse, w, inverse, w], b: [0.0, -b - flare, 0.0, b - flare], flare }
    }
}

/// The matrix of the dissipation in (u_0, q_0, u_1, q_1, ...) for nodes at `z` with the squared radii `node` between cells of the volumes `v`.
pub fn dissipation(z: &[f64], v: &[f64], node: &[f64], matrix: &mut Banded<WIDTH>) {
    let n = v.len();
    matrix.reset(2 * n + 2);
    let cell = |j: usize| {
        let d = z[j + 1] - z[j];
        let a = v[j] / (PI * d);
        (Cell::new(d, a, [node[j], node[j + 1]]), a)
    };
    let (mut before, mut a) = cell(0);
    // half a cell of the parabola at the nozzle
    *matrix.entry(1, 1) += 4.0 * PI * before.d;
    for j in 0..n {
        add(matrix, 2 * j, before.w, 3.0 * PI * a * before.d);
        add(matrix, 2 * j, before.b, RELAXED / 3.0 * PI * a * before.d);
        if j + 1 == n {
            break;
        }
        let (after, next) = cell(j + 1);
        let (span, area) = (0.5 * (before.d + after.d), node[j + 1]);
        let (bent, half) = ([1.0 / (before.d * span), 1.0 / (after.d * span)], 0.5 * area);
        let middle = bent[0] + bent[1];
        let p = [-half * bent[0], half * bent[0], half * middle, 4.0 - half * middle, -half * bent[1], half * bent[1]];
        let (mean, by) = (0.25 * (before.flare + after.flare), -0.25 * area);
        let mut s = [0.0; 6];
        for k in 0..4 {
            s[k] += by * (-1.0 / span - mean) * before.b[k];
            s[k + 2] += by * (1.0 / span - mean) * after.b[k];
        }
        add(matrix, 2 * j, std::array::from_fn::<f64, 6, _>(|k| p[k] + 2.0 / 3.0 * s[k]), 0.5 * PI * span);
        add(matrix, 2 * j, s, PI / 36.0 * span);
        (before, a) = (after, next);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn half_a_sphere(field: impl Fn(f64) -> (f64, f64)) -> f64 {
        let z: Vec<f64> = (0..=400).map(|i| f64::from(i) / 400.0).collect();
        let within = |z: f64| PI * (z - z * z * z / 3.0);
        let v: Vec<f64> = z.windows(2).map(|z| within(z[1]) - within(z[0])).collect();
        let node: Vec<f64> = z.iter().map(|z| 1.0 - z * z).collect();
        let x: Vec<f64> = z.iter().flat_map(|z| [field(*z).0, field(*z).1]).collect();
        let (mut matrix, mut product) = (Banded::default(), vec![0.0; x.len()]);
        dissipation(&z, &v, &node, &mut matrix);
        matrix.add_product(&x, 1.0, &mut product);
        product.iter().zip(&x).map(|(f, x)| f * x).sum::<f64>() / (2.0 / 3.0 * PI)
    }

    // 2 e:e of pure straining is 3 E^2; of Hill's spherical vortex, u_z = 2 r^2 + z^2 - 1 with its surface at u_z = r^2 about the mean, 6
    // (elementary; half a sphere of radius 1, over its volume).
    #[test]
    fn theory_a_sphere_that_deforms_and_hills_flow_in_one_that_moves() {
        let deforms = half_a_sphere(|z| (z, 0.0));
        let moves = half_a_sphere(|z| (0.0, z * z - 1.0));
        assert!((deforms / 3.0 - 1.0).abs() < 0.002 && (moves / 6.0 - 1.0).abs() < 0.002, "{deforms} {moves}");
    }

    // Slow flow in a cone (its surface at rest): radial, elementary: its dissipation over that of Poiseuille's flow
    // is 1 + (11/6) tan^2 t_0.
    #[test]
    fn theory_a_cone_whose_surface_is_at_rest() {
        let spent = |slope: f64| {
            let n = 200;
            let z: Vec<f64> = (0..=n).map(|i| 1.0 + 0.2 * f64::from(i) / f64::from(n)).collect();
            let area = |z: f64| (slope * z).powi(2);
            let v: Vec<f64> = z.windows(2).map(|z| PI * slope * slope * (z[1].powi(3) - z[0].powi(3)) / 3.0).collect();
            let node: Vec<f64> = z.iter().map(|z| area(*z)).collect();
            let x: Vec<f64> = z.iter().flat_map(|z| [z.powi(-2), -z.powi(-2)]).collect();
            let (mut matrix, mut product) = (Banded::default(), vec![0.0; x.len()]);
            dissipation(&z, &v, &node, &mut matrix);
            matrix.add_product(&x, 1.0, &mut product);
            product.iter().zip(&x).map(|(f, x)| f * x).sum::<f64>()
        };
        let found = (spent(0.1) / spent(0.001) - 1.0) / 0.01;
        assert!((found / (11.0 / 6.0) - 1.0).abs() < 0.02, "{found}");
    }
}
