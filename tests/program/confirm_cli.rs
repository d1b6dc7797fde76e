//! `confirm` and `run --confirm` from the outside, on the committed row 29 of the reference program put into SI units.

use super::bench::{json, slenderjet};

/// Row 29 of validation/reference/results/coflow.csv: Ca 0.2, q 0.1, ratio 1, R_w 5 R. With R = 20 um, gamma = 5 mN/m and
/// mu = 50 mPa.s: gamma/mu = 0.1 m/s, U = 20 mm/s, Q_o = pi R_w^2 U/2, Q_i = pi R^2 q U.
fn row_29() -> String {
    let (r, wall, u) = (20e-6f64, 100e-6f64, 0.02f64);
    let outer = std::f64::consts::PI * wall * wall * u / 2.0 * 3600e9;
    let inner = std::f64::consts::PI * r * r * 0.1 * u * 3600e9;
    format!(
        "title = \"Row 29 of the reference table\"\nlayout = \"coflow\"\n\
         [inner]\nviscosity = \"50 mPa.s\"\ndensity = \"900 kg/m3\"\nflow = \"{inner} uL/h\"\n\
         [outer]\nviscosity = \"50 mPa.s\"\ndensity = \"900 kg/m3\"\nflow = \"{outer} uL/h\"\n\
         [interface]\ntension = \"5 mN/m\"\n\
         [device]\nround_bore = \"200 um\"\nround_outer = \"100 um\"\ntip_bore = \"40 um\"\n\
         [run]\ndrops = 2\naccuracy = \"coarse\"\n"
    )
}

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("row.toml"), row_29()).expect("written");
    folder
}

#[test]
fn reference_confirm_tells_the_committed_row_beside_the_models_drop() {
    let folder = folder();
    let told = json(folder.path(), &["confirm", "row.toml"]);
    assert_eq!(told["applies"], true, "{told}");
    // d/D = 1.26999, neck at 2.80376 D, t = 166.834 mu R/gamma = 2e-4 s each: columns of that row
    let drop = &told["first_drop"];
    let near = |key: &str, exact: f64, share: f64| {
        let got = drop[key].as_f64().expect("a number");
        assert!((got / exact - 1.0).abs() < share, "{key}: {got} {exact}");
    };
    near("diameter_m", 1.26999 * 40e-6, 0.01);
    near("neck_m", 2.80376 * 40e-6, 0.02);
    near("time_s", 166.834 * 2e-4, 0.02);
    let (full, ours) = (drop["diameter_m"].as_f64().expect("d"), told["reduced"]["diameter_m"].as_f64().expect("d"));
    let difference = told["difference_relative"].as_f64().expect("a number");
    assert!((difference - (ours / full - 1.0)).abs() < 1e-12);
    assert!(told["volume_relative"].as_f64().is_some_and(|v| v < 0.01));
    assert!(told["reynolds_outer"].as_f64().is_some_and(|re| (re - 900.0 * 0.02 * 20e-6 / 0.05).abs() < 1e-9));
    // 2.8 tip diameters downstream: past dripping (2), short of a jet (4)
    assert_eq!(told["mode"], "transition");
    // a run with --confirm ends on the same number, from its own first drop
    let run = json(folder.path(), &["run", "row.toml", "--confirm"]);
    assert_eq!(run["confirmed"]["first_drop"]["diameter_m"].as_f64(), Some(full), "same case, same number");
    let first = run["first_pinch"]["volume_m3"].as_f64().expect("a drop");
    let from_run = (6.0 * first / std::f64::consts::PI).cbrt() / full - 1.0;
    assert!((run["confirmed"]["difference_relative"].as_f64().expect("a number") - from_run).abs() < 1e-12);
    // that number stands in place of the error that rows of other cases tell
    let error = run["model_error"]["relative"].as_f64().expect("a number");
    assert!((error - from_run.hypot(0.01)).abs() < 1e-9, "{error} {from_run}");
    assert!(run["model_error"]["how"].as_str().is_some_and(|how| how.starts_with("confirmed: ")), "{run}");
    let page = slenderjet(folder.path()).args(["run", "row.toml", "--confirm"]).output().expect("an answer");
    let page = String::from_utf8_lossy(&page.stdout).to_string();
    assert!(page.contains(&format!("confirmed: {:+.1} %", 100.0 * from_run)), "{page}");
}

