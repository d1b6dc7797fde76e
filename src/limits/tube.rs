//! Limits that the glass sets.

use super::size::dripping_diameter;
use super::{figure, um, when};
use crate::case::{Bore, Case, Layout};
use crate::device::core_annular::{axis_velocity, core_share};
use crate::device::wall::WallProfile;
use crate::outcome::Warning;
use crate::thread::estimate::UniformThread;
use std::f64::consts::PI;

/// Confinement above which the film between thread and wall is thin.
const CONFINED: f64 = 0.6;
/// Drop over bore above which it touches the wall.
const PLUG: f64 = 0.9;
/// Thread radius over the side of a square bore within which the round wall stands for it.
const SQUARE: f64 = 0.25;
/// Border of a uniform thread over its speed in the orifice between which history decided: our runs of the 10 um example (15 and
/// 20 uL/h outside, no noise), where the thread stayed down to 1.7 times and drops from rest went on up to 1.0, which the error of
/// the estimate itself (22 %) may turn into 0.8.
const TWO_MODES: (f64, f64) = (0.8, 1.7);
/// Steepest wall of a long-wave theory.
const SLOPE: f64 = 0.5;
/// Reynolds number (diameter, mean speed) up to which creeping flow into the orifice was computed.
const ORIFICE_REYNOLDS: f64 = 3.0;
/// Stand-off in orifice radii up to which the funnel was computed.
const STANDOFF: f64 = 3.0;

pub fn warnings(case: &Case, seen: Option<f64>) -> Vec<Warning> {
    let Some(outer) = case.outer.as_ref().filter(|o| o.flow > 0.0) else { return Vec::new() };
    let wall = WallProfile::of(case);
    let Some(narrowest) = wall.narrowest() else { return Vec::new() };
    let x = core_share(case.inner.flow / outer.flow, case.inner.viscosity / outer.viscosity).sqrt();
    let thread = x * narrowest;
    let mut found = vec![
        when(x > CONFINED, "confined", || {
            format!(
                "the thread fills {} of the tube's radius (limit {CONFINED}): its film is sensitive to a thread off centre",
                figure(x)
            )
        }),
        seen.map_or_else(|| plug(case, narrowest), |diameter| plugged(case, narrowest, diameter)),
        square(case, thread),
    ];
    found.extend(orifice(case, &wall));
    found.into_iter().flatten().collect()
}

/// Radius of the tube that takes the drops away: behind the orifice where there is one.
fn leaving(case: &Case, narrowest: f64) -> f64 {
    case.layout.orifice().map_or(narrowest, |o| 0.5 * o.collection_bore)
}

/// A dripping drop that balances expect to fill the tube that takes it away.
fn plug(case: &Case, narrowest: f64) -> Option<Warning> {
    let widest = leaving(case, narrowest);
    let d = dripping_diameter(case).filter(|_| case.layout == Layout::Coflow)?;
    when(d > PLUG * 2.0 * widest, "plug", || {
        format!(
            "a dripping drop of {} would fill its {} tube (limit {PLUG}): a plug, whose size is the flow over the rate; its \
             shape is not modelled",
            um(d),
            um(2.0 * widest)
        )
    })
}

/// The same of drops that were seen, in any layout and mode.
fn plugged(case: &Case, narrowest: f64, diameter: f64) -> Option<Warning> {
    let widest = leaving(case, narrowest);
    when(diameter > PLUG * 2.0 * widest, "plug", || {
        format!(
            "drops of {} fill the {} tube that takes them away (limit {PLUG}): plugs; what dams up behind a plug and squeezes its \
             neck is not modelled, so their size is qualitative",
            um(diameter),
            um(2.0 * widest)
        )
    })
}

/// A thread through the orifice that is slower than what would sweep its waves away, but not by much: once there it stays.
fn two_modes(case: &Case) -> Option<Warning> {
    let factor = UniformThread::of(case)?.relation.critical_factor()?;
    when((TWO_MODES.0..=TWO_MODES.1).contains(&factor), "two_modes", || {
        format!(
            "the estimated border between drops from the funnel and a thread through the orifice is at {} times the thread's speed \
             (both were seen from {} to {} in a 10 um orifice): which one runs hangs on how the flow was started, and drops may \
             differ by a factor 2 to 3 in diameter; a run starts from rest",
            figure(factor),
            TWO_MODES.0,
            TWO_MODES.1
        )
    })
}

