use crate::framework::plot::{Plot, line, linear, log, symbols};
use crate::framework::table::Table;
use crate::framework::{Status, Topic, source, whole_table};
use slenderjet::liquids::{glycerol, water};

pub fn topic() -> Topic {
    let iapws = source("IAPWS-95, R12-08, R1-76(2014), water_iapws.csv", Status::Published);
    let names = ["T_C", "density_kg_m3", "viscosity_mPas", "surface_tension_mN_m"];
    let table = Table::read("tests/data/liquids/water_iapws.csv").columns(names);
    let column = |place: usize, ours: fn(f64) -> f64, unit: f64| -> Vec<(f64, f64)> {
        table.iter().map(|row| (unit * row[place], ours(row[0]))).collect()
    };
    let segur =
        source("Segur & Oberstar 1951, Ind. Eng. Chem. 43, 2117, glycerol_water_viscosity.csv", Status::Published);
    let cheng = source("Cheng 2008, Ind. Eng. Chem. Res. 47, 3285, same file", Status::Published);
    let names = ["glycerol_mass_percent", "T_C", "viscosity_table_mPas", "viscosity_cheng2008_mPas"];
    let mixture = Table::read("tests/data/liquids/glycerol_water_viscosity.csv").columns(names);
    let ours = |place: usize| -> Vec<(f64, f64)> {
        mixture.iter().map(|row| (1e-3 * row[place], glycerol::viscosity(0.01 * row[0], row[1]))).collect()
    };
    let curve = |t: f64| (0..=100).map(|c| (f64::from(c), 1e3 * glycerol::viscosity(0.01 * f64::from(c), t))).collect();
    Topic {
        folder: "liquids",
        section: 'A',
        title: "Built-in liquids",
        rows: vec![
            whole_table("density of water, 10 to 40 °C", &iapws, &column(1, water::density, 1.0), 1e-3),
            whole_table("viscosity of water", &iapws, &column(2, water::viscosity, 1e-3), 1e-3),
            whole_table("surface tension of water", &iapws, &column(3, water::surface_tension, 1e-3), 1e-3),
            whole_table("viscosity of glycerol-water, 0 to 40 °C", &segur, &ours(2), 0.035),
            whole_table("the same against the formula's own column", &cheng, &ours(3), 1e-4),
        ],
        figure: Some(Plot {
            x: linear("glycerol, mass percent"),
            y: log("viscosity, mPa s"),
            series: vec![
                line("0 °C", curve(0.0)),
                line("20 °C", curve(20.0)),
                line("40 °C", curve(40.0)),
                symbols(
                    "Segur-Oberstar",
                    mixture
                        .iter()
                        .filter(|row| [0.0, 20.0, 40.0].contains(&row[1]))
                        .map(|row| (row[0], row[2]))
                        .collect(),
                ),
            ],
        }),
    }
}
