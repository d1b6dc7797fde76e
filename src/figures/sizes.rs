//! `sizes`: how the drops' diameters are distributed, satellites apart: counted among the drops they would make nonsense of
//! the spread.

use super::axes::{Axes, Axis, Fit, NOTE_SIZE};
use super::drawing::{Anchor, Area, Drawing, Look, Type};
use super::letters::{Label, significant};
use super::palette::{INK, SERIES, SLATE};
use super::scale::Scale;
use super::table::{Cells, Numbers};
use super::{FigureError, Measured, Piece, Room, unit};
use crate::outcome::DropKind;
use crate::record::Recorded;

const BINS_MIN: usize = 5;
const BINS_MAX: usize = 24;
const SATELLITE_SHARE: f64 = 0.4;
/// Relative width that a histogram is given at least, so that drops equal to a thousandth look equal.
const SPAN_MIN: f64 = 4e-2;
/// Length of an arrow-head, points.
const ARROW: f64 = 3.5;

/// Bins of equal width.
struct Histogram {
    low: f64,
    width: f64,
    counts: Vec<usize>,
}

impl Histogram {
    /// Bin width by Freedman & Diaconis 1981 (Z. Wahrscheinlichkeitstheorie verw. Geb. 57, 453), within bounds.
    fn of(values: &[f64]) -> Histogram {
        let mut sorted = values.to_vec();
        sorted.sort_by(f64::total_cmp);
        let (first, last) = (sorted.first().copied().unwrap_or(0.0), sorted.last().copied().unwrap_or(1.0));
        let middle = 0.5 * (first + last);
        let span = (last - first).max(SPAN_MIN * middle).max(f64::MIN_POSITIVE);
        let quartile = |q: f64| sorted.get(((sorted.len() - 1) as f64 * q).round() as usize).copied().unwrap_or(middle);
        let wide = 2.0 * (quartile(0.75) - quartile(0.25)) / (sorted.len().max(1) as f64).cbrt();
        let bins = if wide > 0.0 { (span / wide).ceil() as usize } else { BINS_MIN };
        let bins = bins.clamp(BINS_MIN, BINS_MAX);
        let width = span / bins as f64;
        // Half a bin of room, so that equal drops stand in the middle of one.
        let low = middle - 0.5 * span - if bins % 2 == 0 { 0.5 * width } else { 0.0 };
        let mut counts = vec![0; bins + usize::from(bins % 2 == 0)];
        for v in values {
            let bin = (((v - low) / width).floor().max(0.0) as usize).min(counts.len() - 1);
            counts[bin] += 1;
        }
        Histogram { low, width, counts }
    }

    fn edge(&self, i: usize) -> f64 {
        self.low + i as f64 * self.width
    }
}

pub fn draw(run: &Recorded, room: &Room) -> Result<Piece, FigureError> {
    let drops = &run.summary.drops;
    let left_out = run.summary.primary.settled_after.unwrap_or(0);
    // The summary leaves out the first in time, and drops are listed in the order in which they became round.
    let mut in_time: Vec<_> = drops.iter().collect();
    in_time.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    let of = |kind| in_time.iter().filter(move |d| d.kind == kind).map(|d| d.diameter_m);
    let primaries: Vec<f64> = of(DropKind::Primary).skip(left_out).collect();
    let satellites: Vec<f64> = of(DropKind::Satellite).collect();
    if primaries.is_empty() && satellites.is_empty() {
        return Err(FigureError::Nothing("this record holds no settled drops to count".into()));
    }
    let per = run.summary.satellites.per_primary.map(|p| format!("{} per primary", significant(p, 2)));
    let beside = facts(run, primaries.len());
    let p = &run.summary.primary;
    let size = run.summary.size.low_m.zip(run.summary.size.high_m);
    let own = p.mean_diameter_m.zip(p.model_error_relative).map(|(d, e)| (d * (1.0 - e), d * (1.0 + e)));
    let error = size.or(own).filter(|_| p.mean_diameter_m.is_some());
    let mut piece = panels(&primaries, &satellites, (&beside, per), error, room);
    if error.is_some() {
        let note = if size.is_some() { super::SIZE_NOTE } else { super::MODEL_ERROR_NOTE };
        piece.notes.push(note.to_owned());
    }
    if left_out > 0 {
        piece.notes.push(format!("the first {left_out} primary drops are left out as transients"));
    }
    piece.notes.push("the spread is the model's own: a lower bound for a bench with pumps, dust and wetting".into());
    Ok(piece)
}

