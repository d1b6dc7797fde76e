//! Holds the plan of DEVELOPERS.md: one direction, one home for each outside library, headings on physics files,
//! one file with `unsafe`, files of a readable length. Reads source text with the standard library alone.

use std::fs;
use std::path::{Path, PathBuf};

/// A line may use only lines above it; neighbours on a line do not see each other.
const LINES: &[&[&str]] = &[
    &["math", "files"],
    &["units", "tolerances"],
    &["solver", "liquids", "device"],
    &["case", "groups", "outcome"],
    &["theory", "thread", "stokes"],
    &["limits"],
    &["pinch_off"],
    &["drops"],
    &["regime"],
    &["simulate"],
    &["study"],
    &["record"],
    &["figures", "report"],
    &["cli"],
];

/// Neighbours that may see each other, each with its reason.
const NEIGHBOURS: &[(&str, &str, &str)] = &[
    ("groups", "case", "groups are made of a checked case"),
    ("groups", "outcome", "they are reported in the summary's own struct"),
    ("report", "figures", "the page embeds the figures"),
];

/// Outside libraries and the only folders that may name them.
const HOMES: &[(&str, &[&str])] = &[
    ("hdf5", &["record"]),
    ("hdf5_sys", &["record"]),
    ("tempfile", &["files"]),
    ("libm", &["math"]),
    ("clap", &["cli"]),
    ("clap_complete", &["cli"]),
    ("clap_mangen", &["cli"]),
    ("indicatif", &["cli"]),
    ("anstream", &["cli"]),
    ("anstyle", &["cli"]),
    ("terminal_size", &["cli"]),
    ("textwrap", &["cli"]),
    ("comfy_table", &["cli"]),
    ("signal_hook", &["cli"]),
    ("jiff", &["cli"]),
    ("complex_bessel", &["theory"]),
    ("multiversion", &["solver", "stokes", "thread"]),
    ("rayon", &["study", "stokes"]),
    ("csv_core", &["study"]),
    ("sobol_burley", &["study"]),
    ("resvg", &["figures"]),
    ("krilla", &["figures"]),
    ("same_file", &["files"]),
    ("png", &["figures"]),
    ("skrifa", &["figures"]),
    ("strsim", &["units", "liquids", "case"]),
    ("toml", &["case"]),
    ("annotate_snippets", &["case", "cli"]),
    ("base64", &["report", "figures"]),
    ("sha2", &["record"]),
    ("statrs", &["drops", "study"]),
    ("sobol_burley", &["study"]),
    ("csv", &["study", "cli"]),
];

/// Outside libraries that any stage may name.
const ANYWHERE: &[&str] = &["nalgebra", "ndarray", "schemars", "serde", "serde_json", "thiserror"];

/// Stages that only compute: same case, same bytes, on any machine.
const PURE: &[&str] = &[
    "math",
    "tolerances",
    "solver",
    "device",
    "groups",
    "theory",
    "thread",
    "stokes",
    "pinch_off",
    "drops",
    "regime",
    "simulate",
];

const IMPURE: &[&str] =
    &["std::time", "std::fs", "std::thread", "std::env", "std::net", "std::process", "println!", "print!("];

/// Where physics is written down and every file says what it solves.
const PHYSICS: &[&str] = &["src/theory", "src/thread/closures", "src/stokes"];
const HEADINGS: &[&str] = &["Equation", "Symbols", "Source", "Holds"];

const LINES_MAX: usize = 600;

struct Source {
    path: String,
    /// First folder or file name below `src`.
    stage: String,
    /// Text without comments and without the tests at its end.
    code: String,
    whole: String,
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn rust_files(folder: &Path, into: &mut Vec<PathBuf>) {
    let mut entries: Vec<_> = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            rust_files(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") {
            into.push(path);
        }
    }
}

fn without_comments(text: &str) -> String {
    text.lines().filter(|line| !line.trim_start().starts_with("//")).collect::<Vec<_>>().join("\n")
}

