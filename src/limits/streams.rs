//! Limits that the liquids and their flows set.

use super::interval::sensitivity;
use super::model_error::inertia_is_known;
use super::{figure, um, when};
use crate::case::{Case, Layout};
use crate::groups::{groups, length, outer_velocity};
use crate::outcome::Instability;
use crate::outcome::{Mode, Warning};
use crate::thread::closures::ends::inertial;
use crate::thread::estimate::UniformThread;
use std::f64::consts::PI;

/// Laplace number of the outer liquid from which its inertia counts, and up to which the closure was checked.
const OUTER_INERTIA: f64 = 10.0;
const OUTER_INERTIA_CHECKED: f64 = 1000.0;
/// Rise of a drop's drag with inertia from which its size is off by more than the model's own error.
const DRAG_RISE: f64 = 1.1;
/// Viscosity ratio and outer capillary number from which breakup near the tip is irregular.
const THIN_INNER: (f64, f64) = (0.1, 0.3);
/// Viscosity ratio below which the last instants before pinch-off are off.
const PINCH_RATIO: f64 = 0.5;
/// Flow ratio below which a thin inner liquid may stream from a pointed meniscus.
const STREAMING_FLOW: f64 = 0.01;
/// Tension below which a surfactant is at work, N/m; clean water against oils has 20 to 55 mN/m.
const SURFACTANT: f64 = 15e-3;
/// Below this Ohnesorge number later drops scatter.
const LOW_OHNESORGE: f64 = 2e-3;
/// Reynolds number (diameter) from which a pipe flow may be turbulent.
const TURBULENT: f64 = 2000.0;
/// Weber number (radius) of a liquid that enters another from which its jet crosses the drop that it fills (full equations at outer capillary
/// number 0.01, viscosity ratio 0.1, validation topic jetting: at 0.5 the drop stays at its tip, at 1 it leaves it slowly, at 1.5 it hangs on a jet).
const JET_IN_DROP: f64 = 1.0;
/// ... and from which the full equations show a jet there.
const JETS_BY_ITSELF: f64 = 1.5;
/// Density of air, kg/m3, and the gas Weber number (diameter) from which air shapes a jet.
const AIR: f64 = 1.2;
const AIR_WEBER: f64 = 0.4;
/// Radius over capillary length (squared) from which a hanging drop is flat rather than slender.
const WIDE: f64 = 1.0;
/// Weber numbers (radius) of taps between which dripping may turn to jetting: far below half of 1 (the least that leaves a nozzle, see
/// `case::contradictions`) and above twice the 4 of a uniform thread at low viscosity.
const BORDER: (f64, f64) = (0.25, 8.0);

pub fn warnings(case: &Case, dripping: Option<f64>, mode: Option<Mode>) -> Vec<Warning> {
    let mut found = outer(case, dripping, mode);
    found.extend(inner(case, mode));
    found.into_iter().flatten().collect()
}

fn outer(case: &Case, dripping: Option<f64>, mode: Option<Mode>) -> Vec<Option<Warning>> {
    if case.outer.is_none() {
        return Vec::new();
    }
    let (g, laplace) = (groups(case), super::outer_laplace(case).unwrap_or(0.0));
    let (ratio, capillary) = (g.viscosity_ratio.unwrap_or(1.0), g.capillary_outer.unwrap_or(0.0));
    let slow = g.flow_ratio.unwrap_or(1.0) < STREAMING_FLOW;
    let thin = ratio <= THIN_INNER.0 && capillary >= THIN_INNER.1;
    vec![
        dripping.and_then(|d| drop_inertia(case, d)),
        when(laplace > OUTER_INERTIA && laplace <= OUTER_INERTIA_CHECKED, "outer_inertia", || {
            let enters = if case.two_fields() {
                "added mass alone, two fields leave out its boundary layer"
            } else {
                "added mass and a boundary layer, within 14 % in growth rate"
            };
            format!(
                "inertia of the outer liquid counts (La = {}, limit {OUTER_INERTIA}): it enters as {enters}",
                figure(laplace)
            )
        }),
        when(laplace > OUTER_INERTIA_CHECKED, "outer_inertia_far", || {
            format!(
                "inertia of the outer liquid rules (La = {}): its closure was checked up to {OUTER_INERTIA_CHECKED} only",
                figure(laplace)
            )
        }),
        when(thin && !slow, "thin_inner", || {
            format!(
                "viscosity ratio {} (limit {}) at outer capillary number {} (limit {}): breakup near the tip is irregular here and \
                 not trustworthy",
                figure(ratio),
                THIN_INNER.0,
                figure(capillary),
                THIN_INNER.1
            )
        }),
        when(thin && slow, "tip_streaming", || {
            format!(
                "viscosity ratio {}, outer capillary number {}, flow ratio {}: a pointed meniscus that streams from its tip is \
                 likely; not covered by a thread pinned to its rim",
                figure(ratio),
                figure(capillary),
                figure(g.flow_ratio.unwrap_or(0.0))
            )
        }),
        when(ratio < PINCH_RATIO, "pinch_speed", || {
            format!(
                "viscosity ratio {} (limit {PINCH_RATIO}): the speed of the last instants before pinch-off is not trustworthy; \
                 the drop's size hardly depends on it",
                figure(ratio)
            )
        }),
        surfactant(case, mode),
    ]
}

