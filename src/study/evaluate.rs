//! One case, one answer: what every study asks for, counted and interruptible.

use crate::case::{Accuracy, Case, Stop};
use crate::outcome::{DropKind, Outcome, Stopped, Summary};
use crate::simulate::{Checkpoint, Comparison, Next, Observer, Progress, simulate};
use crate::study::StudyError;
use crate::tolerances::{ALIKE_FROM, ALIKE_RELATIVE};
use std::sync::atomic::{AtomicUsize, Ordering};

/// How long a run goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Length {
    /// As the case says.
    Whole,
    /// As the case says, for a study that needs every drop.
    AllDrops,
    /// As the case says at most, and no longer than until its drops are alike.
    UntilAlike,
    /// The same, and no longer than a search can afford ([`EFFORT_MAX`]): then it is stopped for [`UNAFFORDABLE`], with the drops
    /// that came off by then.
    Affordable,
    /// The same, with this bound in place of that.
    Within(u64),
    /// As the case says, for a study that needs every drop, within this bound.
    AllDropsWithin(u64),
}

/// Most work of one run of a search, in cells times steps of all that is followed in shape. Counted, not timed: the same answer on
/// every machine. The shipped examples take 0.1 to 2 million for eight drops at `coarse`; twenty million take about twenty seconds in
/// an outer liquid, and five plugs behind the 10 um orifice of an example twelve million.
pub const EFFORT_MAX: f64 = 2e7;
/// What a run that was stopped there says of its end.
pub const UNAFFORDABLE: Stopped = Stopped::EffortLimit;

/// Answers a case, or says why not.
pub type Ask<'a> = &'a (dyn Fn(&Case, Length) -> Result<Outcome, StudyError> + Sync);

/// Whether the user wants to stop.
pub type Asked<'a> = &'a (dyn Fn() -> bool + Sync);

/// Ends a run where the user wants to stop; records nothing, compares with nothing.
struct Cancel<'a> {
    stopped: Asked<'a>,
}

impl Observer for Cancel<'_> {
    fn wants_frames(&self) -> bool {
        false
    }

    fn comparison(&self) -> Comparison {
        Comparison::None
    }

    fn progress(&mut self, _at: &Progress) -> Next {
        if (self.stopped)() { Next::Interrupt } else { Next::Continue }
    }
}

/// Stops a run once its drops are alike or it has cost too much, and keeps the state of the instant at which they were.
struct Watch<'a> {
    stopped: Asked<'a>,
    effort_max: f64,
    interrupted: bool,
    /// Done so far.
    work: f64,
    /// Whether drops that are alike end the run.
    repeats: bool,
    /// The state, and the number of primary drops in it.
    alike: Option<(Checkpoint, u32)>,
}

impl Observer for Watch<'_> {
    fn wants_frames(&self) -> bool {
        false
    }

    fn comparison(&self) -> Comparison {
        Comparison::None
    }

    fn progress(&mut self, at: &Progress) -> Next {
        self.interrupted = (self.stopped)();
        self.work = at.work as f64;
        let over = self.interrupted || self.alike.is_some() || self.work > self.effort_max;
        if over { Next::Interrupt } else { Next::Continue }
    }

    fn checkpoint(&mut self, state: &Checkpoint, so_far: &dyn Fn() -> Outcome) {
        if self.repeats {
            self.alike = alike(&so_far().summary).map(|drops| (state.clone(), drops));
        }
    }
}

