//! A whole record, in one fixed order of objects.

use super::frames::FrameWriter;
use super::netcdf::{
    Meaning, column, dimension, document, flags, json, meaning, number, numbers, subgroup, text, texts,
};
use super::{RecordError, full, provenance, replace};
use crate::case::{Case, Stop};
use crate::outcome::{Drop, DropKind, Frame, NeckSample, Outcome, PinchOff, SCHEMA, SolverCounts, Summary};
use crate::simulate::Checkpoint;
use crate::study::confirm::{Confirmed, History};
use hdf5::{File, Group};
use serde_json::Value;
use std::path::Path;

/// Where an interrupted run can go on from: the state and how many snapshots came before it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Resumable<'a> {
    pub state: &'a Checkpoint,
    pub frames: u64,
}

/// Writes a record in one go: to a temporary file beside `target`, then renamed into place.
///
/// # Errors
/// Where the folder cannot be written, the disk is full, or a frame has columns of unequal length.
pub fn write(target: &Path, case: &Case, outcome: &Outcome, frames: &[Frame]) -> Result<(), RecordError> {
    let folder = crate::files::folder_of(target);
    whole(target, &folder, case, outcome, Rest::default(), |to| frames.iter().try_for_each(to))
}

/// The same with what the full equations say of the run.
///
/// # Errors
/// As [`write()`].
pub fn write_confirmed(
    target: &Path,
    case: &Case,
    outcome: &Outcome,
    frames: &[Frame],
    (told, history): (&Confirmed, &History),
) -> Result<(), RecordError> {
    let folder = crate::files::folder_of(target);
    let rest = Rest { full: Some((told, history)), ..Rest::default() };
    whole(target, &folder, case, outcome, rest, |to| frames.iter().try_for_each(to))
}

/// What not every record has.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Rest<'a> {
    pub resumable: Option<Resumable<'a>>,
    pub full: Option<(&'a Confirmed, &'a History)>,
}

/// Writes a record whose snapshots are handed over one by one, with its temporary file in `workshop`.
pub(super) fn whole(
    target: &Path,
    workshop: &Path,
    case: &Case,
    outcome: &Outcome,
    rest: Rest<'_>,
    feed: impl FnOnce(&mut dyn FnMut(&Frame) -> Result<(), RecordError>) -> Result<(), RecordError>,
) -> Result<(), RecordError> {
    let refused = |cause: hdf5::Error| RecordError::hdf5(target, "compose it", cause);
    replace::hdf5_file(target, workshop, |file| {
        root(file, case, &outcome.summary).map_err(refused)?;
        let mut snapshots = FrameWriter::new(file).map_err(refused)?;
        feed(&mut |frame| snapshots.push(frame).map_err(refused))?;
        snapshots.finish().map_err(refused)?;
        groups(file, case, outcome, rest).map_err(refused)
    })
}

fn root(file: &File, case: &Case, summary: &Summary) -> hdf5::Result<()> {
    text(file, "Conventions", "CF-1.11")?;
    text(file, "title", &case.title)?;
    text(file, "schema", SCHEMA)?;
    text(file, "version", &summary.version)?;
    text(file, "identity", &super::identity(case))?;
    text(file, "history", &format!("written by slenderjet {}; when and how: see /provenance", summary.version))?;
    text(file, "source", "slenderjet: one-dimensional long-wave simulation of drop formation, not a measurement")
}

fn groups(file: &File, case: &Case, outcome: &Outcome, rest: Rest<'_>) -> hdf5::Result<()> {
    drops(&subgroup(file, "drops")?, &outcome.summary.drops)?;
    mergers(&subgroup(file, "merger")?, &outcome.summary.drops)?;
    pinch_offs(&subgroup(file, "pinch_off")?, &outcome.pinch_offs)?;
    necks(&subgroup(file, "neck")?, &outcome.necks)?;
    summary(&subgroup(file, "summary")?, &outcome.summary)?;
    as_typed(&subgroup(file, "case")?, case)?;
    counts(&subgroup(file, "solver")?, &outcome.counts)?;
    if let Some(resumable) = rest.resumable {
        checkpoint(&subgroup(file, "checkpoint")?, resumable)?;
    }
    if let Some((told, history)) = rest.full {
        full::put(&subgroup(file, "confirmed")?, told, history)?;
    }
    let wall_s = outcome.summary.cost.wall_s;
    let provenance = subgroup(file, "provenance")?;
    provenance::write(&provenance, &outcome.summary.provenance, wall_s)?;
    rest.full.map_or(Ok(()), |(told, _)| number(&provenance, provenance::CONFIRM_WALL_S, told.cost.wall_s))
}

