//! A map as figures and reports need it, out of what `slenderjet map` writes.

use crate::case::{self, Case};
use crate::figures::FigureError;
use crate::figures::about::Origin;
use crate::outcome::Mode;
use crate::study::map::{Map, Status};

/// A varied quantity.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MapKey {
    /// Key in the case file, `inner.flow`.
    pub key: String,
    /// Its SI unit, `m3/s`.
    pub units: String,
    /// SI value in each row.
    pub values: Vec<f64>,
}

/// Rows of a map; a missing number is NaN.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MapTable {
    pub title: String,
    pub keys: Vec<MapKey>,
    /// Whether the cells are a table of cases and no grid.
    pub scattered: bool,
    /// `None` where there was no answer.
    pub mode: Vec<Option<Mode>>,
    pub diameter: Vec<f64>,
    /// The model's own error of it, relative.
    pub model_error: Vec<f64>,
    pub cv: Vec<f64>,
    pub rate: Vec<f64>,
    pub satellites: Vec<f64>,
    /// Their share of the volume.
    pub satellite_volume: Vec<f64>,
    /// Whether they carry enough volume to count.
    pub makes_satellites: Vec<bool>,
    pub status: Vec<Status>,
    pub reason: Vec<String>,
    /// Where the mode changes, as SI values of the keys; empty where it was not traced.
    pub border: Vec<Vec<f64>>,
    /// The case as typed.
    pub case_text: String,
    pub origin: Origin,
}

/// The range of a varied quantity as it may be typed again, in SI units.
fn vary(axis: &crate::study::map::Axis) -> String {
    let (Some(first), Some(last)) = (axis.values.first(), axis.values.last()) else { return String::new() };
    let unit = if axis.unit == "1" { String::new() } else { format!(" {}", axis.unit) };
    let log = if axis.spacing == crate::study::map::Spacing::Log { "log" } else { "" };
    format!(" --vary '{}={first:e}..{last:e}{unit}/{}{log}'", axis.key, axis.values.len())
}

impl MapTable {
    /// What figures need of a map.
    ///
    /// # Errors
    /// Where it has no rows.
    pub fn of(map: &Map) -> Result<MapTable, FigureError> {
        if map.rows.is_empty() {
            return Err(FigureError::Nothing("this map has no rows to draw".into()));
        }
        let axis = |(i, a): (usize, &crate::study::map::Axis)| MapKey {
            key: a.key.clone(),
            units: a.unit.clone(),
            values: map.rows.iter().map(|r| r.values[i]).collect(),
        };
        let reals = |of: fn(&crate::study::map::Row) -> Option<f64>| {
            map.rows.iter().map(|r| of(r).unwrap_or(f64::NAN)).collect::<Vec<f64>>()
        };
        let whole = map.shard.to_string();
        let shard = if whole == "1/1" { String::new() } else { format!(" --shard {whole}") };
        let varied: String = map.plan.axes.iter().map(vary).collect();
        Ok(MapTable {
            title: map.title.clone(),
            keys: map.plan.axes.iter().enumerate().map(axis).collect(),
            scattered: !map.plan.rows.is_empty(),
            mode: map.rows.iter().map(|r| r.mode).collect(),
            diameter: reals(|r| r.mean_diameter_m),
            model_error: reals(|r| r.model_error_relative),
            cv: reals(|r| r.cv),
            rate: reals(|r| r.rate_per_s),
            satellite_volume: reals(|r| r.satellite_volume_fraction),
            satellites: reals(|r| r.satellites_per_primary),
            makes_satellites: map.rows.iter().map(|r| r.satellite_free() == Some(false)).collect(),
            status: map.rows.iter().map(|r| r.status).collect(),
            reason: map.rows.iter().map(|r| r.reason.clone()).collect(),
            border: map.border.iter().map(|p| p.values.clone()).collect(),
            case_text: map.case_text.clone(),
            origin: Origin {
                title: map.title.clone(),
                case_sha256: map.case_sha256.clone(),
                version: map.version.clone(),
                command: format!("slenderjet map CASE{varied}{shard}"),
            },
        })
    }

    /// Number of cells.
    pub fn rows(&self) -> usize {
        self.mode.len()
    }

    /// Outer capillary and inner Weber number of each row, from the case with the row's values put in.
    ///
    /// # Errors
    /// Where there is no outer flow, or the case cannot be read any more.
    pub fn groups(&self) -> Result<(Vec<f64>, Vec<f64>), FigureError> {
        let missing = |why: &str| FigureError::Nothing(format!("Ca_o and We_i cannot be told for this map: {why}"));
        let base = case::parse(&self.case_text, "case of the map").map_err(|_| missing("its case cannot be read"))?;
        let mut found = (Vec::new(), Vec::new());
        for row in 0..self.rows() {
            let varied = self.varied(&base, row).ok_or_else(|| missing("one of its cells is no case"))?;
            let groups = crate::groups::groups(&varied);
            found.0.push(groups.capillary_outer.ok_or_else(|| missing("there is no outer flow"))?);
            found.1.push(groups.weber_inner);
        }
        Ok(found)
    }

    fn varied(&self, base: &Case, row: usize) -> Option<Case> {
        self.keys.iter().try_fold(base.clone(), |case, key| case.with(&key.key, key.values[row]).ok())
    }
}
