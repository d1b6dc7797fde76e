//! What differs between two equal runs, and nothing else: when, by whom, how long.
//!
//! Fixed widths, so that two equal runs give files of equal length that differ in here alone (and in the seal).

use super::RecordError;
use super::netcdf::number;
use super::read::Opened;
use crate::outcome::Provenance;
use hdf5::Group;
use hdf5::types::FixedUnicode;
use std::str::FromStr;

/// Seconds that the full equations took, in a confirmed run.
pub(super) const CONFIRM_WALL_S: &str = "confirm_wall_s";
/// Longest command kept, bytes.
const COMMAND: usize = 1024;

fn fixed<const N: usize>(group: &Group, name: &str, value: &str) -> hdf5::Result<()> {
    let clean = value.replace('\0', "\u{FFFD}");
    let text = if clean.len() <= N { clean } else { shortened(&clean, N) };
    let text = FixedUnicode::<N>::from_str(&text).map_err(|e| hdf5::Error::from(e.to_string()))?;
    number(group, name, text)
}

fn shortened(text: &str, len: usize) -> String {
    let end = (0..=len - 3).rev().find(|&at| text.is_char_boundary(at)).unwrap_or(0);
    format!("{}...", &text[..end])
}

pub(super) fn write(group: &Group, from: &Provenance, wall_s: f64) -> hdf5::Result<()> {
    fixed::<64>(group, "case_sha256", &from.case_sha256)?;
    fixed::<32>(group, "version", &from.version)?;
    fixed::<COMMAND>(group, "command", &from.command)?;
    fixed::<32>(group, "started", &from.started)?;
    number(group, "host_threads", from.host_threads as u64)?;
    fixed::<64>(group, "platform", &from.platform)?;
    fixed::<64>(group, "compiler", &from.compiler)?;
    fixed::<32>(group, "commit", &from.commit)?;
    number(group, "wall_s", wall_s)
}

/// The provenance and the wall-clock seconds.
pub(super) fn read(from: &Opened) -> Result<(Provenance, f64), RecordError> {
    let provenance = Provenance {
        case_sha256: from.text_attribute("case_sha256")?,
        version: from.text_attribute("version")?,
        command: from.text_attribute("command")?,
        started: from.text_attribute("started")?,
        host_threads: from.attribute::<u64>("host_threads")? as usize,
        platform: from.text_attribute("platform").unwrap_or_default(),
        compiler: from.text_attribute("compiler").unwrap_or_default(),
        commit: from.text_attribute("commit").unwrap_or_default(),
    };
    Ok((provenance, from.attribute("wall_s")?))
}
