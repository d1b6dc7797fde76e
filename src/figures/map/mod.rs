//! `map`: where a device drips, jets and makes satellites, over one or two varied quantities.

pub mod axis;
mod marks;
mod regions;
mod source;

pub use source::{MapKey, MapTable};

use super::axes::{Axes, Fit, Mark, NOTE_SIZE, mark};
use super::drawing::{Anchor, Area, Drawing, Look, Type, trace};
use super::letters::{Label, significant};
use super::palette::{INK, PAPER, SERIES, SLATE};
use super::scale::Scale;
use super::table::{Cells, Numbers};
use super::unit::Unit;
use super::{Contours, FigureError, MODEL_ERROR_NOTE, Piece, Room, Wish};
use crate::outcome::Mode;
use crate::study::map::Status;
use axis::MapAxis;
use marks::{Fate, measured};
use regions::Lattice;

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
    let places = regions::places(&axes, x, y, map.rows());
    let lattice = Lattice::of(map, key_scales(map));
    let mut levels_note = None;
    if let Some(lattice) = &lattice {
        let found = regions::regions(map, lattice, &places);
        drawing.clipped(axes.inside, |to| {
            for (mode, area) in &found.areas {
                if let Some(colour) = marks::ground(*mode) {
                    // a hair of the same colour around it, so that no seam shows between neighbours
                    to.path(&trace(area, true), Look::filled(colour).outlined(colour, 0.15));
                }
            }
        });
        levels_note = lines(&mut drawing, (map, wish), lattice, &places, axes.inside);
        for [a, b] in &found.border {
            drawing.line(*a, *b, BORDER);
        }
    }
    axes.draw(&mut drawing);
    for (i, at) in places.iter().enumerate().filter(|(_, at)| at.0.is_finite() && at.1.is_finite()) {
        mark(&mut drawing, *at, Fate::of(map, i).mark());
    }
    for (k, p) in wish.points.iter().enumerate() {
        let (px, py) = (p.0 / x.unit.si, p.1 / y.unit.si);
        if axes.hold(px, py) {
            let (ex, ey) = wish.errors.get(k).map_or((0.0, 0.0), |e| (e.0 / x.unit.si, e.1 / y.unit.si));
            bars(&mut drawing, &axes, (px, py), (ex, ey));
            mark(&mut drawing, axes.point(px, py), measured(wish.point_modes.get(k).copied().flatten()));
        }
    }
    let mut piece = finished(drawing, map, wish, (room.width, height), (x, Some(y)));
    piece.notes.extend(levels_note);
    if lattice.is_some() && !map.border.is_empty() {
        piece.notes.push("border: straight between the places to which it was bisected".into());
    } else if lattice.is_some() {
        piece.notes.push("border: half-way between cells, for it was not traced".into());
    }
    Ok(piece)
}

/// Look of the border between modes.
const BORDER: Look<'static> = Look { fill: "none", stroke: INK, width: 1.3, dash: "" };
/// Look of a contour.
const CONTOUR: Look<'static> = Look { fill: "none", stroke: SLATE, width: 0.7, dash: "" };

/// Whether the two varied quantities are spaced by ratios.
fn key_scales(map: &MapTable) -> (bool, bool) {
    let log = |i: usize| map.keys.get(i).is_some_and(|k| axis::is_geometric(&k.values));
    (log(0), log(1))
}

/// Bars of a measured point's error.
fn bars(to: &mut Drawing, axes: &Axes, (x, y): (f64, f64), (ex, ey): (f64, f64)) {
    let low = |v: f64, e: f64, scale: Scale| (v - e).max(scale.ends().0);
    let high = |v: f64, e: f64, scale: Scale| (v + e).min(scale.ends().1);
    let look = Look::line(SERIES[2], 0.9);
    let (sx, sy) = (axes.x_scale(), axes.y_scale());
    if ex > 0.0 {
        to.line(axes.point(low(x, ex, sx), y), axes.point(high(x, ex, sx), y), look);
    }
    if ey > 0.0 {
        to.line(axes.point(x, low(y, ey, sy)), axes.point(x, high(y, ey, sy)), look);
    }
}

