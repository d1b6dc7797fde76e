//! A case from a text or a file.

use super::contradictions::contradictions;
use super::problem::CaseErrors;
use super::reader::Reader;
use super::{Case, build, document};
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// Largest case file, bytes: a thousand times the usual one.
pub const SIZE_MAX: u64 = 1 << 20;

/// A checked case from the text of a file called `file`.
///
/// # Errors
/// Everything that is wrong with it, in one go.
pub fn parse(text: &str, file: &str) -> Result<Case, CaseErrors> {
    if text.len() as u64 > SIZE_MAX {
        return Err(too_large(file));
    }
    let (document, syntax) = document::parse(text);
    let broken = !syntax.is_empty();
    let mut reader = Reader::new(document);
    let case = if broken { None } else { build::build(&mut reader, text) };
    // With a broken line nobody knows what is missing; with a bad value nobody knows what contradicts it.
    reader.problems.extend(syntax);
    if let Some(case) = &case {
        for (key, found, right) in contradictions(case) {
            reader.report("contradiction", key, found, right, None);
        }
    }
    match case {
        Some(case) if reader.problems.is_empty() => Ok(case),
        _ => Err(CaseErrors::new(file, text, reader.problems)),
    }
}

/// A checked case from a file.
///
/// # Errors
/// As [`parse`]; and where the file is missing, a folder, too large, or no text.
pub fn read(path: &Path) -> Result<Case, CaseErrors> {
    let file = path.display().to_string();
    let text = text_of(path, &file)?;
    parse(&text, &file)
}

fn text_of(path: &Path, file: &str) -> Result<String, CaseErrors> {
    let refuse = |e: &std::io::Error| {
        let found = match e.kind() {
            std::io::ErrorKind::NotFound => "there is no such file".to_owned(),
            _ => format!("cannot be read: {e}"),
        };
        CaseErrors::unreadable(file, found, "`slenderjet example coflow -o coflow.toml` writes a case to start from")
    };
    if path.is_dir() {
        return Err(CaseErrors::unreadable(file, "is a folder".into(), "name a case file (TOML)"));
    }
    // One byte more than allowed, so that pipes and devices without a length are bounded too.
    let mut bytes = Vec::new();
    let mut source = File::open(path).map_err(|e| refuse(&e))?.take(SIZE_MAX + 1);
    source.read_to_end(&mut bytes).map_err(|e| refuse(&e))?;
    if bytes.len() as u64 > SIZE_MAX {
        return Err(too_large(file));
    }
    String::from_utf8(bytes).map_err(|e| {
        let at = e.utf8_error().valid_up_to();
        let line = e.as_bytes()[..at].iter().filter(|b| **b == b'\n').count() + 1;
        let found = format!("is not UTF-8 text (line {line}, byte {at})");
        let right = if e.as_bytes().starts_with(b"\x89HDF") {
            "this is a record (HDF5); name the case file (TOML)"
        } else {
            "save it as UTF-8; the micro sign may be written as `u`"
        };
        CaseErrors::unreadable(file, found, right)
    })
}

fn too_large(file: &str) -> CaseErrors {
    CaseErrors::unreadable(file, "is larger than 1 MB".into(), "a case file is a page of text (TOML)")
}
