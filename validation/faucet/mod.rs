use crate::framework::plot::{Plot, line, linear, symbols};
use crate::framework::table::Table;
use crate::framework::{Status, Topic, source, whole_table};
use slenderjet::theory::faucet;

/// Water at 20 C (IAPWS) and gravity, as the table has them.
const WATER: [f64; 3] = [998.2072, 0.0727361, 9.81];

fn velocity(inside: f64, outside: f64) -> f64 {
    faucet::critical_velocity(1e-3 * inside, 1e-3 * outside, WATER[0], WATER[1], WATER[2])
}

pub fn topic() -> Topic {
    let from = source("Clanet & Lasheras 1999, J. Fluid Mech. 383, 307; clanet_lasheras_water.csv", Status::Recalled);
    let table =
        Table::read("validation/faucet/clanet_lasheras_water.csv").columns(["D_in_mm", "D_out_mm", "V_c_m_per_s"]);
    let pairs: Vec<_> = table.iter().map(|[inside, outside, v]| (*v, velocity(*inside, *outside))).collect();
    let curve = (10..90).map(|i| f64::from(i) * 0.05).map(|d| (d, velocity(d, d))).collect();
    let thin_walled = table.iter().filter(|row| row[0] == row[1]).map(|row| (row[0], row[2])).collect();
    Topic {
        folder: "faucet",
        section: 'A',
        title: "Dripping tap becomes a jet: the formula",
        rows: vec![whole_table("critical velocity of water", &from, &pairs, 1e-4)],
        figure: Some(Plot {
            x: linear("nozzle diameter, mm"),
            y: linear("critical velocity, m/s"),
            series: vec![line("formula, K = 0.37", curve), symbols("table", thin_walled)],
        }),
    }
}
