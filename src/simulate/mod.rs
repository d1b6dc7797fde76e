//! Case -> Outcome; the only glue: no files, no printing, no clock, no threads.

pub mod bare;
mod checkpoint;
mod contact;
mod ending;
mod established;
mod frames;
mod ledger;
mod mend;
mod moved;
mod necks;
pub mod pumps;
mod real;
mod schedule;
mod setup;
mod snapshots;
mod standing;
mod summary;
mod world;

use crate::case::{Accuracy, Case, Stop};
use crate::drops::tally::primaries;
use crate::math::Pinned as _;
use crate::outcome::{Budget, ErrorBar, Frame, Outcome, Stopped};
use crate::thread::advance::Advancer;
use crate::thread::body::Body;
use crate::thread::estimate::UniformThread;
pub use moved::OPTION as EFFECTS_OPTION;
pub use real::computes;
use schedule::Schedule;
use setup::Setup;
use snapshots::Slice;
use std::f64::consts::PI;
use world::{Stall, World};

/// State of a run that can be written, read back and continued bit for bit.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Checkpoint {
    /// Every real number of the state, in a fixed order.
    pub reals: Vec<f64>,
    /// Every count and flag of the state, in a fixed order.
    pub counts: Vec<u64>,
}

/// Where a run has got to, for a progress bar.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Progress {
    /// Simulated time, s.
    pub time: f64,
    /// Primary drops so far.
    pub primaries: u32,
    /// Fraction done by drops or by time, 0..1.
    pub fraction: f64,
    /// Steps so far.
    pub steps: u64,
    /// Cells of the thread on the nozzle now.
    pub cells: usize,
    /// Cells times steps of all bodies since this run was begun or taken up again.
    pub work: u64,
}

/// What the caller wants next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Next {
    Continue,
    /// Stop here; the outcome so far comes back with [`Stopped::Interrupted`].
    Interrupt,
}

/// Listens while a run goes on. The default methods ignore everything.
pub trait Observer {
    /// Called for every recorded snapshot, in order of time.
    fn frame(&mut self, _frame: &Frame) {}
    /// Called at the start with the interval between evenly spaced snapshots in s, and whenever it doubles since as many as the case
    /// asks for have gone by: those in between are superfluous from then on ([`Frame::stays`]).
    fn interval(&mut self, _interval: f64) {}
    /// Whether snapshots are wanted; without them a run has the same steps and costs less.
    fn wants_frames(&self) -> bool {
        true
    }
    /// Which further runs shall tell by how much thinning, a polymer or a surfactant has moved the size; without them all other numbers
    /// are the same.
    fn comparison(&self) -> Comparison {
        Comparison::Affordable
    }
    /// Called at each frame and at least once a few hundred steps.
    fn progress(&mut self, _at: &Progress) -> Next {
        Next::Continue
    }
    /// Called where evenly spaced frames or pinch-offs have gone by; the state to resume from.
    /// `outcome_so_far` builds the summary lazily.
    fn checkpoint(&mut self, _state: &Checkpoint, _so_far: &dyn Fn() -> Outcome) {}
}

/// Further runs of a case without what makes its liquids real.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Comparison {
    /// None.
    None,
    /// One accuracy coarser, as long as they take no more than a third of the run itself.
    Affordable,
    /// Each to its end, at the run's own accuracy.
    Whole,
}

/// Ignores everything but further runs, which it has whole.
pub struct Silent;
impl Observer for Silent {
    fn wants_frames(&self) -> bool {
        false
    }

    fn comparison(&self) -> Comparison {
        Comparison::Whole
    }
}

/// Why a run could not start or go on.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SimulateError {
    /// The checkpoint does not belong to this case or version.
    #[error("this checkpoint does not belong to this case: {0}")]
    ForeignCheckpoint(String),
    /// Not computed with such a key where this case has it.
    #[error("{0}: a run computes {1} in a gas (layouts segment and pendant, no [outer]), not here: {2}")]
    NotHere(&'static str, &'static str, String),
    /// Two fields were asked for where the flow of one liquid through the device cannot be had.
    #[error(
        "model.section = \"two_fields\" needs the flow of one liquid through the device, whose equations have no answer here (no way past the \
         tip, or glass that touches itself): take \"closures\""
    )]
    NoStream,
}

