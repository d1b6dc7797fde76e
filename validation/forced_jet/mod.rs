use crate::framework::plot::{Plot, line, log, symbols};
use crate::framework::table::Table;
use crate::framework::{Row, Status, Topic, relative, source};
use crate::solver::{DENSITY, TENSION, nozzle, run};
use slenderjet::case::{Accuracy, Case, Forcing, Stop};
use slenderjet::outcome::{DropKind, Summary};
use std::f64::consts::PI;

/// Water at 20 C (IAPWS).
const WATER: [f64; 3] = [998.2072, 1.001596e-3, 0.0727361];

/// A water jet at flow (m3/s) and frequency. The source shakes its nozzle and does not give its bore row by row: here the
/// bore is such that the forced wave has kR = 0.35 (a jet at We 2 to 4), and the shaking is a pulsation of 30 % of the flow.
fn forced(flow: f64, frequency: f64) -> Case {
    // pi R^2 lambda f = Q with lambda = 2 pi R/0.35.
    let radius = (flow * 0.35 / (2.0 * PI * PI * frequency)).cbrt();
    let mut case = nozzle(0.1, 0.0, 1.0, Stop::Drops(24));
    [case.inner.density, case.inner.viscosity, case.tension] = WATER;
    case.device.tip_bore = 2.0 * radius;
    case.inner.flow = flow;
    case.forcing = Forcing { amplitude: 0.3, frequency, noise: 0.0, seed: 1, ..Forcing::default() };
    case.run.accuracy = Accuracy::Coarse;
    case
}

/// Times and volumes of the primaries after the first eight.
fn settled(summary: &Summary) -> Vec<(f64, f64)> {
    let primaries = summary.drops.iter().filter(|d| d.kind == DropKind::Primary);
    let mut all: Vec<_> = primaries.map(|d| (d.time_s, d.volume_m3)).collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all.split_off(all.len().min(8))
}

/// Diameter of the mean primary, m.
fn diameter(summary: &Summary) -> f64 {
    let drops = settled(summary);
    (6.0 / PI * drops.iter().map(|d| d.1).sum::<f64>() / drops.len() as f64).cbrt()
}

/// Volume that leaves per primary, satellites included, between the first and the last settled one.
fn volume(summary: &Summary) -> f64 {
    let drops = settled(summary);
    let (Some(first), Some(last)) = (drops.first(), drops.last()) else { return f64::NAN };
    let window = summary.drops.iter().filter(|d| d.time_s > first.0 && d.time_s <= last.0);
    window.map(|d| d.volume_m3).sum::<f64>() / (drops.len() - 1) as f64
}

pub fn topic() -> Topic {
    let photo = source(
        "Kosch, MASc thesis, University of Toronto (about 2015), calibration table, forced_breakup.csv",
        Status::Published,
    );
    let balance = source("V f = Q", Status::Theory);
    let table = Table::read("validation/forced_jet/forced_breakup.csv").columns([
        "flow_mL_per_h",
        "frequency_Hz",
        "diameter_photo_um",
    ]);
    let mut rows: Vec<Row> = Vec::new();
    let mut whole = Vec::new();
    for [flow, frequency, photographed] in &table {
        // One drop a cycle holds Q/f: no nozzle needed.
        let d = 1e6 * (6.0 / PI * flow * 1e-6 / 3600.0 / frequency).cbrt();
        whole.push((*photographed, d));
        let quantity = format!("one drop a cycle (Q/f), {flow} mL/h at {frequency} Hz, diameter in µm");
        rows.push(relative(quantity, &photo, *photographed, d, 0.04));
    }
    let [flow, frequency, photographed] = table[0];
    let d = 1e6 * diameter(&run(&forced(flow * 1e-6 / 3600.0, frequency)).0.summary);
    let quantity = format!("simulated jet of water, {flow} mL/h at {frequency} Hz, primary's diameter in µm");
    rows.push(relative(quantity, &photo, photographed, d, 0.04).remark(
        "the source shakes its nozzle and does not give the bore of each row; with the bore assumed here (kR = 0.35) this row locks \
         to one primary a cycle, while the other three split each cycle into a primary and large satellites: they are not judged",
    ));
    let ours = vec![(photographed, d)];
    let mut glycerol = nozzle(0.1, 0.0, 5.0, Stop::Drops(16));
    let velocity = (5.0 * TENSION / (DENSITY * 3e-4)).sqrt();
    let frequency = 0.65 * velocity / (2.0 * PI * 3e-4);
    glycerol.forcing = Forcing { amplitude: 0.05, frequency, noise: 0.0, seed: 1, ..Forcing::default() };
    glycerol.run.accuracy = Accuracy::Coarse;
    let summary = run(&glycerol).0.summary;
    rows.push(relative(
        "V f over Q, Oh = 0.1, We = 5",
        &balance,
        1.0,
        volume(&summary) * frequency / glycerol.inner.flow,
        5e-3,
    ));
    Topic {
        folder: "forced_jet",
        section: 'D',
        title: "Jets broken by a pulsation",
        rows,
        figure: Some(Plot {
            x: log("photographed diameter, µm"),
            y: log("diameter here, µm"),
            series: vec![
                symbols("Q/f", whole),
                symbols("run", ours),
                line("equal", vec![(100.0, 100.0), (600.0, 600.0)]),
            ],
        }),
    }
}