/// The simulated answer of a case, without any record.
///
/// # Errors
/// Where the case cannot be simulated, in words.
pub fn simulated(case: &Case, length: Length, stopped: Asked<'_>) -> Result<Outcome, StudyError> {
    let run = |case: &Case, from: Option<&Checkpoint>, observer: &mut dyn Observer| -> Result<Outcome, StudyError> {
        Ok(simulate(case, from, observer)?)
    };
    if matches!(length, Length::Whole | Length::AllDrops) {
        return run(case, None, &mut Cancel { stopped });
    }
    let effort_max = match length {
        Length::Affordable => EFFORT_MAX,
        Length::Within(effort) | Length::AllDropsWithin(effort) => effort as f64,
        _ => f64::INFINITY,
    };
    let repeats = repeats(case) && !matches!(length, Length::AllDropsWithin(_));
    let mut watch = Watch { stopped, effort_max, interrupted: false, work: 0.0, repeats, alike: None };
    let mut outcome = run(case, None, &mut watch)?;
    if let (Stopped::Interrupted, false, Some((state, drops))) =
        (outcome.summary.stopped, watch.interrupted, &watch.alike)
    {
        // From there on as a run that was asked for so many drops: it ends, and judges its mode, as any other; it may go on for more
        // drops until it settles, within what is left.
        let mut short = case.clone();
        short.run.stop = Stop::Drops(*drops);
        let effort_max = watch.effort_max - watch.work;
        let mut rest = Watch { stopped, effort_max, interrupted: false, work: 0.0, repeats: false, alike: None };
        outcome = run(&short, Some(state), &mut rest)?;
        watch.interrupted = rest.interrupted;
    }
    if outcome.summary.stopped == Stopped::Interrupted && !watch.interrupted {
        outcome.summary.stopped = UNAFFORDABLE;
    }
    Ok(outcome)
}

/// Whether drops that are alike can be told to stay so: nothing drives the flow, and drops never join.
fn repeats(case: &Case) -> bool {
    matches!(case.run.stop, Stop::Drops(_)) && !case.forcing.drives() && !case.model.coalescence
}

/// The number of primary drops, if the latest of them are alike.
fn alike(so_far: &Summary) -> Option<u32> {
    let mut primaries: Vec<_> = so_far.drops.iter().filter(|d| d.kind == DropKind::Primary).collect();
    let counted = so_far.primary.count + so_far.primary.settled_after.unwrap_or(0);
    // Drops that joined the thread again are in the list and not in the count: then nothing is said.
    if primaries.len() < ALIKE_FROM || primaries.len() != counted {
        return None;
    }
    primaries.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    let late = &primaries[primaries.len() - (ALIKE_FROM - 1).max(primaries.len() / 2)..];
    let mean = late.iter().map(|d| d.diameter_m).sum::<f64>() / late.len() as f64;
    let same = late.iter().all(|d| (d.diameter_m / mean - 1.0).abs() <= ALIKE_RELATIVE);
    same.then_some(primaries.len() as u32)
}

/// The case as a search asks for it: coarse, few drops, no frames to speak of.
pub fn quick(case: &Case, drops: u32) -> Case {
    let mut quick = case.clone();
    quick.run.stop = Stop::Drops(drops);
    quick.run.accuracy = Accuracy::Coarse;
    quick.run.frames = 2;
    quick
}

/// Counts what is asked.
pub struct Counted<'a> {
    ask: Ask<'a>,
    count: AtomicUsize,
}

