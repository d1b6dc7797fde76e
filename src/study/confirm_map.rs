//! How the model's error runs over a map: some of its cells by the full equations too.
//!
//! Equation: cells are picked one by one, each as far as can be from those before (largest least distance over the axes' positions, each
//! scaled to 1), the first in the middle; error = d_reduced/d_full - 1 of the first drop.
//!
//! Symbols: none.
//!
//! Source: farthest-point design, common practice, no source.
//!
//! Holds for: any grid or table of cases; cells out of the full equations' range say so.

use super::confirm::Confirmed;
use super::map::Plan;
use crate::math::Pinned as _;
use crate::outcome::Mode;
use serde::Serialize;

/// One cell.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Cell {
    pub index: usize,
    /// SI values of the varied keys.
    pub values: Vec<f64>,
    pub diameter_m: Option<f64>,
    pub reduced_diameter_m: Option<f64>,
    pub difference_relative: Option<f64>,
    pub mode: Mode,
    pub reduced_mode: Option<Mode>,
    /// How the full equations' computation ended, or why there was none.
    pub why: String,
}

/// Along one varied key: the mean error of the cells in its lower and in its upper half.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Along {
    pub key: String,
    pub unit: String,
    pub low: Option<f64>,
    pub high: Option<f64>,
}

/// What the cells say together.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Course {
    pub cells: Vec<Cell>,
    pub compared: usize,
    pub mean: Option<f64>,
    pub rms: Option<f64>,
    pub smallest: Option<f64>,
    pub largest: Option<f64>,
    pub along: Vec<Along>,
}

/// `count` cells of a plan, spread over it; the same ones each time.
pub fn spread(plan: &Plan, count: usize) -> Vec<usize> {
    let places: Vec<Vec<f64>> = scaled(plan);
    let apart = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| (x - y).powi(2)).sum::<f64>();
    let first = |score: &[f64]| (0..score.len()).fold(0, |best, i| if score[i] > score[best] { i } else { best });
    let middle = vec![0.5; plan.axes.len()];
    let mut least: Vec<f64> = places.iter().map(|p| -apart(p, &middle)).collect();
    let mut chosen = Vec::new();
    for round in 0..count.min(places.len()) {
        let next = first(&least);
        chosen.push(next);
        for (i, score) in least.iter_mut().enumerate() {
            let now = apart(&places[i], &places[next]);
            *score = if round == 0 { now } else { score.min(now) };
        }
        least[next] = f64::NEG_INFINITY;
    }
    chosen
}

/// Every cell's place, each axis from 0 to 1: by position in a grid, by logarithm in a table (by value where one is not positive).
fn scaled(plan: &Plan) -> Vec<Vec<f64>> {
    let cells = 0..plan.len();
    if plan.rows.is_empty() {
        let side = |n: usize| (n.max(2) - 1) as f64;
        let place = |i: usize| {
            plan.position(i).iter().zip(&plan.axes).map(|(at, a)| *at as f64 / side(a.values.len())).collect()
        };
        return cells.map(place).collect();
    }
    let ends: Vec<(f64, f64, bool)> = (0..plan.axes.len())
        .map(|k| {
            let fold = |f: fn(f64, f64) -> f64, start| plan.rows.iter().map(|r| r[k]).fold(start, f);
            let (low, high) = (fold(f64::min, f64::INFINITY), fold(f64::max, f64::NEG_INFINITY));
            if low > 0.0 { (low.logarithm(), high.logarithm(), true) } else { (low, high, false) }
        })
        .collect();
    let one = |v: f64, (low, high, log): (f64, f64, bool)| {
        let v = if log { v.logarithm() } else { v };
        if high > low { (v - low) / (high - low) } else { 0.5 }
    };
    cells.map(|i| plan.rows[i].iter().zip(&ends).map(|(v, e)| one(*v, *e)).collect()).collect()
}

