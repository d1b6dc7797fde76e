//! `figure` and `report` as typed at the keyboard, on a short run of an example case.

use crate::drawn;
use assert_cmd::Command;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

fn slenderjet(folder: &Path) -> Command {
    let mut command = Command::cargo_bin("slenderjet").unwrap();
    command.current_dir(folder).env("NO_COLOR", "1");
    command
}

/// A folder with `run.h5`, made once.
fn bench() -> &'static PathBuf {
    static BENCH: OnceLock<PathBuf> = OnceLock::new();
    BENCH.get_or_init(|| {
        let folder = drawn::folder("figures_cli");
        slenderjet(&folder).args(["example", "jet", "--force", "-o", "jet.toml"]).assert().success();
        let short = ["run", "jet.toml", "--drops", "4", "-o", "run.h5", "-q", "--force"];
        slenderjet(&folder).args(short).assert().success();
        folder
    })
}

fn refused(args: &[&str], words: &[&str]) {
    let done = slenderjet(bench()).args(args).assert().code(2);
    let text = String::from_utf8_lossy(&done.get_output().stderr).into_owned();
    for word in words {
        assert!(text.contains(word), "{args:?} says {text}");
    }
    assert!(!text.contains("panicked"), "{text}");
}

#[test]
fn the_two_panel_figure_of_the_readme_comes_out() {
    let folder = bench();
    let args = ["figure", "--panels", "strip,neck", "run.h5", "-o", "figure.pdf", "--data", "numbers.csv", "--json"];
    let done = slenderjet(folder).args(args).assert().success();
    let told: serde_json::Value = serde_json::from_slice(&done.get_output().stdout).unwrap();
    assert_eq!(told["panels"], serde_json::json!(["strip", "neck"]));
    assert_eq!(told["files"], serde_json::json!(["figure.pdf", "numbers-a-strip.csv", "numbers-b-neck.csv"]));
    assert_eq!(told["width_mm"], 170.0);
    assert!(fs::read(folder.join("figure.pdf")).unwrap().starts_with(b"%PDF"));
    let csv = fs::read_to_string(folder.join("numbers-b-neck.csv")).unwrap();
    assert!(csv.starts_with("pinch,time_s,time_left_s,neck_radius_m\n") && csv.lines().count() > 10);
}

#[test]
fn kind_first_or_panels_alone_or_both_mean_the_same() {
    let folder = bench();
    for (i, args) in [
        vec!["figure", "strip", "run.h5", "--panels", "strip,neck"],
        vec!["figure", "--panels", "strip,neck", "run.h5"],
        vec!["figure", "strip", "run.h5", "--panels", "neck"],
    ]
    .iter()
    .enumerate()
    {
        let name = format!("same{i}.svg");
        slenderjet(folder).args(args).args(["-o", &name, "-q"]).assert().success().stdout("").stderr("");
    }
    let body = |i: usize| {
        let svg = fs::read_to_string(folder.join(format!("same{i}.svg"))).unwrap();
        svg.split_once("</style>").unwrap().1.to_owned()
    };
    assert!(body(0) == body(1) && body(1) == body(2));
}

#[test]
fn wishes_on_the_command_line_reach_the_figure() {
    let folder = bench();
    let at = ["figure", "strip", "run.h5", "--at", "0.2 ms,1 ms", "--width", "85", "-o", "at.png", "--json"];
    let done = slenderjet(folder).args(at).assert().success();
    let told: serde_json::Value = serde_json::from_slice(&done.get_output().stdout).unwrap();
    assert_eq!(told["width_mm"], 85.0);
    fs::write(folder.join("points.csv"), "wavenumber,growth_rate\n0.5,0.2\n").unwrap();
    let growth = ["figure", "growth", "run.h5", "--points", "points.csv", "-o", "growth.svg", "--data", "growth.csv"];
    slenderjet(folder).args(growth).assert().success();
    assert!(fs::read_to_string(folder.join("growth.csv")).unwrap().contains("measured"));
    let json = slenderjet(folder).args(["growth", "jet.toml", "--json", "-o", "rates.pdf"]).assert().success();
    fs::write(folder.join("growth.json"), &json.get_output().stdout).unwrap();
    slenderjet(folder).args(["figure", "growth", "growth.json", "-o", "again.pdf"]).assert().success();
    assert!(folder.join("rates.pdf").exists());
}