/// Text before the module of tests that closes a file.
fn without_tests(text: &str) -> &str {
    match text.find("#[cfg(test)]\nmod tests") {
        Some(at) => &text[..at],
        None => text,
    }
}

fn is_test_file(path: &str) -> bool {
    path.ends_with("/tests.rs") || path.contains("/tests/")
}

fn sources() -> Vec<Source> {
    let mut paths = Vec::new();
    rust_files(&root().join("src"), &mut paths);
    let mut found = Vec::new();
    for path in paths {
        let whole = fs::read_to_string(&path).unwrap();
        let path = path.strip_prefix(root()).unwrap().to_string_lossy().into_owned();
        let stage = path.split('/').nth(1).unwrap().trim_end_matches(".rs").to_owned();
        let code = if is_test_file(&path) { String::new() } else { without_comments(without_tests(&whole)) };
        found.push(Source { path, stage, code, whole });
    }
    assert!(found.len() > 30, "the sources are not where this test looks for them");
    found
}

fn line_of(stage: &str) -> Option<usize> {
    LINES.iter().position(|line| line.contains(&stage))
}

/// Names that follow `crate::` in some code, also in `use crate::{a, b::c}`.
fn stages_used(code: &str) -> Vec<String> {
    let mut used = Vec::new();
    for (at, _) in code.match_indices("crate::") {
        if at > 0 && code[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_') {
            continue;
        }
        let rest = &code[at + "crate::".len()..];
        match rest.strip_prefix('{') {
            None => used.push(first_name(rest)),
            Some(list) => {
                let mut depth = 0;
                for part in list.split_inclusive([',', '{', '}']) {
                    if depth == 0 {
                        used.push(first_name(part.trim_start()));
                    }
                    match part.chars().last() {
                        Some('{') => depth += 1,
                        Some('}') if depth == 0 => break,
                        Some('}') => depth -= 1,
                        _ => {}
                    }
                }
            }
        }
    }
    used.retain(|name| !name.is_empty());
    used
}

fn first_name(text: &str) -> String {
    text.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect()
}

#[test]
fn the_reader_of_use_lines_reads_them() {
    let code = "use crate::{case::{Case, Stop}, outcome::Drop};\nuse crate::units; fn f() { crate::record::read() }";
    assert_eq!(stages_used(code), ["case", "outcome", "units", "record"]);
}

#[test]
fn every_stage_has_its_place_in_the_plan() {
    for source in sources() {
        let known = ["main", "lib"].contains(&source.stage.as_str()) || line_of(&source.stage).is_some();
        assert!(known, "{}: `{}` has no place in the plan", source.path, source.stage);
    }
}

#[test]
fn stages_use_only_the_lines_above_them() {
    let mut wrong = Vec::new();
    for source in sources() {
        let Some(own) = line_of(&source.stage) else { continue };
        for used in stages_used(&source.code) {
            let Some(other) = line_of(&used) else { continue };
            let allowed = NEIGHBOURS.iter().any(|(from, to, _)| *from == source.stage && *to == used);
            if used != source.stage && other >= own && !allowed {
                wrong.push(format!("{} uses {used}", source.path));
            }
        }
    }
    assert!(wrong.is_empty(), "against the direction of the plan:\n{}", wrong.join("\n"));
}

