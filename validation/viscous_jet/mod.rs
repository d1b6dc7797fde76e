use crate::framework::plot::{Plot, line, linear, log, symbols};
use crate::framework::table::Table;
use crate::framework::{Status, Topic, source, whole_table};
use slenderjet::theory::{viscous_jet, weber};

pub fn topic() -> Topic {
    let from = source(
        "Rayleigh 1892, Phil. Mag. 34, 145; Chandrasekhar 1961, ch. XII; 40 digits, viscous_jet.csv",
        Status::Theory,
    );
    let table =
        Table::read("validation/viscous_jet/viscous_jet.csv").columns(["Oh", "x", "w_exact", "w_longwave", "w_stokes"]);
    let exact: Vec<_> = table.iter().map(|[oh, x, w, _, _]| (*w, viscous_jet::growth(*oh, *x))).collect();
    let long: Vec<_> = table.iter().map(|[oh, x, _, w, _]| (*w, weber::growth(*oh, *x))).collect();
    let stokes: Vec<_> =
        table.iter().map(|[oh, x, _, _, w]| (*w, viscous_jet::growth_without_inertia(*x) / oh)).collect();
    let peaks = Table::read("validation/viscous_jet/viscous_jet_maximum.csv").columns([
        "Oh",
        "x_max",
        "w_max",
        "x_max_longwave",
        "w_max_longwave",
    ]);
    let maximum = source("viscous_jet_maximum.csv (12 digits)", Status::Theory);
    let modes: Vec<_> = peaks.iter().map(|row| viscous_jet::fastest(row[0])).collect();
    let x: Vec<_> = peaks.iter().zip(&modes).map(|(row, mode)| (row[1], mode.wavenumber)).collect();
    let w: Vec<_> = peaks.iter().zip(&modes).map(|(row, mode)| (row[2], mode.rate)).collect();
    let long_peaks: Vec<_> = peaks
        .iter()
        .flat_map(|row| [(row[3], weber::fastest(row[0]).wavenumber), (row[4], weber::fastest(row[0]).rate)])
        .collect();
    let at = |oh: f64| table.iter().filter(move |row| row[0] == oh).map(|row| (row[1], row[2])).collect::<Vec<_>>();
    let curve = |oh: f64| (1..100).map(|i| f64::from(i) * 0.01).map(|x| (x, viscous_jet::growth(oh, x))).collect();
    let mut series: Vec<_> = [0.01, 1.0, 100.0].map(|oh| line(format!("Oh = {oh}"), curve(oh))).into();
    series.push(symbols("table", [0.01, 1.0, 100.0].iter().flat_map(|oh| at(*oh)).collect()));
    Topic {
        folder: "viscous_jet",
        section: 'A',
        title: "Viscous jet in a gas",
        rows: vec![
            whole_table("growth rate, Oh 0.001 to 100", &from, &exact, 1e-9),
            whole_table("without inertia", &from, &stokes, 1e-9),
            whole_table("long-wave relation (Weber 1931)", &from, &long, 1e-9),
            whole_table("fastest wavenumber", &maximum, &x, 1e-9),
            whole_table("fastest growth rate", &maximum, &w, 1e-9),
            whole_table("fastest mode of the long-wave relation", &maximum, &long_peaks, 1e-9),
        ],
        figure: Some(Plot { x: linear("reduced wavenumber kR"), y: log("growth rate, (γ/ρR³)^1/2"), series }),
    }
}
