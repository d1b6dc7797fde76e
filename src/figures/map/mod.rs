//! `map`: where a device drips, jets and makes satellites, over one or two varied quantities.

pub mod axis;
mod marks;
mod source;

pub use source::{MapKey, MapTable};

use super::axes::{Axes, Fit, Mark, mark};
use super::drawing::{Area, Drawing, Look};
use super::letters::Label;
use super::palette::{INK, SLATE};
use super::scale::Scale;
use super::table::{Cells, Numbers};
use super::{FigureError, MODEL_ERROR_NOTE, MapAxes, Piece, Room, Wish};
use axis::MapAxis;
use marks::{Fate, measured};

/// Room for the legend above the axes, per line.
const LEGEND_LINE: f64 = 10.0;

pub fn draw(map: &MapTable, wish: &Wish, room: &Room) -> Result<Piece, FigureError> {
    let (x, y) = axis::chosen(map, wish.axes)?;
    match y {
        Some(y) => plane(map, wish, room, &x, &y),
        None => line(map, wish, room, &x),
    }
}

/// Two quantities: a symbol for each cell, its ground tinted by the mode.
fn plane(map: &MapTable, wish: &Wish, room: &Room, x: &MapAxis, y: &MapAxis) -> Result<Piece, FigureError> {
    let height = room.height_or(0.98);
    let mut drawing = Drawing::new(&room.prefix);
    let top = legend(&mut drawing, map, wish, room.width);
    let laid_over =
        |of: fn(&(f64, f64)) -> f64, si: f64| wish.points.iter().map(move |p| of(p) / si).collect::<Vec<_>>();
    let axes = Axes::fit(
        x.axis(&laid_over(|p| p.0, x.unit.si)),
        y.axis(&laid_over(|p| p.1, y.unit.si)),
        Area { x: 0.0, y: top, width: room.width, height: height - top },
        Fit::default(),
    );
    if x.is_grid && y.is_grid {
        tint(&mut drawing, map, &axes, x, y);
    }
    axes.draw(&mut drawing);
    for i in 0..map.rows() {
        let at = axes.point(x.shown(i), y.shown(i));
        if at.0.is_finite() && at.1.is_finite() {
            mark(&mut drawing, at, Fate::of(map, i).mark());
        }
    }
    if x.is_grid && y.is_grid {
        for p in &map.border {
            let at = axes.point(p[0] / x.unit.si, p[1] / y.unit.si);
            drawing.circle(at, 0.8, Look::filled(INK));
        }
    }
    for (i, p) in wish.points.iter().enumerate() {
        let (px, py) = (p.0 / x.unit.si, p.1 / y.unit.si);
        if axes.hold(px, py) {
            mark(&mut drawing, axes.point(px, py), measured(wish.point_modes.get(i).map(String::as_str)));
        }
    }
    Ok(finished(drawing, map, wish, (room.width, height), (x, Some(y))))
}

/// One quantity: the mean diameter over it.
fn line(map: &MapTable, wish: &Wish, room: &Room, x: &MapAxis) -> Result<Piece, FigureError> {
    let height = room.height_or(0.82);
    let mut drawing = Drawing::new(&room.prefix);
    let top = legend(&mut drawing, map, wish, room.width);
    let largest = map.diameter.iter().chain(wish.points.iter().map(|p| &p.1)).copied().filter(|d| d.is_finite());
    let l = super::unit::length(largest.clone().fold(0.0, f64::max));
    if largest.count() == 0 {
        return Err(FigureError::Nothing("no cell of this map made drops, so there is no diameter to draw".into()));
    }
    let bar = |i: usize| Some(map.diameter[i] * map.model_error.get(i)?).filter(|e| e.is_finite());
    let ends = (0..map.rows()).flat_map(|i| {
        let (d, e) = (map.diameter[i], bar(i).unwrap_or(0.0));
        [d - e, d + e]
    });
    let values = ends.chain(wish.points.iter().map(|p| p.1)).map(|d| d / l.si);
    let axes = Axes::fit(
        x.axis(&wish.points.iter().map(|p| p.0 / x.unit.si).collect::<Vec<_>>()),
        super::axes::Axis::new(Scale::linear(values, false), &format!("mean drop diameter *d* ({})", l.name)),
        Area { x: 0.0, y: top, width: room.width, height: height - top },
        Fit::default(),
    );
    axes.draw(&mut drawing);
    for i in (0..map.rows()).filter(|i| map.diameter[*i].is_finite()) {
        if let Some(e) = bar(i) {
            let at = |d: f64| axes.point(x.shown(i), d / l.si);
            drawing.line(at(map.diameter[i] - e), at(map.diameter[i] + e), Look::line(SLATE, 0.8));
        }
        mark(&mut drawing, axes.point(x.shown(i), map.diameter[i] / l.si), Fate::of(map, i).mark());
    }
    for (i, p) in wish.points.iter().enumerate() {
        let symbol = measured(wish.point_modes.get(i).map(String::as_str));
        mark(&mut drawing, axes.point(p.0 / x.unit.si, p.1 / l.si), symbol);
    }
    let mut piece = finished(drawing, map, wish, (room.width, height), (x, None));
    piece.notes.extend((0..map.rows()).any(|i| bar(i).is_some()).then(|| MODEL_ERROR_NOTE.to_owned()));
    Ok(piece)
}

