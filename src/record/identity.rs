//! What a run follows from, and in which key two cases differ.

use crate::case::Case;
use crate::case::keys::{self, Takes};
use crate::outcome::SCHEMA;
use crate::units::{self, Unit};
use serde_json::Value;

/// The case without what changes no number of its run: title, comments, how quantities were typed.
pub(super) fn like(case: &Case) -> Case {
    Case { title: String::new(), typed: Vec::new(), text: String::new(), ..case.clone() }
}

/// What a run follows from: every bit of the checked case but its title and comments, the layout of the record, version
/// and build of the program.
pub fn identity(case: &Case) -> String {
    let (version, build) = (env!("CARGO_PKG_VERSION"), super::build::numbers());
    super::sha256_hex(format!("{SCHEMA}\n{version}\n{build}\n{:?}", like(case)).as_bytes())
}

/// Whether two cases differ in their title, comments or run settings at most.
pub(super) fn same_case(a: &Case, b: &Case) -> bool {
    like(a) == Case { run: a.run, ..like(b) }
}

/// Where the names in a checked case are not those of the case file.
const NAMES: [(&str, &str); 11] = [
    ("tension", "interface.tension"),
    ("gravity", "gravity.along or gravity.g"),
    ("layout.Segment.", "thread."),
    ("device.bore", "device.square_bore or device.round_bore"),
    ("layout.Counterflow.bore", "device.orifice_bore"),
    ("layout.Counterflow.length", "device.orifice_length"),
    ("layout.Counterflow.standoff", "device.standoff"),
    ("layout.Counterflow.collection_bore", "device.collection_bore"),
    ("layout.Counterflow.collection_length", "device.collection_length"),
    ("run.stop.Drops", "run.drops"),
    ("run.stop", "run.drops or run.until"),
];

fn key_of(path: &str) -> String {
    let renamed = NAMES.iter().find_map(|(name, key)| match name.strip_suffix('.') {
        Some(_) => path.strip_prefix(name).map(|rest| format!("{key}{rest}")),
        None => (path == *name || path.strip_prefix(name).is_some_and(|rest| rest.starts_with('.')))
            .then(|| (*key).to_owned()),
    });
    renamed.unwrap_or_else(|| path.to_owned())
}

/// Keys in which two checked cases (as JSON, SI units) differ, each with both values; title left out.
pub(super) fn differences(there: &Value, here: &Value) -> Vec<String> {
    let mut found = Vec::new();
    differ("", there, here, &mut found);
    found
}

fn differ(path: &str, there: &Value, here: &Value, found: &mut Vec<String>) {
    if there == here || path == "title" {
        return;
    }
    if let (Value::Object(a), Value::Object(b)) = (there, here) {
        let names: std::collections::BTreeSet<&String> = a.keys().chain(b.keys()).collect();
        for name in names {
            let inner = if path.is_empty() { name.clone() } else { format!("{path}.{name}") };
            differ(&inner, a.get(name).unwrap_or(&Value::Null), b.get(name).unwrap_or(&Value::Null), found);
        }
        return;
    }
    let key = key_of(path);
    let bench = Bench::of(&key);
    found.push(format!("`{key}` is {} there and {} here", bench.shown(there, here), bench.shown(here, there)));
}

/// The unit in which a key's values are told: that of its example, as people at a bench write it.
struct Bench(Option<(Unit, &'static str)>);

impl Bench {
    fn of(key: &str) -> Bench {
        let first = key.split(" or ").next().unwrap_or(key);
        Bench(keys::find(first).and_then(|key| match key.takes {
            Takes::Quantity(kind, ..) => {
                let letters = units::unit_in(key.example);
                Some((units::unit(letters, kind).ok()?, letters))
            }
            _ => None,
        }))
    }

    /// A value in words; a number with as many figures as tell it from the `other` one.
    fn shown(&self, value: &Value, other: &Value) -> String {
        let Some(si) = value.as_f64().filter(|_| value.is_f64()) else { return self.in_words(value) };
        match &self.0 {
            Some((unit, letters)) => {
                let (zero, one) = (unit.si(0.0), unit.si(1.0));
                let told = |si: f64| (si - zero) / (one - zero);
                format!("{} {letters}", number(told(si), other.as_f64().map(told))).trim_end().to_owned()
            }
            None => number(si, other.as_f64()),
        }
    }

    fn in_words(&self, value: &Value) -> String {
        match value {
            Value::Null => "left out".to_owned(),
            Value::String(word) => units::quoted(&in_small_letters(word)),
            Value::Object(parts) if parts.len() == 1 => parts
                .iter()
                .map(|(name, inside)| format!("{} {}", in_small_letters(name), self.shown(inside, &Value::Null)))
                .collect(),
            Value::Object(_) | Value::Array(_) => "given".to_owned(),
            plain => plain.to_string(),
        }
    }
}

/// Fewest figures of a number, four or more as far as it has them, that tell it from the other one.
fn number(x: f64, other: Option<f64>) -> String {
    let rounded = |x: f64, decimals: usize| format!("{x:.decimals$e}").parse::<f64>().unwrap_or(x);
    let tells = |decimals: &usize| other.is_none_or(|y| rounded(x, *decimals) != rounded(y, *decimals));
    let short = (3..17).find(tells).map_or(x, |decimals| rounded(x, decimals));
    if short == 0.0 || (1e-2..1e6).contains(&short.abs()) { short.to_string() } else { format!("{short:e}") }
}

/// A name as the case file writes it: `TipOuter` is `tip_outer` there.
fn in_small_letters(name: &str) -> String {
    let mut small = String::new();
    for (i, c) in name.char_indices() {
        if c.is_ascii_uppercase() && i > 0 && name[..i].ends_with(|c: char| c.is_ascii_lowercase()) {
            small.push('_');
        }
        small.push(c.to_ascii_lowercase());
    }
    small
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn the_key_that_differs_is_named_as_in_the_case_file() {
        let a = json!({"title": "a", "tension": 0.04, "inner": {"flow": 1e-10}, "device": {"bore": {"Square": 1e-3}}, "run": {"stop": {"Drops": 4}}});
        let b = json!({"title": "b", "tension": 0.05, "inner": {"flow": 1e-10}, "device": {"bore": "Unbounded"}, "run": {"stop": {"Drops": 5}}});
        assert_eq!(
            differences(&a, &b),
            [
                "`device.square_bore or device.round_bore` is square 1 mm there and unbounded here",
                "`run.drops` is 4 there and 5 here",
                "`interface.tension` is 40 mN/m there and 50 mN/m here",
            ]
        );
        let close = |flow: f64| json!({"inner": {"flow": flow}, "outer": null, "device": {"wetting": "TipOuter"}});
        let other = json!({"inner": {"flow": 8.333333333333334e-12}, "outer": {"flow": 1.0, "density": 2.0}, "device": {"wetting": "TipBore"}});
        assert_eq!(
            differences(&close(8.333333444444445e-12), &other),
            [
                "`device.wetting` is tip_outer there and tip_bore here",
                "`inner.flow` is 30.0000004 uL/h there and 30 uL/h here",
                "`outer` is left out there and given here",
            ]
        );
        assert!(differences(&a, &json!({"title": "c", "tension": 0.04, "inner": {"flow": 1e-10}, "device": {"bore": {"Square": 1e-3}}, "run": {"stop": {"Drops": 4}}})).is_empty());
    }
}
