//! Which quantities a map's axes show, in which unit, linear or logarithmic.

use super::source::{MapKey, MapTable};
use crate::figures::axes::Axis;
use crate::figures::letters::Label;
use crate::figures::scale::Scale;
use crate::figures::unit::{self, Unit};
use crate::figures::{FigureError, MapAxes};

/// An axis of a map.
#[derive(Debug, Clone, PartialEq)]
pub struct MapAxis {
    title: Label,
    /// Name of its column in the numbers as plotted.
    pub column: String,
    pub unit: Unit,
    /// SI value of each row.
    pub values: Vec<f64>,
    pub log: bool,
    /// Whether rows lie on a grid along it.
    pub is_grid: bool,
}

const PLAIN: Unit = Unit { si: 1.0, name: "" };

/// The axes of a map: its varied quantities, or the groups where asked for.
pub fn chosen(map: &MapTable, axes: MapAxes) -> Result<(MapAxis, Option<MapAxis>), FigureError> {
    match axes {
        MapAxes::Groups => {
            let (capillary, weber) = map.groups()?;
            let of = |title, column: &str, values: &[f64]| MapAxis {
                title: Label::marked(title),
                column: column.into(),
                unit: PLAIN,
                values: values.to_vec(),
                log: true,
                is_grid: false,
            };
            let outer = of("outer capillary number *Ca*_{o}", "capillary_outer", &capillary);
            let inner = of("inner Weber number *We*_{i}", "weber_inner", &weber);
            // the same quantity on the same axis as where the flows are drawn
            Ok(if outer_first(map) { (outer, Some(inner)) } else { (inner, Some(outer)) })
        }
        MapAxes::Raw => {
            if map.keys.len() > 2 {
                let names: Vec<&str> = map.keys.iter().map(|key| key.key.as_str()).collect();
                let why = format!("this map varies {}; a figure shows one or two of them", names.join(", "));
                return Err(FigureError::Nothing(why));
            }
            let mut keys = map.keys.iter().map(|key| MapAxis { is_grid: !map.scattered, ..raw(key) });
            match (keys.next(), keys.next()) {
                (Some(x), y) => Ok((x, y)),
                (None, _) => Err(FigureError::Nothing("this map varies nothing".into())),
            }
        }
    }
}

/// Whether the outer group stands below, as the outer flow does where the flows are drawn.
pub fn outer_first(map: &MapTable) -> bool {
    map.keys.first().is_some_and(|k| k.key.starts_with("outer"))
}

/// Heading of a table's column of this quantity, and the SI units in what it shows.
pub fn heading(key: &MapKey) -> (String, f64) {
    let axis = raw(key);
    (axis.title.text(), axis.unit.si)
}

fn raw(key: &MapKey) -> MapAxis {
    let largest = key.values.iter().copied().filter(|v| v.is_finite()).map(f64::abs).fold(0.0, f64::max);
    let unit = shown_unit(&key.units, largest);
    let words = key.key.replace(['.', '_'], " ");
    let title = if unit.name.is_empty() { words } else { format!("{words} ({})", unit.name) };
    MapAxis {
        title: Label::plain(title),
        column: format!("{} [{}]", key.key, key.units),
        unit,
        values: key.values.clone(),
        log: is_geometric(&key.values),
        is_grid: true,
    }
}

/// A unit that people use for a quantity given by its SI unit.
fn shown_unit(units: &str, largest: f64) -> Unit {
    let fixed = |si, name| Unit { si, name };
    match units {
        "m3 s-1" | "m3/s" => unit::flow(largest),
        "m" => unit::length(largest),
        "s" => unit::time(largest),
        "Pa s" | "Pa.s" => fixed(1e-3, "mPa·s"),
        "N m-1" | "N/m" => fixed(1e-3, "mN/m"),
        "kg m-3" | "kg/m3" => fixed(1.0, "kg/m³"),
        "s-1" | "1/s" | "Hz" => fixed(1.0, "1/s"),
        "m s-2" | "m/s2" => fixed(1.0, "m/s²"),
        _ => PLAIN,
    }
}

pub fn distinct(values: &[f64]) -> Vec<f64> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    sorted.dedup_by(|a, b| (*a - *b).abs() <= 1e-9 * a.abs().max(b.abs()));
    sorted
}

/// True where neighbours differ by a factor rather than by a step.
pub fn is_geometric(values: &[f64]) -> bool {
    let v = distinct(values);
    if v.len() < 3 || v[0] <= 0.0 {
        return v.len() >= 2 && v[0] > 0.0 && v[v.len() - 1] / v[0] >= 10.0;
    }
    let uneven = |of: &dyn Fn(f64, f64) -> f64| {
        let steps: Vec<f64> = v.windows(2).map(|w| of(w[0], w[1])).collect();
        let (low, high) = (steps.iter().copied().fold(f64::MAX, f64::min), steps.iter().copied().fold(0.0, f64::max));
        high / low.max(f64::MIN_POSITIVE)
    };
    uneven(&|a, b| (b / a).ln()) < uneven(&|a, b| b - a)
}

impl MapAxis {
    /// Value of a row in the shown unit.
    pub fn shown(&self, row: usize) -> f64 {
        self.values[row] / self.unit.si
    }

    /// The axis over what was computed and the measured points, with room for the outermost symbols.
    pub fn axis(&self, also: &[f64]) -> Axis {
        let mut values: Vec<f64> = distinct(&self.values).into_iter().map(|v| v / self.unit.si).collect();
        values.extend(also);
        let found = values.iter().copied().fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(v), b.max(v)));
        let scale = match (self.log, found.0 < found.1) {
            (true, true) => {
                let room = (found.1 / found.0).powf(ROOM);
                Scale::Log { low: found.0 / room, high: found.1 * room }
            }
            (true, false) => Scale::log(values.into_iter()),
            (false, true) => {
                let room = ROOM * (found.1 - found.0);
                Scale::Linear { low: found.0 - room, high: found.1 + room }
            }
            (false, false) => Scale::linear(values.into_iter(), false),
        };
        Axis { scale, title: self.title.clone() }
    }
}

/// Room beside the outermost symbols, as a share of the axis.
const ROOM: f64 = 0.04;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spacing_decides_between_linear_and_logarithmic() {
        assert!(is_geometric(&[1.0, 2.0, 4.0, 8.0, 1.0, 2.0]));
        assert!(!is_geometric(&[1.0, 2.0, 3.0, 4.0]));
        assert!(!is_geometric(&[-1.0, 2.0, 30.0]));
        assert!(is_geometric(&[1.0, 20.0]));
    }

    #[test]
    fn an_axis_ends_a_little_beyond_what_was_computed() {
        let key = MapKey { key: "inner.flow".into(), units: "m3 s-1".into(), values: vec![1e-11, 4e-11, 16e-11] };
        let axis = raw(&key);
        let (low, high) = axis.axis(&[]).scale.ends();
        let span = axis.shown(2) / axis.shown(0);
        assert!(low < axis.shown(0) && high > axis.shown(2) && high / low < span.powf(1.1));
    }
}
