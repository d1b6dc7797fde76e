//! A map for people and as one JSON object.

use crate::outcome::Mode;
use crate::cli::quantity::{self, number, percent};
use crate::cli::text::Page;
use crate::study::confirm_map::Course;
use crate::study::map::{Axis, BorderPoint, Map, Row, Status};
use crate::tolerances::SATELLITE_FREE;
use std::collections::BTreeMap;

/// Columns of a picture in letters at most; wider maps are for figures.
const WIDE: usize = 24;
/// Points of the border listed at most.
const POINTS: usize = 20;

/// The map as text: a picture in letters, counts, the border.
pub fn page(map: &Map) -> Page {
    let mut page = Page::new();
    page.titled(&map.title, &map.layout);
    page.heading("What comes out");
    counts(&mut page, map);
    if map.shard.is_whole() && map.plan.axes.len() == 2 && map.plan.axes[1].values.len() <= WIDE {
        picture(&mut page, map);
    }
    if map.shard.is_whole() && map.plan.axes.len() == 1 && map.plan.rows.is_empty() {
        line(&mut page, map);
    }
    if map.border_traced {
        edge(&mut page, map);
    }
    let failed: Vec<&Row> = map.rows.iter().filter(|row| row.status != Status::Done).collect();
    if !failed.is_empty() {
        page.heading("Cells without a whole answer");
        reasons(&failed).into_iter().for_each(|reason| page.item(&reason));
    }
    page
}

fn counts(page: &mut Page, map: &Map) {
    page.fact("cells", &if map.shard.is_whole() { map.rows.len().to_string() } else { format!("{} (shard {})", map.rows.len(), map.shard) });
    for mode in Mode::ALL {
        let count = map.rows.iter().filter(|row| row.mode == Some(mode)).count();
        if count > 0 {
            page.fact(mode.word(), &count.to_string());
        }
    }
    let free = map.rows.iter().filter(|row| row.satellite_free() == Some(true)).count();
    let with = map.rows.iter().filter(|row| row.satellite_free().is_some()).count();
    if map.plan.axes.len() > 2 || !map.plan.rows.is_empty() {
        let keys: Vec<&str> = map.plan.axes.iter().map(|axis| axis.key.as_str()).collect();
        page.fact("varied", &keys.join(", "));
    }
    page.fact("accuracy", &map.accuracy);
    page.fact("drops of a cell", &map.statistics);
    let share = format!("satellites below {} % of the volume", 100.0 * SATELLITE_FREE);
    page.fact("free of satellites", &format!("{free} of the {with} that give drops ({share})"));
    let sizes: Vec<f64> = map.rows.iter().filter_map(|row| row.mean_diameter_m).collect();
    if let (Some(least), Some(most)) = (sizes.iter().copied().reduce(f64::min), sizes.iter().copied().reduce(f64::max)) {
        page.fact("mean diameters", &format!("{} to {}", quantity::length(least), quantity::length(most)));
    }
}

/// `d` dripping, `t` transition, `j` jetting, `~` not established, `-` no drops, `x` no answer; `*` behind it: satellites.
fn letter(row: Option<&Row>) -> String {
    let Some(row) = row else { return "?".into() };
    let star = if row.satellite_free() == Some(false) { "*" } else { " " };
    let mode = match (row.status, row.mode) {
        (Status::Failed, _) => "x",
        (Status::NotEstablished, _) => "~",
        (_, Some(Mode::Dripping)) => "d",
        (_, Some(Mode::Transition)) => "t",
        (_, Some(Mode::Jetting)) => "j",
        _ => "-",
    };
    format!("{mode}{star}")
}

fn picture(page: &mut Page, map: &Map) {
    let [down, across] = [&map.plan.axes[0], &map.plan.axes[1]];
    page.heading(&format!("{} down, {} across", down.key, across.key));
    let shown = |unit: &str, value: f64| in_unit(unit, value);
    let head: Vec<String> =
        std::iter::once(String::new()).chain(across.values.iter().map(|v| shown(&across.unit, *v))).collect();
    let rows: Vec<Vec<String>> = (0..down.values.len())
        .rev()
        .map(|i| {
            let cells = (0..across.values.len()).map(|j| letter(map.rows.get(map.plan.index(&[i, j]))));
            std::iter::once(shown(&down.unit, down.values[i])).chain(cells).collect()
        })
        .collect();
    page.table(&head.iter().map(String::as_str).collect::<Vec<_>>(), &rows);
    page.paragraph("d dripping, t transition, j jetting, ~ not established, - no drops, x no answer; * satellites that count");
}

