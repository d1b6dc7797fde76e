//! One stretch of a run on one mesh, by the method asked for.

use crate::banded::{Banded, Equations, M, V};
use diffsol::{FaerSparseLU, OdeBuilder, OdeSolverMethod, OdeSolverStopReason, Vector};

type Lu = FaerSparseLU<f64>;

const STEPS_MAX: usize = 500_000;

#[derive(Clone, Copy)]
pub enum Method {
    Bdf,
    TrBdf2,
    Esdirk34,
}

#[derive(Default)]
pub struct Leg {
    /// The last four steps (and the start, if there are fewer).
    pub last: Vec<(f64, Vec<f64>)>,
    pub stopped: bool,
    pub steps: usize,
    pub evaluations: usize,
}

/// From `t0` to `t1`, or until `event` has fallen below zero.
pub fn integrate<S: Banded>(
    method: Method,
    system: S,
    event: impl Fn(&[f64]) -> f64,
    [t0, t1]: [f64; 2],
    start: Vec<f64>,
    rtol: f64,
) -> Result<(Leg, S), String> {
    let text = |e: diffsol::DiffsolError| e.to_string();
    let first = (t0, start.clone());
    let atol = (0..start.len()).map(|i| rtol * if i % 2 == 0 { 1e-3 } else { 1e-1 });
    let equations = Equations::new(system, start);
    let problem = OdeBuilder::<M>::new()
        .t0(t0)
        .rtol(rtol)
        .atol(atol.collect::<Vec<f64>>())
        .build_from_eqn(equations)
        .map_err(text)?;
    let leg = match method {
        Method::Bdf => follow(problem.bdf::<Lu>().map_err(text)?, event, t1, first),
        Method::TrBdf2 => follow(problem.tr_bdf2::<Lu>().map_err(text)?, event, t1, first),
        Method::Esdirk34 => follow(problem.esdirk34::<Lu>().map_err(text)?, event, t1, first),
    };
    let mut leg = leg.map_err(text)?;
    leg.evaluations = problem.eqn.evaluations.get();
    Ok((leg, problem.eqn.system))
}

fn follow<'a, S: Banded + 'a>(
    mut solver: impl OdeSolverMethod<'a, Equations<S>>,
    event: impl Fn(&[f64]) -> f64,
    t1: f64,
    first: (f64, Vec<f64>),
) -> Result<Leg, diffsol::DiffsolError> {
    let mut leg = Leg { last: vec![first], ..Leg::default() };
    if t1.is_finite() {
        solver.set_stop_time(t1)?;
    }
    while leg.steps < STEPS_MAX {
        let reason = solver.step()?;
        leg.steps += 1;
        let state = solver.state();
        let y: Vec<f64> = V::clone_as_vec(state.y);
        let below = event(&y) <= 0.0;
        if leg.last.len() == 4 {
            leg.last.remove(0);
        }
        leg.last.push((state.t, y));
        if below {
            leg.stopped = true;
            break;
        }
        if matches!(reason, OdeSolverStopReason::TstopReached) {
            break;
        }
    }
    Ok(leg)
}
