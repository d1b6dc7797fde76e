use crate::framework::plot::{Plot, line, linear, log, symbols};
use crate::framework::table::Table;
use crate::framework::{Status, Topic, source, whole_table};
use slenderjet::device::core_annular::core_share;
use slenderjet::theory::core_annular;

pub fn topic() -> Topic {
    let from = source("Poiseuille flow of two liquids, high precision, baseflow_core_annular.csv", Status::Theory);
    let names = ["lambda", "x", "drho_g_over_G", "Qi_muo_over_G_R4", "Qo_muo_over_G_R4", "u_mean", "u_s", "tau_s"];
    let table = Table::read("tests/data/two_liquid/baseflow_core_annular.csv").columns(names);
    let column = |pick: fn(&core_annular::Flow) -> f64, place: usize| -> Vec<_> {
        table.iter().map(|row| (row[place], pick(&core_annular::flow(row[0], row[1], row[2])))).collect()
    };
    // In narrower gaps the table itself has lost digits: at x = 0.9999 it is 1.9e-9 off the 60-digit value.
    let wide: Vec<_> = table.iter().map(|row| row[1] <= 0.99).collect();
    let outer: Vec<_> = column(|flow| flow.outer_flow, 4).into_iter().zip(wide).filter(|p| p.1).map(|p| p.0).collect();
    let narrow = source("own quadrature, 60 digits, scripts/theory_reference.py", Status::Theory);
    let gaps: Vec<_> = Table::read("validation/off_table/core_annular.csv")
        .columns(["x", "weight", "outer_flow"])
        .iter()
        .map(|[x, weight, q]| (*q, core_annular::flow(1.0, *x, *weight).outer_flow))
        .collect();
    let back: Vec<_> = table
        .iter()
        .filter(|row| row[2] == 0.0 && row[1] <= 0.9)
        .map(|row| (row[1], core_share(row[3] / row[4], row[0]).sqrt()))
        .collect();
    let curve = |ratio: f64| {
        let flow_ratio = (0..60).map(|i| 10f64.powf(-4.0 + 0.1 * f64::from(i)));
        flow_ratio.map(|phi| (phi, core_share(phi, ratio).sqrt())).collect()
    };
    let mut series: Vec<_> = [0.1, 1.0, 10.0].map(|ratio| line(format!("μi/μo = {ratio}"), curve(ratio))).into();
    let in_range = |row: &&[f64; 8]| row[2] == 0.0 && [0.1, 1.0, 10.0].contains(&row[0]) && row[3] / row[4] < 100.0;
    series.push(symbols("table", table.iter().filter(in_range).map(|row| (row[3] / row[4], row[1])).collect()));
    Topic {
        folder: "core_annular",
        section: 'A',
        title: "Two liquids side by side in a tube",
        rows: vec![
            whole_table("inner flow", &from, &column(|flow| flow.inner_flow, 3), 1e-9),
            whole_table("outer flow, x up to 0.99", &from, &outer, 1e-9),
            whole_table("outer flow, narrow gaps", &narrow, &gaps, 1e-9),
            whole_table("mean velocity of the thread", &from, &column(|flow| flow.mean, 5), 1e-9),
            whole_table("interface velocity", &from, &column(|flow| flow.interface, 6), 1e-9),
            whole_table("interface shear stress", &from, &column(|flow| flow.shear, 7), 1e-9),
            whole_table("thread radius from the flow ratio", &from, &back, 1e-9),
        ],
        figure: Some(Plot { x: log("flow ratio Qi/Qo"), y: linear("thread radius over wall radius"), series }),
    }
}
