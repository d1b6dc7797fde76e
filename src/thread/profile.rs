//! What the profile of the inflow, that of a long bore, does in the thread behind the nozzle.
//!
//! Equation: liquid comes out of a long bore as a parabola, u (2 - 2 r^2/h^2), and goes on as a plug.
//! Its viscous stresses, in a thread with velocities u + w (r^2 - h^2/2) along it, are a tension pi mu_i h^4 w_z/2 of the section beside
//! Trouton's, by which the thread swells. It decays as the parabola does, and its integral is that of the swell S of a creeping jet
//! without surface tension (3 pi mu_i a u_z = -T_r with pi a u = Q integrates to ln(u/u_0) = -2 ln S):
//!   T_r = 6 pi ln(S) n Oh u_0 kappa exp(-kappa z),   1/kappa = 1/k + u_0/(j_1^2 n_0 Oh),
//! n the viscosity over that at rest at the shear rate of what is left of the parabola, n_0 that at the nozzle (1 of a liquid that does not
//! thin): gamma^2 = (32/3) u_0^2 exp(-2 kappa z), the square 16 u_0^2 r^2 of the parabola's shear rate, weighed by the power that it spends.
//! Its momentum beyond that of the mean velocity, which a jet takes across the drop that it fills, is a tension T_p = -pi E ([`super::crossing`]).
//! What either does to the mean flow is counted with what comes through the inlet.
//! Symbols: a = h^2, u mean velocity, u_0 that of the nozzle, all scaled (see [`super`]); S radius of that jet far out over the
//! nozzle's, k rate at which it comes to it (over R).
//! Source: moments of the axial momentum equation (own derivation). S = 1.127: Nickell, Tanner & Caswell 1974, J. Fluid Mech. 65, 189
//! (13 %; recalled from memory), and own boundary elements (`validation/reference/stokes_bem/swell.py`), which give k too; a parabola that
//! went on to the nozzle's plane and evened out behind it alone would give 1.18 (ln S = 1/6), but it begins to do so within the bore. Where
//! diffusion is the slower, j_1^2 Oh/u_0, its length is added. No drop guided either number.
//! Holds for: bores longer than 0.06 Re D (common practice), quasi-steady flow in them. T_r takes a bore as wide as the rim on which the liquid
//! hangs (an outer rim: that of a bore as wide), and of a liquid that thins still the parabola, and the S of one that does not; no row
//! judges it there. u_0 is frozen over a step.

use super::body::{Body, End};
use super::crossing::ZEROS;
use super::force::{Physics, Work};
use super::jacobian::Derivatives;
use crate::device::thinning::Carreau;
use crate::math::exponential_in_line;
use std::f64::consts::PI;

/// ln S of the published S = 1.127 (0.11956).
const LOG_SWELL: f64 = 0.119_6;
/// k (1/R): own Stokes flow's radii over those of the thread without T_r approach 1.127 by 2.0 between 0.5 and 1.5 R (1.7 at 0.25 R, 2.3 at 2 R).
const CREEPING: f64 = 2.0;
/// Mean square of the parabola's shear rate over u_0^2, by power: integral of (4 r)^4 r over that of (4 r)^2 r.
const SHEAR: f64 = 32.0 / 3.0;
/// Beyond this many lengths of decay nothing is left.
const FAR: f64 = 40.0;

/// kappa (1/R), `entry` the velocity at the nozzle.
fn forgetting(ohnesorge: f64, entry: f64) -> f64 {
    (1.0 / CREEPING + entry / (ZEROS[0] * ZEROS[0] * ohnesorge)).recip()
}

/// T_r along the thread.
struct Evening<'a> {
    thinning: Option<&'a Carreau>,
    entry: f64,
    kappa: f64,
    /// 6 pi ln(S) Oh u_0 kappa.
    at_rest: f64,
}

impl Evening<'_> {
    fn new(physics: &Physics, entry: f64) -> Evening<'_> {
        let thinning = physics.rheology.as_ref().and_then(|r| r.thinning.as_ref());
        let slower = viscosity(thinning, entry, 1.0).0;
        let kappa = forgetting(physics.ohnesorge * slower, entry);
        Evening { thinning, entry, kappa, at_rest: 6.0 * PI * LOG_SWELL * physics.ohnesorge * entry * kappa }
    }

    /// T_r and its derivative by place; nothing far from the nozzle.
    fn tension(&self, z: f64) -> Option<(f64, f64)> {
        if self.kappa * z >= FAR {
            return None;
        }
        let share = exponential_in_line(-self.kappa * z);
        let (n, slope) = viscosity(self.thinning, self.entry, share);
        let at_rest = self.at_rest * share;
        Some((at_rest * n, -self.kappa * at_rest * (n + slope)))
    }
}