#[test]
fn confirm_declines_with_the_number_where_inertia_rules_and_says_what_it_does_not_cover() {
    let folder = folder();
    // the same case with a hundredth of the viscosities: Re 0.0072 x 1e4
    let thin = row_29().replace("\"50 mPa.s\"", "\"0.5 mPa.s\"");
    std::fs::write(folder.path().join("thin.toml"), thin).expect("written");
    let told = json(folder.path(), &["confirm", "thin.toml"]);
    assert_eq!(told["applies"], false);
    let why = told["why"].as_str().expect("why");
    assert!(why.contains("inertia rules") && (why.contains("Re = ") || why.contains("La = ")), "{why}");
    assert!(told["first_drop"].is_null() && told["difference_relative"].is_null());
    for example in ["tap", "segment"] {
        let file = format!("{example}.toml");
        slenderjet(folder.path()).args(["example", example, "-o", &file, "-q"]).assert().success();
        let told = json(folder.path(), &["confirm", &file]);
        assert!(told["applies"] == false && told["why"].as_str().is_some_and(|w| w.len() > 20), "{told}");
    }
    slenderjet(folder.path()).args(["confirm", "nowhere.toml"]).assert().code(2);
}

/// Row `device-1` of validation/reference/results/devices.csv in SI units: tip 20 and 30 um, hole 10 um wide and long, stand-off 15 um,
/// collection tube 50 um, 20 and 45 uL/h, 5 mN/m.
fn device_1(outer: &str) -> String {
    format!(
        "title = \"Row device-1 of the reference table\"\nlayout = \"counterflow\"\n\
         [inner]\nviscosity = \"0.8 mPa.s\"\ndensity = \"1000 kg/m3\"\nflow = \"20 uL/h\"\n\
         [outer]\nviscosity = \"1.0 mPa.s\"\ndensity = \"1000 kg/m3\"\nflow = \"{outer}\"\n\
         [interface]\ntension = \"5 mN/m\"\n\
         [device]\nsquare_bore = \"1.05 mm\"\nround_outer = \"1.00 mm\"\ntip_bore = \"20 um\"\ntip_outer = \"30 um\"\n\
         orifice_bore = \"10 um\"\norifice_length = \"10 um\"\nstandoff = \"15 um\"\ncollection_bore = \"50 um\"\n\
         collection_length = \"30 um\"\n[run]\ndrops = 1\naccuracy = \"coarse\"\n"
    )
}

// 13.43 um by the reference program without inertia (row device-1: 0.671367 D), 13.5 um by the full Navier-Stokes equations with a
// general flow solver (own computation, 2 % of mesh error; validation/reference/README.md).
#[test]
fn reference_confirm_tells_a_drop_through_an_orifice() {
    let folder = folder();
    std::fs::write(folder.path().join("device.toml"), device_1("45 uL/h")).expect("written");
    let told = json(folder.path(), &["confirm", "device.toml"]);
    assert_eq!(told["applies"], true, "{told}");
    let d = told["first_drop"]["diameter_m"].as_f64().expect("a drop");
    assert!((d / (0.671367 * 20e-6) - 1.0).abs() < 0.01 && (d / 13.5e-6 - 1.0).abs() < 0.02, "{d}");
    // Re = rho (Q_i + Q_o)/(pi R_h mu) of the thinner liquid
    let re = 1000.0 * 65e-9 / 3600.0 / (std::f64::consts::PI * 5e-6 * 0.8e-3);
    assert!(
        (told["reynolds_orifice"].as_f64().expect("a number") / re - 1.0).abs() < 1e-9
            && told["reynolds_outer"].is_null()
    );
    let notes = told["notes"].to_string();
    assert!(notes.contains("rounded by 0.100 of the orifice's radius"), "{notes}");
    // ten times the outer flow: inertia rules in the hole, and it says so with the number
    std::fs::write(folder.path().join("fast.toml"), device_1("450 uL/h")).expect("written");
    let told = json(folder.path(), &["confirm", "fast.toml"]);
    let why = told["why"].as_str().expect("why");
    assert!(
        told["applies"] == false && why.contains("inertia rules: Re = 10.") && why.contains("in the orifice"),
        "{why}"
    );
}