/// Run a case, from its start or from a checkpoint.
pub fn simulate(case: &Case, from: Option<&Checkpoint>, observer: &mut dyn Observer) -> Result<Outcome, SimulateError> {
    let (setup, world, stopped) = follow(case, from, observer)?;
    let mut outcome = summary::outcome(case, &setup, &world, stopped);
    outcome.summary.moved = moved::moved(case, &outcome, observer.comparison(), observer);
    if case.run.accuracy == Accuracy::Fine && stopped != Stopped::Interrupted {
        let bar = error_bar(case, &outcome);
        let s = &mut outcome.summary;
        s.size = crate::limits::interval::size(
            case,
            s.mode,
            s.primary.mean_diameter_m,
            &s.model_error,
            bar.as_ref(),
            &s.warnings,
        );
        s.error_bar = bar;
    }
    Ok(outcome)
}

/// Time slices in the guessed period of a drop: how often the run looks whether it has enough drops.
const SLICES_PER_DROP: f64 = 8.0;

/// The run itself; ends with a named reason.
fn follow(
    case: &Case,
    from: Option<&Checkpoint>,
    observer: &mut dyn Observer,
) -> Result<(Setup, World, Stopped), SimulateError> {
    computes(case)?;
    let mut setup = Setup::new(case);
    if case.two_fields() && setup.physics.outer.as_ref().is_none_or(|outer| outer.fields.is_none()) {
        return Err(SimulateError::NoStream);
    }
    let (mut world, mut schedule) = match from {
        Some(state) => {
            let (mut world, schedule) = checkpoint::load(state)?;
            world.bodies.iter_mut().for_each(|body| body.load.law = setup.law());
            (world, schedule)
        }
        None => (World::new(setup.start(case), setup.physics.bond), Schedule::new(first_interval(case, &setup))),
    };
    if world.closures_from.is_some() {
        setup.leave_fields();
    }
    // a run that goes on after its budget was used up has as much again
    setup.step_budget *= 1 + world.counts.steps_accepted / setup.step_budget;
    let mut patience = Patience::of(&setup).granted_anew(world.time);
    let mut looked_at = usize::MAX;
    let mut advancer = Advancer::default();
    let slice = slice(case, &setup);
    let frames = case.run.frames.max(2);
    let mut pinches = world.pinch_offs.len();
    let wants = observer.wants_frames();
    observer.interval(schedule.interval * setup.scales.time);
    let mut passed = Slice { start: world.time, before: Budget::default(), after: Budget::default() };
    loop {
        let drops = primaries(&world.drops);
        let before = schedule.interval;
        let even = schedule.due(world.time, frames);
        let budget = if wants { summary::budget(&setup, &world) } else { Budget::default() };
        if world.time > passed.start {
            passed.after = budget;
            snapshots::of_slice(&world, &setup, &mut schedule, &passed, &even).iter().for_each(|f| observer.frame(f));
        } else if wants && !even.is_empty() {
            observer.frame(&Frame { budget: Some(budget), ..frames::frame(&world, &setup) });
        }
        if schedule.interval > before {
            observer.interval(schedule.interval * setup.scales.time);
        }
        if !even.is_empty() || world.pinch_offs.len() > pinches {
            give_checkpoint(case, &setup, &world, &schedule, observer);
        }
        pinches = world.pinch_offs.len();
        if drops >= patience.wanted && drops != looked_at {
            looked_at = drops;
            let costly = world.counts.steps_accepted * world.counts.cells_max > GOES_ON_WORK;
            patience.settled = costly || drops >= patience.most || summary::is_established(case, &setup, &world);
        }
        if let Some(reason) = enough(case, &setup, &world, drops, &patience) {
            if reason == Stopped::TimeBudget {
                give_checkpoint(case, &setup, &world, &schedule, observer);
            }
            return Ok(close(setup, world, reason));
        }
        if observer.progress(&progress(case, &setup, &world, drops)) == Next::Interrupt {
            return Ok((setup, world, Stopped::Interrupted));
        }
        let mut target = world.time + longer_for_larger(slice, &setup, &world);
        if let Stop::Until(until) = setup.stop {
            target = target.min(until);
        }
        passed = Slice { start: world.time, before: budget, after: budget };
        let period = snapshots::period(&world, world.breaks.len()).min(SLICES_PER_DROP * slice);
        world.tape.rewind(wants, &world.bodies, &world.spheres, period);
        setup.limit_fields(case, world.pinch_offs.len());
        let mut go_on = |world: &World| {
            observer.progress(&progress(case, &setup, world, primaries(&world.drops))) == Next::Continue
        };
        if let Err(stall) = world.advance(&setup, &mut advancer, target, &mut go_on) {
            let reason = match stall {
                Stall::Interrupted => return Ok((setup, world, Stopped::Interrupted)),
                _ if primaries(&world.drops) >= patience.wanted => Stopped::DropsReached,
                Stall::StepUnderflow | Stall::StepBudget if setup.may_leave_fields(case) => {
                    world.closures_from = Some(world.time);
                    setup.leave_fields();
                    continue;
                }
                Stall::StepUnderflow => Stopped::StepUnderflow,
                Stall::StepBudget => Stopped::StepBudget,
                Stall::UnbrokenJet => Stopped::UnbrokenJet,
            };
            if reason == Stopped::StepBudget {
                give_checkpoint(case, &setup, &world, &schedule, observer);
            }
            return Ok(close(setup, world, reason));
        }
    }
}

