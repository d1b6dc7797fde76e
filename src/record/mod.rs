//! The HDF5 record of a run: schema, write, read, provenance, resume. HDF5 lives here only.
//!
//! ```text
//! /                 Conventions "CF-1.11", title, schema, version, identity
//!   time  moment  pinch_index  bodies_in_frame  nodes_in_body  attached  z  h  u     the recorded snapshots (see `frames`)
//! /budget           the energy budget over time, by cause (see `budget`)
//! /drops            detachment_time, volume, diameter, position, velocity, kind, flagged, pinch_index, merged_count
//! /merger           merged_into, merged_from: one row for each drop that went into another
//! /pinch_off        pinch_time, position, length, volume
//! /neck             sample_time, position, radius, length, pinch_index: the thinnest neck
//! /summary          every single fact as an attribute, and `json`: the object of `run --json`
//! /case             `text` as typed; `json`: the checked case in SI; key, typed, si_value, si_unit, tolerance of every quantity
//! /solver           counts by cause
//! /confirmed        only in a run with `--confirm`: what the full equations say of it (see `full`)
//! /checkpoint       only in an interrupted record: what `--resume` goes on from
//! /provenance       all that differs between two equal runs, and nothing else
//! ```
//! Every dataset of numbers has `units` (UDUNITS words, SI), every dataset `long_name`; texts are of fixed length and flags name
//! their meanings; lists of numbers are shuffled and deflated. The last line of the
//! file, after the end of HDF5's own data, is a checksum of all bytes before it (see `seal`).
//!
//! Invariants
//! 1. A file that a user opens is complete: it was written elsewhere and renamed.
//! 2. The bytes of a record, `/provenance` and the checksum aside, follow from the case and the version alone.
//! 3. While a run goes on, complete parts lie in `RUN.h5.parts/`; each holds snapshots and the state at its end.
//! 4. While a run goes on, memory does not grow with the number of snapshots; at the end the file is composed in memory,
//!    which takes twice its (compressed) size.

use crate::case::Case;
use crate::outcome::{Frame, NeckSample, PinchOff, SolverCounts, Summary};

pub mod answers;
mod budget;
pub mod build;
mod error;
mod frames;
pub mod full;
mod grid;
mod identity;
pub mod journal;
pub mod map;
mod native;
mod netcdf;
mod overwrite;
mod parts;
mod provenance;
mod read;
mod recorder;
mod replace;
mod seal;
mod self_contained;
pub mod table;
pub mod vtkhdf;
mod write;

pub use crate::files::FileError;
pub use error::RecordError;
pub use identity::identity;
pub use overwrite::{export_may_replace, full_may_replace, map_may_replace, run_may_replace};
pub use read::{read, read_summary};
pub use recorder::{Recorder, Start};
pub use seal::{is_present as has_checksum, sha256_hex};
pub use write::{write, write_confirmed};

/// A record read back: all that figures and reports may use.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// The case file as typed.
    pub case_text: String,
    /// The checked case, properties looked up and defaults filled in (`typed` is left empty).
    pub case: Case,
    pub summary: Summary,
    pub frames: Vec<Frame>,
    pub pinch_offs: Vec<PinchOff>,
    pub necks: Vec<NeckSample>,
    pub counts: SolverCounts,
    /// What the full equations said of its first drop, where they were asked.
    pub full: Option<full::Full>,
}
