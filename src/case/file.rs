//! A case from a text or a file.

use super::contradictions::contradictions;
use super::document::Document;
use super::problem::{CaseErrors, Code, Problem};
use super::reader::Reader;
use super::{Case, build, document, edit, set};
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
    parse_with(text, file, &[])
}

/// A checked case from the text of a file called `file`, with keys set by `KEY=VALUE` arguments.
///
/// # Errors
/// Everything that is wrong with it, in one go; what is wrong with an argument is drawn in the argument.
pub fn parse_with(text: &str, file: &str, arguments: &[String]) -> Result<Case, CaseErrors> {
    if text.len() as u64 > SIZE_MAX {
        return Err(too_large(file));
    }
    let (mut document, mut syntax) = document::parse(text);
    if arguments.is_empty() {
        return checked(document, syntax, text).map_err(|problems| CaseErrors::new(file, text, problems));
    }
    let given = set::read(arguments, text.len() + 1);
    given.lay_over(&mut document);
    syntax.extend(given.problems.iter().cloned());
    let both = format!("{text}\n{}", given.text);
    let refuse = |problems| CaseErrors::with_arguments(file, &both, problems, text.len() + 1);
    let case = checked(document.clone(), syntax, text).map_err(refuse)?;
    // The text that is kept says the same as file and arguments together.
    let kept = given.written_into(text);
    match parse(&kept, file) {
        Ok(written) if written.run == case.run && edit::same(&written, &case) => Ok(written),
        _ => parse(&set::plain(&document), file),
    }
}

/// The case of a document, or all its problems.
fn checked(document: Document, syntax: Vec<Problem>, text: &str) -> Result<Case, Vec<Problem>> {
    let broken = !syntax.is_empty();
    let mut reader = Reader::new(document);
    let case = if broken { None } else { build::build(&mut reader, text) };
    // With a broken line nobody knows what is missing; with a bad value nobody knows what contradicts it.
    reader.problems.extend(syntax);
    if let Some(case) = &case {
        for (key, found, right) in contradictions(case) {
            reader.report(Code::Contradiction, key, found, right, None);
        }
    }
    match case {
        Some(case) if reader.problems.is_empty() => Ok(case),
        _ => Err(reader.problems),
    }
}

/// A checked case from a file.
///
/// # Errors
/// As [`parse`]; and where the file is missing, a folder, too large, or no text.
pub fn read(path: &Path) -> Result<Case, CaseErrors> {
    read_with(path, &[])
}

/// A checked case from a file, with keys set by `KEY=VALUE` arguments.
///
/// # Errors
/// As [`read`] and [`parse_with`].
pub fn read_with(path: &Path, arguments: &[String]) -> Result<Case, CaseErrors> {
    let file = path.display().to_string();
    if path.is_dir() {
        return Err(CaseErrors::unreadable(&file, "is a folder".into(), "name a case file (TOML)"));
    }
    let source = File::open(path).map_err(|e| refused(&file, &e))?;
    read_from(source, &file, arguments)
}

/// A checked case from anything that can be read, called `file` in messages, with keys set by `KEY=VALUE` arguments.
///
/// # Errors
/// As [`read_with`].
pub fn read_from(source: impl Read, file: &str, arguments: &[String]) -> Result<Case, CaseErrors> {
    parse_with(&text_of(source, file)?, file, arguments)
}

fn refused(file: &str, e: &std::io::Error) -> CaseErrors {
    let found = match e.kind() {
        std::io::ErrorKind::NotFound => "there is no such file".to_owned(),
        _ => format!("cannot be read: {e}"),
    };
    CaseErrors::unreadable(file, found, "`slenderjet example coflow -o coflow.toml` writes a case to start from")
}

fn text_of(source: impl Read, file: &str) -> Result<String, CaseErrors> {
    // One byte more than allowed, so that pipes and devices without a length are bounded too.
    let mut bytes = Vec::new();
    source.take(SIZE_MAX + 1).read_to_end(&mut bytes).map_err(|e| refused(file, &e))?;
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
