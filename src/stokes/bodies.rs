//! Bodies whose motion is known exactly, and drops held at rest: what the solver and the closures of [`crate::thread`] are judged by.
//!
//! Equation: a drop that settles, relaxes or carries a wave moves with the velocity of [`super::flow`]. A held one has u.n = 0; what
//! holds it is a normal traction phi n beside the tangential velocity, from the same equation,
//!   c u = u_0 - G (phi n) - G_W q + (1 - lambda) D u,   drag = int phi n_z dS (the inner liquid adds none).
//! A wave on a thread: half a wave between planes of symmetry with its images on either side, of the tube as of the thread. What lies
//! beyond M images falls like (M + 1/2)^-2 (their strengths pair up); two sums carry it to M without end.
//!
//! Symbols: radius of sphere and thread 1; velocities over gamma/mu_o, rates over gamma/(mu_o R), drag over 6 pi mu_o R U.
//!
//! Source: [`super::flow`]; least squares where phi is open by a constant, the drop's own pressure: common practice.
//!
//! Holds for: small waves and deformations.

use super::channel::Channel;
use super::device::Panels;
use super::differences::End;
use super::flow::{Fixed, Undisturbed, Walls, eliminated, reduced};
use super::glass::Builder;
use super::interface::Interface;
use super::layer::{Boundary, Home, Targets, layers};
use super::step::step;
use nalgebra::{DMatrix, DVector};
use std::f64::consts::PI;
use std::slice;

/// Images of half a wave on either side: in the first sum and in the second.
const IMAGES: [i32; 2] = [12, 24];
/// Amplitude of a wave.
const WAVE: f64 = 1e-4;
/// Singular values below this share of the largest count as zero.
const SINGULAR: f64 = 1e-12;

/// A sphere, or the drop r = 1 + eps P_2(cos theta).
pub fn sphere(n: usize, eps: f64) -> Interface {
    let angle = |i: usize| PI * i as f64 / (n as f64 - 1.0);
    let radius = |i: usize| 1.0 + eps * (3.0 * angle(i).cos().powi(2) - 1.0) / 2.0;
    let z = (0..n).map(|i| -radius(i) * angle(i).cos()).collect();
    let r = (0..n).map(|i| if i == 0 || i + 1 == n { 0.0 } else { radius(i) * angle(i).sin() }).collect();
    Interface::new(z, r, (End::Axis, End::Axis))
}

/// Liquid at rest, open or in a tube of this radius; `None` where the walls cannot be solved.
pub fn still(ratio: f64, wall: Option<f64>) -> Option<Fixed> {
    let mut b = Builder::default();
    let end = wall.map_or(0, |wall| Channel::tube(wall).build(&mut b, -6.0 * wall, 6.0 * wall, Panels(1.0)));
    Fixed::new(Walls {
        boundary: b.done(),
        plug: 0,
        bore: 1.0,
        end,
        end_radius: wall.unwrap_or(1.0),
        undisturbed: Undisturbed::Rest,
        inner_flow: 0.0,
        total_flow: 0.0,
        ratio,
    })
}

/// Normal velocity of one surface.
fn speeds(fixed: &Fixed, s: &Interface, bond: f64) -> Option<Vec<f64>> {
    let mut all = reduced(fixed, slice::from_ref(s), bond).normal_velocity(slice::from_ref(s), 0.0)?;
    Some(all.remove(0))
}

/// Settling speed of a sphere over a^2 (rho_i - rho_o) g/mu_o.
pub fn settling(ratio: f64, wall: Option<f64>, n: usize) -> Option<f64> {
    let s = sphere(n, 0.0);
    let u = speeds(&still(ratio, wall)?, &s, 1.0)?;
    let (top, below) = (0..n).fold((0.0, 0.0), |(a, b), i| (a + u[i] * s.normal[i].0, b + s.normal[i].0.powi(2)));
    Some(top / below)
}

