//! The HDF5 record of a run: schema, write, read, provenance, resume. HDF5 lives here only.

use crate::outcome::{Frame, NeckSample, PinchOff, SolverCounts, Summary};

/// A record read back: all that figures and reports may use.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// The case file as typed.
    pub case_text: String,
    pub summary: Summary,
    pub frames: Vec<Frame>,
    pub pinch_offs: Vec<PinchOff>,
    pub necks: Vec<NeckSample>,
    pub counts: SolverCounts,
}
