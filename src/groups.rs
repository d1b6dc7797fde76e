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
//! Of liquids that thin these are at rest; those at the rate of the flow stand beside them (`at_rate`): inside with the viscosity that the pressure
//! of a tube of radius R tells (Rabinowitsch, [`crate::device::thinning`]) and the rate that a Newtonian liquid has at its wall, 4 Q_i/(pi R^3); outside
//! with the viscosity at U_o/(4 R), the rate about a sphere of radius R by the power that its drag spends (as in the thread's outer closures).
//!
//! Holds for: any case; a group that a case has no use for is left out.

use crate::case::Case;
use crate::device::core_annular::axis_velocity;
use crate::device::wall::WallProfile;
use crate::outcome::{Groups, GroupsAtRate};
use std::f64::consts::PI;

/// Rate about a rigid sphere over its speed and radius.
const ABOUT_SPHERE: f64 = 0.25;

/// Radius on which the groups of a case are built, m.
pub fn length(case: &Case) -> f64 {
    case.layout.segment().map_or(case.device.pinned_radius(), |s| s.radius)
}

/// Velocity of the outer stream on the axis where the thread forms, m/s.
pub fn outer_velocity(case: &Case) -> Option<f64> {
    let outer = case.outer.as_ref().filter(|o| o.flow > 0.0)?;
    let wall = WallProfile::of(case).narrowest()?;
    Some(axis_velocity(outer.flow, wall))
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
        at_rate: at_rate(case),
    }
}

/// Those with the viscosities at the rates of the flow; `None` where nothing thins.
fn at_rate(case: &Case) -> Option<GroupsAtRate> {
    let (r, inner, outer) = (length(case), &case.inner, case.outer.as_ref());
    let u_outer = outer_velocity(case);
    let own = case.real.thinning.filter(|_| inner.flow > 0.0).map(|law| {
        let share = law.law(inner.viscosity, 1.0).tube(inner.flow, r);
        (4.0 * inner.flow / (PI * r.powi(3)), inner.viscosity * share)
    });
    let around = case.real.outer_thinning.zip(outer).zip(u_outer).map(|((law, o), u)| {
        let rate = ABOUT_SPHERE * u / r;
        (rate, o.viscosity * law.law(o.viscosity, 1.0).viscosity((law.time * rate).powi(2)).0)
    });
    if own.is_none() && around.is_none() {
        return None;
    }
    let inside = own.map_or(inner.viscosity, |o| o.1);
    let outside = around.map(|o| o.1).or(outer.map(|o| o.viscosity));
    let u = inner.flow / (PI * r * r);
    Some(GroupsAtRate {
        inner_rate_per_s: own.map(|o| o.0),
        inner_viscosity_pa_s: own.map(|o| o.1),
        outer_rate_per_s: around.map(|o| o.0),
        outer_viscosity_pa_s: around.map(|o| o.1),
        ohnesorge: inside / (inner.density * case.tension * r).sqrt(),
        capillary_outer: outside.zip(u_outer).map(|(mu, u)| mu * u / case.tension),
        reynolds_inner: inner.density * u * r / inside,
        reynolds_outer: outer.zip(outside).zip(u_outer).map(|((o, mu), u)| o.density * u * r / mu),
        viscosity_ratio: outside.map(|mu| inside / mu),
    })
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

    // A power law K g^n in a tube: mu = K ((3 n + 1)/(4 n))^n (4 Q/(pi R^3))^(n-1) (Rabinowitsch for a power law, textbook, recalled), and
    // K (U/4R)^(n-1) about a drop.
    #[test]
    fn theory_groups_of_power_laws_at_the_rate_of_the_flow() {
        let mut case = example("coflow");
        assert_eq!(groups(&case).at_rate, None);
        let (n, time) = (0.5, 1e5);
        let law = crate::case::rheology::Thinning { exponent: n, time, viscosity_infinite: 0.0 };
        (case.real.thinning, case.real.outer_thinning) = (Some(law), Some(law));
        let g = groups(&case);
        let thinned = g.at_rate.clone().expect("thinned");
        let r = length(&case);
        let rate = 4.0 * case.inner.flow / (PI * r.powi(3));
        let inside = case.inner.viscosity * (2.5f64 / 2.0).powf(n) * (time * rate).powf(n - 1.0);
        assert_relative_eq!(thinned.inner_rate_per_s.expect("a rate"), rate, max_relative = 1e-12);
        assert_relative_eq!(thinned.inner_viscosity_pa_s.expect("thin"), inside, max_relative = 1e-3);
        assert_relative_eq!(thinned.ohnesorge / g.ohnesorge, inside / case.inner.viscosity, max_relative = 1e-3);
        let u = outer_velocity(&case).expect("a stream");
        let share = (time * u / (4.0 * r)).powf(n - 1.0);
        let fall = thinned.capillary_outer.expect("Ca") / g.capillary_outer.expect("Ca");
        assert_relative_eq!(fall, share, max_relative = 1e-6);
        assert_relative_eq!(
            thinned.reynolds_outer.expect("Re") / g.reynolds_outer.expect("Re"),
            1.0 / share,
            max_relative = 1e-6
        );
    }
}
