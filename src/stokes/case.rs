//! From a case to the solver's units and back, and where the equations without inertia hold.
//!
//! Equation: R the pinned radius; velocities over gamma/mu_o, times over mu_o R/gamma; La = rho gamma R/mu^2 with the larger
//! density and the larger viscosity; Re = rho U R/mu, U on the axis outside, the mean in the tip inside.
//!
//! Symbols: SI in [`Case`] and [`Answer`], names say the unit.
//!
//! Source: limits from the full Navier-Stokes rows with a tip of 1.5 R in a tube of 10.5 R ([`ROWS`]): up to Re = 1 they differ
//! from these equations by less than their own error, at Re = 2 and 5 by 4 to 6 %; and with an orifice of half the tip's radius
//! ([`ORIFICE_ROWS`]). Own computations with a general flow solver.
//!
//! Holds for: co-flow in a round tube or a square bore's equivalent, thin or blunt tip; counter-flow through an orifice; a
//! pendant drop in a liquid at rest.

use super::channel::{Channel, EDGE, Orifice};
use super::device::{Device, long_tip};
use super::growth::{Ended, Grown, Look, Resolution, Thread, grow_drops};
use super::neck::Pinch;
use crate::case::{Case, Layout, Wetting};
use crate::device::wall::WallProfile;
use crate::groups::groups;
use crate::outcome::Mode;
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// Reynolds number up to which inertia changes nothing that the rows can tell, and from which on it rules.
pub const REYNOLDS_FREE: f64 = 1.0;
pub const REYNOLDS_RULES: f64 = 5.0;
/// Laplace number above which no row says what inertia does to the pinch itself.
pub const LAPLACE_RULES: f64 = 100.0;
/// Rim to neck in tip diameters: up to the first the device drips, from the second on it jets, between it is in transition.
const DRIPS_TO: f64 = 2.0;
const JETS_FROM: f64 = 4.0;
/// Radius of the chamber that stands for the channel before an orifice: this times the wider of tip and orifice, plus twice the
/// stand-off. Beyond it the liquid hardly moves.
const CHAMBER: f64 = 2.5;
/// A wall of the tip thinner than this share of its bore counts as none.
const THIN: f64 = 0.01;

/// Full Navier-Stokes rows that say what inertia does: (Laplace, capillary number, inner over outer velocity, what it does).
/// Tip of 1.5 R, tube of 10.5 R, equal liquids; 4 % more than these equations' own diameter is the mesh of the coarse rows.
pub const ROWS: [(f64, f64, f64, &str); 4] =
    [(1.0, 0.1, 1.0, "+0.6 %"), (10.0, 0.1, 1.0, "+0.6 %"), (10.0, 0.2, 0.5, "+6 %"), (50.0, 0.1, 1.0, "-4 %")];

/// The same with an orifice: (Laplace, Reynolds number in the hole, full Navier-Stokes diameter less these equations', %).
/// Tip 20/30 um, hole 10 um wide and long, stand-off 15 um, collection tube 50 um, liquids of 0.8 and 1.0 mPa.s.
pub const ORIFICE_ROWS: [(f64, f64, &str); 2] = [(50.0, 0.8, "-1 %"), (50.0, 1.4, "+0.5 %")];

/// What the solver can say of a case.
#[derive(Debug, Clone, PartialEq)]
pub enum Scope {
    /// It applies; what to bear in mind.
    Within { device: Box<Device>, notes: Vec<String> },
    /// It does not, and why.
    Outside(String),
}

/// Reynolds numbers, and the Laplace number of the denser and the more viscous liquid.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Inertia {
    pub reynolds_inner: f64,
    pub reynolds_outer: Option<f64>,
    /// Both liquids' mean velocity in the narrow part, its radius, the thinner liquid.
    pub reynolds_orifice: Option<f64>,
    pub laplace: f64,
}

