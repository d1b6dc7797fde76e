//! What `confirm` computed, in HDF5: the outlines of its drop over time, necks, pressures and walls.
//!
//! ```text
//! /          node; instant, time_s, z_m, r_m: every outline from the rim to the front, one behind the other
//! /history   instant; time_s, front_m, neck_m, neck_radius_m, volume_m3 (NaN: no neck)
//! /pressure  reading; time_s, inner_pa, outer_pa (at the tip, over the far end of the tube)
//! /wall      corner; z_m, r_m: the outer wall's polygon (absent without one)
//! /documents case (as typed), confirmed (the answer, JSON)
//! ```
//!
//! In the record of a confirmed run the same lies in `/confirmed`, with the answer in `json`.

use super::netcdf::{column, dimension, json, meaning, subgroup};
use super::read::Opened;
use super::table::{self, Column, Table, Values};
use super::{RecordError, sha256_hex};
use crate::case::Case;
use crate::outcome::Provenance;
use crate::study::confirm::{Confirmed, History, Outline};
use hdf5::Group;
use std::path::Path;

/// Layout and its version.
pub const SCHEMA: &str = "slenderjet-full-1";

/// Outlines in order of time: time (s), places and radii from the rim to the front (m).
pub type Outlines = Vec<(f64, Vec<f64>, Vec<f64>)>;

/// The full equations' answer beside a run, read back.
#[derive(Debug, Clone, PartialEq)]
pub struct Full {
    pub told: Confirmed,
    pub outlines: Outlines,
}