/// Contours of the number asked for with their values; what the notes say of them.
fn lines(
    to: &mut Drawing,
    (map, wish): (&MapTable, &Wish),
    lattice: &Lattice,
    places: &[(f64, f64)],
    inside: Area,
) -> Option<String> {
    let (values, unit, name) = contoured(map, wish.contours)?;
    let shown: Vec<f64> = values.iter().map(|v| v / unit.si).collect();
    let levels = regions::levels(&shown);
    let mut taken: Vec<Area> = Vec::new();
    for level in &levels {
        let found = regions::contours(map, lattice, places, &shown, *level);
        for line in &found {
            to.polyline(line, CONTOUR);
        }
        let label = Label::plain(significant(*level, 3).trim_end_matches(".0").to_owned());
        let (wide, tall) = (label.width(NOTE_SIZE, false) + 2.0, NOTE_SIZE + 0.5);
        // a piece that its label would hide goes without one, unless it is all there is of its level
        let long = |line: &&Vec<(f64, f64)>| found.len() == 1 || length(line) > LABEL_SHARE * wide;
        for line in found.iter().filter(long) {
            let dense = resampled(line);
            let from_middle = (0..dense.len()).map(|i| {
                let half = dense.len() / 2;
                if i % 2 == 0 { half + i / 2 } else { half.wrapping_sub(i / 2 + 1) }
            });
            let area_at =
                |at: (f64, f64)| Area { x: at.0 - 0.5 * wide, y: at.1 - 0.5 * tall, width: wide, height: tall };
            let spot =
                from_middle.filter_map(|i| dense.get(i)).find(|at| is_free(area_at(**at), inside, &taken, places));
            if let Some(at) = spot {
                to.rect(area_at(*at), Look::filled(PAPER));
                to.text((at.0, at.1 + 0.34 * NOTE_SIZE), &label, Type::new(NOTE_SIZE, INK, Anchor::Middle));
                taken.push(area_at(*at));
            }
        }
    }
    let list: Vec<String> = levels.iter().map(|l| significant(*l, 3)).collect();
    (!levels.is_empty()).then(|| format!("contours: {name} at {} {}", list.join(", "), unit.name))
}

/// A contour this many times as long as its label has one.
const LABEL_SHARE: f64 = 1.6;

/// Whether a label lies within the axes, apart from other labels and from the cells' symbols.
fn is_free(area: Area, inside: Area, taken: &[Area], places: &[(f64, f64)]) -> bool {
    let within = area.x > inside.x + 1.0
        && area.y > inside.y + 1.0
        && area.x + area.width < inside.x + inside.width - 1.0
        && area.y + area.height < inside.y + inside.height - 1.0;
    let apart = |b: &Area, gap: f64| {
        area.x > b.x + b.width + gap
            || b.x > area.x + area.width + gap
            || area.y > b.y + b.height + gap
            || b.y > area.y + area.height + gap
    };
    let symbol = |p: &(f64, f64)| Area { x: p.0 - 2.0, y: p.1 - 2.0, width: 4.0, height: 4.0 };
    within && taken.iter().all(|b| apart(b, 2.0)) && places.iter().all(|p| apart(&symbol(p), 0.0))
}

fn length(line: &[(f64, f64)]) -> f64 {
    line.windows(2).map(|w| (w[1].0 - w[0].0).hypot(w[1].1 - w[0].1)).sum()
}

/// Places for a label: a few in each stroke.
fn resampled(line: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let part = |w: &[(f64, f64)], s: f64| (w[0].0 + s * (w[1].0 - w[0].0), w[0].1 + s * (w[1].1 - w[0].1));
    line.windows(2).flat_map(|w| [0.0, 0.25, 0.5, 0.75].map(|s| part(w, s))).collect()
}

