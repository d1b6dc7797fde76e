//! By how much each effect of a real liquid has moved the size: the same case once more without it.
//!
//! Nobody asked for these runs: they may take a third of what the run itself took, counted in cells times steps so that it is the same on
//! every machine, and are one accuracy coarser (by which the drop measured at [`crate::tolerances::COARSE`] differs by 0.06 % in diameter; others
//! may by more: each line says what it is held against). Who asks has them to their end at the run's own accuracy.

use super::real::equilibrium;
use super::{Comparison, Next, Observer, Progress, follow, summary};
use crate::case::rheology::{RealLiquids, Surfactant};
use crate::case::{Accuracy, Case, Layout};
use crate::outcome::{Moved, MovedBy, Outcome, Stopped};

/// Share of the run's work that may be spent unasked.
const AFFORDABLE: f64 = 1.0 / 3.0;
/// Mean number of cells of a run over the most that it had: the thread on the nozzle is short for most of a drop's time, and steps of small
/// free bodies count too.
const CELLS_MEAN: f64 = 0.5;
/// What makes up for a number that was not affordable.
pub const OPTION: &str = "--effects";

/// Hears during a further run whether the user wants to stop, and stops it where its work is used up; the run asked for is done.
struct Further<'a> {
    user: &'a mut dyn Observer,
    left: f64,
    work: f64,
    stopped: bool,
}

impl Observer for Further<'_> {
    fn wants_frames(&self) -> bool {
        false
    }

    fn progress(&mut self, at: &Progress) -> Next {
        self.work = at.work as f64;
        self.stopped |= self.user.progress(&Progress { fraction: 1.0, ..*at }) == Next::Interrupt;
        if self.stopped || self.work > self.left { Next::Interrupt } else { Next::Continue }
    }
}

/// An effect, what a run without it is of, and that run's case.
struct Without {
    effect: &'static str,
    against: String,
    case: Case,
}

/// The case without each effect, the others kept.
fn each(case: &Case) -> Vec<Without> {
    let mut list = Vec::new();
    let mut put = |effect, against: String, change: &dyn Fn(&mut Case)| {
        let mut without = case.clone();
        change(&mut without);
        // a tension that has vanished has no drops
        if without.tension > 0.0 {
            list.push(Without { effect, against, case: without });
        }
    };
    let tension = |what: &str, n_per_m: f64| format!("{what}, {:.2} mN/m", 1e3 * n_per_m);
    match (case.real.surfactant, equilibrium(case)) {
        (Some(Surfactant::Insoluble { .. }), _) => {
            put("surfactant", tension("the tension at rest", case.tension), &|c| c.real.surfactant = None);
        }
        (Some(Surfactant::Dissolved { .. }), at_rest) => {
            put("surfactant", tension("the clean tension", case.tension), &|c| c.real.surfactant = None);
            if let Some(at_rest) = at_rest {
                put("its lack of equilibrium", tension("the tension at equilibrium", at_rest), &|c| {
                    (c.real.surfactant, c.tension) = (None, at_rest);
                });
            }
        }
        (None, _) => {}
    }
    if case.real.thinning.is_some() {
        put("inner thinning", "the inner viscosity at rest".into(), &|c| c.real.thinning = None);
    }
    if case.real.outer_thinning.is_some() {
        put("outer thinning", "the outer viscosity at rest".into(), &|c| c.real.outer_thinning = None);
    }
    if case.real.polymer.is_some() {
        put("polymer", "the same viscosity at rest without elasticity".into(), &|c| c.real.polymer = None);
    }
    list
}

/// The case without any of them, a dissolved surfactant at its tension of equilibrium, and that in words.
fn all(case: &Case) -> (Case, String) {
    let mut plain = case.clone();
    plain.real = RealLiquids::default();
    let mut words: Vec<String> = Vec::new();
    match (case.real.thinning.is_some(), case.real.outer_thinning.is_some()) {
        (true, true) => words.push("both viscosities at rest".into()),
        (true, false) => words.push("the viscosity at rest".into()),
        (false, true) => words.push("the outer viscosity at rest".into()),
        (false, false) => {}
    }
    if case.real.polymer.is_some() {
        words.push("the viscosity at rest, without the polymer's elasticity".into());
    }
    match (case.real.surfactant, equilibrium(case)) {
        (Some(_), Some(tension)) => {
            plain.tension = tension;
            words.push(format!("the tension at equilibrium, {:.2} mN/m", 1e3 * tension));
        }
        (Some(_), None) => words.push("the tension at rest".into()),
        (None, _) => {}
    }
    (plain, words.join(" and "))
}