/// Rate at which the deformation P_2 of a sphere decays.
pub fn relaxing(ratio: f64, eps: f64, n: usize) -> Option<f64> {
    let u = speeds(&still(ratio, None)?, &sphere(n, eps), 0.0)?;
    let angle = |i: usize| PI * i as f64 / (n as f64 - 1.0);
    // projection on P_2 over the sphere
    let (top, below) = (0..n).fold((0.0, 0.0), |(a, b), i| {
        let p = (3.0 * angle(i).cos().powi(2) - 1.0) / 2.0;
        (a + u[i] * p * angle(i).sin(), b + p * p * angle(i).sin())
    });
    Some(-top / below / eps)
}

/// A deformed sphere after one decay time in so many steps, each once whole and twice half, extrapolated, volume not corrected.
pub fn relaxed(ratio: f64, eps: f64, n: usize, steps: usize) -> Option<Interface> {
    let fixed = still(ratio, None)?;
    let dt = (2.0 * ratio + 3.0) * (19.0 * ratio + 16.0) / (40.0 * (1.0 + ratio)) / steps as f64;
    let mut now = vec![sphere(n, eps)];
    for _ in 0..steps {
        let equation = reduced(&fixed, &now, 0.0);
        now = step(&fixed, &now, &equation, dt, 0.0, 1.0)?.surfaces;
    }
    now.pop()
}

/// Layers of a source between planes of symmetry half a wave apart and of its images. `touching`: the targets are the nodes of an
/// interface from plane to plane, which its images meet there.
fn with_images(targets: Targets<'_>, touching: bool, source: &Boundary, half: f64) -> (DMatrix<f64>, DMatrix<f64>) {
    let n = targets.z.len();
    let [fewer, all] = IMAGES;
    let (mut g, mut d) = layers(targets, source, true);
    let mut first = (g.clone(), d.clone());
    for m in (0..=all).flat_map(|m| if m == 0 { vec![0] } else { vec![m, -m] }) {
        for mirror in [false, true] {
            if m == 0 && !mirror {
                continue;
            }
            let shift = 2.0 * half * f64::from(m);
            let at: Vec<f64> = targets.z.iter().map(|z| if mirror { shift - z } else { z - shift }).collect();
            let meets = |i: usize| match (touching && mirror, m, i) {
                (true, 0, 0) => [None, Some((0, 0.0))],
                (true, 1, i) if i + 1 == n => [Some((n - 2, 1.0)), None],
                _ => [None, None],
            };
            let home: Vec<Home> = (0..n).map(meets).collect();
            let (mut image, mut double) = layers(Targets { z: &at, r: targets.r, home: Some(&home) }, source, true);
            if mirror {
                for i in 0..n {
                    image.row_mut(2 * i).scale_mut(-1.0);
                    double.row_mut(2 * i).scale_mut(-1.0);
                }
            }
            g += image;
            d += double;
        }
        if m == -fewer {
            first = (g.clone(), d.clone());
        }
    }
    let share = 1.0 / (((f64::from(all) + 0.5) / (f64::from(fewer) + 0.5)).powi(2) - 1.0);
    ((&g - first.0) * share + g, (&d - first.1) * share + d)
}

