//! Runs to draw from: short real ones of invented liquids, and a made-up one where only size matters.
#![allow(dead_code)]

use slenderjet::case::*;
use slenderjet::outcome::{BodyFrame, Frame, Mode, NeckSample, PinchOff, Provenance};
use slenderjet::record::Recorded;
use slenderjet::simulate::{Observer, simulate};
use std::f64::consts::PI;
use std::path::PathBuf;

const HOUR: f64 = 3600.0;

/// A folder for files that people may want to look at afterwards.
pub fn folder(name: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn case(title: &str, layout: Layout) -> Case {
    let inner = Stream { liquid: None, viscosity: 0.02, density: 920.0, flow: 0.0 };
    let mut case = Case::bare(title, layout, inner, 0.0075, 60e-6);
    case.run = RunControl { stop: Stop::Drops(6), accuracy: Accuracy::Coarse, frames: 240 };
    case.text = format!("title = \"{title}\"\nlayout = \"{}\"\n# written by a test\n", layout.name());
    case
}

/// A nozzle that drips into air under gravity.
pub fn dripping() -> Case {
    let (radius, density, tension) = (0.7e-3_f64, 1000.0_f64, 0.04_f64);
    let mut case = case("Watering can, one hole", Layout::Pendant);
    case.inner.density = density;
    case.inner.viscosity = 0.1 * (density * tension * radius).sqrt();
    case.inner.flow = PI * radius * radius * (1e-3 * tension / (density * radius)).sqrt();
    case.tension = tension;
    case.gravity = 0.5 * tension / (density * radius * radius);
    case.device.tip_bore = 2.0 * radius;
    case.device.tip_outer = Some(2.6 * radius);
    case.run.stop = Stop::Drops(4);
    case
}

/// A jet in air, shaken by its pump.
pub fn jet() -> Case {
    let (radius, density, tension) = (50e-6_f64, 1000.0_f64, 0.05_f64);
    let mut case = case("Sprinkler jet", Layout::Pendant);
    case.inner.density = density;
    case.inner.viscosity = 0.1 * (density * tension * radius).sqrt();
    let speed = (30.0 * tension / (density * radius)).sqrt();
    case.inner.flow = PI * radius * radius * speed;
    case.tension = tension;
    case.device.tip_bore = 2.0 * radius;
    case.forcing = Forcing {
        amplitude: 0.02,
        frequency: 0.7 * speed / (2.0 * PI * radius),
        noise: 0.002,
        seed: 3,
        ..Forcing::default()
    };
    case.run.stop = Stop::Drops(12);
    case
}

/// Oil drops in a sugar solution, co-flow.
pub fn coflow() -> Case {
    let mut case = case("Nutrient-oil drops for a seedling tray", Layout::Coflow);
    case.inner = Stream { liquid: None, viscosity: 0.052, density: 917.0, flow: 150e-9 / HOUR };
    case.outer = Some(Stream { liquid: None, viscosity: 0.0107, density: 1153.0, flow: 6e-6 / HOUR });
    case.device.bore = Bore::Square(1.05e-3);
    case.device.round_outer = Some(1.0e-3);
    case.device.tip_bore = 30e-6;
    case.device.tip_outer = Some(45e-6);
    case
}

/// The same liquids through an orifice, counter-flow.
pub fn counterflow() -> Case {
    let mut case = coflow();
    case.title = "Nutrient-oil drops, orifice".into();
    case.layout = Layout::Counterflow(Orifice {
        bore: 60e-6,
        length: 200e-6,
        standoff: 90e-6,
        collection_bore: 150e-6,
        collection_length: 450e-6,
    });
    case.outer = Some(Stream { liquid: None, viscosity: 0.0107, density: 1153.0, flow: 2e-6 / HOUR });
    case
}

/// A wave on a thread.
pub fn segment() -> Case {
    let mut case = case("One wave", Layout::Segment(Segment { radius: 30e-6, wavenumber: 0.5, amplitude: 0.05 }));
    case.device.tip_bore = 60e-6;
    case.run.stop = Stop::Until(12e-3);
    case
}

#[derive(Default)]
struct Keeper(Vec<Frame>);

impl Observer for Keeper {
    fn frame(&mut self, frame: &Frame) {
        self.0.push(frame.clone());
    }

    fn interval(&mut self, interval: f64) {
        self.0.retain(|frame| frame.stays(interval));
    }
}

/// Simulates a case and hands over what its record would.
pub fn recorded(case: Case) -> Recorded {
    let mut keeper = Keeper::default();
    let outcome = simulate(&case, None, &mut keeper).unwrap_or_else(|e| panic!("{}: {e}", case.title));
    let mut summary = outcome.summary;
    summary.provenance = Provenance {
        case_sha256: slenderjet::record::sha256_hex(case.text.as_bytes()),
        version: env!("CARGO_PKG_VERSION").into(),
        command: "slenderjet run case.toml -o run.h5".into(),
        started: "2026-01-01T00:00:00Z".into(),
        host_threads: 1,
        platform: "x86_64-unknown-linux-gnu".into(),
        compiler: "rustc 1.89.0".into(),
        commit: "0123456789ab".into(),
    };
    Recorded {
        case_text: case.text.clone(),
        case,
        summary,
        frames: keeper.0,
        pinch_offs: outcome.pinch_offs,
        necks: outcome.necks,
        counts: outcome.counts,
        full: None,
    }
}

/// A made-up record of `snapshots` times `nodes` nodes: shapes that no liquid takes, for timing and sizes only.
pub fn large(mut like: Recorded, snapshots: usize, nodes: usize) -> Recorded {
    let end = 10e-3;
    like.summary.title = "MADE UP: no result, only size".into();
    like.frames = (0..snapshots)
        .map(|i| {
            let time = end * i as f64 / snapshots as f64;
            let z: Vec<f64> = (0..nodes).map(|k| 2e-3 * k as f64 / nodes as f64).collect();
            let wave = |z: &f64| 12e-6 + 6e-6 * (z * 4e4 - time * 3e3).sin() + 1e-7 * (z * 9e6 + time * 7e5).sin();
            let h = z.iter().map(wave).collect();
            let u = vec![0.1; nodes];
            Frame { time, bodies: vec![BodyFrame { attached: true, z, h, u }], ..Frame::default() }
        })
        .collect();
    like.pinch_offs = (1..=100)
        .map(|i| PinchOff { time: end * f64::from(i) / 100.0, position: 1e-3, length: 2e-3, volume: 1e-13 })
        .collect();
    like.necks = (0..40_000)
        .map(|i| {
            let (pinch, k) = (i / 400, i % 400);
            let time = end * (pinch + 1) as f64 / 100.0 - 1e-4 * 0.97f64.powi(k);
            NeckSample {
                time,
                position: 1e-3,
                radius: 1e-5 * 0.97f64.powi(k),
                length: 2e-3,
                pinch: Some(pinch as usize),
            }
        })
        .collect();
    like
}

/// A map as `slenderjet map` would write it, its modes MADE UP: for drawing only.
pub fn map() -> slenderjet::study::map::Map {
    use slenderjet::study::map::{Axis, Map, Plan, Row, Shard, Spacing, Status};
    let axis = |key: &str, low: f64, high: f64, n: usize| Axis {
        key: key.into(),
        unit: "m3/s".into(),
        spacing: Spacing::Log,
        values: (0..n).map(|i| low * (high / low).powf(i as f64 / (n - 1) as f64)).collect(),
    };
    let axes =
        vec![axis("inner.flow", 20e-9 / HOUR, 500e-9 / HOUR, 7), axis("outer.flow", 1e-6 / HOUR, 40e-6 / HOUR, 8)];
    let plan = Plan::new(axes).unwrap();
    let rows = (0..plan.len())
        .map(|i| {
            let values = plan.values(i);
            let strength = (values[0] * HOUR / 100e-9).ln() + (values[1] * HOUR / 8e-6).ln();
            let mut row = Row::failed(i, values, if i == 3 { "made up" } else { "" });
            if i == 3 {
                return row;
            }
            row.status = Status::Done;
            row.mode = Some(match strength {
                s if s > 2.3 => Mode::None,
                s if s > 0.4 => Mode::Jetting,
                _ => Mode::Dripping,
            });
            if row.mode != Some(Mode::None) {
                row.mean_diameter_m = Some(1e-4 * (-0.2 * strength).exp());
                let satellites = if strength > -0.5 && i % 3 > 0 { 1.0 } else { 0.0 };
                row.satellites_per_primary = Some(satellites);
                row.satellite_volume_fraction = Some(0.02 * satellites);
            }
            row
        })
        .collect();
    let text = slenderjet::case::examples::find("coflow").unwrap().text.to_string();
    Map {
        title: "MADE UP: modes of a drawing test".into(),
        layout: "coflow".into(),
        statistics: "invented".into(),
        accuracy: "coarse".into(),
        plan_hash: "0".repeat(64),
        shard: Shard::WHOLE,
        rows,
        border: Vec::new(),
        border_traced: false,
        case_sha256: slenderjet::record::sha256_hex(text.as_bytes()),
        case_text: text,
        version: env!("CARGO_PKG_VERSION").into(),
        plan,
    }
}
