//! Thread of one viscous liquid in another, unbounded or on the axis of a tube, both without inertia.
//!
//! Equation: in each liquid `u_r = U(r) cos kz`, `u_z = W(r) sin kz`, `W = -(r U)'/(k r)`; U is made of I1(kr), r I2(kr)
//! (thread and gap) and K1(kr), r K0(kr) (gap). At the interface U, W and the tangential stress agree, the normal stress jumps
//! by (1 - k^2) gamma/h per unit perturbation; at the wall U = W = 0. The growth rate is `s = U(h)` for unit perturbation.
//! The base flow of the two liquids changes the phase speed but not the growth rate: without inertia the disturbance obeys
//! linear equations in which the velocity jump that base shear makes is a quarter wave out of phase with the perturbation.
//!
//! Symbols: h thread radius, k wavenumber times h, lambda = mu_i/mu_o, w = R_w/h; s in gamma/(mu_o h).
//!
//! Source: Tomotika 1935, Proc. R. Soc. Lond. A 150, 322 (unbounded, 4 conditions); ratio 1 closed form: Stone & Brenner 1996,
//! J. Fluid Mech. 318, 373; in a tube (6 conditions): the same equations with a no-slip wall, own derivation.
//!
//! Holds for: small perturbations, no inertia in either liquid, uniform thread. Conditions are solved in double precision with
//! columns scaled by their exponentials: 1e-9 for w >= 1.05, 1e-6 down to w = 1.005 (tests).

use super::{Mode, bessel, roots};
use crate::math::Pinned as _;
use nalgebra::{SMatrix, SVector};

type Matrix = SMatrix<f64, 6, 6>;
type Vector = SVector<f64, 6>;

/// Two viscous liquids about a thread of radius 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StokesThread {
    /// lambda = mu_i/mu_o.
    pub viscosity_ratio: f64,
    /// R_w/h, if there is a wall.
    pub wall: Option<f64>,
}

/// What one elementary solution has at a radius: u_r, u_z and the stresses over the viscosity.
struct Elementary {
    radial: f64,
    axial: f64,
    shear: f64,
    normal: f64,
}

impl StokesThread {
    /// Growth rate in gamma/(mu_o h) at wavenumber k (over h); negative above k = 1.
    pub fn growth(&self, k: f64) -> f64 {
        self.mobility(k) * (1.0 - k * k)
    }

    /// Growth rate over 1 - k^2: radial velocity of the interface for a unit jump of normal stress.
    pub fn mobility(&self, k: f64) -> f64 {
        self.response(k, Vector::new(0.0, 0.0, 0.0, 1.0, 0.0, 0.0)).unwrap_or(f64::NAN)
    }

    /// Frequency shift by the base flow, over the jump of base shear rates (U_i' - U_o') at the interface: the radial velocity
    /// for a unit jump of axial velocity.
    pub fn shear_response(&self, k: f64) -> f64 {
        self.response(k, Vector::new(0.0, 1.0, 0.0, 0.0, 0.0, 0.0)).unwrap_or(f64::NAN)
    }

    /// The fastest mode.
    pub fn fastest(&self) -> Mode {
        // One hump between 0 and 1, at small k where one liquid is much more viscous: search in ln k.
        let sections = 60;
        let at = |i: usize| (1e-4f64.logarithm() * (1.0 - i as f64 / sections as f64)).exponential();
        let best = (1..sections).max_by(|&a, &b| self.growth(at(a)).total_cmp(&self.growth(at(b)))).unwrap_or(1);
        let wavenumber = roots::maximum(|k| self.growth(k), at(best - 1), at(best + 1).min(0.999_9));
        Mode { wavenumber, rate: self.growth(wavenumber) }
    }

    /// U at the interface for a right-hand side of the conditions (radial, axial, shear, normal at the interface; wall).
    fn response(&self, k: f64, side: Vector) -> Option<f64> {
        let (mut matrix, mut side) = (self.conditions(k), side);
        for i in 0..6 {
            let scale = 1.0 / matrix.row(i).amax();
            matrix.row_mut(i).scale_mut(scale);
            side[i] *= scale;
        }
        let mut columns = Vector::zeros();
        for j in 0..6 {
            columns[j] = 1.0 / matrix.column(j).amax();
            matrix.column_mut(j).scale_mut(columns[j]);
        }
        let factors = matrix.full_piv_lu();
        let mut unknown = factors.solve(&side)?;
        // One refinement takes what elimination lost.
        unknown += factors.solve(&(side - matrix * unknown))?;
        let [first, second] = inner(k);
        Some(first.radial * unknown[0] * columns[0] + second.radial * unknown[1] * columns[1])
    }

