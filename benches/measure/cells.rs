//! Cost of the kernels against the number of cells, on a thread of fixed shape.

use crate::clock::each;
use crate::common::kernels::{Kernels, factor_and_solve};
use crate::common::threads::{Thread, dripping};
use slenderjet::thread::body::{Body, End};
use slenderjet::tolerances::STANDARD;

/// Seconds for one number.
const SECONDS: f64 = 0.3;
/// Length of the thread; a round tip of radius 1 ends it.
const LENGTH: f64 = 6.0;
/// So short that a step is accepted on the finest mesh: its length does not change what a step computes.
const STEP: f64 = 1e-9;

/// A wavy thread on the nozzle with a round tip, in `n` equal cells.
fn wavy(n: usize) -> Thread {
    let mut thread = dripping(STANDARD);
    let from = LENGTH - 1.0;
    let area = move |z: f64| {
        let wave = 1.0 - 0.3 * (std::f64::consts::PI * z.min(from) / from).sin().powi(2);
        wave * wave * (1.0 - (z - from).max(0.0).powi(2))
    };
    let z = (0..=n).map(|i| LENGTH * i as f64 / n as f64).collect();
    let inflow = thread.body.u[0];
    thread.body = Body::from_profile(z, End::Nozzle, End::Tip, area, |_| inflow);
    thread.body.dt = STEP;
    thread
}

pub fn print(n: usize) {
    let thread = wavy(n);
    let mut kernels = Kernels::default();
    let (matrix, right) = kernels.system(&thread);
    let (mut matrix_now, mut x, mut body) = (matrix.clone(), right.clone(), thread.body.clone());
    let force = each(SECONDS, || kernels.force(&thread));
    let jacobian = each(SECONDS, || kernels.force_and_jacobian(&thread));
    let solve = each(SECONDS, || {
        matrix_now.clone_from(&matrix);
        x.clone_from(&right);
        factor_and_solve(&mut matrix_now, &mut x);
    });
    let step = each(SECONDS, || {
        body.clone_from(&thread.body);
        kernels.step(&thread, &mut body, STEP);
    });
    println!(
        "{{\"cells\": {n}, \"force_s\": {force:.4e}, \"force_and_jacobian_s\": {jacobian:.4e}, \
         \"banded_solve_s\": {solve:.4e}, \"one_step_s\": {step:.4e}}}"
    );
}
