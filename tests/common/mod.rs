//! Invented cases and outcomes for tests of files and commands. No number in here is a result.
#![allow(dead_code)]

use slenderjet::case::*;
use slenderjet::outcome::*;
use std::f64::consts::PI;

/// A case with every optional part filled in.
pub fn case() -> Case {
    let text = "title = \"Invented for a test\"\nlayout = \"coflow\"\n# µ and ü survive\n".to_string();
    Case {
        title: "Invented for a test".into(),
        layout: Layout::Coflow,
        inner: Stream { liquid: Some("sunflower oil".into()), viscosity: 0.052, density: 917.0, flow: 4.2e-11 },
        outer: Some(Stream { liquid: None, viscosity: 0.0107, density: 1153.0, flow: 1.7e-9 }),
        tension: 7.5e-3,
        tension_of_drops: false,
        real: slenderjet::case::RealLiquids::default(),
        device: Device {
            bore: Bore::Square(1.05e-3),
            round_outer: Some(1.0e-3),
            tip_bore: 30e-6,
            tip_outer: Some(45e-6),
            wetting: Wetting::TipBore,
        },
        gravity: 0.0,
        forcing: Forcing::default(),
        model: Model::default(),
        run: RunControl { stop: Stop::Drops(20), accuracy: Accuracy::Standard, frames: 400 },
        typed: vec![
            typed("inner.flow", "150 uL/h", 4.1666666666666667e-11, "m3/s", None),
            typed("interface.tension", "7.5 mN/m +- 30 %", 7.5e-3, "N/m", Some(0.3)),
        ],
        text,
    }
}

fn typed(key: &str, text: &str, si: f64, unit: &'static str, tolerance: Option<f64>) -> Typed {
    Typed { key: key.into(), text: text.into(), si, unit, tolerance }
}

/// Instant number `i`: two or three bodies with a few dozen nodes.
pub fn frame(i: usize) -> Frame {
    let time = i as f64 * 1.0e-4;
    let body = |attached: bool, start: f64, nodes: usize| {
        let z: Vec<f64> = (0..nodes).map(|k| start + 1e-6 * k as f64).collect();
        let h = z.iter().map(|z| 1e-5 * (1.2 + (z * 2e5 + time * 1e3).sin())).collect();
        let u = z.iter().map(|z| 0.01 + z).collect();
        BodyFrame { attached, z, h, u }
    };
    let mut bodies = vec![body(true, 0.0, 40 + i % 7), body(false, 1e-3, 25)];
    if i.is_multiple_of(3) {
        bodies.push(body(false, 2e-3, 11));
    }
    let moment = Moment::ALL[i % 4];
    let pinch = (moment != Moment::Even).then_some(i / 4);
    let budget = (moment == Moment::Even).then(|| {
        let joule = 1e-12 * (i + 1) as f64;
        Budget { kinetic_j: joule, viscous_j: -joule, regrids_j: 2.0 * joule, open_relative: 1e-3, ..Budget::default() }
    });
    Frame { time, bodies, moment, pinch, budget }
}

pub fn frames(n: usize) -> Vec<Frame> {
    (0..n).map(frame).collect()
}

fn drop_number(i: usize) -> Drop {
    let diameter = if i.is_multiple_of(2) { 80e-6 } else { 12e-6 } * (1.0 + 0.001 * i as f64);
    Drop {
        time_s: 1e-3 * (i + 1) as f64,
        kind: if i.is_multiple_of(2) { DropKind::Primary } else { DropKind::Satellite },
        volume_m3: PI * diameter.powi(3) / 6.0,
        diameter_m: diameter,
        position_m: 2e-4,
        velocity_m_per_s: 0.03,
        merged_from: if i == 5 { vec![2, 3] } else { vec![] },
        flagged: i == 4,
        pinch: Some(i),
    }
}

