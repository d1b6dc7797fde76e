//! Power by cause, at one state: what the budget of [`super::energy`] adds up.
//!
//! Equation: with F_i the force on node i without the momentum that liquid carries along, and I_i/m_i its inertia over its mass,
//!   inlet    u_0 (2 pi g cos phi - T_0 - m_0 (Bo - du_0/dt)) + Q (u_0^2/2 + e), and what the inflow's profile does ([`super::profile`])
//!   outflow  T u at the last node of a thread that goes on        the thread beyond pulls back just as hard
//!   viscous, artificial   - sum T du of each                      see [`super::force`]
//!   drag, stress, film    sum F_i u_i of each                     see [`super::outer`]; a pinned node does no work. To stress, what the
//!                                                                 stream stretches of a polymer itself ([`super::polymer`])
//!   added    - sum (1 - m_i/I_i) F_i u_i                          what the outer liquid's own acceleration takes
//! phi is the surface's angle to the axis at the nozzle, g the tension there over that of a clean surface, e what surface that enters
//! brings ([`super::laden::entering`]), T_0 the whole tension of the first cell, m_0 its half: liquid that enters pushes
//! with its pressure Q K_0 less the viscous part of T, and where the contact line is pinned 2 pi cos phi = T + pi K_0 for the capillary
//! part, so that the curvature, which no mesh knows well in a layer, drops out.
//! Source: integration by parts of the thread equations; a first cell's tension is exact in neither, but in both alike, so that what is
//! wrong with it cancels to second order.
//! Holds for: full curvature, second order in the cells.

use super::body::{Body, End};
use super::cells::Triple;
use super::force::{Physics, Work, dissipation};
use super::jacobian::first_tension;
use super::laden;
use std::f64::consts::PI;
use std::ops::{Add, Mul};

/// Power put into a body by each cause, or energy over a time (negative: taken out).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Powers {
    pub inlet: f64,
    pub outflow: f64,
    pub viscous: f64,
    pub artificial: f64,
    pub drag: f64,
    pub stress: f64,
    pub film: f64,
    pub added: f64,
    /// Already in the potential energy; for the turnover.
    pub gravity: f64,
}

impl Powers {
    /// The powers at the state of the last forces, `t` its time; before the carried momentum is added.
    pub fn at(physics: &Physics, body: &Body, t: f64, u: &[f64], work: &Work) -> Powers {
        let n = work.v.len();
        let [mut viscous, artificial] = dissipation(physics, u, work);
        let mut drawn = 0.0;
        if let Some(rheology) = &physics.rheology {
            (viscous, drawn) = laden::dissipation(rheology, physics.ohnesorge, body, u, work);
            viscous -= laden::slip(rheology, u, work);
        }
        if work.fields.active() {
            (viscous, drawn) = (work.fields.dissipated, work.fields.inlet);
        }
        let mut powers = Powers { viscous: -viscous, artificial: -artificial, ..Powers::default() };
        if body.left == End::Nozzle {
            powers.inlet = inlet(physics, t, u, work) + drawn;
        }
        if body.right == End::Outflow {
            powers.outflow = work.tension[n - 1] * u[n];
        }
        if physics.bond != 0.0 {
            powers.gravity = physics.bond * work.mass.iter().zip(u).map(|(m, u)| m * u).sum::<f64>();
        }
        if physics.outer.is_some() {
            (powers.drag, powers.stress, powers.film) = (work.outer.drag, work.outer.pull, work.outer.film);
            if physics.rheology.is_some_and(|rheology| rheology.polymer.is_some()) {
                powers.stress += work.polymer.driven(work);
            }
            let first = usize::from(body.left.is_fixed());
            let nodes = work.force.iter().zip(u).zip(&work.added).skip(first);
            powers.added = -nodes.map(|((force, u), ratio)| (1.0 - 1.0 / ratio) * force * u).sum::<f64>();
        }
        powers
    }

    /// What changes the energy: all but gravity.
    pub fn net(&self) -> f64 {
        let outer = self.drag + self.stress + self.film + self.added;
        self.inlet + self.outflow + self.viscous + self.artificial + outer
    }

