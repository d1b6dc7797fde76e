//! Energy of a body, in units of gamma R^2.
//!
//! Equation: kinetic sum m u^2/2, surface 2 pi integral of sqrt(a + a'^2/4) dz (without the disc at a nozzle or a mirror),
//! potential -Bo integral of z dV. Over a run their sum changes by the powers of [`super::power`], by what cuts and new
//! meshes bring, and by nothing else.
//! Source: integration by parts of the thread equations; checked in the tests by runs whose residual falls with the mesh.
//! Holds for: full curvature; the surface energy is itself a second-order approximation.

use super::body::Body;
use super::cells::Triple;
use crate::math::Pinned as _;
use std::f64::consts::PI;
use std::ops::{Add, Mul, Range, Sub};

/// The three forms of energy.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Energy {
    pub kinetic: f64,
    pub surface: f64,
    pub potential: f64,
}

impl Energy {
    /// Their sum.
    pub fn total(&self) -> f64 {
        self.kinetic + self.surface + self.potential
    }
}

impl Add for Energy {
    type Output = Energy;
    fn add(self, other: Energy) -> Energy {
        Energy {
            kinetic: self.kinetic + other.kinetic,
            surface: self.surface + other.surface,
            potential: self.potential + other.potential,
        }
    }
}

impl Mul<f64> for Energy {
    type Output = Energy;
    fn mul(self, factor: f64) -> Energy {
        Energy { kinetic: factor * self.kinetic, surface: factor * self.surface, potential: factor * self.potential }
    }
}

impl Sub for Energy {
    type Output = Energy;
    fn sub(self, other: Energy) -> Energy {
        self + other * -1.0
    }
}

/// Energy of a body under gravity `bond`.
pub fn energy(body: &Body, bond: f64) -> Energy {
    energy_of(body, 0..body.cells(), bond)
}

/// Energy of some of its cells.
pub fn energy_of(body: &Body, cells: Range<usize>, bond: f64) -> Energy {
    let n = body.cells();
    let mut sum = Energy::default();
    let (first, range) = (cells.start, cells.clone());
    let mut own = body.cell(first);
    let mut left = if first == 0 { body.left.beyond(own) } else { body.cell(first - 1) };
    for j in cells {
        let right = if j + 1 < n { body.cell(j + 1) } else { body.right.beyond(own) };
        let p = Triple { dl: left.0, d: own.0, dr: right.0, al: left.1, a: own.1, ar: right.1 }.parabola();
        let off = own.0 * 0.5 * 0.6f64.sqrt();
        let density = |x: f64| {
            let slope = p.c1 + 2.0 * p.c2 * x;
            (p.at(x) + 0.25 * slope * slope).max(0.0).sqrt()
        };
        sum.surface += 2.0 * PI * own.0 * (5.0 * density(-off) + 8.0 * density(0.0) + 5.0 * density(off)) / 18.0;
        sum.kinetic += 0.25 * body.v[j] * (body.u[j] * body.u[j] + body.u[j + 1] * body.u[j + 1]);
        sum.potential -= bond * body.v[j] * body.middle(j);
        (left, own) = (own, right);
    }
    sum.surface += super::laden::stored(body, range);
    sum
}

/// Excess of a free body over a sphere of its volume that moves with its mean velocity, over that sphere's surface
/// energy: motion within the body and surface beyond the sphere's.
pub fn excess(body: &Body) -> f64 {
    let volume = body.volume();
    let sphere = (36.0 * PI * volume * volume).cube_root();
    let now = energy(body, 0.0);
    let mean = body.momentum() / volume;
    (now.kinetic - 0.5 * volume * mean * mean + now.surface - sphere) / sphere
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::thread::body::End;
    use approx::assert_relative_eq;

    #[test]
    fn theory_a_sphere_has_no_excess() {
        let z: Vec<f64> = (0..=80).map(|i| 2.6 * i as f64 / 80.0).collect();
        let body = Body::from_profile(z, End::Tip, End::Tip, |z| z * (2.6 - z), |_| 0.4);
        assert_relative_eq!(energy(&body, 0.0).surface, 4.0 * PI * 1.69, max_relative = 1e-9);
        assert!(excess(&body).abs() < 1e-9);
    }
}