fn close(setup: Setup, mut world: World, reason: Stopped) -> (Setup, World, Stopped) {
    world.finish_all(&setup);
    (setup, world, reason)
}

fn give_checkpoint(case: &Case, setup: &Setup, world: &World, schedule: &Schedule, observer: &mut dyn Observer) {
    let state = checkpoint::save(world, schedule);
    let so_far = || {
        let (setup, world, reason) = close(setup.clone(), world.clone(), Stopped::Interrupted);
        summary::outcome(case, &setup, &world, reason)
    };
    observer.checkpoint(&state, &so_far);
}

/// Mean period of a drop at the guessed volume.
fn period(setup: &Setup) -> f64 {
    setup.drop_volume_guess / (PI * setup.physics.inflow.mean()).max(1e-12)
}

/// Time after which a half wave should long have broken: growth from its amplitude, then the retraction.
fn wave_time(case: &Case, setup: &Setup) -> f64 {
    let Some(segment) = case.layout.segment() else { return 0.0 };
    let (x, oh) = (segment.wavenumber, setup.physics.ohnesorge);
    let (damping, drive) = (3.0 * oh * x * x, 0.5 * x * x * (1.0 - x * x));
    let rate = match UniformThread::of(case).filter(|_| drive > 0.0 && case.outer.is_some()) {
        // an outer liquid can slow the wave a thousandfold
        Some(thread) => thread.relation.growth(x) * setup.scales.time / thread.time,
        None if drive > 0.0 => 0.5 * ((damping * damping + 4.0 * drive).sqrt() - damping),
        None => 0.05,
    };
    (1.5 * (1.0 / segment.amplitude.abs().max(1e-9)).logarithm().max(1.0) + 3.0) / rate.max(1e-6)
}

/// The first interval between snapshots is so much of the one that the guessed length of the run would give.
const CLOSE: f64 = 1.0 / 64.0;

fn first_interval(case: &Case, setup: &Setup) -> f64 {
    let whole = match (setup.stop, setup.half_wave) {
        (Stop::Until(t), _) => t,
        (_, true) => CLOSE * 1.2 * wave_time(case, setup),
        (Stop::Drops(n), false) => CLOSE * f64::from(n) * period(setup),
    };
    whole / (case.run.frames.max(2) - 1) as f64
}

fn slice(case: &Case, setup: &Setup) -> f64 {
    if setup.half_wave { wave_time(case, setup) / 100.0 } else { period(setup) / SLICES_PER_DROP }
}

