//! The streams before anything breaks: mean velocities, the exact developed thread, the jet's diameter by both speeds.
//!
//! Equation: velocities from the flows; developed thread from exact core-annular flow, plug from continuity
//! ([`crate::device::core_annular`]); in a gas a parabolic jet relaxes to sqrt(3)/2 of its nozzle.
//!
//! Symbols: SI, names say the unit.
//!
//! Source: Poiseuille; Harmon 1955, J. Franklin Inst. 259, 519 (relaxation, momentum balance, recalled from memory).
//!
//! Holds for: laminar flow. Which speed the jet has moves its diameter by 41 % on the axis of a short orifice, more than any
//! other choice: both are told.

use crate::case::glass::outer_area;
use crate::case::{Case, Layout, Stream};
use crate::device::core_annular::{core_share, core_share_plug};
use crate::device::wall::WallProfile;
use crate::groups::outer_velocity;
use serde::Serialize;
use std::f64::consts::PI;

/// sqrt(3)/2.
const RELAXED_IN_GAS: f64 = 0.866_025_403_784_438_6;

/// Mean velocities and the exact developed thread.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct BaseFlow {
    pub inner_velocity_tip_m_per_s: f64,
    pub outer_velocity_tip_m_per_s: Option<f64>,
    pub outer_velocity_axis_m_per_s: Option<f64>,
    /// Exact core-annular radius far downstream (narrowest part), m.
    pub core_radius_m: Option<f64>,
    /// Confinement: that radius over the wall's.
    pub confinement: Option<f64>,
    pub wall_radius_m: Option<f64>,
    pub wall_radius_at_tip_m: Option<f64>,
}

/// Which speed does the jet have? Both answers.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct JetDiameter {
    pub plug_m: f64,
    pub developed_m: f64,
    pub run_uses: &'static str,
}

/// y = (h/R_w)^2 developed and in plug flow, for two streams.
fn cores(case: &Case) -> Option<(f64, f64)> {
    let outer = case.outer.as_ref().filter(|o| o.flow > 0.0 && case.inner.flow > 0.0)?;
    let phi = case.inner.flow / outer.flow;
    Some((core_share(phi, case.inner.viscosity / outer.viscosity), core_share_plug(phi)))
}

/// Base flow of a case with streams.
pub fn base_flow(case: &Case) -> BaseFlow {
    let bore = 0.5 * case.device.tip_bore;
    let wall = WallProfile::of(case);
    let x = cores(case).map(|(developed, _)| developed.sqrt());
    let outer = case.outer.as_ref().filter(|o| o.flow > 0.0);
    BaseFlow {
        inner_velocity_tip_m_per_s: case.inner.flow / (PI * bore * bore),
        outer_velocity_tip_m_per_s: outer.zip(outer_area(case)).map(|(o, area): (&Stream, f64)| o.flow / area),
        outer_velocity_axis_m_per_s: outer_velocity(case),
        core_radius_m: x.zip(wall.narrowest()).map(|(x, r)| x * r),
        confinement: x,
        wall_radius_m: wall.narrowest(),
        wall_radius_at_tip_m: wall.radius(0.0),
    }
}

/// Diameter of the jet by both speeds; `None` without a jet.
pub fn jet(case: &Case) -> Option<JetDiameter> {
    if case.layout == Layout::Pendant {
        let d = 2.0 * case.device.pinned_radius();
        return Some(JetDiameter { plug_m: d, developed_m: RELAXED_IN_GAS * d, run_uses: "plug" });
    }
    let (developed, plug) = cores(case)?;
    let bore = 2.0 * WallProfile::of(case).narrowest()?;
    Some(JetDiameter { plug_m: bore * plug.sqrt(), developed_m: bore * developed.sqrt(), run_uses: "developed" })
}
