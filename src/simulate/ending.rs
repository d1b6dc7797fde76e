//! Ends that are answers: where and when the device itself ends a run, and what to change; and how to go on where a budget did.

use super::setup::Setup;
use super::world::World;
use crate::case::{Accuracy, Case, Layout, Stop};
use crate::drops::tally::primaries;
use crate::groups;
use crate::limits;
use crate::outcome::{End, Stopped};
use crate::theory::plug;
use crate::thread::body::Body;
use crate::thread::estimate::UniformThread;
use std::f64::consts::PI;

/// Share of the tube's radius from which a drop or thread fills it: the film beside it is then thinner than the model knows
/// ([`crate::thread::closures::wall`] is a stand-in from 0.9 on).
const FILLS: f64 = 0.95;

/// The same of an undisturbed thread, whose film is that of the stream: thinner than this share a thread off centre is on the wall.
const THREAD_FILLS: f64 = 0.9;

/// Where the attached thread fills the glass that takes the drops away: the place, scaled.
pub fn filled_at(setup: &Setup, body: &Body) -> Option<f64> {
    let wall = &setup.physics.outer.as_ref()?.wall;
    let place = |j: usize| (0.5 * (body.z[j] + body.z[j + 1]), body.area(j));
    (0..body.cells()).map(place).filter(|(z, _)| *z >= setup.collection_from).find_map(|(z, area)| {
        let radius = wall.radius(z)?;
        (area > (FILLS * radius).powi(2)).then_some(z)
    })
}

/// Whether what hangs on the nozzle fills the glass that takes the drops away: a drop as a plug, a thread that would fill it without
/// breaking against its wall. In front of an orifice a drop may fill the glass and be squeezed through.
pub fn filled(case: &Case, setup: &Setup, world: &World) -> Option<Stopped> {
    filled_at(setup, &world.bodies[0])?;
    let fills = UniformThread::of(case).and_then(|t| Some(t.radius / t.wall?)).is_some_and(|x| x > THREAD_FILLS);
    Some(if fills { Stopped::TouchesWall } else { Stopped::Plug })
}

/// A thread that passes the whole device unbroken: whether it would break further down, as it would where it has broken before.
pub fn unbroken(case: &Case, world: &World) -> Stopped {
    let grows = || UniformThread::of(case).and_then(|thread| thread.breakup()).is_some();
    if !world.breaks.is_empty() || grows() { Stopped::LeavesTube } else { Stopped::NoBreakup }
}

/// Two significant figures with a unit that suits.
fn length(m: f64) -> String {
    let (value, unit) = if m < 1e-3 { (1e6 * m, "um") } else { (1e3 * m, "mm") };
    format!("{} {unit}", two(value))
}

fn two(x: f64) -> String {
    format!("{x:.1e}").parse::<f64>().map_or_else(|_| x.to_string(), |x| x.to_string())
}

/// What a reader must know of an end that is not what was asked for.
pub fn end(case: &Case, setup: &Setup, world: &World, stopped: Stopped) -> Option<End> {
    let scales = setup.scales;
    let thread = &world.bodies[0];
    let time = thread.time * scales.time;
    let reach = thread.z[thread.cells()] * scales.length;
    let at = |position: Option<f64>, what: String, remedy: &str| {
        Some(End { what, remedy: remedy.into(), position_m: position, time_s: Some(time), ..End::default() })
    };
    match stopped {
        Stopped::DropsReached | Stopped::Until | Stopped::Interrupted => None,
        Stopped::Plug => plugged(case, setup, thread, time),
        Stopped::TouchesWall => {
            let place = filled_at(setup, thread).map(|z| z * scales.length);
            let what = format!(
                "the inner liquid fills the glass {} from the tip: the film between is too thin to keep a thread off the wall",
                place.map_or_else(String::new, length)
            );
            at(place, what, "raise outer.flow, lower inner.flow, or widen the tube that takes the thread away")
        }
        Stopped::NoBreakup => {
            let what = format!("no wave grows on the thread ({} long by now)", length(reach));
            at(Some(reach), what, "lower inner.flow or widen the tube: a thread that fills less of it can break")
        }
        Stopped::LeavesTube => {
            let far = UniformThread::of(case).and_then(|t| t.breakup_length(1e-4));
            let would = far.map_or_else(String::new, |l| {
                format!("; linear theory has it break {} from the tip for a disturbance of 1e-4", length(l))
            });
            let what = format!("the thread leaves what is computed unbroken, {} from the tip{would}", length(reach));
            let quiet = !case.forcing.drives();
            let remedy = if quiet {
                "give forcing.noise (\"0.5 %\": without it nothing but round-off breaks a jet), or lower the flows"
            } else {
                "lower the flows, or give more forcing"
            };
            at(Some(reach), what, remedy)
        }
        Stopped::UnbrokenJet => {
            let drops = if world.breaks.is_empty() { "its first drop" } else { "a further drop" };
            let what = format!(
                "a jet: the thread stands out by {} tip diameters, {} long, and {drops} has not come off by {} ms, so that no size \
                 is told",
                two(0.5 * world.standing.least),
                length(reach),
                two(1e3 * time)
            );
            at(Some(reach), what, &unbroken_remedy(case))
        }
        Stopped::StepBudget | Stopped::TimeBudget | Stopped::StepUnderflow | Stopped::EffortLimit => {
            let wanted = match case.run.stop {
                Stop::Drops(n) => format!(" of {n}"),
                Stop::Until(_) => String::new(),
            };
            let what = format!(
                "{}: {}{wanted} primary drops by {} ms, {} steps; the thread is {} long in {} cells",
                stopped.words(),
                primaries(&world.drops),
                two(1e3 * time),
                world.counts.steps_accepted,
                length(reach),
                thread.cells()
            );
            at(Some(reach), what, budget_remedy(case, stopped))
        }
    }
}

