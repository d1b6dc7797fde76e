//! The command line's manners: exit codes, what is on stdout and what on stderr, help, pipes.

use assert_cmd::Command;
use predicates::prelude::*;
use predicates::str::{contains, is_empty, starts_with};

fn slenderjet() -> Command {
    let mut command = Command::cargo_bin("slenderjet").unwrap();
    command.env_remove("NO_COLOR").env("COLUMNS", "80");
    command
}

const COMMANDS: [&str; 15] = [
    "example",
    "check",
    "run",
    "map",
    "confirm",
    "aim",
    "margins",
    "calibrate",
    "compare",
    "growth",
    "spread",
    "figure",
    "report",
    "export",
    "liquids",
];

#[test]
fn help_is_on_stdout_and_shows_an_example() {
    slenderjet().arg("--help").assert().success().stdout(contains("Start here:")).stderr(is_empty());
    for command in COMMANDS {
        slenderjet()
            .args([command, "--help"])
            .assert()
            .success()
            .stdout(contains("Usage: slenderjet").and(contains("Example:")).and(contains("--json")))
            .stderr(is_empty());
    }
}

#[test]
fn version_is_the_one_of_the_manifest() {
    let expected = format!("slenderjet {}\n", env!("CARGO_PKG_VERSION"));
    slenderjet().arg("--version").assert().success().stdout(expected);
}

#[test]
fn bad_usage_is_exit_2_on_stderr() {
    for wrong in [
        vec![],
        vec!["simulate"],
        vec!["run"],
        vec!["run", "case.toml", "--drops", "0"],
        vec!["run", "case.toml", "--drops", "many"],
        vec!["run", "case.toml", "--resume"],
        vec!["run", "case.toml", "--drops", "3", "--until", "5 ms"],
        vec!["run", "case.toml", "--until", "5"],
        vec!["run", "case.toml", "--until", "5 mm"],
        vec!["run", "case.toml", "--until=-5 ms"],
        vec!["--no-such-flag"],
    ] {
        slenderjet().args(&wrong).assert().code(2).stdout(is_empty()).stderr(is_empty().not());
    }
}

#[test]
fn completions_and_manual_pages_are_made() {
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        slenderjet().args(["completions", shell]).assert().success().stdout(contains("slenderjet"));
    }
    slenderjet().arg("man").assert().success().stdout(contains(".TH slenderjet"));
    let folder = tempfile::tempdir().unwrap();
    slenderjet().args(["man", "-o"]).arg(folder.path()).assert().success().stdout(is_empty());
    for command in COMMANDS {
        assert!(folder.path().join(format!("slenderjet-{command}.1")).is_file(), "{command}");
    }
}

/// A script of completions is a script: the shell itself must accept it.
#[test]
fn bash_accepts_its_completions() {
    let script = slenderjet().args(["completions", "bash"]).assert().success().get_output().stdout.clone();
    Command::new("bash").args(["-n"]).write_stdin(script).assert().success().stderr(is_empty());
}

/// A reader that has seen enough ends the program quietly, by SIGPIPE, as with other programs.
#[test]
#[cfg(unix)]
fn a_closed_pipe_is_no_error() {
    let program = assert_cmd::cargo::cargo_bin("slenderjet");
    let line = format!("'{}' completions zsh | head -c 10; echo \"${{PIPESTATUS[0]}}\"", program.display());
    let done = std::process::Command::new("bash").args(["-c", &line]).output().unwrap();
    assert!(done.stderr.is_empty(), "{}", String::from_utf8_lossy(&done.stderr));
    let status = String::from_utf8_lossy(&done.stdout[10..]).trim().to_owned();
    assert!(["0", "141"].contains(&status.as_str()), "{status}");
}

#[test]
fn a_missing_case_is_exit_2_and_named() {
    slenderjet()
        .args(["run", "no-such-case.toml"])
        .assert()
        .code(2)
        .stdout(is_empty())
        .stderr(starts_with("error").and(contains("no-such-case.toml")));
}

