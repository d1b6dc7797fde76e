//! World -> Outcome in SI: the facts a user reads.

use super::real;
use super::setup::Setup;
use super::world::World;
use crate::case::glass::Pressures;
use crate::case::{Case, Layout};
use crate::drops::detached::sphere_radius;
use crate::drops::tally::{Tally, tally};
use crate::groups;
use crate::limits;
use crate::outcome::*;
use crate::regime::{self, Measured};
use crate::thread::estimate::linear_estimate;

/// Bond number from which gravity draws a thread out.
const DRAWN_FROM: f64 = 0.02;

/// Spread seen by a companion run under noise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Probe {
    /// Spread of its settled drops.
    pub cv: f64,
    /// Noise on its inner flow.
    pub noise: f64,
}

/// What the mode is judged on; `None` before the first settled drop.
pub fn measured(setup: &Setup, world: &World, noise: f64) -> Option<Measured> {
    if setup.half_wave || world.breaks.is_empty() {
        return None;
    }
    let late = &world.breaks[world.breaks.len() / 2..];
    let tally = tally(&world.drops);
    Some(Measured {
        drops: tally.settled.len(),
        neck: 0.5 * median(late.iter().map(|b| world.pinch_offs[b.pinch].position)),
        shortest: 0.5 * median(late.iter().map(|b| b.shortest)),
        cv: tally.cv.map(|c| c.0),
        drawn: setup.physics.bond > DRAWN_FROM,
        noise,
    })
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut list: Vec<f64> = values.collect();
    list.sort_by(f64::total_cmp);
    list.get(list.len() / 2).copied().unwrap_or(0.0)
}

/// The outcome of a run that ended for `stopped`.
pub fn outcome(case: &Case, setup: &Setup, world: &World, stopped: &str, probe: Option<Probe>) -> Outcome {
    let tally = tally(&world.drops);
    let mut seen = measured(setup, world, case.forcing.noise);
    if let (Some(seen), Some(probe)) = (&mut seen, probe) {
        (seen.cv, seen.noise) = (Some(probe.cv), probe.noise);
    }
    let (mode, mode_evidence) = match case.layout {
        Layout::Segment => ("none", "a periodic thread at rest has no mode".to_string()),
        _ => regime::judge(seen.as_ref()),
    };
    let scales = setup.scales;
    let model_error = limits::model_error::model_error(case, mode);
    let mut warnings = limits::warnings(case);
    let settled = tally.mean_diameter.zip(tally.rate);
    warnings.extend(settled.and_then(|(d, r)| limits::crowded(case, d * scales.length, r / scales.time)));
    let budget = budget(setup, world);
    let energy_relative = budget.open_relative;
    warnings.extend(limits::energy_open(energy_relative));
    warnings.extend(real::warnings(case, world));
    warnings.extend(settled.and_then(|(d, _)| limits::plugged(case, d * scales.length)));
    let summary = Summary {
        schema: SCHEMA.into(),
        version: env!("CARGO_PKG_VERSION").into(),
        title: case.title.clone(),
        layout: case.layout.name().into(),
        groups: groups::groups(case),
        mode: mode.into(),
        mode_evidence,
        linear_estimate: linear_estimate(case).filter(|_| case.layout != Layout::Segment),
        first_pinch: world.pinch_offs.first().map(|p| FirstPinch {
            time_s: p.time * scales.time,
            position_m: p.position * scales.length,
            length_m: p.length * scales.length,
            volume_m3: p.volume * scales.volume(),
        }),
        drops: drops(setup, world, &tally),
        primary: Primary {
            count: tally.settled.len(),
            mean_diameter_m: tally.mean_diameter.map(|d| d * scales.length),
            model_error_relative: tally.mean_diameter.and(model_error.relative),
            cv: tally.cv.map(|c| c.0),
            cv_interval95: tally.cv.map(|c| c.1),
            rate_per_s: tally.rate.map(|r| r / scales.time),
            settled_after: tally.settled_after,
        },
        satellites: satellites(setup, world, &tally),
        jet: (mode == "jetting").then(|| jet(setup, world)).flatten(),
        necks: necks(setup, world),
        pressure: Pressures::of(case).map_or(Pressure::default(), |p| Pressure {
            inner_pa: Some(p.inner.total),
            outer_pa: p.outer.map(|o| o.total),
        }),
        error_bar: None,
        model_error,
        conservation: Conservation {
            volume_relative: world.volume_defect(setup),
            energy_relative,
            surfactant_relative: world.surfactant_defect(setup),
        },
        budget,
        cost: Cost { wall_s: 0.0, steps: world.counts.steps_accepted, cells_max: world.counts.cells_max as usize },
        warnings,
        cautions: limits::cautions::cautions(case),
        stopped: stopped.into(),
        provenance: Provenance::default(),
    };
    Outcome {
        summary,
        pinch_offs: world
            .pinch_offs
            .iter()
            .map(|p| PinchOff {
                time: p.time * scales.time,
                position: p.position * scales.length,
                length: p.length * scales.length,
                volume: p.volume * scales.volume(),
            })
            .collect(),
        necks: world
            .necks
            .samples
            .iter()
            .map(|s| NeckSample {
                time: s.time * scales.time,
                position: s.position * scales.length,
                radius: s.radius * scales.length,
                length: s.length * scales.length,
                pinch: s.pinch,
            })
            .collect(),
        counts: world.counts.clone(),
    }
}

