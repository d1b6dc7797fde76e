//! The instantaneous Stokes problem: the velocity of the interface from its shape.
//!
//! Equation: with mu_o = 1 and lambda = mu_i/mu_o, the outer liquid's representation plus lambda times the inner one's is
//!   c u(x0) = u_0(x0) - G_S f - G_W q + (1 - lambda) D_S u - lambda D_P u_P,
//! c = (1 + lambda)/2 on the interface S, lambda/2 on the plug P (Poiseuille flow inside, rest outside), u = 0 on the other
//! glass W; on the disk that closes the tube u is Poiseuille flow of all that is pumped. f is the interface's jump of traction,
//! q the unknown strength on the glass. Eliminating q,
//!   A u = b - H f,   H = G_SS - Y G_WS,   A = (1 + lambda)/2 - (1 - lambda)(D_SS - Y D_WS),   Y = G_SW G_WW^(-1).
//! A step of length dt takes the capillary traction at its end: f + dt F' u.n in place of f, F' its derivative by displacement.
//! The flux through S has the small eigenvalue lambda, which would magnify errors by 1/lambda: w n (flux - Q_i), zero for the
//! exact solution, moves it.
//!
//! Symbols: G, D single and double layer over 8 pi; u_0 undisturbed flow: Poiseuille in the tube, uniform without a wall, or none.
//!
//! Source: Rallison & Acrivos, J. Fluid Mech. 89 (1978) 191; Pozrikidis (1992), ch. 5 (both recalled); the closing of the tube,
//! the implicit traction and the shifted eigenvalue as in `validation/reference` of this project.
//!
//! Holds for: no inertia; viscosity ratio 0.01 to 100.

use super::differences::End;
use super::glass::Builder;
use super::interface::Interface;
use super::layer::{Boundary, Density, Element, Targets, layers};
use crate::device::core_annular::axis_velocity;
use nalgebra::{DMatrix, DMatrixViewMut, DVector};
use rayon::prelude::*;

/// Weight of the flux in the shifted equation: of order one, its value does not matter.
const FLUX_WEIGHT: f64 = 5.0;
/// Viscosity ratios this close to one need no double layer.
const EQUAL: f64 = 1e-9;

/// What flows where there is no tip and no drop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Undisturbed {
    /// Nothing.
    Rest,
    /// The same velocity everywhere.
    Uniform(f64),
    /// Poiseuille flow: velocity on the axis, radius of the tube.
    Tube(f64, f64),
}

impl Undisturbed {
    pub fn at(&self, r: f64) -> f64 {
        match *self {
            Undisturbed::Rest => 0.0,
            Undisturbed::Uniform(u) => u,
            Undisturbed::Tube(u, wall) => u * (1.0 - (r / wall).powi(2)),
        }
    }
}

/// The glass of a case with what is pumped through it.
#[derive(Debug, Clone)]
pub struct Walls {
    pub boundary: Boundary,
    /// Nodes of the plug come first: this many, on a disk of this radius.
    pub plug: usize,
    pub bore: f64,
    /// Nodes of the closing disk come last, with the velocity there.
    pub end: usize,
    /// Radius of the closing disk.
    pub end_radius: f64,
    pub undisturbed: Undisturbed,
    /// Volume flow of the inner liquid, and of both through the closing disk.
    pub inner_flow: f64,
    pub total_flow: f64,
    /// lambda.
    pub ratio: f64,
}

/// The walls with their equations solved once.
#[derive(Debug, Clone)]
pub struct Fixed {
    pub walls: Walls,
    inverse: DMatrix<f64>,
    known: DVector<f64>,
    plug: Option<(Boundary, DVector<f64>)>,
}

impl Fixed {
    /// Factors the walls; `None` where they are singular.
    pub fn new(walls: Walls) -> Option<Fixed> {
        let (g, _) = layers(walls.boundary.targets(), &walls.boundary, false);
        let inverse = if walls.boundary.nodes() == 0 { g } else { g.lu().try_inverse()? };
        let (known, plug) = known(&walls);
        Some(Fixed { walls, inverse, known, plug })
    }

    /// Strength on the glass where there is no interface.
    pub fn strength(&self) -> DVector<f64> {
        &self.inverse * &self.known
    }

    /// Strength on the glass around interfaces with this traction and this double layer (their velocity times 1 - lambda).
    pub fn strength_with(&self, own: &Boundary, traction: &DVector<f64>, double: &DVector<f64>) -> DVector<f64> {
        let glass = &self.walls.boundary;
        let two = double.iter().any(|u| *u != 0.0);
        let (g, d) = layers(Targets::away(&glass.z, &glass.r), own, two);
        let mut known = &self.known - g * traction;
        if two {
            known += d * double;
        }
        &self.inverse * known
    }

    /// The plug with its double layer's density.
    pub fn plug(&self) -> Option<&(Boundary, DVector<f64>)> {
        self.plug.as_ref()
    }