/// What an open symbol says.
pub fn open_symbols() -> String {
    let percent = super::letters::significant(100.0 * crate::tolerances::SATELLITE_FREE, 1);
    format!("open symbols: satellites carry {percent} % of the drops' volume or more; closed: less, or there are none")
}

/// Symbols and what they mean, in rows above the axes; returns where the axes may begin.
fn legend(to: &mut Drawing, map: &MapTable, wish: &Wish, width: f64) -> f64 {
    let mut entries: Vec<_> = Fate::ALL
        .into_iter()
        .filter(|fate| (0..map.rows()).any(|i| Fate::of(map, i) == *fate))
        .map(|fate| (fate.mark(), fate.name()))
        .collect();
    entries.extend(marks::measured_entries(wish.points.len(), &wish.point_modes));
    if wish.axes == MapAxes::Raw && map.keys.len() > 1 && !map.border.is_empty() {
        entries.push((Mark::Dot { radius: 0.8, look: Look::filled(INK) }, "border"));
    }
    let (mut x, mut y) = (14.0, 6.0);
    for (symbol, name) in entries {
        let label = Label::plain(name);
        let wide = label.width(super::axes::NOTE_SIZE, false) + 20.0;
        if x + wide > width && x > 14.0 {
            (x, y) = (14.0, y + LEGEND_LINE);
        }
        marks::entry(to, (x, y), symbol, &label);
        x += wide;
    }
    y + LEGEND_LINE
}

/// The ground of each cell, out to half-way to its neighbours.
fn tint(to: &mut Drawing, map: &MapTable, axes: &Axes, x: &MapAxis, y: &MapAxis) {
    let (xs, ys) = (x.borders(axes.x_scale()), y.borders(axes.y_scale()));
    to.clipped(axes.inside, |to| {
        for i in 0..map.rows() {
            let (Some((x0, x1)), Some((y0, y1))) = (xs.around(x.shown(i)), ys.around(y.shown(i))) else { continue };
            let (left, top) = axes.point(x0, y1);
            let (right, bottom) = axes.point(x1, y0);
            if let Some(colour) = Fate::of(map, i).ground() {
                let area = Area { x: left, y: top, width: right - left + 0.05, height: bottom - top + 0.05 };
                to.rect(area, Look::filled(colour));
            }
        }
    });
}

fn finished(
    drawing: Drawing,
    map: &MapTable,
    wish: &Wish,
    size: (f64, f64),
    of: (&MapAxis, Option<&MapAxis>),
) -> Piece {
    let failed = map.status.iter().filter(|s| *s == "failed").count();
    let mut notes = vec![format!("{} cells, {failed} without an answer", map.rows()), open_symbols()];
    if !wish.points.is_empty() {
        notes.push(format!("{} measured points laid over the model; they are not part of the map", wish.points.len()));
    }
    let numbers = numbers(map, wish, of);
    Piece { drawing, size, numbers, notes }
}

/// Cells, then border and measured points where they are drawn; the latter's mode says what they are.
fn numbers(map: &MapTable, wish: &Wish, (x, y): (&MapAxis, Option<&MapAxis>)) -> Numbers {
    let grid = x.is_grid && y.is_some_and(|y| y.is_grid);
    let border: Vec<(f64, f64)> = if grid { map.border.iter().map(|p| (p[0], p[1])).collect() } else { Vec::new() };
    let beyond = || border.iter().chain(&wish.points);
    let padded = |values: &[f64]| {
        let blank = std::iter::repeat_n(f64::NAN, border.len() + wish.points.len());
        Cells::Reals(values.iter().copied().chain(blank).collect())
    };
    let mut mode = map.mode.clone();
    mode.extend(border.iter().map(|_| "border".to_owned()));
    mode.extend(wish.points.iter().map(|_| "measured".to_owned()));
    let reals =
        |own: &[f64], of: fn(&(f64, f64)) -> f64| Cells::Reals(own.iter().copied().chain(beyond().map(of)).collect());
    let mut numbers = Numbers::new().with(&x.column, reals(&x.values, |p| p.0));
    if let Some(y) = y {
        numbers = numbers.with(&y.column, reals(&y.values, |p| p.1));
    }
    let diameter = if y.is_some() { padded(&map.diameter) } else { reals(&map.diameter, |p| p.1) };
    numbers
        .with("mode", Cells::Texts(mode))
        .with("satellites_per_primary", padded(&map.satellites))
        .with("open_symbol", Cells::Whole(map.makes_satellites.iter().map(|m| i64::from(*m)).collect()))
        .with("mean_diameter_m", diameter)
        .with("model_error_relative", padded(&map.model_error))
        .with("status", Cells::Texts(map.status.clone()))
}