/// An outcome with every optional part filled in.
pub fn outcome() -> Outcome {
    let summary = Summary {
        schema: SCHEMA.into(),
        version: env!("CARGO_PKG_VERSION").into(),
        title: "Invented for a test".into(),
        layout: "coflow".into(),
        groups: Groups {
            ohnesorge: 0.1 + 0.2,
            bond: 1e-5,
            weber_inner: 1e-3,
            capillary_outer: Some(0.05),
            reynolds_inner: 0.3,
            reynolds_outer: None,
            viscosity_ratio: Some(4.9),
            flow_ratio: Some(0.025),
            density_ratio: Some(0.8),
            at_rate: None,
        },
        mode: Mode::Dripping,
        mode_evidence: "invented".into(),
        established: Established { is: true, ..Established::default() },
        size: Size::default(),
        assumed: Vec::new(),
        linear_estimate: None,
        first_pinch: Some(FirstPinch { time_s: 1e-3, position_m: 1e-4, length_m: 2e-4, volume_m3: 1e-13 }),
        drops: (0..8).map(drop_number).collect(),
        primary: Primary {
            count: 4,
            mean_diameter_m: Some(80.2e-6),
            model_error_relative: Some(0.05),
            cv: Some(0.002),
            cv_interval95: Some([0.001, 0.008]),
            rate_per_s: Some(500.0),
            settled_after: Some(1),
        },
        satellites: Satellites {
            per_primary: Some(1.0),
            volume_fraction: Some(0.003),
            mean_diameter_m: Some(12e-6),
            classes: Vec::new(),
        },
        jet: None,
        necks: None,
        pressure: Pressure { inner_pa: Some(2.0e4), outer_pa: Some(1.5e3) },
        error_bar: None,
        surface: None,
        moved: None,
        model_error: ModelError { relative: Some(0.05), at_least: false, how: "invented".into() },
        conservation: Conservation { volume_relative: 1e-14, energy_relative: 2e-4, surfactant_relative: None },
        budget: Default::default(),
        cost: Cost { wall_s: 0.25, steps: 1234, cells_max: 321 },
        warnings: vec![Warning { code: "invented".into(), text: "only a test".into() }],
        cautions: vec!["Wear eye protection.".into()],
        stopped: Stopped::DropsReached,
        end: None,
        provenance: Provenance {
            case_sha256: slenderjet::record::sha256_hex(case().text.as_bytes()),
            version: env!("CARGO_PKG_VERSION").into(),
            command: "slenderjet run case.toml".into(),
            started: "2026-01-01T00:00:00Z".into(),
            host_threads: 2,
            platform: "x86_64-unknown-linux-gnu".into(),
            compiler: "rustc 1.89.0".into(),
            commit: "0123456789ab".into(),
        },
    };
    let pinch_offs =
        (0..8).map(|i| PinchOff { time: 1e-3 * (i + 1) as f64, position: 1e-4, length: 2e-4, volume: 1e-13 }).collect();
    let necks = (0..500)
        .map(|i| NeckSample {
            time: 1e-5 * i as f64,
            position: 1e-4,
            radius: 1e-5 / (1.0 + i as f64),
            length: 2e-4,
            pinch: if i < 400 { Some(i / 100) } else { None },
        })
        .collect();
    let counts = SolverCounts { steps_accepted: 1234, cells_max: 321, ..SolverCounts::default() };
    Outcome { summary, pinch_offs, necks, counts }
}

/// The Python interpreter of the project, if it has `modules`; says so where it has not.
pub fn python_with(modules: &str) -> Option<std::path::PathBuf> {
    python_with_or(modules, "SLENDERJET_REQUIRE_READERS")
}

/// The same; where `required` is set in the environment, it must have them.
pub fn python_with_or(modules: &str, required: &str) -> Option<std::path::PathBuf> {
    let named = std::env::var_os("SLENDERJET_PYTHON").map(std::path::PathBuf::from);
    let python = named.unwrap_or_else(|| concat!(env!("CARGO_MANIFEST_DIR"), "/.venv/bin/python").into());
    let tried = std::process::Command::new(&python).arg("-c").arg(format!("import {modules}")).output();
    match tried {
        Ok(done) if done.status.success() => Some(python),
        _ if std::env::var_os(required).is_some() => panic!("no Python with {modules}"),
        _ => {
            eprintln!("skipped: no Python with {modules}; see README, \"Tests\"");
            None
        }
    }
}

/// Holds an answer against the JSON Schema that the program gives for the command, by an independent validator (Python's jsonschema);
/// strictly: no key at the top that the schema does not know.
pub fn follows_schema(command: &str, told: &[u8]) {
    let Some(python) = python_with("jsonschema") else { return };
    let program = assert_cmd::cargo::cargo_bin("slenderjet");
    let schema = std::process::Command::new(program).args(["schema", command]).output().unwrap();
    assert!(schema.status.success(), "no schema of {command}");
    let folder = tempfile::tempdir().unwrap();
    let files = ["schema.json", "told.json"].map(|name| folder.path().join(name));
    std::fs::write(&files[0], &schema.stdout).unwrap();
    std::fs::write(&files[1], told).unwrap();
    let done = std::process::Command::new(python).arg("-c").arg(VALIDATE).args(&files).output().unwrap();
    assert!(done.status.success(), "{command} does not follow its schema:\n{}", String::from_utf8_lossy(&done.stdout));
}

const VALIDATE: &str = r#"
import json, sys
from jsonschema import Draft202012Validator as Validator
schema, told = (json.load(open(path)) for path in sys.argv[1:])
Validator.check_schema(schema)
for part in schema.get("oneOf", [schema]):
    part["unevaluatedProperties"] = False
if "oneOf" in schema:
    parts = [p for p in schema["oneOf"] if p["properties"]["schema"]["const"] == told.get("schema")]
    schema = {**schema, "oneOf": parts} if len(parts) != 1 else {**parts[0], "$defs": schema["$defs"]}
wrong = list(Validator(schema).iter_errors(told))
for error in wrong[:5]:
    print(error.json_path, error.message[:300])
sys.exit(bool(wrong))
"#;