    /// Energy turned over: absolute amounts, what the outer liquid does counted together.
    pub fn turned_over(&self) -> f64 {
        let outer = self.drag + self.stress + self.film + self.added;
        [self.inlet, self.outflow, self.viscous, self.artificial, outer, self.gravity].iter().map(|p| p.abs()).sum()
    }

    /// In a fixed order, for a checkpoint.
    pub fn to_array(self) -> [f64; 9] {
        let Powers { inlet, outflow, viscous, artificial, drag, stress, film, added, gravity } = self;
        [inlet, outflow, viscous, artificial, drag, stress, film, added, gravity]
    }

    /// Back from [`Powers::to_array`].
    pub fn from_array([inlet, outflow, viscous, artificial, drag, stress, film, added, gravity]: [f64; 9]) -> Powers {
        Powers { inlet, outflow, viscous, artificial, drag, stress, film, added, gravity }
    }
}

impl Add for Powers {
    type Output = Powers;
    fn add(self, other: Powers) -> Powers {
        let (a, b) = (self.to_array(), other.to_array());
        Powers::from_array(std::array::from_fn(|k| a[k] + b[k]))
    }
}

impl Mul<f64> for Powers {
    type Output = Powers;
    fn mul(self, factor: f64) -> Powers {
        Powers::from_array(self.to_array().map(|x| factor * x))
    }
}

/// Tension of the whole thread where it begins is that of the first cell less what its half of that cell weighs and gains in momentum.
fn inlet(physics: &Physics, t: f64, u: &[f64], work: &Work) -> f64 {
    let u0 = u[0];
    let (tension, brought) = physics.rheology.as_ref().map_or((1.0, 0.0), |rheology| laden::entering(rheology, work));
    let rim = 2.0 * PI * tension * cosine_at_nozzle(&Triple::around(&work.d, &work.a, 0));
    let pull = work.tension[0] + work.mass[0] * (physics.bond - physics.inflow.acceleration(t));
    u0 * (rim - pull + PI * (brought + 0.5 * u0 * u0))
}

/// What the last stage, that moves nodes by `ways` and changes velocities by `gains` to the places `z` and the volumes in `work`, adds to
/// the inlet's power. The state in which the last forces stand is off by the step's error, little in shape, but much in curvature where
/// a drop fills in steps that are long beside a capillary wave's time.
pub fn inlet_of_last_stage(physics: &Physics, z: &[f64], u0: f64, [ways, gains]: [&[f64]; 2], work: &Work) -> f64 {
    if z.len() < 3 {
        return 0.0;
    }
    let before = Triple::around(&work.d, &work.a, 0);
    let (d, dr) = (z[1] - z[0], z[2] - z[1]);
    let (a, ar) = (work.v[0] / (PI * d), work.v[1] / (PI * dr));
    let after = Triple { d, dr, a, ar, ..before };
    let tension = physics.rheology.as_ref().map_or(1.0, |rheology| laden::entering(rheology, work).0);
    let rim = 2.0 * PI * tension * (cosine_at_nozzle(&after) - cosine_at_nozzle(&before));
    let polymer = physics.rheology.and_then(|rheology| rheology.polymer);
    let chains = polymer.map_or(0.0, |p| work.polymer.first_tension(&p, p.modulus(physics.ohnesorge), (a, d)));
    u0 * (rim - first_tension(work, ways, gains) - chains)
}

/// Put `told`, the forces of the last stage without the carried momentum, into `work`, but those of the fields at the velocities `u` that the step
/// accepts. With the step's own matrices, which are linear, what it accepts lies on the thread's slow course. The last stage is off it by
/// the step's error, which thin liquid beside the thread makes a power of any size.
pub fn tell_fields(u: &[f64], told: &mut Vec<f64>, work: &mut Work) {
    let Work { fields, force, outer, .. } = work;
    std::mem::swap(force, told);
    fields.take_forces(force);
    fields.add_forces(u, force);
    outer.replaced(fields.driving);
}

/// cos of the angle between surface and axis at the nozzle, from the first cell.
fn cosine_at_nozzle(first: &Triple) -> f64 {
    let p = first.parabola();
    // a' = 2 h h', and h = 1
    let slope = 0.5 * (p.c1 - p.c2 * first.d);
    (1.0 + slope * slope).sqrt().recip()
}

