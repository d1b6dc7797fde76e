use crate::framework::plot::{Plot, line, linear, log, symbols};
use crate::framework::table::Table;
use crate::framework::{Status, Topic, relative, source, whole_table};
use rayon::prelude::*;
use slenderjet::theory::ducts;

pub fn topic() -> Topic {
    let from = source("boundary collocation, square_round_conductance.csv", Status::Theory);
    let table = Table::read("validation/ducts/square_round_conductance.csv").columns(["d_over_a", "C_Qmu_over_G_a4"]);
    let rod = |d: f64| ducts::square_with_rod(d).unwrap_or(f64::NAN);
    let pairs: Vec<_> = table[1..].par_iter().map(|[d, c]| (*c, rod(*d))).collect();
    let series = source("Boussinesq 1868; White 1991, Viscous Fluid Flow, eq. 3-48", Status::Theory);
    let handbook = source("dp/L = 28.454 mu Q/a^4 (White 1991, recalled)", Status::Recalled);
    let curve = (1..97).into_par_iter().map(|i| (f64::from(i) * 0.01, rod(f64::from(i) * 0.01))).collect();
    Topic {
        folder: "ducts",
        section: 'A',
        title: "Square duct, empty and around a round capillary",
        rows: vec![
            relative("empty square duct, C = Q mu/(G a^4)", &series, table[0][1], ducts::square(), 1e-8),
            relative("the same as a friction factor", &handbook, 28.454, 1.0 / ducts::square(), 1e-4),
            whole_table("around a rod, d/a 0.005 to 0.999", &from, &pairs, 1e-3),
        ],
        figure: Some(Plot {
            x: linear("rod diameter over duct width"),
            y: log("conductance Qμ/(G a⁴)"),
            series: vec![line("ours", curve), symbols("table", table[1..].iter().map(|[d, c]| (*d, *c)).collect())],
        }),
    }
}