/// The number of each row whose contours are drawn, its unit and its name.
fn contoured(map: &MapTable, what: Contours) -> Option<(&[f64], Unit, &'static str)> {
    let largest = |v: &[f64]| v.iter().copied().filter(|v| v.is_finite()).fold(0.0, f64::max);
    let percent = Unit { si: 0.01, name: "%" };
    Some(match what {
        Contours::Diameter => (&map.diameter, super::unit::length(largest(&map.diameter)), "mean drop diameter"),
        Contours::Cv => (&map.cv, percent, "spread (CV)"),
        Contours::Rate => (&map.rate, Unit { si: 1.0, name: "1/s" }, "drops a second"),
        Contours::Satellites => (&map.satellite_volume, percent, "satellites' share of the volume"),
        Contours::None => return None,
    })
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
    for (k, p) in wish.points.iter().enumerate() {
        let at = (p.0 / x.unit.si, p.1 / l.si);
        let error = wish.errors.get(k).map_or((0.0, 0.0), |e| (e.0 / x.unit.si, e.1 / l.si));
        bars(&mut drawing, &axes, at, error);
        mark(&mut drawing, axes.point(at.0, at.1), measured(wish.point_modes.get(k).copied().flatten()));
    }
    let mut piece = finished(drawing, map, wish, (room.width, height), (x, None));
    piece.notes.extend((0..map.rows()).any(|i| bar(i).is_some()).then(|| MODEL_ERROR_NOTE.to_owned()));
    Ok(piece)
}

/// How well the model knows the diameters that are drawn: its own error over the cells, one standard deviation.
fn known_to(map: &MapTable, what: Contours) -> String {
    let told =
        || map.model_error.iter().zip(&map.diameter).filter(|(e, d)| e.is_finite() && d.is_finite()).map(|p| *p.0);
    let (low, high) = told().fold((f64::INFINITY, 0.0_f64), |(a, b), e| (a.min(e), b.max(e)));
    if what != Contours::Diameter || high == 0.0 {
        return String::new();
    }
    let (low, high) = (format!("{:.0}", 100.0 * low), format!("{:.0}", 100.0 * high));
    if low == high { format!(" ± {low} %") } else { format!(" ± {low} to {high} %") }
}

/// What an open symbol says.
pub fn open_symbols() -> String {
    let percent = super::letters::significant(100.0 * crate::tolerances::SATELLITE_FREE, 1);
    format!("open symbols: satellites carry {percent} % of the drops' volume or more; closed: less, or there are none")
}

/// Symbols and what they mean, in rows above the axes; returns where the axes may begin.
fn legend(to: &mut Drawing, map: &MapTable, wish: &Wish, width: f64) -> f64 {
    let words;
    let mut entries: Vec<(Mark<'_>, &str)> = Fate::ALL
        .into_iter()
        .filter(|fate| (0..map.rows()).any(|i| Fate::of(map, i) == *fate))
        .map(|fate| (fate.mark(), fate.name()))
        .collect();
    entries.extend(marks::measured_entries(wish.points.len(), &wish.point_modes));
    if let Some(lattice) = Lattice::of(map, key_scales(map)) {
        let several = |mode: &Option<Mode>| mode.is_some() && *mode != map.mode[0];
        if map.mode.iter().any(several) {
            entries.push((Mark::Line(BORDER), "border"));
        }
        if let Some((values, unit, name)) = contoured(map, wish.contours) {
            let shown: Vec<f64> = values.iter().map(|v| v / unit.si).collect();
            let drawn = |level: &f64| {
                let places = vec![(0.0, 0.0); map.rows()];
                !regions::contours(map, &lattice, &places, &shown, *level).is_empty()
            };
            if regions::levels(&shown).iter().any(drawn) {
                words = format!("{name} ({}){}", unit.name, known_to(map, wish.contours));
                entries.push((Mark::Line(CONTOUR), words.as_str()));
            }
        }
    }
    let (mut x, mut y) = (14.0, 6.0);
    for (symbol, name) in entries {
        let label = Label::plain(name);
        // a line is longer than a symbol
        let before = if matches!(symbol, Mark::Line(_)) && x > 14.0 { 6.0 } else { 0.0 };
        let wide = label.width(super::axes::NOTE_SIZE, false) + 20.0;
        x += before;
        if x + wide - 8.0 > width && x > 14.0 {
            (x, y) = (14.0, y + LEGEND_LINE);
        }
        marks::entry(to, (x, y), symbol, &label);
        x += wide;
    }
    y + LEGEND_LINE
}

fn finished(
    drawing: Drawing,
    map: &MapTable,
    wish: &Wish,
    size: (f64, f64),
    of: (&MapAxis, Option<&MapAxis>),
) -> Piece {
    let failed = map.status.iter().filter(|s| **s == Status::Failed).count();
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
    let mut mode: Vec<String> = map.mode.iter().map(|mode| Mode::word_of(*mode).to_owned()).collect();
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
        .with("status", Cells::Texts(map.status.iter().map(|s| s.word().to_owned()).collect()))
}
