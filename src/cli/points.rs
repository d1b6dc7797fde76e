//! Measured points to lay over a figure: CSV with named columns, `KEY [unit]`, in any order.

use super::{Failure, source};
use crate::case::{self, keys};
use crate::figures::map::MapTable;
use crate::figures::{MapAxes, Source};
use crate::groups::groups;
use crate::outcome::Mode;
use crate::study::map::score::{Cells, Point, Score, score};
use crate::study::measured::{self, Beside, Measured};
use crate::units::Kind;
use std::path::Path;

/// Names of growth rates: both without a dimension, as on the axes.
const GROWTH: &[Beside] = &[("wavenumber", Some(Kind::Number)), ("growth_rate", Some(Kind::Number)), ("note", None)];

/// Points in SI units of the axes.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Points {
    pub rows: Vec<(f64, f64)>,
    /// One standard deviation of each, zero where none is given: of a diameter, from `diameter_sd`.
    pub errors: Vec<(f64, f64)>,
    /// Mode of each; empty where it was not told.
    pub modes: Vec<Option<Mode>>,
    /// How they lie on the map.
    pub score: Option<Score>,
}

/// Reads the points that go over a source.
pub fn over(path: &Path, source: &Source, axes: MapAxes) -> Result<Points, Failure> {
    let wrong = |what: String| Failure::Input(format!("{}: {what}", path.display()));
    let file = std::fs::File::open(path).map_err(|e| wrong(format!("cannot be read: {e}")))?;
    let beside = if matches!(source, Source::Map(_)) { measured::DROPS } else { GROWTH };
    let table = measured::read(file, beside).map_err(|errors| source::problems(path, &errors.problems))?;
    match source {
        Source::Map(map) => on_map(&table, map, axes).map_err(wrong),
        _ => {
            let (x, rate) = (column(&table, "wavenumber")?, column(&table, "growth_rate")?);
            Ok(Points { rows: x.into_iter().zip(rate).collect(), ..Points::default() })
        }
    }
    .map_err(|failure| match failure {
        Failure::Input(text) if !text.contains(&path.display().to_string()) => wrong(text),
        other => other,
    })
}

/// A column without gaps.
fn column(table: &Measured, name: &str) -> Result<Vec<f64>, Failure> {
    let missing = || {
        let unit = keys::find(name).map_or("", |key| match key.takes {
            keys::Takes::Quantity(kind, ..) => kind.usual_units()[0],
            _ => "",
        });
        let unit = if name == "diameter" { "um" } else { unit };
        let header = if unit.is_empty() { name.to_owned() } else { format!("{name} [{unit}]") };
        Failure::Input(format!("no column `{header}`, which the axes need"))
    };
    let values = table.reals(name).ok_or_else(missing)?;
    let cell = |(i, value): (usize, &Option<f64>)| {
        value.ok_or_else(|| Failure::Input(format!("line {}: no value in column `{name}`", table.lines[i])))
    };
    values.iter().enumerate().map(cell).collect()
}

fn on_map(table: &Measured, map: &MapTable, axes: MapAxes) -> Result<Points, String> {
    let plain = |failure: Failure| match failure {
        Failure::Input(text) | Failure::Unfinished(text) | Failure::Interrupted(text) => text,
    };
    let of = |name: &str| column(table, name).map_err(plain);
    let keys: Vec<&str> = map.keys.iter().map(|key| key.key.as_str()).collect();
    if let Some(other) = table.keys().into_iter().find(|key| !keys.contains(key)).filter(|_| axes == MapAxes::Raw) {
        return Err(format!("column `{other}` is no key of this map, which varies {}", keys.join(", ")));
    }
    let mode = |(i, text): (usize, &String)| match text.parse() {
        _ if text.is_empty() => Ok(None),
        Ok(mode) if mode != Mode::Transition => Ok(Some(mode)),
        _ => {
            let shown = crate::units::quoted(text);
            Err(format!("line {}: mode `{shown}` is neither dripping, jetting nor none", table.lines[i]))
        }
    };
    let modes: Vec<Option<Mode>> = match table.texts("mode") {
        Some(texts) => texts.iter().enumerate().map(mode).collect::<Result<_, _>>()?,
        None => vec![None; table.rows()],
    };
    let rows = match (axes, keys.as_slice()) {
        (MapAxes::Groups, _) => on_groups(table, map)?,
        (MapAxes::Raw, [x]) => of(x)?.into_iter().zip(of("diameter")?).collect(),
        (MapAxes::Raw, [x, y, ..]) => of(x)?.into_iter().zip(of(y)?).collect(),
        (MapAxes::Raw, []) => Vec::new(),
    };
    let all: Option<Vec<Vec<f64>>> = keys.iter().map(|key| of(key).ok()).collect();
    let score = all.map(|columns| {
        let at = |i: usize| columns.iter().map(|values| values[i]).collect();
        let diameters = table.reals("diameter");
        let points: Vec<Point> = (0..table.rows())
            .map(|i| Point { at: at(i), mode: modes[i], diameter: diameters.and_then(|d| d[i]) })
            .collect();
        let values: Vec<&[f64]> = map.keys.iter().map(|key| key.values.as_slice()).collect();
        score(&Cells { keys: &values, modes: &map.mode, diameters: &map.diameter }, &points).0
    });
    let deviation = |i: usize| table.reals("diameter_sd").and_then(|sd| sd[i]).unwrap_or(0.0);
    let of_diameter = axes == MapAxes::Raw && keys.len() == 1;
    let errors = (0..rows.len()).map(|i| (0.0, if of_diameter { deviation(i) } else { 0.0 })).collect();
    Ok(Points { rows, errors, modes, score })
}

/// Outer capillary and inner Weber number of each row, in the order of the axes: the map's case with the row's keys set.
fn on_groups(table: &Measured, map: &MapTable) -> Result<Vec<(f64, f64)>, String> {
    let base =
        case::parse(&map.case_text, "case of the map").map_err(|_| "the map's case cannot be read".to_owned())?;
    // as on the axes
    let outer_first = crate::figures::map::axis::outer_first(map);
    let one = |i: usize| {
        let mut case = base.clone();
        for key in table.keys() {
            if let Some(value) = table.reals(key).and_then(|values| values[i]) {
                case = case.with(key, value).map_err(|e| format!("line {}: {}", table.lines[i], e.in_one_line()))?;
            }
        }
        let found = groups(&case);
        let capillary = found.capillary_outer.ok_or_else(|| "there is no outer flow, so no Ca_o".to_owned())?;
        Ok(if outer_first { (capillary, found.weber_inner) } else { (found.weber_inner, capillary) })
    };
    (0..table.rows()).map(one).collect()
}