fn line(page: &mut Page, map: &Map) {
    let axis = &map.plan.axes[0];
    page.heading(&axis.key);
    let or_dash = |value: Option<String>| value.unwrap_or_else(|| "-".into());
    let row = |row: &Row| {
        vec![
            in_unit(&axis.unit, row.values[0]),
            match row.status {
                Status::Failed => "no answer".into(),
                Status::NotEstablished => "not established".into(),
                Status::Done | Status::Partial => Mode::word_of(row.mode).into(),
            },
            or_dash(row.mean_diameter_m.map(|d| quantity::length_to(d, 3))),
            or_dash(row.size_low_m.zip(row.size_high_m).map(|(low, high)| between(low, high))),
            or_dash(row.cv.map(|cv| percent(two(cv)))),
            or_dash(row.rate_per_s.map(|rate| quantity::rate_to(rate, 3))),
            or_dash(row.satellites_per_primary.map(number)),
        ]
    };
    let rows: Vec<Vec<String>> = map.rows.iter().map(row).collect();
    page.table(&[axis.key.as_str(), "mode", "diameter", "90 %", "CV", "drops", "sat."], &rows);
}

/// Two significant figures.
fn two(x: f64) -> f64 {
    format!("{x:.1e}").parse().unwrap_or(x)
}

/// `118 to 134 um`.
fn between(low: f64, high: f64) -> String {
    let (low, high) = (quantity::length_to(low, 3), quantity::length_to(high, 3));
    match low.split_once(' ').zip(high.split_once(' ')) {
        Some(((number, a), (_, b))) if a == b => format!("{number} to {high}"),
        _ => format!("{low} to {high}"),
    }
}

/// A value of an axis as people at the bench read it.
pub fn in_unit(unit: &str, value: f64) -> String {
    match unit {
        "m" => quantity::length(value),
        "s" => quantity::time(value),
        "m3/s" => quantity::flow(value),
        "1/s" => quantity::rate(value),
        "1" => number(value),
        "N/m" => format!("{} mN/m", number(1e3 * value)),
        "Pa.s" => format!("{} mPa.s", number(1e3 * value)),
        other => format!("{} {other}", number(value)),
    }
}

fn edge(page: &mut Page, map: &Map) {
    page.heading("Border between modes (bisected to 2 %)");
    if map.border.is_empty() {
        page.paragraph("no two neighbours differ in mode: the border, if there is one, lies outside the map");
    }
    let point = |p: &BorderPoint| {
        let place = map.plan.axes.iter().zip(&p.values).enumerate().map(|(i, (axis, value))| {
            let along = if i == p.along { " (searched)" } else { "" };
            format!("{} = {}{along}", axis.key, in_unit(&axis.unit, *value))
        });
        let open = if p.closed { "" } else { "; not closed to 2 %" };
        format!("{}: {} to {}{open}", place.collect::<Vec<_>>().join(", "), p.modes[0], p.modes[1])
    };
    map.border.iter().take(POINTS).for_each(|p| page.item(&point(p)));
    if map.border.len() > POINTS {
        page.item(&format!("and {} more (--csv or --json has all)", map.border.len() - POINTS));
    }
}

/// Each reason once, with how often it came.
fn reasons(rows: &[&Row]) -> Vec<String> {
    let mut counted: std::collections::BTreeMap<&str, usize> = std::collections::BTreeMap::new();
    for row in rows {
        *counted.entry(row.reason.as_str()).or_default() += 1;
    }
    counted.into_iter().map(|(reason, n)| format!("{n} x {}", reason.chars().filter(|c| !c.is_control()).collect::<String>())).collect()
}

/// What `map --json` tells.
#[derive(serde::Serialize, schemars::JsonSchema)]
pub struct Told<'a> {
    schema: &'static str,
    version: &'a str,
    title: &'a str,
    layout: &'a str,
    accuracy: &'a str,
    statistics: &'a str,
    /// Checksum of what was varied and of the case: shards of one map have the same.
    plan_hash: &'a str,
    /// Which part of the map this is, `I/N`.
    shard: String,
    axes: &'a [Axis],
    rows: Vec<Cell<'a>>,
    /// Points where the mode changes; null where they were not searched for.
    border: Option<&'a [BorderPoint]>,
    /// How the model's error runs over the map (`--confirm`).
    #[serde(skip_serializing_if = "Option::is_none")]
    confirmed: Option<&'a Course>,
}

/// A cell; the varied keys (SI) stand under their own names beside those below.
#[derive(serde::Serialize, schemars::JsonSchema)]
struct Cell<'a> {
    #[serde(flatten)]
    row: &'a Row,
    /// Whether satellites carry less than can be seen.
    satellite_free: Option<bool>,
    #[serde(flatten)]
    keys: BTreeMap<&'a str, f64>,
}

/// The map as one object.
pub fn told<'a>(map: &'a Map, confirmed: Option<&'a Course>) -> Told<'a> {
    let keys = |row: &Row| map.plan.axes.iter().map(|axis| axis.key.as_str()).zip(row.values.iter().copied()).collect();
    Told {
        schema: crate::study::map::SCHEMA,
        version: &map.version,
        title: &map.title,
        layout: &map.layout,
        accuracy: &map.accuracy,
        statistics: &map.statistics,
        plan_hash: &map.plan_hash,
        shard: map.shard.to_string(),
        axes: &map.plan.axes,
        rows: map.rows.iter().map(|row| Cell { row, satellite_free: row.satellite_free(), keys: keys(row) }).collect(),
        border: map.border_traced.then_some(map.border.as_slice()),
        confirmed,
    }
}
