//! Answers of many cells, side by side.

use super::{Plan, Row};
use crate::case::Case;
use crate::outcome::{Outcome, Stopped};
use crate::study::StudyError;
use rayon::prelude::*;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Makes the case of a cell from the SI values of the varied keys.
pub type MakeCase<'a> = &'a (dyn Fn(&[f64]) -> Result<Case, StudyError> + Sync);
/// Answers a case.
pub type Answer<'a> = &'a (dyn Fn(&Case) -> Result<Outcome, StudyError> + Sync);

/// How cells are answered.
#[derive(Clone, Copy)]
pub struct Bench<'a> {
    pub make: MakeCase<'a>,
    pub answer: Answer<'a>,
    /// Worker threads.
    pub threads: usize,
}

/// The row of one set of values; `None` where the run was interrupted.
pub fn row(bench: &Bench<'_>, index: usize, values: Vec<f64>) -> Option<Row> {
    let case = match (bench.make)(&values) {
        Ok(case) => case,
        Err(why) => return Some(Row::failed(index, values, why.to_string())),
    };
    // A panic is a defect of ours; it costs the map one row, not all of them.
    match catch_unwind(AssertUnwindSafe(|| (bench.answer)(&case))) {
        Ok(Ok(outcome)) if outcome.summary.stopped == Stopped::Interrupted => None,
        Ok(Ok(outcome)) => Some(Row::answered(index, values, &outcome)),
        Ok(Err(StudyError::Interrupted)) => None,
        Ok(Err(why)) => Some(Row::failed(index, values, why.to_string())),
        Err(_) => Some(Row::failed(index, values, "internal error while this cell was simulated")),
    }
}

/// Answers `cells` of a plan. `done` hears of each row as it comes, in no fixed order; the rows come back in the order of
/// `cells`, without those that were interrupted.
///
/// # Errors
/// Where the worker threads cannot be started.
pub fn fill(
    bench: &Bench<'_>,
    plan: &Plan,
    cells: &[usize],
    done: &(dyn Fn(&Row) + Sync),
) -> Result<Vec<Row>, StudyError> {
    let one = |&index: &usize| {
        let row = row(bench, index, plan.values(index))?;
        done(&row);
        Some(row)
    };
    in_parallel(bench.threads, cells, one).map(|rows| rows.into_iter().flatten().collect())
}

/// Maps `items` side by side on `threads` threads; results in the order of the items.
///
/// # Errors
/// Where the threads cannot be started.
pub fn in_parallel<T: Sync, R: Send>(
    threads: usize,
    items: &[T],
    one: impl Fn(&T) -> R + Sync + Send,
) -> Result<Vec<R>, StudyError> {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads.max(1)).build();
    let pool = pool.map_err(|source| StudyError::Threads { threads, source })?;
    Ok(pool.install(|| items.par_iter().with_max_len(1).map(one).collect()))
}
