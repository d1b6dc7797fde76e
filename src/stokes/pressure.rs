//! Pressure of either liquid at a point, from what lies on the boundaries.
//!
//! Equation: with mu_o = 1 and X from the point to the source, R = |X|,
//!   p = p_0 + (1/4 pi) int X.(f, q)/R^3 dS + ((1 - lambda)/2 pi) int_S (3 X.u X.n/R^5 - u.n/R^3) dS - (lambda/2 pi) int_P (the same of u_P),
//! p_0 = -4 U z/R_w^2 of the undisturbed flow; outside it is the outer liquid's, inside the inner one's.
//!
//! Symbols: as in [`super::flow`]; pressure over gamma/R, hydrostatics left out.
//!
//! Source: pressure of point force and stresslet: Pozrikidis (1992), ch. 2 (recalled; held by the tests).
//!
//! Holds for: points half an element or more away from every boundary.

use super::flow::{Fixed, Undisturbed, joined, traction};
use super::interface::Interface;
use super::layer::{Boundary, Density};
use super::rule::{gauss, slope};
use nalgebra::DVector;
use std::f64::consts::PI;

/// Points along an element and round its ring.
const ALONG: usize = 12;
const ROUND: usize = 48;

/// The single layer's `single` and the double layer's `double` (both z and r in turn), each with its factor.
fn of_layers(at: (f64, f64), source: &Boundary, single: Option<&DVector<f64>>, double: Option<&DVector<f64>>) -> f64 {
    let rule = gauss(ALONG);
    let mut sum = 0.0;
    for element in &source.elements {
        for (t, w) in rule.t.iter().zip(&rule.w) {
            let (z, r) = element.point(*t);
            let (zt, rt) = (slope(&element.z, *t), slope(&element.r, *t));
            let speed = (zt * zt + rt * rt).sqrt();
            let weight = w * if source.density == Density::PerLength { speed } else { 1.0 };
            let (nz, nr) = (-rt / speed, zt / speed);
            let shape = element.shape_at(*t);
            let density = |of: &DVector<f64>| {
                (0..4).fold((0.0, 0.0), |(a, b), m| {
                    let share = shape[m];
                    let node = 2 * element.node[m];
                    (a + share * element.sign[m][0] * of[node], b + share * element.sign[m][1] * of[node + 1])
                })
            };
            let (f, u) = (single.map(density), double.map(density));
            let round = 2.0 * PI * r / ROUND as f64;
            for i in 0..ROUND / 2 {
                let cos = (2.0 * PI * (i as f64 + 0.5) / ROUND as f64).cos();
                // X.e for e along the source's radius; R^2 by the law of cosines
                let (dz, out) = (z - at.0, r - at.1 * cos);
                let square = dz * dz + r * r + at.1 * at.1 - 2.0 * r * at.1 * cos;
                let cube = 1.0 / (square * square.sqrt());
                let mut value = 0.0;
                if let Some((fz, fr)) = f {
                    value += (dz * fz + out * fr) * cube / (4.0 * PI);
                }
                if let Some((uz, ur)) = u {
                    let (xu, xn, un) = (dz * uz + out * ur, dz * nz + out * nr, uz * nz + ur * nr);
                    value += (3.0 * xu * xn / square - un) * cube / (2.0 * PI);
                }
                sum += 2.0 * round * weight * value;
            }
        }
    }
    sum
}

/// Pressure at points where the interfaces move with `velocity` (z and r in turn).
pub fn pressure(
    fixed: &Fixed,
    surfaces: &[Interface],
    bond: f64,
    velocity: &DVector<f64>,
    points: &[(f64, f64)],
) -> Vec<f64> {
    let ratio = fixed.walls.ratio;
    let own = joined(surfaces);
    let traction = traction(surfaces, bond);
    let moved = velocity * (1.0 - ratio);
    let strength = fixed.strength_with(&own, &traction, &moved);
    points
        .iter()
        .map(|at| {
            let undisturbed = match fixed.walls.undisturbed {
                Undisturbed::Tube(axis, wall) => -4.0 * axis * at.0 / (wall * wall),
                Undisturbed::Rest | Undisturbed::Uniform(_) => 0.0,
            };
            let plug =
                fixed.plug().map_or(0.0, |(boundary, strength)| ratio * of_layers(*at, boundary, None, Some(strength)));
            undisturbed
                + of_layers(*at, &own, Some(&traction), Some(&moved))
                + of_layers(*at, &fixed.walls.boundary, Some(&strength), None)
                - plug
        })
        .collect()
}
