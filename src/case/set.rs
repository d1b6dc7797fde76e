//! Keys given beside a case file (`KEY=VALUE`): read as the file's own, with their places in the arguments.

use super::document::{Document, Entry, Value};
use super::edit;
use super::keys::{self, Takes};
use super::problem::{Code, Problem};
use std::ops::Range;

/// Arguments laid behind the text of a file, so that a place in them is a place like any other.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Given {
    /// One argument a line, to stand behind the file's text.
    pub text: String,
    pub entries: Vec<Entry>,
    pub problems: Vec<Problem>,
}

/// Takes `KEY=VALUE` arguments apart; their places begin at byte `from`.
pub fn read(arguments: &[String], from: usize) -> Given {
    let mut given = Given::default();
    for argument in arguments {
        let at = from + given.text.len();
        // One line each, whatever was typed.
        let line: String = argument.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        match line.split_once('=') {
            Some((key, value)) if !key.trim().is_empty() && !value.trim().is_empty() => {
                let value_from = at + key.len() + 1;
                given.entries.push(Entry {
                    key: key.trim().to_owned(),
                    key_span: trimmed(key, at),
                    value: value_of(key.trim(), unquoted(value.trim())),
                    value_span: trimmed(value, value_from),
                });
            }
            _ => given.problems.push(Problem {
                code: Code::Syntax,
                line: 0,
                column: 0,
                key: String::new(),
                found: format!("`{}` is no KEY=VALUE", crate::units::quoted(argument)),
                right: "write a key, = and a value with its unit, for example inner.flow=150 uL/h".into(),
                nearest: None,
                span: at..at + line.len(),
            }),
        }
        given.text += &line;
        given.text.push('\n');
    }
    given
}

/// The place of a text without the blanks about it.
fn trimmed(text: &str, at: usize) -> Range<usize> {
    let start = at + text.len() - text.trim_start().len();
    start..start + text.trim().len()
}

/// `"150 uL/h"` as in the file is understood too.
fn unquoted(value: &str) -> &str {
    let inside = |quote: char| value.strip_prefix(quote).and_then(|rest| rest.strip_suffix(quote));
    inside('"').or_else(|| inside('\'')).unwrap_or(value)
}

/// A value as its key takes it: shells know texts only.
fn value_of(key: &str, text: &str) -> Value {
    match keys::find(key).map(|k| k.takes) {
        Some(Takes::Whole(..)) => match text.parse::<i64>() {
            Ok(number) => Value::Whole(Some(number)),
            Err(_) => text.parse::<f64>().map_or_else(|_| Value::Text(text.to_owned()), Value::Real),
        },
        _ => Value::Text(text.to_owned()),
    }
}

impl Given {
    /// Puts the entries in the place of the file's own.
    pub fn lay_over(&self, document: &mut Document) {
        for entry in &self.entries {
            let other = edit::other(&entry.key);
            document.entries.retain(|own| own.key != entry.key && Some(own.key.as_str()) != other);
            document.entries.push(entry.clone());
            if let Some((section, _)) = entry.key.split_once('.')
                && document.section(section).is_none()
            {
                let span = entry.key_span.start..entry.key_span.start + section.len();
                document.sections.push((section.to_owned(), span));
            }
        }
    }

    /// The file's text with the entries in their places.
    pub fn written_into(&self, text: &str) -> String {
        let set = |text: String, entry: &Entry| edit::set(&text, &entry.key, &raw(&entry.value));
        self.entries.iter().fold(text.to_owned(), set)
    }
}

/// A value as TOML has it.
pub fn raw(value: &Value) -> String {
    match value {
        Value::Text(text) => toml::Value::String(text.clone()).to_string(),
        Value::Whole(number) => number.map_or_else(|| "0".into(), |n| n.to_string()),
        Value::Real(number) => toml::Value::Float(*number).to_string(),
        Value::Boolean(truth) => truth.to_string(),
        Value::Other(name) => toml::Value::String((*name).to_owned()).to_string(),
    }
}

/// A text of plain sections with the document's entries; comments are lost.
pub fn plain(document: &Document) -> String {
    let line = |entry: &&Entry| {
        let name = entry.key.split_once('.').map_or(entry.key.as_str(), |(_, name)| name);
        format!("{name} = {}\n", raw(&entry.value))
    };
    let mut text: String = document.entries.iter().filter(|e| !e.key.contains('.')).map(|e| line(&e)).collect();
    for (section, _) in &document.sections {
        let prefix = format!("{section}.");
        text += &format!("\n[{section}]\n");
        text.extend(document.entries.iter().filter(|e| e.key.starts_with(&prefix)).map(|e| line(&e)));
    }
    text
}
