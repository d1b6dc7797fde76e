//! Keys and values -> checked values: units, ranges, words, liquids; every problem is noted and reading goes on.

use super::document::{Document, Entry, Value};
use super::keys::{self, KEYS, Key, Takes};
use super::problem::{Code, Problem};
use super::{LayoutKind, Typed};
use crate::liquids::{self, Properties};
use crate::units::{self, Kind, UnitError, quoted};
use std::collections::{BTreeMap, BTreeSet};

/// A value that passed its own checks.
#[derive(Debug, Clone, PartialEq)]
pub enum Checked {
    Real(f64),
    Whole(u64),
    Text(String),
}

/// What has been read so far.
pub struct Reader {
    pub document: Document,
    pub layout: Option<LayoutKind>,
    values: BTreeMap<&'static str, Checked>,
    /// Keys that were there but wrong: not missing.
    wrong: BTreeSet<&'static str>,
    pub typed: Vec<Typed>,
    pub problems: Vec<Problem>,
}

impl Reader {
    /// Checks every entry by itself.
    pub fn new(document: Document) -> Reader {
        let mut reader = Reader {
            document,
            layout: None,
            values: BTreeMap::new(),
            wrong: BTreeSet::new(),
            typed: Vec::new(),
            problems: Vec::new(),
        };
        reader.unknown_sections();
        let (viscosities, others): (Vec<Entry>, Vec<Entry>) =
            reader.document.entries.clone().into_iter().partition(|e| e.key.ends_with(".viscosity"));
        for entry in &others {
            reader.entry(entry);
        }
        reader.liquids();
        // Last, since a kinematic viscosity needs the density.
        for entry in &viscosities {
            reader.entry(entry);
        }
        reader.layout = reader.text("layout").and_then(|name| keys::LAYOUTS.into_iter().find(|l| l.name() == name));
        let order = |key: &str| KEYS.iter().position(|k| k.name == key);
        reader.typed.sort_by_key(|t| order(&t.key));
        reader
    }

    /// Notes a problem at a key.
    pub fn report(&mut self, code: Code, key: &str, found: String, right: String, nearest: Option<String>) {
        let span = self.document.place(key);
        self.problems.push(Problem { code, line: 0, column: 0, key: key.to_owned(), found, right, nearest, span });
    }

    fn unknown_sections(&mut self) {
        let known = keys::sections();
        let unknown: Vec<(String, std::ops::Range<usize>)> =
            self.document.sections.iter().filter(|(name, _)| !known.contains(&name.as_str())).cloned().collect();
        for (name, span) in unknown {
            // What it lacks under its right name is not missing, only misplaced.
            if let Some(meant) = keys::nearest_word(&name, &known) {
                self.wrong.extend(KEYS.iter().filter(|k| k.name.starts_with(&format!("{meant}."))).map(|k| k.name));
            }
            let (found, right, nearest) = match keys::find(&name) {
                Some(key) => ("is a section here".to_owned(), format!("write {} = \"{}\"", name, key.example), None),
                None => (
                    "is no section of a case file".to_owned(),
                    format!("sections are {}", known.join(", ")),
                    keys::nearest_word(&name, &known).map(str::to_owned),
                ),
            };
            let code = Code::UnknownKey;
            self.problems.push(Problem { code, line: 0, column: 0, key: name, found, right, nearest, span });
        }
    }

    fn entry(&mut self, entry: &Entry) {
        let section = entry.key.split_once('.').map(|(s, _)| s);
        let known = keys::sections();
        match (keys::find(&entry.key), section) {
            (Some(key), _) => match self.check(key, entry) {
                Some(value) => {
                    self.values.insert(key.name, value);
                }
                None => {
                    self.wrong.insert(key.name);
                }
            },
            // The section itself has been reported.
            (None, Some(section)) if !known.contains(&section) => {}
            (None, None) if known.contains(&entry.key.as_str()) => {
                self.problems.push(Problem {
                    code: Code::WrongType,
                    line: 0,
                    column: 0,
                    key: entry.key.clone(),
                    found: format!("is {}", entry.value.name()),
                    right: format!("begin a section with [{}]", entry.key),
                    nearest: None,
                    span: entry.value_span.clone(),
                });
            }
            (None, section) => self.unknown_key(entry, section),
        }
    }