/// Drops so close behind each other that they would touch on the axis.
///
/// Equation: spacing = 2 (Q_i + Q_o) / (pi R_w^2) / rate: the axis of a developed stream of one viscosity, the fastest that a
/// drop is carried, over the drops a second.
/// Symbols: Q_i, Q_o flows of the liquids, m3/s; R_w radius of the tube that takes the drops away, m; `rate` 1/s; `diameter` m.
/// Source: Poiseuille flow; the criterion is ours.
/// Holds for: even drops. A drop rides no faster than the axis, so drops may crowd sooner than told.
pub fn crowded(case: &Case, diameter: f64, rate: f64) -> Option<Warning> {
    let outer = case.outer.as_ref().filter(|o| o.flow > 0.0)?;
    let narrowest = WallProfile::of(case).narrowest()?;
    let radius = leaving(case, narrowest);
    let spacing = axis_velocity(case.inner.flow + outer.flow, radius) / rate;
    when(spacing < diameter, "crowded", || {
        format!(
            "drops of {} follow each other every {} at most in the {} tube that takes them away: they touch, lie beside each \
             other and may merge unless a surfactant keeps them apart; a run moves them along the axis through each other (their \
             sizes are set before)",
            um(diameter),
            um(spacing),
            um(2.0 * radius)
        )
    })
}

fn square(case: &Case, thread: f64) -> Option<Warning> {
    let Bore::Square(side) = case.device.bore else { return None };
    if case.layout != Layout::Coflow {
        return None;
    }
    let widest = thread.max(case.device.pinned_radius());
    when(widest > SQUARE * side, "wide_in_square", || {
        format!(
            "a thread of radius {} in a square bore of {} (limit {SQUARE} of its side): corners matter, the round tube that stands \
             for the square is off by more than 5 %",
            um(widest),
            um(side)
        )
    })
}

/// Of a run that went on with closures from `from` (s) on.
pub fn fields_left(from: f64) -> Warning {
    Warning {
        code: "fields_left".into(),
        text: format!(
            "two fields came no further {} s after the start (a thread beside glass that it nearly fills, mostly): from there on its viscous forces \
             are closures', and so is the model's error; model.section = \"closures\" computes the case with them from the start",
            figure(from)
        ),
    }
}

fn orifice(case: &Case, wall: &WallProfile) -> Vec<Option<Warning>> {
    let (Some(o), Some(outer)) = (case.layout.orifice(), &case.outer) else { return Vec::new() };
    let radius = 0.5 * o.bore;
    let total = case.inner.flow + outer.flow;
    let reynolds = outer.density * total / (PI * radius * radius) * o.bore / outer.viscosity;
    let (tip, at_tip) = (case.device.pinned_radius(), wall.radius(0.0).unwrap_or(f64::INFINITY));
    let steepest = steepest(wall);
    // two fields take the stream and the glass as they are
    let closures = !case.two_fields();
    let laden = case.real.effects().into_iter().next().filter(|_| closures);
    vec![
        two_modes(case),
        laden.and_then(|(_, what)| {
            when(case.model.section.is_none(), "section_apart", || {
                format!(
                    "{what}: the thread's viscous forces are closures', those of clean Newtonian liquids two fields', and sizes of the two \
                     differ by up to 10 %, near a border of modes by more: beside a clean run, give both model.section = \"closures\""
                )
            })
        }),
        when(closures && steepest > SLOPE, "wall_slope", || {
            format!(
                "the stream's wall closes with a slope of {} (limit {SLOPE}) before the orifice: what happens there is qualitative",
                figure(steepest)
            )
        }),
        when(reynolds > ORIFICE_REYNOLDS, "orifice_inertia", || {
            format!(
                "Reynolds number {} in the orifice (limit {ORIFICE_REYNOLDS}, diameter and mean speed): the wall that the thread \
                 sees comes from flow without inertia; sizes are qualitative",
                figure(reynolds)
            )
        }),
        when(closures && o.standoff > STANDOFF * radius, "standoff_far", || {
            format!(
                "the nozzle stands {} orifice radii before the orifice (limit {STANDOFF}): the funnel's shape is not known there",
                figure(o.standoff / radius)
            )
        }),
        when(closures && tip > 0.5 * at_tip, "tip_wide", || {
            format!(
                "the tip (radius {}) fills {} of the stream that passes it (limit 0.5): the tip itself disturbs the funnel",
                um(tip),
                figure(tip / at_tip)
            )
        }),
    ]
}

/// Steepest slope of the wall from the tip on.
fn steepest(wall: &WallProfile) -> f64 {
    let Some((_, end)) = wall.extent() else { return 0.0 };
    const PLACES: u32 = 400;
    let slope = |i: u32| wall.radius_and_slope(end * f64::from(i) / f64::from(PLACES)).map_or(0.0, |(_, s)| s.abs());
    (0..=PLACES).map(slope).fold(0.0, f64::max)
}
