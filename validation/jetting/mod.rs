use crate::framework::plot::{Axis, Plot, linear, symbols};
use crate::framework::{Row, Status, Topic, holds, relative, source};
use crate::solver::{nozzle, run};
use rayon::prelude::*;
use slenderjet::case::{Accuracy, Bore, Case, Forcing, Stop, parse};
use slenderjet::device::core_annular::core_share;
use slenderjet::outcome::{Mode, Summary};
use slenderjet::theory::stokes_thread::StokesThread;
use std::f64::consts::PI;

fn device() -> Case {
    parse(include_str!("device.toml"), "device.toml").unwrap_or_else(|e| panic!("{e}"))
}

/// Mean drop of a co-flow jet, m, at viscosity ratio and tension (N/m), and the case.
fn jet(ratio: f64, tension: f64) -> (f64, Case, Mode) {
    let mut case = device();
    case.inner.viscosity *= ratio;
    case.tension = tension;
    let summary = run(&case).0.summary;
    // a few drops of a jet, whether or not they tell that it is established
    (summary.mean_of_settled().unwrap_or(f64::NAN), case, summary.mode)
}

/// d_j (3 pi/(2 k))^(1/3): d_j of exact core-annular flow, k of Tomotika's fastest mode.
fn expected(case: &Case) -> f64 {
    let outer = case.outer.as_ref().expect("an outer liquid");
    let ratio = case.inner.viscosity / outer.viscosity;
    let Bore::Round(bore) = case.device.bore else { return f64::NAN };
    let thread = bore * core_share(case.inner.flow / outer.flow, ratio).sqrt();
    let k = StokesThread { viscosity_ratio: ratio, wall: None }.fastest().wavenumber;
    thread * (1.5 * PI / k).cbrt()
}

/// Watery drops into a ten times more viscous liquid at the outer capillary number mu_o U_axis/gamma and the inner Weber number
/// rho U^2 D/gamma, D the tip's bore.
fn point(capillary: f64, weber: f64) -> Case {
    let (radius, wall) = (25e-6, 500e-6);
    let mut case = device();
    case.tension = 40e-3;
    case.device.bore = Bore::Round(2.0 * wall);
    case.device.tip_bore = 2.0 * radius;
    case.device.tip_outer = Some(2.2 * radius);
    case.inner.viscosity = 1e-3;
    case.inner.flow = (weber * case.tension / (case.inner.density * 2.0 * radius)).sqrt() * PI * radius * radius;
    if let Some(outer) = &mut case.outer {
        outer.viscosity = 10e-3;
        outer.flow = 0.5 * capillary * case.tension / outer.viscosity * PI * wall * wall;
    }
    case.forcing = Forcing::default();
    case.run.stop = Stop::Drops(8);
    case
}

/// The named points of the source, and the border within a factor of 3 of one along each axis.
fn modes() -> Vec<Row> {
    let from = source("Utada et al. 2007, Phys. Rev. Lett. 99, 094502 (Ca_o, We_i of order one)", Status::Recalled);
    let asked = [
        (0.1, 0.01, Mode::Dripping, ""),
        (3.0, 0.01, Mode::Jetting, ": border below 3"),
        (1.0 / 3.0, 0.01, Mode::Dripping, ": border above 1/3"),
        (0.01, 5.0, Mode::Jetting, ""),
        (0.01, 3.0, Mode::Jetting, ": border below 3"),
        (0.01, 1.0 / 3.0, Mode::Dripping, ": border above 1/3"),
    ];
    asked
        .par_iter()
        .map(|(ca, we, expected, note)| {
            let mode = run(&point(*ca, *we)).0.summary.mode;
            let name = format!("mode at (Ca_o, We_i) = ({ca:.2}, {we:.2}){note}");
            holds(name, &from, expected.word(), mode.word(), mode == *expected)
        })
        .collect()
}

/// Spread of the drops of a thin liquid from a nozzle in a gas under 0.5 % noise.
fn spread(bond: f64, weber: f64) -> Summary {
    let mut case = nozzle(0.01, bond, weber, Stop::Drops(16));
    case.forcing = Forcing { amplitude: 0.0, frequency: 0.0, noise: 0.005, seed: 1, ..Forcing::default() };
    case.run.accuracy = Accuracy::Coarse;
    run(&case).0.summary
}

pub fn topic() -> Topic {
    let narrowing = source("Castro-Hernandez et al. 2009 (idea recalled); Tomotika's fastest mode", Status::Recalled);
    let tension = source("Kovalchuk et al. 2019, abstract: jetting drops do not depend on tension", Status::Published);
    let regular = source("dripping is more regular than jetting", Status::CommonPractice);
    // Tensions a factor of three apart; jets at both.
    let asked: Vec<(f64, f64)> = [0.2, 1.0].iter().flat_map(|r| [(*r, 3e-3), (*r, 9e-3)]).collect();
    let jets: Vec<(f64, f64, f64, Case, Mode)> = asked
        .par_iter()
        .map(|(ratio, gamma)| {
            let (d, case, mode) = jet(*ratio, *gamma);
            (*ratio, *gamma, d, case, mode)
        })
        .collect();
    let mut rows = Vec::new();
    for (ratio, gamma, d, case, mode) in &jets {
        let name = format!("drop of a co-flow jet, viscosity ratio {ratio}, {} mN/m ({mode}), µm", 1e3 * gamma);
        rows.push(relative(name, &narrowing, 1e6 * expected(case), 1e6 * d, 0.15));
    }
    for pair in jets.chunks(2) {
        let name = format!("drop at three times the tension over the drop before, viscosity ratio {}", pair[0].0);
        rows.push(relative(name, &tension, 1.0, pair[1].2 / pair[0].2, 0.1));
    }
    rows.extend(modes());
    let (drips, jets_in_gas) = rayon::join(|| spread(0.3, 0.01), || spread(0.0, 8.0));
    let cv = |summary: &Summary| summary.primary.cv.unwrap_or(f64::NAN);
    let told = format!(
        "{:.2} % ({}), {:.2} % ({})",
        100.0 * cv(&drips),
        drips.mode,
        100.0 * cv(&jets_in_gas),
        jets_in_gas.mode
    );
    let right = cv(&drips) < cv(&jets_in_gas) && drips.mode == Mode::Dripping && jets_in_gas.mode == Mode::Jetting;
    rows.push(holds(
        "spread dripping, spread jetting, watery liquid in a gas, 0.5 % noise",
        &regular,
        "smaller",
        &told,
        right,
    ));
    let of = |ratio: f64| -> Vec<(f64, f64)> {
        jets.iter().filter(|j| j.0 == ratio).map(|j| (1e3 * j.1, j.2 / expected(&j.3))).collect()
    };
    Topic {
        folder: "jetting",
        section: 'D',
        title: "Jets: size of their drops, where dripping ends",
        rows,
        figure: Some(Plot {
            x: linear("tension, mN/m"),
            y: Axis { range: Some([0.85, 1.15]), ..linear("drop diameter over d_j (3π/2k*)^1/3") },
            series: vec![symbols("viscosity ratio 0.2", of(0.2)), symbols("viscosity ratio 1", of(1.0))],
        }),
    }
}