/// The numbers that say whether inertia matters.
pub fn inertia(case: &Case) -> Inertia {
    let g = groups(case);
    let r = crate::groups::length(case);
    let outer = case.outer.as_ref();
    let density = outer.map_or(case.inner.density, |o| o.density.max(case.inner.density));
    let viscosity = outer.map_or(case.inner.viscosity, |o| o.viscosity.max(case.inner.viscosity));
    let hole = case.layout.orifice().zip(outer).map(|(orifice, o)| {
        let kinematic = (case.inner.viscosity / case.inner.density).min(o.viscosity / o.density);
        (case.inner.flow + o.flow) / (PI * 0.5 * orifice.bore * kinematic)
    });
    Inertia {
        reynolds_inner: g.reynolds_inner,
        // in counter-flow the group's velocity is that in the hole, which has a number of its own
        reynolds_outer: g.reynolds_outer.filter(|_| hole.is_none()),
        reynolds_orifice: hole,
        laplace: density * case.tension * r / (viscosity * viscosity),
    }
}

/// Whether the equations hold for a case, and its device in their units.
pub fn scope(case: &Case) -> Scope {
    let Some(outer) = &case.outer else {
        return Scope::Outside("it needs an outer liquid; here the surrounding is a gas that does not act".into());
    };
    match case.layout {
        Layout::Coflow | Layout::Counterflow(_) | Layout::Pendant => {}
        Layout::Segment(_) => {
            return Scope::Outside(
                "a periodic thread has no tip to grow from; its exact growth is told by `growth`".into(),
            );
        }
    }
    if let Some((_, what)) = case.real.effects().first() {
        return Scope::Outside(format!("it knows one viscosity and one tension; here is {what}"));
    }
    let found = inertia(case);
    let mut fastest = ("in the inner liquid", found.reynolds_inner);
    for (place, re) in [("in the outer liquid", found.reynolds_outer), ("in the orifice", found.reynolds_orifice)] {
        if let Some(re) = re.filter(|re| *re > fastest.1) {
            fastest = (place, re);
        }
    }
    let rows = if found.reynolds_orifice.is_some() { orifice_rows_told() } else { rows_told() };
    if fastest.1 > REYNOLDS_RULES {
        return Scope::Outside(format!(
            "inertia rules: Re = {:.3} {} (limit {REYNOLDS_RULES}); {rows}",
            fastest.1, fastest.0
        ));
    }
    if found.laplace > LAPLACE_RULES {
        return Scope::Outside(format!(
            "inertia rules the pinch: La = {:.3e} (limit {LAPLACE_RULES}); {rows}",
            found.laplace
        ));
    }
    let ratio = case.inner.viscosity / outer.viscosity;
    if !(0.01..=100.0).contains(&ratio) {
        return Scope::Outside(format!(
            "viscosity ratio {ratio:.3e} lies outside 0.01 to 100, for which the solver is verified"
        ));
    }
    let mut notes = Vec::new();
    if fastest.1 > REYNOLDS_FREE {
        notes.push(format!(
            "inertia, left out here, may move the size by several percent: Re = {:.2} {}; {rows}",
            fastest.1, fastest.0
        ));
    }
    if case.forcing.drives() {
        notes
            .push("pulsation, noise, steps and ramps of the flows are left out: the first drop of steady flows".into());
    }
    let device = device(case, outer, ratio);
    if let Some(channel) = &device.channel {
        if device.outside >= channel.radius {
            return Scope::Outside("the tip fills its channel: no way is left for the outer liquid".into());
        }
        if let Some(o) = channel.orifice {
            notes.push(format!(
                "the orifice's entrance edge is rounded by {:.3} of the orifice's radius, its other edges are sharp; the chamber \
                 before it is a tube of {:.1} R, R the tip's pinned radius",
                o.edge / o.radius,
                channel.radius
            ));
        }
    }
    Scope::Within { device: Box::new(device), notes }
}

fn orifice_rows_told() -> String {
    let rows: Vec<String> = ORIFICE_ROWS.iter().map(|(la, re, what)| format!("{what} at Re {re} (La {la})")).collect();
    format!("full Navier-Stokes rows of an orifice against these equations: {}", rows.join(", "))
}

fn rows_told() -> String {
    let rows: Vec<String> = ROWS
        .iter()
        .map(|(la, ca, q, what)| format!("{what} at Re {:.2} (La {la}, Ca {ca}, velocity ratio {q})", la * ca))
        .collect();
    format!("full Navier-Stokes rows against these equations: {}", rows.join(", "))
}

