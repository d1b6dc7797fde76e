//! Measured points to lay over a figure: CSV with two columns of numbers, units in the header.

use super::Failure;
use crate::units::{self, Kind};
use std::io::Read;
use std::path::Path;

/// Points are a few kilobytes; what is longer is something else.
const BYTES_MAX: u64 = 8 << 20;

/// Quantities that an axis may have.
const KINDS: [Kind; 9] = [
    Kind::Length,
    Kind::Time,
    Kind::Frequency,
    Kind::Flow,
    Kind::Velocity,
    Kind::Density,
    Kind::Viscosity,
    Kind::Tension,
    Kind::Number,
];

/// Points as typed, and how many SI units one of each column is.
#[derive(Debug, Clone, PartialEq)]
pub struct Points {
    pub rows: Vec<(f64, f64)>,
    pub si: (f64, f64),
}

impl Default for Points {
    fn default() -> Self {
        Points { rows: Vec::new(), si: (1.0, 1.0) }
    }
}

/// Reads points; columns beyond the second are left alone.
pub fn read(path: &Path) -> Result<Points, Failure> {
    let wrong = |what: String| Failure::Input(format!("{}: {what}", path.display()));
    let mut bytes = Vec::new();
    let file = std::fs::File::open(path).map_err(|e| wrong(format!("cannot be read: {e}")))?;
    file.take(BYTES_MAX + 1).read_to_end(&mut bytes).map_err(|e| wrong(format!("cannot be read: {e}")))?;
    if bytes.len() as u64 > BYTES_MAX {
        return Err(wrong("too long for a table of measured points".into()));
    }
    let text = String::from_utf8(bytes).map_err(|_| wrong("not a text file in UTF-8".into()))?;
    parse(&text).map_err(wrong)
}

fn parse(text: &str) -> Result<Points, String> {
    let mut points = Points::default();
    let mut lines = text.lines().enumerate().filter(|(_, l)| !l.trim().is_empty() && !l.starts_with('#')).peekable();
    if let Some((at, header)) = lines.peek().copied().filter(|(_, l)| pair(l).is_none()) {
        let mut cells = header.split([',', ';', '\t']).map(str::trim);
        let mut unit = || cells.next().map_or(Ok(1.0), unit_of).map_err(|e| format!("line {}: {e}", at + 1));
        points.si = (unit()?, unit()?);
        lines.next();
    }
    for (at, line) in lines {
        let row =
            pair(line).ok_or_else(|| format!("line {}: two numbers expected, found `{}`", at + 1, short(line)))?;
        points.rows.push(row);
    }
    if points.rows.is_empty() { Err("no points in it".into()) } else { Ok(points) }
}

fn short(line: &str) -> String {
    line.chars().filter(|c| !c.is_control()).take(40).collect()
}

fn pair(line: &str) -> Option<(f64, f64)> {
    let mut cells = line.split([',', ';', '\t']).map(|c| c.trim().parse::<f64>().ok().filter(|v| v.is_finite()));
    Some((cells.next()??, cells.next()??))
}

/// The SI size of the unit in `flow [uL/h]` or `flow (uL/h)`; one for a name without a unit.
fn unit_of(cell: &str) -> Result<f64, String> {
    let inside =
        |open, close| cell.split_once(open).and_then(|(_, rest)| rest.split_once(close)).map(|(u, _)| u.trim());
    let Some(unit) = inside('[', ']').or_else(|| inside('(', ')')) else { return Ok(1.0) };
    let any = KINDS.iter().find_map(|kind| units::unit(unit, *kind).ok());
    any.map(|u| u.difference(1.0)).ok_or_else(|| format!("`{unit}` is no unit known here"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_come_from_the_header() {
        let points = parse("inner [uL/h],outer [mL/h],note\n100,2,a\n200,4,b\n").unwrap();
        assert_eq!(points.rows, [(100.0, 2.0), (200.0, 4.0)]);
        assert!((points.si.0 / (1e-9 / 3600.0) - 1.0).abs() < 1e-12);
        assert_eq!(parse("0.5,0.3\n0.7;0.34\n").unwrap().si, (1.0, 1.0));
    }

    #[test]
    fn what_is_no_point_is_named_with_its_line() {
        assert!(parse("x,y\n1,2\n1,oops\n").unwrap_err().starts_with("line 3"));
        assert!(parse("x [furlong],y\n1,2\n").unwrap_err().contains("furlong"));
        assert!(parse("").is_err() && parse("1,NaN\n").is_err());
    }
}
