//! Reading with distrust: shapes before data, counts against lengths, finite numbers, a known layout.

use super::full::{self, Full};
use super::native::{attribute_text, dataset_texts};
use super::seal::{self, Seal};
use super::{RecordError, Recorded, frames, provenance};
use crate::outcome::{NeckSample, PinchOff, SCHEMA};
use crate::simulate::Checkpoint;
use hdf5::types::TypeDescriptor;
use hdf5::{Dataset, Group, H5Type};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Deflate cannot shrink by more than 1032 to 1 (RFC 1951's longest match, 258 bytes in 2 bits): a dataset that claims
/// more than this many bytes for each byte of the file is a lie.
const DEFLATE_RATIO: u64 = 1_032;
/// No list of ours is longer than this, whatever the file says (16 GiB of doubles).
const VALUES_MAX: u64 = 1 << 31;

/// Time that a file without a seal may take at least, and bytes a second that any disk gives.
const PATIENCE: Duration = Duration::from_secs(10);
const BYTES_A_SECOND: u64 = 4 << 20;

/// Reads a file, and gives up on one without a seal if the HDF5 library does not come to an end with it.
///
/// With some flipped bits (a heap object of size zero, HDF5 2.2.0) the library goes round in a circle for ever. A seal
/// rules that out; for a file without one the reading is done by a helper that we stop waiting for.
pub(super) fn guarded<T: Send + 'static>(
    path: &Path,
    work: impl FnOnce(&Path) -> Result<T, RecordError> + Send + 'static,
) -> Result<T, RecordError> {
    if seal::is_present(path) {
        return work(path);
    }
    let len = std::fs::metadata(path).map_err(|e| RecordError::io(path, "read it", e))?.len();
    let patience = PATIENCE + Duration::from_secs(len / BYTES_A_SECOND);
    let (sender, receiver) = std::sync::mpsc::channel();
    let owned = path.to_owned();
    std::thread::spawn(move || sender.send(work(&owned)));
    receiver.recv_timeout(patience).unwrap_or_else(|_| {
        Err(RecordError::damaged(path, "its checksum is missing and the HDF5 library comes to no end with it"))
    })
}

/// What a dataset holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Real,
    Whole,
    Text,
}

/// A group of a file that passed the first checks.
pub(super) struct Opened {
    path: PathBuf,
    group: Group,
    values_max: u64,
}

impl Opened {
    /// Opens a sealed or at least sound HDF5 file.
    pub(super) fn file(path: &Path) -> Result<(Opened, Seal), RecordError> {
        let seal = seal::check(path)?;
        let len = std::fs::metadata(path).map_err(|e| RecordError::io(path, "read it", e))?.len();
        let file = hdf5::File::with_options()
            .with_fapl(|access| access.file_locking(false))
            .open(path)
            .map_err(|e| RecordError::damaged(path, format!("HDF5 cannot open it: {e}")))?;
        let group = file.as_group().map_err(|e| RecordError::damaged(path, e.to_string()))?;
        super::self_contained::check(&group).map_err(|why| RecordError::damaged(path, why))?;
        let values_max = VALUES_MAX.min(len.saturating_mul(DEFLATE_RATIO));
        Ok((Opened { path: path.into(), group, values_max }, seal))
    }

    pub(super) fn group(&self, name: &str) -> Result<Opened, RecordError> {
        let group = self.group.group(name).map_err(|_| self.missing("group", name))?;
        Ok(Opened { path: self.path.clone(), group, values_max: self.values_max })
    }

    pub(super) fn has(&self, name: &str) -> bool {
        self.group.link_exists(name)
    }

    pub(super) fn damaged(&self, reason: impl Into<String>) -> RecordError {
        RecordError::damaged(&self.path, reason)
    }

    fn missing(&self, what: &str, name: &str) -> RecordError {
        self.damaged(format!("the {what} `{}` is missing or of another kind", self.inside(name)))
    }

    fn inside(&self, name: &str) -> String {
        format!("{}/{name}", self.group.name().trim_end_matches('/'))
    }

