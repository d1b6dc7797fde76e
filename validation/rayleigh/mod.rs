use crate::framework::plot::{Plot, line, linear, symbols};
use crate::framework::table::Table;
use crate::framework::{Status, Topic, relative, source, whole_table};
use slenderjet::theory::{rayleigh, weber};

pub fn topic() -> Topic {
    let from = source("Rayleigh 1879, Proc. Lond. Math. Soc. 10, 4; 40 digits, rayleigh_exact.csv", Status::Theory);
    let table = Table::read("validation/rayleigh/rayleigh_exact.csv");
    let squared: Vec<_> =
        table.columns(["x", "w2_exact"]).iter().map(|[x, w2]| (*w2, rayleigh::growth_squared(*x))).collect();
    let growing =
        || table.columns(["x", "w2_exact", "w_longwave", "w_cosserat"]).into_iter().filter(|row| row[1] > 0.0);
    let long: Vec<_> = growing().map(|[x, _, w, _]| (w, weber::growth(0.0, x))).collect();
    let radial: Vec<_> = growing().map(|[x, _, _, w]| (w, weber::growth_with_radial_inertia(0.0, x))).collect();
    let maximum = source("rayleigh_maximum.csv", Status::Theory);
    let peaks =
        Table::read("validation/rayleigh/rayleigh_maximum.csv").columns(["x_max", "w_max", "drop_radius_over_R"]);
    let fastest = rayleigh::fastest();
    let curve = (1..200).map(|i| f64::from(i) * 0.005);
    Topic {
        folder: "rayleigh",
        section: 'A',
        title: "Inviscid jet",
        rows: vec![
            whole_table("w^2, x 0.001 to 5", &from, &squared, 1e-9),
            relative("fastest x", &maximum, peaks[0][0], fastest.wavenumber, 1e-9),
            relative("fastest w", &maximum, peaks[0][1], fastest.rate, 1e-9),
            relative("drop radius over R", &maximum, peaks[0][2], rayleigh::drop_radius(fastest.wavenumber), 1e-9),
            whole_table("long-wave relation at Oh = 0", &from, &long, 1e-9),
            whole_table("with radial inertia at Oh = 0", &from, &radial, 1e-9),
        ],
        figure: Some(Plot {
            x: linear("reduced wavenumber kR"),
            y: linear("growth rate, (γ/ρR³)^1/2"),
            series: vec![
                line("exact", curve.clone().map(|x| (x, rayleigh::growth(x))).collect()),
                line("long wave", curve.clone().map(|x| (x, weber::growth(0.0, x))).collect()),
                line("with radial inertia", curve.map(|x| (x, weber::growth_with_radial_inertia(0.0, x))).collect()),
                symbols("table", growing().map(|[x, w2, _, _]| (x, w2.sqrt())).collect()),
            ],
        }),
    }
}
