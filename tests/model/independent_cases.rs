//! The solver against an independent one.
//!
//! Source of `validation/independent/cases.json`: the same thread equations (Eggers & Dupont 1994, J. Fluid Mech. 262, 205, full
//! curvature) solved with general-purpose integrators (method of lines on fixed and on moving meshes, SUNDIALS), own
//! computation with error bars; status: independent solver. Agreement asked for: times and volumes 0.5 %, lengths 2 %,
//! satellite fractions 2 % (or the reference's own error bar where that is larger).

use serde_json::Value;
use slenderjet::case::{Case, Layout, Segment, Stream};
use slenderjet::outcome::{NeckTime, Summary};
use slenderjet::simulate::{Silent, simulate};
use std::f64::consts::PI;

/// A liquid and a radius; the scaled answers may not depend on them.
const DENSITY: f64 = 830.0;
const TENSION: f64 = 0.021;
const RADIUS: f64 = 4e-4;

fn unit_of_time() -> f64 {
    (DENSITY * RADIUS.powi(3) / TENSION).sqrt()
}

fn case(layout: Layout, ohnesorge: f64) -> Case {
    let viscosity = ohnesorge * (DENSITY * TENSION * RADIUS).sqrt();
    let inner = Stream { liquid: None, viscosity, density: DENSITY, flow: 0.0 };
    Case::bare("independent", layout, inner, TENSION, 2.0 * RADIUS)
}

fn run(reference: &Value) -> Summary {
    let number = |key: &str| reference[key].as_f64();
    let oh = number("Oh").expect("an Ohnesorge number");
    let case = if reference["type"] == "P" {
        let segment = Segment {
            radius: RADIUS,
            wavenumber: number("kR").expect("a wavenumber"),
            amplitude: number("eps").expect("an amplitude"),
        };
        case(Layout::Segment(segment), oh)
    } else {
        let mut case = case(Layout::Pendant, oh);
        let velocity = (number("We").expect("a Weber number") * TENSION / (DENSITY * RADIUS)).sqrt();
        case.gravity = number("Bo").expect("a Bond number") * TENSION / (DENSITY * RADIUS * RADIUS);
        case.inner.flow = velocity * PI * RADIUS * RADIUS;
        case
    };
    simulate(&case, None, &mut Silent).expect("a run").summary
}

/// Check one value; returns a line of complaint if it is off.
fn compare(id: &str, key: &str, ours: f64, reference: &Value, tolerance: f64) -> Option<String> {
    let theirs = reference["values"][key].as_f64()?;
    let bar = reference["errors"][key].as_f64().unwrap_or(0.0);
    let allowed = (tolerance * theirs.abs()).max(bar);
    println!("{id:24} {key:22} {ours:12.6} {theirs:12.6} {:+.3} %", 100.0 * (ours / theirs - 1.0));
    ((ours - theirs).abs() > allowed).then(|| format!("{id} {key}: {ours} against {theirs} (allowed {allowed})"))
}

#[test]
fn reference_times_volumes_lengths_and_satellites_agree() {
    let text = include_str!("../../validation/independent/cases.json");
    let all: Value = serde_json::from_str(text).expect("valid JSON");
    let cases: Vec<&Value> = all["cases"].as_array().expect("a list").iter().filter(|c| c["type"] != "S").collect();
    assert!(cases.len() >= 11);
    let mut complaints = Vec::new();
    for reference in cases {
        let id = reference["id"].as_str().expect("an id");
        let summary = run(reference);
        let first = summary.first_pinch.as_ref().expect("a pinch-off");
        complaints.extend(compare(id, "t_pinch_extrap", first.time_s / unit_of_time(), reference, 5e-3));
        for NeckTime { h_over_r, time_s, position_m, length_m, volume_m3 } in summary.necks.as_ref().expect("necks") {
            let key = |what: &str| format!("{what}_hmin_{h_over_r}");
            let volume = volume_m3 / RADIUS.powi(3);
            complaints.extend(compare(id, &key("t"), time_s / unit_of_time(), reference, 5e-3));
            complaints.extend(compare(id, &key("V_below"), volume, reference, 5e-3));
            complaints.extend(compare(id, &key("L_tip"), length_m / RADIUS, reference, 2e-2));
            complaints.extend(compare(id, &key("z_neck"), position_m / RADIUS, reference, 2e-2));
        }
        if let Some(fraction) = summary.satellites.volume_fraction.filter(|_| reference["type"] == "P") {
            complaints.extend(compare(id, "sat_frac_hmin_0.01", fraction, reference, 2e-2));
        }
        assert!(summary.conservation.volume_relative < 1e-12, "{id}: volume {}", summary.conservation.volume_relative);
    }
    assert!(complaints.is_empty(), "{}", complaints.join("\n"));
}
