//! What linear theory expects of a case: does it drip or jet, and what would the jet break into.
//!
//! Equation: growth and kind of instability from [`crate::thread::dispersion`] on the uniform thread that the case would have
//! without breakup; drop of a jet `d = 2 h (3 pi/(2 k*))^(1/3)` (one wavelength 2 pi h/k* of thread); length to breakup
//! `U ln(1/eps)/s*` for a disturbance that starts at eps h.
//!
//! Symbols: h thread radius (m), U its velocity (m/s), k* fastest wavenumber times h, s* its growth rate (1/s).
//!
//! Source: Weber 1931 (length); the wavelength argument is Rayleigh's, 1879. Base flow: core-annular, exact.
//!
//! Holds for: estimates only. The border between dripping and jetting of a uniform thread is within 2.2 % of exact theory in a
//! gas and within the error that the text prints in a liquid; where the thread tapers it can be off by a factor 2 to 3.

use crate::case::Case;
use crate::device::core_annular::{axis_velocity, core_share};
use crate::device::wall::WallProfile;
use crate::math::Pinned as _;
use crate::outcome::{Instability, LinearEstimate};
use crate::thread::dispersion::{Relation, TwoLiquids};
use std::f64::consts::PI;

/// The uniform thread of a case, and its linear theory.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UniformThread {
    /// h, m.
    pub radius: f64,
    /// U, m/s.
    pub velocity: f64,
    /// Radius of the wall about it, m, if there is one.
    pub wall: Option<f64>,
    /// Its linear theory in units of `radius` and `time`.
    pub relation: Relation,
    /// Unit of time of the relation, s: sqrt(rho_i h^3/gamma) in a gas, mu_o h/gamma in a liquid.
    pub time: f64,
    /// Error of the estimated border against exact theory of a uniform thread, as a share of the velocity.
    pub border_error: f64,
}

/// What the uniform thread breaks into.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Breakup {
    /// Growth rate of the fastest wave, 1/s.
    pub growth_rate: f64,
    /// Its wavelength, m.
    pub wavelength: f64,
    /// Diameter of a drop of one wavelength of thread, m.
    pub drop_diameter: f64,
    /// Drops a second.
    pub rate: f64,
}

impl UniformThread {
    /// The thread that the case would have if it never broke; `None` where there is no such thread (no flow at all).
    pub fn of(case: &Case) -> Option<UniformThread> {
        let tip = case.device.pinned_radius();
        let (radius, flow) = case.layout.segment().map_or((tip, case.inner.flow), |segment| (segment.radius, 0.0));
        let velocity = flow / (PI * radius * radius);
        let Some(outer) = &case.outer else {
            let (density, tension) = (case.inner.density, case.tension);
            let ohnesorge = case.inner.viscosity / (density * tension * radius).sqrt();
            let time = (density * radius.powi(3) / tension).sqrt();
            // Estimates keep the radial inertia whether or not the run does: nothing pinches here.
            let relation = Relation::passive(ohnesorge, velocity * time / radius, true);
            return Some(UniformThread { radius, velocity, wall: None, relation, time, border_error: 0.022 });
        };
        let ratio = case.inner.viscosity / outer.viscosity;
        let (at_rest, flows) = (case.layout.segment().is_some(), outer.flow > 0.0 && case.inner.flow > 0.0);
        let wall = WallProfile::of(case).narrowest().filter(|_| at_rest || flows);
        let developed = |wall: f64| wall * core_share(case.inner.flow / outer.flow, ratio).sqrt();
        let radius = wall.filter(|_| !at_rest).map_or(radius, developed);
        let laplace = case.tension * radius / (outer.viscosity * outer.viscosity);
        let liquids = TwoLiquids {
            viscosity_ratio: ratio,
            laplace_inner: case.inner.density * laplace,
            laplace_outer: outer.density * laplace,
        };
        let time = outer.viscosity * radius / case.tension;
        let unit = radius / time;
        let relation = match wall {
            Some(wall) => {
                let axis = axis_velocity(case.inner.flow + outer.flow, wall);
                Relation::confined(liquids, radius / wall, axis / unit)
            }
            None => Relation::unconfined(liquids, velocity / unit),
        };
        let velocity = relation.velocity * unit;
        Some(UniformThread { radius, velocity, wall, relation, time, border_error: border_error(ratio) })
    }