    pub(super) fn attribute<T: H5Type>(&self, name: &str) -> Result<T, RecordError> {
        let read = self.group.attr(name).and_then(|a| a.read_scalar());
        read.map_err(|_| self.missing("attribute", name))
    }

    pub(super) fn text_attribute(&self, name: &str) -> Result<String, RecordError> {
        let text = attribute_text(&self.group, name).ok_or_else(|| self.missing("attribute", name))?;
        self.utf8(name, &text)
    }

    fn utf8(&self, name: &str, bytes: &[u8]) -> Result<String, RecordError> {
        let text = std::str::from_utf8(bytes).map_err(|_| self.damaged(format!("`{name}` is not UTF-8 text")))?;
        Ok(text.to_owned())
    }

    fn dataset(&self, name: &str, axes: usize) -> Result<Dataset, RecordError> {
        let data = self.group.dataset(name).map_err(|_| self.missing("dataset", name))?;
        if data.ndim() != axes {
            return Err(self.damaged(format!("`{}` has {} axes, not {axes}", self.inside(name), data.ndim())));
        }
        let values = data.shape().iter().try_fold(1_u64, |n, &len| n.checked_mul(len as u64));
        match values {
            Some(n) if n <= self.values_max => Ok(data),
            _ => Err(self.damaged(format!("`{}` claims more values than the file can hold", self.inside(name)))),
        }
    }

    fn list<T: H5Type>(&self, name: &str) -> Result<Vec<T>, RecordError> {
        let data = self.dataset(name, 1)?;
        data.read_raw().map_err(|e| self.damaged(format!("`{}` cannot be read: {e}", self.inside(name))))
    }

    pub(super) fn reals(&self, name: &str) -> Result<Vec<f64>, RecordError> {
        self.list(name)
    }

    pub(super) fn whole_numbers(&self, name: &str) -> Result<Vec<i64>, RecordError> {
        self.list(name)
    }

    pub(super) fn flags_u64(&self, name: &str) -> Result<Vec<u64>, RecordError> {
        self.list(name)
    }

    /// Numbers of things: none below zero.
    pub(super) fn counts(&self, name: &str) -> Result<Vec<usize>, RecordError> {
        let values = self.whole_numbers(name)?;
        let counts: Result<Vec<usize>, _> = values.into_iter().map(usize::try_from).collect();
        counts.map_err(|_| self.damaged(format!("`{}` counts below zero", self.inside(name))))
    }

    pub(super) fn texts(&self, name: &str) -> Result<Vec<String>, RecordError> {
        let words = dataset_texts(&self.dataset(name, 1)?).ok_or_else(|| self.missing("text", name))?;
        words.iter().map(|word| self.utf8(name, word)).collect()
    }

    pub(super) fn document(&self, name: &str) -> Result<String, RecordError> {
        let data = self.dataset(name, 0)?;
        let text = dataset_texts(&data).and_then(|mut list| list.pop()).ok_or_else(|| self.missing("text", name))?;
        self.utf8(name, &text)
    }

    pub(super) fn dataset_attribute(&self, dataset: &str, name: &str) -> Result<String, RecordError> {
        let data = self.group.dataset(dataset).map_err(|_| self.missing("dataset", dataset))?;
        let text = attribute_text(&data, name).ok_or_else(|| self.missing("attribute", name))?;
        self.utf8(name, &text)
    }

    /// What a dataset holds.
    pub(super) fn kind(&self, name: &str) -> Result<Kind, RecordError> {
        let data = self.group.dataset(name).map_err(|_| self.missing("dataset", name))?;
        let found = data.dtype().and_then(|t| t.to_descriptor());
        match found {
            Ok(TypeDescriptor::Float(_)) => Ok(Kind::Real),
            Ok(TypeDescriptor::Integer(_) | TypeDescriptor::Unsigned(_)) => Ok(Kind::Whole),
            Ok(TypeDescriptor::FixedUnicode(_) | TypeDescriptor::FixedAscii(_)) => Ok(Kind::Text),
            _ => Err(self.damaged(format!("`{}` holds neither numbers nor texts", self.inside(name)))),
        }
    }