    fn unknown_key(&mut self, entry: &Entry, section: Option<&str>) {
        let prefix = section.map_or(String::new(), |s| format!("{s}."));
        let names: Vec<&str> = KEYS
            .iter()
            .filter_map(|k| k.name.strip_prefix(prefix.as_str()))
            .filter(|name| section.is_some() || !name.contains('.'))
            .collect();
        let nearest = keys::nearest(&entry.key, None);
        if let Some(name) = nearest {
            self.wrong.insert(name);
        }
        let right = match section {
            Some(section) => format!("keys of [{section}] are {}", names.join(", ")),
            None => format!("keys outside of sections are {}", names.join(", ")),
        };
        self.problems.push(Problem {
            code: Code::UnknownKey,
            line: 0,
            column: 0,
            key: entry.key.clone(),
            found: "is no key of a case file".into(),
            right,
            nearest: nearest.map(str::to_owned),
            span: entry.key_span.clone(),
        });
    }

    /// A value by what its key takes; `None` after a problem.
    fn check(&mut self, key: &'static Key, entry: &Entry) -> Option<Checked> {
        match key.takes {
            Takes::Text => match &entry.value {
                Value::Text(text) => Some(Checked::Text(text.clone())),
                other => self.wrong_type(key, other, "a text in quotes is needed"),
            },
            Takes::Word(words) => self.word(key, words, &entry.value),
            Takes::Whole(least, most) => self.whole(key, (least, most), &entry.value),
            Takes::Quantity(kind, least, most) => self.quantity(key, kind, (least, most), &entry.value),
        }
    }

    fn wrong_type(&mut self, key: &Key, value: &Value, right: &str) -> Option<Checked> {
        let example = format!("{right}, for example \"{}\"", key.example);
        self.report(Code::WrongType, key.name, format!("is {}", value.name()), example, None);
        None
    }

