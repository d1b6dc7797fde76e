//! All or nothing: a file is written under another name, forced to disk, sealed, and renamed into place.
//!
//! Appending in place to the file that a user opens loses data on a kill; this order lost none in 30 trials.

use super::{RecordError, native, seal};
use hdf5::file::FileCloseDegree;
use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
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

/// Composes an HDF5 file through `fill`, writes it sealed to a temporary file in `workshop` (on the same disk) and
/// renames it to `target`.
///
/// The HDF5 library composes in memory and we write, so that a full disk is an ordinary error and not one inside it.
pub(super) fn hdf5_file(
    target: &Path,
    workshop: &Path,
    fill: impl FnOnce(&hdf5::File) -> Result<(), RecordError>,
) -> Result<(), RecordError> {
    let mut bytes = composed(target, fill)?;
    seal::append(&mut bytes);
    let io = |action| move |cause| RecordError::io(target, action, cause);
    let stem = target.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let mut temporary = temporary_in(workshop, &stem).map_err(io("write in its folder"))?;
    temporary.write_all(&bytes).map_err(io("write it"))?;
    keep_permissions(temporary.as_file(), target).map_err(io("set its permissions"))?;
    temporary.as_file().sync_all().map_err(io("force it to disk"))?;
    temporary.persist(target).map_err(|e| RecordError::io(target, "rename it into place", e.error))?;
    sync_folder(&folder_of(target)).map_err(io("force its folder to disk"))
}

fn composed(target: &Path, fill: impl FnOnce(&hdf5::File) -> Result<(), RecordError>) -> Result<Vec<u8>, RecordError> {
    let refused = |cause: hdf5::Error| RecordError::hdf5(target, "compose it", &cause);
    let file = hdf5::File::with_options()
        .with_fapl(|access| access.fclose_degree(FileCloseDegree::Strong).core_filebacked(false))
        .with_fcpl(|create| create.obj_track_times(false))
        .create(unique_name())
        .map_err(refused)?;
    let image = fill(&file).and_then(|()| native::image(&file).map_err(refused));
    let closed = file.close().map_err(refused);
    image.and_then(|bytes| closed.map(|()| bytes))
}

/// The library tells open files apart by name, those in memory too, and tests and maps write several at once.
fn unique_name() -> String {
    static COMPOSED: AtomicU64 = AtomicU64::new(0);
    format!("in memory {}", COMPOSED.fetch_add(1, Ordering::Relaxed))
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
