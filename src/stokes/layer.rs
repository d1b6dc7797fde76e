//! Boundary elements and the matrices of the layers that lie on them.
//!
//! Equation: (G q)_i(x0) = (1/8 pi) int G_ij q_j ds, (D u)_i(x0) = (1/8 pi) int T_ijk n_k u_j ds over a meridian, ring kernels
//! of [`super::ring`]. An element is a quintic (z(t), r(t)), 0 <= t <= 1; the density on it is a cubic through four nodes.
//!
//! Symbols: on glass the unknown is the density times ds/dt, which stays smooth where the density of a sharp edge is singular
//! and t crowds there quadratically; on the interface it is the density itself.
//!
//! Source: common practice of boundary elements, no source: a logarithm at the target is tamed by t = w^4 on both sides;
//! a near element is halved until it is short against its distance; far ones take as few points as 1e-6 allows (a rule of n
//! points errs like q^(-2 n), q = d + sqrt(d^2 + 1), d the distance over half the length); glass takes four at least.
//!
//! Holds for: targets on the boundary (told where) or off it.

// Several arrays are walked through side by side, lane by lane: their indices are the clearest way to say it.
#![allow(clippy::needless_range_loop)]

use super::ring::{Kernel, Points, fluxes, kernels};
use super::rule::{Rule, rules, slope, value};
use multiversion::multiversion;
use nalgebra::DMatrix;
use rayon::prelude::*;

/// Distance over length below which an element is halved; above it six points, then 4, 3, 2.
const HALVE: f64 = 0.7;
const FOUR: f64 = 1.5;
const THREE: f64 = 3.0;
const TWO: f64 = 10.0;
/// Shortest piece in t.
const SHORTEST: f64 = 1e-6;

/// A piece of meridian with the density on it.
#[derive(Debug, Clone)]
pub struct Element {
    pub z: [f64; 6],
    pub r: [f64; 6],
    /// Nodes whose values make the density.
    pub node: [usize; 4],
    /// Signs of the axial and radial part of each (mirrored nodes).
    pub sign: [[f64; 2]; 4],
    /// Their cubics, ascending powers of t.
    pub shape: [[f64; 4]; 4],
}

impl Element {
    pub fn point(&self, t: f64) -> (f64, f64) {
        (value(&self.z, t), value(&self.r, t))
    }

    pub fn speed(&self, t: f64) -> f64 {
        let (z, r) = (slope(&self.z, t), slope(&self.r, t));
        (z * z + r * r).sqrt()
    }

    /// The four cubics at `t`.
    pub fn shape_at(&self, t: f64) -> [f64; 4] {
        std::array::from_fn(|m| {
            let c = &self.shape[m];
            ((c[3] * t + c[2]) * t + c[1]) * t + c[0]
        })
    }
}

/// Where a node lies: element and parameter, at a joint of two both.
pub type Home = [Option<(usize, f64)>; 2];

/// What the density of a boundary means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Density {
    /// Integrated over ds.
    PerLength,
    /// Integrated over dt.
    PerParameter,
}

/// Elements and nodes.
#[derive(Debug, Clone)]
pub struct Boundary {
    pub elements: Vec<Element>,
    pub z: Vec<f64>,
    pub r: Vec<f64>,
    pub home: Vec<Home>,
    pub density: Density,
}

impl Boundary {
    /// Number of nodes.
    pub fn nodes(&self) -> usize {
        self.z.len()
    }

    /// Its own nodes as targets.
    pub fn targets(&self) -> Targets<'_> {
        Targets { z: &self.z, r: &self.r, home: Some(&self.home) }
    }
}

/// Points at which a layer is wanted; `home` where they lie on the layer itself.
#[derive(Debug, Clone, Copy)]
pub struct Targets<'a> {
    pub z: &'a [f64],
    pub r: &'a [f64],
    pub home: Option<&'a [Home]>,
}

impl<'a> Targets<'a> {
    /// Points away from the layer.
    pub fn away(z: &'a [f64], r: &'a [f64]) -> Targets<'a> {
        Targets { z, r, home: None }
    }
}

