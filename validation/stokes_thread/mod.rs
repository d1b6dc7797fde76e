use crate::framework::plot::{Plot, line, linear, log, symbols};
use crate::framework::table::Table;
use crate::framework::{Status, Topic, source, whole_table};
use rayon::prelude::*;
use slenderjet::theory::stokes_thread::{StokesThread, growth_equal_viscosities};

fn free(viscosity_ratio: f64) -> StokesThread {
    StokesThread { viscosity_ratio, wall: None }
}

fn confined(viscosity_ratio: f64, x: f64) -> StokesThread {
    StokesThread { viscosity_ratio, wall: Some(1.0 / x) }
}

pub fn topic() -> Topic {
    let tomotika =
        source("Tomotika 1935, Proc. R. Soc. Lond. A 150, 322; 40 digits, tomotika_stokes.csv", Status::Theory);
    let table = Table::read("validation/stokes_thread/tomotika_stokes.csv").columns(["ratio", "x", "w_outer"]);
    let rates: Vec<_> = table.iter().map(|[ratio, x, w]| (*w, free(*ratio).growth(*x))).collect();
    let closed: Vec<_> =
        table.iter().filter(|row| row[0] == 1.0).map(|[_, x, w]| (*w, growth_equal_viscosities(*x))).collect();
    let peaks = Table::read("validation/stokes_thread/tomotika_maximum.csv").columns(["ratio", "x_max", "w_max_outer"]);
    let modes: Vec<_> = peaks.iter().map(|row| free(row[0]).fastest()).collect();
    let peak_x: Vec<_> = peaks.iter().zip(&modes).map(|(row, mode)| (row[1], mode.wavenumber)).collect();
    let peak_w: Vec<_> = peaks.iter().zip(&modes).map(|(row, mode)| (row[2], mode.rate)).collect();

    let tube = source(
        "two-layer Stokes thread in a tube, six conditions, high precision, stokes_growth_exact_vs_1d.csv",
        Status::Theory,
    );
    let names = ["x_h_over_Rw", "lambda_mui_over_muo", "kh", "s_exact_muo_h_over_gamma"];
    let growth = Table::read("tests/data/two_liquid/stokes_growth_exact_vs_1d.csv").columns(names);
    let in_tube: Vec<_> = growth.par_iter().map(|[x, ratio, k, s]| (*s, confined(*ratio, *x).growth(*k))).collect();
    let fast = Table::read("tests/data/two_liquid/stokes_peak_exact_vs_1d.csv").columns([
        "x",
        "lambda",
        "kpeak_exact",
        "speak_exact",
    ]);
    let modes: Vec<_> = fast.par_iter().map(|[x, ratio, ..]| confined(*ratio, *x).fastest()).collect();
    let tube_x: Vec<_> = fast.iter().zip(&modes).map(|(row, mode)| (row[2], mode.wavenumber)).collect();
    let tube_w: Vec<_> = fast.iter().zip(&modes).map(|(row, mode)| (row[3], mode.rate)).collect();

    let closed_form = source("Stone & Brenner 1996, J. Fluid Mech. 318, 373; tomotika_stokes.csv", Status::Theory);
    let k = || (1..100).map(|i| f64::from(i) * 0.01);
    let mut series: Vec<_> = [0.01, 1.0, 100.0]
        .map(|ratio| line(format!("μi/μo = {ratio}"), k().map(|k| (k, free(ratio).growth(k))).collect()))
        .into();
    series.push(symbols(
        "table",
        table.iter().filter(|row| [0.01, 1.0, 100.0].contains(&row[0])).map(|row| (row[1], row[2])).collect(),
    ));
    Topic {
        folder: "stokes_thread",
        section: 'A',
        title: "Thread in another viscous liquid, without inertia",
        rows: vec![
            whole_table("unbounded, viscosity ratio 0.001 to 1000", &tomotika, &rates, 1e-9),
            whole_table("equal viscosities, closed form", &closed_form, &closed, 1e-9),
            whole_table("unbounded, fastest wavenumber", &tomotika, &peak_x, 1e-9),
            whole_table("unbounded, fastest growth rate", &tomotika, &peak_w, 1e-9),
            whole_table("in a tube, h/R_w 0.001 to 0.95", &tube, &in_tube, 1e-6),
            whole_table("in a tube, fastest wavenumber", &tube, &tube_x, 1e-6),
            whole_table("in a tube, fastest growth rate", &tube, &tube_w, 1e-6),
        ],
        figure: Some(Plot { x: linear("reduced wavenumber kh"), y: log("growth rate, γ/(μo h)"), series }),
    }
}