    /// Six conditions (rows) on six elementary solutions (columns): two in the thread, four outside.
    fn conditions(&self, k: f64) -> Matrix {
        let mut matrix = Matrix::zeros();
        for (column, solution) in inner(k).iter().enumerate() {
            place(&mut matrix, column, solution, self.viscosity_ratio, -1.0);
        }
        for (column, solution) in decaying(k, 1.0).iter().enumerate() {
            place(&mut matrix, 2 + column, solution, 1.0, 1.0);
        }
        match self.wall {
            Some(wall) => {
                for (column, solution) in growing(k, 1.0, wall).iter().enumerate() {
                    place(&mut matrix, 4 + column, solution, 1.0, 1.0);
                }
                let at_wall = decaying(k, wall).into_iter().chain(growing(k, wall, wall));
                for (column, solution) in at_wall.enumerate() {
                    matrix[(4, 2 + column)] = solution.radial;
                    matrix[(5, 2 + column)] = solution.axial;
                }
            }
            None => {
                // Nothing that grows outwards.
                matrix[(4, 4)] = 1.0;
                matrix[(5, 5)] = 1.0;
            }
        }
        matrix
    }
}

/// Writes one solution's part of the four interface conditions, outside less inside.
fn place(matrix: &mut Matrix, column: usize, solution: &Elementary, viscosity: f64, sign: f64) {
    matrix[(0, column)] = sign * solution.radial;
    // Jump of axial velocity counts inside less outside, as the shear of the base flow does.
    matrix[(1, column)] = -sign * solution.axial;
    matrix[(2, column)] = sign * viscosity * solution.shear;
    matrix[(3, column)] = -sign * viscosity * solution.normal;
}

/// The two solutions regular on the axis, at r = 1, scaled by exp(-k).
fn inner(k: f64) -> [Elementary; 2] {
    regular(k, 1.0, 1.0)
}

/// I1(kr) and r I2(kr), scaled by the exponential of the radius `about`.
fn regular(k: f64, r: f64, about: f64) -> [Elementary; 2] {
    let scale = (k * (r - about)).exponential();
    let [i0, i1, i2] = [0, 1, 2].map(|order| scale * bessel::i_scaled(order, k * r));
    [
        Elementary { radial: i1, axial: -i0, shear: -2.0 * k * i1, normal: 2.0 * (k * i0 - i1 / r) },
        Elementary {
            radial: r * i2,
            axial: -r * i1,
            shear: -k * r * (i0 + i2),
            normal: -2.0 * i0 + 2.0 * (k * r * i1 - i2),
        },
    ]
}

/// The same in the gap, scaled at the wall.
fn growing(k: f64, r: f64, wall: f64) -> [Elementary; 2] {
    regular(k, r, wall)
}

/// K1(kr) and r K0(kr), scaled at the interface.
fn decaying(k: f64, r: f64) -> [Elementary; 2] {
    let scale = (-k * (r - 1.0)).exponential();
    let [k0, k1] = [0, 1].map(|order| scale * bessel::k_scaled(order, k * r));
    [
        Elementary { radial: k1, axial: k0, shear: -2.0 * k * k1, normal: -2.0 * (k * k0 + k1 / r) },
        Elementary {
            radial: r * k0,
            axial: r * k1 - 2.0 * k0 / k,
            shear: 2.0 * (k1 - k * r * k0),
            normal: -2.0 * k0 + 2.0 * (k0 - k * r * k1),
        },
    ]
}

/// Growth rate at equal viscosities without a wall, in gamma/(mu h), in closed form (Stone & Brenner 1996):
/// `(1 - x^2) [I1 K1 + (x/2)(I1 K0 - I0 K1)]`; the check on the six conditions.
pub fn growth_equal_viscosities(x: f64) -> f64 {
    let [i0, i1] = [0, 1].map(|order| bessel::i_scaled(order, x));
    let [k0, k1] = [0, 1].map(|order| bessel::k_scaled(order, x));
    (1.0 - x * x) * (i1 * k1 + 0.5 * x * (i1 * k0 - i0 * k1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn theory_equal_viscosities_in_closed_form() {
        let thread = StokesThread { viscosity_ratio: 1.0, wall: None };
        for x in [1e-3, 0.01, 0.1, 0.3, 0.5619919, 0.9, 0.99, 1.5, 5.0] {
            assert_relative_eq!(thread.growth(x), growth_equal_viscosities(x), max_relative = 1e-9);
        }
    }

    #[test]
    fn theory_a_far_wall_does_nothing() {
        let free = StokesThread { viscosity_ratio: 0.2, wall: None };
        let far = StokesThread { viscosity_ratio: 0.2, wall: Some(100.0) };
        assert_relative_eq!(free.growth(0.5), far.growth(0.5), max_relative = 1e-12);
    }

    // A film e much thinner than the thread and its waves, about a thread so viscous that its surface does not move along:
    // s = k^2 (1 - k^2) e^3/12 gamma/(mu_o h) (lubrication between two walls at rest).
    #[test]
    fn theory_lubrication_limit_of_a_thin_film() {
        let gap: f64 = 0.003;
        let thread = StokesThread { viscosity_ratio: 1e5, wall: Some(1.0 + gap) };
        let k = 0.05;
        assert_relative_eq!(thread.growth(k), k * k * (1.0 - k * k) * gap.powi(3) / 12.0, max_relative = 0.005);
    }

    #[test]
    fn theory_base_flow_answers_in_quadrature_only() {
        let thread = StokesThread { viscosity_ratio: 0.5, wall: Some(2.0) };
        assert!(thread.shear_response(0.6).is_finite());
        assert!(thread.shear_response(0.6).abs() > 0.0);
    }
}