/// n and rate dn/d rate where `share` of the parabola's shear is left.
fn viscosity(thinning: Option<&Carreau>, entry: f64, share: f64) -> (f64, f64) {
    thinning.map_or((1.0, 0.0), |law| law.viscosity(SHEAR * (law.time * entry * share).powi(2)))
}

/// Add the forces of the profile at (z, u) to `work.force`, and their derivatives where asked for; returns their power on the inner
/// liquid.
pub fn add_forces(
    physics: &Physics,
    body: &Body,
    entry: f64,
    (z, u): (&[f64], &[f64]),
    work: &mut Work,
    mut derivatives: Option<&mut Derivatives>,
) -> f64 {
    let n = body.v.len();
    let (moves, passes) = (&work.follow.moves[1..], &work.follow.passes[1..]);
    let evening = Evening::new(physics, entry);
    let mut power = 0.0;
    for j in 0..n {
        let (d, v, middle) = (work.d[j + 1], work.v[j], 0.5 * (z[j] + z[j + 1]));
        let area = v / (PI * d);
        let [excess, by_a, by_u] = work.sections[j].excess(area, 0.5 * (u[j] + u[j + 1]));
        let (viscous, by_z) = evening.tension(middle).unwrap_or_default();
        let tension = viscous - PI * excess;
        let free = j + 1 == n && body.right == End::Outflow;
        work.force[j] += tension;
        // the outer liquid that goes along takes its part
        power += if j > 0 { tension * u[j] / work.ratio(j) } else { 0.0 };
        if !free {
            work.force[j + 1] -= tension;
            power -= tension * u[j + 1] / work.ratio(j + 1);
        }
        if let Some(derivatives) = derivatives.as_deref_mut() {
            let by = |k: usize, sign: f64| {
                let moved = moves[k] * (sign * PI * by_a * area / d + 0.5 * by_z);
                moved + sign * passes[k] * by_a / d
            };
            derivatives.add_tension(j, [by(j, -1.0), by(j + 1, 1.0)], -0.5 * PI * by_u, free);
        }
    }
    power
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::thread::inflow::Inflow;
    use crate::thread::rheology::Rheology;
    use approx::assert_relative_eq;

    fn liquid(ohnesorge: f64, thinning: Option<Carreau>) -> Physics {
        let rheology = thinning.map(|law| Rheology { thinning: Some(law), ..Rheology::default() });
        let inflow = Inflow::steady(0.5);
        Physics { ohnesorge, bond: 0.0, artificial: 0.5, inflow, outer: None, rheology, parabolic: false }
    }

    // Limits of Carreau's law: slow it is the liquid at rest, fast one of its least viscosity; between them the viscosity comes back along
    // the thread as the parabola evens out.
    #[test]
    fn theory_a_thinning_liquid_lies_between_its_newtonian_limits() {
        let at = |physics: &Physics, z: f64| Evening::new(physics, 0.5).tension(z).expect("near");
        let law = |time: f64| Some(Carreau { exponent: 0.4, time, infinite: 0.2 });
        for z in [0.0, 0.4, 1.5] {
            let ends = [at(&liquid(0.6, None), z), at(&liquid(0.12, None), z)];
            for (time, (value, slope)) in [(1e-9, ends[0]), (1e20, ends[1])] {
                let found = at(&liquid(0.6, law(time)), z);
                assert_relative_eq!(found.0, value, max_relative = 1e-9);
                assert_relative_eq!(found.1, slope, max_relative = 1e-9);
            }
            let physics = liquid(0.6, law(3.0));
            let slope = at(&physics, z).1;
            let numeric = (at(&physics, z + 1e-5).0 - at(&physics, z - 1e-5).0) / 2e-5;
            assert_relative_eq!(slope, numeric, max_relative = 1e-8);
        }
        let physics = liquid(0.6, law(3.0));
        let share = |z: f64| {
            at(&physics, z).0 / (Evening::new(&physics, 0.5).at_rest * (-Evening::new(&physics, 0.5).kappa * z).exp())
        };
        assert!(share(0.0) < 0.6 && share(4.0) > 0.95, "{} {}", share(0.0), share(4.0));
    }
}
