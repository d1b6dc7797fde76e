//! Our own earlier answers, to notice when they move. They prove nothing else: validation is in `validation/`.
//!
//! Every shipped example is run for a few drops at coarse accuracy and its summary held against `tests/golden/NAME.json`,
//! numbers within the tolerance, words exactly. When a change of the model is meant, `SLENDERJET_BLESS=1` writes
//! the files anew; look at the difference before you commit it.

use serde_json::{Map, Value};
use slenderjet::case::{self, Accuracy, Stop};
use slenderjet::simulate::{Silent, simulate};
use std::path::PathBuf;

/// Relative difference that another compiler or processor may make. Pinch-off multiplies round-off: steps near the
/// singularity are accepted or not by a hair, so the last digits of what follows are not held.
const TOLERANCE: f64 = 2e-4;
/// Absolute difference for numbers of order one that are differences themselves (spread, fractions).
const SMALL: f64 = 1e-5;

/// Facts that a change of the model moves; words and the spread of few drops are left out.
const HELD: [&str; 6] = ["layout", "mode", "first_pinch", "pressure", "groups", "necks"];
/// Those that only some answers have.
const HELD_IF_TOLD: [&str; 2] = ["surface", "moved"];

fn summary_of(name: &str, drops: u32) -> Map<String, Value> {
    let text = case::examples::find(name).unwrap().text;
    let mut case = case::parse(text, name).unwrap();
    case.run.stop = Stop::Drops(drops);
    case.run.accuracy = Accuracy::Coarse;
    let outcome = simulate(&case, None, &mut Silent).unwrap();
    let primaries = outcome.summary.drops.iter().filter(|d| d.kind == slenderjet::outcome::DropKind::Primary);
    let diameters: Vec<f64> = primaries.map(|d| d.diameter_m).collect();
    let all = serde_json::to_value(&outcome.summary).unwrap();
    let mut held: Map<String, Value> = HELD.iter().map(|key| ((*key).into(), all[*key].clone())).collect();
    let told = HELD_IF_TOLD.iter().filter_map(|key| Some(((*key).into(), all.get(*key)?.clone())));
    held.extend(told);
    held.insert("primary_diameters_m".into(), diameters.into());
    held.insert("stopped".into(), outcome.summary.stopped.word().into());
    held
}

/// Places where two values differ, by more than round-off for numbers.
fn differences(at: &str, old: &Value, new: &Value, found: &mut Vec<String>) {
    match (old, new) {
        (Value::Object(a), Value::Object(b)) if a.keys().eq(b.keys()) => {
            a.iter().for_each(|(key, value)| differences(&format!("{at}.{key}"), value, &b[key], found));
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            a.iter().zip(b).enumerate().for_each(|(i, (x, y))| differences(&format!("{at}[{i}]"), x, y, found));
        }
        (Value::Number(a), Value::Number(b)) => {
            let (x, y) = (a.as_f64().unwrap(), b.as_f64().unwrap());
            // a list's entry has its list's unit
            let name = at.trim_end_matches(|c: char| c == ']' || c == '[' || c.is_ascii_digit());
            let has_unit = ["_m", "_s", "_m3"].iter().any(|unit| name.ends_with(unit));
            let scale = if has_unit { 0.0 } else { SMALL };
            if (x - y).abs() > TOLERANCE * x.abs().max(y.abs()) + scale {
                found.push(format!("{at}: {x:e} became {y:e}"));
            }
        }
        _ if old == new => {}
        _ => found.push(format!("{at}: {old} became {new}")),
    }
}

fn hold(name: &str, drops: u32) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("tests/golden/{name}.json"));
    let new = Value::Object(summary_of(name, drops));
    if std::env::var_os("SLENDERJET_BLESS").is_some() {
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, format!("{new:#}\n")).unwrap();
        return;
    }
    let old: Value = serde_json::from_str(&std::fs::read_to_string(&path).unwrap()).unwrap();
    let mut found = Vec::new();
    differences(name, &old, &new, &mut found);
    assert!(found.is_empty(), "the answer moved (SLENDERJET_BLESS=1 if meant):\n{}", found.join("\n"));
}

#[test]
fn regress_tap() {
    hold("tap", 2);
}

#[test]
fn regress_segment() {
    hold("segment", 1);
}

#[test]
fn regress_jet() {
    hold("jet", 2);
}

#[test]
fn regress_coflow() {
    hold("coflow", 2);
}

#[test]
fn regress_counterflow() {
    hold("counterflow", 2);
}

#[test]
fn regress_tenmicron() {
    hold("tenmicron", 2);
}

#[test]
fn regress_surfactant() {
    hold("surfactant", 2);
}

#[test]
fn regress_polymer() {
    hold("polymer", 2);
}

#[test]
fn a_moved_answer_is_noticed() {
    let old = serde_json::json!({"a_m": 1.0e-6, "b": [0.5, "dripping"]});
    let new = serde_json::json!({"a_m": 1.001e-6, "b": [0.5, "jetting"]});
    let mut found = Vec::new();
    differences("case", &old, &new, &mut found);
    assert_eq!(found.len(), 2, "{found:?}");
    differences("case", &old, &old, &mut found);
    assert_eq!(found.len(), 2);
}