/// Drops measured at the bench.
pub fn draw_measured(measured: &Measured, room: &Room) -> Result<Piece, FigureError> {
    let Measured { primaries, satellites, facts, .. } = measured;
    if primaries.is_empty() && satellites.is_empty() {
        return Err(FigureError::Nothing("there are no measured drops to count".into()));
    }
    let lines: Vec<Option<String>> = facts.iter().cloned().map(Some).collect();
    let mut piece = panels(primaries, satellites, (&lines, None), None, room);
    piece.notes.push("measured drops, each at the mean of its readings".into());
    Ok(piece)
}

/// Primaries and, apart at the left, satellites.
fn panels(
    primaries: &[f64],
    satellites: &[f64],
    lines: (&[Option<String>], Option<String>),
    error: Option<(f64, f64)>,
    room: &Room,
) -> Piece {
    let height = room.height_or(0.78);
    let mut drawing = Drawing::new(&room.prefix);
    let both = !primaries.is_empty() && !satellites.is_empty();
    let split = if both {
        SATELLITE_SHARE * room.width
    } else if satellites.is_empty() {
        0.0
    } else {
        room.width
    };
    let mut numbers = Vec::new();
    if !satellites.is_empty() {
        let area = Area { x: 0.0, y: 0.0, width: split - if both { 6.0 } else { 0.0 }, height };
        let lines = vec![Some(format!("satellites, *n* = {}", satellites.len())), lines.1];
        numbers.push(("satellite", panel(&mut drawing, area, satellites, SERIES[1], "satellite *d* ", &lines, None)));
    }
    if !primaries.is_empty() {
        let area = Area { x: split, y: 0.0, width: room.width - split, height };
        let title = if both { "primary *d* " } else { "drop diameter *d* " };
        numbers.push(("primary", panel(&mut drawing, area, primaries, SERIES[0], title, lines.0, error)));
    }
    Piece { drawing, size: (room.width, height), numbers: table(&numbers), notes: Vec::new() }
}

fn facts(run: &Recorded, n: usize) -> Vec<Option<String>> {
    let p = &run.summary.primary;
    let s = &run.summary;
    let size = s.size.low_m.zip(s.size.high_m).map(|(a, b)| [a, b]);
    let known = p.mean_diameter_m.zip(size).map(|(d, ends)| unit::known(d, ends, s.size.at_least));
    let mean = match p.mean_diameter_m {
        Some(d) => Some(format!("mean {}", unit::length_text(d, 3))),
        None if !s.established.is => Some("not established".to_owned()),
        None => None,
    };
    let percent = |v: f64| significant(100.0 * v, 2);
    let cv = p.cv.map(|cv| format!("CV {} %", percent(cv)));
    let interval = p.cv_interval95.map(|[a, b]| format!("(95 %: {}–{} %)", percent(a), percent(b)));
    let own =
        s.model_error.amount().filter(|_| p.model_error_relative.is_some()).map(|e| format!("bar: model error {e}"));
    let wider = if s.size.at_least { " or wider" } else { "" };
    let bar = known.map(|(_, ends)| format!("bar, 90 %: {ends}{wider}")).or(own);
    vec![Some(format!("primaries, *n* = {n}")), mean, cv, interval, bar]
}

