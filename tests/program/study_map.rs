//! Maps from the outside: shards, merging, killing, going on, refusing. A dripping tap, because it is quick.

use super::bench::{slenderjet, with_tap};
use assert_cmd::Command;
use std::path::Path;
use std::process::{Command as Process, Stdio};
use std::time::{Duration, Instant};

const VARY: [&str; 4] = ["--vary", "inner.flow=2..20 mL/min/4log", "--vary", "interface.tension=40..72 mN/m/3"];

fn map(folder: &Path, more: &[&str]) -> Command {
    let mut command = slenderjet(folder);
    command.args(["map", "tap.toml", "--drops", "3"]).args(VARY).args(more);
    command
}

fn bytes(folder: &Path, name: &str) -> Vec<u8> {
    std::fs::read(folder.join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

#[test]
fn shards_merge_to_the_bytes_of_an_unsharded_map_whatever_the_threads() {
    let folder = with_tap();
    let at = folder.path();
    map(at, &["-o", "map.h5", "--threads", "2", "-q"]).assert().success();
    let missing = |files: &[&str]| {
        let out = slenderjet(at).args(["map", "missing"]).args(files).output().expect("an answer");
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8_lossy(&out.stdout).trim().to_string()
    };
    let merge = |names: &[&str]| {
        let mut command = slenderjet(at);
        command.args(["map", "merge", "-o", "merged.h5", "-q"]).args(names);
        command
    };
    slenderjet(at).args(["map", "missing", "part.h5"]).assert().code(2);
    assert_eq!(missing(&["part.h5", "--of", "3"]), "1-3");
    map(at, &["--shard", "3/3", "-o", "part.3-of-3.h5", "--threads", "1", "-q"]).assert().success();
    map(at, &["--shard", "1/3", "-o", "part.1-of-3.h5", "-q"]).assert().success();
    assert_eq!(missing(&["part.h5"]), "2");
    assert_eq!(missing(&["part.1-of-3.h5", "part.3-of-3.h5"]), "2");
    merge(&["part.1-of-3.h5", "part.3-of-3.h5"]).assert().code(2);
    assert!(!at.join("merged.h5").exists());
    map(at, &["--shard", "2/3", "-o", "part.2-of-3.h5", "-q"]).assert().success();
    assert_eq!(missing(&["part.h5"]), "");
    merge(&["part.2-of-3.h5", "part.3-of-3.h5", "part.1-of-3.h5"]).assert().success();
    assert!(bytes(at, "map.h5") == bytes(at, "merged.h5"), "merged and whole differ");
    // A foreign shard: one more drop a run.
    let mut foreign = slenderjet(at);
    foreign.args(["map", "tap.toml", "--drops", "4", "--shard", "2/3", "-o", "foreign.h5", "-q"]).args(VARY);
    foreign.assert().success();
    merge(&["part.1-of-3.h5", "foreign.h5", "part.3-of-3.h5"]).assert().code(2);
    slenderjet(at).args(["map", "missing", "part.1-of-3.h5", "foreign.h5"]).assert().code(2);
    // A damaged one counts as missing and is never merged.
    let mut damaged = bytes(at, "part.2-of-3.h5");
    let middle = damaged.len() / 2;
    damaged[middle] ^= 1;
    std::fs::write(at.join("part.2-of-3.h5"), damaged).expect("written");
    assert_eq!(missing(&["part.h5"]), "2");
    assert!(
        !merge(&["part.1-of-3.h5", "part.2-of-3.h5", "part.3-of-3.h5"]).output().expect("an answer").status.success()
    );
}

#[test]
fn a_killed_map_goes_on_and_ends_in_the_same_bytes() {
    let folder = with_tap();
    let at = folder.path();
    map(at, &["-o", "whole.h5", "-q"]).assert().success();
    let rows = at.join("map.h5.rows");
    let program = assert_cmd::cargo::cargo_bin("slenderjet");
    let mut child = Process::new(program)
        .current_dir(at)
        .args(["map", "tap.toml", "--drops", "3", "-o", "map.h5", "--threads", "1"])
        .args(VARY)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("started");
    let began = Instant::now();
    let kept = || std::fs::read_to_string(&rows).map_or(0, |text| text.lines().count());
    while kept() < 4 && began.elapsed() < Duration::from_secs(120) {
        std::thread::sleep(Duration::from_millis(5));
    }
    child.kill().expect("killed");
    child.wait().expect("reaped");
    assert!(kept() >= 4 && !at.join("map.h5").exists(), "killed too late to tell anything");
    // A torn last line, as a power cut leaves it.
    let mut text = std::fs::read(&rows).expect("rows");
    text.extend(b"{\"index\":3,\"values\":[");
    std::fs::write(&rows, text).expect("torn");
    let again = map(at, &["-o", "map.h5"]).output().expect("an answer");
    let told = String::from_utf8_lossy(&again.stderr).to_string();
    assert!(again.status.success() && told.contains("going on: "), "{told}");
    assert!(bytes(at, "map.h5") == bytes(at, "whole.h5"));
    assert!(!rows.exists());
    let third = map(at, &["-o", "map.h5"]).output().expect("an answer");
    assert!(String::from_utf8_lossy(&third.stderr).contains("complete already"));
}

#[test]
fn a_cell_that_cannot_be_is_a_row_with_its_reason_and_csv_and_json_agree() {
    let folder = with_tap();
    let at = folder.path();
    // A bore of 3 m is out of the range that a case file may have.
    let args = [
        "map",
        "tap.toml",
        "--drops",
        "3",
        "--vary",
        "device.tip_bore=2..3000 mm/2",
        "--json",
        "--csv",
        "map.csv",
        "-q",
    ];
    let out = slenderjet(at).args(args).output().expect("an answer");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    crate::common::follows_schema("map", &out.stdout);
    let object: serde_json::Value = serde_json::from_slice(&out.stdout).expect("one object");
    let rows = object["rows"].as_array().expect("rows");
    assert_eq!((rows.len(), &rows[0]["status"], &rows[1]["status"]), (2, &"done".into(), &"failed".into()));
    assert!(rows[1]["reason"].as_str().is_some_and(|r| r.contains("tip_bore")), "{}", rows[1]);
    assert!(rows[0]["device.tip_bore"] == 2e-3 && rows[1]["mean_diameter_m"].is_null());
    let csv = String::from_utf8(bytes(at, "map.csv")).expect("text");
    assert_eq!(csv.lines().count(), 3, "{csv}");
}

#[test]
fn wrong_ranges_are_refused_with_a_way_out() {
    let folder = with_tap();
    for (vary, hint) in [
        ("inner.flow=1..2/3", "has no unit"),
        ("inner.flw=1..2 mL/h/3", "did you mean `inner.flow`"),
        ("inner.flow=1..2 mN/m/3", "volume flow"),
        ("inner.flow=2..2 mL/h/3", "equal ends"),
        ("inner.flow=0..2 mL/h/3log", "above zero"),
        ("title=1..2/3", "words"),
        ("outer.flow=1..2 mL/h/3", "no key"),
        ("nonsense", "KEY=FROM..TO"),
    ] {
        let out = slenderjet(folder.path()).args(["map", "tap.toml", "--vary", vary]).output().expect("an answer");
        let told = String::from_utf8_lossy(&out.stderr).to_string();
        assert!(out.status.code() == Some(2) && told.contains(hint), "{vary}: {told}");
    }
    slenderjet(folder.path()).args(["map", "tap.toml"]).assert().code(2);
}

#[test]
fn a_value_out_of_range_is_told_as_it_was_typed() {
    let folder = with_tap();
    for (vary, told) in [
        ("inner.flow=-50,-20.5 mL/h", ["`-50 mL/h` is out of range", "`-20.5 mL/h` is out of range"]),
        ("inner.flow=-60..-20 L/day/2", ["`-60 L/day` is out of range", "`-20 L/day` is out of range"]),
        ("inner.viscosity=0,2e12 cSt", ["`0 cSt` is out of range", "`2e12 cSt` is out of range"]),
        ("interface.tension=-1..-0.3 dyn/cm/2log", ["both ends above zero", ""]),
    ] {
        let out = slenderjet(folder.path()).args(["map", "tap.toml", "--vary", vary]).output().expect("an answer");
        let both = String::from_utf8_lossy(&out.stderr).to_string() + &String::from_utf8_lossy(&out.stdout);
        let flat = both.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(told.iter().all(|told| flat.contains(told)), "{vary}: {both}");
        assert!(!flat.contains("m3/s` is") && !flat.contains("Pa.s` is"), "{vary}: {both}");
    }
}

#[test]
fn the_border_comes_out_closed_or_says_that_it_lies_outside() {
    let folder = with_tap();
    let args = [
        "map",
        "tap.toml",
        "--drops",
        "3",
        "--border",
        "--json",
        "-q",
        "-o",
        "map.h5",
        "--vary",
        "inner.flow=5..20 mL/min/2",
    ];
    let out = slenderjet(folder.path()).args(args).output().expect("an answer");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let object: serde_json::Value = serde_json::from_slice(&out.stdout).expect("one object");
    assert_eq!(object["border"], serde_json::json!([]), "both ends of this range drip");
}

// A simulated border, not an invented one: more inner flow turns a dripping co-flow to jetting.
#[test]
fn the_border_of_a_simulated_co_flow_is_closed_to_two_percent_and_its_sides_differ_when_run() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    slenderjet(at).args(["example", "coflow", "-o", "coflow.toml", "-q"]).assert().success();
    let coflow = |more: &[&str]| {
        let mut command = slenderjet(at);
        command.args(["map", "coflow.toml", "--drops", "4", "--vary", "inner.flow=30..600 uL/h/2log", "-q"]).args(more);
        command
    };
    let out = coflow(&["--border", "--json", "-o", "map.h5", "--csv", "map.csv"]).output().expect("an answer");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let object: serde_json::Value = serde_json::from_slice(&out.stdout).expect("one object");
    let point = &object["border"][0];
    assert!(
        point["closed"] == true && object["border"].as_array().is_some_and(|b| b.len() == 1),
        "{}",
        object["border"]
    );
    let [from, to] = [0, 1].map(|i| point["bracket"][i].as_f64().expect("a flow"));
    assert!(to > from && to / from < 1.0202, "{point}");
    assert!(std::fs::read_to_string(at.join("map.border.csv")).is_ok_and(|text| text.lines().count() == 2));
    let text = std::fs::read_to_string(at.join("coflow.toml")).expect("there");
    let text = text.replace("[run]", "[run]\naccuracy = \"coarse\"");
    for (flow, mode) in [(from, &point["modes"][0]), (to, &point["modes"][1])] {
        let here = text.replace("\"30 uL/h\"", &format!("\"{} uL/h\"", 3.6e12 * flow));
        assert_ne!(here, text);
        std::fs::write(at.join("side.toml"), here).expect("written");
        // uneven drops so near the border hang on the steps, and those on the even snapshots: as few as in a cell of a map
        let args = ["run", "side.toml", "--drops", "4", "--set", "run.frames=2", "--json", "-q"];
        let run = slenderjet(at).args(args).output().expect("an answer");
        let run: serde_json::Value = serde_json::from_slice(&run.stdout).expect("one object");
        assert_eq!(&run["mode"], mode, "at {flow}: {}", run["mode_evidence"]);
    }
    // In shards, merged, and only then traced: the same bytes.
    coflow(&["--shard", "1/2", "-o", "part.1-of-2.h5"]).assert().success();
    coflow(&["--shard", "2/2", "-o", "part.2-of-2.h5"]).assert().success();
    let merge = ["map", "merge", "part.1-of-2.h5", "part.2-of-2.h5", "-o", "merged.h5", "-q"];
    slenderjet(at).args(merge).assert().success();
    assert!(bytes(at, "map.h5") != bytes(at, "merged.h5"), "the border is not traced yet");
    coflow(&["--border", "-o", "merged.h5"]).assert().success();
    assert!(bytes(at, "map.h5") == bytes(at, "merged.h5"), "traced at once and traced later differ");
}

#[test]
fn cells_end_early_once_their_drops_are_alike_and_say_so() {
    let folder = with_tap();
    let mut tap = slenderjet(folder.path());
    tap.args(["map", "tap.toml", "--vary", "inner.flow=5..20 mL/min/2", "--json", "-q"]);
    let out = tap.output().expect("an answer");
    let object: serde_json::Value = serde_json::from_slice(&out.stdout).expect("one object");
    assert!(object["statistics"].as_str().is_some_and(|s| s.contains("at most")), "{}", object["statistics"]);
    let whole = map(folder.path(), &["--json", "-q"]).output().expect("an answer");
    let whole: serde_json::Value = serde_json::from_slice(&whole.stdout).expect("one object");
    assert_eq!(whole["statistics"], "3 primary drops a cell");
    for row in object["rows"].as_array().expect("rows") {
        let drops = row["settled_drops"].as_u64().expect("a count");
        assert!((3..7).contains(&drops), "a regular tap needs few drops: {row}");
        assert_eq!(row["status"], "done", "{row}");
    }
}
