//! A map or a shard of one as a table in HDF5, and as CSV.
//!
//! ```text
//! /        row; index; one column a varied key (inner.flow as inner_flow); mode, mean_diameter_m, ... status, reason,
//!          satellite_free, warnings, settled_drops
//! /about       plan_hash, statistics, shard, layout, version, case_sha256, border_traced, axes (JSON)
//! /documents   case (as typed), border (JSON), rows (JSON, where a table of cases was asked for)
//! /grid        a whole grid once more, as labelled arrays (grid.rs)
//! ```
//! The bytes follow from the plan alone: no times, no host, no command line. So shards merge to the bytes of a whole run.

use super::table::{self, Column, Table, Values};
use super::{RecordError, identity, sha256_hex};
use crate::case::Case;
use crate::outcome::{Mode, Provenance};
use crate::study::map::{Map, Plan, Row, SCHEMA, Status};
use crate::tolerances::SATELLITE_FREE;
use std::path::Path;

/// Hash of everything that the rows of a map follow from. `case` is the unvaried case with its run settings, `statistics` says
/// when the run of a cell ends.
pub fn plan_hash(case: &Case, plan: &Plan, statistics: &str) -> String {
    // Bits, not decimals: two ranges that print alike may differ.
    let bits = |values: &[f64]| values.iter().map(|v| format!("{:016x}", v.to_bits())).collect::<Vec<_>>().join(",");
    let axes: Vec<String> =
        plan.axes.iter().map(|a| format!("{}={:?}:{}", a.key, a.spacing, bits(&a.values))).collect();
    let rows: String = plan.rows.iter().map(|row| format!("\n{}", bits(row))).collect();
    sha256_hex(format!("{SCHEMA}\n{}\n{statistics}\n{}{rows}", identity(case), axes.join("\n")).as_bytes())
}

