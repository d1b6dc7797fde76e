//! TOML text -> a flat list of keys and values with their places.

use super::problem::{Code, Problem};
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// A value as TOML knows it.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    Text(String),
    Whole(Option<i64>),
    Real(f64),
    Boolean(bool),
    /// Something that no key takes, by its name.
    Other(&'static str),
}

impl Value {
    /// What it is, for error texts.
    pub fn name(&self) -> &'static str {
        match self {
            Value::Text(_) => "a text",
            Value::Whole(_) | Value::Real(_) => "a bare number",
            Value::Boolean(_) => "a true/false",
            Value::Other(name) => name,
        }
    }
}

/// One `key = value`.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// With its section: `inner.flow`.
    pub key: String,
    pub key_span: Range<usize>,
    pub value: Value,
    pub value_span: Range<usize>,
}

/// A file as keys and values.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Document {
    pub entries: Vec<Entry>,
    /// Sections by name with the place of the name.
    pub sections: Vec<(String, Range<usize>)>,
}

impl Document {
    /// The entry of a dotted key.
    pub fn entry(&self, key: &str) -> Option<&Entry> {
        self.entries.iter().find(|e| e.key == key)
    }

    /// The place of a section's name.
    pub fn section(&self, name: &str) -> Option<&Range<usize>> {
        self.sections.iter().find(|(n, _)| n == name).map(|(_, span)| span)
    }

    /// Where to point for a key: its value, else its section, else the layout that needs it, else the beginning.
    pub fn place(&self, key: &str) -> Range<usize> {
        let section = key.split('.').next().unwrap_or_default();
        let value = |key: &str| self.entry(key).map(|e| e.value_span.clone());
        value(key).or_else(|| self.section(section).cloned()).or_else(|| value("layout")).unwrap_or(0..0)
    }
}

/// Errors of syntax that are looked at; a file with more is no TOML.
const ERRORS_MAX: usize = 1000;
/// Keys and sections of a file that may still be meant as a case: ten times all there are.
const ENTRIES_MAX: usize = 600;

fn no_case(size: usize) -> Problem {
    Problem {
        code: Code::Syntax,
        line: 0,
        column: 0,
        key: String::new(),
        found: format!("{size} keys and sections are no case"),
        right: "a case has a few dozen; see `slenderjet example coflow`".into(),
        nearest: None,
        span: 0..0,
    }
}

/// Reads a text, with every error of its syntax.
pub fn parse(text: &str) -> (Document, Vec<Problem>) {
    let (table, errors) = DeTable::parse_recoverable(text);
    let mut document = Document::default();
    for (key, value) in table.get_ref() {
        let (name, span) = (key.get_ref().to_string(), key.span());
        match value.get_ref() {
            DeValue::Table(inside) => {
                document.sections.push((name.clone(), span));
                for (key, value) in inside {
                    document.entries.push(Entry {
                        key: format!("{name}.{}", key.get_ref()),
                        key_span: key.span(),
                        value: convert(value.get_ref()),
                        value_span: value.span(),
                    });
                }
            }
            other => document.entries.push(Entry {
                key: name,
                key_span: span,
                value: convert(other),
                value_span: value.span(),
            }),
        }
    }
    let mut problems = syntax_problems(text, &errors);
    let size = document.entries.len() + document.sections.len();
    if size > ENTRIES_MAX {
        problems.push(no_case(size));
        return (Document::default(), problems);
    }
    document.entries.sort_by_key(|e| e.key_span.start);
    document.sections.sort_by_key(|s| s.1.start);
    (document, problems)
}

fn convert(value: &DeValue<'_>) -> Value {
    match value {
        DeValue::String(text) => Value::Text(text.to_string()),
        DeValue::Integer(number) => Value::Whole(i64::from_str_radix(number.as_str(), number.radix()).ok()),
        DeValue::Float(number) => Value::Real(number.as_str().parse().unwrap_or(f64::NAN)),
        DeValue::Boolean(truth) => Value::Boolean(*truth),
        DeValue::Datetime(_) => Value::Other("a date"),
        DeValue::Array(_) => Value::Other("a list"),
        DeValue::Table(_) => Value::Other("a table"),
    }
}

/// Quotation marks as word processors set them.
const CURLY: [char; 5] = ['\u{201c}', '\u{201d}', '\u{201e}', '\u{2018}', '\u{2019}'];

/// One problem a line: what follows a broken place on its line is seldom news.
fn syntax_problems(text: &str, errors: &[toml::de::Error]) -> Vec<Problem> {
    let mut problems: Vec<Problem> = Vec::new();
    let mut last_line = None;
    for error in errors.iter().take(ERRORS_MAX) {
        let span = error.span().unwrap_or(0..0);
        let start = span.start.min(text.len());
        let line_start = text.as_bytes()[..start].iter().rposition(|b| *b == b'\n').map_or(0, |i| i + 1);
        if last_line == Some(line_start) {
            continue;
        }
        last_line = Some(line_start);
        let line = text.get(line_start..).unwrap_or_default().lines().next().unwrap_or_default();
        let twice = error.message().contains("duplicate");
        let straight = line.replace(CURLY, "\"");
        let nearest =
            if straight == line { in_quotes(line).filter(|_| !twice) } else { Some(straight.trim().to_owned()) };
        let right = match (&nearest, twice) {
            _ if straight != line => "texts and quantities stand in straight quotation marks",
            (Some(_), _) => "a value with a unit or a word stands in quotes",
            (None, true) => "each key and each section stands once",
            (None, false) => "write [section] or key = \"value\"",
        }
        .to_owned();
        problems.push(Problem {
            code: Code::Syntax,
            line: 0,
            column: 0,
            key: String::new(),
            found: format!("this is not TOML: {}", error.message()),
            right,
            nearest,
            span,
        });
    }
    problems
}

/// `flow = 150 uL/h` as it should stand: the commonest slip.
fn in_quotes(line: &str) -> Option<String> {
    let (key, value) = line.split_once('=')?;
    let (key, value) = (key.trim(), value.split('#').next()?.trim());
    let plain_key = !key.is_empty() && key.chars().all(|c| c.is_ascii_alphanumeric() || c == '_' || c == '.');
    let plain_value = !value.is_empty() && value.len() < 60 && !value.contains(['"', '\'', '[', ']', '{', '}', '=']);
    (plain_key && plain_value).then(|| format!("{key} = \"{value}\""))
}