// What `-o` writes: outlines that hold the pumped volume, the last one with the neck at which the computation stops (0.03 R).
#[test]
fn confirm_keeps_outlines_pressures_and_walls() {
    let folder = folder();
    let told = json(folder.path(), &["confirm", "row.toml", "-o", "full.h5"]);
    let outlines = slenderjet::record::full::read(&folder.path().join("full.h5")).expect("readable").outlines;
    assert!(outlines.len() > 100 && outlines.windows(2).all(|w| w[1].0 > w[0].0), "{}", outlines.len());
    let (time, z, r) = outlines.last().expect("a last one");
    assert!((time / told["first_drop"]["time_s"].as_f64().expect("a time") - 1.0).abs() < 0.02);
    // frusta: pi/3 dz (a^2 + a b + b^2); Q_i as in `row_29`
    let volume: f64 = (1..z.len())
        .map(|i| std::f64::consts::PI / 3.0 * (z[i] - z[i - 1]) * (r[i].powi(2) + r[i] * r[i - 1] + r[i - 1].powi(2)))
        .sum();
    let start = 2.0 / 3.0 * std::f64::consts::PI * 20e-6f64.powi(3);
    let pumped = start + std::f64::consts::PI * 20e-6f64.powi(2) * 0.1 * 0.02 * time;
    // chords between nodes lie inside the curve that the solver integrates
    assert!(volume < pumped && volume > 0.97 * pumped, "{volume:e} {pumped:e}");
    let neck =
        (1..r.len() - 1).filter(|i| r[*i] < r[*i - 1] && r[*i] < r[*i + 1]).map(|i| r[i]).fold(f64::MAX, f64::min);
    assert!(neck < 0.031 * 20e-6, "{neck:e}");
    // the curved end alone asks for 2 gamma/R = 500 Pa when the drop is a hemisphere
    let inner = &told["pressure"]["inner_pa"];
    assert!(inner[0].as_f64() < inner[1].as_f64() && inner[1].as_f64().is_some_and(|p| p > 400.0), "{told}");
    // outlines of the same case are replaced, anything else is not
    std::fs::write(folder.path().join("notes.h5"), "kept").expect("written");
    slenderjet(folder.path()).args(["confirm", "row.toml", "-o", "notes.h5", "-q"]).assert().code(2);
    assert_eq!(std::fs::read_to_string(folder.path().join("notes.h5")).expect("there"), "kept");
    let faster = row_29().replace("\"5 mN/m\"", "\"6 mN/m\"");
    std::fs::write(folder.path().join("other.toml"), faster).expect("written");
    slenderjet(folder.path()).args(["confirm", "other.toml", "-o", "full.h5", "-q"]).assert().code(2);
    slenderjet(folder.path()).args(["confirm", "row.toml", "-o", "full.h5", "-q"]).assert().success();
}

