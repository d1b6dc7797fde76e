//! Case -> Outcome; the only glue: no files, no printing, no clock, no threads.

use crate::case::Case;
use crate::outcome::{Frame, Outcome};

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
}

/// What the caller wants next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Next {
    Continue,
    /// Stop here; the outcome so far comes back with `stopped = "interrupted"`.
    Interrupt,
}

/// Listens while a run goes on. The default methods ignore everything.
pub trait Observer {
    /// Called for every recorded instant, in order of time.
    fn frame(&mut self, _frame: &Frame) {}
    /// Called at each frame and at least once a few hundred steps.
    fn progress(&mut self, _at: &Progress) -> Next {
        Next::Continue
    }
    /// Called after a frame and after a pinch-off, at most once each; the state to resume from.
    /// `outcome_so_far` builds the summary lazily.
    fn checkpoint(&mut self, _state: &Checkpoint, _so_far: &dyn Fn() -> Outcome) {}
}

/// Ignores everything.
pub struct Silent;
impl Observer for Silent {}

/// Why a run could not start or go on.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SimulateError {
    /// The case cannot be simulated (a physical contradiction found after parsing).
    #[error("{0}")]
    Impossible(String),
    /// The checkpoint does not belong to this case or version.
    #[error("this checkpoint does not belong to this case: {0}")]
    ForeignCheckpoint(String),
}

/// Run a case, from its start or from a checkpoint.
pub fn simulate(
    _case: &Case,
    _from: Option<&Checkpoint>,
    _observer: &mut dyn Observer,
) -> Result<Outcome, SimulateError> {
    Err(SimulateError::Impossible("the solver is not connected yet".into()))
}
