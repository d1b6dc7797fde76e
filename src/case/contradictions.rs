//! Values that are each in range but cannot stand together.

use super::rheology::{GAS_CONSTANT, Surfactant};
use super::{Bore, Case, Layout, Section};
use crate::device::core_annular;
use crate::device::wall::WallProfile;
use crate::math::Pinned as _;
use std::f64::consts::PI;

/// A contradiction: the key to point at, what was found, what would be right.
pub type Contradiction = (&'static str, String, String);

/// Confinement x = h/R_w of the undisturbed thread above which it fills the channel.
const FILLED: f64 = 0.98;
/// Mean velocity that no capillary takes, m/s.
const SPEED_MAX: f64 = 1000.0;
/// Weber number (radius) below which a stream without weight cannot leave its nozzle: half of the 1 at which its momentum flux
/// rho U^2 pi R^2 equals half of the pull 2 pi R gamma (a balance of our own; taps without weight jet from 2 to 4).
const LEAST_WEBER: f64 = 0.5;
/// Peak of a band-limited noise in units of its root mean square (4 standard deviations: one in 16,000).
const NOISE_PEAK: f64 = 4.0;

/// Everything in a case that contradicts itself; comparisons with values that are missing are silent.
pub fn contradictions(case: &Case) -> Vec<Contradiction> {
    let mut found = tip(case);
    found.extend(channel(case));
    found.extend(orifice(case));
    found.extend(thread(case));
    found.extend(flows(case));
    found.extend(super::rheology::contradictions(
        &case.real,
        case.inner.viscosity,
        case.outer.as_ref().map(|o| o.viscosity),
    ));
    found.extend(surface(case));
    found.extend(falls(case));
    found.extend(one_liquid(case));
    found.extend(parabola(case));
    found.extend(fields_of_real_liquids(case));
    found
}

/// Two lengths that must stand in order, in micrometres.
fn longer(key: &'static str, value: f64, other: &str, limit: f64) -> Contradiction {
    (
        key,
        format!("{} um is not larger than {other} ({} um)", short(1e6 * value), short(1e6 * limit)),
        format!("more than {} um is needed", short(1e6 * limit)),
    )
}

fn shorter(key: &'static str, value: f64, other: &str, limit: f64) -> Contradiction {
    (
        key,
        format!("{} um is not smaller than {other} ({} um)", short(1e6 * value), short(1e6 * limit)),
        format!("less than {} um is needed", short(1e6 * limit)),
    )
}

/// Five significant figures without needless zeros.
fn short(x: f64) -> String {
    let rounded: f64 = format!("{x:.4e}").parse().unwrap_or(x);
    rounded.to_string()
}

fn tip(case: &Case) -> Vec<Contradiction> {
    let d = &case.device;
    let mut found = Vec::new();
    if let Some(outer) = d.tip_outer.filter(|outer| *outer <= d.tip_bore) {
        found.push(longer("device.tip_outer", outer, "the tip's bore", d.tip_bore));
    }
    let widest = d.tip_outer.unwrap_or(d.tip_bore).max(d.tip_bore);
    if let (Some(bore), Some(tube)) = (case.value("supply.inner_bore"), d.round_outer)
        && bore >= tube
    {
        found.push(shorter("supply.inner_bore", bore, "the tube that it is the bore of", tube));
    }
    if let Some(tube) = d.round_outer.filter(|tube| *tube < widest) {
        found.push(longer("device.round_outer", tube, "the tip that is drawn from it", widest));
    }
    found
}

fn channel(case: &Case) -> Vec<Contradiction> {
    let d = &case.device;
    let (width, name) = match d.bore {
        Bore::Square(side) => (side, "the square bore"),
        Bore::Round(diameter) => (diameter, "the round bore"),
        Bore::Unbounded => return Vec::new(),
    };
    let mut found = Vec::new();
    if let Some(segment) = case.layout.segment() {
        if case.outer.is_none() {
            found.push((
                "device.round_bore",
                "is a wall about a thread with no liquid outside".into(),
                "give outer.viscosity and outer.density, or leave it out: through a gas a thread feels no wall".into(),
            ));
        }
        if 2.0 * segment.radius >= width {
            found.push(shorter("thread.radius", segment.radius, "that of the tube about it", 0.5 * width));
        }
        return found;
    }
    if let Some(tube) = d.round_outer.filter(|tube| *tube > width) {
        found.push(shorter("device.round_outer", tube, name, width));
    }
    if d.tip_bore >= width {
        found.push(shorter("device.tip_bore", d.tip_bore, name, width));
    } else if let Some(outer) = d.tip_outer.filter(|outer| *outer >= width) {
        found.push(shorter("device.tip_outer", outer, name, width));
    }
    found
}

fn orifice(case: &Case) -> Vec<Contradiction> {
    let Some(orifice) = case.layout.orifice() else { return Vec::new() };
    let mut found = Vec::new();
    let width = match case.device.bore {
        Bore::Square(width) | Bore::Round(width) => width,
        Bore::Unbounded => f64::INFINITY,
    };
    if orifice.bore >= width {
        found.push(shorter("device.orifice_bore", orifice.bore, "the channel before it", width));
    } else if orifice.collection_bore > width {
        found.push(shorter("device.collection_bore", orifice.collection_bore, "the channel that holds it", width));
    }
    if orifice.collection_bore < orifice.bore {
        found.push(longer("device.collection_bore", orifice.collection_bore, "the orifice", orifice.bore));
    }
    let (tip, wall) = (case.device.pinned_radius(), WallProfile::of(case).radius(0.0));
    if let Some(wall) = wall.filter(|wall| tip >= *wall && orifice.bore < width) {
        found.push((
            "device.tip_bore",
            format!(
                "the tip (radius {} um at its pinning rim) is wider than the stream that passes it (radius {} um)",
                short(1e6 * tip),
                short(1e6 * wall)
            ),
            "a narrower tip, a larger stand-off or a larger orifice is needed".into(),
        ));
    }
    found
}

fn thread(case: &Case) -> Vec<Contradiction> {
    let Some(thread) = case.layout.segment() else { return Vec::new() };
    let mut found = Vec::new();
    if !thread.wavenumber.is_nan() && !(0.01..=5.0).contains(&thread.wavenumber) {
        found.push((
            "thread.wavelength",
            format!("makes the reduced wavenumber x = 2 pi R/wavelength {}", short(thread.wavenumber)),
            "x from 0.01 to 5 makes sense here".into(),
        ));
    }
    if case.gravity != 0.0 {
        let right = "write along = \"none\": a periodic thread at rest has no direction".to_string();
        found.push(("gravity.along", "cannot act along a periodic thread".into(), right));
    }
    found
}

fn flows(case: &Case) -> Vec<Contradiction> {
    let mut found = Vec::new();
    let f = &case.forcing;
    let o = &f.outer;
    for (which, amplitude, noise, keys) in [
        ("inner", f.amplitude, f.noise, ["forcing.amplitude", "forcing.noise"]),
        ("outer", o.amplitude, o.noise, ["forcing.outer_amplitude", "forcing.outer_noise"]),
    ] {
        if amplitude + NOISE_PEAK * noise >= 1.0 {
            found.push((
                keys[usize::from(noise > amplitude)],
                format!(
                    "{} % modulation and {} % noise would turn the {which} flow round at its worst instants",
                    short(100.0 * amplitude),
                    short(100.0 * noise)
                ),
                format!("amplitude + {NOISE_PEAK} noise below 100 % is needed"),
            ));
        }
    }
    for (key, step, amplitude, noise) in
        [("forcing.step", f.step, f.amplitude, f.noise), ("forcing.outer_step", o.step, o.amplitude, o.noise)]
    {
        if step > 0.0 && amplitude + noise > 0.0 {
            found.push((
                key,
                "steps of a motor and a modulation or noise of the same flow would turn it round between two steps"
                    .into(),
                "give one of them: the steps, or a smooth pulsation with its noise".into(),
            ));
        }
    }
    if f.drives_outer() && case.outer.as_ref().is_none_or(|outer| outer.flow <= 0.0) {
        let (key, right) = ("forcing.outer_amplitude", "give outer.flow, or leave the keys forcing.outer_* out");
        found.push((key, "drives an outer flow that is not there".into(), right.into()));
    }
    if f.ramp.is_some_and(|r| r.outer.is_some()) && case.outer.as_ref().is_none_or(|outer| outer.flow <= 0.0) {
        found.push(("ramp.outer", "is the goal of an outer flow that is not there".into(), "give outer.flow".into()));
    }
    let bore = 0.5 * case.device.tip_bore;
    let goal = f.ramp.and_then(|r| r.inner).filter(|goal| *goal > case.inner.flow);
    let speed = goal.unwrap_or(case.inner.flow) / (PI * bore * bore);
    if speed > SPEED_MAX {
        found.push((
            if goal.is_some() { "ramp.inner" } else { "inner.flow" },
            format!("makes {} m/s in the tip's bore", short(speed)),
            "check the unit of the flow and of the bore".into(),
        ));
    }
    found.extend(filled(case));
    found
}

/// A liquid that hangs on a nozzle comes off where its weight or its speed takes it off, and nowhere else.
fn falls(case: &Case) -> Option<Contradiction> {
    if case.layout != Layout::Pendant {
        return None;
    }
    let (r, gamma) = (case.device.pinned_radius(), case.tension);
    let outer_density = case.outer.as_ref().map_or(0.0, |o| o.density);
    let bond = (case.inner.density - outer_density) * case.gravity * r * r / gamma;
    let weber = case.inner.density * (case.inner.flow / (PI * r * r)).powi(2) * r / gamma;
    (bond <= 0.0 && weber < LEAST_WEBER).then(|| {
        let weight = match bond == 0.0 {
            true => "no weight along the flow",
            false => "a weight against the flow",
        };
        (
            "gravity.along",
            format!("leaves the drop {weight} (Bond number {}), and at Weber number {} its speed does not take it off either: it hangs and \
                     grows for ever", short(bond), short(weber)),
            "along = \"down\" for a liquid heavier than what is around it, \"up\" for a lighter one, or a flow that jets".into(),
        )
    })
}

/// A dissolved surfactant that takes more than the whole tension, R T Gamma_inf ln(1 + K c) by Langmuir's isotherm, is none.
fn surface(case: &Case) -> Option<Contradiction> {
    let Some(Surfactant::Dissolved { concentration, saturation, affinity, temperature, .. }) = case.real.surfactant
    else {
        return None;
    };
    let full = GAS_CONSTANT * temperature * saturation;
    let taken = full * (affinity * concentration).logarithm_of_one_more();
    (taken >= case.tension).then(|| {
        let most = (case.tension / full).exponential_less_one() / affinity;
        (
            "surfactant.concentration",
            format!(
                "at rest it takes {} mN/m from a clean interface of {} mN/m (R T saturation ln(1 + affinity concentration))",
                short(1e3 * taken),
                short(1e3 * case.tension)
            ),
            format!("less than {} mol/m3, a smaller saturation or affinity, or the tension of the clean interface", short(most)),
        )
    })
}

/// Two streams of one liquid, or of two that mix, have no interface.
fn one_liquid(case: &Case) -> Option<Contradiction> {
    let (a, b) = (case.inner.liquid.as_ref()?, case.outer.as_ref()?.liquid.as_ref()?);
    let mix = crate::liquids::mix(a, b)?;
    Some((
        "outer.liquid",
        format!("{b} and {a} {mix}: there is no interface to break"),
        "two liquids that do not mix".into(),
    ))
}

/// A parabola is followed from a bore into a gas only.
fn parabola(case: &Case) -> Option<Contradiction> {
    let rim = case.device.pinned_radius() > 0.5 * case.device.tip_bore;
    (case.model.parabolic_inflow && (case.outer.is_some() || rim)).then(|| {
        let found = if rim {
            "the liquid hangs on the outer rim, wider than its bore"
        } else {
            "a liquid surrounds the thread and drags its surface"
        };
        (
            "model.inflow_profile",
            found.into(),
            "a parabola from a bore that is not wetted outside, into a gas; or leave it out".into(),
        )
    })
}

/// Two fields are those of liquids of one viscosity and one tension.
fn fields_of_real_liquids(case: &Case) -> Option<Contradiction> {
    let (_, what) =
        case.real.effects().into_iter().next().filter(|_| case.model.section == Some(Section::TwoFields))?;
    Some((
        "model.section",
        format!("two fields know one viscosity and one tension; here is {what}"),
        "\"closures\"".into(),
    ))
}

/// A thread that fills its channel touches the glass and is no thread.
fn filled(case: &Case) -> Option<Contradiction> {
    let outer = case.outer.as_ref().filter(|_| matches!(case.layout, Layout::Coflow | Layout::Counterflow(_)))?;
    let narrowest = WallProfile::of(case).narrowest()?;
    let x = core_annular::core_share(case.inner.flow / outer.flow, case.inner.viscosity / outer.viscosity).sqrt();
    (x > FILLED).then(|| {
        let total = 3.6e12 * (case.inner.flow + outer.flow);
        (
            "inner.flow",
            format!(
                "the inner liquid would fill {} % of the radius of its {} um channel and touch the glass",
                short(100.0 * x),
                short(2e6 * narrowest)
            ),
            format!("less of it in the total of {} uL/h is needed", short(total)),
        )
    })
}