/// The device of a case in the solver's units, whatever inertia does in it; `None` without an outer liquid and where the tip fills its channel.
pub fn device_of(case: &Case) -> Option<Device> {
    let outer = case.outer.as_ref()?;
    let device = device(case, outer, case.inner.viscosity / outer.viscosity);
    device.channel.as_ref().is_none_or(|c| device.outside < c.radius).then_some(device)
}

fn device(case: &Case, outer: &crate::case::Stream, ratio: f64) -> Device {
    let r = case.device.pinned_radius();
    let flow = case.tension / outer.viscosity * r * r;
    let bore = 0.5 * case.device.tip_bore / r;
    let outside = case.device.tip_outer.map_or(bore, |d| 0.5 * d / r);
    let thin = outside < (1.0 + THIN) * bore;
    let (bore, outside) = match case.device.wetting {
        _ if thin => (1.0, 1.0),
        Wetting::TipBore => (1.0, outside),
        Wetting::TipOuter => (bore, 1.0),
    };
    let channel = channel(&WallProfile::of(case).scaled(r), outside);
    Device {
        ratio,
        bond: groups(case).bond,
        inner_flow: case.inner.flow / flow,
        outer_flow: channel.as_ref().map_or(0.0, |_| outer.flow / flow),
        stream: 0.0,
        bore,
        outside,
        tip_length: long_tip(channel.as_ref().map(|c| c.radius)),
        channel,
    }
}

/// The outer wall in the solver's units.
fn channel(wall: &WallProfile, outside: f64) -> Option<Channel> {
    match *wall {
        WallProfile::Unbounded => None,
        WallProfile::Tube { radius } => Some(Channel::tube(radius)),
        WallProfile::Orifice { channel, orifice, standoff, length, collection, collection_length } => {
            let chamber = channel.min(CHAMBER * outside.max(orifice) + 2.0 * standoff);
            let edge = (EDGE * orifice).min(0.5 * (chamber - orifice)).min(0.5 * length);
            let widens = collection > orifice && collection_length > 0.0;
            Some(Channel::with_orifice(
                chamber,
                Orifice {
                    plane: standoff,
                    radius: orifice,
                    length,
                    widening: if widens { collection_length } else { 0.0 },
                    collection: if widens { collection } else { orifice },
                    edge,
                },
            ))
        }
    }
}

/// A drop as it came off.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct FirstDrop {
    pub diameter_m: f64,
    pub time_s: f64,
    /// Place of the neck that parted.
    pub neck_m: f64,
}

/// Work done.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Cost {
    pub wall_s: f64,
    pub steps: usize,
    pub rejected: usize,
    pub interface_nodes_max: usize,
    pub glass_nodes: usize,
}

/// What the full equations say of a case.
#[derive(Debug, Clone)]
pub struct Answer {
    /// Why it has no drop, where it has none.
    pub why: String,
    pub first_drop: Option<FirstDrop>,
    /// All that are no satellites.
    pub drops: Vec<FirstDrop>,
    pub satellites: usize,
    /// By the place of the last neck.
    pub mode: Mode,
    /// Pressures at the tip over the far end of the tube: time (s), inner, outer (Pa, NaN without an outer stream).
    pub pressures: Vec<[f64; 3]>,
    /// Volume that the steps lost and the corrections gave back, over the volume.
    pub volume_relative: f64,
    pub cost: Cost,
}

/// Scales from the solver's units: length, time.
pub fn scales(case: &Case) -> (f64, f64) {
    let r = case.device.pinned_radius();
    let outer = case.outer.as_ref().map_or(case.inner.viscosity, |o| o.viscosity);
    (r, outer * r / case.tension)
}