fn panel(
    to: &mut Drawing,
    area: Area,
    values: &[f64],
    colour: &str,
    title: &str,
    lines: &[Option<String>],
    error: Option<(f64, f64)>,
) -> Histogram {
    let histogram = Histogram::of(values);
    let l = unit::length(histogram.edge(histogram.counts.len()));
    let most = histogram.counts.iter().copied().max().unwrap_or(1) as f64;
    let lines: Vec<&String> = lines.iter().flatten().collect();
    let (low, high) = (histogram.low / l.si, histogram.edge(histogram.counts.len()) / l.si);
    let side = 0.35 * (high - low);
    let room = 1.0 + 0.1 * (lines.len() as f64 + if error.is_some() { 2.0 } else { 1.0 });
    let axes = Axes::fit(
        // no diameter is negative, however widely they spread
        Axis::new(Scale::Linear { low: (low - side).max(0.0), high: high + side }, &format!("{title}({})", l.name)),
        Axis::new(Scale::Whole { low: 0.0, high: most * room }, "number of drops"),
        area,
        Fit::default(),
    );
    for (i, count) in histogram.counts.iter().enumerate().filter(|(_, c)| **c > 0) {
        let (x0, y0) = axes.point(histogram.edge(i) / l.si, *count as f64);
        let (x1, base) = axes.point(histogram.edge(i + 1) / l.si, 0.0);
        to.rect(Area { x: x0, y: y0, width: x1 - x0, height: base - y0 }, Look::filled(colour).outlined(INK, 0.4));
    }
    axes.draw(to);
    if let Some((from, until)) = error {
        error_bar(to, &axes, from / l.si, until / l.si, most * (1.0 + 0.06 * room));
    }
    for (i, line) in lines.iter().enumerate() {
        let at = (axes.inside.x + 4.0, axes.inside.y + 3.0 + (NOTE_SIZE + 2.0) * (i as f64 + 1.0) - 1.5);
        to.text(at, &Label::marked(line), Type::new(NOTE_SIZE, if i == 0 { INK } else { SLATE }, Anchor::Start));
    }
    histogram
}

/// A bar from `from` to `to` at height `y`; where the axis ends sooner, an arrow-head says that it goes on.
fn error_bar(to: &mut Drawing, axes: &Axes, from: f64, until: f64, y: f64) {
    let (low, high) = axes.x_scale().ends();
    let (a, b) = (axes.point(from.max(low), y), axes.point(until.min(high), y));
    to.line(a, b, Look::line(INK, 0.9));
    for (at, beyond, side) in [(a, from < low, 1.0), (b, until > high, -1.0)] {
        if beyond {
            to.line(at, (at.0 + side * ARROW, at.1 - 0.6 * ARROW), Look::line(INK, 0.9));
            to.line(at, (at.0 + side * ARROW, at.1 + 0.6 * ARROW), Look::line(INK, 0.9));
        } else {
            to.line((at.0, at.1 - 0.6 * ARROW), (at.0, at.1 + 0.6 * ARROW), Look::line(INK, 0.9));
        }
    }
}

fn table(parts: &[(&str, Histogram)]) -> Numbers {
    let (mut kind, mut from, mut to, mut count) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for (name, histogram) in parts {
        for (i, n) in histogram.counts.iter().enumerate() {
            kind.push((*name).to_owned());
            from.push(histogram.edge(i));
            to.push(histogram.edge(i + 1));
            count.push(*n as i64);
        }
    }
    Numbers::new()
        .with("kind", Cells::Texts(kind))
        .with("diameter_from_m", Cells::Reals(from))
        .with("diameter_to_m", Cells::Reals(to))
        .with("count", Cells::Whole(count))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn every_drop_is_counted_once(values in prop::collection::vec(1e-6..1e-3f64, 1..200)) {
            let histogram = Histogram::of(&values);
            prop_assert_eq!(histogram.counts.iter().sum::<usize>(), values.len());
            let last = histogram.edge(histogram.counts.len());
            prop_assert!(values.iter().all(|v| *v >= histogram.low * (1.0 - 1e-9) && *v <= last * (1.0 + 1e-9)));
        }
    }

    #[test]
    fn equal_drops_stand_in_one_bin() {
        let histogram = Histogram::of(&[80e-6; 30]);
        assert_eq!(histogram.counts.iter().filter(|c| **c > 0).count(), 1);
    }
}