    /// Name and value of every attribute, in the order of names.
    pub(super) fn each_attribute<T>(
        &self,
        value: impl Fn(&str) -> Result<T, RecordError>,
    ) -> Result<Vec<(String, T)>, RecordError> {
        let names = self.group.attr_names().map_err(|e| self.damaged(e.to_string()))?;
        names.into_iter().map(|name| Ok((name.clone(), value(&name)?))).collect()
    }

    /// Name and value of every dataset, in the order of names.
    pub(super) fn each_member<T>(
        &self,
        value: impl Fn(&str) -> Result<T, RecordError>,
    ) -> Result<Vec<(String, T)>, RecordError> {
        let names = self.group.member_names().map_err(|e| self.damaged(e.to_string()))?;
        names.into_iter().map(|name| Ok((name.clone(), value(&name)?))).collect()
    }

    pub(super) fn same_length(&self, lists: &[(&str, usize)]) -> Result<(), RecordError> {
        match lists.windows(2).find(|pair| pair[0].1 != pair[1].1) {
            None => Ok(()),
            Some(pair) => {
                Err(self
                    .damaged(format!("`{}` has {} values but `{}` has {}", pair[0].0, pair[0].1, pair[1].0, pair[1].1)))
            }
        }
    }

    pub(super) fn adds_up(&self, name: &str, counts: &[usize], total: usize) -> Result<(), RecordError> {
        match counts.iter().try_fold(0_usize, |sum, &n| sum.checked_add(n)) {
            Some(sum) if sum == total => Ok(()),
            _ => Err(self.damaged(format!("the counts in `{name}` do not add up to the {total} values there are"))),
        }
    }

    pub(super) fn all_finite(&self, lists: &[(&str, &[f64])]) -> Result<(), RecordError> {
        match lists.iter().find(|(_, values)| values.iter().any(|v| !v.is_finite())) {
            None => Ok(()),
            Some((name, _)) => Err(self.damaged(format!("`{}` holds values that are not numbers", self.inside(name)))),
        }
    }

    pub(super) fn never_falls(&self, name: &str, values: &[f64]) -> Result<(), RecordError> {
        if values.windows(2).all(|pair| pair[0] <= pair[1]) {
            Ok(())
        } else {
            Err(self.damaged(format!("`{}` runs backwards", self.inside(name))))
        }
    }

    /// Ours, and of a layout this program knows.
    pub(super) fn expect_schema(&self, known: &'static str) -> Result<(), RecordError> {
        let foreign = |reason: String| RecordError::foreign(&self.path, reason);
        let found = self
            .text_attribute("schema")
            .map_err(|_| foreign("it is an HDF5 file without our `schema` attribute".into()))?;
        if found == known {
            return Ok(());
        }
        let family = known.trim_end_matches(|c: char| c.is_ascii_digit());
        match found.strip_prefix(family).map(str::parse::<u32>) {
            Some(Ok(_)) => Err(RecordError::Future { path: self.path.clone(), found, known }),
            _ => Err(foreign(format!("its schema is `{}`, not `{known}`", found.chars().take(40).collect::<String>()))),
        }
    }
}

/// Reads a record whole.
///
/// # Errors
/// Where the file is missing, not ours, damaged (checksum, shapes, counts, non-finite numbers) or of a later layout.
pub fn read(path: &Path) -> Result<Recorded, RecordError> {
    guarded(path, read_whole)
}

fn read_whole(path: &Path) -> Result<Recorded, RecordError> {
    let (file, _) = Opened::file(path)?;
    file.expect_schema(SCHEMA)?;
    let as_typed = file.group("case")?;
    let case_text = as_typed.document("text")?;
    Ok(Recorded {
        case: crate::case::Case { text: case_text.clone(), ..json(&as_typed)? },
        case_text,
        summary: summary(&file)?,
        frames: frames::read(&file)?,
        pinch_offs: pinch_offs(&file.group("pinch_off")?)?,
        necks: necks(&file.group("neck")?)?,
        counts: json(&file.group("solver")?)?,
        full: full(&file)?,
    })
}

