//! Files that figures and reports are drawn from, and files written at one go.

use super::schema::Answer;
use super::{Failure, Output, calibrate};
use crate::case::Case;
use crate::figures::Source;
use crate::figures::calibrated::Rows;
use crate::figures::growth::Growth;
use crate::figures::map::MapTable;
use crate::outcome::Provenance;
use crate::record;
use std::path::Path;

/// Answers in JSON that are drawn are a few kilobytes; what is longer is something else.
const JSON_MAX: u64 = 8 << 20;

/// Reads a record, a map, growth rates or a calibration; says so where a record has lost its checksum.
pub fn load(path: &Path, how: &Output) -> Result<Source, Failure> {
    if starts_like_json(path) {
        return answer(path);
    }
    let source = record_or_map(path)?;
    if !record::has_checksum(path) {
        how.remark(&format!(
            "{}: its checksum is gone, so another program has changed the file; it looks sound, but nobody can say that its \
             numbers are those of the run",
            path.display()
        ));
    }
    Ok(source)
}

fn record_or_map(path: &Path) -> Result<Source, Failure> {
    let refused = match record::read(path) {
        Ok(run) => return Ok(Source::Run(Box::new(run))),
        Err(error) => error,
    };
    if !matches!(refused, record::RecordError::Foreign { .. }) {
        return Err(refused.into());
    }
    match record::map::read(path) {
        Ok(found) => {
            let map = MapTable::of(&found).map_err(|e| wrong(path, &e.to_string()))?;
            Ok(Source::Map(Box::new(map)))
        }
        Err(error @ record::RecordError::Foreign { .. }) if is_map(&error) => Err(error.into()),
        Err(record::RecordError::Foreign { .. }) => Err(refused.into()),
        Err(error) => Err(error.into()),
    }
}

fn is_map(error: &record::RecordError) -> bool {
    error.to_string().contains("slenderjet-map")
}

fn wrong(path: &Path, what: &str) -> Failure {
    Failure::Input(format!("{}: {what}", path.display()))
}

#[derive(serde::Deserialize)]
struct Schema {
    schema: Option<String>,
}

fn starts_like_json(path: &Path) -> bool {
    use std::io::Read;
    let mut first = [0_u8; 64];
    let read = std::fs::File::open(path).and_then(|mut f| f.read(&mut first)).unwrap_or(0);
    first[..read].iter().find(|b| !b.is_ascii_whitespace()) == Some(&b'{')
}

/// An answer in JSON, told by its key `schema`.
fn answer(path: &Path) -> Result<Source, Failure> {
    let size = std::fs::metadata(path).map_err(|e| wrong(path, &format!("cannot be read: {e}")))?.len();
    if size > JSON_MAX {
        return Err(wrong(
            path,
            "too long for the output of `slenderjet growth --json` or `slenderjet calibrate --json`",
        ));
    }
    let text = std::fs::read_to_string(path).map_err(|e| wrong(path, &format!("cannot be read: {e}")))?;
    let schema: Option<Schema> = serde_json::from_str(&text).ok();
    let calibrated = schema.and_then(|s| s.schema).is_some_and(|name| name == calibrate::Told::SCHEMA);
    let found = match calibrated {
        true => Rows::from_json(&text).map(|rows| Source::Calibrated(Box::new(rows))),
        false => Growth::from_json(&text).map(|growth| Source::Growth(Box::new(growth))),
    };
    found.map_err(|e| wrong(path, &e.to_string()))
}

/// Problems of a table, each with its place.
pub fn problems(path: &Path, problems: &[crate::study::csv::Problem]) -> Failure {
    let line = |p: &crate::study::csv::Problem| match p.line {
        0 => format!("{}: {}", path.display(), p.text),
        line => format!("{}:{line}: {}", path.display(), p.text),
    };
    Failure::Input(problems.iter().map(line).collect::<Vec<_>>().join("\n"))
}

/// Where an answer of this process comes from.
pub fn provenance(case: &Case, started: String) -> Provenance {
    Provenance {
        case_sha256: record::sha256_hex(case.text.as_bytes()),
        version: env!("CARGO_PKG_VERSION").into(),
        command: command_line(),
        started,
        host_threads: std::thread::available_parallelism().map_or(1, usize::from),
        platform: record::build::PLATFORM.into(),
        compiler: record::build::COMPILER.into(),
        commit: record::build::COMMIT.into(),
    }
}

/// The command as one could type it again, for metadata.
pub fn command_line() -> String {
    std::env::args_os().map(|a| quoted(&a.to_string_lossy())).collect::<Vec<_>>().join(" ")
}

/// An argument as one could type it in a shell.
fn quoted(argument: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_./=+:,@%".contains(c);
    if !argument.is_empty() && argument.chars().all(plain) {
        return argument.to_owned();
    }
    format!("'{}'", argument.replace('\'', r"'\''"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_command_can_be_typed_again() {
        assert_eq!(quoted("run.h5"), "run.h5");
        assert_eq!(quoted("50 ms"), "'50 ms'");
        assert_eq!(quoted("it's"), r"'it'\''s'");
        assert_eq!(quoted(""), "''");
    }
}