    /// Velocity (z, r in turn) at points off the glass where there is no interface.
    pub fn bare(&self, z: &[f64], r: &[f64]) -> DVector<f64> {
        let (g, _) = layers(Targets::away(z, r), &self.walls.boundary, false);
        self.of_streams(z, r) - g * self.strength()
    }

    /// Undisturbed flow and the plug's double layer.
    fn of_streams(&self, z: &[f64], r: &[f64]) -> DVector<f64> {
        let mut out = DVector::zeros(2 * z.len());
        for i in 0..z.len() {
            out[2 * i] = self.walls.undisturbed.at(r[i]);
        }
        if let Some((boundary, strength)) = &self.plug {
            let (_, d) = layers(Targets::away(z, r), boundary, true);
            out -= self.walls.ratio * d * strength;
        }
        out
    }
}

/// What the strength on the glass has to cancel there, and the plug with its double layer's density.
pub(super) fn known(walls: &Walls) -> (DVector<f64>, Option<(Boundary, DVector<f64>)>) {
    let nodes = walls.boundary.nodes();
    let mut known = DVector::zeros(2 * nodes);
    for i in 0..nodes {
        known[2 * i] = walls.undisturbed.at(walls.boundary.r[i]);
    }
    for i in nodes - walls.end..nodes {
        known[2 * i] -= poiseuille(walls.total_flow, walls.end_radius, walls.boundary.r[i]);
    }
    let plug = (walls.plug > 0).then(|| plug_of(walls));
    if let Some((boundary, strength)) = &plug {
        let home: Vec<_> =
            (0..nodes).map(|i| if i < walls.plug { walls.boundary.home[i] } else { [None, None] }).collect();
        let targets = Targets { z: &walls.boundary.z, r: &walls.boundary.r, home: Some(&home) };
        let (_, d) = layers(targets, boundary, true);
        known -= walls.ratio * d * strength;
        for i in 0..walls.plug {
            known[2 * i] -= 0.5 * walls.ratio * poiseuille(walls.inner_flow, walls.bore, walls.boundary.r[i]);
        }
    }
    (known, plug)
}

/// Poiseuille flow at radius r.
pub(super) fn poiseuille(flow: f64, radius: f64, r: f64) -> f64 {
    axis_velocity(flow, radius) * (1.0 - (r / radius).powi(2))
}

/// The plug alone, with the inner liquid's velocity there as a density (times ds/dt).
fn plug_of(walls: &Walls) -> (Boundary, DVector<f64>) {
    let whole = &walls.boundary;
    let elements: Vec<Element> =
        whole.elements.iter().filter(|e| e.node.iter().all(|n| *n < walls.plug)).cloned().collect();
    let mut strength = DVector::zeros(2 * walls.plug);
    for i in 0..walls.plug {
        if let Some((e, t)) = whole.home[i][0] {
            strength[2 * i] = poiseuille(walls.inner_flow, walls.bore, whole.r[i]) * whole.elements[e].speed(t);
        }
    }
    let boundary = Boundary {
        elements,
        z: whole.z[..walls.plug].to_vec(),
        r: whole.r[..walls.plug].to_vec(),
        home: whole.home[..walls.plug].to_vec(),
        density: whole.density,
    };
    (boundary, strength)
}

/// Several interfaces as one boundary, nodes in order.
pub fn joined(surfaces: &[Interface]) -> Boundary {
    let mut parts = surfaces.iter().map(Interface::boundary);
    let mut all = parts.next().unwrap_or_else(|| Builder::default().done());
    all.density = Density::PerLength;
    for part in parts {
        let (nodes, elements) = (all.nodes(), all.elements.len());
        all.elements.extend(part.elements.into_iter().map(|mut e| {
            e.node.iter_mut().for_each(|n| *n += nodes);
            e
        }));
        all.home.extend(part.home.iter().map(|home| home.map(|at| at.map(|(e, t)| (e + elements, t)))));
        all.z.extend(part.z);
        all.r.extend(part.r);
    }
    all
}

/// Columns of a product that are computed at a time: their number must not hang on that of the threads.
const BLOCK: usize = 128;

/// The product of two matrices, blocks of columns side by side.
fn product(a: &DMatrix<f64>, b: &DMatrix<f64>) -> DMatrix<f64> {
    let (rows, columns) = (a.nrows(), b.ncols());
    let mut out = DMatrix::zeros(rows, columns);
    if rows == 0 {
        return out;
    }
    out.as_mut_slice().par_chunks_mut(rows * BLOCK).enumerate().for_each(|(k, part)| {
        let many = part.len() / rows;
        DMatrixViewMut::from_slice(part, rows, many).gemm(1.0, a, &b.columns(k * BLOCK, many), 0.0);
    });
    out
}

/// Tractions of all, z and r in turn.
pub fn traction(surfaces: &[Interface], bond: f64) -> DVector<f64> {
    let all: Vec<f64> = surfaces.iter().flat_map(|s| s.traction(bond).iter().copied().collect::<Vec<_>>()).collect();
    DVector::from_vec(all)
}