/// What the full equations said of a run, where it was confirmed.
fn full(file: &Opened) -> Result<Option<Full>, RecordError> {
    if !file.has("confirmed") {
        return Ok(None);
    }
    let wall_s = file.group("provenance")?.attribute(provenance::CONFIRM_WALL_S)?;
    full::own(&file.group("confirmed")?, wall_s).map(Some)
}

/// Only the summary of a record: quick even where there are many snapshots.
///
/// # Errors
/// As [`read`].
pub fn read_summary(path: &Path) -> Result<crate::outcome::Summary, RecordError> {
    guarded(path, |path| {
        let (file, _) = Opened::file(path)?;
        file.expect_schema(SCHEMA)?;
        summary(&file)
    })
}

/// The checked case of a record.
pub(super) fn case(file: &Opened) -> Result<crate::case::Case, RecordError> {
    json(&file.group("case")?)
}

fn json<T: serde::de::DeserializeOwned>(group: &Opened) -> Result<T, RecordError> {
    serde_json::from_str(&group.document("json")?).map_err(|e| group.damaged(format!("`json` cannot be parsed: {e}")))
}

pub(super) fn summary(file: &Opened) -> Result<crate::outcome::Summary, RecordError> {
    let group = file.group("summary")?;
    let mut value: Value = json(&group)?;
    let (provenance, wall_s) = provenance::read(&file.group("provenance")?)?;
    let object = value.as_object_mut().ok_or_else(|| group.damaged("`json` is not an object"))?;
    let cost = object.get_mut("cost").and_then(Value::as_object_mut);
    cost.ok_or_else(|| group.damaged("`json` has no `cost`"))?.insert("wall_s".into(), wall_s.into());
    let provenance = serde_json::to_value(provenance).map_err(|e| group.damaged(e.to_string()))?;
    object.insert("provenance".into(), provenance);
    serde_json::from_value(value).map_err(|e| group.damaged(format!("`json` is not a summary: {e}")))
}

fn pinch_offs(group: &Opened) -> Result<Vec<PinchOff>, RecordError> {
    let [time, position, length, volume] = columns(group, ["pinch_time", "position", "length", "volume"])?;
    let row = |i: usize| PinchOff { time: time[i], position: position[i], length: length[i], volume: volume[i] };
    Ok((0..time.len()).map(row).collect())
}

fn necks(group: &Opened) -> Result<Vec<NeckSample>, RecordError> {
    let [time, position, radius, length] = columns(group, ["sample_time", "position", "radius", "length"])?;
    let pinch = group.whole_numbers("pinch_index")?;
    group.same_length(&[("sample_time", time.len()), ("pinch_index", pinch.len())])?;
    let row = |i: usize| NeckSample {
        time: time[i],
        position: position[i],
        radius: radius[i],
        length: length[i],
        pinch: usize::try_from(pinch[i]).ok(),
    };
    Ok((0..time.len()).map(row).collect())
}

fn columns<const N: usize>(group: &Opened, names: [&str; N]) -> Result<[Vec<f64>; N], RecordError> {
    let mut columns: [Vec<f64>; N] = std::array::from_fn(|_| Vec::new());
    for (column, name) in columns.iter_mut().zip(names) {
        *column = group.reals(name)?;
    }
    for (column, name) in columns.iter().zip(names) {
        group.same_length(&[(names[0], columns[0].len()), (name, column.len())])?;
        group.all_finite(&[(name, column)])?;
    }
    Ok(columns)
}

/// The state that a part or an interrupted record keeps, and the number of snapshots before it.
pub(super) fn checkpoint(group: &Opened) -> Result<(Checkpoint, u64), RecordError> {
    let state = Checkpoint { reals: group.reals("reals")?, counts: group.flags_u64("counts")? };
    Ok((state, group.attribute("frames")?))
}
