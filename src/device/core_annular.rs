//! The undisturbed thread in its tube: two liquids side by side, developed and in plug flow.
//!
//! Equation: developed (exact, no inertia), y = (h/R_w)^2, phi = Q_i/Q_o, lambda = mu_i/mu_o:
//!   y = 2 phi / { (2 phi + 2) + sqrt[(2 phi + 2)^2 - 4 phi (phi + 2 - 1/lambda)] };
//! plug (both liquids at one velocity, short orifice): y = Q_i/(Q_i + Q_o);
//!   one liquid alone: 2 Q/(pi R_w^2) on the axis.
//!
//! Symbols: h thread radius, R_w wall radius (m), Q volume flow (m3/s), mu viscosity (Pa s).
//!
//! Source: elementary (Poiseuille); plug: continuity.
//!
//! Holds for: parallel flow in a round tube; the developed one far behind the entry (about 0.06 Re diameters).

use std::f64::consts::PI;

/// The core's share of the tube's section, y = (h/R_w)^2 (the confinement is its root), in fully developed core-annular flow.
pub fn core_share(flow_ratio: f64, viscosity_ratio: f64) -> f64 {
    let (phi, s) = (flow_ratio, 2.0 * flow_ratio + 2.0);
    2.0 * phi / (s + (s * s - 4.0 * phi * (phi + 2.0 - 1.0 / viscosity_ratio)).max(0.0).sqrt())
}

/// The same where both liquids run at the same velocity.
pub fn core_share_plug(flow_ratio: f64) -> f64 {
    flow_ratio / (1.0 + flow_ratio)
}

/// Velocity on the axis of a tube of radius `wall` through which one liquid flows, U0 = 2 Q/(pi R_w^2) (Poiseuille).
pub fn axis_velocity(flow: f64, wall: f64) -> f64 {
    2.0 * flow / (PI * wall * wall)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    // Exact core-annular flow, high-precision table (no density difference where drho_g_over_G = 0).
    #[test]
    fn theory_core_radius_of_the_exact_table() {
        let text = include_str!("../../tests/data/two_liquid/baseflow_core_annular.csv");
        let mut checked = 0;
        for line in text.lines().filter(|l| l.starts_with(|c: char| c.is_ascii_digit())) {
            let row: Vec<f64> = line.split(',').map(|x| x.parse().expect("a number")).collect();
            let (lambda, x, buoyancy, inner, outer) = (row[0], row[1], row[2], row[3], row[4]);
            if buoyancy == 0.0 && x < 0.95 {
                assert_relative_eq!(core_share(inner / outer, lambda).sqrt(), x, max_relative = 1e-9);
                checked += 1;
            }
        }
        assert!(checked >= 20, "{checked}");
    }

    #[test]
    fn slow_cores_are_wide_and_thin_liquids_outrun() {
        assert_relative_eq!(core_share_plug(1.0), 0.5);
        assert!(core_share(0.1, 100.0) > core_share(0.1, 0.01));
        // Equal liquids: a parabola split at the streamline, 1 - (1 - y)^2 = share.
        assert_relative_eq!(core_share(1.0, 1.0), 1.0 - 0.5f64.sqrt(), max_relative = 1e-12);
    }
}
