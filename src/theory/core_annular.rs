//! Two liquids side by side in a round tube: the undisturbed flow of a thread on the axis of its bore.
//!
//! Equation (lengths in R_w, velocity in G R_w^2/mu_o, D = drho g/G): `u_o = (1 - r^2)/4 - (D x^2/2) ln r`,
//! `u_i = u_s + (1 + D)(x^2 - r^2)/(4 lambda)`, `u_s = u_o(x)`, `tau_s = -(1 + D) x/2`.
//!
//! Symbols: G = pressure gradient less rho_o g (Pa/m), x = h/R_w, lambda = mu_i/mu_o, drho = rho_i - rho_o (kg/m3).
//!
//! Source: Poiseuille flow, elementary; Russell & Charles 1959, Can. J. Chem. Eng. 37, 18 (the same two-layer solution).
//!
//! Holds for: uniform thread and tube, laminar.

use crate::math::Pinned as _;
use std::f64::consts::PI;

/// The flow at a given confinement and pressure gradient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flow {
    /// Q_i mu_o/(G R_w^4).
    pub inner_flow: f64,
    /// Q_o mu_o/(G R_w^4).
    pub outer_flow: f64,
    /// Mean velocity of the thread over G R_w^2/mu_o.
    pub mean: f64,
    /// Velocity of the interface over G R_w^2/mu_o.
    pub interface: f64,
    /// Shear stress at the interface over G R_w.
    pub shear: f64,
}

/// Flow of a thread of radius x R_w; `weight` = (rho_i - rho_o) g/G.
pub fn flow(ratio: f64, x: f64, weight: f64) -> Flow {
    let (y, gap) = (x * x, (1.0 - x) * (1.0 + x));
    let constant = -0.5 * weight * y;
    let interface = 0.25 * gap + constant * x.logarithm();
    let mean = interface + (1.0 + weight) * y / (8.0 * ratio);
    // Integral of r ln r from x to 1 is -(1 - y + y ln y)/4, written so that a narrow gap loses no digits.
    let log_part = -0.25 * (gap + y * (-gap).logarithm_of_one_more());
    let outer_flow = 0.125 * PI * gap * gap + 2.0 * PI * constant * log_part;
    Flow { inner_flow: PI * y * mean, outer_flow, mean, interface, shear: -0.5 * (1.0 + weight) * x }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::device::core_annular::core_share;
    use approx::assert_relative_eq;

    #[test]
    fn theory_confinement_inverts_the_flow_ratio() {
        for ratio in [1e-3, 0.1, 1.0, 10.0, 1e3] {
            for x in [0.01, 0.3, 0.9] {
                let flow = flow(ratio, x, 0.0);
                let y = core_share(flow.inner_flow / flow.outer_flow, ratio);
                assert_relative_eq!(y.sqrt(), x, max_relative = 1e-10);
            }
        }
    }
}
