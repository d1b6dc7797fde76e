//! A whole map as a grid: one coordinate a varied key, the answers as variables over all of them.
//!
//! ```text
//! /grid    inner_flow(inner_flow), outer_flow(outer_flow), ...; mean_diameter_m(inner_flow, outer_flow), mode(...), ...
//! ```
//! Written beside the table of rows, so that `xarray.open_dataset(path, group="grid")` opens labelled arrays. Missing numbers are NaN.

use super::map::{ESTABLISHED, MODEL_ERROR, REALS, established};
use super::netcdf::{make_scale, meaning, number, numbers, subgroup, text};
use crate::outcome::Mode;
use crate::study::map::{Map, Row};
use hdf5::types::VarLenArray;
use hdf5::{Dataset, Group, H5Type, ObjectReference1};
use ndarray::{ArrayD, IxDyn};

/// Modes by their flags, as in the table of rows.
const MODES: [(i8, &str); 5] = [(0, "none"), (1, "dripping"), (2, "jetting"), (3, "transition"), (4, "no_answer")];

/// Name of a key's coordinate: a dot would keep it from being an attribute in Python.
fn coordinate(key: &str) -> String {
    key.replace('.', "_")
}

/// Writes the grid of a whole map; a shard and a table of cases have none.
pub(super) fn write(file: &hdf5::File, map: &Map) -> hdf5::Result<()> {
    if !map.shard.is_whole() || !map.plan.rows.is_empty() || map.rows.len() != map.plan.len() {
        return Ok(());
    }
    let group = subgroup(file, "grid")?;
    text(&group, "Conventions", "CF-1.11")?;
    let names: Vec<String> = map.plan.axes.iter().map(|axis| coordinate(&axis.key)).collect();
    for (axis, name) in map.plan.axes.iter().zip(&names) {
        let data = dataset(&group, name, ndarray::aview1(&axis.values).into_dyn().to_owned())?;
        text(&data, "long_name", &axis.key)?;
        text(&data, "units", &udunits(&axis.unit))?;
        make_scale(&data, name)?;
    }
    let shape: Vec<usize> = map.plan.axes.iter().map(|axis| axis.values.len()).collect();
    let grid = Grid { group: &group, names: &names, shape: &shape };
    for (name, units, long_name, of) in REALS {
        grid.variable(meaning(name, units, long_name), map.rows.iter().map(|r| of(r).unwrap_or(f64::NAN)).collect())?;
    }
    let errors = map.rows.iter().map(|r| r.model_error_relative.unwrap_or(f64::NAN)).collect();
    grid.variable(
        meaning(MODEL_ERROR, "1", "the model's own error of the mean diameter, one standard deviation"),
        errors,
    )?;
    let settled: Vec<i64> = map.rows.iter().map(|r| r.settled_drops as i64).collect();
    grid.variable(meaning("settled_drops", "1", "primary drops behind mean and spread"), settled)?;
    grid.variable(meaning("established", "1", ESTABLISHED), map.rows.iter().map(established).collect::<Vec<i64>>())?;
    let modes = grid.variable(meaning("mode", "1", "how drops come off"), map.rows.iter().map(flag).collect())?;
    numbers(&modes, "flag_values", &MODES.map(|(value, _)| value))?;
    text(&modes, "flag_meanings", &MODES.map(|(_, word)| word).join(" "))?;
    number(&group, "cells", map.rows.len() as i64)
}

fn flag(row: &Row) -> i8 {
    let word = row.mode.map_or("no_answer", Mode::word);
    MODES.iter().find(|(_, own)| *own == word).map_or(4, |(value, _)| *value)
}

fn udunits(unit: &str) -> String {
    match unit {
        "m3/s" => "m3 s-1".into(),
        "N/m" => "N m-1".into(),
        "Pa.s" => "Pa s".into(),
        "kg/m3" => "kg m-3".into(),
        "1/s" => "s-1".into(),
        "m/s2" => "m s-2".into(),
        other => other.into(),
    }
}

fn dataset<T: H5Type>(group: &Group, name: &str, values: ArrayD<T>) -> hdf5::Result<Dataset> {
    let data = group.new_dataset::<T>().shape(values.shape()).obj_track_times(false).create(name)?;
    data.write(&values)?;
    Ok(data)
}

struct Grid<'a> {
    group: &'a Group,
    names: &'a [String],
    shape: &'a [usize],
}

impl Grid<'_> {
    /// A variable over all coordinates; `values` in the order of the cells.
    fn variable<T: H5Type>(&self, what: super::netcdf::Meaning<'_>, values: Vec<T>) -> hdf5::Result<Dataset> {
        let array = ArrayD::from_shape_vec(IxDyn(self.shape), values).map_err(|e| hdf5::Error::from(e.to_string()))?;
        let data = dataset(self.group, what.name, array)?;
        text(&data, "long_name", what.long_name)?;
        text(&data, "units", what.units)?;
        let scale = |name: &String| Ok(VarLenArray::from_slice(&[self.group.reference::<ObjectReference1>(name)?]));
        let scales = self.names.iter().map(scale).collect::<hdf5::Result<Vec<_>>>()?;
        data.new_attr_builder().with_data(&scales).create("DIMENSION_LIST")?;
        Ok(data)
    }
}