#[test]
fn every_outside_library_has_one_home() {
    let mut wrong = Vec::new();
    for source in sources() {
        for (library, homes) in HOMES {
            let named = source
                .code
                .match_indices(&format!("{library}::"))
                .any(|(at, _)| !source.code[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_' || c == ':'));
            if named && !homes.contains(&source.stage.as_str()) {
                wrong.push(format!("{} names {library}, whose home is {homes:?}", source.path));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_dependency_has_a_home_and_a_reason() {
    let manifest = fs::read_to_string(root().join("Cargo.toml")).unwrap();
    let guide = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let listed = manifest.split("[dependencies]").nth(1).unwrap().split("\n[").next().unwrap();
    let names: Vec<&str> = listed
        .lines()
        .filter(|line| !line.starts_with('#') && line.contains('='))
        .map(|line| line.split([' ', '=', '.']).next().unwrap())
        .collect();
    assert!(names.len() > 10);
    for name in names {
        let in_code = name.replace('-', "_");
        let placed = HOMES.iter().any(|(library, _)| *library == in_code) || ANYWHERE.contains(&in_code.as_str());
        assert!(placed, "`{name}` has no home in this test");
        let reason = guide.lines().any(|line| line.starts_with("| ") && line.split('|').nth(1).unwrap().contains(name));
        assert!(reason, "`{name}` has no reason in DEVELOPERS.md, \"Libraries, and why each\"");
    }
}

#[test]
fn stages_that_compute_touch_nothing_outside() {
    let mut wrong = Vec::new();
    for source in sources().iter().filter(|s| PURE.contains(&s.stage.as_str())) {
        for word in IMPURE.iter().filter(|word| source.code.contains(**word)) {
            wrong.push(format!("{} has `{word}`", source.path));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn printing_lives_in_the_command_line_alone() {
    for source in sources().iter().filter(|s| s.stage != "cli") {
        for word in ["println!", "eprintln!", "process::exit"] {
            assert!(!source.code.contains(word), "{} has `{word}`", source.path);
        }
    }
}

#[test]
fn unsafe_code_is_in_one_file_that_says_why() {
    for source in sources() {
        // a word of the web's content policy, not of Rust
        let code = source.code.replace("'unsafe-inline'", "");
        let found = code.split(|c: char| !c.is_alphanumeric() && c != '_').any(|word| word == "unsafe");
        let home = source.path == "src/record/native.rs";
        assert_eq!(found, home, "{}", source.path);
        if home {
            assert!(source.whole.contains("Why ") && source.whole.contains("SAFETY:"), "{}", source.path);
        }
    }
}

#[test]
fn nothing_is_left_for_later_and_nothing_panics_on_input() {
    // Put together so that this file does not find itself.
    let unfinished = ["TO\u{44}O", "FIX\u{4d}E", "todo!(", "unimplemented!(", "dbg!(", "#[ignore"];
    let mut wrong = Vec::new();
    for source in sources() {
        wrong.extend(unfinished.iter().filter(|w| source.whole.contains(**w)).map(|w| format!("{}: {w}", source.path)));
        for word in [".unwrap()", ".expect("] {
            if source.code.contains(word) {
                wrong.push(format!("{}: {word}", source.path));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn physics_files_say_what_they_solve() {
    let mut wrong = Vec::new();
    for source in sources() {
        let physics = PHYSICS.iter().any(|folder| source.path.starts_with(folder));
        if !physics || source.path.ends_with("/mod.rs") || is_test_file(&source.path) {
            continue;
        }
        let top: String = source.whole.lines().take_while(|l| l.starts_with("//!")).collect::<Vec<_>>().join("\n");
        let missing: Vec<_> = HEADINGS.iter().filter(|h| !top.contains(**h)).collect();
        if !missing.is_empty() {
            wrong.push(format!("{} opens without {missing:?}", source.path));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn files_can_be_read_at_a_sitting() {
    for source in sources() {
        let lines = source.whole.lines().count();
        assert!(lines <= LINES_MAX, "{} has {lines} lines", source.path);
    }
}

/// A citation file goes stale unless it is held against the manifest.
#[test]
fn citation_and_changelog_know_the_version() {
    let version = env!("CARGO_PKG_VERSION");
    let citation = fs::read_to_string(root().join("CITATION.cff")).unwrap();
    assert!(citation.lines().any(|l| l == format!("version: {version}")), "CITATION.cff is not of version {version}");
    let changes = fs::read_to_string(root().join("CHANGELOG.md")).unwrap();
    assert!(changes.contains(&format!("## [{version}]")), "CHANGELOG.md has no entry for {version}");
}