/// The drag that pulls a dripping drop off is that of creeping flow; a sphere that settles has more with inertia. A drop that is held
/// behind its tip feels little of that: at Re 30 (La_o 50, Ca 0.1) the full equations make it 4.3 % smaller than without inertia and a
/// run 1.7 %, where the sphere's drag would take 23 % (validation topics coflow_dripping, coflow_inertia). Beyond those rows it is a bound.
///
/// Equation: rise = (2 (1 - s) m + 3 s r)/(2 + s), s = ratio/(1 + ratio): the mean of the two factors with the weights that
/// Hadamard and Rybczynski's drag 2 pi (2 + 3 ratio)/(1 + ratio) gives to a mobile and a rigid surface.
/// Symbols: m, r drag of a sphere with mobile and rigid surface over that of creeping flow ([`inertial`]) at Re = rho_o U d/mu_o,
/// U the outer stream on the axis, d the drop (simulated, before that expected), ratio inner over outer viscosity.
/// Source: Hadamard 1911, Rybczynski 1911 for the weights; the mean between them is ours, unchecked between its limits.
/// Holds for: a warning only; a run does not use it.
fn drop_inertia(case: &Case, diameter: f64) -> Option<Warning> {
    let (reynolds, rise) = rise(case, diameter)?;
    when(case.layout == Layout::Coflow && rise > DRAG_RISE, "drop_inertia", || {
        format!(
            "Reynolds number {} of a dripping drop in the outer stream: a settling sphere's drag is {} times that of creeping flow (limit \
             {DRAG_RISE}), which the run leaves out; {}",
            figure(reynolds),
            figure(rise),
            if inertia_is_known(case) {
                "rows of the full equations near this case show that a drop held behind its tip feels little of it"
            } else {
                "no row of the full equations is near, drops may be smaller than told by up to its square root"
            }
        )
    })
}

/// Reynolds number of a dripping drop and the rise of its drag.
fn rise(case: &Case, diameter: f64) -> Option<(f64, f64)> {
    let (outer, axis) = (case.outer.as_ref()?, outer_velocity(case)?);
    let ratio = case.inner.viscosity / outer.viscosity;
    let reynolds = outer.density * axis * diameter / outer.viscosity;
    let (rigid, mobile) = inertial(reynolds);
    let s = ratio / (1.0 + ratio);
    Some((reynolds, (2.0 * mobile * (1.0 - s) + 3.0 * rigid * s) / (2.0 + s)))
}

/// Rise of the drag of a settling drop of a co-flow case with inertia, over that of creeping flow; `None` where rows of the full
/// equations tell what inertia does.
pub fn drag_rise(case: &Case, diameter: f64) -> Option<f64> {
    rise(case, diameter).filter(|_| case.layout == Layout::Coflow && !inertia_is_known(case)).map(|(_, rise)| rise)
}

/// How far the tension at the age of a drop may lie from the one typed where a surfactant is at work (common practice, no source).
pub const SURFACTANT_SPREAD: f64 = 0.3;

/// Whether the tension between two liquids is so low that a surfactant must be at work of which nothing is known.
pub fn has_surfactant(case: &Case) -> bool {
    case.outer.is_some() && is_unknown(case)
}

/// Whether a low tension means a surfactant, and neither what it does is described nor the tension found on drops.
fn is_unknown(case: &Case) -> bool {
    case.tension < SURFACTANT && case.real.surfactant.is_none() && !case.tension_of_drops
}

fn surfactant(case: &Case, seen: Option<Mode>) -> Option<Warning> {
    when(is_unknown(case), "surfactant_age", || {
        let spread = 100.0 * SURFACTANT_SPREAD;
        let modes = seen.map_or_else(|| vec![Mode::Dripping, Mode::Jetting], |mode| vec![mode]);
        let width = |mode: Mode| {
            sensitivity(case, mode, "interface.tension").map(|s| (mode, 100.0 * SURFACTANT_SPREAD * s.abs()))
        };
        let follows: Vec<String> = modes
            .into_iter()
            .filter_map(width)
            .map(|(mode, width)| format!("+-{width:.0} % of the diameter in {mode}"))
            .collect();
        let size = if follows.is_empty() { String::new() } else { format!(" ({})", follows.join(", ")) };
        format!(
            "a tension of {} mN/m means a surfactant: what counts is the tension at the age of the interface, seldom the \
             equilibrium value; sweep it by {spread:.0} %{size}, find it from measured drops (`slenderjet calibrate`), or describe it in \
             [surfactant] and it is computed",
            figure(1e3 * case.tension)
        )
    })
}