#[test]
fn bad_usage_is_told_with_a_way_out() {
    refused(&["figure", "stripes", "run.h5", "-o", "a.pdf"], &["stripes", "strip, spacetime, neck"]);
    refused(&["figure", "run.h5", "-o", "a.pdf"], &["say first what to draw", "figure strip run.h5"]);
    refused(&["figure", "strip", "-o", "a.pdf"], &["no file to draw from"]);
    refused(&["figure", "strip", "run.h5", "-o", "a.docx"], &["a.docx", ".pdf, .svg or .png"]);
    refused(&["figure", "strip", "missing.h5", "-o", "a.pdf"], &["missing.h5"]);
    refused(&["figure", "strip", "jet.toml", "-o", "a.pdf"], &["jet.toml"]);
    refused(&["figure", "map", "run.h5", "-o", "a.pdf"], &["drawn from a map", "record of a run"]);
    refused(&["figure", "strip", "run.h5", "run.h5", "-o", "a.pdf"], &["only `compare`"]);
    refused(&["figure", "compare", "run.h5", "-o", "a.pdf"], &["two runs or more"]);
    refused(&["figure", "strip", "run.h5", "--width", "7", "-o", "a.pdf"], &["85 and 170"]);
    refused(&["figure", "strip", "run.h5", "--at", "soon", "-o", "a.pdf"], &["soon"]);
    refused(&["figure", "--panels", "strip,nick", "run.h5", "-o", "a.pdf"], &["nick"]);
    refused(&["figure", "strip", "run.h5", "-o", "no/such/folder/a.pdf"], &["no/such/folder/a.pdf"]);
    refused(&["report", "run.h5", "-o", "a.txt"], &["ends in .html"]);
    refused(&["report", "jet.toml", "-o", "a.html"], &["jet.toml"]);
}

#[test]
fn a_report_is_written_whole() {
    let folder = bench();
    slenderjet(folder).args(["report", "run.h5", "-o", "report.html", "-q"]).assert().success().stdout("").stderr("");
    let html = fs::read_to_string(folder.join("report.html")).unwrap();
    assert!(html.starts_with("<!DOCTYPE html>") && html.trim_end().ends_with("</html>"));
    assert!(html.contains("watering rose") && html.contains("slenderjet run jet.toml --drops 4"));
    slenderjet(folder).args(["report", "run.h5", "run.h5", "-o", "two.html", "--json"]).assert().success();
    // In a folder of its own, where no other test is writing: nothing but the page is left.
    let own = folder.join("alone");
    fs::create_dir_all(&own).unwrap();
    slenderjet(&own).args(["report", "../run.h5", "-o", "page.html", "-q"]).assert().success();
    let left: Vec<_> = fs::read_dir(&own).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    assert_eq!(left, ["page.html"]);
}

#[test]
fn measured_drops_become_a_histogram() {
    let folder = bench();
    let rows: String = (0..40).map(|i| format!("{},{}\n", i, 80.0 + 0.3 * f64::from(i % 7))).collect();
    fs::write(folder.join("measured.csv"), format!("drop,diameter_um\n{rows}")).unwrap();
    slenderjet(folder).args(["spread", "measured.csv", "-o", "measured.pdf", "-q"]).assert().success();
    assert!(fs::read(folder.join("measured.pdf")).unwrap().starts_with(b"%PDF"));
}

#[test]
fn cases_compared_become_a_figure() {
    let folder = bench();
    let short = |name: &str| {
        let path = folder.join(format!("short-{name}.toml"));
        slenderjet(folder).args(["example", name, "--force", "-o"]).arg(&path).assert().success();
        let text = fs::read_to_string(&path).unwrap();
        let text: String = text.lines().filter(|l| !l.starts_with("drops")).map(|l| format!("{l}\n")).collect();
        fs::write(&path, text.replace("[run]", "[run]\ndrops = 3")).unwrap();
        format!("short-{name}.toml")
    };
    let args = ["compare", &short("tap"), &short("jet"), "--no-margins", "-o", "compared.pdf", "-q"];
    slenderjet(folder).args(args).assert().success();
    assert!(fs::read(folder.join("compared.pdf")).unwrap().starts_with(b"%PDF"));
}
