//! Case files and quantities as arguments.

use super::Failure;
use crate::case::Case;
use crate::units::{self, Kind};
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// No case file is longer than this; what is longer is something else (a record, a log) and is not read.
const BYTES_MAX: u64 = 1 << 20;

/// Reads and checks a case file.
pub fn load(path: &Path) -> Result<Case, Failure> {
    let _text = text_of(path)?;
    Err(Failure::Unfinished(format!("{}: case files are not connected yet", path.display())))
}

/// The text of a case file.
pub fn text_of(path: &Path) -> Result<String, Failure> {
    let wrong = |what: String| Failure::Input(format!("{}: {what}", path.display()));
    let file = File::open(path).map_err(|e| wrong(format!("cannot be read: {e}")))?;
    let mut bytes = Vec::new();
    let read = file.take(BYTES_MAX + 1).read_to_end(&mut bytes);
    read.map_err(|e| wrong(format!("cannot be read: {e}")))?;
    if bytes.len() as u64 > BYTES_MAX {
        return Err(wrong(format!("longer than {} KiB, which no case file is", BYTES_MAX >> 10)));
    }
    String::from_utf8(bytes).map_err(|e| {
        let at = e.utf8_error().valid_up_to();
        wrong(format!("not a text file in UTF-8 (byte {at}); a case file is TOML, see `slenderjet example`"))
    })
}

/// A time above zero with its unit, s.
pub fn time(text: &str) -> Result<f64, String> {
    let reading = units::read(text, Kind::Time).map_err(|e| e.to_string())?;
    if reading.si > 0.0 { Ok(reading.si) } else { Err("the time must be above zero, for example `50 ms`".into()) }
}
