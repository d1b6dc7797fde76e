//! Cases that several benches and scripts time, by their dimensionless groups on R = 1 mm, 1000 kg/m3, 70 mN/m.
#![allow(dead_code)]

pub mod kernels;
pub mod threads;

use slenderjet::case::{Accuracy, Case, Stop, examples, parse};

const RADIUS: f64 = 1e-3;
const DENSITY: f64 = 1000.0;
const TENSION: f64 = 0.07;

fn viscosity(ohnesorge: f64) -> f64 {
    ohnesorge * (DENSITY * TENSION * RADIUS).sqrt()
}

/// One capillary time, s: sqrt(rho R^3/gamma).
pub fn capillary_time() -> f64 {
    (DENSITY * RADIUS.powi(3) / TENSION).sqrt()
}

fn read(text: &str) -> Case {
    parse(text, "bench").unwrap_or_else(|e| panic!("{e}"))
}

/// A tap: drops under gravity.
pub fn dripping(ohnesorge: f64, bond: f64, weber: f64, drops: u32, accuracy: Accuracy) -> Case {
    let (mu, g) = (viscosity(ohnesorge), bond * TENSION / (DENSITY * RADIUS * RADIUS));
    let flow = std::f64::consts::PI * RADIUS * RADIUS * (weber * TENSION / (DENSITY * RADIUS)).sqrt();
    read(&format!(
        "layout = \"pendant\"\n[inner]\nviscosity = \"{mu:e} Pa.s\"\ndensity = \"{DENSITY} kg/m3\"\nflow = \"{flow:e} m3/s\"\n\
         [interface]\ntension = \"{TENSION} N/m\"\n[device]\ntip_bore = \"2 mm\"\n[gravity]\nalong = \"down\"\ng = \"{g:e} m/s2\"\n\
         [run]\ndrops = {drops}\naccuracy = \"{}\"\nframes = 2",
        accuracy.name()
    ))
}

/// A wave on a thread at rest.
pub fn segment(x: f64, ohnesorge: f64, accuracy: Accuracy) -> Case {
    let mu = viscosity(ohnesorge);
    read(&format!(
        "layout = \"segment\"\n[inner]\nviscosity = \"{mu:e} Pa.s\"\ndensity = \"{DENSITY} kg/m3\"\n\
         [interface]\ntension = \"{TENSION} N/m\"\n[thread]\nradius = \"1 mm\"\nwavenumber = {x}\namplitude = \"1 %\"\n\
         [run]\naccuracy = \"{}\"\nframes = 2",
        accuracy.name()
    ))
}

/// An example of `slenderjet example`, so many drops.
pub fn example(name: &str, drops: u32, accuracy: Accuracy) -> Case {
    let mut case = read(examples::find(name).expect("an example").text);
    (case.run.stop, case.run.accuracy, case.run.frames) = (Stop::Drops(drops), accuracy, 2);
    case
}
