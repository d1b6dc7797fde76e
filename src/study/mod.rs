//! Before and after the experiment: measured spread, maps, aiming, comparing, uncertain inputs.
//!
//! Everything here asks [`crate::simulate`] or a table of readings many times over and sums up the answers. Threads live here
//! (and, row by row of one matrix, in [`crate::stokes`]); files, printing and clocks do not live here at all.

pub mod aim;
pub mod calibrate;
pub mod compare;
pub mod confirm;
pub mod confirm_map;
pub mod crossings;
pub mod csv;
mod error;
pub mod evaluate;
pub mod growth;
pub mod map;
pub mod margins;
pub mod measured;
pub mod quantiles;
pub mod spread;
pub mod uncertain;

pub use error::StudyError;

#[cfg(test)]
pub(crate) mod synthetic;
