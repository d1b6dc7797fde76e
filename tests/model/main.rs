//! The library's cases, runs and studies: laws, golden summaries, drawn cases, reference solutions.

#[path = "../random/mod.rs"]
mod random;

mod case_edit;
mod case_errors;
mod coflow_small_drop;
mod everyday;
mod golden;
mod independent_cases;
mod laws;
mod orifice_modes;
mod pumps;
mod random_cases;
mod real_threads;
mod spread_coverage;
mod two_fields;
