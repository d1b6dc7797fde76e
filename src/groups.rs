//! Dimensionless groups of a case, on the radius R that pins the contact line.
//!
//! Equation: Oh = mu_i/sqrt(rho_i gamma R), Bo = (rho_i - rho_o) g R^2/gamma, We_i = rho_i U_i^2 R/gamma,
//! Ca_o = mu_o U_o/gamma, Re = rho U R/mu; ratios are inner over outer.
//!
//! Symbols: U_i = Q_i/(pi R^2); U_o = 2 Q_o/(pi R_w^2) the outer stream's velocity on the axis where the thread forms: R_w of
//! the channel in co-flow (0.550 a for a square bore), of the orifice in counter-flow.
//!
//! Source: definitions. With U_o on the axis the balance of drag and tension on a dripping drop reads d/D = 1 + 1/(3 Ca_o).
//!
//! Holds for: any case; a group that a case has no use for is left out.

use crate::case::Case;
use crate::device::wall::WallProfile;
use crate::outcome::Groups;
use std::f64::consts::PI;

/// Radius on which the groups of a case are built, m.
pub fn length(case: &Case) -> f64 {
    case.layout.segment().map_or(case.device.pinned_radius(), |s| s.radius)
}

/// Velocity of the outer stream on the axis where the thread forms, m/s.
pub fn outer_velocity(case: &Case) -> Option<f64> {
    let outer = case.outer.as_ref().filter(|o| o.flow > 0.0)?;
    let wall = WallProfile::of(case).narrowest()?;
    Some(2.0 * outer.flow / (PI * wall * wall))
}

/// Groups of a case.
pub fn groups(case: &Case) -> Groups {
    let r = length(case);
    let (inner, outer, gamma) = (&case.inner, case.outer.as_ref(), case.tension);
    let u = inner.flow / (PI * r * r);
    let u_outer = outer_velocity(case);
    let outer_density = outer.map_or(0.0, |o| o.density);
    Groups {
        ohnesorge: inner.viscosity / (inner.density * gamma * r).sqrt(),
        bond: (inner.density - outer_density) * case.gravity * r * r / gamma,
        weber_inner: inner.density * u * u * r / gamma,
        capillary_outer: outer.zip(u_outer).map(|(o, u)| o.viscosity * u / gamma),
        reynolds_inner: inner.density * u * r / inner.viscosity,
        reynolds_outer: outer.zip(u_outer).map(|(o, u)| o.density * u * r / o.viscosity),
        viscosity_ratio: outer.map(|o| inner.viscosity / o.viscosity),
        flow_ratio: outer.filter(|o| o.flow > 0.0).map(|o| inner.flow / o.flow),
        density_ratio: outer.map(|o| inner.density / o.density),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{examples, parse};
    use approx::assert_relative_eq;

    fn example(name: &str) -> Case {
        parse(examples::find(name).expect("an example").text, name).unwrap_or_else(|e| panic!("{e}"))
    }

    #[test]
    fn theory_groups_of_the_tap_by_hand() {
        let g = groups(&example("tap"));
        // water at 20 degC: 998.2 kg/m3, 1.0016 mPa.s, 72.74 mN/m; R = 1.5 mm; 60 mL/h
        let u = 60e-6 / 3600.0 / (PI * 1.5e-3f64.powi(2));
        assert_relative_eq!(g.bond, 998.2 * 9.80665 * 2.25e-6 / 72.74e-3, max_relative = 1e-3);
        assert_relative_eq!(g.ohnesorge, 1.0016e-3 / (998.2f64 * 72.74e-3 * 1.5e-3).sqrt(), max_relative = 1e-3);
        assert_relative_eq!(g.weber_inner, 998.2 * u * u * 1.5e-3 / 72.74e-3, max_relative = 1e-3);
        assert_eq!((g.capillary_outer, g.viscosity_ratio, g.flow_ratio), (None, None, None));
    }

    // Groups have no unit: lengths x l, times x t, masses x m leave them as they are.
    #[test]
    fn groups_do_not_depend_on_the_units() {
        let case = example("coflow");
        let (l, t, m) = (3.0f64, 0.5, 7.0);
        let mut other = case.clone();
        let flow = l.powi(3) / t;
        for stream in [Some(&mut other.inner), other.outer.as_mut()].into_iter().flatten() {
            stream.viscosity *= m / (l * t);
            stream.density *= m / l.powi(3);
            stream.flow *= flow;
        }
        other.tension *= m / (t * t);
        other.device.tip_bore *= l;
        other.device.bore = crate::case::Bore::Square(1.05e-3 * l);
        let (a, b) = (groups(&case), groups(&other));
        assert_relative_eq!(a.ohnesorge, b.ohnesorge, max_relative = 1e-12);
        assert_relative_eq!(a.weber_inner, b.weber_inner, max_relative = 1e-12);
        assert_relative_eq!(a.capillary_outer.expect("Ca"), b.capillary_outer.expect("Ca"), max_relative = 1e-12);
        assert_relative_eq!(a.reynolds_outer.expect("Re"), b.reynolds_outer.expect("Re"), max_relative = 1e-12);
    }
}
