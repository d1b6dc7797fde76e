//! Records, maps, figures and reports: what is written and what reads it.

#[path = "../common/mod.rs"]
mod common;
#[path = "../drawn/mod.rs"]
mod drawn;

mod figures;
mod map_files;
mod record;
mod record_bursts;
mod record_runs;
mod report;