/// What to do with a jet that goes on: the inner flow at which its Weber number is one.
fn unbroken_remedy(case: &Case) -> String {
    let flow = 3600e6 * case.inner.flow / groups::groups(case).weber_inner.sqrt();
    let noise =
        if case.forcing.drives() { "" } else { ", or give forcing.noise (\"0.5 %\": nothing else disturbs it)" };
    format!(
        "for drops at the tip lower inner.flow to {} mL/h or widen the tip{noise}; --until follows it further",
        two(flow)
    )
}

/// What to do where a budget or the shortest step ended a run.
fn budget_remedy(case: &Case, stopped: Stopped) -> &'static str {
    match (stopped, case.run.accuracy) {
        (Stopped::StepUnderflow, Accuracy::Standard) => {
            "try run.accuracy = \"coarse\"; the case may lie outside of the model"
        }
        (Stopped::StepUnderflow, _) => "try run.accuracy = \"standard\"; the case may lie outside of the model",
        (Stopped::StepBudget, _) if limits::crosses_its_drop(case) => {
            "lower inner.flow or widen the tip: the waves on a jet that crosses its drop (jet_in_drop) take steps without end; --resume goes on"
        }
        _ => {
            "the same command with -o RUN.h5 and then --resume goes on with as much again; run.accuracy = \"coarse\" needs less"
        }
    }
}

/// A drop that fills its tube, with the film and the length that plugs have.
fn plugged(case: &Case, setup: &Setup, thread: &Body, time: f64) -> Option<End> {
    let outer = case.outer.as_ref()?;
    let place = filled_at(setup, thread)?;
    let radius = setup.physics.outer.as_ref()?.wall.radius(place)? * setup.scales.length;
    let speed = (case.inner.flow + outer.flow) / (PI * radius * radius);
    let film = radius * plug::film(outer.viscosity * speed / case.tension);
    let plug_length = (outer.flow > 0.0).then(|| 2.0 * radius * plug::length(case.inner.flow / outer.flow));
    let long = plug_length.map_or_else(String::new, |l| format!(", about {} long (within a factor of two)", length(l)));
    let what = format!(
        "the drop on the tip fills its {} tube: plugs come off{long}, with a film of about {} on the wall",
        length(2.0 * radius),
        length(film)
    );
    let remedy = match case.layout {
        Layout::Counterflow(_) => "for drops raise outer.flow, lower inner.flow, or widen device.collection_bore",
        _ => "for drops raise outer.flow or outer.viscosity, or take a narrower tip or a wider tube",
    };
    Some(End {
        what,
        remedy: remedy.into(),
        position_m: Some(place * setup.scales.length),
        time_s: Some(time),
        film_m: Some(film),
        plug_length_m: plug_length,
        source: Some(
            "estimates: film Bretherton 1961 and Aussillous & Quere 2000, length Garstecki et al. 2006 (junctions, order of \
             magnitude)"
                .into(),
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::super::standing::Standing;
    use super::super::summary;
    use super::super::world::Stall;
    use super::*;
    use crate::case::{examples, parse};
    use crate::outcome::Mode;
    use crate::thread::advance::Advancer;

    #[test]
    fn a_jet_that_crosses_its_drop_is_named_where_its_steps_are_used_up() {
        let slow = parse(examples::find("coflow").expect("an example").text, "coflow.toml").expect("a case");
        let fast = slow.with("inner.flow", 20e-6 / 3600.0).expect("a case");
        let named = |case: &Case, stopped: Stopped| budget_remedy(case, stopped).contains("jet_in_drop");
        assert!(named(&fast, Stopped::StepBudget) && !named(&slow, Stopped::StepBudget));
        assert!(!named(&fast, Stopped::TimeBudget) && !named(&fast, Stopped::StepUnderflow));
    }

    // The thread as it stands after a breakup nine diameters out and a quarter of a minute of work: a jet, said without a size; the same of a
    // stream too slow to cross its drop goes on.
    #[test]
    fn a_jet_that_goes_on_unbroken_is_an_answer() {
        let slow = parse(examples::find("coflow").expect("an example").text, "coflow.toml").expect("a case");
        let ends = |flow: &str| {
            let case = slow.with_text("inner.flow", flow).expect("a case");
            let setup = Setup::new(&case);
            let mut world = World::new(setup.start(&case), setup.physics.bond);
            world.standing = Standing { least: 18.0, volume: 1e9, work: u64::MAX / 2 };
            let stall = world.advance(&setup, &mut Advancer::default(), 1e-3, &mut |_| true).err();
            (summary::outcome(&case, &setup, &world, Stopped::UnbrokenJet).summary, stall)
        };
        let (fast, stall) = ends("20 mL/h");
        assert_eq!((stall, fast.mode), (Some(Stall::UnbrokenJet), Mode::Jetting));
        let end = fast.end.expect("an end");
        assert!(
            end.what.contains("stands out by 9 tip diameters") && fast.primary.mean_diameter_m.is_none(),
            "{end:?}"
        );
        // the flow that is told is the one at which the inner Weber number is one
        let told = end.remedy.split("to ").nth(1).and_then(|rest| rest.split(" or").next()).expect("a flow");
        let weber = groups::groups(&slow.with_text("inner.flow", told).expect("a flow")).weber_inner;
        assert!((weber - 1.0).abs() < 0.1, "{told}: {weber}");
        assert_eq!(ends("100 uL/h").1, None);
    }
}