/// The outlines' columns: name, unit, meaning, values.
type Nodes = [(&'static str, &'static str, &'static str, Vec<f64>); 3];

fn nodes(seen: &History) -> (Vec<i64>, Nodes) {
    let each = |of: &dyn Fn(&Outline, usize) -> f64| {
        seen.outlines.iter().flat_map(|o| (0..o.z_m.len()).map(move |k| of(o, k))).collect::<Vec<f64>>()
    };
    let snapshots = seen.outlines.iter().enumerate().flat_map(|(i, o)| std::iter::repeat_n(i as i64, o.z_m.len()));
    (
        snapshots.collect(),
        [
            ("time_s", "s", "time since the start", each(&|o, _| o.time_s)),
            ("z_m", "m", "place from the tip along the flow", each(&|o, k| o.z_m[k])),
            ("r_m", "m", "radius of the interface", each(&|o, k| o.r_m[k])),
        ],
    )
}

/// Writes the history of a computation to a temporary file beside `target` and renames it into place.
///
/// # Errors
/// Where the folder cannot be written or the disk is full.
pub fn write(target: &Path, case: &Case, confirmed: &str, seen: &History) -> Result<(), RecordError> {
    let (snapshots, reals) = nodes(seen);
    let mut columns = vec![Column {
        name: "instant".into(),
        units: "1".into(),
        long_name: "row of /history".into(),
        values: Values::Whole(snapshots),
    }];
    columns.extend(reals.map(|(name, units, long_name, values)| Column {
        name: name.into(),
        units: units.into(),
        long_name: long_name.into(),
        values: Values::Reals(values),
    }));
    let table = Table {
        schema: SCHEMA.into(),
        title: case.title.clone(),
        axis: "node".into(),
        attributes: vec![
            ("layout".into(), case.layout.name().into()),
            ("version".into(), env!("CARGO_PKG_VERSION").into()),
            ("case_sha256".into(), sha256_hex(case.text.as_bytes())),
        ],
        documents: vec![("case".into(), case.text.clone()), ("confirmed".into(), confirmed.into())],
        columns,
        provenance: Provenance::default(),
        wall_s: 0.0,
    };
    table::write_with(target, &table, |file| more(file, seen))
}

fn more(file: &Group, seen: &History) -> hdf5::Result<()> {
    let group = |name: &str, axis: &str, len: usize| {
        let group = subgroup(file, name)?;
        dimension(&group, meaning(axis, "1", "rows"), len)?;
        Ok::<_, hdf5::Error>(group)
    };
    let list = &seen.outlines;
    let of = |get: fn(&Outline) -> Option<f64>| list.iter().map(|o| get(o).unwrap_or(f64::NAN)).collect::<Vec<f64>>();
    let history = group("history", "instant", list.len())?;
    for (name, units, what, values) in [
        ("time_s", "s", "time since the start", of(|o| Some(o.time_s))),
        ("front_m", "m", "place of the drop's front", of(|o| o.z_m.last().copied())),
        ("neck_m", "m", "place of the neck", of(|o| o.neck_m)),
        ("neck_radius_m", "m", "radius of the neck", of(|o| o.neck_radius_m)),
        ("volume_m3", "m3", "volume of the inner liquid beyond the tip", of(|o| Some(o.volume_m3))),
    ] {
        column(&history, "instant", meaning(name, units, what), &values)?;
    }
    let pressure = group("pressure", "reading", seen.pressures.len())?;
    let of = |k: usize| seen.pressures.iter().map(|p| p[k]).collect::<Vec<f64>>();
    for (k, name, units, what) in [
        (0, "time_s", "s", "time since the start"),
        (1, "inner_pa", "Pa", "inner liquid in the tip's plane, over the tube's far end"),
        (2, "outer_pa", "Pa", "outer liquid beside the tip, over the tube's far end"),
    ] {
        column(&pressure, "reading", meaning(name, units, what), &of(k))?;
    }
    if seen.wall.is_empty() {
        return Ok(());
    }
    let wall = group("wall", "corner", seen.wall.len())?;
    let of = |k: usize| seen.wall.iter().map(|p| p[k]).collect::<Vec<f64>>();
    column(&wall, "corner", meaning("z_m", "m", "place from the tip along the flow"), &of(0))?;
    column(&wall, "corner", meaning("r_m", "m", "radius of the wall"), &of(1)).map(drop)
}

/// Puts the answer and its history into the group of a run's record.
pub(super) fn put(group: &Group, told: &Confirmed, seen: &History) -> hdf5::Result<()> {
    let mut told = told.clone();
    // all that differs between equal runs lies in /provenance
    told.cost.wall_s = 0.0;
    let text = serde_json::to_string(&told).map_err(|e| hdf5::Error::from(e.to_string()))?;
    json(group, meaning("json", "1", "the object of `confirm --json`, SI units in its names"), &text)?;
    let (snapshots, reals) = nodes(seen);
    dimension(group, meaning("node", "1", "nodes of the outlines"), snapshots.len())?;
    column(group, "node", meaning("instant", "1", "row of history"), &snapshots)?;
    for (name, units, what, values) in &reals {
        column(group, "node", meaning(name, units, what), values)?;
    }
    more(group, seen)
}

/// The same from that group.
pub(super) fn own(group: &Opened, wall_s: f64) -> Result<Full, RecordError> {
    let text = group.document("json")?;
    let mut told: Confirmed =
        serde_json::from_str(&text).map_err(|e| group.damaged(format!("`json` is no answer of `confirm`: {e}")))?;
    told.cost.wall_s = wall_s;
    let names = ["time_s", "z_m", "r_m"];
    let [times, z, r] = [group.reals(names[0])?, group.reals(names[1])?, group.reals(names[2])?];
    group.same_length(&[(names[0], times.len()), (names[1], z.len()), (names[2], r.len())])?;
    group.all_finite(&[(names[0], &times), (names[1], &z), (names[2], &r)])?;
    group.never_falls(names[0], &times)?;
    Ok(Full { told, outlines: outlines(times, z, r) })
}

/// The outlines of a file of `confirm` with its answer.
///
/// # Errors
/// Where the file is missing, of another kind, or damaged.
pub fn read(path: &Path) -> Result<Full, RecordError> {
    let table = table::read(path, SCHEMA)?;
    let reals = |name: &str| match table.column(name).map(|c| &c.values) {
        Some(Values::Reals(values)) if values.iter().all(|v| v.is_finite()) => Ok(values.clone()),
        _ => Err(RecordError::damaged(path, format!("`{name}` is missing or holds values that are not numbers"))),
    };
    let told = table.documents.iter().find(|(name, _)| name == "confirmed").map_or("", |(_, text)| text);
    let told = serde_json::from_str(told)
        .map_err(|e| RecordError::damaged(path, format!("`confirmed` is no answer of `confirm`: {e}")))?;
    Ok(Full { told, outlines: outlines(reals("time_s")?, reals("z_m")?, reals("r_m")?) })
}

fn outlines(times: Vec<f64>, z: Vec<f64>, r: Vec<f64>) -> Outlines {
    let mut out = Outlines::new();
    for ((time, z), r) in times.into_iter().zip(z).zip(r) {
        match out.last_mut().filter(|last| last.0 == time) {
            Some(last) => {
                last.1.push(z);
                last.2.push(r);
            }
            None => out.push((time, vec![z], vec![r])),
        }
    }
    out
}
