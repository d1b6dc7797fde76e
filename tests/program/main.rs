//! The program as a user runs it: its commands, answers, errors and files.

#[path = "../common/mod.rs"]
mod common;
#[path = "../drawn/mod.rs"]
mod drawn;

mod answers;
mod bench;
mod book;
mod check;
mod cli;
mod cli_run;
mod confirm_cli;
mod figures_cli;
mod growth_cli;
mod hostile;
mod keeping;
mod real_liquids;
mod set_keys;
#[cfg(unix)]
mod slurm;
mod study_commands;
mod study_map;
mod study_tables;