/// What has come off, and before that the volume on the nozzle, tells better than a guess how long a drop takes: with the guess a
/// hundred times too small, the slice ruled the step.
fn longer_for_larger(slice: f64, setup: &Setup, world: &World) -> f64 {
    if setup.half_wave {
        return slice;
    }
    let thread = &world.bodies[0];
    let seen = world.latest_drop().unwrap_or(if thread.filling { thread.volume() } else { 0.0 });
    slice.max(seen / (SLICES_PER_DROP * PI * setup.physics.inflow.mean().max(1e-12)))
}

/// Longest run in guessed periods of a drop beyond those asked for; beyond that, longest wait for one more in periods so far.
const PATIENCE: f64 = 30.0;
/// Most drops of a run that goes on until it is established: so many times those asked for, and so many more.
const GOES_ON: (usize, usize) = (8, 40);
/// ... and only as long as its steps times the most cells that it had are less: a minute, where a thread of thousands of cells breaks
/// irregularly.
const GOES_ON_WORK: u64 = 300_000_000;
/// Fewer drops than this were not asked for to see a settled state: then the run goes on for none.
const SETTLES_FROM: usize = 4;

/// How long a run goes on.
struct Patience {
    /// Primary drops asked for; more than any run has where a time was.
    wanted: usize,
    /// Most of them.
    most: usize,
    /// Whether a run with as many as were asked for may end.
    settled: bool,
    /// Longest simulated time, scaled.
    until: f64,
}

impl Patience {
    fn of(setup: &Setup) -> Patience {
        let transit = setup.transit(setup.physics.inflow.mean());
        match setup.stop {
            Stop::Drops(n) if !setup.half_wave => {
                let wanted = n as usize;
                let most = if wanted < SETTLES_FROM { wanted } else { GOES_ON.0 * wanted + GOES_ON.1 };
                let until = PATIENCE * (most as f64 + 3.0) * period(setup) + 3.0 * transit;
                Patience { wanted, most, settled: false, until }
            }
            _ => Patience { wanted: usize::MAX, most: usize::MAX, settled: false, until: f64::INFINITY },
        }
    }

    /// As much again for a run that goes on at `time` after it was used up.
    fn granted_anew(self, time: f64) -> Patience {
        Patience { until: self.until * (1.0 + (time / self.until).floor()), ..self }
    }
}

/// Named reason to stop, if there is one.
fn enough(case: &Case, setup: &Setup, world: &World, done: usize, patience: &Patience) -> Option<Stopped> {
    match setup.stop {
        Stop::Until(until) => return (world.time >= until).then_some(Stopped::Until),
        Stop::Drops(_) if setup.half_wave => {
            if world.bodies.len() == 1 && world.drops.iter().any(|d| d.in_domain == 0.0) {
                return Some(Stopped::DropsReached);
            }
            if world.time > 4.0 * wave_time(case, setup) {
                return Some(if world.pinch_offs.is_empty() { Stopped::NoBreakup } else { Stopped::TimeBudget });
            }
        }
        Stop::Drops(_) => {
            if done >= patience.wanted && patience.settled {
                return Some(Stopped::DropsReached);
            }
            if let Some(end) = ending::filled(case, setup, world) {
                return Some(end);
            }
            if world.passes_unbroken(setup) {
                let enough = done >= patience.wanted;
                return Some(if enough { Stopped::DropsReached } else { ending::unbroken(case, world) });
            }
            if world.time > patience.until {
                if done >= patience.wanted {
                    return Some(Stopped::DropsReached);
                }
                // the guessed period may be far too short: before anything has broken off, and as long as drops go on coming as they
                // did, only the steps bound the run
                let last = world.breaks.last().map(|b| world.pinch_offs[b.pinch].time);
                if last.is_some_and(|last| world.time - last > PATIENCE * last / done.max(1) as f64) {
                    return Some(Stopped::TimeBudget);
                }
            }
        }
    }
    None
}