// A confirmed run's record holds both drops: report and strip show them from that file alone, and the interval of the size in it
// stands on the difference.
#[test]
fn a_confirmed_record_shows_both_drops() {
    let folder = folder();
    let at = |name: &str| folder.path().join(name);
    let read = |name: &str| slenderjet::record::read(&at(name)).expect("readable");
    let run = json(folder.path(), &["run", "row.toml", "--confirm", "-o", "run.h5"]);
    let difference = run["confirmed"]["difference_relative"].as_f64().expect("a number");
    let record = read("run.h5");
    let full = record.full.as_ref().expect("confirmed");
    assert_eq!(full.told.difference_relative, Some(difference));
    assert!(full.told.cost.wall_s > 0.0 && full.outlines.len() > 50, "{}", full.outlines.len());
    assert!(record.summary.model_error.how.starts_with("confirmed: "), "{}", record.summary.model_error.how);
    // the last outline that is kept is the neck at which that computation stops
    let (time, _, r) = full.outlines.last().expect("an outline");
    let first = full.told.first_drop.expect("a drop");
    assert!((time / first.time_s - 1.0).abs() < 0.02);
    let inside = (1..r.len() - 1).filter(|i| r[*i] < r[*i - 1] && r[*i] <= r[*i + 1]).map(|i| r[i]);
    assert!(inside.fold(f64::MAX, f64::min) < 0.035 * 20e-6);
    let says = format!("onfirmed: {:+.1} %", 100.0 * difference);
    let shown = |record: &str| {
        slenderjet(folder.path()).args(["report", record, "-o", "page.html", "--force", "-q"]).assert().success();
        slenderjet(folder.path())
            .args(["figure", "strip", record, "-o", "strip.svg", "--force", "-q"])
            .assert()
            .success();
        let text = |name: &str| std::fs::read_to_string(at(name)).expect("written");
        (text("page.html").contains(&says), text("strip.svg").contains("full equations without inertia"))
    };
    assert_eq!(shown("run.h5"), (true, true));
    // without --confirm there is nothing of it; asked for later, the complete record is written anew with it
    slenderjet(folder.path()).args(["run", "row.toml", "-o", "plain.h5", "-q"]).assert().success();
    assert_eq!(shown("plain.h5"), (false, false));
    let frames = read("plain.h5").frames;
    let later = json(folder.path(), &["run", "row.toml", "-o", "plain.h5", "--resume", "--confirm"]);
    assert_eq!(later["confirmed"]["difference_relative"].as_f64(), Some(difference));
    assert_eq!(shown("plain.h5"), (true, true));
    let mut again = read("plain.h5");
    assert_eq!(again.frames, frames, "the run itself is as it was");
    // same case, same answer, but for the seconds it took
    let mut kept = again.full.take().expect("confirmed");
    kept.told.cost.wall_s = full.told.cost.wall_s;
    assert_eq!(&kept, full);
    // a file of `confirm` beside a record without
    slenderjet(folder.path()).args(["run", "row.toml", "-o", "bare.h5", "-q"]).assert().success();
    slenderjet(folder.path()).args(["confirm", "row.toml", "-o", "full.h5", "-q"]).assert().success();
    let beside = ["report", "bare.h5", "--confirmed", "full.h5", "-o", "beside.html", "-q"];
    slenderjet(folder.path()).args(beside).assert().success();
    let page = std::fs::read_to_string(at("beside.html")).expect("written");
    assert!(page.contains(&says) && page.contains("Beside the full equations"));
}

#[test]
fn a_map_tells_how_the_models_error_runs_over_it() {
    let folder = folder();
    let args = ["map", "row.toml", "--vary", "inner.flow=0.9,1.8 uL/h", "--drops", "1", "--confirm", "2"];
    let told = json(folder.path(), &args);
    let course = &told["confirmed"];
    assert_eq!(course["compared"], 2, "{course}");
    let cell = |i: usize| course["cells"][i]["difference_relative"].as_f64().expect("a number");
    let mean = course["mean"].as_f64().expect("a mean");
    assert!((mean - 0.5 * (cell(0) + cell(1))).abs() < 1e-12);
    assert_eq!(course["along"][0]["key"], "inner.flow");
}
