//! `--set KEY=VALUE` and standard input: keys given beside a case file, checked like the file.

use assert_cmd::Command;
use predicates::prelude::*;
use slenderjet::case::examples::find;
use slenderjet::case::{Accuracy, Bore, Stop, parse, parse_with};

fn text(name: &str) -> &'static str {
    find(name).expect("an example").text
}

fn set(arguments: &[&str]) -> Vec<String> {
    arguments.iter().map(|a| (*a).to_owned()).collect()
}

#[test]
fn a_set_key_gives_the_case_that_the_same_file_with_that_line_gives() {
    let case = parse_with(
        text("coflow"),
        "coflow.toml",
        &set(&["inner.flow=33 uL/h", "run.drops = 7", "run.accuracy=coarse", "device.round_bore=1.1 mm", "title=try"]),
    )
    .unwrap_or_else(|e| panic!("{e}"));
    // 33 uL/h = 33e-9 m3 / 3600 s
    assert!((case.inner.flow / (33e-9 / 3600.0) - 1.0).abs() < 1e-12);
    assert_eq!((case.run.stop, case.run.accuracy), (Stop::Drops(7), Accuracy::Coarse));
    assert_eq!(case.device.bore, Bore::Round(1.1e-3), "it takes the place of the square bore");
    assert_eq!(case.title, "try");
    let again = parse(&case.text, "kept").unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(again, case, "the kept text says the same");
    assert!(case.text.contains("33 uL/h"), "as typed");
}

#[test]
fn keys_and_sections_that_the_file_leaves_out_are_added_and_the_last_of_equal_keys_counts() {
    let case = parse_with(
        text("coflow"),
        "c",
        &set(&[
            "forcing.noise=1 %",
            "forcing.noise=0.5 %",
            "supply.trapped_air=3 uL",
            "interface.tension='5 mN/m +- 30 %'",
        ]),
    )
    .unwrap_or_else(|e| panic!("{e}"));
    assert!((case.forcing.noise - 0.005).abs() < 1e-15);
    let tension = case.typed.iter().find(|t| t.key == "interface.tension").expect("typed");
    assert_eq!(tension.tolerance, Some(0.3));
    let kept = parse(&case.text, "kept").unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(kept.supply().trapped_air, 3e-9);
}

#[test]
fn a_file_of_inline_tables_takes_set_keys_too() {
    let inline =
        "layout = \"pendant\"\ninner = { liquid = \"water\", flow = \"1 mL/h\" }\ndevice = { tip_bore = \"1 mm\" }\n";
    let case = parse_with(inline, "c", &set(&["inner.flow=2 mL/h", "gravity.along=down", "inner.temperature=20 degC"]))
        .unwrap_or_else(|e| panic!("{e}"));
    assert!((case.inner.flow / (2e-6 / 3600.0) - 1.0).abs() < 1e-12 && case.gravity > 9.0);
    assert_eq!(parse(&case.text, "kept").unwrap_or_else(|e| panic!("{e}")), case);
}

#[test]
fn what_is_wrong_with_an_argument_is_drawn_in_the_argument_and_the_file_keeps_its_lines() {
    let wrong = |arguments: &[&str]| {
        parse_with(text("coflow"), "coflow.toml", &set(arguments)).expect_err("wrong").rendered(false)
    };
    let bare = wrong(&["inner.flow=150"]);
    assert!(bare.contains("--> --set\n") && bare.contains("1 | inner.flow=150") && bare.contains("no unit"), "{bare}");
    let slip = wrong(&["inner.flowrate=150 uL/h"]);
    assert!(slip.contains("did you mean `inner.flow`?"), "{slip}");
    let section = wrong(&["inne.flow=150 uL/h"]);
    assert!(section.contains("is no section") && section.contains("--set"), "{section}");
    assert!(wrong(&["inner.flow"]).contains("is no KEY=VALUE"));
    assert!(wrong(&["run.drops=1.5"]).contains("whole number"));
    assert!(wrong(&["device.tip_bore=30 mPa.s"]).contains("is a viscosity"));
    assert!(wrong(&["orifice_bore=1 um"]).contains("--set"));
    let two = wrong(&["inner.flow=150", "outer.flow=6"]);
    assert_eq!(two.matches("--> --set").count(), 2, "all in one go: {two}");
    // A mistake of the file itself keeps its line.
    let broken = text("coflow").replace("[interface]", "[interfase]");
    let line = broken.lines().position(|l| l.starts_with("[interfase]")).expect("there") + 1;
    let both = parse_with(&broken, "coflow.toml", &set(&["outer.flow=6"])).expect_err("wrong").rendered(false);
    assert!(both.contains(&format!("coflow.toml:{line}:")) && both.contains("--> --set"), "{both}");
}

fn slenderjet(arguments: &[&str]) -> Command {
    let mut command = Command::cargo_bin("slenderjet").expect("the program");
    command.args(arguments);
    command
}

#[test]
fn a_case_comes_through_standard_input() {
    let told =
        slenderjet(&["check", "-", "--json", "--set", "inner.flow=33 uL/h"]).write_stdin(text("coflow")).assert();
    told.success().stdout(predicate::str::contains("33 uL/h"));
    slenderjet(&["check", "-"])
        .write_stdin("layout = \"coflow\"\n")
        .assert()
        .code(2)
        .stderr(predicate::str::contains("standard input:1:"));
    slenderjet(&["growth", "-", "--set", "inner.flow=3"])
        .write_stdin(text("coflow"))
        .assert()
        .code(2)
        .stderr(predicate::str::contains("--set"));
    slenderjet(&["compare", "-", "-"])
        .write_stdin(text("coflow"))
        .assert()
        .code(2)
        .stderr(predicate::str::contains("once"));
    slenderjet(&["check", "-"]).write_stdin("").assert().code(2);
}

#[test]
fn every_command_that_runs_a_case_takes_set() {
    for command in ["run", "check", "map", "aim", "compare", "growth", "margins"] {
        slenderjet(&[command, "--help"]).assert().success().stdout(predicate::str::contains("--set <KEY=VALUE>"));
    }
}