#[cfg(test)]
mod tests {
    use super::super::energy::energy;
    use super::*;
    use approx::assert_relative_eq;

    // Two thirds of a sphere of radius 1.5 on a nozzle of radius 1: the sine of the angle is that of the nozzle, sqrt(1.5^2 - 1)/1.5, so
    // that the cosine is 1/1.5; on an uneven mesh.
    #[test]
    fn theory_angle_at_the_nozzle_of_a_spherical_drop() {
        let (r, back) = (1.5, (1.5f64 * 1.5 - 1.0).sqrt());
        let end = r + back;
        let z: Vec<f64> = (0..=30).map(|i| f64::from(i) / 30.0).map(|x| end * x * (0.4 + 0.6 * x)).collect();
        let body = Body::from_profile(z, End::Nozzle, End::Tip, |z| r * r - (z - back) * (z - back), |_| 0.0);
        let mut work = Work { v: body.v.clone(), ..Work::default() };
        work.geometry(&body, &body.z).expect("in order");
        assert_relative_eq!(cosine_at_nozzle(&Triple::around(&work.d, &work.a, 0)), 1.0 / r, max_relative = 1e-9);
    }

    /// What of the surface's energy is made and not paid for, relative to it, where liquid comes in at u(0) and moves on with u.
    fn unpaid(body: &Body) -> f64 {
        let mut work = Work { v: body.v.clone(), ..Work::default() };
        work.geometry(body, &body.z).expect("in order");
        let (n, u) = (body.cells(), &body.u);
        let tension: Vec<f64> = (0..n).map(|j| Triple::around(&work.d, &work.a, j).parabola().tension()).collect();
        // a thread that goes on is pulled just as hard from beyond
        let beyond = if body.right == End::Outflow { tension[n - 1] } else { 0.0 };
        let pulled =
            (1..n).map(|i| u[i] * (tension[i] - tension[i - 1])).sum::<f64>() - u[n] * (tension[n - 1] - beyond);
        let rim = 2.0 * PI * cosine_at_nozzle(&Triple::around(&work.d, &work.a, 0));
        let paid = u[0] * (rim - tension[0]) - pulled + u[n] * beyond;
        let moved = |dt: f64| {
            let mut moved = body.clone();
            (1..=n).for_each(|i| moved.z[i] += dt * u[i]);
            moved.v[0] += dt * PI * u[0];
            energy(&moved, 0.0).surface
        };
        paid / ((moved(1e-6) - moved(-1e-6)) / 2e-6) - 1.0
    }

    // Energy by geometry alone: liquid that comes in at u_0 and moves on with any u changes the surface's energy by what the rim pays,
    // u_0 (2 pi cos - T_0), less what the tensions do on the nodes, - sum u_i (T_i - T_(i-1)). The contact line stays where (a u)' = 0
    // at the nozzle. A sphere of radius 1.5; a layer of a quarter of R behind the nozzle.
    #[test]
    fn theory_the_rim_pays_for_the_surface_that_liquid_makes() {
        let mesh = |cells: u32, length: f64| (0..=cells).map(|i| length * f64::from(i) / f64::from(cells)).collect();
        let (r, back) = (1.5, (1.5f64 * 1.5 - 1.0).sqrt());
        let sphere = |cells: u32| {
            let u = |z: f64| 0.4 * (-2.0 * back * z).exp() + 0.1 * z * z;
            let area = |z: f64| r * r - (z - back) * (z - back);
            unpaid(&Body::from_profile(mesh(cells, r + back), End::Nozzle, End::Tip, area, u)).abs()
        };
        let layer = |cells: u32| {
            let u = |z: f64| 0.4 * (-2.4 * z).exp() + 0.3 * z * z;
            let area = |z: f64| (1.3 - 0.3 * (-4.0 * z).exp()).powi(2);
            unpaid(&Body::from_profile(mesh(cells, 3.0), End::Nozzle, End::Outflow, area, u)).abs()
        };
        for (coarse, fine) in [(sphere(40), sphere(80)), (layer(40), layer(80))] {
            assert!(coarse < 0.01 && fine < 0.35 * coarse, "{coarse} {fine}");
        }
    }
}