impl<'a> Counted<'a> {
    /// Nothing asked yet.
    pub fn new(ask: Ask<'a>) -> Counted<'a> {
        Counted { ask, count: AtomicUsize::new(0) }
    }

    /// Asks for the whole run, and counts.
    ///
    /// # Errors
    /// As the answerer, and where the run was interrupted.
    pub fn ask(&self, case: &Case) -> Result<Outcome, StudyError> {
        self.ask_for(case, Length::Whole)
    }

    /// Asks for a run that ends once its drops are alike, and counts.
    ///
    /// # Errors
    /// As the answerer, and where the run was interrupted.
    pub fn ask_short(&self, case: &Case) -> Result<Outcome, StudyError> {
        self.ask_for(case, Length::UntilAlike)
    }

    /// Asks for such a run, no longer than a search can afford, and counts.
    ///
    /// # Errors
    /// As the answerer, and where the run was interrupted.
    pub fn ask_affordable(&self, case: &Case) -> Result<Outcome, StudyError> {
        self.ask_for(case, Length::Affordable)
    }

    /// Asks for a run of this length, and counts.
    ///
    /// # Errors
    /// As the answerer, and where the run was interrupted.
    pub fn ask_for(&self, case: &Case, length: Length) -> Result<Outcome, StudyError> {
        self.count.fetch_add(1, Ordering::Relaxed);
        let outcome = (self.ask)(case, length)?;
        if outcome.summary.stopped == Stopped::Interrupted { Err(StudyError::Interrupted) } else { Ok(outcome) }
    }

    /// How often it was asked.
    pub fn count(&self) -> usize {
        self.count.load(Ordering::Relaxed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outcome::{Drop, Mode};
    use crate::study::synthetic;

    /// Invented drops of these diameters, a satellite behind each.
    fn summary(diameters: &[f64]) -> Summary {
        let mut found = synthetic::outcome(&synthetic::case(), Mode::Dripping, Some(60e-6), 1.0).summary;
        let drop = |(i, d): (usize, &f64)| {
            let made = |time_s, kind, diameter_m| Drop {
                time_s,
                kind,
                volume_m3: std::f64::consts::PI / 6.0 * f64::powi(diameter_m, 3),
                diameter_m,
                position_m: 0.0,
                velocity_m_per_s: 0.0,
                merged_from: Vec::new(),
                flagged: false,
                pinch: None,
            };
            [made(i as f64, DropKind::Primary, *d), made(i as f64 + 0.1, DropKind::Satellite, 0.1 * d)]
        };
        found.drops = diameters.iter().enumerate().flat_map(drop).collect();
        (found.primary.count, found.primary.settled_after) = (diameters.len() - 1, Some(1));
        found
    }

    #[test]
    fn the_latest_half_and_at_least_three_must_agree() {
        assert_eq!(alike(&summary(&[70e-6, 60e-6, 60.1e-6, 60e-6])), Some(4));
        assert_eq!(alike(&summary(&[60e-6, 60e-6, 60e-6])), None, "three tell no transient");
        assert_eq!(alike(&summary(&[60e-6, 61e-6, 60e-6, 61e-6])), None, "two in turn are not alike");
        assert_eq!(alike(&summary(&[70e-6, 70e-6, 70e-6, 70e-6, 65e-6, 60e-6, 60e-6, 60e-6])), None);
        let mut joined = summary(&[60e-6; 5]);
        joined.primary.count -= 1;
        assert_eq!(alike(&joined), None);
    }

    // A bound that is not reached changes nothing; one that is ends the run and says so.
    #[test]
    fn all_drops_within_a_bound_are_those_of_the_whole_run() {
        let tap = crate::case::examples::find("tap").expect("an example");
        let case = quick(&crate::case::parse(tap.text, "tap").unwrap_or_else(|e| panic!("{e}")), 5);
        let run = |length| simulated(&case, length, &|| false).expect("an answer").summary;
        let whole = run(Length::Whole);
        let bounded = run(Length::AllDropsWithin(1 << 40));
        assert_eq!((&bounded.primary, bounded.stopped), (&whole.primary, whole.stopped));
        assert_eq!(whole.primary.count + whole.primary.settled_after.unwrap_or(0), 5, "all of them");
        assert_eq!(run(Length::AllDropsWithin(1000)).stopped, UNAFFORDABLE);
    }

    #[test]
    fn driven_flows_are_never_cut_short() {
        let mut case = synthetic::case();
        assert!(repeats(&case));
        case.forcing.noise = 0.002;
        assert!(!repeats(&case));
        case.forcing = crate::case::Forcing { amplitude: 0.01, ..crate::case::Forcing::default() };
        assert!(!repeats(&case));
        case.forcing = crate::case::Forcing::default();
        case.run.stop = Stop::Until(1.0);
        assert!(!repeats(&case));
    }
}
