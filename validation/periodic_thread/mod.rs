use crate::framework::plot::{Plot, linear, symbols};
use crate::framework::{Status, Topic, holds, relative, source, within};
use crate::solver::{RADIUS, run, unit_of_time, wave};
use rayon::prelude::*;
use slenderjet::case::Stop;
use slenderjet::outcome::DropKind;
use slenderjet::theory::weber;
use std::f64::consts::PI;

pub fn topic() -> Topic {
    let breakup = source("d t_b/d ln(1/amplitude) = 1/w, linear theory of the long-wave model", Status::Theory);
    let time = |amplitude: f64| {
        let outcome = run(&wave(0.1, 0.7, amplitude, Stop::Drops(1))).0;
        outcome.summary.first_pinch.map_or(f64::NAN, |pinch| pinch.time_s / unit_of_time())
    };
    let (early, late) = rayon::join(|| time(0.01), || time(0.001));
    let slope = (late - early) / 10f64.ln();

    let mass = source("volume: 3 pi/(2k) (1 + eps^2/2) = sum of r^3", Status::Theory);
    let film: Vec<(f64, f64, f64)> = [0.3, 0.5, 0.7, 0.9]
        .par_iter()
        .map(|&x| {
            let summary = run(&wave(0.01, x, 0.01, Stop::Drops(1))).0.summary;
            let all: f64 = summary.drops.iter().map(|drop| (0.5 * drop.diameter_m / RADIUS).powi(3)).sum();
            let satellite = summary
                .drops
                .iter()
                .filter(|drop| drop.kind == DropKind::Satellite)
                .map(|drop| 0.5 * drop.diameter_m / RADIUS)
                .fold(0.0, f64::max);
            (x, satellite, all * x)
        })
        .collect();
    let satellites: Vec<_> = film.iter().map(|(x, r, _)| (*x, *r)).collect();
    let shrink = satellites.windows(2).all(|pair| pair[1].1 < pair[0].1);
    let told: Vec<_> = satellites.iter().map(|(x, r)| format!("{r:.3} at {x}")).collect();
    let measured =
        source("Rutland & Jameson 1971; Lafrance 1975, from their figures, low confidence", Status::Recalled);
    // The run stops at the first drop: only at kR = 0.9 has everything come off by then.
    let volume = film.last().map_or(f64::NAN, |(_, _, all)| *all);
    Topic {
        folder: "periodic_thread",
        section: 'B',
        title: "A thread that breaks into drops",
        rows: vec![
            relative(
                "breakup time per e-folding of the amplitude, Oh = 0.1, kR = 0.7",
                &breakup,
                1.0 / weber::growth(0.1, 0.7),
                slope,
                0.02,
            ),
            relative("k times the sum of r^3, kR = 0.9, Oh = 0.01", &mass, 1.5 * PI * (1.0 + 0.5e-4), volume, 1e-10),
            holds(
                "satellites shrink as the wavenumber grows, Oh = 0.01",
                &measured,
                "falling",
                &told.join(", "),
                shrink,
            ),
            within("satellite radius over R, kR = 0.7, Oh = 0.01", &measured, [0.3, 0.7], satellites[2].1),
        ],
        figure: Some(Plot {
            x: linear("reduced wavenumber kR"),
            y: linear("satellite radius over R"),
            series: vec![symbols("Oh = 0.01", satellites)],
        }),
    }
}
