//! The folder `RUN.h5.parts/`: what a run has finished so far, each part complete and renamed into place.
//!
//! Part `00000.h5`, `00001.h5`, ... holds the snapshots since the part before it and the state of the run at its end.
//! A lock on the file `lock` in there, held by the operating system for the life of the process, keeps others out.

use super::frames::{self, FrameWriter};
use super::identity::{differences, like};
use super::netcdf::{document, meaning, number, subgroup, text};
use super::read::{Opened, checkpoint};
use super::seal::Seal;
use super::write::{self, Resumable};
use super::{RecordError, replace};
use crate::case::Case;
use crate::files;
use crate::outcome::Frame;
use crate::simulate::Checkpoint;
use std::fs::{self, File};
use std::path::{Path, PathBuf};

/// Layout of a part.
const SCHEMA: &str = "slenderjet-part-2";

/// What a good part says about itself.
pub(super) struct Part {
    pub frames: u64,
    pub wall_s: f64,
    pub state: Checkpoint,
}

/// A case by what its run follows from, and in full so that it can be told which key differs.
pub(super) struct Identified {
    pub identity: String,
    json: String,
}

impl Identified {
    pub(super) fn new(case: &Case) -> Identified {
        let json = serde_json::to_string(&like(case)).unwrap_or_default();
        Identified { identity: super::identity(case), json }
    }

    /// What differs from the case of a record or part, in words.
    pub(super) fn unlike(&self, other: &str) -> String {
        let read = |text: &str| serde_json::from_str::<serde_json::Value>(text).unwrap_or_default();
        let keys = differences(&read(other), &read(&self.json));
        match keys.as_slice() {
            [] => "the same case, computed by another version or build of the program".into(),
            keys => keys.join("; "),
        }
    }
}

/// The folder of parts beside a target, locked.
pub(super) struct Parts {
    pub folder: PathBuf,
    lock: File,
}

pub(super) fn folder_beside(target: &Path) -> PathBuf {
    let mut name = target.as_os_str().to_owned();
    name.push(".parts");
    PathBuf::from(name)
}

impl Parts {
    /// Makes the folder if need be and locks it.
    pub(super) fn lock(target: &Path) -> Result<Parts, RecordError> {
        let folder = folder_beside(target);
        match fs::create_dir(&folder) {
            Err(e) if e.kind() != std::io::ErrorKind::AlreadyExists => {
                return Err(RecordError::io(target, "write in its folder", e));
            }
            _ => {}
        }
        let path = folder.join("lock");
        let lock = files::open_beside(&path).map_err(|e| RecordError::io(&path, "write it", e))?;
        if files::lock(&lock) && files::has_name(&lock, &path) {
            return Ok(Parts { folder, lock });
        }
        Err(RecordError::refused(target, "another run is writing this record now; wait for it or use another name"))
    }

    pub(super) fn path(&self, index: u64) -> PathBuf {
        self.folder.join(format!("{index:05}.h5"))
    }

    /// Number of part files present, counted from the first without a gap.
    pub(super) fn present(&self) -> u64 {
        (0..).find(|&index| !self.path(index).exists()).unwrap_or(0)
    }

    /// Writes one part: snapshots and the state that follows them.
    pub(super) fn write(
        &self,
        index: u64,
        of: &Identified,
        wall_s: f64,
        frames: &[Frame],
        resumable: Resumable<'_>,
    ) -> Result<(), RecordError> {
        let path = self.path(index);
        let refused = |cause: hdf5::Error| RecordError::hdf5(&path, "compose it", cause);
        let fill = |file: &hdf5::File| -> hdf5::Result<()> {
            text(file, "schema", SCHEMA)?;
            text(file, "identity", &of.identity)?;
            document(file, meaning("case", "1", "the checked case in SI units"), &of.json)?;
            number(file, "index", index)?;
            number(file, "wall_s", wall_s)?;
            let mut snapshots = FrameWriter::new(file)?;
            frames.iter().try_for_each(|frame| snapshots.push(frame))?;
            snapshots.finish()?;
            write::checkpoint(&subgroup(file, "checkpoint")?, resumable)
        };
        replace::hdf5_file(&path, &self.folder, |file| fill(file).map_err(refused))
    }

    fn open(&self, index: u64, of: &Identified) -> Result<Opened, RecordError> {
        let path = self.path(index);
        let (part, seal) = Opened::file(&path)?;
        if seal == Seal::Absent {
            return Err(part.damaged("its last line, the checksum, is missing"));
        }
        part.expect_schema(SCHEMA)?;
        if part.text_attribute("identity")? != of.identity {
            let why = of.unlike(&part.document("case")?);
            return Err(RecordError::refused(&self.folder, format!("holds an unfinished run of another case: {why}")));
        }
        if part.attribute::<u64>("index")? != index {
            return Err(part.damaged("it is not the part that its name says"));
        }
        Ok(part)
    }

    /// Checks a part and reads all but its snapshots.
    pub(super) fn inspect(&self, index: u64, of: &Identified) -> Result<Part, RecordError> {
        let part = self.open(index, of)?;
        let (state, frames) = checkpoint(&part.group("checkpoint")?)?;
        Ok(Part { frames, wall_s: part.attribute("wall_s")?, state })
    }

    /// The snapshots of a part.
    pub(super) fn frames(&self, index: u64, of: &Identified) -> Result<Vec<Frame>, RecordError> {
        frames::read(&self.open(index, of)?)
    }

    /// Removes the parts from `first` on, and whatever a kill left behind here.
    pub(super) fn remove_from(&self, first: u64) -> Result<(), RecordError> {
        let io = |cause| RecordError::io(&self.folder, "clear it", cause);
        for entry in fs::read_dir(&self.folder).map_err(io)? {
            let path = entry.map_err(io)?.path();
            let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
            let index = name.strip_suffix(".h5").and_then(|n| n.parse::<u64>().ok());
            let left_over = name.starts_with('.') && name.ends_with(".tmp");
            if left_over || index.is_some_and(|index| index >= first) {
                fs::remove_file(&path).map_err(io)?;
            }
        }
        Ok(())
    }

    /// Removes everything, the folder too.
    pub(super) fn remove(self) -> Result<(), RecordError> {
        self.remove_from(0)?;
        self.remove_folder()
    }

    /// Removes lock and folder if no part is in there.
    pub(super) fn remove_if_empty(self) -> Result<(), RecordError> {
        if self.present() == 0 { self.remove() } else { Ok(()) }
    }

    fn remove_folder(self) -> Result<(), RecordError> {
        let io = |cause| RecordError::io(&self.folder, "remove it", cause);
        if cfg!(not(unix)) {
            // Windows removes no file that is open.
            drop(self.lock);
        }
        fs::remove_file(self.folder.join("lock")).map_err(io)?;
        fs::remove_dir(&self.folder).map_err(io)?;
        files::sync_folder(&files::folder_of(&self.folder)).map_err(io)
    }
}
