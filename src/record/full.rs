//! What `confirm` computed, in HDF5: the outlines of its drop over time, necks, pressures and walls.
//!
//! ```text
//! /          node; instant, time_s, z_m, r_m: every outline from the rim to the front, one behind the other
//! /history   instant; time_s, front_m, neck_m, neck_radius_m, volume_m3 (NaN: no neck)
//! /pressure  reading; time_s, inner_pa, outer_pa (at the tip, over the far end of the tube)
//! /wall      corner; z_m, r_m: the outer wall's polygon (absent without one)
//! /documents case (as typed), confirmed (the answer, JSON)
//! ```

use super::netcdf::{column, dimension, meaning, subgroup};
use super::table::{self, Column, Table, Values};
use super::{RecordError, sha256_hex};
use crate::case::Case;
use crate::outcome::Provenance;
use crate::study::confirm::{Film, Outline};
use std::path::Path;

/// Layout and its version.
pub const SCHEMA: &str = "slenderjet-full-1";

/// Writes the film of a computation to a temporary file beside `target` and renames it into place.
///
/// # Errors
/// Where the folder cannot be written or the disk is full.
pub fn write(target: &Path, case: &Case, confirmed: &str, film: &Film) -> Result<(), RecordError> {
    let each = |of: &dyn Fn(usize, &Outline, usize) -> f64| {
        let nodes = film.outlines.iter().enumerate().flat_map(|(i, o)| (0..o.z_m.len()).map(move |k| (i, o, k)));
        nodes.map(|(i, o, k)| of(i, o, k)).collect::<Vec<f64>>()
    };
    let real = |name: &str, units: &str, long_name: &str, values| Column {
        name: name.into(),
        units: units.into(),
        long_name: long_name.into(),
        values: Values::Reals(values),
    };
    let whole = each(&|i, _, _| i as f64).into_iter().map(|i| i as i64).collect();
    let columns = vec![
        Column {
            name: "instant".into(),
            units: "1".into(),
            long_name: "row of /history".into(),
            values: Values::Whole(whole),
        },
        real("time_s", "s", "time since the start", each(&|_, o, _| o.time_s)),
        real("z_m", "m", "place from the tip along the flow", each(&|_, o, k| o.z_m[k])),
        real("r_m", "m", "radius of the interface", each(&|_, o, k| o.r_m[k])),
    ];
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
    table::write_with(target, &table, |file| more(file, film))
}

fn more(file: &hdf5::File, film: &Film) -> hdf5::Result<()> {
    let group = |name: &str, axis: &str, len: usize| {
        let group = subgroup(file, name)?;
        dimension(&group, meaning(axis, "1", "rows"), len)?;
        Ok::<_, hdf5::Error>(group)
    };
    let list = &film.outlines;
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
    let pressure = group("pressure", "reading", film.pressures.len())?;
    let of = |k: usize| film.pressures.iter().map(|p| p[k]).collect::<Vec<f64>>();
    for (k, name, units, what) in [
        (0, "time_s", "s", "time since the start"),
        (1, "inner_pa", "Pa", "inner liquid in the tip's plane, over the tube's far end"),
        (2, "outer_pa", "Pa", "outer liquid beside the tip, over the tube's far end"),
    ] {
        column(&pressure, "reading", meaning(name, units, what), &of(k))?;
    }
    if film.wall.is_empty() {
        return Ok(());
    }
    let wall = group("wall", "corner", film.wall.len())?;
    let of = |k: usize| film.wall.iter().map(|p| p[k]).collect::<Vec<f64>>();
    column(&wall, "corner", meaning("z_m", "m", "place from the tip along the flow"), &of(0))?;
    column(&wall, "corner", meaning("r_m", "m", "radius of the wall"), &of(1)).map(drop)
}

/// Outlines in order of time: time (s), places and radii from the rim to the front (m).
pub type Outlines = Vec<(f64, Vec<f64>, Vec<f64>)>;

/// The outlines of such a file.
///
/// # Errors
/// Where the file is missing, of another kind, or damaged.
pub fn read(path: &Path) -> Result<Outlines, RecordError> {
    let table = table::read(path, SCHEMA)?;
    let reals = |name: &str| match table.column(name).map(|c| &c.values) {
        Some(Values::Reals(values)) => values.clone(),
        _ => Vec::new(),
    };
    let (times, z, r) = (reals("time_s"), reals("z_m"), reals("r_m"));
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
    Ok(out)
}
