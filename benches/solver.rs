//! Kernels of the solver on a thread about to pinch, and whole cases. What was measured when, on which machine, is in
//! `docs/speed.md`.

use common::kernels::{Kernels, factor_and_solve};
use common::threads::necking;
use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use slenderjet::case::Accuracy;
use slenderjet::simulate::{Silent, simulate};
use slenderjet::study::StudyError;
use slenderjet::study::map::fill::{Bench, fill};
use slenderjet::study::map::{Axis, Plan, Spacing};
use slenderjet::tolerances::STANDARD;
use std::time::Duration;

mod common;

fn kernels(c: &mut Criterion) {
    let thread = necking(STANDARD);
    let mut kernels = Kernels::default();
    let mut group = c.benchmark_group(format!("kernels, {} cells", thread.body.cells()));
    group.warm_up_time(Duration::from_millis(300)).measurement_time(Duration::from_secs(2)).sample_size(40);
    group.bench_function("force", |b| b.iter(|| kernels.force(&thread)));
    group.bench_function("force and Jacobian", |b| b.iter(|| kernels.force_and_jacobian(&thread)));
    let system = kernels.system(&thread);
    group.bench_function("banded factorisation and solve", |b| {
        b.iter_batched_ref(|| system.clone(), |(matrix, x)| factor_and_solve(matrix, x), BatchSize::SmallInput);
    });
    group.bench_function("one step", |b| {
        let short = 0.3 * thread.body.dt;
        b.iter_batched_ref(|| thread.body.clone(), |body| kernels.step(&thread, body, short), BatchSize::SmallInput);
    });
    group.bench_function("regrid", |b| {
        b.iter_batched_ref(|| thread.body.clone(), |body| kernels.regrid(&thread, body), BatchSize::SmallInput);
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
                    assert_eq!(outcome.summary.stopped.word(), "drops_reached");
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
        case.outer.as_mut().expect("two streams").flow = values[1];
        Ok(case)
    };
    let answer = |case: &slenderjet::case::Case| simulate(case, None, &mut Silent).map_err(StudyError::from);
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
