//! The full equations beside the reduced model: how far off is a run's first drop here?
//!
//! Equation: difference = d_reduced/d_full - 1, both of the first drop.
//!
//! Symbols: SI, names say the unit.
//!
//! Source: [`crate::stokes`] solves the two-liquid Stokes problem itself; nothing of the reduced model enters it.
//!
//! Holds for: what [`crate::stokes::case::scope`] lets through.

use super::evaluate::{Asked, Length, simulated};
use crate::case::glass::Pressures;
use crate::case::{Accuracy, Case, Forcing, Stop};
use crate::limits::interval::size;
use crate::outcome::{DropKind, Mode, ModelError, Summary};
use crate::stokes::case::{Cost, FirstDrop, REYNOLDS_FREE, Scope, inertia, scales, scope, solve};
use crate::stokes::growth::{Instant, Look, Resolution};
use crate::stokes::interface::Interface;
use crate::stokes::rule::value;
use crate::study::StudyError;
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// Layout of [`Confirmed`].
pub const SCHEMA: &str = "slenderjet-confirm-1";

/// The reduced model's first drop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Reduced {
    pub diameter_m: f64,
    pub time_s: f64,
    pub neck_m: f64,
    pub mode: Mode,
    /// The latest primary drop of the run: the first one where no more were asked for.
    pub last_diameter_m: f64,
}

/// What `confirm` tells; the keys of `confirm --json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Confirmed {
    pub schema: String,
    pub version: String,
    pub title: String,
    pub layout: String,
    /// Whether the equations hold for the case.
    pub applies: bool,
    /// Why not, or how the computation ended.
    pub why: String,
    /// What to bear in mind.
    pub notes: Vec<String>,
    pub first_drop: Option<FirstDrop>,
    /// All drops that were asked for, without satellites.
    pub drops: Vec<FirstDrop>,
    /// How many satellites came between them.
    pub satellites: usize,
    /// By the latest neck's place: dripping up to 2 tip diameters downstream, jetting from 4 on.
    pub mode: Mode,
    pub pressure: Option<Cycle>,
    pub reduced: Option<Reduced>,
    /// Of the reduced model's diameter, first drops.
    pub difference_relative: Option<f64>,
    /// The same of the latest drops, where more than one was asked for.
    pub settled_difference_relative: Option<f64>,
    /// Volume that steps lost and corrections gave back.
    pub volume_relative: Option<f64>,
    pub reynolds_inner: f64,
    pub reynolds_outer: Option<f64>,
    pub reynolds_orifice: Option<f64>,
    pub laplace: f64,
    pub cost: Cost,
}

/// Lowest and highest pressure at the inlets while the drop grows and comes off, Pa over the outlet: what this solver finds at the tip
/// and what the glass before it takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Cycle {
    pub inner_pa: [f64; 2],
    pub outer_pa: Option<[f64; 2]>,
}

/// An instant of the full equations' drop, SI.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    pub time_s: f64,
    /// From the rim to the front.
    pub z_m: Vec<f64>,
    pub r_m: Vec<f64>,
    pub neck_m: Option<f64>,
    pub neck_radius_m: Option<f64>,
    pub volume_m3: f64,
}

/// All that was computed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct History {
    pub outlines: Vec<Outline>,
    /// Time (s), inner, outer (Pa).
    pub pressures: Vec<[f64; 3]>,
    /// The outer wall's polygon (m).
    pub wall: Vec<[f64; 2]>,
}

/// How finely the full equations are solved for a case's accuracy. The film in an orifice drains wrongly on the quick mesh.
pub fn resolution(case: &Case) -> Resolution {
    match case.run.accuracy {
        Accuracy::Fine => Resolution::FINE,
        Accuracy::Standard => Resolution::BASE,
        Accuracy::Coarse if case.layout.orifice().is_some() => Resolution::BASE,
        Accuracy::Coarse => Resolution::QUICK,
    }
}

/// The full equations' answer alone. `look` sees every step and may end it by returning false.
pub fn full(case: &Case, how: &Resolution, look: Look<'_>) -> Confirmed {
    followed(case, how, 1, look).0
}

