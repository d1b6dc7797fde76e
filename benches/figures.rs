//! Figures and report of a made-up record of 10^6 nodes (400 instants of 2,500): asked for are 2 s and 2 MB a figure.

use criterion::{Criterion, criterion_group, criterion_main};
use slenderjet::figures::{Kind, Source, Wish, draw};
use slenderjet::report::page;
use std::hint::black_box;
use std::time::Duration;

#[path = "../tests/drawn/mod.rs"]
mod drawn;

fn figures(c: &mut Criterion) {
    let source = [Source::Run(Box::new(drawn::large(drawn::recorded(drawn::jet()), 400, 2500)))];
    let mut group = c.benchmark_group("a million nodes");
    group.sample_size(10).warm_up_time(Duration::from_millis(500)).measurement_time(Duration::from_secs(6));
    for kind in [Kind::Strip, Kind::Spacetime, Kind::Neck] {
        let figure = || draw(&[kind], &source, &Wish::default()).expect("a figure");
        group.bench_function(format!("{} svg", kind.name()), |b| b.iter(|| black_box(figure().svg())));
        group.bench_function(format!("{} pdf", kind.name()), |b| b.iter(|| black_box(figure().pdf())));
        group.bench_function(format!("{} png", kind.name()), |b| b.iter(|| black_box(figure().png())));
    }
    group.bench_function("report", |b| b.iter(|| black_box(page(&source, "bench").expect("a page"))));
    group.finish();
}

criterion_group!(benches, figures);
criterion_main!(benches);
