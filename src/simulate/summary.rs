//! World -> Outcome in SI: the facts a user reads.

use super::ending;
use super::established::{self, Seen, Verdict};
use super::real;
use super::setup::Setup;
use super::world::{Break, World};
use crate::case::glass::Pressures;
use crate::case::{Case, Layout, Section, Stop};
use crate::drops::detached::{Detached, sphere_radius};
use crate::drops::tally::{Tally, tally, tally_from};
use crate::groups;
use crate::limits;
use crate::outcome::*;
use crate::regime::{self, Measured};
use crate::thread::estimate::linear_estimate;

/// What the mode is judged on: the later half of the breakups; `None` before the first.
fn measured(setup: &Setup, world: &World, noise: f64, tally: &Tally) -> Option<Measured> {
    if setup.half_wave || world.breaks.is_empty() {
        return None;
    }
    // Those that shed a drop: a satellite comes off between two drops, at either end of its thread.
    let volumes: Vec<f64> = tally.settled.iter().map(|i| world.drops[*i].volume).collect();
    let drop = volumes.iter().sum::<f64>() / volumes.len().max(1) as f64;
    let sheds = |b: &&Break| world.pinch_offs[b.pinch].volume > 0.5 * drop;
    let shedding: Vec<&Break> = world.breaks.iter().filter(sheds).collect();
    let late = &shedding[shedding.len() / 2..];
    Some(Measured {
        drops: tally.settled.len(),
        // tip diameters from tip radii
        necks: late.iter().map(|b| 0.5 * world.pinch_offs[b.pinch].position).collect(),
        waiting: late.iter().map(|b| b.left / drop).collect(),
        standing: late.iter().map(|b| 0.5 * b.standing).collect(),
        cv: tally.cv.map(|c| c.0),
        noise,
    })
}

/// Whether the run repeats itself by now, and the tally of the drops for which it does.
fn settled(case: &Case, setup: &Setup, world: &World) -> (Verdict, Tally, Option<Warning>) {
    let tally = tally(&world.drops);
    let alive = |i: &usize| world.drops[*i].merged_into.is_none();
    let mut primaries: Vec<(f64, f64)> = (0..world.drops.len())
        .filter(|i| alive(i) && tally.kinds[*i] == DropKind::Primary)
        .map(|i| (world.drops[i].time, 2.0 * sphere_radius(world.drops[i].volume)))
        .collect();
    primaries.sort_by(|a, b| a.0.total_cmp(&b.0));
    let drops = (0..world.drops.len()).filter(alive).map(|i| &world.drops[i]);
    let on_their_way = world.bodies.iter().skip(1).map(|b| (b.born, b.volume()));
    let pumped = |from: f64, to: f64| setup.physics.inflow.volume(from, to - from);
    let times: Vec<f64> = primaries.iter().map(|p| p.0).collect();
    // What came off while the flows changed tells of no state.
    let still = case.forcing.ramp.map_or(0.0, |ramp| ramp.end() / setup.scales.time);
    let mut verdict = established::judge(&Seen {
        primaries,
        volumes: drops.map(|d| (d.time, d.volume * f64::from(d.copies))).chain(on_their_way).collect(),
        breaks: world
            .breaks
            .iter()
            .map(|b| (world.pinch_offs[b.pinch].time, world.pinch_offs[b.pinch].position))
            .collect(),
        pumped: &pumped,
        transients: tally.settled_after.unwrap_or(0).max(times.partition_point(|t| *t <= still)),
        wanted: match case.run.stop {
            Stop::Drops(n) => n as usize,
            Stop::Until(_) => 0,
        },
    });
    if !verdict.is && world.time < still {
        verdict.why = format!("the flows still change (until {} s)", limits::figure(still * setup.scales.time));
    }
    let covered = times.last().zip(times.get(verdict.first)).map_or(0.0, |(last, first)| last - first);
    let short = limits::pulsation_short(case, covered * setup.scales.time).filter(|_| verdict.is);
    if let Some(short) = &short {
        verdict.is = false;
        verdict.why.clone_from(&short.text);
    }
    let tally = if verdict.is { tally_from(&world.drops, Some(verdict.first)) } else { tally };
    (verdict, tally, short)
}

