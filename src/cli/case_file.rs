//! Case files and quantities as arguments.

use super::Failure;
use crate::case::{self, Case, CaseErrors};
use crate::units::{self, Kind};
use std::path::Path;

/// Reads and checks a case file.
///
/// # Errors
/// Everything that is wrong with it, drawn with its place, as bad input.
pub fn load(path: &Path) -> Result<Case, Failure> {
    case::read(path).map_err(|errors| failure(&errors))
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