fn progress(case: &Case, setup: &Setup, world: &World, done: usize) -> Progress {
    let fraction = match setup.stop {
        Stop::Until(t) => world.time / t,
        Stop::Drops(_) if setup.half_wave => world.time / wave_time(case, setup),
        Stop::Drops(n) => done as f64 / f64::from(n.max(1)),
    };
    Progress {
        time: world.time * setup.scales.time,
        primaries: done as u32,
        fraction: fraction.clamp(0.0, 1.0),
        steps: world.counts.steps_accepted,
        cells: world.bodies.first().map_or(0, Body::cells),
        work: world.work,
    }
}

/// Richardson estimate from a run on a coarser mesh: errors fall with the square of the cell size.
fn error_bar(case: &Case, fine: &Outcome) -> Option<ErrorBar> {
    let mut coarse = case.clone();
    coarse.run.accuracy = Accuracy::Standard;
    let (setup, world, stopped) = follow(&coarse, None, &mut Silent).ok()?;
    let other = summary::outcome(&coarse, &setup, &world, stopped);
    let (a, b) = (fine.summary.mean_of_settled()?, other.summary.mean_of_settled()?);
    let ratio = crate::tolerances::STANDARD.0 / crate::tolerances::FINE.0;
    Some(ErrorBar {
        diameter_relative: ((a - b) / a).abs() / (ratio * ratio - 1.0),
        how: format!("second run with cells {ratio:.2} times longer, second order assumed; numerical error only"),
    })
}

#[cfg(test)]
mod tests {
    use super::world::Break;
    use super::*;
    use crate::case::{examples, parse};
    use crate::outcome::PinchOff;

    struct Keeper(Vec<Checkpoint>);

    impl Observer for Keeper {
        fn checkpoint(&mut self, state: &Checkpoint, _so_far: &dyn Fn() -> Outcome) {
            self.0.push(state.clone());
        }
    }

    // As if the budget of steps had been used up half way: with as much again it ends as the run that was never stopped.
    #[test]
    fn a_used_up_budget_is_granted_anew() {
        let text = examples::find("coflow").expect("an example").text;
        let mut case = parse(text, "coflow").unwrap_or_else(|e| panic!("{e}"));
        (case.run.stop, case.run.accuracy, case.run.frames) = (Stop::Drops(2), Accuracy::Coarse, 20);
        let mut keeper = Keeper(Vec::new());
        let whole = simulate(&case, None, &mut keeper).expect("a run").summary;
        let (mut world, schedule) = checkpoint::load(&keeper.0[keeper.0.len() / 2]).expect("a state");
        let budget = Setup::new(&case).step_budget;
        assert!(world.counts.steps_accepted < budget && world.time > 0.0);
        world.counts.steps_accepted = budget;
        let rest = simulate(&case, Some(&checkpoint::save(&world, &schedule)), &mut Silent).expect("a run").summary;
        assert_eq!((rest.stopped, &rest.drops), (Stopped::DropsReached, &whole.drops));
        let patience =
            |time: f64| Patience { wanted: 2, most: 2, settled: false, until: 10.0 }.granted_anew(time).until;
        assert_eq!([0.0, 9.9, 10.0, 25.0].map(patience), [10.0, 10.0, 20.0, 30.0]);
    }

    // Long after the guessed drop: as long as nothing has broken off only the steps bound a run, from the first breakup on (no drop need be
    // round yet) it waits for the next as long as for thirty so far.
    #[test]
    fn a_run_waits_for_the_next_drop_from_the_last_breakup_on() {
        let text = examples::find("coflow").expect("an example").text;
        let case = parse(text, "coflow").unwrap_or_else(|e| panic!("{e}"));
        let setup = Setup::new(&case);
        let mut world = World::new(setup.start(&case), setup.physics.bond);
        let patience = Patience { wanted: 5, most: 5, settled: false, until: 10.0 };
        let late = |world: &mut World, time: f64| {
            world.time = time;
            enough(&case, &setup, world, 0, &patience)
        };
        assert_eq!(late(&mut world, 1e4), None);
        world.pinch_offs.push(PinchOff { time: 1e4, position: 1.0, length: 2.0, volume: 1.0 });
        world.breaks.push(Break { pinch: 0, left: 0.0, standing: 0.0, mid_radius: 1.0 });
        assert_eq!(late(&mut world, 1.01e4), None);
        assert_eq!(late(&mut world, (1.01 + PATIENCE) * 1e4), Some(Stopped::TimeBudget));
    }

