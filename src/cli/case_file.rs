//! Case files and quantities as arguments.

use super::Failure;
use crate::case::{self, Case, CaseErrors};
use crate::units::{self, Kind};
use std::path::Path;

/// Keys of the case that are set beside its file.
#[derive(Debug, Clone, Default, clap::Args)]
pub struct Changes {
    /// Set or add a key of the case, with its unit and checked like the file, for example 'inner.flow=150 uL/h' (repeat for more)
    #[arg(long = "set", value_name = "KEY=VALUE")]
    set: Vec<String>,
}

/// The argument that stands for standard input.
const STANDARD_INPUT: &str = "-";

/// Reads and checks a case file, or standard input, with keys set beside it, for a command that rests on runs.
///
/// # Errors
/// Everything that is wrong with it, drawn with its place, as bad input; a key that a run does not compute with, by name.
pub fn load(path: &Path, changes: &Changes) -> Result<Case, Failure> {
    let case = load_any(path, changes)?;
    runs(&case, path)?;
    Ok(case)
}

/// The same for a command that says itself what it does not compute with.
///
/// # Errors
/// Everything that is wrong with it, drawn with its place, as bad input.
pub fn load_any(path: &Path, changes: &Changes) -> Result<Case, Failure> {
    read(path, changes).map_err(|errors| failure(&errors))
}

/// Refuses a case with a key that a run does not compute with.
///
/// # Errors
/// The key, as bad input.
pub fn runs(case: &Case, path: &Path) -> Result<(), Failure> {
    crate::simulate::computes(case).map_err(|e| Failure::Input(format!("{}: {e}", path.display())))
}

/// The same, with what is wrong as data.
///
/// # Errors
/// Everything that is wrong with it.
pub fn read(path: &Path, changes: &Changes) -> Result<Case, CaseErrors> {
    match is_standard_input(path) {
        true => case::read_from(std::io::stdin().lock(), "standard input", &changes.set),
        false => case::read_with(path, &changes.set),
    }
}

/// Whether a case is to be read from standard input.
pub fn is_standard_input(path: &Path) -> bool {
    path.as_os_str() == STANDARD_INPUT
}

/// Problems of a case as a failure that is ready to print.
pub fn failure(errors: &CaseErrors) -> Failure {
    Failure::Input(errors.rendered(true))
}

/// A time with its unit, s.
///
/// # Errors
/// What was found and what would be right.
pub fn time(text: &str) -> Result<f64, String> {
    let time = units::read(text, Kind::Time).map_err(|e| e.to_string())?.si;
    if time > 0.0 { Ok(time) } else { Err("a time above zero is needed, for example \"50 ms\"".into()) }
}
