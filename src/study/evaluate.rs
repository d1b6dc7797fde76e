//! One case, one answer: what every study asks for, counted and interruptible.

use crate::case::{Accuracy, Case, Stop};
use crate::outcome::Outcome;
use crate::simulate::{Next, Observer, Progress, simulate};
use std::sync::atomic::{AtomicUsize, Ordering};

/// Answers a case, or says why not.
pub type Ask<'a> = &'a (dyn Fn(&Case) -> Result<Outcome, String> + Sync);

/// Whether the user wants to stop.
pub type Stopped<'a> = &'a (dyn Fn() -> bool + Sync);

/// Hears the user's wish to stop; records nothing.
struct Ear<'a>(Stopped<'a>);

impl Observer for Ear<'_> {
    fn progress(&mut self, _at: &Progress) -> Next {
        if (self.0)() { Next::Interrupt } else { Next::Continue }
    }
}

/// The simulated answer of a case, without any record.
///
/// # Errors
/// Where the case cannot be simulated, in words.
pub fn simulated(case: &Case, stopped: Stopped<'_>) -> Result<Outcome, String> {
    simulate(case, None, &mut Ear(stopped)).map_err(|e| e.to_string())
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

    /// Asks, and counts.
    ///
    /// # Errors
    /// As the answerer, and where the run was interrupted.
    pub fn ask(&self, case: &Case) -> Result<Outcome, String> {
        self.count.fetch_add(1, Ordering::Relaxed);
        let outcome = (self.ask)(case)?;
        if outcome.summary.stopped == "interrupted" { Err(INTERRUPTED.into()) } else { Ok(outcome) }
    }

    /// How often it was asked.
    pub fn count(&self) -> usize {
        self.count.load(Ordering::Relaxed)
    }
}

/// The reason that stands for the user's own wish.
pub const INTERRUPTED: &str = "interrupted";
