use crate::framework::plot::{Plot, line, log, symbols};
use crate::framework::table::Table;
use crate::framework::{Status, Topic, source, whole_table};
use slenderjet::theory::falling_jet::{FallingJet, inviscid_radius};

pub fn topic() -> Topic {
    let clarke = source(
        "Clarke 1966, Mathematika 13, 51; 1968, J. Fluid Mech. 31, 481; 30 digits, gravity_jet_viscous.csv",
        Status::Theory,
    );
    let table =
        Table::read("validation/falling_jet/gravity_jet_viscous.csv").columns(["u0", "z", "u", "R_over_R0", "c"]);
    let jet = |u0: f64| FallingJet::new(u0);
    let velocity: Vec<_> =
        table.iter().map(|row| (row[2], jet(row[0]).map_or(f64::NAN, |jet| jet.velocity(row[1])))).collect();
    let radius: Vec<_> =
        table.iter().map(|row| (row[3], jet(row[0]).map_or(f64::NAN, |jet| jet.radius(row[1])))).collect();
    let shift: Vec<_> = table.iter().map(|row| (row[4], jet(row[0]).map_or(f64::NAN, |jet| jet.shift))).collect();
    let bernoulli = source("Torricelli; Bernoulli, gravity_jet_inviscid.csv", Status::Theory);
    let free = Table::read("validation/falling_jet/gravity_jet_inviscid.csv").columns(["x", "R_over_R0"]);
    let inviscid: Vec<_> = free.iter().map(|[x, r]| (*r, inviscid_radius(*x))).collect();
    let z = || (0..60).map(|i| 10f64.powf(-1.5 + 0.05 * f64::from(i)));
    let curve = |u0: f64| jet(u0).map_or(Vec::new(), |jet| z().map(|z| (z, jet.radius(z))).collect());
    let mut series: Vec<_> = [0.01, 0.1, 1.0].map(|u0| line(format!("u(0) = {u0}"), curve(u0))).into();
    series.push(symbols("table", table.iter().map(|row| (row[1], row[3])).collect()));
    Topic {
        folder: "falling_jet",
        section: 'A',
        title: "Falling jet",
        rows: vec![
            whole_table("velocity of a viscous jet", &clarke, &velocity, 1e-8),
            whole_table("radius", &clarke, &radius, 1e-8),
            whole_table("shift of the origin", &clarke, &shift, 1e-8),
            whole_table("radius without viscosity", &bernoulli, &inviscid, 1e-8),
        ],
        figure: Some(Plot {
            x: log("distance below the nozzle, (9ν²/g)^1/3"),
            y: log("radius over that at the nozzle"),
            series,
        }),
    }
}