/// The same for so many drops, with all that was computed.
pub fn followed(case: &Case, how: &Resolution, drops: usize, look: Look<'_>) -> (Confirmed, History) {
    let found = inertia(case);
    let mut history = History::default();
    let mut told = Confirmed {
        schema: SCHEMA.into(),
        version: env!("CARGO_PKG_VERSION").into(),
        title: case.title.clone(),
        layout: case.layout.name().into(),
        applies: false,
        why: String::new(),
        notes: Vec::new(),
        first_drop: None,
        drops: Vec::new(),
        satellites: 0,
        mode: Mode::None,
        pressure: None,
        reduced: None,
        difference_relative: None,
        settled_difference_relative: None,
        volume_relative: None,
        reynolds_inner: found.reynolds_inner,
        reynolds_outer: found.reynolds_outer,
        reynolds_orifice: found.reynolds_orifice,
        laplace: found.laplace,
        cost: Cost::default(),
    };
    match scope(case) {
        Scope::Outside(why) => told.why = why,
        Scope::Within { device, notes } => {
            let (length, time) = scales(case);
            let answer = solve(case, &device, how, drops, &mut |now| {
                history.outlines.push(outline(now, length, time));
                look(now)
            });
            let end = history.outlines.iter().filter_map(|o| o.z_m.last()).fold(0.0f64, |a, b| a.max(*b));
            let from = -5.0 * length;
            let wall = device.channel.iter().flat_map(|c| c.outline(from / length, 1.2 * end / length + 5.0));
            history.wall = wall.map(|(z, r)| [z * length, r * length]).collect();
            told.pressure = cycle(case, &answer.pressures);
            history.pressures.clone_from(&answer.pressures);
            told.applies = true;
            told.notes = notes;
            told.why = answer.why;
            told.first_drop = answer.first_drop;
            told.drops = answer.drops;
            told.satellites = answer.satellites;
            told.mode = answer.mode;
            told.volume_relative = Some(answer.volume_relative);
            told.cost = answer.cost;
        }
    }
    (told, history)
}

/// Turn of the outline from one point to the next, at most, where a node is no nearer than that.
const TURN: f64 = 0.1;
/// Most points for each piece between nodes.
const POINTS: f64 = 6.0;

/// Points of the solver's own curve, close enough that chords look like it.
fn drawn(of: &Interface) -> Vec<(f64, f64)> {
    let last = of.nodes() - 1;
    let mut out = Vec::with_capacity(2 * of.nodes());
    for e in 0..last {
        let (z, r) = of.piece(e);
        let turn = of.k1[e].abs().max(of.k1[e + 1].abs()) * of.arc_of_piece(e, 1.0);
        let many = (turn / TURN).ceil().clamp(1.0, POINTS) as usize;
        let at = |i: usize| i as f64 / many as f64;
        out.extend((0..many).map(|i| (value(&z, at(i)), value(&r, at(i)))));
    }
    out.push((of.z[last], of.r[last]));
    out
}

fn outline(now: &Instant<'_>, length: f64, time: f64) -> Outline {
    let points = drawn(now.interface);
    let neck = now.closing.map(|c| c.neck);
    Outline {
        time_s: now.time * time,
        z_m: points.iter().map(|p| p.0 * length).collect(),
        r_m: points.iter().map(|p| p.1 * length).collect(),
        neck_m: neck.map(|n| n.z * length),
        neck_radius_m: neck.map(|n| n.r * length),
        volume_m3: now.interface.volume_from(0) * length.powi(3),
    }
}

/// Range at the inlets: readings at the tip and the glass before it, without the parts that the readings hold already.
fn cycle(case: &Case, readings: &[[f64; 3]]) -> Option<Cycle> {
    let glass = Pressures::of(case)?;
    let before = |parts: &[(&str, f64)]| {
        let held = ["curved end at the tip", "orifice and collection tube"];
        parts.iter().filter(|(name, _)| !held.contains(name)).map(|(_, pa)| pa).sum::<f64>()
    };
    let range = |k: usize, more: f64| {
        let all = readings.iter().map(|p| p[k] + more).filter(|p| p.is_finite());
        let (low, high) = all.fold((f64::MAX, f64::MIN), |(low, high), p| (low.min(p), high.max(p)));
        (low <= high).then_some([low, high])
    };
    let outer = glass.outer.as_ref().and_then(|o| range(2, before(&o.parts)));
    Some(Cycle { inner_pa: range(1, before(&glass.inner.parts))?, outer_pa: outer })
}

