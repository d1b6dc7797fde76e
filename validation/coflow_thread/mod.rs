use crate::coflow_dripping::coflow;
use crate::framework::table::Table;
use crate::framework::{Row, Status, Topic, holds, relative, source};
use rayon::prelude::*;
use slenderjet::case::{Accuracy, Case, Stop};
use slenderjet::outcome::{Mode, Outcome, Summary};
use slenderjet::simulate::{Silent, simulate};

fn run(case: &Case) -> Option<Outcome> {
    simulate(case, None, &mut Silent).ok()
}

/// Smallest slope of the neck against time between two radii (over the tip's), in units of gamma/mu_i.
fn pinch_speed(case: &Case, from: f64, to: f64) -> f64 {
    let Some(outcome) = run(case) else { return f64::NAN };
    let tip = case.device.pinned_radius();
    let samples: Vec<_> = outcome.necks.iter().filter(|s| s.pinch == Some(0)).collect();
    let at = |radius: f64| samples.iter().rev().find(|s| s.radius > radius * tip).map(|s| (s.time, s.radius));
    let (Some(first), Some(last)) = (at(from), at(to)) else { return f64::NAN };
    (first.1 - last.1) / (last.0 - first.0) * case.inner.viscosity / case.tension
}

/// Dripping in a wide tube: settled mean diameter over the tip's.
fn settled(summary: &Summary, case: &Case) -> f64 {
    let last = summary.drops.iter().rfind(|d| d.kind == slenderjet::outcome::DropKind::Primary);
    let mean = summary.primary.mean_diameter_m.or(last.map(|d| d.diameter_m));
    mean.map_or(f64::NAN, |d| d / case.device.tip_bore)
}

fn law(capillary: f64) -> Row {
    let from = source("Umbanhowar, Prasad & Weitz 2000, Langmuir 16, 347: d/D = 1 + 1/(3 Ca)", Status::Recalled);
    let case = coflow(capillary, 0.3, 1.0, 57.75, Stop::Drops(4));
    let ours = run(&case).map_or(f64::NAN, |o| settled(&o.summary, &case));
    relative(format!("settled drops at Ca {capillary}, ratio 1: d/D"), &from, 1.0 + 1.0 / (3.0 * capillary), ours, 0.3)
}

const SWELL: &str = "tests/data/first_principles/swell.csv";

/// Radii of a thick thread behind its tip when its front is 4 R away, beside those of Stokes flow; they guided the rate at which the bore's
/// parabola evens out, no drop did.
fn swollen() -> Vec<Row> {
    let from = source(format!("own boundary elements, {SWELL}"), Status::FirstPrinciples);
    let mut case = coflow(0.001, 33.0, 300.0, 57.75, Stop::Until(3.0));
    case.run.frames = 400;
    let radius = case.device.pinned_radius();
    let (_, frames) = crate::solver::run(&case);
    let there = frames.iter().filter_map(|frame| frame.bodies.first());
    let body = there.into_iter().find(|body| body.z.last().is_some_and(|front| *front >= 4.0 * radius));
    let at = |z: f64| {
        let body = body?;
        let after = body.z.iter().position(|there| *there > z * radius)?;
        let [z_0, z_1] = [body.z[after - 1], body.z[after]];
        let x = (z * radius - z_0) / (z_1 - z_0);
        Some((body.h[after - 1] + x * (body.h[after] - body.h[after - 1])) / radius)
    };
    let table = Table::read(SWELL).columns(["z", "h"]);
    let row = |[z, h]: &[f64; 2]| {
        relative(
            format!("radius of a thick thread {z} R behind its tip, R"),
            &from,
            *h,
            at(*z).unwrap_or(f64::NAN),
            0.01,
        )
    };
    table.iter().map(row).collect()
}

pub fn topic() -> Topic {
    let speed = source(
        "Lister & Stone 1998, Phys. Fluids 10, 2758; Cohen et al. 1999, Phys. Rev. Lett. 83, 1147",
        Status::Recalled,
    );
    let ours = pinch_speed(&coflow(0.15, 0.0667, 1.0, 57.75, Stop::Drops(1)), 0.03, 0.012);
    let neck = relative("speed of the neck at equal viscosities, gamma/mu", &speed, 0.0335, ours, 0.15).failing_for(
        "the cone on the drop's side is steeper here (slope 1.4 to 1.8 between these radii) than the closures hold for (below one). It is not \
         that a neck of the right shape would be too fast: on shapes of the full equations late necks thin at 0.66 to 0.93 of their rate in \
         three rows (validation/orifice). These radii are the last three ten-thousandths of the drop's time",
    );
    let mut rows = vec![neck];
    rows.par_extend([0.1, 0.2, 0.3].into_par_iter().map(law));
    let modes = source(
        "Utada et al. 2007, Phys. Rev. Lett. 99, 094502 (dripping to jetting at Ca_o of order one)",
        Status::Recalled,
    );
    rows.extend(swollen());
    let asked = [(0.1, 1.0, Mode::Dripping), (3.0, 1.0, Mode::Jetting)];
    rows.par_extend(asked.into_par_iter().map(|(capillary, share, expected)| {
        let mut case = coflow(capillary, share, 1.0, 57.75, Stop::Drops(6));
        // as maps ask for modes
        case.run.accuracy = Accuracy::Coarse;
        let mode = run(&case).map_or(Mode::None, |o| o.summary.mode);
        holds(format!("mode at Ca_o {capillary}"), &modes, expected.word(), mode.word(), mode == expected)
    }));
    Topic {
        folder: "coflow_thread",
        section: 'D',
        title: "Co-flow: speed of the neck, recalled size law, swell behind the tip, modes",
        rows,
        figure: None,
    }
}
