//! Changed keys: in the text of a case, and so in the case.

use super::document::{self, Document};
use super::keys::{self, Takes};
use super::problem::{CaseErrors, Code, Problem};
use super::{Case, file};
use crate::units::{self, Kind};

/// Keys of which a case has one at most.
const EITHER: [(&str, &str); 3] = [
    ("device.square_bore", "device.round_bore"),
    ("thread.wavenumber", "thread.wavelength"),
    ("run.drops", "run.until"),
];

impl Case {
    /// The case with one dotted key set to an SI value, checked anew; for example `inner.flow`, `interface.tension`,
    /// `device.tip_bore`, `thread.wavenumber`, `forcing.noise`. Run control that was changed after parsing is kept.
    ///
    /// # Errors
    /// If there is no such key, or what it makes of the case is wrong.
    pub fn with(&self, key: &str, si: f64) -> Result<Case, CaseErrors> {
        let unit = self.typed.iter().find(|typed| typed.key == key).map(|typed| units::unit_in(&typed.text));
        self.with_told_in(key, si, unit.unwrap_or_default())
    }

    /// The same; where the value itself is wrong it is told in `unit`, as somebody typed it.
    ///
    /// # Errors
    /// As [`Case::with`].
    pub fn with_told_in(&self, key: &str, si: f64, unit: &str) -> Result<Case, CaseErrors> {
        let written = match keys::find(key).map(|k| k.takes) {
            Some(Takes::Whole(..)) => format!("{si}"),
            Some(Takes::Quantity(Kind::Number, ..)) => format!("\"{si:e}\""),
            Some(Takes::Quantity(kind, ..)) => format!("\"{si:e} {}\"", kind.si_unit()),
            _ => return Err(not_numeric(key)),
        };
        self.with_raw(key, &written).map_err(|mut errors| {
            if let Some(told) = self.in_unit(key, si, unit) {
                let of_key = errors.problems.iter_mut().filter(|problem| problem.key == key);
                of_key.for_each(|problem| problem.found = problem.found.replace(written.trim_matches('"'), &told));
            }
            errors
        })
    }

    /// An SI value of a key in a unit, to six digits.
    fn in_unit(&self, key: &str, si: f64, unit: &str) -> Option<String> {
        let Some(Takes::Quantity(kind, ..)) = keys::find(key).map(|k| k.takes) else { return None };
        let stream = if key.starts_with("outer.") { self.outer.as_ref()? } else { &self.inner };
        let read = |number: &str| {
            let text = format!("{number} {unit}");
            let read = if kind == Kind::Viscosity {
                units::read_viscosity(&text, Some(stream.density))
            } else {
                units::read(&text, kind)
            };
            read.ok().map(|reading| reading.si)
        };
        // degrees have an offset, kinematic viscosities a factor of their own
        let (zero, one) = (read("0")?, read("1")?);
        let value: f64 = format!("{:.5e}", (si - zero) / (one - zero)).parse().ok()?;
        let usual = value == 0.0 || (1e-4..1e7).contains(&value.abs());
        let number = if usual { value.to_string() } else { format!("{value:e}") };
        Some(format!("{number} {unit}").trim_end().to_owned())
    }

    /// The case with one dotted key set as a user would write it (`inner.flow`, `163 uL/h`); comments and order stay.
    ///
    /// # Errors
    /// As [`Case::with`].
    pub fn with_text(&self, key: &str, value: &str) -> Result<Case, CaseErrors> {
        let raw = match keys::find(key).map(|k| k.takes) {
            Some(Takes::Whole(..)) => value.to_owned(),
            _ => format!("\"{}\"", value.replace('\\', "\\\\").replace('"', "\\\"")),
        };
        self.with_raw(key, &raw)
    }

    fn with_raw(&self, key: &str, raw: &str) -> Result<Case, CaseErrors> {
        let text = set(&self.source(), key, raw);
        let mut case = file::parse(&text, "changed case")?;
        if !key.starts_with("run.") {
            case.run = self.run;
        }
        Ok(case)
    }

    /// A text that gives this case: its own, or one written from its values if they were changed after parsing.
    fn source(&self) -> String {
        let own = file::parse(&self.text, "own text").ok();
        match own.filter(|own| same(own, self)) {
            Some(_) => self.text.clone(),
            None => super::write::to_toml(self),
        }
    }
}

/// Equal but for run control and the list of what was typed.
pub(super) fn same(a: &Case, b: &Case) -> bool {
    a == &Case { run: a.run, typed: a.typed.clone(), text: a.text.clone(), ..b.clone() }
}

fn not_numeric(key: &str) -> CaseErrors {
    let problem = Problem {
        code: Code::UnknownKey,
        line: 0,
        column: 0,
        key: key.to_owned(),
        found: "is no key that takes a number".into(),
        right: "name a key of the case file, for example inner.flow".into(),
        nearest: keys::nearest(key, None).map(str::to_owned),
        span: 0..0,
    };
    CaseErrors::new("changed case", "", vec![problem])
}

/// The key that cannot stand beside this one.
pub(super) fn other(key: &str) -> Option<&'static str> {
    EITHER.iter().find_map(|(a, b)| match key {
        k if k == *a => Some(*b),
        k if k == *b => Some(*a),
        _ => None,
    })
}

/// `text` with `key = raw`, in its place if it has one.
pub(super) fn set(text: &str, key: &str, raw: &str) -> String {
    let text = match other(key) {
        Some(other) => replace_key(text, other, key, raw).unwrap_or_else(|| text.to_owned()),
        None => text.to_owned(),
    };
    let (document, _) = document::parse(&text);
    match document.entry(key) {
        Some(entry) => format!("{}{raw}{}", &text[..entry.value_span.start], &text[entry.value_span.end..]),
        None => insert(&text, &document, key, raw),
    }
}

/// The line of `old` as a line of `new`.
fn replace_key(text: &str, old: &str, new: &str, raw: &str) -> Option<String> {
    let (document, _) = document::parse(text);
    let entry = document.entry(old)?;
    let name = new.split('.').next_back()?;
    let between = &text[entry.key_span.end..entry.value_span.start];
    Some(format!("{}{name}{between}{raw}{}", &text[..entry.key_span.start], &text[entry.value_span.end..]))
}

/// A new line below its section's last entry or header, or a new section at the end; a key of no section leads the text.
fn insert(text: &str, document: &Document, key: &str, raw: &str) -> String {
    let Some((section, name)) = key.split_once('.') else { return format!("{key} = {raw}\n{text}") };
    let prefix = format!("{section}.");
    let last = document.entries.iter().rfind(|e| e.key.starts_with(&prefix)).map(|e| e.value_span.end);
    let header = document.section(section).map(|span| span.end);
    match last.or(header) {
        Some(at) => {
            let end = text[at..].find('\n').map_or(text.len(), |i| at + i);
            format!("{}\n{name} = {raw}{}", &text[..end], &text[end..])
        }
        None => format!("{}\n\n[{section}]\n{name} = {raw}\n", text.trim_end()),
    }
}