/// Further runs, each made once.
struct Runs<'a> {
    user: &'a mut dyn Observer,
    /// Work that is left, cells times steps.
    left: f64,
    coarser: bool,
    with: f64,
    done: Vec<(RealLiquids, f64, Option<f64>)>,
    why: Option<String>,
    stopped: bool,
}

impl Runs<'_> {
    /// Diameter over that of a run of this case, less one.
    fn against(&mut self, case: &Case) -> Option<f64> {
        if let Some((_, _, found)) = self.done.iter().find(|d| d.0 == case.real && d.1 == case.tension) {
            return *found;
        }
        let found = self.run(case).map(|without| self.with / without - 1.0);
        self.done.push((case.real, case.tension, found));
        found
    }

    fn run(&mut self, case: &Case) -> Option<f64> {
        if self.stopped || case.tension <= 0.0 {
            return None;
        }
        let mut case = case.clone();
        if self.coarser {
            case.run.accuracy = coarser(case.run.accuracy);
        }
        let mut further = Further { user: &mut *self.user, left: self.left, work: 0.0, stopped: false };
        let followed = follow(&case, None, &mut further);
        let (work, stopped) = (further.work, further.stopped);
        self.left -= work;
        self.stopped |= stopped;
        let (setup, world, ended) = match followed {
            Ok(followed) => followed,
            Err(error) => {
                self.why = Some(format!("a run without cannot be made: {error}"));
                return None;
            }
        };
        if stopped {
            return None;
        }
        if ended == Stopped::Interrupted {
            self.why =
                Some(format!("runs without would take more than a third of this run: `run {OPTION}` makes them"));
            return None;
        }
        let found = summary::outcome(&case, &setup, &world, ended).summary.mean_of_settled();
        if found.is_none() {
            self.why = Some("a run without left no drops".into());
        }
        found
    }
}

/// One accuracy down.
fn coarser(accuracy: Accuracy) -> Accuracy {
    match accuracy {
        Accuracy::Fine => Accuracy::Standard,
        Accuracy::Standard | Accuracy::Coarse => Accuracy::Coarse,
    }
}

/// Further runs without what makes the liquids real; `None` where there is nothing to compare, or the user has had enough.
pub fn moved(case: &Case, outcome: &Outcome, wanted: Comparison, observer: &mut dyn Observer) -> Option<Moved> {
    let nothing = case.real.is_plain() || matches!(case.layout, Layout::Segment(_)) || wanted == Comparison::None;
    if nothing || outcome.summary.stopped == Stopped::Interrupted {
        return None;
    }
    let with = outcome.summary.mean_of_settled()?;
    let (plain, words) = all(case);
    if plain.tension <= 0.0 {
        return None;
    }
    let whole = wanted == Comparison::Whole;
    let work = CELLS_MEAN * outcome.counts.steps_accepted as f64 * outcome.counts.cells_max as f64;
    let left = if whole { f64::INFINITY } else { AFFORDABLE * work };
    let mut runs = Runs { user: observer, left, coarser: !whole, with, done: Vec::new(), why: None, stopped: false };
    let at = if !whole && coarser(case.run.accuracy) != case.run.accuracy { " one accuracy coarser" } else { "" };
    let of = |what: &str| format!("a run{at} at {what}");
    let diameter_relative = runs.against(&plain);
    let effects = each(case)
        .into_iter()
        .map(|w| MovedBy { effect: w.effect.into(), against: of(&w.against), diameter_relative: runs.against(&w.case) })
        .collect();
    let Runs { why, stopped, .. } = runs;
    (!stopped).then(|| Moved { against: of(&words), diameter_relative, effects, why })
}
