//! Where the mode changes, traced by bisection and not read from pixels.

use super::fill::{Bench, in_parallel, row};
use super::{Axis, Plan, Row, Spacing, Status};
use crate::outcome::Mode;
use crate::study::StudyError;
use serde::{Deserialize, Serialize};

/// How near the two sides of the border are brought, as a share of the varied quantity.
pub const BORDER_WIDTH: f64 = 0.02;
/// Most halvings between two neighbours of a grid: 2 % out of any ratio that an axis can hold.
const HALVINGS_MAX: usize = 40;

/// One place where the mode changes along one axis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct BorderPoint {
    /// Which axis of the plan was searched along.
    pub along: usize,
    /// SI values of the varied keys, the one searched along in the middle of its bracket.
    pub values: Vec<f64>,
    /// The bracket: on its first side the mode is `modes[0]`, on its second `modes[1]`.
    pub bracket: [f64; 2],
    pub modes: [Mode; 2],
    /// Runs that it took.
    pub runs: usize,
    /// False where a run failed on the way or the halvings ran out, so that the bracket is wider than 2 %.
    pub closed: bool,
}

/// Neighbours along an axis that differ in mode.
struct Step<'a> {
    along: usize,
    low: &'a Row,
    high: &'a Row,
    modes: [Mode; 2],
}

/// Trace the border between every two neighbours of a whole map that differ in mode. Comes back in a fixed order;
/// `None` where it was interrupted. `done` hears of each point.
///
/// # Errors
/// Where the worker threads cannot be started.
pub fn trace(
    bench: &Bench<'_>,
    plan: &Plan,
    rows: &[Row],
    done: &(dyn Fn() + Sync),
) -> Result<Option<Vec<BorderPoint>>, StudyError> {
    let steps = steps(plan, rows);
    let points = in_parallel(bench.threads, &steps, |step| {
        let point = bisect(bench, plan, step);
        done();
        point
    })?;
    Ok(points.into_iter().collect())
}

/// How many places will be searched.
pub fn count(plan: &Plan, rows: &[Row]) -> usize {
    steps(plan, rows).len()
}

fn steps<'a>(plan: &Plan, rows: &'a [Row]) -> Vec<Step<'a>> {
    if !plan.rows.is_empty() {
        return Vec::new();
    }
    let mut cells: Vec<Option<&Row>> = vec![None; plan.len()];
    for row in rows.iter().filter(|row| row.status != Status::Failed && row.index < plan.len()) {
        cells[row.index] = Some(row);
    }
    let mut steps = Vec::new();
    for index in 0..plan.len() {
        let position = plan.position(index);
        for (along, axis) in plan.axes.iter().enumerate() {
            if position[along] + 1 == axis.values.len() {
                continue;
            }
            let mut next = position.clone();
            next[along] += 1;
            if let (Some(low), Some(high)) = (cells[index], cells[plan.index(&next)])
                && let (Some(near), Some(far)) = (low.mode, high.mode)
                && near != far
            {
                steps.push(Step { along, low, high, modes: [near, far] });
            }
        }
    }
    steps
}

fn bisect(bench: &Bench<'_>, plan: &Plan, step: &Step<'_>) -> Option<BorderPoint> {
    let axis = &plan.axes[step.along];
    let mut bracket = [step.low.values[step.along], step.high.values[step.along]];
    let (mut modes, mut runs, mut failed) = (step.modes, 0, false);
    while !narrow(axis, bracket) && runs < HALVINGS_MAX {
        let mut values = step.low.values.clone();
        values[step.along] = middle(axis, bracket);
        let found = row(bench, step.low.index, values.clone())?;
        runs += 1;
        let Some(mode) = found.mode else {
            failed = true;
            break;
        };
        // A third mode between the two ends becomes the far side, so that the border of the near one is found.
        let side = usize::from(mode != modes[0]);
        bracket[side] = values[step.along];
        modes[side] = mode;
    }
    let mut values = step.low.values.clone();
    values[step.along] = middle(axis, bracket);
    Some(BorderPoint { along: step.along, values, bracket, modes, runs, closed: !failed && narrow(axis, bracket) })
}

fn middle(axis: &Axis, [a, b]: [f64; 2]) -> f64 {
    let ratios = axis.spacing == Spacing::Log || axis.spacing == Spacing::List && a > 0.0 && b > 0.0;
    if ratios { (a * b).sqrt() } else { 0.5 * (a + b) }
}

/// Within 2 % of its own size, or, next to zero, of the whole range.
fn narrow(axis: &Axis, [a, b]: [f64; 2]) -> bool {
    let range = axis.values.iter().copied().fold(0.0f64, |m, v| m.max(v.abs()));
    let size = (0.5 * (a.abs() + b.abs())).max(0.01 * range);
    (a - b).abs() <= BORDER_WIDTH * size
}