/// Every JSON object says of which kind it is and from which version, and is as `schema` says of its command.
#[test]
fn every_json_object_follows_its_schema() {
    let folder = tempfile::tempdir().unwrap();
    let tap = folder.path().join("tap.toml");
    slenderjet().args(["example", "tap", "-q", "-o"]).arg(&tap).assert().success();
    let table = folder.path().join("drops.csv");
    std::fs::write(&table, "diameter [um]\n25.1\n24.9\n25.3\n24.8\n").unwrap();
    let broken = folder.path().join("broken.toml");
    std::fs::write(&broken, "layout = \"pendant\"\n").unwrap();
    let of = |arguments: &[&str], file: Option<&std::path::Path>, code: i32| {
        let mut command = slenderjet();
        command.args(arguments).args(file);
        let out = command.arg("--json").assert().code(code);
        let told: serde_json::Value = serde_json::from_slice(&out.get_output().stdout).unwrap();
        crate::common::follows_schema(arguments[0], &out.get_output().stdout);
        assert_eq!(told["version"], env!("CARGO_PKG_VERSION"), "{arguments:?}");
        told["schema"].as_str().unwrap_or_else(|| panic!("{arguments:?}: {told}")).to_owned()
    };
    let few = ["--set", "run.drops=2", "--set", "run.accuracy=coarse", "-q"];
    assert_eq!(of(&["example"], None, 0), "slenderjet-example-list-1");
    assert_eq!(of(&["example", "jet"], None, 0), "slenderjet-example-1");
    assert_eq!(of(&["example", "--keys"], None, 0), "slenderjet-example-keys-1");
    assert_eq!(of(&["example", "jet", "-o"], Some(&folder.path().join("jet.toml")), 0), "slenderjet-example-file-1");
    assert_eq!(of(&["schema"], None, 0), "slenderjet-schema-1");
    assert_eq!(of(&["liquids"], None, 0), "slenderjet-liquids-1");
    assert_eq!(of(&["growth"], Some(&tap), 0), "slenderjet-growth-1");
    assert_eq!(of(&["spread"], Some(&table), 0), "slenderjet-spread-1");
    assert_eq!(of(&["check"], Some(&broken), 2), "slenderjet-check-refused-1");
    assert_eq!(of(&[&["check"], &few[..]].concat(), Some(&tap), 0), "slenderjet-check-1");
    assert_eq!(of(&[&["run"], &few[..]].concat(), Some(&tap), 0), "slenderjet-run-3");
    let record = folder.path().join("run.h5");
    assert_eq!(of(&[&["run", "-o", record.to_str().unwrap()], &few[..]].concat(), Some(&tap), 0), "slenderjet-run-3");
    let page = folder.path().join("page.html");
    assert_eq!(of(&["report", "-o", page.to_str().unwrap()], Some(&record), 0), "slenderjet-report-1");
    let surfaces = folder.path().join("run.vtkhdf");
    assert_eq!(of(&["export", "-o", surfaces.to_str().unwrap()], Some(&record), 0), "slenderjet-export-1");
    let strip = folder.path().join("strip.svg");
    assert_eq!(of(&["figure", "strip", "-o", strip.to_str().unwrap()], Some(&record), 0), "slenderjet-figure-1");
}

#[test]
fn a_schema_of_no_command_is_refused_with_those_there_are() {
    slenderjet()
        .args(["schema", "figur"])
        .assert()
        .code(2)
        .stderr(contains("did you mean `figure`?").and(contains("calibrate")));
    let told = slenderjet().args(["schema", "map"]).assert().success();
    let schema: serde_json::Value = serde_json::from_slice(&told.get_output().stdout).unwrap();
    assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
    assert_eq!(schema["oneOf"].as_array().unwrap().len(), 2);
}
