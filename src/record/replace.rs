//! An HDF5 file composed in memory, sealed, and put into place whole (see `files`).
//!
//! Appending in place to the file that a user opens loses data on a kill; this order lost none in 30 trials.

use super::{RecordError, native, seal};
use crate::files::{self, Refused};
use hdf5::file::FileCloseDegree;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};

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
    files::place(target, workshop, &bytes).map_err(|Refused { action, cause }| RecordError::io(target, action, cause))
}

fn composed(target: &Path, fill: impl FnOnce(&hdf5::File) -> Result<(), RecordError>) -> Result<Vec<u8>, RecordError> {
    let refused = |cause: hdf5::Error| RecordError::hdf5(target, "compose it", cause);
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
