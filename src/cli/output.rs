//! Where an answer goes: a file that is nothing else (see `files`), or with `-` standard output where it is text.

use super::{Failure, Output};
use crate::files::{self, Kind};
use std::path::Path;

/// Whether a path means standard output.
pub fn is_stdout(path: &Path) -> bool {
    path.as_os_str() == "-"
}

/// Writes text to a file, or to standard output for `-`.
///
/// # Errors
/// Where something else has the file's name and `--force` was not given, or it cannot be written.
pub fn write(path: &Path, bytes: &[u8], how: &Output) -> Result<(), Failure> {
    if is_stdout(path) {
        return match std::str::from_utf8(bytes) {
            Ok(_) if how.json => Err(Failure::Input("--json and -o - both want standard output; leave one out".into())),
            Ok(text) => super::print(text),
            Err(_) => Err(not_text(path)),
        };
    }
    Ok(files::write(path, bytes, how.force)?)
}

/// Says early, before anything is computed, that a file cannot be written in the end. A table's columns are only known then: without
/// a kind no more is asked than that the name be fit for a file.
///
/// # Errors
/// As [`write()`] would.
pub fn check(path: &Path, kind: Option<&Kind>, how: &Output) -> Result<(), Failure> {
    if is_stdout(path) {
        return Ok(());
    }
    match kind {
        Some(kind) => Ok(files::may_write(path, Some(kind), how.force)?),
        None => Ok(files::regular_file_at(path, how.force).map(drop)?),
    }
}

/// The failure of a binary file asked for on standard output.
pub fn not_text(path: &Path) -> Failure {
    Failure::Input(format!(
        "`{}`: this output is no text and does not go to standard output; name a file",
        path.display()
    ))
}

/// Writes a case that a command made, marked as such so that the command may replace it while nobody has edited it.
///
/// # Errors
/// As [`write()`].
pub fn write_case(path: &Path, text: &str, how: &Output) -> Result<(), Failure> {
    let text = if is_stdout(path) { text.to_owned() } else { files::marked_case(text) };
    write(path, text.as_bytes(), how)
}
