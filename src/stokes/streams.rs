//! The flow of one liquid through a device, without a thread: how much of it goes within circles about the axis.
//!
//! Equation: with lambda = 1, u = u_0 - G_W q - D_P u_P and, of axisymmetric flow, Q(z, r) = 2 pi int_0^r u_z r dr:
//!   Q = pi U (r^2 - r^4/(2 R_w^2)) - sum of the flows through the disk of every force on the glass ([`super::ring`])
//! less that of the plug's double layer, T_zzz = -6 dz^3/R^5, which is (3/2) int u_P r_P dr_P (z - z_P)^3 int int s ds
//! dphi/R^5 over the disk; with p = r_P cos phi, t = s - p and R^2 = t^2 + D the integral by s is elementary,
//!   int (t + p) dt/(t^2 + D)^(5/2) = -1/(3 R^3) + p t (1/R^2 + 2/D)/(3 D R).
//! The flow is linear in what is pumped: one matrix, two right-hand sides.
//!
//! Symbols: lengths over R; z = 0 the tip's plane; q strength on the glass W, u_P Poiseuille flow on the plug P.
//!
//! Source: as [`super::flow`]; the integrals are elementary.
//!
//! Holds for: no inertia; z of the circle in front of the plug by a bore's radius or more.

use super::device::{Device, PLUG, Panels};
use super::flow::{Undisturbed, Walls, known, poiseuille};
use super::layer::{Boundary, Targets, layers, through_disks};
use super::rule::gauss;
use crate::math::Pinned as _;
use nalgebra::DMatrix;
use std::f64::consts::PI;

/// Points along the plug's radius and round half of it: its integrand is smooth, three bores' radii away.
const ALONG: usize = 6;
const ROUND: usize = 10;

/// Unit flow of the inner liquid and unit flow of the outer one, each alone.
#[derive(Debug, Clone)]
pub struct Streams {
    boundary: Boundary,
    undisturbed: [Undisturbed; 2],
    /// Strength on the glass (columns: inner and outer flow).
    strength: DMatrix<f64>,
    bore: f64,
}

impl Streams {
    /// Solves both; `None` where the glass is singular.
    pub fn new(device: &Device, panels: Panels) -> Option<Streams> {
        let of = |inner_flow: f64, outer_flow: f64| -> Walls {
            Device { ratio: 1.0, inner_flow, outer_flow, stream: 0.0, ..device.clone() }
                .walls(device.first_reach(), panels)
        };
        let (inner, outer) = (of(1.0, 0.0), of(0.0, 1.0));
        let (g, _) = layers(inner.boundary.targets(), &inner.boundary, false);
        let right = DMatrix::from_columns(&[known(&inner).0, known(&outer).0]);
        Some(Streams {
            strength: g.lu().solve(&right)?,
            undisturbed: [inner.undisturbed, outer.undisturbed],
            boundary: inner.boundary,
            bore: device.bore,
        })
    }

    /// Nodes on the glass.
    pub fn nodes(&self) -> usize {
        self.boundary.nodes()
    }

    /// Flow within circles of these radii at these places: of unit inner flow, of unit outer flow.
    pub fn within(&self, z: &[f64], r: &[f64]) -> Vec<[f64; 2]> {
        let of_forces = through_disks(Targets::away(z, r), &self.boundary);
        let forces = [0, 1].map(|k| &of_forces * self.strength.column(k));
        let plug = Plug::new(self.bore);
        let undisturbed = |k: usize, r: f64| match self.undisturbed[k] {
            Undisturbed::Tube(axis, wall) => PI * axis * (r * r - 0.5 * (r * r / wall).powi(2)),
            Undisturbed::Uniform(u) => PI * u * r * r,
            Undisturbed::Rest => 0.0,
        };
        (0..z.len())
            .map(|i| {
                let own = plug.through(z[i], r[i]);
                [undisturbed(0, r[i]) - forces[0][i] + own, undisturbed(1, r[i]) - forces[1][i]]
            })
            .collect()
    }
}

/// Points on the plug, for a unit flow.
struct Plug {
    z: f64,
    /// Radius, and (3/2) u_P r dr dphi.
    rings: Vec<(f64, f64)>,
    cosines: Vec<f64>,
}

impl Plug {
    fn new(bore: f64) -> Plug {
        let rule = gauss(ALONG);
        let turn = 2.0 * PI / ROUND as f64;
        let ring = |(t, w): (&f64, &f64)| {
            let r = bore * t;
            (r, 1.5 * turn * poiseuille(1.0, bore, r) * r * bore * w)
        };
        Plug {
            z: -PLUG * bore,
            rings: rule.t.iter().zip(&rule.w).map(ring).collect(),
            cosines: (0..ROUND).map(|i| (PI * (i as f64 + 0.5) / ROUND as f64).cosine()).collect(),
        }
    }

    /// What of its double layer goes through the disk of radius `r` at `z`.
    fn through(&self, z: f64, r: f64) -> f64 {
        let dz = z - self.z;
        let mut sum = 0.0;
        for (ring, weight) in &self.rings {
            for cos in &self.cosines {
                let p = ring * cos;
                let d = dz * dz + ring * ring - p * p;
                let primitive = |t: f64| {
                    let square = t * t + d;
                    (p * t * (1.0 / square + 2.0 / d) / d - 1.0 / square) / (3.0 * square.sqrt())
                };
                // the mean over directions across the disk: those of a whole turn lie on both sides
                sum += weight * (primitive(r - p) - primitive(-p));
            }
        }
        dz.powi(3) * sum
    }
}