/// The first drop, and the latest of so many, of a run of the case with steady flows.
///
/// # Errors
/// Where the case cannot be simulated.
pub fn reduced(case: &Case, drops: u32, stopped: Asked<'_>) -> Result<Option<Reduced>, StudyError> {
    let mut short = case.clone();
    short.run.stop = Stop::Drops(drops);
    short.forcing = Forcing::default();
    if short.run.accuracy == Accuracy::Fine {
        // the error bar's second run is not asked for
        short.run.accuracy = Accuracy::Standard;
    }
    let outcome = simulated(&short, Length::AllDrops, stopped)?;
    Ok(of_summary(&outcome.summary))
}

/// The first drop that a summary tells of.
pub fn of_summary(summary: &Summary) -> Option<Reduced> {
    let latest = summary.drops.iter().rev().find(|d| d.kind == DropKind::Primary).map(|d| d.diameter_m);
    summary.first_pinch.as_ref().map(|pinch| Reduced {
        diameter_m: (6.0 * pinch.volume_m3 / PI).cbrt(),
        time_s: pinch.time_s,
        neck_m: pinch.position_m,
        mode: summary.mode,
        last_diameter_m: latest.unwrap_or((6.0 * pinch.volume_m3 / PI).cbrt()),
    })
}

impl Confirmed {
    /// The same beside the reduced model's answer.
    pub fn beside(mut self, reduced: Option<Reduced>) -> Confirmed {
        self.difference_relative =
            self.first_drop.zip(reduced.as_ref()).map(|(full, reduced)| reduced.diameter_m / full.diameter_m - 1.0);
        if let ([_, .., last], Some(reduced)) = (self.drops.as_slice(), reduced.as_ref()) {
            self.settled_difference_relative = Some(reduced.last_diameter_m / last.diameter_m - 1.0);
        }
        self.reduced = reduced;
        self
    }
}

/// The solver's own error of a first drop at the resolutions that `confirm` uses, with room (`validation/confirm`: 18 unseen drops, 0.4 % root
/// mean square, 1.3 % at most).
const OWN: f64 = 0.01;
/// What inertia, left out, moves at most up to the limit at which `confirm` declines ([`crate::stokes::case::ROWS`]).
const INERTIA: f64 = 0.06;

impl Confirmed {
    /// This case's own model error, in place of one told by rows of other cases: the difference of the first drop, with what is not known
    /// of the full equations' answer itself. One standard deviation; `None` where there is no difference.
    pub fn model_error(&self) -> Option<ModelError> {
        let difference = self.difference_relative?;
        let re = [Some(self.reynolds_inner), self.reynolds_outer, self.reynolds_orifice];
        let inertial = re.iter().flatten().any(|re| *re > REYNOLDS_FREE);
        let inertia = if inertial { INERTIA } else { 0.0 };
        let mut how = format!(
            "confirmed: this case's first drop is {:+.1} % off the full two-liquid equations without inertia, themselves known to {:.0} %",
            100.0 * difference,
            100.0 * OWN
        );
        if inertial {
            how += &format!("; inertia, left out there, may move it by {:.0} %", 100.0 * INERTIA);
        }
        Some(ModelError {
            relative: Some((difference.powi(2) + OWN.powi(2) + inertia.powi(2)).sqrt()),
            at_least: false,
            how,
        })
    }

    /// One line: `confirmed: -1.8 %`, or why there is no such number.
    pub fn line(&self) -> String {
        match self.difference_relative {
            Some(difference) => format!(
                "confirmed: {:+.1} % (this model's first drop against the full two-liquid equations without inertia)",
                100.0 * difference
            ),
            None if !self.applies => {
                format!("not confirmed: the full equations without inertia do not apply; {}", self.why)
            }
            None => format!("not confirmed: {}", self.why),
        }
    }

    /// Puts that error into a run's summary, and the interval of the size that follows.
    pub fn put_into(&self, case: &Case, summary: &mut Summary) {
        let Some(error) = self.model_error() else { return };
        let p = &mut summary.primary;
        p.model_error_relative = p.mean_diameter_m.and(error.relative);
        summary.size =
            size(case, summary.mode, p.mean_diameter_m, &error, summary.error_bar.as_ref(), &summary.warnings);
        summary.model_error = error;
    }
}