/// Single and double layer (rows: z and r of each target; columns: z and r of each node). Without `double` the second is empty.
pub fn layers(targets: Targets<'_>, source: &Boundary, double: bool) -> (DMatrix<f64>, DMatrix<f64>) {
    let (rows, columns) = (2 * targets.z.len(), 2 * source.nodes());
    if rows * columns == 0 {
        return (DMatrix::zeros(rows, columns), DMatrix::zeros(rows, columns));
    }
    let whole: Vec<Whole> = source.elements.iter().map(|e| Whole::of(e, source.density)).collect();
    let mut g = vec![0.0; rows * columns];
    let mut d = vec![0.0; if double { rows * columns } else { 0 }];
    if double {
        g.par_chunks_mut(2 * columns).zip(d.par_chunks_mut(2 * columns)).enumerate().for_each_init(
            Work::default,
            |work, (i, (g, d))| {
                one_target(&targets, i, (source, &whole), work, g, Some(d));
            },
        );
    } else {
        g.par_chunks_mut(2 * columns)
            .enumerate()
            .for_each_init(Work::default, |work, (i, g)| one_target(&targets, i, (source, &whole), work, g, None));
    }
    let d = if double { DMatrix::from_row_slice(rows, columns, &d) } else { DMatrix::zeros(0, 0) };
    (DMatrix::from_row_slice(rows, columns, &g), d)
}

/// Flow through the disk of each target's radius at its place (columns: z and r of each node).
pub fn through_disks(targets: Targets<'_>, source: &Boundary) -> DMatrix<f64> {
    let (rows, columns) = (targets.z.len(), 2 * source.nodes());
    if rows * columns == 0 {
        return DMatrix::zeros(rows, columns);
    }
    let whole: Vec<Whole> = source.elements.iter().map(|e| Whole::of(e, source.density)).collect();
    let mut out = vec![0.0; rows * columns];
    out.par_chunks_mut(columns).enumerate().for_each_init(Work::default, |work, (i, out)| {
        gather(&targets, i, (source, &whole), work);
        fluxes(targets.z[i], targets.r[i], &work.points, &mut work.fluxes);
        let scale = 1.0 / (8.0 * std::f64::consts::PI);
        for ((e, share), flux) in work.at.iter().zip(&work.fluxes) {
            let element = &source.elements[*e];
            for m in 0..4 {
                let column = 2 * element.node[m];
                out[column] += scale * element.sign[m][0] * share[m] * flux[0];
                out[column + 1] += scale * element.sign[m][1] * share[m] * flux[1];
            }
        }
    });
    DMatrix::from_row_slice(rows, columns, &out)
}

/// A quadrature point: place, normal, the four cubics times the weight.
#[derive(Debug, Clone, Copy)]
struct Place {
    at: (f64, f64),
    normal: (f64, f64),
    share: [f64; 4],
}

impl Place {
    /// At `t`, of a rule's weight `weight`; `None` on the axis.
    fn of(element: &Element, t: f64, weight: f64, density: Density) -> Option<Place> {
        let at = element.point(t);
        let (zt, rt) = (slope(&element.z, t), slope(&element.r, t));
        let speed = (zt * zt + rt * rt).sqrt();
        let weight = weight * if density == Density::PerLength { speed } else { 1.0 };
        let share = element.shape_at(t).map(|s| weight * s);
        (at.1 > 0.0).then_some(Place { at, normal: (-rt / speed, zt / speed), share })
    }
}

/// What every target asks of an element that it takes whole: first, middle and last point, the rules' points.
#[derive(Debug, Clone)]
struct Whole {
    marks: [(f64, f64); 3],
    places: [Vec<Place>; 4],
}

impl Whole {
    fn of(element: &Element, density: Density) -> Whole {
        Whole {
            marks: [0.0, 0.5, 1.0].map(|t| element.point(t)),
            places: std::array::from_fn(|k| {
                let rule = &rules().plain[k];
                rule.t.iter().zip(&rule.w).filter_map(|(t, w)| Place::of(element, *t, *w, density)).collect()
            }),
        }
    }
}

/// Quadrature points of one target.
#[derive(Debug, Default)]
struct Work {
    points: Points,
    /// Element and share of each.
    at: Vec<(usize, [f64; 4])>,
    kernels: Vec<Kernel>,
    fluxes: Vec<[f64; 2]>,
    stack: Vec<(f64, f64)>,
}

impl Work {
    fn add(&mut self, e: usize, place: &Place) {
        self.points.push(place.at.0, place.at.1, place.normal.0, place.normal.1);
        self.at.push((e, place.share));
    }
}

fn one_target(
    targets: &Targets<'_>,
    i: usize,
    (source, whole): (&Boundary, &[Whole]),
    work: &mut Work,
    g: &mut [f64],
    mut d: Option<&mut [f64]>,
) {
    gather(targets, i, (source, whole), work);
    kernels(targets.z[i], targets.r[i], &work.points, d.is_some(), &mut work.kernels);
    let mut from = 0;
    while from < work.at.len() {
        let e = work.at[from].0;
        let many = work.at[from..].iter().take_while(|(other, _)| *other == e).count();
        let sums = summed(&work.at[from..from + many], &work.kernels[from..from + many]);
        put(&source.elements[e], &sums, g, d.as_deref_mut());
        from += many;
    }
}

