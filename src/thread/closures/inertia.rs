//! Inertia of the outer liquid: added mass of the moving thread and the boundary layer that limits the drag.
//!
//! Equation: added mass per unit volume of thread `rho_o max(x^2/(1 - x^2), 0.26)`, of a free drop at least that of a spheroid
//! of its length and width moving along its axis, `alpha/(2 - alpha)`, alpha = 2 (1 - e^2)/e^3 (artanh e - e) (sphere: 1/2);
//! boundary-layer drag `d_BL = 8 lambda/(1 + 4 lambda ln(1 + delta/h))`, `delta = sqrt(mu_o/(rho_o s_c))`,
//! `s_c = 1/[3 sqrt(rho_i h^3/gamma) + 2 (3 mu_i + mu_o) h/gamma]`, joined as (d^8 + d_BL^8)^(1/8).
//!
//! Symbols: h thread radius (m), x = h/R_w, rho densities (kg/m3), mu viscosities (Pa s), gamma tension (N/m), s_c a
//! growth rate typical of the thread (1/s), delta thickness of the layer that moves with it (m).
//!
//! Source: plug flow in the annulus moves x^2/(1 - x^2) of outer liquid; the floor 0.26 and the layer are fitted to
//! the exact growth of two inertial liquids (own computation; table of peaks): without them growth is up to
//! 28 % too fast, with them within 14 % up to La = rho gamma h/mu_o^2 = 1000.
//!
//! Holds for: linear growth (growth of runs: validation, `waves_in_a_liquid`) and the start of a free drop
//! (`outer_inertia`); the wobble of a drop and a neck between two thin liquids are reported there.
//! Spheroid: Lamb 1932, Hydrodynamics, art. 114 (recalled; limits checked in the tests).

use super::Dual;
use super::fitted::Fitted;
use crate::math::{Pinned as _, logarithm_in_line};

/// Added mass of a thread far from any wall, per unit mass of displaced outer liquid, at its fastest mode.
pub const ADDED_MASS_FLOOR: Fitted = Fitted {
    value: 0.26,
    from: "0.26, least added mass of a thread",
    fitted_to: "exact growth of two inertial liquids (own computation, table of peaks)",
    range: "La = rho gamma h/mu_o^2 up to 1000",
};

/// Added mass over displaced mass at y = x^2.
#[inline]
pub fn added_mass(y: f64) -> f64 {
    (y / (1.0 - y)).max(ADDED_MASS_FLOOR.value)
}

/// Added mass over displaced mass of a spheroid that moves along its axis; `aspect` is length over width.
pub fn spheroid(aspect: f64) -> f64 {
    // Near a sphere both closed forms lose digits: the series in s = 1 - 1/aspect^2 to second order.
    let s = 1.0 - 1.0 / (aspect * aspect);
    let alpha = if s.abs() < 1e-3 {
        2.0 * (1.0 - s) * (1.0 / 3.0 + s / 5.0 + s * s / 7.0)
    } else if s > 0.0 {
        let e = s.sqrt();
        2.0 * (1.0 - s) / (s * e) * (e.hyperbolic_arctangent() - e)
    } else {
        let e = (-s).sqrt();
        2.0 * (1.0 - s) / (-s * e) * (e - e.arctangent())
    };
    alpha / (2.0 - alpha)
}

/// What the boundary layer depends on, SI (or any consistent units).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoundaryLayer {
    pub inner_density: f64,
    pub outer_density: f64,
    pub inner_viscosity: f64,
    pub outer_viscosity: f64,
    pub tension: f64,
}

impl BoundaryLayer {
    /// d_BL.
    #[inline(always)]
    pub fn drag(&self, a: f64) -> Dual {
        let h = a.sqrt();
        let inertial = 3.0 * (self.inner_density * h * a / self.tension).sqrt();
        let viscous = 2.0 * (3.0 * self.inner_viscosity + self.outer_viscosity) * h / self.tension;
        let layer = (self.outer_viscosity / self.outer_density * (inertial + viscous)).sqrt();
        let ratio = layer / h;
        // d ln(layer)/d ln(a) - d ln(h)/d ln(a)
        let slope = 0.5 * (0.75 * inertial + 0.5 * viscous) / (inertial + viscous) - 0.5;
        let d = 8.0 / (self.outer_viscosity / self.inner_viscosity + 4.0 * logarithm_in_line(1.0 + ratio));
        Dual { value: d, by_a: -0.5 * d * d * ratio / (1.0 + ratio) * slope / a, by_wall: 0.0 }
    }
}

/// The larger of two drags, joined smoothly: (d^8 + e^8)^(1/8).
#[inline(always)]
pub fn join(d: Dual, e: Dual) -> Dual {
    let (large, small) = if d.value >= e.value { (d, e) } else { (e, d) };
    let q = small.value / large.value;
    let q3 = q * q * q;
    let q7 = q3 * q3 * q;
    let root = (1.0 + q7 * q).sqrt().sqrt().sqrt();
    let slope = |large: f64, small: f64| (large + q7 * small) * root / (1.0 + q7 * q);
    Dual {
        value: large.value * root,
        by_a: slope(large.by_a, small.by_a),
        by_wall: slope(large.by_wall, small.by_wall),
    }
}

#[cfg(test)]
mod tests {
    use super::spheroid;
    use approx::assert_relative_eq;

    // Lamb 1932, art. 114 and 115 (values recalled): sphere 0.5, length twice the width 0.209, five times 0.059; a disc's grows
    // as 2/(pi aspect).
    #[test]
    fn theory_added_mass_of_spheroids() {
        assert_relative_eq!(spheroid(1.0), 0.5, max_relative = 1e-12);
        assert_relative_eq!(spheroid(2.0), 0.209, max_relative = 5e-3);
        assert_relative_eq!(spheroid(5.0), 0.059, max_relative = 5e-3);
        assert_relative_eq!(spheroid(1e-3) * 1e-3, 2.0 / std::f64::consts::PI, max_relative = 5e-3);
        for join in [1.0f64 - 1e-3, 1.0 + 1e-3] {
            let edge = 1.0 / join.sqrt();
            assert_relative_eq!(spheroid(edge * (1.0 - 1e-9)), spheroid(edge * (1.0 + 1e-9)), max_relative = 1e-7);
        }
    }
}
