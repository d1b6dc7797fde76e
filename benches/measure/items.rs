//! Kernels and whole cases by name, done so often: for counts of instructions, which noise does not touch.

use crate::common::kernels::{Kernels, factor_and_solve};
use crate::common::threads::necking;
use crate::common::{dripping, example, segment};
use slenderjet::case::{Accuracy, Case};
use slenderjet::simulate::{Silent, simulate};
use slenderjet::tolerances::STANDARD;
use std::hint::black_box;

pub const NAMES: [&str; 12] = [
    "force",
    "force_and_jacobian",
    "banded_solve",
    "one_step",
    "regrid",
    "dripping_coarse",
    "dripping_standard",
    "segment_coarse",
    "segment_standard",
    "coflow_drop_coarse",
    "coflow_drop_standard",
    "short_jet_coarse",
];

/// Drops of the short jet.
const JET_DROPS: u32 = 3;

/// Do an item `times` times; what it needs is made ready even for none, so that a difference of counts leaves it out.
pub fn run(name: &str, times: u32) {
    match name {
        "force" | "force_and_jacobian" | "banded_solve" | "one_step" | "regrid" => kernel(name, times),
        "dripping_coarse" => case(&dripping(0.1, 0.5, 1e-3, 1, Accuracy::Coarse), times),
        "dripping_standard" => case(&dripping(0.1, 0.5, 1e-3, 1, Accuracy::Standard), times),
        "segment_coarse" => case(&segment(0.7, 0.1, Accuracy::Coarse), times),
        "segment_standard" => case(&segment(0.7, 0.1, Accuracy::Standard), times),
        "coflow_drop_coarse" => case(&example("coflow", 1, Accuracy::Coarse), times),
        "coflow_drop_standard" => case(&example("coflow", 1, Accuracy::Standard), times),
        "short_jet_coarse" => case(&example("jet", JET_DROPS, Accuracy::Coarse), times),
        other => panic!("no item {other:?}: {NAMES:?}"),
    }
}

fn case(case: &Case, times: u32) {
    for _ in 0..times {
        let outcome = simulate(black_box(case), None, &mut Silent).expect("simulated");
        assert_eq!(outcome.summary.stopped, slenderjet::outcome::Stopped::DropsReached);
    }
}

fn kernel(name: &str, times: u32) {
    let thread = necking(STANDARD);
    let mut kernels = Kernels::default();
    // once before the count, so that buffers have their sizes
    let (matrix, right) = kernels.system(&thread);
    let (mut matrix_now, mut x, mut body) = (matrix.clone(), right.clone(), thread.body.clone());
    let short = 0.3 * thread.body.dt;
    kernels.step(&thread, &mut body, short);
    kernels.regrid(&thread, &mut thread.body.clone());
    for _ in 0..times {
        match name {
            "force" => kernels.force(&thread),
            "force_and_jacobian" => kernels.force_and_jacobian(&thread),
            "banded_solve" => {
                matrix_now.clone_from(&matrix);
                x.clone_from(&right);
                factor_and_solve(&mut matrix_now, &mut x);
            }
            "one_step" => {
                body.clone_from(&thread.body);
                kernels.step(&thread, &mut body, short);
            }
            _ => {
                body.clone_from(&thread.body);
                kernels.regrid(&thread, &mut body);
            }
        }
    }
    black_box((&kernels.work, &x, &body));
}
