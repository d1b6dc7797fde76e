//! Which HDF5 file may take the place of another: a run's record that of the same case, a map that of the same plan.

use super::identity::same_case;
use super::read::{Opened, case, guarded};
use super::seal::{Seal, sha256_hex};
use super::{RecordError, map};
use crate::case::Case;
use crate::files::{self, FileError};
use crate::outcome::SCHEMA;
use crate::study::map::Map;
use std::path::Path;

impl From<FileError> for RecordError {
    fn from(error: FileError) -> RecordError {
        match error {
            FileError::Io { path, action, cause } => RecordError::Io { path, action, cause },
            other => RecordError::Placed(other),
        }
    }
}

/// Keys named of a record of another case.
const LISTED: usize = 3;

fn kept(target: &Path, reason: impl Into<String>) -> RecordError {
    FileError::Exists { path: target.into(), reason: reason.into() }.into()
}

/// Whether a record of `case` may be written to `target`: nothing there, or a whole record of the same case (title, comments and run
/// settings aside), or `force`.
///
/// # Errors
/// Where it may not.
pub fn run_may_replace(target: &Path, case_here: &Case, force: bool) -> Result<(), RecordError> {
    if files::regular_file_at(target, force)? && !force {
        let found = guarded(target, |path| {
            let (file, seal) = Opened::file(path)?;
            file.expect_schema(SCHEMA)?;
            Ok((case(&file)?, seal))
        });
        match found {
            Err(error @ RecordError::Io { .. }) => return Err(error),
            Err(error) => return Err(kept(target, error.reason())),
            Ok((_, Seal::Absent)) => return Err(kept(target, "another program has changed it since it was written")),
            Ok((there, Seal::Whole)) if same_case(&there, case_here) => {}
            Ok((there, Seal::Whole)) => {
                let json = |case: &Case| serde_json::to_value(super::identity::like(case)).unwrap_or_default();
                let mut keys = super::identity::differences(&json(&there), &json(case_here));
                keys.retain(|key| !key.starts_with("`run."));
                let more = keys.len().saturating_sub(LISTED);
                keys.truncate(LISTED);
                let more = if more > 0 { format!("; and {more} more") } else { String::new() };
                return Err(kept(target, format!("it is the record of another case: {}{more}", keys.join("; "))));
            }
        }
    }
    refuse_busy(target)
}

/// Whether the outlines of `case` may be written to `target`: nothing there, outlines of the same case, or `force`.
///
/// # Errors
/// Where they may not.
pub fn full_may_replace(target: &Path, case_here: &Case, force: bool) -> Result<(), RecordError> {
    if !files::regular_file_at(target, force)? || force {
        return Ok(());
    }
    let own = sha256_hex(case_here.text.as_bytes());
    match super::table::read(target, super::full::SCHEMA) {
        Ok(there) if there.attributes.iter().any(|(name, value)| name == "case_sha256" && *value == own) => Ok(()),
        Ok(_) => Err(kept(target, "it holds outlines of another case")),
        Err(error @ RecordError::Io { .. }) => Err(error),
        Err(error) => Err(kept(target, error.reason())),
    }
}

/// Whether `map` may be written to `target`: nothing there, a map of the same plan (by whatever build of the program), or `force`.
///
/// # Errors
/// Where it may not.
pub fn map_may_replace(target: &Path, new: &Map, force: bool) -> Result<(), RecordError> {
    if !files::regular_file_at(target, force)? || force {
        return Ok(());
    }
    match map::read(target) {
        Ok(there) if there.plan_hash == new.plan_hash => Ok(()),
        Ok(there) if there.plan == new.plan && there.case_text == new.case_text => Ok(()),
        Ok(there) => Err(kept(
            target,
            format!("it is the map of another case or plan, \"{}\"", crate::units::quoted(&there.title)),
        )),
        Err(error @ RecordError::Io { .. }) => Err(error),
        Err(error) => Err(kept(target, error.reason())),
    }
}

/// Whether an export may be written to `target`: nothing there, an export that this program sealed, or `force`.
///
/// # Errors
/// Where it may not.
pub fn export_may_replace(target: &Path, force: bool) -> Result<(), RecordError> {
    if !files::regular_file_at(target, force)? || force {
        return Ok(());
    }
    let found = guarded(target, |path| {
        let (file, seal) = Opened::file(path)?;
        Ok(file.has("VTKHDF") && seal == Seal::Whole)
    });
    match found {
        Ok(true) => Ok(()),
        Ok(false) => Err(kept(target, "it is no export of this program, or was changed since")),
        Err(error @ RecordError::Io { .. }) => Err(error),
        Err(error) => Err(kept(target, error.reason())),
    }
}

/// Another program that writes to the record holds a lock on it.
fn refuse_busy(target: &Path) -> Result<(), RecordError> {
    let Ok(file) = std::fs::File::open(target) else { return Ok(()) };
    match file.try_lock_shared() {
        Err(std::fs::TryLockError::WouldBlock) => {
            Err(RecordError::refused(target, "another program has it open for writing; close it there first"))
        }
        _ => Ok(()),
    }
}