/// Growth rate of a wave of wavenumber `k` on a thread, unbounded or on the axis of a tube of radius `wall`.
pub fn growing(ratio: f64, k: f64, wall: Option<f64>, n: usize) -> Option<f64> {
    let half = PI / k;
    let z: Vec<f64> = (0..n).map(|i| half * i as f64 / (n as f64 - 1.0)).collect();
    let r = z.iter().map(|z| (1.0 - WAVE * WAVE / 2.0).sqrt() + WAVE * (k * z).cos()).collect();
    let s = Interface::new(z, r, (End::Plane, End::Plane));
    let own = s.boundary();
    let (mut g, mut d) = with_images(own.targets(), true, &own, half);
    if let Some(wall) = wall {
        let mut b = Builder::default();
        let panels = (2.0 * half / wall.min(2.0)).ceil().max(4.0) as usize;
        b.cylinder(wall, &(0..=panels).map(|i| half * i as f64 / panels as f64).collect::<Vec<_>>());
        let glass = b.done();
        let (to_glass, d_glass) = with_images(Targets::away(&glass.z, &glass.r), false, &own, half);
        let (from_glass, _) = with_images(Targets::away(&own.z, &own.r), false, &glass, half);
        let (mut on_glass, _) = with_images(glass.targets(), false, &glass, half);
        // a pressure alike everywhere is carried by no velocity: its strength is set to zero on the mean
        for i in 0..glass.nodes() {
            for j in 0..glass.nodes() {
                on_glass[(2 * i + 1, 2 * j + 1)] += 1.0 / glass.nodes() as f64;
            }
        }
        let y = from_glass * on_glass.lu().try_inverse()?;
        g -= &y * to_glass;
        d -= &y * d_glass;
    }
    // kappa less that of the plain thread: a constant drives nothing
    let f = DVector::from_fn(2 * n, |row, _| {
        let i = row / 2;
        (s.curvature(i) - 1.0) * if row % 2 == 0 { s.normal[i].0 } else { s.normal[i].1 }
    });
    let a = DMatrix::identity(2 * n, 2 * n) * (0.5 * (1.0 + ratio)) - d * (1.0 - ratio);
    let u = a.lu().solve(&(-g * f))?;
    let (mut top, mut below) = (0.0, 0.0);
    for i in 0..n {
        let un = u[2 * i] * s.normal[i].0 + u[2 * i + 1] * s.normal[i].1;
        let c = (k * s.z[i]).cos() * if i == 0 || i + 1 == n { 0.5 } else { 1.0 };
        top += un * c;
        below += c * (k * s.z[i]).cos();
    }
    Some(top / below / WAVE)
}

/// Drag on a spheroid of viscosity ratio `ratio`, radius and half length (both over R), held at `centre` in the stream of these walls,
/// over 6 pi mu_o R; its surface is mobile.
pub fn held(fixed: &Fixed, ratio: f64, centre: f64, (radius, half): (f64, f64), n: usize) -> Option<f64> {
    let angle = |i: usize| PI * i as f64 / (n as f64 - 1.0);
    let z = (0..n).map(|i| centre - half * angle(i).cos()).collect();
    let r = (0..n).map(|i| if i == 0 || i + 1 == n { 0.0 } else { radius * angle(i).sin() }).collect();
    let s = Interface::new(z, r, (End::Axis, End::Axis));
    let parts = eliminated(fixed, &s.boundary(), true);
    let velocity = DMatrix::identity(2 * n, 2 * n) * (0.5 * (1.0 + ratio)) - parts.double * (1.0 - ratio);
    // on the axis there is no tangential velocity and no radial equation
    let rows: Vec<usize> = (0..2 * n).filter(|row| *row != 1 && *row != 2 * n - 1).collect();
    let column = |j: usize| {
        let (from, i, (a, b)) = match j {
            j if j < n - 2 => (&velocity, j + 1, s.tangent[j + 1]),
            j => (&parts.single, j - (n - 2), s.normal[j - (n - 2)]),
        };
        from.column(2 * i) * a + from.column(2 * i + 1) * b
    };
    let columns: Vec<DVector<f64>> = (0..2 * n - 2).map(column).collect();
    let left = DMatrix::from_fn(rows.len(), columns.len(), |i, j| columns[j][rows[i]]);
    let right = DVector::from_fn(rows.len(), |i, _| parts.known[rows[i]]);
    let svd = left.svd(true, true);
    let least = SINGULAR * svd.singular_values.max();
    let found = svd.solve(&right, least).ok()?;
    let force: f64 = s.flux_weights().iter().enumerate().map(|(i, w)| w * found[n - 2 + i] * s.normal[i].0).sum();
    Some(force.abs() / (6.0 * PI))
}
