//! `example`, `check` and `liquids` from the outside.

use assert_cmd::Command;
use serde_json::Value;
use std::fs;

fn slenderjet() -> Command {
    let mut command = Command::cargo_bin("slenderjet").expect("the binary");
    command.env("COLUMNS", "80").env_remove("NO_COLOR");
    command
}

fn json(args: &[&str]) -> Value {
    let out = slenderjet().args(args).arg("--json").assert().success();
    serde_json::from_slice(&out.get_output().stdout).expect("one JSON object and nothing else")
}

const NAMES: [&str; 8] = ["coflow", "counterflow", "tap", "segment", "jet", "tenmicron", "surfactant", "polymer"];

#[test]
fn examples_are_listed_written_and_not_overwritten() {
    let listed = json(&["example"]);
    let names: Vec<&str> =
        listed["examples"].as_array().expect("a list").iter().filter_map(|e| e["name"].as_str()).collect();
    assert_eq!(names, NAMES);
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("mine.toml");
    let file = path.to_str().expect("a path");
    slenderjet().args(["example", "coflow", "-o", file]).assert().success().stdout("");
    let written = fs::read_to_string(&path).expect("a file");
    slenderjet().args(["example", "coflow"]).assert().success().stdout(written.clone());
    // The same again changes nothing; a file that was edited is kept.
    slenderjet().args(["example", "coflow", "-o", file]).assert().success();
    fs::write(&path, "mine").expect("edited");
    let refused = slenderjet().args(["example", "coflow", "-o", file]).assert().code(2);
    assert!(String::from_utf8_lossy(&refused.get_output().stderr).contains("--force"));
    assert_eq!(fs::read_to_string(&path).expect("a file"), "mine");
    slenderjet().args(["example", "coflow", "-o", file, "--force"]).assert().success();
    assert_eq!(fs::read_to_string(&path).expect("a file"), written);
    let unknown = slenderjet().args(["example", "coflwo"]).assert().code(2);
    assert!(String::from_utf8_lossy(&unknown.get_output().stderr).contains("did you mean `coflow`?"));
}

#[test]
fn every_example_is_checked_in_text_and_json_and_ends_with_its_cautions() {
    let folder = tempfile::tempdir().expect("a folder");
    for name in NAMES {
        let path = folder.path().join(format!("{name}.toml"));
        let file = path.to_str().expect("a path");
        slenderjet().args(["example", name, "-q", "-o", file]).assert().success().stderr("");
        let told = json(&["check", file]);
        assert_eq!((&told["valid"], &told["layout"]), (&Value::Bool(true), &told["layout"]), "{name}");
        for key in ["ohnesorge", "bond", "weber_inner", "reynolds_inner"] {
            assert!(told["groups"][key].is_number(), "{name}: {key}");
        }
        assert!(told["inputs"].as_array().is_some_and(|list| list.len() > 3));
        let text = slenderjet().args(["check", file]).assert().success();
        let text = String::from_utf8_lossy(&text.get_output().stdout).into_owned();
        assert!(!text.contains('\u{1b}') && !text.to_lowercase().contains("safe "), "{name}");
        if name != "segment" {
            for key in [
                "/pressure/inner_pa",
                "/settling/tau_s",
                "/camera/frames_per_s",
                "/hours_per_ml",
                "/jet/plug_m",
                "/jet/developed_m",
            ] {
                assert!(told.pointer(key).and_then(Value::as_f64).is_some_and(|x| x > 0.0), "{name}: {key}");
            }
            assert!(told["expected"]["text"].as_str().is_some_and(|t| t.contains("estimate")), "{name}");
            assert!(text.contains("Cautions") && text.contains("not a rating") && text.contains("eye protection"));
        }
    }
}

