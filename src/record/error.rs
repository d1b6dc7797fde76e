//! Why a record could not be written or read, in words for the person at the keyboard.

use std::path::{Path, PathBuf};

/// Why a record could not be written or read.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RecordError {
    /// The operating system refused: missing file, read-only folder, full disk.
    #[error("{}: cannot {action}: {cause}", path.display())]
    Io {
        path: PathBuf,
        action: &'static str,
        #[source]
        cause: std::io::Error,
    },
    /// The HDF5 library refused.
    #[error("{}: cannot {action}: HDF5 says: {cause}", path.display())]
    Hdf5 {
        path: PathBuf,
        action: &'static str,
        #[source]
        cause: hdf5::Error,
    },
    /// Not a file of ours.
    #[error("{}: not a slenderjet record: {reason}", path.display())]
    Foreign { path: PathBuf, reason: String },
    /// Ours, but not as it was written.
    #[error("{}: this record is damaged: {reason}", path.display())]
    Damaged { path: PathBuf, reason: String },
    /// Written by a later program.
    #[error(
        "{}: written in the layout `{found}`, which this program does not know (it reads `{known}`); \
         use the version that wrote it, or a newer one", path.display()
    )]
    Future { path: PathBuf, found: String, known: &'static str },
    /// The target, its lock or what lies beside it forbids writing.
    #[error("{}: {reason}", path.display())]
    Refused { path: PathBuf, reason: String },
    /// What lies at the target is not replaced, or it is no place for a file.
    #[error(transparent)]
    Placed(crate::files::FileError),
    /// The caller handed over something that cannot be recorded.
    #[error("{}: cannot record this: {reason}", path.display())]
    Unwritable { path: PathBuf, reason: String },
}

impl RecordError {
    /// True where the user's input is at fault (exit 2), false where the computer could not do it (exit 1).
    pub fn is_input(&self) -> bool {
        match self {
            RecordError::Io { action, .. } => ["read it", "write in its folder"].contains(action),
            RecordError::Hdf5 { .. } => false,
            RecordError::Unwritable { .. } => false,
            _ => true,
        }
    }

    /// The reason without the path.
    pub(super) fn reason(&self) -> String {
        match self {
            RecordError::Foreign { reason, .. } => format!("not a slenderjet record: {reason}"),
            RecordError::Damaged { reason, .. } => format!("this record is damaged: {reason}"),
            RecordError::Future { found, .. } => {
                format!("it is of the layout `{found}`, which this program does not know")
            }
            RecordError::Refused { reason, .. } | RecordError::Unwritable { reason, .. } => reason.clone(),
            other => other.to_string(),
        }
    }

    pub(crate) fn io(path: &Path, action: &'static str, cause: std::io::Error) -> Self {
        RecordError::Io { path: path.into(), action, cause }
    }

    pub(crate) fn hdf5(path: &Path, action: &'static str, cause: hdf5::Error) -> Self {
        RecordError::Hdf5 { path: path.into(), action, cause }
    }

    pub(crate) fn foreign(path: &Path, reason: impl Into<String>) -> Self {
        RecordError::Foreign { path: path.into(), reason: reason.into() }
    }

    pub(crate) fn damaged(path: &Path, reason: impl Into<String>) -> Self {
        RecordError::Damaged { path: path.into(), reason: reason.into() }
    }

    pub(crate) fn refused(path: &Path, reason: impl Into<String>) -> Self {
        RecordError::Refused { path: path.into(), reason: reason.into() }
    }
}