impl Cell {
    /// A cell from the two answers.
    pub fn of(index: usize, values: Vec<f64>, told: &Confirmed) -> Cell {
        Cell {
            index,
            values,
            diameter_m: told.first_drop.map(|d| d.diameter_m),
            reduced_diameter_m: told.reduced.as_ref().map(|r| r.diameter_m),
            difference_relative: told.difference_relative,
            mode: told.mode,
            reduced_mode: told.reduced.as_ref().map(|r| r.mode),
            why: told.why.clone(),
        }
    }

    /// A cell that is no possible case.
    pub fn failed(index: usize, values: Vec<f64>, why: String) -> Cell {
        Cell {
            index,
            values,
            diameter_m: None,
            reduced_diameter_m: None,
            difference_relative: None,
            mode: Mode::None,
            reduced_mode: None,
            why,
        }
    }
}

/// What the cells say together.
pub fn course(plan: &Plan, cells: Vec<Cell>) -> Course {
    let places = scaled(plan);
    let mean = |list: &[f64]| (!list.is_empty()).then(|| list.iter().sum::<f64>() / list.len() as f64);
    let errors: Vec<f64> = cells.iter().filter_map(|c| c.difference_relative).collect();
    let squares: Vec<f64> = errors.iter().map(|e| e * e).collect();
    let half = |k: usize, upper: bool| {
        let on = |c: &&Cell| if upper { places[c.index][k] > 0.5 } else { places[c.index][k] < 0.5 };
        mean(&cells.iter().filter(on).filter_map(|c| c.difference_relative).collect::<Vec<f64>>())
    };
    let along = (0..plan.axes.len()).map(|k| {
        let axis = &plan.axes[k];
        Along { key: axis.key.clone(), unit: axis.unit.clone(), low: half(k, false), high: half(k, true) }
    });
    Course {
        compared: errors.len(),
        mean: mean(&errors),
        rms: mean(&squares).map(f64::sqrt),
        smallest: errors.iter().copied().reduce(f64::min),
        largest: errors.iter().copied().reduce(f64::max),
        along: along.collect(),
        cells,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::map::{Axis, Spacing};

    fn grid(sides: &[usize]) -> Plan {
        let axis = |(i, n): (usize, &usize)| Axis {
            key: format!("k{i}"),
            unit: "1".into(),
            spacing: Spacing::List,
            values: (0..*n).map(|v| 1.0 + v as f64).collect(),
        };
        Plan::new(sides.iter().enumerate().map(axis).collect()).expect("a plan")
    }

    #[test]
    fn cells_are_spread_over_the_grid() {
        // the middle, then the four corners in some order, then the sides' middles
        let plan = grid(&[5, 5]);
        let chosen = spread(&plan, 9);
        assert_eq!(chosen[0], 12);
        let mut corners = chosen[1..5].to_vec();
        corners.sort_unstable();
        assert_eq!(corners, [0, 4, 20, 24]);
        let mut all = spread(&plan, 99);
        assert_eq!(all.len(), 25);
        all.sort_unstable();
        all.dedup();
        assert_eq!(all.len(), 25, "no cell twice");
    }

    #[test]
    fn the_course_tells_ends_and_halves() {
        let plan = grid(&[3]);
        let cell = |index: usize, d: Option<f64>| Cell {
            difference_relative: d,
            ..Cell::failed(index, vec![], String::new())
        };
        let c = course(&plan, vec![cell(0, Some(-0.03)), cell(1, None), cell(2, Some(0.04))]);
        assert_eq!((c.compared, c.smallest, c.largest), (2, Some(-0.03), Some(0.04)));
        assert_eq!((c.along[0].low, c.along[0].high), (Some(-0.03), Some(0.04)));
        assert!(
            (c.rms.expect("rms") - 0.025 * 2f64.sqrt()).abs() < 1e-12 && (c.mean.expect("mean") - 0.005).abs() < 1e-12
        );
    }
}
