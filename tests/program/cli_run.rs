//! `run` from the outside: a case file in; a summary, a record and an exit code out.

use assert_cmd::Command;
use predicates::prelude::*;
use predicates::str::{contains, is_empty};
use serde_json::Value;
use slenderjet::outcome::Stopped;
use slenderjet::record;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// A dripping nozzle (Oh 0.1, Bo 0.5, We 1e-3) with an invented liquid, coarse so that it is quick.
const TAP: &str = r#"
title = "Invented tap for a test"
layout = "pendant"

[inner]
viscosity = "23.9 mPa.s"
density = "1000 kg/m3"
flow = "122 mL/h"

[interface]
tension = "40 mN/m"

[device]
tip_bore = "2.856 mm"

[gravity]
along = "down"

[forcing]
noise = "0.2 %"
seed = 7

[run]
drops = 4
accuracy = "coarse"
frames = 60
"#;

struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    fn new() -> Bench {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("tap.toml"), TAP).unwrap();
        Bench { folder }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(self.folder.path())
            .unwrap()
            .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    fn run(&self, arguments: &[&str]) -> Command {
        let mut command = Command::cargo_bin("slenderjet").unwrap();
        command.current_dir(self.folder.path()).env("COLUMNS", "80").args(["run", "tap.toml"]).args(arguments);
        command
    }

    fn started(&self, arguments: &[&str]) -> std::process::Child {
        std::process::Command::new(assert_cmd::cargo::cargo_bin("slenderjet"))
            .current_dir(self.folder.path())
            .args(["run", "tap.toml"])
            .args(arguments)
            .stdout(std::process::Stdio::piped())
            .stderr(std::process::Stdio::piped())
            .spawn()
            .unwrap()
    }

    /// Waits until the first part of a record is on disk.
    fn wait_for_a_part(&self, record: &str) {
        let part = self.path(&format!("{record}.parts/00000.h5"));
        for _ in 0..2000 {
            if part.exists() {
                return;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        panic!("no part was written");
    }
}

/// All of a record but its provenance and wall-clock time, to compare runs with.
fn reproducible(path: &Path) -> record::Recorded {
    let mut recorded = record::read(path).unwrap();
    recorded.summary.provenance = Default::default();
    recorded.summary.cost.wall_s = 0.0;
    recorded
}

#[test]
fn a_run_tells_and_records_what_happened() {
    let bench = Bench::new();
    bench
        .run(&["-o", "run.h5"])
        .assert()
        .success()
        .stdout(contains("In short").and(contains("primary")).and(contains("\u{1b}").not()))
        .stderr(contains("record written to run.h5"));
    assert_eq!(bench.names(), ["run.h5", "tap.toml"]);
    let recorded = record::read(&bench.path("run.h5")).unwrap();
    assert_eq!(recorded.case_text, TAP);
    assert_eq!(recorded.summary.stopped, Stopped::DropsReached);
    assert!(recorded.summary.provenance.command.ends_with("run tap.toml -o run.h5"));
    let even = recorded.frames.iter().filter(|f| f.moment == slenderjet::outcome::Moment::Even).count();
    assert!((30..=60).contains(&even) && recorded.frames.len() > even, "{even} of {}", recorded.frames.len());
    assert!(!recorded.necks.is_empty() && !recorded.pinch_offs.is_empty());
}

#[test]
fn json_is_one_object_with_the_facts_of_the_record() {
    let bench = Bench::new();
    let out = bench.run(&["-o", "run.h5", "--json"]).assert().success().get_output().stdout.clone();
    let value: Value = serde_json::from_slice(&out).unwrap();
    let keys = [
        "schema",
        "version",
        "title",
        "layout",
        "groups",
        "mode",
        "mode_evidence",
        "first_pinch",
        "drops",
        "primary",
        "satellites",
        "jet",
        "pressure",
        "error_bar",
        "conservation",
        "cost",
        "warnings",
        "cautions",
        "provenance",
    ];
    for key in keys {
        assert!(value.get(key).is_some(), "`{key}` is missing");
    }
    let kept = record::read_summary(&bench.path("run.h5")).unwrap();
    assert_eq!(serde_json::to_value(&kept).unwrap(), value);
    assert!(!String::from_utf8(out).unwrap().contains("NaN"));
}

#[test]
fn without_a_record_nothing_is_written_and_it_says_so() {
    let bench = Bench::new();
    bench.run(&["--drops", "1"]).assert().success().stdout(contains("drops")).stderr(contains("nothing was written"));
    assert_eq!(bench.names(), ["tap.toml"]);
    bench.run(&["--drops", "1", "-q"]).assert().success().stdout(is_empty()).stderr(is_empty());
}

#[test]
fn flags_override_the_case() {
    let bench = Bench::new();
    let summary = |arguments: &[&str]| -> Value {
        let out = bench.run(arguments).arg("--json").assert().success().get_output().stdout.clone();
        serde_json::from_slice(&out).unwrap()
    };
    let one = summary(&["--drops", "2"]);
    let primaries = one["drops"].as_array().unwrap().iter().filter(|d| d["kind"] == "primary").count();
    assert_eq!(primaries, 2);
    let brief = summary(&["--until", "20 ms"]);
    assert_eq!(brief["stopped"], "until");
    assert!(brief["drops"].as_array().unwrap().is_empty());
}

#[test]
fn lines_fit_the_width() {
    let bench = Bench::new();
    let out = bench.run(&["--drops", "2"]).env("COLUMNS", "64").assert().success().get_output().stdout.clone();
    for line in String::from_utf8(out).unwrap().lines() {
        assert!(line.chars().count() <= 64, "{line}");
    }
}

#[test]
#[cfg(unix)]
fn ctrl_c_closes_the_record_and_resume_makes_it_the_same() {
    let bench = Bench::new();
    let drops = ["--drops", "200"];
    bench.run(&["-o", "whole.h5"]).args(drops).assert().success();
    let child = bench.started(&[&["-o", "run.h5"], &drops[..]].concat());
    bench.wait_for_a_part("run.h5");
    assert!(std::process::Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap().success());
    let done = child.wait_with_output().unwrap();
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_eq!(done.status.code(), Some(130), "{said}");
    assert!(said.contains("--resume"), "{said}");
    assert_eq!(bench.names(), ["run.h5", "tap.toml", "whole.h5"]);
    let so_far = record::read(&bench.path("run.h5")).unwrap();
    assert_eq!(so_far.summary.stopped, Stopped::Interrupted);
    bench.run(&["-o", "run.h5", "--resume"]).args(drops).assert().success().stderr(contains("resumed after"));
    assert_eq!(reproducible(&bench.path("run.h5")), reproducible(&bench.path("whole.h5")));
    bench.run(&["-o", "run.h5", "--resume"]).args(drops).assert().success().stderr(contains("is complete"));
    let kept = fs::read(bench.path("run.h5")).unwrap();
    bench.run(&["-o", "run.h5", "--resume"]).assert().code(2).stderr(contains("with another end"));
    fs::write(bench.path("tap.toml"), TAP.replace("2.856 mm", "2.857 mm")).unwrap();
    let other = contains("another case: `device.tip_bore` is 2856 um there and 2857 um here");
    bench.run(&["-o", "run.h5", "--resume"]).args(drops).assert().code(2).stderr(other);
    assert!(fs::read(bench.path("run.h5")).unwrap() == kept, "a refused record is left as it was");
}

#[test]
#[cfg(unix)]
fn a_killed_run_is_not_overwritten_and_resumes() {
    let bench = Bench::new();
    let long = ["-o", "run.h5", "--drops", "200"];
    bench.run(&["-o", "whole.h5", "--drops", "200"]).assert().success();
    let mut child = bench.started(&long);
    bench.wait_for_a_part("run.h5");
    bench.run(&long).assert().code(2).stderr(contains("another run is writing"));
    child.kill().unwrap();
    child.wait().unwrap();
    bench.run(&long).assert().code(2).stderr(contains("--resume"));
    bench.run(&long).arg("--resume").assert().success();
    assert_eq!(reproducible(&bench.path("run.h5")), reproducible(&bench.path("whole.h5")));
    assert_eq!(bench.names(), ["run.h5", "tap.toml", "whole.h5"]);
}

#[test]
fn a_record_is_replaced_but_nothing_else_is() {
    let bench = Bench::new();
    bench.run(&["-o", "run.h5", "--drops", "1"]).assert().success();
    bench.run(&["-o", "run.h5", "--drops", "2"]).assert().success();
    bench.run(&["-o", "tap.toml"]).assert().code(2).stdout(is_empty()).stderr(contains("will not be replaced"));
    assert_eq!(fs::read_to_string(bench.path("tap.toml")).unwrap(), TAP);
    bench.run(&["-o", "none/run.h5"]).assert().code(2).stderr(contains("there is no folder"));
    bench.run(&["-o", "."]).assert().code(2).stderr(contains("is a folder"));
    if Path::new("/proc/self").exists() {
        bench.run(&["-o", "/proc/run.h5"]).assert().code(2).stderr(contains("cannot write"));
    }
}

/// A full disk in the middle of a run (here a file size limit): exit 1, a clear word, and what was there stays.
#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_is_told_and_leaves_what_was_there() {
    let bench = Bench::new();
    bench.run(&["-o", "run.h5", "--drops", "1"]).assert().success();
    let before = fs::read(bench.path("run.h5")).unwrap();
    let program = assert_cmd::cargo::cargo_bin("slenderjet");
    let line = format!("trap '' XFSZ; ulimit -f 40; exec '{}' run tap.toml -o run.h5 --drops 12", program.display());
    Command::new("bash")
        .current_dir(bench.folder.path())
        .args(["-c", &line])
        .assert()
        .code(1)
        .stderr(contains("too large").and(contains("--resume")).and(contains("panicked").not()));
    assert_eq!(fs::read(bench.path("run.h5")).unwrap(), before);
}
