use crate::framework::plot::{Plot, line, log, symbols};
use crate::framework::table::Table;
use crate::framework::{Status, Topic, source, whole_table};
use slenderjet::theory::drop_oscillation as theory;

pub fn topic() -> Topic {
    let lamb = source("Rayleigh 1879; Lamb 1932, art. 275, rayleigh_lamb_inviscid.csv", Status::Theory);
    let free = Table::read("validation/drop_oscillation/rayleigh_lamb_inviscid.csv").columns(["l", "w", "lamb_decay"]);
    let frequency: Vec<_> = free.iter().map(|[l, w, _]| (*w, theory::frequency(*l as u32))).collect();
    let weak: Vec<_> = free.iter().map(|[l, _, decay]| (*decay, theory::weak_decay(*l as u32, 1.0))).collect();
    let two = source("Lamb 1932, art. 275, rayleigh_lamb_twofluid.csv", Status::Theory);
    let both = Table::read("validation/drop_oscillation/rayleigh_lamb_twofluid.csv").columns(["l", "rho_ratio", "w"]);
    let in_liquid: Vec<_> =
        both.iter().map(|[l, ratio, w]| (*w, theory::frequency_in_liquid(*l as u32, *ratio))).collect();
    let reid = source(
        "Reid 1960; Chandrasekhar 1961; Miller & Scriven 1968; 30 digits, drop_oscillation_viscous.csv",
        Status::Theory,
    );
    let viscous = Table::read("validation/drop_oscillation/drop_oscillation_viscous.csv");
    let viscous = viscous.columns(["l", "Oh", "decay_exact", "w_exact"]);
    let ours: Vec<_> = viscous.iter().map(|row| theory::viscous(row[0] as u32, row[1])).collect();
    let decay: Vec<_> = viscous.iter().zip(&ours).map(|(row, s)| (row[2], s.map_or(f64::NAN, |s| s.re))).collect();
    let angular: Vec<_> = viscous.iter().zip(&ours).map(|(row, s)| (row[3], s.map_or(f64::NAN, |s| s.im))).collect();
    let oh = || (0..60).map(|i| 10f64.powf(-3.0 + 0.045 * f64::from(i)));
    let curve = |l: u32| oh().filter_map(|oh| theory::viscous(l, oh).map(|s| (oh, s.re))).collect();
    let mut series: Vec<_> = [2, 3, 4].map(|l| line(format!("mode {l}"), curve(l))).into();
    series.push(symbols("table", viscous.iter().map(|row| (row[1], row[2])).collect()));
    Topic {
        folder: "drop_oscillation",
        section: 'A',
        title: "Free drop that oscillates",
        rows: vec![
            whole_table("frequency without viscosity, modes 2 to 6", &lamb, &frequency, 1e-8),
            whole_table("decay at small viscosity", &lamb, &weak, 1e-8),
            whole_table("frequency in another liquid", &two, &in_liquid, 1e-8),
            whole_table("decay at any viscosity", &reid, &decay, 1e-8),
            whole_table("frequency at any viscosity", &reid, &angular, 1e-8),
        ],
        figure: Some(Plot { x: log("Ohnesorge number"), y: log("decay rate, (γ/ρR³)^1/2"), series }),
    }
}