/// The quadrature points that a target asks for.
fn gather(targets: &Targets<'_>, i: usize, (source, whole): (&Boundary, &[Whole]), work: &mut Work) {
    work.points.clear();
    work.at.clear();
    let home = targets.home.map_or([None, None], |home| home[i]);
    for (e, element) in source.elements.iter().enumerate() {
        let own = home.iter().flatten().find(|(at, _)| *at == e);
        match own {
            Some((_, t)) => on_it(element, e, *t, source.density, work),
            None => beside((element, &whole[e]), e, (targets.z[i], targets.r[i]), source.density, work),
        }
    }
}

/// Kernels times shares, summed over the points of an element.
#[multiversion(targets("x86_64+avx2"))]
fn summed(at: &[(usize, [f64; 4])], kernels: &[Kernel]) -> [Kernel; 4] {
    let mut sums = [[0.0; 8]; 4];
    for ((_, share), kernel) in at.iter().zip(kernels) {
        for m in 0..4 {
            for j in 0..8 {
                sums[m][j] += share[m] * kernel[j];
            }
        }
    }
    sums
}

/// Adds an element's sums to the two rows of a target.
fn put(element: &Element, sums: &[Kernel; 4], g: &mut [f64], d: Option<&mut [f64]>) {
    let scale = 1.0 / (8.0 * std::f64::consts::PI);
    let columns = g.len() / 2;
    let add = |rows: &mut [f64], first: usize| {
        for (m, k) in sums.iter().enumerate() {
            let (along, out) = (scale * element.sign[m][0], scale * element.sign[m][1]);
            let column = 2 * element.node[m];
            rows[column] += along * k[first];
            rows[column + 1] += out * k[first + 1];
            rows[columns + column] += along * k[first + 2];
            rows[columns + column + 1] += out * k[first + 3];
        }
    };
    add(g, 0);
    if let Some(d) = d {
        add(d, 4);
    }
}

/// Target at `t0` of the element: rules graded towards it from both sides.
fn on_it(element: &Element, e: usize, t0: f64, density: Density, work: &mut Work) {
    let rule = &rules().singular;
    if t0 > 0.0 {
        add(element, e, (t0, 0.0), rule, density, work);
    }
    if t0 < 1.0 {
        add(element, e, (t0, 1.0), rule, density, work);
    }
}

fn beside((element, whole): (&Element, &Whole), e: usize, target: (f64, f64), density: Density, work: &mut Work) {
    let distance = |p: (f64, f64), q: (f64, f64)| ((p.0 - q.0).powi(2) + (p.1 - q.1).powi(2)).sqrt();
    // a glass panel's density may be any cubic, its radius may grow from zero: fewer points than nodes would lose flux
    let short = density == Density::PerLength;
    // the rule for a piece, `None` where it has to be halved
    let rule = |[pa, pm, pb]: [(f64, f64); 3]| {
        let length = distance(pa, pm) + distance(pm, pb);
        let away = distance(pa, target).min(distance(pm, target)).min(distance(pb, target));
        match away / length {
            x if x < HALVE => None,
            x if x > TWO && short => Some(0),
            x if x > THREE && short => Some(1),
            x if x > FOUR => Some(2),
            _ => Some(3),
        }
    };
    if let Some(k) = rule(whole.marks) {
        whole.places[k].iter().for_each(|place| work.add(e, place));
        return;
    }
    work.stack.clear();
    work.stack.extend([(0.5, 1.0), (0.0, 0.5)]);
    while let Some((a, b)) = work.stack.pop() {
        let middle = 0.5 * (a + b);
        match rule([element.point(a), element.point(middle), element.point(b)]) {
            None if b - a > SHORTEST => work.stack.extend([(middle, b), (a, middle)]),
            found => add(element, e, (a, b), &rules().plain[found.unwrap_or(3)], density, work),
        }
    }
}

/// A rule from `from` to `to` (either may be the larger).
fn add(element: &Element, e: usize, (from, to): (f64, f64), rule: &Rule, density: Density, work: &mut Work) {
    let length = (to - from).abs();
    for (x, w) in rule.t.iter().zip(&rule.w) {
        let t = from + (to - from) * x;
        if let Some(place) = Place::of(element, t, w * length, density) {
            work.add(e, &place);
        }
    }
}