    /// The fastest wave and the drop it makes; `None` where nothing grows.
    pub fn breakup(&self) -> Option<Breakup> {
        let fastest = self.relation.fastest();
        if fastest.rate <= 0.0 {
            return None;
        }
        let wavelength = 2.0 * PI * self.radius / fastest.wavenumber;
        Some(Breakup {
            growth_rate: fastest.rate / self.time,
            wavelength,
            drop_diameter: 2.0 * self.radius * (1.5 * PI / fastest.wavenumber).cube_root(),
            rate: self.velocity / wavelength,
        })
    }

    /// Length from the tip to breakup, m, for a disturbance of `amplitude` (over the radius) at the tip.
    pub fn breakup_length(&self, amplitude: f64) -> Option<f64> {
        let breakup = self.breakup()?;
        Some(self.velocity * (1.0 / amplitude).logarithm().max(0.0) / breakup.growth_rate)
    }
}

/// Largest deviation of the border's velocity from exact two-layer Stokes theory at a viscosity ratio (table in the tests).
fn border_error(viscosity_ratio: f64) -> f64 {
    // a ratio of viscosities typed as 1 and 10 may come out a bit below 0.1
    if viscosity_ratio >= 0.1 - 1e-9 { 0.22 } else { 0.4 }
}

/// Absolute, convective or stable by linear theory, with a sentence that says how far to trust it.
pub fn linear_estimate(case: &Case) -> Option<LinearEstimate> {
    let thread = UniformThread::of(case)?;
    let instability = thread.relation.instability()?;
    let what = format!(
        "linear theory of a uniform thread of {} diameter {}",
        significant(2e6 * thread.radius, "um"),
        if thread.velocity > 0.0 { format!("at {}", significant(thread.velocity, "m/s")) } else { "at rest".into() }
    );
    let finding = match instability {
        Instability::Stable => "no wave grows".to_string(),
        Instability::Absolute if thread.velocity == 0.0 => "waves grow in place".to_string(),
        Instability::Absolute => format!("waves grow in place (dripping){}", border(&thread)),
        Instability::Convective => format!("waves are swept away (jetting){}", border(&thread)),
    };
    if thread.velocity == 0.0 {
        // Nothing can sweep a thread at rest: there is no border to tell about.
        return Some(LinearEstimate { character: instability, text: format!("estimate, {what}: {finding}") });
    }
    let text = format!(
        "estimate, {what}: {finding}; its border lies within {:.0} % of exact theory for a uniform thread, and a factor 2 to 3 \
         off where the thread tapers; the time-dependent run decides",
        100.0 * thread.border_error
    );
    Some(LinearEstimate { character: instability, text })
}

/// Four significant digits and a unit.
fn significant(value: f64, unit: &str) -> String {
    let decimals = (3 - value.abs().decimal_logarithm().floor() as i32).clamp(0, 12) as usize;
    format!("{value:.decimals$} {unit}")
}