/// Whether the run repeats itself by now.
pub fn is_established(case: &Case, setup: &Setup, world: &World) -> bool {
    settled(case, setup, world).0.is
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut list: Vec<f64> = values.collect();
    list.sort_by(f64::total_cmp);
    list.get(list.len() / 2).copied().unwrap_or(0.0)
}

/// The outcome of a run that ended for `stopped`.
pub fn outcome(case: &Case, setup: &Setup, world: &World, stopped: Stopped) -> Outcome {
    let (verdict, tally, short) = settled(case, setup, world);
    let wave = matches!(case.layout, Layout::Segment(_));
    let told = verdict.is || wave;
    let (mode, mode_evidence) = match (wave, stopped) {
        (true, _) => (Mode::None, "a periodic thread at rest has no mode".to_string()),
        (false, Stopped::UnbrokenJet) => regime::unbroken(0.5 * world.standing.least),
        (false, _) => regime::judge(measured(setup, world, case.forcing.noise, &tally).as_ref()),
    };
    let scales = setup.scales;
    let mut by = case.clone();
    if world.closures_from.is_some() {
        by.model.section = Some(Section::Closures);
    }
    let model_error = limits::model_error::model_error(&by, mode);
    let settled = tally.mean_diameter.zip(tally.rate).filter(|_| told);
    let mut warnings = limits::warnings_seen(case, settled.map(|(d, _)| (mode, d * scales.length)));
    if stopped.is_physical() && settled.is_none() {
        warnings = limits::without_a_drop(warnings);
    }
    warnings.extend(settled.and_then(|(d, r)| limits::crowded(case, d * scales.length, r / scales.time)));
    let budget = budget(setup, world);
    let energy_relative = budget.open_relative;
    warnings.extend(limits::energy_open(energy_relative));
    warnings.extend(world.closures_from.map(|from| limits::fields_left(from * scales.time)));
    let pinches: Vec<usize> = tally.settled.iter().filter_map(|i| world.drops[*i].pinch).collect();
    let surface = real::surface(case, setup, world, &pinches);
    let computed = real::warnings(case, world, surface.as_ref());
    // what was computed in place of what could be said before
    warnings.retain(|w| !computed.iter().any(|c| c.code == w.code));
    warnings.extend(computed);
    warnings.extend(short);
    let summary = Summary {
        schema: SCHEMA.into(),
        version: env!("CARGO_PKG_VERSION").into(),
        title: case.title.clone(),
        layout: case.layout.name().into(),
        groups: groups::groups(case),
        mode,
        mode_evidence,
        established: match wave {
            true => Established { is: true, why: "one wave that breaks once".into(), ..Established::default() },
            false => Established {
                is: verdict.is,
                since_s: tally.settled.first().filter(|_| verdict.is).map(|i| world.drops[*i].time * scales.time),
                flow_share: verdict.share,
                why: verdict.why,
            },
        },
        size: limits::interval::size(
            case,
            mode,
            tally.mean_diameter.filter(|_| told && !wave).map(|d| d * scales.length),
            &model_error,
            None,
            &warnings,
        ),
        assumed: limits::assumed(case),
        linear_estimate: linear_estimate(case).filter(|_| !matches!(case.layout, Layout::Segment(_))),
        first_pinch: world.pinch_offs.first().map(|p| FirstPinch {
            time_s: p.time * scales.time,
            position_m: p.position * scales.length,
            length_m: p.length * scales.length,
            volume_m3: p.volume * scales.volume(),
        }),
        drops: drops(setup, world, &tally),
        primary: Primary {
            count: tally.settled.len(),
            mean_diameter_m: tally.mean_diameter.filter(|_| told).map(|d| d * scales.length),
            model_error_relative: tally.mean_diameter.filter(|_| told).and(model_error.relative),
            cv: tally.cv.filter(|_| told).map(|c| c.0),
            cv_interval95: tally.cv.filter(|_| told).map(|c| c.1),
            rate_per_s: tally.rate.filter(|_| told).map(|r| r / scales.time),
            settled_after: tally.settled_after,
        },
        satellites: if told { satellites(setup, world, &tally) } else { Satellites::default() },
        jet: (told && mode == Mode::Jetting).then(|| jet(setup, world)).flatten(),
        necks: necks(setup, world),
        pressure: Pressures::of(case).map_or(Pressure::default(), |p| Pressure {
            inner_pa: Some(p.inner.total),
            outer_pa: p.outer.map(|o| o.total),
        }),
        error_bar: None,
        surface,
        moved: None,
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
        end: ending::end(case, setup, world, stopped),
        stopped,
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

/// In the order of detachment, each dated by its pinch-off.
fn drops(setup: &Setup, world: &World, tally: &Tally) -> Vec<Drop> {
    let scales = setup.scales;
    let time = |d: &Detached| d.pinch.map_or(d.time, |p| world.pinch_offs[p].time);
    let mut order: Vec<usize> = (0..world.drops.len()).collect();
    order.sort_by(|a, b| time(&world.drops[*a]).total_cmp(&time(&world.drops[*b])));
    let mut place = vec![0; order.len()];
    order.iter().enumerate().for_each(|(new, old)| place[*old] = new);
    let list = order.iter().map(|i| (&world.drops[*i], tally.kinds[*i])).map(|(d, kind)| Drop {
        time_s: time(d) * scales.time,
        kind,
        volume_m3: d.volume * scales.volume(),
        diameter_m: 2.0 * sphere_radius(d.volume) * scales.length,
        position_m: d.position * scales.length,
        velocity_m_per_s: d.velocity * scales.velocity(),
        merged_from: d.merged_from.iter().map(|i| place[*i]).collect(),
        flagged: d.flagged,
        pinch: d.pinch,
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
        classes: classes(setup, world, tally),
    }
}

/// Satellites whose diameters differ by less than this factor from one to the next are of one class.
const CLASS_GAP: f64 = 1.4;
/// Most classes told apart; more than that is a continuum, told as one.
const CLASSES_MAX: usize = 4;

/// The satellites of the settled periods by size, largest first.
fn classes(setup: &Setup, world: &World, tally: &Tally) -> Vec<SatelliteClass> {
    let (Some(first), Some(last)) = (tally.settled.first(), tally.settled.last()) else { return Vec::new() };
    let window = if first == last {
        (f64::NEG_INFINITY, f64::INFINITY)
    } else {
        (world.drops[*first].time, world.drops[*last].time)
    };
    let periods = (tally.settled.len() - 1).max(1) as f64;
    let inside = |d: &&Detached| d.merged_into.is_none() && d.time > window.0 && d.time <= window.1 + 1e-9;
    let small = world.drops.iter().zip(&tally.kinds).filter(|(_, kind)| **kind == DropKind::Satellite).map(|(d, _)| d);
    let mut sizes: Vec<(f64, f64)> = small
        .filter(inside)
        .map(|d| (2.0 * sphere_radius(d.volume) * setup.scales.length, f64::from(d.copies)))
        .collect();
    sizes.sort_by(|a, b| b.0.total_cmp(&a.0));
    let class = |list: &[(f64, f64)]| {
        let count: f64 = list.iter().map(|s| s.1).sum();
        SatelliteClass {
            per_primary: count / periods,
            mean_diameter_m: list.iter().map(|s| s.0 * s.1).sum::<f64>() / count,
            smallest_m: list[list.len() - 1].0,
            largest_m: list[0].0,
        }
    };
    let apart: Vec<_> = sizes.chunk_by(|a, b| a.0 < CLASS_GAP * b.0).map(class).collect();
    if apart.len() > CLASSES_MAX { vec![class(&sizes)] } else { apart }
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