/// The energy budget so far.
pub fn budget(setup: &Setup, world: &World) -> Budget {
    let b = world.budget(setup);
    let joule = setup.scales.tension * setup.scales.length * setup.scales.length;
    Budget {
        kinetic_j: joule * b.change.kinetic,
        surface_j: joule * b.change.surface,
        potential_j: joule * b.change.potential,
        inlet_j: joule * b.work.inlet,
        outflow_j: joule * b.work.outflow,
        outer_drag_j: joule * b.work.drag,
        outer_stress_j: joule * b.work.stress,
        film_j: joule * b.work.film,
        added_mass_j: joule * b.work.added,
        viscous_j: joule * b.work.viscous,
        artificial_j: joule * b.work.artificial,
        cuts_j: joule * b.cuts,
        regrids_j: joule * b.regrids,
        open_relative: b.open,
    }
}

fn drops(setup: &Setup, world: &World, tally: &Tally) -> Vec<Drop> {
    let scales = setup.scales;
    let list = world.drops.iter().zip(&tally.kinds).map(|(d, kind)| Drop {
        time_s: d.time * scales.time,
        kind: *kind,
        volume_m3: d.volume * scales.volume(),
        diameter_m: 2.0 * sphere_radius(d.volume) * scales.length,
        position_m: d.position * scales.length,
        velocity_m_per_s: d.velocity * scales.velocity(),
        merged_from: d.merged_from.clone(),
        flagged: d.flagged,
    });
    // a drop that was joined to the thread again is listed as it came off; the tally leaves it out

    list.collect()
}

fn satellites(setup: &Setup, world: &World, tally: &Tally) -> Satellites {
    let fraction = match (setup.half_wave, world.pinch_offs.first()) {
        // between the two necks about the trough; nothing where the trough itself is the neck
        (true, Some(first)) => Some(first.volume / world.volume_start),
        (true, None) => None,
        (false, _) => tally.satellite_fraction,
    };
    Satellites {
        per_primary: tally.satellites_per_primary,
        volume_fraction: fraction,
        mean_diameter_m: tally.satellite_diameter.map(|d| d * setup.scales.length),
    }
}

fn jet(setup: &Setup, world: &World) -> Option<Jet> {
    let late = &world.breaks[world.breaks.len() / 2..];
    (!late.is_empty()).then(|| Jet {
        length_m: median(late.iter().map(|b| world.pinch_offs[b.pinch].position)) * setup.scales.length,
        diameter_m: 2.0 * median(late.iter().map(|b| b.mid_radius)) * setup.scales.length,
    })
}

fn necks(setup: &Setup, world: &World) -> Option<Vec<NeckTime>> {
    let scales = setup.scales;
    let list: Vec<NeckTime> = super::necks::MARKS
        .iter()
        .zip(&world.necks.marks)
        .filter_map(|(mark, seen)| {
            seen.map(|s| NeckTime {
                h_over_r: *mark,
                time_s: s.time * scales.time,
                position_m: s.position * scales.length,
                length_m: s.length * scales.length,
                volume_m3: s.beyond * scales.volume(),
            })
        })
        .collect();
    (!list.is_empty()).then_some(list)
}
