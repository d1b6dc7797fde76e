//! A run kept in memory with its snapshots, for figures of commands that write no record.

use super::signals::Interrupt;
use super::{Failure, clock, source};
use crate::case::Case;
use crate::figures::Source;
use crate::outcome::Frame;
use crate::record::Recorded;
use crate::simulate::{Next, Observer, Progress, simulate};

struct Kept {
    frames: Vec<Frame>,
    interrupt: Interrupt,
}

impl Observer for Kept {
    fn frame(&mut self, frame: &Frame) {
        self.frames.push(frame.clone());
    }

    fn interval(&mut self, interval: f64) {
        self.frames.retain(|frame| frame.stays(interval));
    }

    fn progress(&mut self, _at: &Progress) -> Next {
        if self.interrupt.asked() { Next::Interrupt } else { Next::Continue }
    }
}

/// Runs a case and hands over what its record would hold.
pub fn in_memory(case: &Case) -> Result<Source, Failure> {
    let started = clock::now();
    let mut kept = Kept { frames: Vec::new(), interrupt: Interrupt::listen() };
    let outcome = simulate(case, None, &mut kept).map_err(|e| Failure::Input(format!("{}: {e}", case.title)))?;
    if kept.interrupt.asked() {
        return Err(Failure::Interrupted("interrupted; no figure was written".into()));
    }
    let mut summary = outcome.summary;
    summary.provenance = source::provenance(case, started);
    Ok(Source::Run(Box::new(Recorded {
        case_text: case.text.clone(),
        case: case.clone(),
        summary,
        frames: kept.frames,
        pinch_offs: outcome.pinch_offs,
        necks: outcome.necks,
        counts: outcome.counts,
        full: None,
    })))
}
