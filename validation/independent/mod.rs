use crate::framework::plot::{Plot, line, log, symbols};
use crate::framework::table::path;
use crate::framework::{Row, Status, Topic, share, source};
use crate::solver::{RADIUS, nozzle, run, unit_of_time, wave};
use rayon::prelude::*;
use serde_json::Value;
use slenderjet::case::Stop;

/// Times and volumes agree within this, lengths and satellite fractions within four times as much, or the reference's own
/// error bar where that is larger.
const TOLERANCE: f64 = 5e-3;

struct Compared {
    name: String,
    theirs: f64,
    ours: f64,
    /// Difference over what is allowed.
    used: f64,
}

fn compared(reference: &Value) -> Vec<Compared> {
    let number = |key: &str| reference[key].as_f64().unwrap_or(f64::NAN);
    let periodic = reference["type"] == "P";
    let case = if periodic {
        wave(number("Oh"), number("kR"), number("eps"), Stop::Drops(1))
    } else {
        nozzle(number("Oh"), number("Bo"), number("We"), Stop::Drops(1))
    };
    let summary = run(&case).0.summary;
    let mut found: Vec<(String, f64, f64)> = Vec::new();
    let pinch = summary.first_pinch.as_ref().map_or(f64::NAN, |pinch| pinch.time_s / unit_of_time());
    found.push(("t_pinch_extrap".into(), pinch, TOLERANCE));
    for neck in summary.necks.iter().flatten() {
        let at = |what: &str| format!("{what}_hmin_{}", neck.h_over_r);
        found.push((at("t"), neck.time_s / unit_of_time(), TOLERANCE));
        if !periodic {
            found.push((at("V_below"), neck.volume_m3 / RADIUS.powi(3), TOLERANCE));
            found.push((at("L_tip"), neck.length_m / RADIUS, 4.0 * TOLERANCE));
        }
    }
    if periodic {
        let fraction = summary.satellites.volume_fraction.unwrap_or(f64::NAN);
        found.push(("sat_frac_hmin_0.01".into(), fraction, 4.0 * TOLERANCE));
    }
    found
        .into_iter()
        .filter_map(|(name, ours, tolerance)| {
            let theirs = reference["values"][&name].as_f64()?;
            let allowed = (tolerance * theirs.abs()).max(reference["errors"][&name].as_f64().unwrap_or(0.0));
            let used = if theirs == ours { 0.0 } else { (ours - theirs).abs() / allowed.max(1e-12) };
            Some(Compared { name, theirs, ours, used })
        })
        .collect()
}

pub fn topic() -> Topic {
    let from = source("same equations, method of lines, SUNDIALS and SciPy, cases.json", Status::IndependentSolver);
    let text = std::fs::read_to_string(path("validation/independent/cases.json")).expect("cases.json");
    let all: Value = serde_json::from_str(&text).expect("JSON");
    let cases: Vec<&Value> = all["cases"].as_array().expect("a list").iter().filter(|c| c["type"] != "S").collect();
    let answers: Vec<(String, Vec<Compared>)> = cases
        .par_iter()
        .map(|reference| (reference["id"].as_str().unwrap_or("?").to_owned(), compared(reference)))
        .collect();
    let rows: Vec<Row> = answers.iter().map(|(id, values)| row(id, values, &from)).collect();
    let pairs = |what: &str| -> Vec<(f64, f64)> {
        let values = answers.iter().flat_map(|(_, values)| values);
        values.filter(|v| v.name.starts_with(what)).map(|v| (v.theirs, v.ours)).collect()
    };
    Topic {
        folder: "independent",
        section: 'C',
        title: "Pinch times, volumes, lengths, satellites",
        rows,
        figure: Some(Plot {
            x: log("independent solver"),
            y: log("ours"),
            series: vec![
                symbols("times", pairs("t_")),
                symbols("volumes", pairs("V_")),
                symbols("lengths", pairs("L_")),
                symbols("satellite fractions", pairs("sat_")),
                line("equal", vec![(1e-4, 1e-4), (1e3, 1e3)]),
            ],
        }),
    }
}

/// One row a case: the value that uses most of what is allowed.
fn row(id: &str, values: &[Compared], from: &crate::framework::Source) -> Row {
    let worst = values.iter().max_by(|a, b| a.used.total_cmp(&b.used)).expect("values");
    let difference = (worst.ours / worst.theirs - 1.0).abs();
    let tolerance = if worst.used > 0.0 { difference / worst.used } else { TOLERANCE };
    let mut row = crate::framework::relative(
        format!("{} ({} values; worst: {})", id.replace('_', " "), values.len(), worst.name.replace('_', " ")),
        from,
        worst.theirs,
        worst.ours,
        tolerance.max(1e-12),
    );
    row.tolerance = format!(
        "{} or its error bar",
        share(if worst.name.starts_with("L_") || worst.name.starts_with("sat") { 4.0 * TOLERANCE } else { TOLERANCE })
    );
    row
}
