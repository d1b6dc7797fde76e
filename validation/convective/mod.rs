use crate::framework::plot::{Plot, line, log, symbols};
use crate::framework::table::Table;
use crate::framework::{Status, Topic, relative, source, whole_table};
use slenderjet::theory::{convective, roots};

/// The source's Re is rho U h/mu = sqrt(We)/Oh at the critical We: found by a search in Oh.
fn critical_at(reynolds: f64) -> f64 {
    let miss = |ln_oh: f64| {
        let oh = ln_oh.exp();
        convective::critical_weber(oh).map_or(f64::NAN, |weber| weber.sqrt() / oh / reynolds - 1.0)
    };
    // Critical We lies between 0.05 and 3.2.
    let (low, high) = ((0.2 / reynolds).ln(), (1.8 / reynolds).ln());
    roots::bracketed(miss, low, high).and_then(|ln_oh| convective::critical_weber(ln_oh.exp())).unwrap_or(f64::NAN)
}

pub fn topic() -> Topic {
    let from = source("Leib & Goldstein 1986, Phys. Fluids 29, 952; recomputed, leib_goldstein.csv", Status::Theory);
    let table = Table::read("tests/data/two_liquid/leib_goldstein.csv").columns(["Re_rhoUh_over_mu", "Wec_full"]);
    let chosen: Vec<_> = table.into_iter().filter(|[re, _]| *re <= 1e4 && *re >= 0.5).collect();
    let pairs: Vec<_> = chosen.iter().map(|[re, weber]| (*weber, critical_at(*re))).collect();
    let inviscid = source(
        "Leib & Goldstein 1986, J. Fluid Mech. 168, 479: We 3.1225 without viscosity (table: Re 1e8)",
        Status::Theory,
    );
    let curve = (0..40).map(|i| 10f64.powf(-3.5 + 0.1 * f64::from(i)));
    let ours = curve.filter_map(|oh| convective::critical_weber(oh).map(|weber| (weber.sqrt() / oh, weber)));
    Topic {
        folder: "convective",
        section: 'A',
        title: "Absolute or convective: jet in a gas",
        rows: vec![
            whole_table("critical We, Re 0.5 to 10000", &from, &pairs, 1e-6),
            relative(
                "critical We at Oh = 1e-6",
                &inviscid,
                3.1225,
                convective::critical_weber(1e-6).unwrap_or(f64::NAN),
                2e-3,
            ),
        ],
        figure: Some(Plot {
            x: log("Reynolds number ρUR/μ"),
            y: log("critical Weber number"),
            series: vec![
                line("ours", ours.collect()),
                symbols("table", chosen.iter().map(|[a, b]| (*a, *b)).collect()),
            ],
        }),
    }
}