pub(super) type RealOf = (&'static str, &'static str, &'static str, fn(&Row) -> Option<f64>);

/// Name, unit and meaning of the real columns, in the order of the table.
pub(super) const REALS: [RealOf; 9] = [
    ("mean_diameter_m", "m", "mean diameter of the settled primary drops", |r| r.mean_diameter_m),
    ("cv", "1", "standard deviation over mean of their diameters; a lower bound", |r| r.cv),
    ("rate_per_s", "s-1", "primary drops a second", |r| r.rate_per_s),
    ("satellites_per_primary", "1", "satellites for each primary drop", |r| r.satellites_per_primary),
    ("satellite_volume_fraction", "1", "share of the volume in satellites", |r| r.satellite_volume_fraction),
    ("jet_length_m", "m", "nozzle to breakup where it jets", |r| r.jet_length_m),
    ("first_pinch_s", "s", "time of the first breakup", |r| r.first_pinch_s),
    ("size_low_m", "m", "lower end of the 90 % interval for the diameter of a bench drop", |r| r.size_low_m),
    ("size_high_m", "m", "upper end of it; NaN where it is not known or too wide to tell anything", |r| r.size_high_m),
];
/// Real too, but a map may have no evidence for it.
pub(super) const MODEL_ERROR: &str = "model_error_relative";

/// Writes a map to a temporary file beside `target` and renames it into place.
///
/// # Errors
/// Where the folder cannot be written or the disk is full.
pub fn write(target: &Path, map: &Map) -> Result<(), RecordError> {
    let json = |e: serde_json::Error| RecordError::Unwritable { path: target.into(), reason: e.to_string() };
    let about = [
        ("plan_hash", map.plan_hash.clone()),
        ("statistics", map.statistics.clone()),
        ("shard", map.shard.to_string()),
        ("layout", map.layout.clone()),
        ("version", map.version.clone()),
        ("case_sha256", map.case_sha256.clone()),
        ("border_traced", if map.border_traced { "yes" } else { "no" }.into()),
        ("accuracy", map.accuracy.clone()),
        ("axes", serde_json::to_string(&map.plan.axes).map_err(json)?),
    ];
    let border = serde_json::to_string(&map.border).map_err(json)?;
    let mut documents = vec![("border".into(), border), ("case".into(), map.case_text.clone())];
    if !map.plan.rows.is_empty() {
        documents.push(("rows".into(), serde_json::to_string(&map.plan.rows).map_err(json)?));
    }
    table::write_with(
        target,
        &Table {
            schema: SCHEMA.into(),
            title: map.title.clone(),
            axis: "row".into(),
            attributes: about.map(|(name, value)| (name.to_string(), value)).to_vec(),
            documents,
            columns: columns(map),
            provenance: Provenance::default(),
            wall_s: 0.0,
        },
        |file| super::grid::write(file, map),
    )
}

/// Words of the columns of flags; a cell without an answer has no mode.
const MODES: &str = "none dripping jetting transition no_answer";
const STATUSES: &str = "done partial failed not_established";
/// Whether a run was established, as a number.
pub(super) fn established(row: &Row) -> i64 {
    row.established.map_or(-1, i64::from)
}

/// The column of a key: a name that programs take for an attribute.
fn column_of(key: &str) -> String {
    key.replace('.', "_")
}

/// A unit as UDUNITS and CF write it: `m3/s` as `m3 s-1`.
fn udunits(unit: &str) -> String {
    let mut parts = unit.split('/');
    let above = parts.next().unwrap_or("1").replace('.', " ");
    let below = parts.map(|part| {
        let name = part.trim_end_matches(|c: char| c.is_ascii_digit());
        let power = &part[name.len()..];
        format!(" {name}-{}", if power.is_empty() { "1" } else { power })
    });
    let above = if above == "1" && unit.contains('/') { String::new() } else { above };
    (above + &below.collect::<String>()).trim().to_owned()
}

/// The word of a status as a flag: meanings are separated by blanks.
fn flag_word(status: Status) -> String {
    status.word().replace(' ', "_")
}

/// Meaning of the column.
pub(super) const ESTABLISHED: &str = "1 the run came to repeat itself, 0 it did not, -1 no run";

fn flagged(words: &[&str], list: &str) -> Values {
    let place = |word: &&str| list.split_whitespace().position(|w| w == *word);
    let last = list.split_whitespace().count().saturating_sub(1);
    Values::Flags(words.iter().map(|w| place(w).unwrap_or(last) as i8).collect(), list.to_owned())
}

fn columns(map: &Map) -> Vec<Column> {
    let rows = &map.rows;
    let column = |name: &str, units: &str, long_name: &str, values| Column {
        name: name.into(),
        units: units.into(),
        long_name: long_name.into(),
        values,
    };
    let texts = |of: fn(&Row) -> &str| Values::Texts(rows.iter().map(|r| of(r).to_string()).collect());
    let whole = |of: &dyn Fn(&Row) -> i64| Values::Whole(rows.iter().map(of).collect());
    let mut list = vec![column("index", "1", "cell of the plan", whole(&|r| r.index as i64))];
    for (i, axis) in map.plan.axes.iter().enumerate() {
        let values = Values::Reals(rows.iter().map(|r| r.values[i]).collect());
        let meaning = format!("varied key {} of the case", axis.key);
        list.push(column(&column_of(&axis.key), &udunits(&axis.unit), &meaning, values));
    }
    let modes: Vec<&str> = rows.iter().map(|r| Mode::word_of(r.mode)).collect();
    list.push(column("mode", "1", "what the device does", flagged(&modes, MODES)));
    for (name, units, meaning, of) in REALS {
        let values = rows.iter().map(|r| of(r).unwrap_or(f64::NAN)).collect();
        list.push(column(name, units, meaning, Values::Reals(values)));
    }
    let statuses: Vec<String> = rows.iter().map(|r| flag_word(r.status)).collect();
    let statuses: Vec<&str> = statuses.iter().map(String::as_str).collect();
    list.push(column("status", "1", "whether the run of the cell came to its end", flagged(&statuses, STATUSES)));
    list.push(column("established", "1", ESTABLISHED, whole(&established)));
    list.push(column("reason", "1", "why it failed or stopped early", texts(|r| &r.reason)));
    let free = |r: &Row| r.satellite_free().map_or(-1, i64::from);
    let meaning = format!("1 satellites below {SATELLITE_FREE:e} of the volume, 0 above, -1 no drops");
    list.push(column("satellite_free", "1", &meaning, whole(&free)));
    list.push(column("warnings", "1", "codes of the validity limits that the cell exceeds", texts(|r| &r.warnings)));
    let error = rows.iter().map(|r| r.model_error_relative.unwrap_or(f64::NAN)).collect();
    let meaning = "the model's own error of the mean diameter, one standard deviation; NaN where nothing tells";
    list.push(column(MODEL_ERROR, "1", meaning, Values::Reals(error)));
    list.push(column("settled_drops", "1", "primary drops behind mean and spread", whole(&|r| r.settled_drops as i64)));
    list
}

/// Reads a map or a shard of one.
///
/// # Errors
/// Where the file is missing, no map of ours, damaged, or of a later layout.
pub fn read(path: &Path) -> Result<Map, RecordError> {
    let table = table::read(path, SCHEMA)?;
    let damaged = |what: &str| RecordError::damaged(path, format!("`{what}` is missing or not what it should be"));
    let about = |name: &str| {
        let found = table.attributes.iter().find(|(n, _)| n == name);
        found.map(|(_, value)| value.clone()).ok_or_else(|| damaged(name))
    };
    let document = |name: &str| {
        let found = table.documents.iter().find(|(n, _)| n == name);
        found.map(|(_, text)| text.clone()).ok_or_else(|| damaged(name))
    };
    let axes = serde_json::from_str(&about("axes")?).map_err(|_| damaged("axes"))?;
    let plan = match document("rows") {
        Ok(rows) => {
            let rows = serde_json::from_str(&rows).map_err(|_| damaged("rows"))?;
            Plan::of_rows(axes, rows).map_err(|_| damaged("rows"))?
        }
        Err(_) => Plan::new(axes).map_err(|_| damaged("axes"))?,
    };
    let map = Map {
        title: table.title.clone(),
        layout: about("layout")?,
        plan_hash: about("plan_hash")?,
        statistics: about("statistics")?,
        accuracy: about("accuracy")?,
        shard: about("shard")?.parse().map_err(|_| damaged("shard"))?,
        rows: rows(&table, &plan).ok_or_else(|| damaged("columns"))?,
        border: serde_json::from_str(&document("border")?).map_err(|_| damaged("border"))?,
        border_traced: about("border_traced")? == "yes",
        case_text: document("case")?,
        case_sha256: about("case_sha256")?,
        version: about("version")?,
        plan,
    };
    let in_plan = |row: &Row| row.index < map.plan.len() && map.plan.values(row.index) == row.values;
    if map.rows.iter().all(in_plan) { Ok(map) } else { Err(damaged("index")) }
}

fn rows(table: &Table, plan: &Plan) -> Option<Vec<Row>> {
    let reals = |name: &str| match &table.column(name)?.values {
        Values::Reals(values) => Some(values.as_slice()),
        _ => None,
    };
    let texts = |name: &str| match &table.column(name)?.values {
        Values::Texts(values) => Some(values.as_slice()),
        _ => None,
    };
    let whole = |name: &str| match &table.column(name)?.values {
        Values::Whole(values) => Some(values.as_slice()),
        _ => None,
    };
    let words = |name: &str| match &table.column(name)?.values {
        Values::Flags(values, meanings) => {
            let list: Vec<&str> = meanings.split_whitespace().collect();
            values.iter().map(|v| list.get(*v as usize).copied()).collect::<Option<Vec<&str>>>()
        }
        _ => None,
    };
    let (index, settled) = (whole("index")?, whole("settled_drops")?);
    let established = whole("established")?;
    let keys: Vec<&[f64]> = plan.axes.iter().map(|axis| reals(&column_of(&axis.key))).collect::<Option<_>>()?;
    let columns: Vec<&[f64]> = REALS.iter().map(|(name, ..)| reals(name)).collect::<Option<_>>()?;
    let model_error = reals(MODEL_ERROR)?;
    let (mode, status) = (words("mode")?, words("status")?);
    let (reason, warnings) = (texts("reason")?, texts("warnings")?);
    let row = |i: usize| {
        let real = |column: usize| Some(columns[column][i]).filter(|v| v.is_finite());
        Some(Row {
            index: usize::try_from(index[i]).ok()?,
            values: keys.iter().map(|values| values[i]).collect(),
            mode: mode[i].parse().ok(),
            mean_diameter_m: real(0),
            model_error_relative: Some(model_error[i]).filter(|v| v.is_finite()),
            cv: real(1),
            rate_per_s: real(2),
            satellites_per_primary: real(3),
            satellite_volume_fraction: real(4),
            jet_length_m: real(5),
            first_pinch_s: real(6),
            size_low_m: real(7),
            size_high_m: real(8),
            established: [Some(false), Some(true)].get(usize::try_from(established[i]).unwrap_or(9)).copied().flatten(),
            status: Status::from_word(&status[i].replace('_', " "))?,
            reason: reason[i].clone(),
            warnings: warnings[i].clone(),
            settled_drops: usize::try_from(settled[i]).ok()?,
        })
    };
    (0..index.len()).map(row).collect()
}

/// The rows as CSV (RFC 4180): the varied keys, then the columns of the table; missing numbers are empty fields.
pub fn csv(map: &Map) -> String {
    let keys = map.plan.axes.iter().map(|axis| quoted(&axis.key));
    let reals = REALS.iter().map(|(name, ..)| (*name).to_string());
    let head: Vec<String> = keys
        .chain(["mode".to_string()])
        .chain(reals)
        .chain(
            ["status", "reason", "satellite_free", "warnings", MODEL_ERROR, "settled_drops", "established"]
                .map(String::from),
        )
        .collect();
    let mut text = head.join(",") + "\n";
    for row in &map.rows {
        let number = |v: f64| format!("{v:e}");
        let values = row.values.iter().map(|v| number(*v));
        let reals = REALS.iter().map(|(.., of)| of(row).map_or(String::new(), number));
        let free = row.satellite_free().map_or(String::new(), |free| u8::from(free).to_string());
        let fields: Vec<String> = values
            .chain([Mode::word_of(row.mode).into()])
            .chain(reals)
            .chain([row.status.word().into(), quoted(&row.reason), free, quoted(&row.warnings)])
            .chain([row.model_error_relative.map_or(String::new(), number), row.settled_drops.to_string()])
            .chain([row.established.map_or(String::new(), |is| u8::from(is).to_string())])
            .collect();
        text += &(fields.join(",") + "\n");
    }
    text
}

/// The border as CSV: the varied keys at the border, the axis searched along, the bracket, the modes on both sides.
pub fn border_csv(map: &Map) -> String {
    let keys: Vec<String> = map.plan.axes.iter().map(|axis| quoted(&axis.key)).collect();
    let mut text = format!("{},along,from,to,mode_from,mode_to,closed,runs\n", keys.join(","));
    for p in &map.border {
        let values: Vec<String> = p.values.iter().map(|v| format!("{v:e}")).collect();
        let along = quoted(&map.plan.axes[p.along].key);
        let [from, to] = p.bracket;
        let [a, b] = p.modes;
        text += &format!("{},{along},{from:e},{to:e},{},{},{},{}\n", values.join(","), a, b, p.closed, p.runs);
    }
    text
}

fn quoted(field: &str) -> String {
    if field.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", field.replace('"', "\"\""))
    } else {
        field.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// UDUNITS-2 writes a product with blanks and a quotient with negative powers.
    #[test]
    fn units_are_udunits_words() {
        let written = ["m3/s", "N/m", "Pa.s", "mol/m3", "1", "1/s", "kg/m3", "m"].map(udunits);
        assert_eq!(written, ["m3 s-1", "N m-1", "Pa s", "mol m-3", "1", "s-1", "kg m-3", "m"]);
    }
}