/// 1 mL takes 66 to 20 h at 15 to 51 uL/h (worked example, own), and both answers on the jet's diameter stand side by side.
#[test]
fn worked_example_of_the_ten_micron_orifice() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("ten.toml");
    let file = path.to_str().expect("a path");
    slenderjet().args(["example", "tenmicron", "-o", file]).assert().success();
    let text = fs::read_to_string(&path).expect("a file");
    for (flow, hours) in [("15 uL/h", 66.7), ("51 uL/h", 19.6)] {
        fs::write(&path, text.replacen("\"20 uL/h\"", &format!("\"{flow}\""), 1)).expect("written");
        let told = json(&["check", file]);
        assert!((told["hours_per_ml"].as_f64().expect("hours") / hours - 1.0).abs() < 0.01);
    }
    fs::write(&path, &text).expect("written");
    let told = json(&["check", file]);
    let (plug, developed) = (told["jet"]["plug_m"].as_f64(), told["jet"]["developed_m"].as_f64());
    // D sqrt(Q_i/Q_T) = 16 um sqrt(20/80); exact core-annular flow at ratio 0.8 and flows as 1 to 3: D sqrt(20/(80 + sqrt(5100)))
    assert!((plug.expect("plug") / 8.0e-6 - 1.0).abs() < 1e-3);
    assert!((developed.expect("developed") / 5.8150e-6 - 1.0).abs() < 1e-3, "{developed:?}");
    let codes: Vec<&str> =
        told["warnings"].as_array().expect("a list").iter().filter_map(|w| w["code"].as_str()).collect();
    // the slope of the funnel is a limit of closures
    assert!(!codes.contains(&"wall_slope") && codes.contains(&"surfactant_age"), "{codes:?}");
}

#[test]
fn a_malformed_case_ends_with_2_and_says_so_in_text_and_in_data() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("bad.toml");
    let file = path.to_str().expect("a path");
    fs::write(&path, "layout = \"coflow\"\n[inner]\nflow = 150\n").expect("written");
    let text = slenderjet().args(["check", file]).assert().code(2).stdout("");
    let stderr = String::from_utf8_lossy(&text.get_output().stderr).into_owned();
    assert!(
        stderr.contains("bad.toml:3:8") && stderr.contains("has no unit") && !stderr.contains('\u{1b}'),
        "{stderr}"
    );
    let data = slenderjet().args(["check", file, "--json"]).assert().code(2);
    let told: Value = serde_json::from_slice(&data.get_output().stdout).expect("one JSON object");
    assert_eq!(told["valid"], Value::Bool(false));
    assert!(told["problems"].as_array().is_some_and(|list| list.len() >= 4));
    slenderjet().args(["check", "no/such/file.toml"]).assert().code(2);
    slenderjet().args(["check"]).assert().code(2);
}

#[test]
fn liquids_tell_source_range_and_status() {
    let all = json(&["liquids"]);
    let liquids = all["liquids"].as_array().expect("a list");
    assert!(
        liquids.len() > 15
            && liquids
                .iter()
                .all(|l| l["source"].is_string() && l["status"].is_string() && l["range_k"][1].is_number())
    );
    assert!(all["interfaces"].as_array().is_some_and(|list| list.len() > 10));
    let water = json(&["liquids", "water", "--at", "20 degC"]);
    // IAPWS: 1.0016 mPa.s
    assert!((water["liquids"][0]["viscosity_pa_s"].as_f64().expect("a number") / 1.0016e-3 - 1.0).abs() < 1e-3);
    for args in [
        vec!["liquids", "unobtainium"],
        vec!["liquids", "water", "--at", "150 degC"],
        vec!["liquids", "water", "--at", "20"],
    ] {
        slenderjet().args(args).assert().code(2).stdout("");
    }
}

#[test]
fn surfactants_tell_the_keys_that_a_case_takes() {
    let all = json(&["liquids"]);
    assert!(
        all["surfactants"]
            .as_array()
            .is_some_and(|list| list.len() > 10 && list.iter().all(|s| s["source"].is_string()))
    );
    assert!(json(&["liquids", "SDS"])["surfactants"][0]["affinity_m3_per_mol"].is_null());
    assert!(json(&["liquids", "C12E8"])["surfactants"][0]["diffusivity_m2_per_s"].is_null());
    let told = json(&["liquids", "C14E8"])["surfactants"][0].clone();
    let of = |key: &str| told[key].as_f64().expect("a number");
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("tap.toml");
    let file = file.to_str().expect("a name");
    slenderjet().args(["example", "tap", "-o", file]).assert().success();
    let keys = [
        "surfactant.kind=\"dissolved\"".to_owned(),
        "surfactant.phase=\"inner\"".to_owned(),
        "surfactant.concentration=\"0.005 mol/m3\"".to_owned(),
        format!("surfactant.saturation=\"{:e} mol/m2\"", of("saturation_mol_per_m2")),
        format!("surfactant.affinity=\"{} m3/mol\"", of("affinity_m3_per_mol")),
        format!("surfactant.diffusivity=\"{:e} m2/s\"", of("diffusivity_m2_per_s")),
    ];
    let set = keys.iter().flat_map(|key| ["--set", key]);
    slenderjet().args(["check", file]).args(set).assert().success();
    slenderjet().args(["liquids", "Span 80"]).assert().code(2).stdout("");
}