fn inner(case: &Case, mode: Option<Mode>) -> Vec<Option<Warning>> {
    let (g, r) = (groups(case), length(case));
    let bore = 0.5 * case.device.tip_bore;
    let speed = case.inner.flow / (PI * bore * bore);
    let reynolds = case.inner.density * speed * 2.0 * bore / case.inner.viscosity;
    let gas = if case.outer.is_none() { AIR * speed * speed * 2.0 * bore / case.tension } else { 0.0 };
    let waves = 2.0 * PI * case.forcing.frequency * r / (speed * bore * bore / (r * r));
    vec![
        when(g.ohnesorge < LOW_OHNESORGE, "low_ohnesorge", || {
            format!(
                "Ohnesorge number {} (limit {LOW_OHNESORGE}): satellites merge chaotically and later drops scatter by about 1.5 %; \
                 read the spread, not the digits",
                figure(g.ohnesorge)
            )
        }),
        when(reynolds > TURBULENT, "turbulent", || {
            format!(
                "Reynolds number {} in the tip's bore (limit {TURBULENT}): the jet may be turbulent",
                figure(reynolds)
            )
        }),
        when(gas > AIR_WEBER, "air_drag", || {
            format!(
                "gas Weber number {} (limit {AIR_WEBER}, air assumed): the air shapes the jet's waves and slows its drops; neither \
                 is modelled",
                figure(gas)
            )
        }),
        when(case.layout == Layout::Pendant && g.bond.abs() > WIDE, "wide_tip", || {
            format!(
                "Bond number {} on the rim of radius {} (limit {WIDE}): the hanging drop is wider than it is slender",
                figure(g.bond),
                um(r)
            )
        }),
        when(case.forcing.amplitude > 0.0 && waves > 1.0, "forcing_short", || {
            format!(
                "the modulation makes waves of k R = {} (limit 1) at the tip's mean velocity: they are too short to grow",
                figure(waves)
            )
        }),
        when(case.model.radial_inertia, "radial_inertia_unused", || {
            "model.radial_inertia = on reaches `growth` alone: the equations of a run leave the inertia of the radial motion out; \
             waves grow up to 2.98 % too fast at low Ohnesorge number and a round drop wobbles 22 % too fast"
                .to_owned()
        }),
        plug_inflow(case),
        unforced_jet(case).filter(|_| mode != Some(Mode::Dripping)),
    ]
}

/// A plug where a long needle delivers a parabola.
fn plug_inflow(case: &Case) -> Option<Warning> {
    let weber = groups(case).weber_inner;
    let tap = case.layout == Layout::Pendant && case.outer.is_none() && !case.model.parabolic_inflow;
    when(tap && (BORDER.0..BORDER.1).contains(&weber), "plug_inflow", || {
        format!(
            "the inflow is a plug at a Weber number of {} ({} to {} is where taps turn into jets): a needle longer than 0.06 Re \
             diameters delivers a parabola with a third more momentum, and a water tap then jets from 0.7 of the plug's flow on; \
             model.inflow_profile = \"parabola\" computes it",
            figure(weber),
            BORDER.0,
            BORDER.1
        )
    })
}

/// Whether the jet from the tip crosses the drop that it fills and drives it.
pub fn crosses_its_drop(case: &Case) -> bool {
    case.outer.is_some() && groups(case).weber_inner > JET_IN_DROP
}

/// Weber number of an inner stream whose own momentum carries a jet in another liquid, where it does.
pub fn jets_by_itself(case: &Case) -> Option<f64> {
    let weber = groups(case).weber_inner;
    (case.outer.is_some() && weber >= JETS_BY_ITSELF).then_some(weber)
}

/// The warning of it, where no run has shown a jet anyway.
pub fn jet_in_drop(case: &Case, seen: Option<Mode>) -> Option<Warning> {
    when(crosses_its_drop(case) && seen != Some(Mode::Jetting), "jet_in_drop", || {
        format!(
            "inner Weber number {} on the tip's radius (limit {JET_IN_DROP}): the jet from the tip crosses the drop that it fills and pushes it away; \
             the model follows it as a steady jet, which was held against the full equations up to 2.5 at one outer stream alone",
            figure(groups(case).weber_inner)
        )
    })
}

/// A jet without noise breaks by round-off alone.
fn unforced_jet(case: &Case) -> Option<Warning> {
    let quiet = !matches!(case.layout, Layout::Segment(_)) && !case.forcing.drives();
    if !quiet {
        return None;
    }
    let thread = UniformThread::of(case)?;
    let jets = thread.relation.instability() == Some(Instability::Convective);
    when(jets, "unforced_jet", || {
        format!(
            "expected to jet (estimate, {} m/s) and nothing disturbs it: where it breaks depends on noise, so give forcing.noise, \
             for example \"0.2 %\"",
            figure(thread.velocity)
        )
    })
}