/// The one convention of time for a detachment.
const DETACHMENT: &str = "when the drop came off: pinch_time of the pinch-off named by pinch_index";
const PINCH_TIME: &str = "when the neck broke: of the attached thread, when its radius reaches zero in a straight line \
    through its last two steps (it is cut shortly before); of a filament, when it is cut";

/// A column and how to take its value from a row.
type ColumnOf<'a, T> = (Meaning<'a>, fn(&T) -> f64);

fn reals<T>(group: &Group, axis: &str, rows: &[T], columns: &[ColumnOf<'_, T>]) -> hdf5::Result<()> {
    for (what, value) in columns {
        column(group, axis, *what, &rows.iter().map(value).collect::<Vec<_>>())?;
    }
    Ok(())
}

fn drops(group: &Group, drops: &[Drop]) -> hdf5::Result<()> {
    dimension(group, meaning("drop", "1", "detached drops in the order of detachment"), drops.len())?;
    reals(
        group,
        "drop",
        drops,
        &[
            (meaning("detachment_time", "s", DETACHMENT), |d| d.time_s),
            (meaning("volume", "m3", "volume of the drop"), |d| d.volume_m3),
            (meaning("diameter", "m", "diameter of the sphere of that volume"), |d| d.diameter_m),
            (meaning("position", "m", "centre of volume when it came off, from the tip"), |d| d.position_m),
            (meaning("velocity", "m s-1", "axial velocity when it came off"), |d| d.velocity_m_per_s),
        ],
    )?;
    let kind: Vec<i8> = drops.iter().map(|d| i8::from(d.kind == DropKind::Satellite)).collect();
    flags(group, "drop", meaning("kind", "1", "primary drop or satellite"), "primary satellite", &kind)?;
    let flagged: Vec<i8> = drops.iter().map(|d| i8::from(d.flagged)).collect();
    let what = meaning("flagged", "1", "whether a step was rolled back or the wall touched while it formed");
    flags(group, "drop", what, "plain flagged", &flagged)?;
    let pinch: Vec<i64> = drops.iter().map(|d| d.pinch.map_or(-1, |i| i as i64)).collect();
    let what = meaning("pinch_index", "1", "index in /pinch_off of the pinch-off that made the drop, -1 for none");
    column(group, "drop", what, &pinch)?;
    let merged: Vec<i32> = drops.iter().map(|d| d.merged_from.len() as i32).collect();
    column(group, "drop", meaning("merged_count", "1", "how many drops merged into it, see /merger"), &merged).map(drop)
}

/// A group of its own: one row for each drop that went into another.
fn mergers(group: &Group, drops: &[Drop]) -> hdf5::Result<()> {
    let pairs = || drops.iter().enumerate().flat_map(|(into, d)| d.merged_from.iter().map(move |&from| (into, from)));
    let list = |pick: fn((usize, usize)) -> usize| pairs().map(|pair| pick(pair) as i64).collect::<Vec<_>>();
    let (into, from) = (list(|pair| pair.0), list(|pair| pair.1));
    dimension(group, meaning("merger", "1", "drops that went into another"), from.len())?;
    column(group, "merger", meaning("merged_into", "1", "index in /drops of the drop that was made"), &into)?;
    column(group, "merger", meaning("merged_from", "1", "index in /drops of a drop that went into it"), &from).map(drop)
}

fn pinch_offs(group: &Group, pinches: &[PinchOff]) -> hdf5::Result<()> {
    dimension(group, meaning("pinch", "1", "pinch-offs in order of time"), pinches.len())?;
    reals(
        group,
        "pinch",
        pinches,
        &[
            (meaning("pinch_time", "s", PINCH_TIME), |p| p.time),
            (meaning("position", "m", "where it broke, from the tip"), |p| p.position),
            (meaning("length", "m", "from the nozzle to the free end of what broke"), |p| p.length),
            (meaning("volume", "m3", "volume beyond the neck"), |p| p.volume),
        ],
    )
}

fn necks(group: &Group, samples: &[NeckSample]) -> hdf5::Result<()> {
    dimension(group, meaning("sample", "1", "samples of the thinnest neck in order of time"), samples.len())?;
    reals(
        group,
        "sample",
        samples,
        &[
            (meaning("sample_time", "s", "time of the sample"), |n| n.time),
            (meaning("position", "m", "where the neck is, from the tip"), |n| n.position),
            (meaning("radius", "m", "smallest radius of the attached thread"), |n| n.radius),
            (meaning("length", "m", "length of the attached thread"), |n| n.length),
        ],
    )?;
    let pinch: Vec<i64> = samples.iter().map(|n| n.pinch.map_or(-1, |i| i as i64)).collect();
    let what = meaning("pinch_index", "1", "index in /pinch_off of the pinch-off that this neck leads to, -1 for none");
    column(group, "sample", what, &pinch).map(drop)
}

/// The summary without what differs between equal runs.
fn reproducible(summary: &Summary) -> hdf5::Result<Value> {
    let mut value = serde_json::to_value(summary).map_err(|e| hdf5::Error::from(e.to_string()))?;
    if let Some(object) = value.as_object_mut() {
        object.remove("provenance");
        if let Some(cost) = object.get_mut("cost").and_then(Value::as_object_mut) {
            cost.remove("wall_s");
        }
    }
    Ok(value)
}

fn summary(group: &Group, summary: &Summary) -> hdf5::Result<()> {
    let value = reproducible(summary)?;
    json(group, meaning("json", "1", "the summary as one JSON object, SI units in its names"), &value.to_string())?;
    flatten(group, "", &value)
}

/// Every single fact as an attribute, nested names joined by `_`; lists of objects stay in the JSON text.
fn flatten(group: &Group, name: &str, value: &Value) -> hdf5::Result<()> {
    match value {
        Value::Object(object) => object.iter().try_for_each(|(key, inner)| {
            let joined = if name.is_empty() { key.clone() } else { format!("{name}_{key}") };
            flatten(group, &joined, inner)
        }),
        Value::Array(items) => {
            let values: Option<Vec<f64>> = items.iter().map(Value::as_f64).collect();
            match values {
                Some(values) if !values.is_empty() => numbers(group, name, &values),
                _ => Ok(()),
            }
        }
        Value::String(word) => text(group, name, word),
        Value::Bool(flag) => number(group, name, i8::from(*flag)),
        Value::Number(n) => match n.as_u64() {
            Some(whole) => number(group, name, whole),
            None => number(group, name, n.as_f64().unwrap_or(f64::NAN)),
        },
        Value::Null => Ok(()),
    }
}

fn stop_words(stop: Stop) -> String {
    match stop {
        Stop::Drops(n) => format!("after {n} primary drops"),
        Stop::Until(time) => format!("at {time} s"),
    }
}

fn as_typed(group: &Group, case: &Case) -> hdf5::Result<()> {
    text(group, "layout", case.layout.name())?;
    text(group, "accuracy", case.run.accuracy.name())?;
    text(group, "stop", &stop_words(case.run.stop))?;
    document(group, meaning("text", "1", "the case file as typed"), &case.text)?;
    let resolved = serde_json::to_string(case).map_err(|e| hdf5::Error::from(e.to_string()))?;
    json(
        group,
        meaning("json", "1", "the checked case in SI units, with defaults and properties filled in"),
        &resolved,
    )?;
    let typed = &case.typed;
    dimension(group, meaning("quantity", "1", "quantities of the case file"), typed.len())?;
    let words = |what, of: fn(&crate::case::Typed) -> &str| {
        texts(group, "quantity", what, &typed.iter().map(of).collect::<Vec<_>>())
    };
    words(meaning("key", "1", "key in the case file"), |t| &t.key)?;
    words(meaning("typed", "1", "value as typed"), |t| &t.text)?;
    words(meaning("si_unit", "1", "SI unit of the value"), |t| t.unit)?;
    reals(
        group,
        "quantity",
        typed,
        &[
            (meaning("si_value", "1", "value in the SI unit named in si_unit"), |t| t.si),
            (meaning("tolerance", "1", "relative tolerance given, NaN for none"), |t| t.tolerance.unwrap_or(f64::NAN)),
        ],
    )
}

fn counts(group: &Group, counts: &SolverCounts) -> hdf5::Result<()> {
    let value = serde_json::to_value(counts).map_err(|e| hdf5::Error::from(e.to_string()))?;
    json(group, meaning("json", "1", "what the solver counted, by cause"), &value.to_string())?;
    flatten(group, "", &value)
}

/// The state of a run, to go on from.
pub(super) fn checkpoint(group: &Group, from: Resumable<'_>) -> hdf5::Result<()> {
    number(group, "frames", from.frames)?;
    dimension(group, meaning("real", "1", "real numbers of the state"), from.state.reals.len())?;
    column(group, "real", meaning("reals", "1", "real numbers of the state in the solver's order"), &from.state.reals)?;
    dimension(group, meaning("count", "1", "counts of the state"), from.state.counts.len())?;
    let what = meaning("counts", "1", "counts and flags of the state in the solver's order");
    column(group, "count", what, &from.state.counts).map(drop)
}
