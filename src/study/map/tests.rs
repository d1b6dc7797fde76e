use super::fill::{Bench, fill};
use super::*;
use crate::case::Case;
use crate::outcome::{Mode, Stopped};
use crate::study::{StudyError, synthetic};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

fn plan() -> Plan {
    let inner = Axis::between("inner.flow", "m3/s", [1e-11, 1e-9], 7, Spacing::Log).expect("possible");
    let outer = Axis::between("outer.flow", "m3/s", [1e-9, 9e-9], 5, Spacing::Linear).expect("possible");
    Plan::new(vec![inner, outer]).expect("two keys")
}

fn make(values: &[f64]) -> Result<Case, StudyError> {
    let mut case = synthetic::case();
    case.inner.flow = values[0];
    if let (Some(outer), Some(flow)) = (case.outer.as_mut(), values.get(1)) {
        outer.flow = *flow;
    }
    if values[0] > 0.9e-9 { Err(StudyError::other("inner flow above what the outer carries")) } else { Ok(case) }
}

/// Invented: jetting where both flows are large, along a curve; one corner panics.
fn answer(case: &Case) -> Result<Outcome, StudyError> {
    let (inner, outer) = (case.inner.flow, case.outer.as_ref().map_or(0.0, |o| o.flow));
    assert!(!(inner < 2e-11 && outer > 8e-9), "invented defect");
    if inner < 2e-11 && outer > 6e-9 {
        return Err(StudyError::other("invented refusal"));
    }
    let mode = if inner * outer > 6e-19 { Mode::Jetting } else { Mode::Dripping };
    Ok(synthetic::outcome(case, mode, Some(60e-6 * (inner / 1e-10).powf(0.2)), if outer > 5e-9 { 1.0 } else { 0.0 }))
}

fn bench(threads: usize) -> Bench<'static> {
    Bench { make: &make, answer: &answer, threads }
}

fn shard_map(shard: Shard, threads: usize) -> Map {
    let plan = plan();
    let cells: Vec<usize> = shard.cells(plan.len()).collect();
    let rows = fill(&bench(threads), &plan, &cells, &|_| ()).expect("threads");
    Map {
        title: "invented".into(),
        layout: "coflow".into(),
        plan,
        statistics: "invented".into(),
        accuracy: "coarse".into(),
        plan_hash: "abc".into(),
        shard,
        rows,
        border: Vec::new(),
        border_traced: false,
        case_text: String::new(),
        case_sha256: String::new(),
        version: "0".into(),
    }
}

#[test]
fn positions_and_indices_belong_together() {
    let plan = plan();
    assert_eq!(plan.len(), 35);
    for index in 0..plan.len() {
        assert_eq!(plan.index(&plan.position(index)), index);
    }
    assert_eq!(plan.values(4), vec![1e-11, 9e-9]);
    let axis = plan.axes[0].clone();
    assert!(Plan::new(vec![axis.clone(), axis]).is_err());
    assert!(Plan::new(vec![]).is_err());
}

#[test]
fn a_plan_of_many_keys_counts_every_cell_once() {
    let axis = |key: &str, n: usize| Axis::between(key, "1", [1.0, 2.0], n, Spacing::Linear).expect("possible");
    let plan = Plan::new(vec![axis("a", 2), axis("b", 3), axis("c", 1), axis("d", 4)]).expect("four keys");
    assert_eq!(plan.len(), 24);
    let all: std::collections::HashSet<Vec<u64>> =
        (0..24).map(|i| plan.values(i).iter().map(|v| v.to_bits()).collect()).collect();
    assert_eq!(all.len(), 24);
    assert!((0..24).all(|i| plan.index(&plan.position(i)) == i));
    let large = ["a", "b", "c", "d"].map(|key| axis(key, 10_000)).to_vec();
    let refused = Plan::new(large).expect_err("too many cells");
    assert_eq!(refused, PlanError::TooLarge { sides: vec![10_000; 4] });
    assert!(refused.to_string().starts_with("a map of 10000 x 10000 x 10000 x 10000 cells is too large"), "{refused}");
}

#[test]
fn a_cell_that_fails_or_panics_is_a_row_with_its_reason() {
    let map = shard_map(Shard::WHOLE, 2);
    assert!(map.holes().is_empty());
    let reasons: Vec<&str> =
        map.rows.iter().filter(|r| r.status == Status::Failed).map(|r| r.reason.as_str()).collect();
    assert!(reasons.iter().any(|r| r.contains("above what")), "{reasons:?}");
    assert!(reasons.iter().any(|r| r.contains("invented refusal")), "{reasons:?}");
    assert!(reasons.iter().any(|r| r.contains("internal error")), "{reasons:?}");
    assert!(map.rows.iter().any(|r| r.satellite_free() == Some(true)));
    assert!(map.rows.iter().any(|r| r.satellite_free() == Some(false)));
    assert!(map.rows.iter().any(|r| r.satellite_free().is_none()));
}