    fn word(&mut self, key: &Key, words: &'static [&'static str], value: &Value) -> Option<Checked> {
        let one_of = format!("one of \"{}\" is needed", words.join("\", \""));
        let text = match value {
            Value::Text(text) => text.clone(),
            Value::Boolean(truth) if words.contains(&"on") => (if *truth { "on" } else { "off" }).to_owned(),
            other => {
                self.report(Code::WrongType, key.name, format!("is {}", other.name()), one_of, None);
                return None;
            }
        };
        if words.contains(&text.as_str()) {
            return Some(Checked::Text(text));
        }
        let nearest = keys::nearest_word(&text, words).map(str::to_owned);
        self.report(Code::UnknownWord, key.name, format!("`{}` is not known here", quoted(&text)), one_of, nearest);
        None
    }

    fn whole(&mut self, key: &Key, (least, most): (u64, u64), value: &Value) -> Option<Checked> {
        let right = format!("a whole number from {least} to {most}, without quotes, is needed");
        let Value::Whole(number) = value else {
            self.report(Code::WrongType, key.name, format!("is {}", whole_name(value)), right, None);
            return None;
        };
        match number.and_then(|n| u64::try_from(n).ok()).filter(|n| (least..=most).contains(n)) {
            Some(n) => {
                self.note(key.name, n.to_string(), n as f64, Kind::Number, None);
                Some(Checked::Whole(n))
            }
            None => {
                let shown = number.map_or("a number of this size".to_owned(), |n| format!("`{n}`"));
                self.report(Code::OutOfRange, key.name, format!("{shown} is out of range"), right, None);
                None
            }
        }
    }

    fn quantity(&mut self, key: &Key, kind: Kind, range: (&str, &str), value: &Value) -> Option<Checked> {
        let (text, reading) = match value {
            Value::Text(text) if kind == Kind::Viscosity => {
                let section = key.name.split('.').next().unwrap_or_default();
                let density = self.real(&format!("{section}.density"));
                (text.clone(), units::read_viscosity(text, density))
            }
            Value::Text(text) => (text.clone(), units::read(text, kind)),
            Value::Whole(Some(n)) => (n.to_string(), plain(*n as f64, kind, key)),
            Value::Real(x) => (x.to_string(), plain(*x, kind, key)),
            other => return self.wrong_type(key, other, &format!("{} is needed", kind.name())),
        };
        let reading = match reading {
            Ok(reading) => reading,
            Err(UnitError { found, right, nearest }) => {
                self.report(Code::BadQuantity, key.name, found, right, nearest);
                return None;
            }
        };
        let bound = |text: &str| units::read(text, kind).map_or(f64::NAN, |r| r.si);
        // Bounds are rounded decimals: a value typed as the bound itself must pass.
        let slack = 1e-9 * reading.si.abs();
        if reading.si < bound(range.0) - slack || reading.si > bound(range.1) + slack {
            let right = format!("from {} to {} makes sense here", range.0, range.1);
            self.report(Code::OutOfRange, key.name, format!("`{}` is out of range", quoted(&text)), right, None);
            return None;
        }
        self.note(key.name, text, reading.si, kind, reading.tolerance);
        Some(Checked::Real(reading.si))
    }

    fn note(&mut self, key: &str, text: String, si: f64, kind: Kind, tolerance: Option<f64>) {
        self.typed.push(Typed { key: key.to_owned(), text, si, unit: kind.si_unit(), tolerance });
    }

    /// Puts the properties of named liquids where nothing was typed.
    fn liquids(&mut self) {
        for (liquid, temperature, viscosity, density) in [
            ("inner.liquid", "inner.temperature", "inner.viscosity", "inner.density"),
            ("outer.liquid", "outer.temperature", "outer.viscosity", "outer.density"),
        ] {
            let Some(name) = self.text(liquid) else {
                if self.has(temperature) && !self.was_wrong(liquid) {
                    let right = format!("give {liquid} too, or viscosity and density at that temperature alone");
                    self.report(
                        Code::Contradiction,
                        temperature,
                        "changes nothing without a liquid".into(),
                        right,
                        None,
                    );
                }
                continue;
            };
            match liquids::look_up(&name, self.real(temperature)) {
                Ok(Properties { viscosity: mu, density: rho, .. }) => {
                    for (key, value, kind) in [(viscosity, mu, Kind::Viscosity), (density, rho, Kind::Density)] {
                        if self.document.entry(key).is_none() {
                            self.values.insert(key, Checked::Real(value.si));
                            self.note(key, format!("from the table: {name}"), value.si, kind, Some(value.spread));
                        }
                    }
                }
                Err(error) => {
                    self.wrong.extend([viscosity, density]);
                    let key = if error.about_temperature && self.has(temperature) { temperature } else { liquid };
                    self.report(Code::UnknownLiquid, key, error.found, error.right, error.nearest);
                }
            }
        }
    }

    /// The real value of a key.
    pub fn real(&self, key: &str) -> Option<f64> {
        match self.values.get(key) {
            Some(Checked::Real(x)) => Some(*x),
            _ => None,
        }
    }

    /// The whole number of a key.
    pub fn count(&self, key: &str) -> Option<u64> {
        match self.values.get(key) {
            Some(Checked::Whole(n)) => Some(*n),
            _ => None,
        }
    }

    /// The text of a key.
    pub fn text(&self, key: &str) -> Option<String> {
        match self.values.get(key) {
            Some(Checked::Text(text)) => Some(text.clone()),
            _ => None,
        }
    }

    /// Whether the file has the key.
    pub fn has(&self, key: &str) -> bool {
        self.document.entry(key).is_some()
    }

    /// Whether the key was there, or meant, but wrong.
    pub fn was_wrong(&self, key: &str) -> bool {
        self.wrong.contains(key)
    }

    /// Whether a value may be had for the key: typed, from a table, or typed wrongly.
    pub fn is_answered(&self, key: &str) -> bool {
        self.values.contains_key(key) || self.was_wrong(key)
    }

    /// Puts a value where nothing was typed.
    pub fn put(&mut self, key: &'static str, si: f64, kind: Kind, text: String, tolerance: Option<f64>) {
        self.values.insert(key, Checked::Real(si));
        self.note(key, text, si, kind, tolerance);
    }
}

fn whole_name(value: &Value) -> &'static str {
    match value {
        Value::Real(_) => "a number with a fraction",
        other => other.name(),
    }
}

/// A bare number: only where the quantity has no dimension.
fn plain(number: f64, kind: Kind, key: &Key) -> Result<units::Reading, UnitError> {
    if kind == Kind::Number && number.is_finite() {
        return Ok(units::Reading { si: number, tolerance: None });
    }
    let found = if number.is_finite() {
        format!("the bare number {number} has no unit")
    } else {
        "is no finite number".to_owned()
    };
    let right = if kind == Kind::Number {
        format!("a number is needed, for example {}", key.example)
    } else {
        format!("{} needs its unit, for example \"{}\"", kind.name(), key.example)
    };
    Err(UnitError { found, right, nearest: None })
}
