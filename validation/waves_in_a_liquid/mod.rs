use crate::framework::plot::{Plot, line, log, symbols};
use crate::framework::table::Table;
use crate::framework::{Row, Status, Topic, relative, source};
use crate::solver::{half_wave, numerics, slope, step_until};
use rayon::prelude::*;
use slenderjet::theory::stokes_thread::StokesThread;
use slenderjet::thread::dispersion::{Relation, TwoLiquids};
use slenderjet::thread::force::Physics;
use slenderjet::thread::inflow::Inflow;
use slenderjet::thread::outer::OuterField;
use slenderjet::thread::outer::profile::Wall;

/// A thread at rest in a liquid at rest: viscosity ratio, Laplace number rho gamma h/mu_o^2 of both liquids, wall over h.
#[derive(Clone, Copy)]
struct Thread {
    ratio: f64,
    laplace: f64,
    wall: Option<f64>,
}

impl Thread {
    fn physics(&self) -> Physics {
        let ohnesorge = self.ratio / self.laplace.sqrt();
        let wall = self.wall.map_or(Wall::Unbounded, Wall::Uniform);
        let mut field = OuterField::new(ohnesorge, self.ratio, 1.0, wall, 0.0);
        field.wake = false;
        let artificial = Physics::artificial_for(ohnesorge);
        Physics {
            ohnesorge,
            bond: 0.0,
            artificial,
            inflow: Inflow::steady(0.0),
            outer: Some(field),
            rheology: None,
            parabolic: false,
        }
    }

    fn relation(&self) -> Relation {
        let Thread { ratio, laplace, wall } = *self;
        let liquids = TwoLiquids { viscosity_ratio: ratio, laplace_inner: laplace, laplace_outer: laplace };
        let relation = match wall {
            Some(wall) => Relation::confined(liquids, 1.0 / wall, 0.0),
            None => Relation::unconfined(liquids, 0.0),
        };
        // What a run solves: no radial inertia.
        Relation { radial: 0.0, ..relation }
    }

    /// Growth rate of a run over a hundredfold swell, in gamma/(mu_o h): slope of ln(crest - trough) over the last e-foldings.
    fn measured(&self, k: f64) -> f64 {
        let mut body = half_wave(k, 1e-4, 60);
        let ohnesorge = self.ratio / self.laplace.sqrt();
        // gamma/(mu_o h) in units of the solver's capillary time.
        let scale = self.laplace.sqrt();
        let expected = self.relation().growth(k) * scale;
        let (from, to) = (4.0f64.ln() / expected, 60.0f64.ln() / expected);
        let numerics = numerics(0.08, 1e-6, ohnesorge, 1e-2, 2.0 / k);
        let mut points = Vec::new();
        step_until(&self.physics(), &numerics, &mut body, to, 200_000, |body| {
            if body.time > from {
                let n = body.cells();
                points.push((body.time, (body.area(0).sqrt() - body.area(n - 1).sqrt()).ln()));
            }
            false
        });
        slope(&points) / scale
    }
}

/// The model's own relation: what the scheme must reproduce.
fn against_model() -> Vec<Row> {
    let from = source("linearised thread equations (src/thread/dispersion)", Status::Theory);
    let cases = [
        (Thread { ratio: 1.0, laplace: 1e-4, wall: None }, 0.6),
        (Thread { ratio: 0.1, laplace: 1e-4, wall: None }, 0.5),
        (Thread { ratio: 10.0, laplace: 1e-4, wall: Some(1.0 / 0.3) }, 0.5),
        (Thread { ratio: 0.1, laplace: 1e-4, wall: Some(1.0 / 0.6) }, 0.6),
        (Thread { ratio: 1.0, laplace: 100.0, wall: None }, 0.6),
        (Thread { ratio: 0.2, laplace: 1000.0, wall: Some(2.0) }, 0.6),
    ];
    cases
        .par_iter()
        .map(|(thread, k)| {
            let wall = thread.wall.map_or("no wall".into(), |w| format!("h/R_w = {:.1}", 1.0 / w));
            let name = format!("ratio {}, Laplace {}, {wall}, kh = {k}", thread.ratio, thread.laplace);
            relative(name, &from, thread.relation().growth(*k), thread.measured(*k), 0.01)
        })
        .collect()
}

pub fn topic() -> Topic {
    let stokes = source("exact two-layer Stokes theory (src/theory/stokes_thread)", Status::Theory);
    let both =
        source("exact, both liquids with inertia; own computation, inertia_both_liquids_peak.csv", Status::Theory);
    let mut rows = against_model();
    let slow: Vec<(Row, f64, f64)> =
        [(0.1, None), (1.0, None), (10.0, None), (0.1, Some(2.0)), (1.0, Some(2.0)), (10.0, Some(2.0))]
            .par_iter()
            .map(|(ratio, wall)| {
                let thread = Thread { ratio: *ratio, laplace: 1e-4, wall: *wall };
                let exact = StokesThread { viscosity_ratio: *ratio, wall: *wall }.fastest();
                let ours = thread.measured(exact.wavenumber);
                let wall = wall.map_or("no wall".into(), |w| format!("h/R_w = {:.1}", 1.0 / w));
                let name = format!("run at the exact fastest mode, ratio {ratio}, {wall}");
                (relative(name, &stokes, exact.rate, ours, 0.083), exact.rate, ours)
            })
            .collect();
    let names = ["La_rho_gamma_h_over_muo2", "lambda", "x", "kpeak_exact", "speak_exact"];
    let table = Table::read("tests/data/two_liquid/inertia_both_liquids_peak.csv").columns(names);
    let heavy: Vec<(Row, f64, f64)> = table
        .par_iter()
        // Far from the wall and half-way to it, where added mass or its boundary layer matters.
        .filter(|row| row[0] >= 10.0 && row[2] <= 0.5 && [0.05, 1.0, 5.0].contains(&row[1]))
        .map(|[laplace, ratio, x, k, exact]| {
            let ours = Thread { ratio: *ratio, laplace: *laplace, wall: Some(1.0 / x) }.measured(*k);
            let name = format!("run with inertia of both liquids: Laplace {laplace}, ratio {ratio}, h/R_w = {x}");
            (relative(name, &both, *exact, ours, 0.14), *exact, ours)
        })
        .collect();
    let points = |set: &[(Row, f64, f64)]| set.iter().map(|(_, exact, ours)| (*exact, *ours)).collect::<Vec<_>>();
    let series = vec![
        symbols("without inertia", points(&slow)),
        symbols("inertia of both liquids", points(&heavy)),
        line("equal", vec![(1e-4, 1e-4), (1.0, 1.0)]),
    ];
    rows.extend(slow.into_iter().chain(heavy).map(|(row, ..)| row));
    Topic {
        folder: "waves_in_a_liquid",
        section: 'B',
        title: "Growth of waves on a thread in another liquid",
        rows,
        figure: Some(Plot {
            x: log("exact growth rate, γ/(μo h)"), y: log("growth rate of a run, γ/(μo h)"), series
        }),
    }
}
