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
    log: bool,
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
            let x = of("outer capillary number *Ca*_{o}", "capillary_outer", &capillary);
            Ok((x, Some(of("inner Weber number *We*_{i}", "weber_inner", &weber))))
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

fn distinct(values: &[f64]) -> Vec<f64> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    sorted.dedup_by(|a, b| (*a - *b).abs() <= 1e-9 * a.abs().max(b.abs()));
    sorted
}

/// True where neighbours differ by a factor rather than by a step.
fn is_geometric(values: &[f64]) -> bool {
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

/// Lines half-way between the values of a grid, in shown units.
pub struct Borders {
    values: Vec<f64>,
    edges: Vec<f64>,
}

impl Borders {
    /// The two borders around a value.
    pub fn around(&self, value: f64) -> Option<(f64, f64)> {
        let i = self.values.iter().position(|v| (v - value).abs() <= 1e-9 * v.abs().max(value.abs()))?;
        Some((self.edges[i], self.edges[i + 1]))
    }
}

impl MapAxis {
    /// Value of a row in the shown unit.
    pub fn shown(&self, row: usize) -> f64 {
        self.values[row] / self.unit.si
    }

    /// The axis with room for half a cell beyond the outermost rows, and for measured points.
    pub fn axis(&self, also: &[f64]) -> Axis {
        let grid = distinct(&self.values).into_iter().map(|v| v / self.unit.si).collect::<Vec<_>>();
        let mut values = grid.clone();
        if let [first, second, ..] = grid[..] {
            values.push(beyond(first, second, self.log));
            values.push(beyond(grid[grid.len() - 1], grid[grid.len() - 2], self.log));
        }
        values.extend(also);
        let scale = if self.log {
            Scale::log(values.into_iter())
        } else {
            let found = values.iter().copied().fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(v), b.max(v)));
            if found.0 < found.1 {
                Scale::Linear { low: found.0, high: found.1 }
            } else {
                Scale::linear(values.into_iter(), false)
            }
        };
        Axis { scale, title: self.title.clone() }
    }

    /// Borders of the cells along this axis.
    pub fn borders(&self, scale: Scale) -> Borders {
        let values: Vec<f64> = distinct(&self.values).into_iter().map(|v| v / self.unit.si).collect();
        let middle = |a: f64, b: f64| if self.log { (a * b).sqrt() } else { 0.5 * (a + b) };
        let mut edges = vec![scale.ends().0];
        edges.extend(values.windows(2).map(|w| middle(w[0], w[1])));
        edges.push(scale.ends().1);
        Borders { values, edges }
    }
}

/// Half a cell beyond the outermost value.
fn beyond(outermost: f64, neighbour: f64, log: bool) -> f64 {
    if log { outermost * (outermost / neighbour).sqrt() } else { outermost + 0.5 * (outermost - neighbour) }
}

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
    fn cells_meet_half_way() {
        let key = MapKey { key: "inner.flow".into(), units: "m3 s-1".into(), values: vec![1e-11, 4e-11, 16e-11] };
        let axis = raw(&key);
        let scale = axis.axis(&[]).scale;
        let borders = axis.borders(scale);
        let (a, b) = borders.around(axis.shown(1)).unwrap();
        assert!((a * b / axis.shown(1).powi(2) - 1.0).abs() < 1e-9);
        assert!(borders.around(1e9).is_none());
    }
}
