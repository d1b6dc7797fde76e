//! The paths of the cookbook, typed as they stand there (at `coarse` with few drops, so that they take seconds): from a wish to glass, and
//! from measured drops to a corrected prediction.

use super::bench::json;
use std::fs;
use std::path::Path;
use std::process::Command;

const COOKBOOK: &str = include_str!("../../docs/book/cookbook.md");

/// What stands behind a heading, up to the next one.
fn section(heading: &str) -> &'static str {
    let from = COOKBOOK.find(heading).expect("the heading");
    let rest = &COOKBOOK[from + heading.len()..];
    rest.split("\n## ").next().expect("a section")
}

/// The fenced blocks of a section that begin with this fence.
fn blocks(section: &str, fence: &str) -> Vec<String> {
    let fence = format!("\n{fence}\n");
    let behind = section.split(&fence).skip(1);
    behind.map(|text| text.split("\n```").next().expect("its end").to_owned() + "\n").collect()
}

/// Types lines into a shell that finds the program.
fn typed(folder: &Path, lines: &str) {
    let program = Path::new(env!("CARGO_BIN_EXE_slenderjet")).parent().expect("its folder");
    let path = format!("{}:{}", program.display(), std::env::var("PATH").unwrap_or_default());
    let mut shell = Command::new("sh");
    let out = shell.args(["-euc", lines]).current_dir(folder).env("PATH", path).output().expect("a shell");
    assert!(out.status.success(), "{lines}: {}", String::from_utf8_lossy(&out.stderr));
}

/// Types a block; the case that its first line writes is made cheap before the others.
fn walked(folder: &Path, block: &str, case: &str) {
    let (first, others) = block.split_once('\n').expect("more than one command");
    assert!(first.starts_with("slenderjet example"), "{first}");
    assert_eq!(others.lines().count(), 3, "the four commands of the path: {block}");
    typed(folder, first);
    let text = fs::read_to_string(folder.join(case)).expect("written");
    let cheap = text.replace("drops = 10", "drops = 6\naccuracy = \"coarse\"");
    assert_ne!(cheap, text);
    fs::write(folder.join(case), cheap).expect("written");
    typed(folder, others);
}

#[test]
fn from_a_wish_to_glass_flows_and_tolerances_in_four_commands() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    let blocks = blocks(section("## From a wish to glass, flows and tolerances"), "```sh");
    walked(at, &blocks[0], "wish.toml");
    let run = json(at, &["run", "glass.toml"]);
    let diameter = run["primary"]["mean_diameter_m"].as_f64().expect("drops");
    assert!((diameter / 150e-6 - 1.0).abs() < 0.02, "{diameter}");
    assert!(at.join("glass.h5").exists());
}

#[test]
fn from_measured_drops_to_a_corrected_prediction_in_four_commands() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    let section = section("## From six measured drops to a corrected prediction");
    // The table stands in the first block without a language.
    fs::write(at.join("six.csv"), &blocks(section, "```")[0]).expect("written");
    walked(at, &blocks(section, "```sh")[0], "bench.toml");
    let size = |case: &str| {
        let run = json(at, &["run", case]);
        let [low, high] = ["low_m", "high_m"].map(|end| run["size"][end].as_f64().expect("an interval"));
        (high - low) / (high + low)
    };
    let (before, after) = (size("bench.toml"), size("corrected.toml"));
    assert!(after < 0.8 * before, "the interval of a bench drop shrinks: {before} to {after}");
    // The hidden tension of the invented table.
    let checked = json(at, &["check", "corrected.toml"]);
    let inputs = checked["inputs"].as_array().expect("inputs");
    let tension = inputs.iter().find(|i| i["key"] == "interface.tension").expect("there");
    let [value, tolerance] = ["si", "tolerance"].map(|k| tension[k].as_f64().expect("a number"));
    assert!((value / 6.4e-3 - 1.0).abs() < tolerance, "{tension}");
    assert!(at.join("rows.png").exists());
}