/// Where the border lies, as a multiple of the present speed.
fn border(thread: &UniformThread) -> String {
    let factor = thread.relation.critical_factor();
    factor.map_or(String::new(), |factor| format!(", the border is at {factor:.2} times this speed"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{Bore, Layout, Orifice, Segment, Stop, Stream};
    use approx::assert_relative_eq;

    const MICRO: f64 = 1e-6;
    const UL_PER_HOUR: f64 = 1e-9 / 3600.0;
    const ORIFICE: Orifice = Orifice {
        bore: 10.0 * MICRO,
        length: 20.0 * MICRO,
        standoff: 15.0 * MICRO,
        collection_bore: 50.0 * MICRO,
        collection_length: 130.0 * MICRO,
    };
    const WAVE: Layout = Layout::Segment(Segment { radius: 5.0 * MICRO, wavenumber: 0.7, amplitude: 0.01 });

    fn case(layout: Layout, inner_flow: f64, outer_flow: Option<f64>) -> Case {
        let stream = |viscosity, flow| Stream { liquid: None, viscosity, density: 1000.0, flow };
        let mut case = Case::bare("estimate", layout, stream(1e-3, inner_flow), 5e-3, 20.0 * MICRO);
        case.outer = outer_flow.map(|flow| stream(2e-3, flow));
        case.device.bore = if case.layout.segment().is_some() { Bore::Unbounded } else { Bore::Round(100.0 * MICRO) };
        case.run.stop = Stop::Drops(5);
        case
    }

    #[test]
    fn a_slow_coflow_is_absolute_and_a_fast_one_convective() {
        let slow =
            linear_estimate(&case(Layout::Coflow, 1.0 * UL_PER_HOUR, Some(20.0 * UL_PER_HOUR))).expect("an estimate");
        assert_eq!(slow.character, Instability::Absolute, "{}", slow.text);
        let fast =
            linear_estimate(&case(Layout::Coflow, 2e4 * UL_PER_HOUR, Some(4e5 * UL_PER_HOUR))).expect("an estimate");
        assert_eq!(fast.character, Instability::Convective, "{}", fast.text);
        assert!(fast.text.starts_with("estimate"));
    }

    // Mass balance: what flows in the thread is what was pumped, so drops times rate close with it.
    #[test]
    fn theory_drops_of_a_jet_carry_the_pumped_flow() {
        for layout in [Layout::Coflow, Layout::Counterflow(ORIFICE), Layout::Pendant] {
            let outer = (layout != Layout::Pendant).then_some(100.0 * UL_PER_HOUR);
            let flow = 30.0 * UL_PER_HOUR;
            let thread = UniformThread::of(&case(layout, flow, outer)).expect("a thread");
            assert_relative_eq!(PI * thread.radius.powi(2) * thread.velocity, flow, max_relative = 1e-10);
            let breakup = thread.breakup().expect("it breaks");
            assert_relative_eq!(PI / 6.0 * breakup.drop_diameter.powi(3) * breakup.rate, flow, max_relative = 1e-10);
            assert!(thread.breakup_length(1e-3) > thread.breakup_length(1e-2));
        }
    }

    // Rayleigh 1879: an inviscid jet's drop is 1.89 jet diameters, at k* = 0.697.
    #[test]
    fn theory_drop_of_a_watery_jet_in_air() {
        let mut wide = case(Layout::Pendant, 1e-3, None);
        wide.device.tip_bore = 1e-3;
        let breakup = UniformThread::of(&wide).and_then(|thread| thread.breakup()).expect("it breaks");
        assert_relative_eq!(breakup.drop_diameter / 1e-3, (1.5 * PI / 0.697f64).cbrt(), max_relative = 0.01);
    }

    #[test]
    fn a_thread_at_rest_is_absolute() {
        let still = linear_estimate(&case(WAVE, 0.0, None)).expect("an estimate");
        assert_eq!(still.character, Instability::Absolute);
        let surrounded = case(WAVE, 0.0, Some(0.0));
        assert_eq!(linear_estimate(&surrounded).expect("an estimate").character, Instability::Absolute);
        assert_eq!(UniformThread::of(&surrounded).and_then(|thread| thread.wall), None);
        let mut held = surrounded;
        held.device.bore = Bore::Round(40.0 * MICRO);
        let thread = UniformThread::of(&held).expect("a thread");
        assert_eq!((thread.radius, thread.wall), (5.0 * MICRO, Some(20.0 * MICRO)));
    }
}