#[test]
fn rows_do_not_depend_on_the_number_of_threads() {
    assert_eq!(shard_map(Shard::WHOLE, 1), shard_map(Shard::WHOLE, 3));
}

#[test]
fn every_row_is_heard_once() {
    let (heard, plan) = (Mutex::new(Vec::new()), plan());
    let cells: Vec<usize> = (0..plan.len()).collect();
    let note = |row: &Row| heard.lock().expect("no panic in here").push(row.index);
    fill(&bench(2), &plan, &cells, &note).expect("threads");
    let mut heard = heard.into_inner().expect("no panic in here");
    heard.sort_unstable();
    assert_eq!(heard, cells);
}

#[test]
fn shards_merge_to_the_whole_and_nothing_else_merges() {
    let shards: Vec<Map> = (1..=3).map(|index| shard_map(Shard { index, of: 3 }, 2)).collect();
    let mut swapped = shards.clone();
    swapped.swap(0, 2);
    assert_eq!(merge(swapped), Ok(shard_map(Shard::WHOLE, 1)));
    assert_eq!(merge(vec![shard_map(Shard::WHOLE, 1)]), Ok(shard_map(Shard::WHOLE, 1)));
    let refuse = |shards: Vec<Map>, why: &str| {
        let error = merge(shards).expect_err(why);
        assert!(error.to_string().contains(why), "{error}");
        error
    };
    assert_eq!(refuse(vec![], "nothing"), MergeError::Nothing);
    let missing = refuse(shards[..2].to_vec(), "of 3 shards these are missing: 3");
    assert_eq!(missing, MergeError::Missing { of: 3, indices: vec![3] });
    refuse(vec![shards[0].clone(), shards[0].clone()], "twice");
    let mut foreign = shards.clone();
    foreign[1].plan_hash = "other".into();
    refuse(foreign, "another plan");
    let mut torn = shards.clone();
    torn[2].rows.pop();
    refuse(torn, "incomplete");
    let mut doubled = shards.clone();
    let extra = doubled[2].rows[0].clone();
    doubled[2].rows.push(extra);
    refuse(doubled, "incomplete");
    let mut divided = shards.clone();
    divided[1].shard = Shard { index: 2, of: 4 };
    refuse(divided, "differently");
}

// The invented border is inner * outer = 6e-19: every closed point must lie on it to half of 2 %.
#[test]
fn the_border_is_traced_to_two_percent() {
    let (map, count) = (shard_map(Shard::WHOLE, 2), AtomicUsize::new(0));
    let heard = || {
        count.fetch_add(1, Ordering::Relaxed);
    };
    let points = border::trace(&bench(2), &map.plan, &map.rows, &heard).expect("threads").expect("not interrupted");
    assert_eq!((points.len(), border::count(&map.plan, &map.rows)), (count.into_inner(), points.len()));
    assert!(points.iter().any(|p| p.along == 0) && points.iter().any(|p| p.along == 1), "{points:?}");
    for point in &points {
        let product = point.values[0] * point.values[1] / 6e-19;
        assert!(point.closed && (product - 1.0).abs() < 0.011, "{point:?}");
        assert!((point.bracket[1] / point.bracket[0]).ln().abs() < 0.0202, "{point:?}");
        assert_ne!(point.modes[0], point.modes[1]);
    }
    assert_eq!(points, border::trace(&bench(1), &map.plan, &map.rows, &|| ()).expect("threads").expect("whole"));
}

#[test]
fn an_interrupted_cell_is_no_row() {
    let stopped = |case: &Case| {
        let mut outcome = answer(case)?;
        outcome.summary.stopped = Stopped::Interrupted;
        Ok(outcome)
    };
    let bench = Bench { make: &make, answer: &stopped, threads: 1 };
    assert_eq!(fill::row(&bench, 0, vec![1e-10, 1e-9]), None);
    let early = |case: &Case| {
        let mut outcome = answer(case)?;
        outcome.summary.stopped = Stopped::StepBudget;
        Ok(outcome)
    };
    let bench = Bench { make: &make, answer: &early, threads: 1 };
    let row = fill::row(&bench, 0, vec![1e-10, 1e-9]).expect("a row");
    assert_eq!((row.status, row.reason.as_str()), (Status::Partial, "stopped early: step_budget"));
}
