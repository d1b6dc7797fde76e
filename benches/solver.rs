//! Kernels of the solver on a thread about to pinch, and whole cases. What was measured when, on which machine, is in
//! `docs/speed.md`.

use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use slenderjet::case::Accuracy;
use slenderjet::simulate::{Silent, simulate};
use slenderjet::solver::pentadiagonal::Pentadiagonal;
use slenderjet::study::map::fill::{Bench, fill};
use slenderjet::study::map::{Axis, Plan, Spacing};
use slenderjet::thread::advance::{Advancer, Numerics};
use slenderjet::thread::body::{Body, End};
use slenderjet::thread::force::{Physics, Work, forces, forces_with_derivatives};
use slenderjet::thread::inflow::Inflow;
use slenderjet::thread::jacobian::assemble;
use slenderjet::thread::mesh::regrid::regrid;
use slenderjet::thread::mesh::size::{Fineness, wanted};
use slenderjet::thread::step::Stepper;
use std::hint::black_box;
use std::time::Duration;

mod common;

const OHNESORGE: f64 = 0.1;

fn physics() -> Physics {
    let inflow = Inflow::steady(1e-3f64.sqrt());
    Physics { ohnesorge: OHNESORGE, bond: 0.5, artificial: Physics::artificial_for(OHNESORGE), inflow, outer: None }
}

fn numerics() -> Numerics {
    let (c, tol) = slenderjet::tolerances::STANDARD;
    Numerics { tol, fineness: Fineness { c, neck_cut: 1e-2, ohnesorge: OHNESORGE, longest: 6.0 } }
}

/// The dripping drop (Oh 0.1, Bo 0.5, We 1e-3) when its neck has thinned to 0.1.
fn necking() -> Body {
    let z = (0..=60).map(|i| i as f64 / 60.0).collect();
    let mut body = Body::from_profile(z, End::Nozzle, End::Tip, |z| 1.0 - z * z, |_| 1e-3f64.sqrt());
    let (physics, numerics, mut advancer) = (physics(), numerics(), Advancer::default());
    let mut counts = slenderjet::outcome::SolverCounts::default();
    loop {
        let target = body.time + 0.02;
        while body.time < target {
            advancer.step(&physics, &numerics, &mut body, target, &mut counts).expect("a step");
        }
        let thinnest = (0..body.cells() * 9 / 10).map(|j| body.area(j)).fold(f64::INFINITY, f64::min);
        if thinnest < 0.01 {
            return body;
        }
    }
}

fn kernels(c: &mut Criterion) {
    let body = necking();
    let (physics, numerics) = (physics(), numerics());
    let mut group = c.benchmark_group(format!("kernels, {} cells", body.cells()));
    group.warm_up_time(Duration::from_millis(300)).measurement_time(Duration::from_secs(2)).sample_size(40);
    let (mut work, mut matrix) = (Work::default(), Pentadiagonal::default());
    let fill_matrix = |work: &mut Work, matrix: &mut Pentadiagonal| {
        work.geometry(&body, &body.z, body.v[0]).expect("ordered");
        work.masses(&body);
        forces_with_derivatives(&physics, &body, &body.u, work);
        assemble(&body, 2.0 / body.dt, std::f64::consts::PI * body.u[0], work, matrix);
    };
    group.bench_function("force", |b| {
        b.iter(|| {
            work.geometry(&body, black_box(&body.z), body.v[0]).expect("ordered");
            work.masses(&body);
            forces(&physics, &body, &body.u, body.v[0], &mut work);
        });
    });
    group.bench_function("force and Jacobian", |b| b.iter(|| fill_matrix(&mut work, &mut matrix)));
    fill_matrix(&mut work, &mut matrix);
    let (filled, right) = (matrix.clone(), work.force.clone());
    group.bench_function("banded factorisation and solve", |b| {
        b.iter_batched_ref(
            || (filled.clone(), right.clone()),
            |(matrix, x)| {
                matrix.factor().expect("pivots");
                matrix.solve(x);
            },
            BatchSize::SmallInput,
        );
    });
    let mut stepper = Stepper::default();
    group.bench_function("one step", |b| {
        let short = 0.3 * body.dt;
        b.iter_batched_ref(
            || body.clone(),
            |body| stepper.attempt(&physics, body, short, numerics.tol).expect("accepted"),
            BatchSize::SmallInput,
        );
    });
    let mut sizes = Vec::new();
    group.bench_function("regrid", |b| {
        b.iter_batched_ref(
            || body.clone(),
            |body| {
                wanted(body, &numerics.fineness, &mut sizes);
                regrid(body, &sizes);
            },
            BatchSize::SmallInput,
        );
    });
    group.finish();
}

fn cases(c: &mut Criterion) {
    let mut group = c.benchmark_group("cases");
    group.sample_size(10).warm_up_time(Duration::from_millis(500)).measurement_time(Duration::from_secs(4));
    for accuracy in [Accuracy::Coarse, Accuracy::Standard] {
        for (name, case) in [
            ("dripping drop, Oh 0.1, Bo 0.5, We 1e-3", common::dripping(0.1, 0.5, 1e-3, 1, accuracy)),
            ("segment, x 0.7, Oh 0.1", common::segment(0.7, 0.1, accuracy)),
            ("co-flow drop", common::example("coflow", 1, accuracy)),
            ("jet of 30 drops", common::example("jet", 30, accuracy)),
        ] {
            group.bench_function(format!("{name}, {}", accuracy.name()), |b| {
                b.iter(|| {
                    let outcome = simulate(&case, None, &mut Silent).expect("simulated");
                    assert_eq!(outcome.summary.stopped, "drops_reached");
                });
            });
        }
    }
    group.finish();
}

/// 8 x 8 cells over both flows of the co-flow example, three drops each, coarse, on all cores.
fn map(c: &mut Criterion) {
    let base = common::example("coflow", 3, Accuracy::Coarse);
    let outer = base.outer.as_ref().expect("two streams").flow;
    let axis =
        |key: &str, flow: f64| Axis::between(key, "m3/s", [0.5 * flow, 2.0 * flow], 8, Spacing::Log).expect("an axis");
    let plan = Plan::new(vec![axis("inner.flow", base.inner.flow), axis("outer.flow", outer)]).expect("a plan");
    let make = |values: &[f64]| {
        let mut case = base.clone();
        case.inner.flow = values[0];
        case.outer.as_mut().ok_or("two streams")?.flow = values[1];
        Ok(case)
    };
    let answer = |case: &slenderjet::case::Case| simulate(case, None, &mut Silent).map_err(|e| e.to_string());
    let cells: Vec<usize> = (0..plan.len()).collect();
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let mut group = c.benchmark_group("map 8x8");
    group.sample_size(10).warm_up_time(Duration::from_millis(100)).measurement_time(Duration::from_secs(10));
    for threads in [1, cores] {
        let bench = Bench { make: &make, answer: &answer, threads };
        group.bench_function(format!("{threads} threads"), |b| {
            b.iter(|| {
                let rows = fill(&bench, &plan, &cells, &|_| {}).expect("filled");
                assert_eq!(rows.len(), 64);
            });
        });
    }
    group.finish();
}

criterion_group!(benches, kernels, cases, map);
criterion_main!(benches);