/// The interfaces' own equation, ready for steps of any length: that of the drop on its tip, then of drops in the flow.
#[derive(Debug, Clone)]
pub struct Reduced {
    matrix: DMatrix<f64>,
    known: DVector<f64>,
    by_displacement: DMatrix<f64>,
}

/// Layers of interfaces on themselves once the strength on the glass is eliminated, and the velocity that streams there.
pub(super) struct Eliminated {
    pub single: DMatrix<f64>,
    pub double: DMatrix<f64>,
    pub known: DVector<f64>,
}

/// Eliminates the glass: H, D_SS - Y D_WS (empty without `double`), b.
pub(super) fn eliminated(fixed: &Fixed, own: &Boundary, double: bool) -> Eliminated {
    let (mut h, mut d) = layers(own.targets(), own, double);
    let mut known = fixed.of_streams(&own.z, &own.r);
    let glass = &fixed.walls.boundary;
    if glass.nodes() > 0 {
        let (to_glass, d_glass) = layers(Targets::away(&glass.z, &glass.r), own, double);
        let (from_glass, _) = layers(Targets::away(&own.z, &own.r), glass, false);
        let y = product(&from_glass, &fixed.inverse);
        h -= product(&y, &to_glass);
        known -= &y * &fixed.known;
        if double {
            d -= product(&y, &d_glass);
        }
    }
    Eliminated { single: h, double: d, known }
}

/// Assembles the equation of interfaces among fixed walls; one that is pinned lets the inner liquid's flow through, closed ones nothing.
pub fn reduced(fixed: &Fixed, surfaces: &[Interface], bond: f64) -> Reduced {
    let ratio = fixed.walls.ratio;
    let double = (ratio - 1.0).abs() > EQUAL;
    let own = joined(surfaces);
    let n = own.nodes();
    let Eliminated { single: h, double: d, mut known } = eliminated(fixed, &own, double);
    let mut matrix = DMatrix::identity(2 * n, 2 * n) * (0.5 * (1.0 + ratio));
    if double {
        matrix -= d * (1.0 - ratio);
    }
    known -= &h * traction(surfaces, bond);
    let mut by_displacement = DMatrix::zeros(2 * n, n);
    let mut first = 0;
    for s in surfaces {
        let weights = s.flux_weights();
        let area: f64 = weights.iter().sum();
        let shift = FLUX_WEIGHT / area;
        let normal = |k: usize| if k.is_multiple_of(2) { s.normal[k / 2].0 } else { s.normal[k / 2].1 };
        for column in 0..2 * s.nodes() {
            let w = shift * weights[column / 2] * normal(column);
            for row in 0..2 * s.nodes() {
                matrix[(2 * first + row, 2 * first + column)] += w * normal(row);
            }
        }
        if s.ends.0 == End::Pinned {
            for k in 0..2 * s.nodes() {
                known[2 * first + k] += shift * fixed.walls.inner_flow * normal(k);
            }
        }
        let level = weights.iter().enumerate().map(|(i, w)| w * (s.curvature(i) - bond * s.z[i])).sum::<f64>() / area;
        let change = h.columns(2 * first, 2 * s.nodes()) * s.traction_by_displacement(bond, level);
        by_displacement.columns_mut(first, s.nodes()).copy_from(&change);
        first += s.nodes();
    }
    Reduced { matrix, known, by_displacement }
}

impl Reduced {
    /// Normal velocities of the nodes with the capillary traction taken `step` ahead; `None` where the equation is singular.
    pub fn normal_velocity(&self, surfaces: &[Interface], step: f64) -> Option<Vec<Vec<f64>>> {
        let u = self.velocity(surfaces, step)?;
        let mut first = 0;
        let of = |s: &Interface| {
            let along = |i: usize| u[2 * (first + i)] * s.normal[i].0 + u[2 * (first + i) + 1] * s.normal[i].1;
            let all = (0..s.nodes()).map(along).collect();
            first += s.nodes();
            all
        };
        Some(surfaces.iter().map(of).collect())
    }

    /// Velocity of the nodes, z and r in turn.
    pub fn velocity(&self, surfaces: &[Interface], step: f64) -> Option<DVector<f64>> {
        let mut matrix = self.matrix.clone();
        let mut known = self.known.clone();
        if step > 0.0 {
            let normals = surfaces.iter().flat_map(|s| s.normal.iter());
            for (j, (nz, nr)) in normals.enumerate() {
                for i in 0..known.len() {
                    let change = step * self.by_displacement[(i, j)];
                    matrix[(i, 2 * j)] += change * nz;
                    matrix[(i, 2 * j + 1)] += change * nr;
                }
            }
        }
        let mut hold = |row: usize| {
            matrix.row_mut(row).fill(0.0);
            matrix[(row, row)] = 1.0;
            known[row] = 0.0;
        };
        let mut first = 0;
        for s in surfaces {
            for i in [0, s.nodes() - 1] {
                if s.on_axis(i) {
                    hold(2 * (first + i) + 1);
                }
            }
            if s.ends.0 == End::Pinned {
                hold(2 * first);
                hold(2 * first + 1);
            }
            first += s.nodes();
        }
        matrix.lu().solve(&known)
    }
}