    // A jet that crosses its drop (inner Weber number 4.5): its course is one of the state, and its power comes through the inlet.
    #[test]
    fn a_jet_that_crosses_its_drop_goes_on_where_it_was_left_and_keeps_the_ledger() {
        let text = examples::find("coflow").expect("an example").text;
        let case = parse(text, "coflow").unwrap_or_else(|e| panic!("{e}"));
        let mut case = case.with_text("inner.flow", "4 mL/h").unwrap_or_else(|e| panic!("{e}"));
        (case.run.stop, case.run.accuracy, case.run.frames) = (Stop::Drops(2), Accuracy::Coarse, 20);
        let mut keeper = Keeper(Vec::new());
        let whole = simulate(&case, None, &mut keeper).expect("a run").summary;
        let rest = simulate(&case, Some(&keeper.0[keeper.0.len() / 2]), &mut Silent).expect("a run").summary;
        assert!(whole.groups.weber_inner > 4.0, "{}", whole.groups.weber_inner);
        assert_eq!((rest.stopped, &rest.drops), (Stopped::DropsReached, &whole.drops));
        assert!(whole.budget.open_relative < 0.03, "{}", whole.budget.open_relative);
    }

    // Surfaces with their history are part of the state: a run that goes on from it ends with the same drops and surfaces.
    #[test]
    fn a_run_with_a_surfactant_goes_on_where_it_was_left() {
        let text = examples::find("surfactant").expect("an example").text;
        let mut case = parse(text, "surfactant").unwrap_or_else(|e| panic!("{e}"));
        (case.run.stop, case.run.accuracy, case.run.frames) = (Stop::Drops(2), Accuracy::Coarse, 20);
        let mut keeper = Keeper(Vec::new());
        let whole = simulate(&case, None, &mut keeper).expect("a run").summary;
        let rest = simulate(&case, Some(&keeper.0[2 * keeper.0.len() / 3]), &mut Silent).expect("a run").summary;
        assert!(whole.surface.is_some());
        assert_eq!(
            (&rest.drops, &rest.surface, &rest.conservation),
            (&whole.drops, &whole.surface, &whole.conservation)
        );
    }
    // An invented device whose thread nearly fills its hole while it fills slowly, by two fields. 0.30 of the turnover stayed open with stages solved
    // by elimination alone, 0.12 with powers told at the last stage.
    #[test]
    fn a_thread_that_nearly_fills_its_hole_keeps_the_ledger() {
        let text = r#"
            title = "Nutrient oil through a narrow hole (invented)"
            layout = "counterflow"
            [inner]
            viscosity = "6.27 mPa.s"
            density = "1056 kg/m3"
            flow = "0.00304 mL/h"
            [outer]
            viscosity = "7.23 mPa.s"
            density = "1017 kg/m3"
            flow = "0.0277 mL/h"
            [interface]
            tension = "17.4 mN/m"
            [device]
            square_bore = "1.05 mm"
            round_outer = "1 mm"
            tip_bore = "29.5 um"
            tip_outer = "40.8 um"
            orifice_bore = "24 um"
            orifice_length = "77 um"
            standoff = "61 um"
            collection_bore = "80.9 um"
            collection_length = "459 um"
            [model]
            section = "two_fields"
            [run]
            drops = 2
            accuracy = "coarse"
        "#;
        let case = parse(text, "hole").unwrap_or_else(|e| panic!("{e}"));
        let summary = simulate(&case, None, &mut Silent).expect("a run").summary;
        assert_eq!(summary.stopped, Stopped::DropsReached);
        assert!(summary.budget.open_relative < 0.05, "{}", summary.budget.open_relative);
    }
}