/// Solves the full equations for a device of a case until so many drops came off; `look` sees every step and may end it by returning
/// false.
pub fn solve(case: &Case, device: &Device, how: &Resolution, drops: usize, look: Look<'_>) -> Answer {
    let (length, time) = scales(case);
    let grown = grow_drops(device, how, drops, look);
    let drop = |p: &Pinch| FirstDrop {
        diameter_m: (6.0 * p.volume / PI).cbrt() * length,
        time_s: p.time * time,
        neck_m: p.z * length,
    };
    let primaries = grown.primaries();
    let mode = match primaries.last() {
        Some(p) if p.z >= 2.0 * JETS_FROM => Mode::Jetting,
        Some(p) if p.z > 2.0 * DRIPS_TO => Mode::Transition,
        Some(_) => Mode::Dripping,
        None => Mode::None,
    };
    let unit = case.tension / length;
    let pressures =
        grown.pressures.iter().map(|p| [p.time * time, p.inner * unit, p.outer.unwrap_or(f64::NAN) * unit]).collect();
    Answer {
        pressures,
        why: why(&grown, primaries.len(), length, time),
        first_drop: grown.pinch.as_ref().map(drop),
        satellites: grown.pinches.len() - primaries.len(),
        drops: primaries.iter().map(drop).collect(),
        mode,
        volume_relative: grown.corrected,
        cost: Cost {
            wall_s: 0.0,
            steps: grown.steps,
            rejected: grown.rejected,
            interface_nodes_max: grown.nodes_most,
            glass_nodes: grown.glass_nodes,
        },
    }
}

/// How a computation ended, in words; `length` and `time` are the solver's units.
fn why(grown: &Grown, drops: usize, length: f64, time: f64) -> String {
    let what = match grown.ended {
        Ended::Pinched if drops == 1 => return "the first drop pinched off".into(),
        Ended::Pinched => return format!("{drops} drops pinched off"),
        Ended::Long => "the thread grew to 300 R without a neck that closed",
        Ended::FillsTube => "it fills the tube but for a film that is not resolved",
        Ended::TouchesGlass => "the interface touches the glass behind the tip's face, where it would wet or not",
        Ended::TouchesWall => "the film between it and the outer wall became thinner than is resolved",
        Ended::Stuck => "the steps became too short; the flow is not resolved",
        Ended::Met => "it met the one before it, which the flow behind the tip does not carry off in time",
        Ended::Budget => "none within the budget of work",
        Ended::Interrupted => return "interrupted".into(),
    };
    let told = if drops == 0 { format!("no drop: {what}") } else { format!("no drop after {drops}: {what}") };
    if matches!(grown.ended, Ended::Long | Ended::Budget) {
        told + "; " + &found(&grown.thread, length, time)
    } else {
        told
    }
}

/// A number to three digits.
fn three(x: f64) -> String {
    let decimals = (2.0 - x.abs().max(1e-6).log10().floor()).clamp(0.0, 8.0) as usize;
    format!("{x:.decimals$}")
}

/// What was found of a thread that did not pinch off.
fn found(thread: &Thread, length: f64, time: f64) -> String {
    let um = |x: f64| format!("{} um", three(1e6 * x * length));
    let pace = three(1e3 * thread.front_speed * length / time);
    let mut told = format!("its front is {} from the tip and goes on at {pace} mm/s", um(thread.front));
    match thread.neck {
        None => told += ", no neck is in sight",
        Some([z, r, thins]) => {
            told += &format!(", its neck, {} from the tip, is {} wide and ", um(z), um(2.0 * r));
            told += &if thins > 0.0 {
                format!("would close in {} ms at its present pace", three(1e3 * r / thins * time))
            } else {
                "does not thin".into()
            };
        }
    }
    if thread.front > 2.0 * JETS_FROM {
        told += ": so long a thread without a pinch-off speaks for a jet";
    }
    told
}

#[cfg(test)]
mod tests {
    use super::*;

    // front 60 R of 20 um, 0.2 R a unit of 0.1 ms: 1,200 um, 40 mm/s; a neck of 0.4 R that thins by 0.01 closes in 40 units
    #[test]
    fn theory_a_thread_that_does_not_part_is_told_in_its_numbers() {
        let thread = Thread { front: 60.0, front_speed: 0.2, neck: Some([30.0, 0.4, 0.01]) };
        let told = found(&thread, 20e-6, 1e-4);
        for part in ["1200 um from the tip", "at 40.0 mm/s", "600 um", "16.0 um wide", "close in 4.00 ms", "a jet"] {
            assert!(told.contains(part), "{part}: {told}");
        }
        let short = found(&Thread { front: 3.0, front_speed: 0.2, neck: None }, 20e-6, 1e-4);
        assert!(short.contains("no neck is in sight") && !short.contains("jet"), "{short}");
        let widens = found(&Thread { neck: Some([1.0, 0.4, -0.01]), ..thread }, 20e-6, 1e-4);
        assert!(widens.contains("does not thin"), "{widens}");
    }
}
