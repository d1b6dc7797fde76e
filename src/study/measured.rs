//! A table whose header names what stands below: `KEY [unit]`, columns in any order.
//!
//! ```text
//! inner.flow [uL/h], outer.flow [mL/h], diameter [um], diameter_sd [um], rate [1/s], mode
//! ```
//! Names are keys of a case and a few of measured drops. An unknown name, a missing unit, one of the wrong dimension: an error that
//! names the column. Nothing is guessed. An empty cell is a missing value.

use super::csv::{Problem, Row, Rows, TableErrors};
use crate::case::keys::{self, Takes};
use crate::units::{self, Kind, Unit, quoted};
use std::io::Read;

/// What a column holds.
#[derive(Debug, Clone, PartialEq)]
pub enum Values {
    /// SI.
    Reals(Vec<Option<f64>>),
    Texts(Vec<String>),
}

/// A column by its name.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// A key of a case, or one of the names that were allowed beside.
    pub name: String,
    /// SI unit; empty for texts.
    pub unit: &'static str,
    pub values: Values,
}

/// A table as read.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    pub columns: Vec<Column>,
    /// Line of each row in the file, from 1.
    pub lines: Vec<u64>,
}

/// A name that a table may have beside the keys of a case; `None` for a text.
pub type Beside = (&'static str, Option<Kind>);

/// What is measured of drops.
pub const DROPS: &[Beside] = &[
    ("diameter", Some(Kind::Length)),
    ("diameter_sd", Some(Kind::Length)),
    ("rate", Some(Kind::Frequency)),
    ("rate_sd", Some(Kind::Frequency)),
    ("mode", None),
    ("note", None),
];

/// Rows of a table at most: what a laboratory measures in a year, and more.
const ROWS_MAX: usize = 100_000;
const PROBLEMS_MAX: usize = 20;

impl Measured {
    /// Values of a column of numbers.
    pub fn reals(&self, name: &str) -> Option<&[Option<f64>]> {
        self.columns.iter().find(|c| c.name == name).and_then(|c| match &c.values {
            Values::Reals(values) => Some(values.as_slice()),
            Values::Texts(_) => None,
        })
    }

    /// Values of a column of texts.
    pub fn texts(&self, name: &str) -> Option<&[String]> {
        self.columns.iter().find(|c| c.name == name).and_then(|c| match &c.values {
            Values::Texts(values) => Some(values.as_slice()),
            Values::Reals(_) => None,
        })
    }

    /// Names of the columns that are keys of a case.
    pub fn keys(&self) -> Vec<&str> {
        self.columns.iter().map(|c| c.name.as_str()).filter(|name| keys::find(name).is_some()).collect()
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.lines.len()
    }
}

/// A column before its values.
struct Head {
    name: String,
    header: String,
    /// `None` for texts.
    unit: Option<(Unit, &'static str)>,
    above_zero: bool,
}

/// Reads a table; `beside` are the names that it may have beside the keys of a case.
///
/// # Errors
/// All that is wrong with it.
pub fn read(input: impl Read, beside: &[Beside]) -> Result<Measured, TableErrors> {
    let mut rows = Rows::open(input)?;
    let Some(header) = rows.next()? else {
        return Err(TableErrors::new(
            0,
            "the file is empty; its first row must name the columns, for example `inner.flow [uL/h]`",
        ));
    };
    let heads = heads(&header, beside)?;
    let new = |head: &Head| Column {
        name: head.name.clone(),
        unit: head.unit.map_or("", |(_, si)| si),
        values: if head.unit.is_some() { Values::Reals(Vec::new()) } else { Values::Texts(Vec::new()) },
    };
    let mut found = Measured { columns: heads.iter().map(new).collect(), lines: Vec::new() };
    let mut problems = Vec::new();
    while let Some(row) = rows.next()? {
        if row.fields.len() == 1 && heads.len() > 1 && row.fields[0].trim().is_empty() {
            continue;
        }
        problems.extend(take(&mut found, &heads, &row, rows.decimal_comma));
        if found.rows() > ROWS_MAX {
            problems.push(Problem::new(row.line, format!("more than {ROWS_MAX} rows")));
        }
        if problems.len() >= PROBLEMS_MAX {
            break;
        }
    }
    if problems.is_empty() && found.rows() == 0 {
        problems.push(Problem::new(0, "there is a header but no row below it"));
    }
    if problems.is_empty() { Ok(found) } else { Err(problems.into()) }
}

fn heads(header: &Row, beside: &[Beside]) -> Result<Vec<Head>, TableErrors> {
    let (mut heads, mut problems): (Vec<Head>, Vec<Problem>) = (Vec::new(), Vec::new());
    for cell in &header.fields {
        match head(cell.trim(), beside) {
            Ok(head) if heads.iter().any(|h| h.name == head.name) => {
                problems.push(Problem::new(header.line, format!("column `{}` is there twice", quoted(&head.name))));
            }
            Ok(head) => heads.push(head),
            Err(text) => problems.push(Problem::new(header.line, format!("column `{}`: {text}", quoted(cell.trim())))),
        }
    }
    if problems.is_empty() { Ok(heads) } else { Err(problems.into()) }
}

/// `KEY [unit]`, `KEY (unit)` or `KEY`.
fn head(cell: &str, beside: &[Beside]) -> Result<Head, String> {
    let inside = |open: char, close: char| {
        let (name, rest) = cell.split_once(open)?;
        Some((name.trim(), rest.trim_end().strip_suffix(close)?.trim()))
    };
    let (name, unit) = inside('[', ']').or_else(|| inside('(', ')')).unwrap_or((cell, ""));
    let other = beside.iter().find(|(own, _)| *own == name).map(|(_, kind)| *kind);
    let kind = match (other, keys::find(name).map(|key| key.takes)) {
        (Some(kind), _) => kind,
        (None, Some(Takes::Quantity(kind, ..))) => Some(kind),
        (None, Some(Takes::Whole(..))) => Some(Kind::Number),
        (None, Some(_)) => None,
        (None, None) => return Err(unknown(name, beside)),
    };
    let made = |unit| Head { name: name.to_owned(), header: cell.to_owned(), unit, above_zero: other.is_some() };
    match (kind, unit) {
        (None, "") => Ok(made(None)),
        (None, _) => Err("holds words and has no unit".into()),
        (Some(Kind::Number), "") => Ok(made(Some((Unit::ONE, "1")))),
        (Some(kind), "") => Err(format!(
            "does not say its unit: {} is needed, for example `{name} [{}]`",
            kind.name(),
            kind.usual_units()[0]
        )),
        (Some(kind), unit) => {
            let read = units::unit(unit, kind).map_err(|e| e.to_string())?;
            Ok(made(Some((read, kind.si_unit()))))
        }
    }
}

fn unknown(name: &str, beside: &[Beside]) -> String {
    let near = keys::nearest(name, None).map(str::to_owned).or_else(|| {
        let same = |(own, _): &&Beside| own.eq_ignore_ascii_case(name) || name.to_lowercase().starts_with(own);
        beside.iter().find(same).map(|(own, _)| (*own).to_owned())
    });
    let hint = near.map_or(String::new(), |near| format!("; did you mean `{near}`?"));
    let names: Vec<&str> = beside.iter().map(|(name, _)| *name).collect();
    let also = if names.is_empty() { String::new() } else { format!(", {}", names.join(", ")) };
    format!("is not a name known here{hint} (keys of a case file, as inner.flow{also})")
}

/// Takes a row into the columns, or says what is wrong with it.
fn take(into: &mut Measured, heads: &[Head], row: &Row, decimal_comma: bool) -> Vec<Problem> {
    if row.fields.len() != heads.len() {
        let text = format!("{} fields where the header has {}", row.fields.len(), heads.len());
        return vec![Problem::new(row.line, text)];
    }
    let mut problems = Vec::new();
    for ((column, head), field) in into.columns.iter_mut().zip(heads).zip(&row.fields) {
        let typed = field.trim();
        match (&mut column.values, head.unit) {
            (Values::Texts(texts), _) => texts.push(typed.to_owned()),
            (Values::Reals(reals), _) if typed.is_empty() => reals.push(None),
            (Values::Reals(reals), unit) => {
                let text = if decimal_comma { typed.replace(',', ".") } else { typed.to_owned() };
                let number = text.parse::<f64>().ok().filter(|v| v.is_finite() && (*v > 0.0 || !head.above_zero));
                match number {
                    Some(value) => reals.push(Some(unit.map_or(value, |(unit, _)| unit.si(value)))),
                    None => {
                        let what = if head.above_zero { "number above zero" } else { "number" };
                        let text = format!("`{}` in column `{}` is no {what}", quoted(typed), quoted(&head.header));
                        problems.push(Problem::new(row.line, text));
                        reals.push(None);
                    }
                }
            }
        }
    }
    into.lines.push(row.line);
    problems
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(text: &str) -> Measured {
        read(text.as_bytes(), DROPS).unwrap_or_else(|p| panic!("{p:?}"))
    }

    fn wrong(text: &str) -> String {
        let errors = read(text.as_bytes(), DROPS).expect_err("wrong");
        errors.problems.iter().map(|p| format!("{}: {}\n", p.line, p.text)).collect()
    }

    #[test]
    fn columns_go_by_their_names_in_any_order() {
        let a = table("inner.flow [uL/h],outer.flow [mL/h],diameter [um],mode\n100,2,60,dripping\n200,4,,jetting\n");
        let b = table(
            "mode;diameter (mm);outer.flow [uL/h];inner.flow [mL/h]\ndripping;0,06;2000;0,1\njetting;;4000;0,2\n",
        );
        for name in ["inner.flow", "outer.flow", "diameter"] {
            for (x, y) in a.reals(name).expect("there").iter().zip(b.reals(name).expect("there")) {
                match (x, y) {
                    (Some(x), Some(y)) => assert!((x / y - 1.0).abs() < 1e-12, "{name}"),
                    other => assert_eq!(other, (&None, &None)),
                }
            }
        }
        // 100 uL/h = 100e-9 m3 / 3600 s
        assert!((a.reals("inner.flow").expect("there")[0].expect("a number") / (1e-7 / 3600.0) - 1.0).abs() < 1e-12);
        assert_eq!(a.texts("mode").expect("there"), ["dripping", "jetting"]);
        assert_eq!(a.keys(), ["inner.flow", "outer.flow"]);
    }

    #[test]
    fn what_is_wrong_names_its_column() {
        assert!(wrong("inner.flow,outer.flow [mL/h]\n1,2\n").contains("`inner.flow`: does not say its unit"));
        assert!(wrong("inner.flow [mPa.s]\n1\n").contains("`inner.flow [mPa.s]`"));
        assert!(wrong("inner.flows [uL/h]\n1\n").contains("did you mean `inner.flow`?"));
        assert!(wrong("d [um]\n1\n").contains("`d [um]`: is not a name"));
        assert!(wrong("1,2\n3,4\n").contains("`1`"), "a table without a header is refused");
        assert!(wrong("mode [um]\nx\n").contains("has no unit"));
        assert!(wrong("inner.flow [uL/h],inner.flow [mL/h]\n1,2\n").contains("twice"));
        let rows = wrong("diameter [um],inner.flow [uL/h]\nsixty,1\n-3,1\n60\n60,nan\n");
        for (line, part) in [(2, "sixty"), (3, "-3"), (4, "1 fields"), (5, "nan")] {
            assert!(rows.lines().any(|l| l.starts_with(&format!("{line}: ")) && l.contains(part)), "{rows}");
        }
        assert!(wrong("").contains("empty") && wrong("mode\n").contains("no row"));
    }
}
