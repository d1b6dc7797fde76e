//! `calibrated`: measured drops row by row, and what the model said of each before and after it was fitted to them.
//!
//! The lower panel has the differences in percent of what was measured; bars stand on the measured values, one standard deviation of
//! such a difference (measuring, model and inputs together). Rows that were not used are marked with a cross.

use super::about::Origin;
use super::axes::{Axes, Axis, Fit, Mark, emptiest_corner, legend, legend_size, mark};
use super::drawing::{Area, Drawing, Look};
use super::letters::{Label, significant};
use super::palette::{INK, PAPER, SERIES, SLATE};
use super::scale::Scale;
use super::table::{Cells, Numbers};
use super::{FigureError, Piece, Room, unit};
use serde::Deserialize;

/// One measured row. Diameters in m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    pub measured: f64,
    pub before: Option<f64>,
    pub after: Option<f64>,
    /// Standard deviation of the difference, as a share of `measured`.
    pub sd: Option<f64>,
    pub used: bool,
}

/// A table of them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rows {
    pub rows: Vec<Row>,
    /// Root mean square of the relative differences, before and after.
    pub rms: [f64; 2],
    pub origin: Origin,
}

/// What `slenderjet calibrate --json` tells, as far as it is drawn.
#[derive(Deserialize)]
struct Told {
    title: String,
    case_sha256: String,
    version: String,
    rows: Vec<RowTold>,
    rms_relative_before: f64,
    rms_relative_after: f64,
}

#[derive(Deserialize)]
struct RowTold {
    measured_m: Option<f64>,
    before_m: Option<f64>,
    after_m: Option<f64>,
    sd_m: Option<f64>,
    used: bool,
}

impl Rows {
    /// From the output of `slenderjet calibrate --json`.
    ///
    /// # Errors
    /// Where the text is something else.
    pub fn from_json(text: &str) -> Result<Rows, FigureError> {
        let told: Told = serde_json::from_str(text).map_err(|e| {
            FigureError::Nothing(format!("this is not the output of `slenderjet calibrate --json`: {e}"))
        })?;
        let row = |r: RowTold| {
            let measured = r.measured_m.filter(|d| *d > 0.0)?;
            let sd = r.sd_m.map(|sd| sd / measured);
            Some(Row { measured, before: r.before_m, after: r.after_m, sd, used: r.used })
        };
        let origin =
            Origin { title: told.title, case_sha256: told.case_sha256, version: told.version, command: String::new() };
        let rms = [told.rms_relative_before, told.rms_relative_after];
        Ok(Rows { rows: told.rows.into_iter().filter_map(row).collect(), rms, origin })
    }
}

/// Share of the height for the differences.
const LOWER: f64 = 0.46;
/// Room beside the first and the last row.
const BESIDE: f64 = 0.5;
/// The scales have this much room beyond the marks.
const ROOM: f64 = 0.12;

pub fn draw(table: &Rows, room: &Room) -> Result<Piece, FigureError> {
    if table.rows.is_empty() {
        return Err(FigureError::Nothing("no row of the table has a diameter".into()));
    }
    let height = room.height_or(1.0);
    let split = height * (1.0 - LOWER);
    let n = table.rows.len() as f64;
    let x = Scale::Whole { low: 1.0 - BESIDE, high: n + BESIDE };
    let largest = table.rows.iter().map(|r| r.measured).fold(0.0, f64::max);
    let l = unit::length(largest);
    let values = table.rows.iter().flat_map(|r| {
        let bar = r.sd.unwrap_or(0.0) * r.measured;
        [Some(r.measured - bar), Some(r.measured + bar), r.before, r.after]
    });
    let sizes = Axis::new(spread(values.flatten().map(|d| d / l.si)), &format!("diameter *d* ({})", l.name));
    let off = |d: Option<f64>, r: &Row| d.map(|d| 100.0 * (d / r.measured - 1.0));
    let all_off = table.rows.iter().flat_map(|r| {
        let bar = r.sd.map(|sd| 100.0 * sd);
        [off(r.before, r), off(r.after, r), bar, bar.map(|b| -b)]
    });
    let differences = Axis::new(spread(all_off.flatten().chain([0.0])), "model less measured (%)");
    let left = Axes::left_of(&sizes, split, true).max(Axes::left_of(&differences, height - split, false));
    let place = |y: Axis, top: f64, bottom: f64, shares_x: bool| {
        let area = Area { x: 0.0, y: top, width: room.width, height: bottom - top };
        Axes::fit(Axis::new(x, "row of the table"), y, area, Fit { left, shares_x, ..Fit::default() })
    };
    let (upper, lower) = (place(sizes, 0.0, split, true), place(differences, split, height, false));
    let mut drawing = Drawing::new(&room.prefix);
    let zero = |axes: &Axes| (axes.point(1.0 - BESIDE, 0.0), axes.point(n + BESIDE, 0.0));
    let (from, to) = zero(&lower);
    drawing.line(from, to, Look::line(SLATE, 0.5));
    for (i, r) in table.rows.iter().enumerate() {
        let row = (i + 1) as f64;
        bar(&mut drawing, &upper, row, (r.measured / l.si, r.sd.map_or(0.0, |sd| sd * r.measured / l.si)));
        bar(&mut drawing, &lower, row, (0.0, r.sd.map_or(0.0, |sd| 100.0 * sd)));
        mark(&mut drawing, upper.point(row, r.measured / l.si), if r.used { measured() } else { unused() });
        for (value, shown) in [(r.before, before()), (r.after, after())] {
            let Some(d) = value else { continue };
            mark(&mut drawing, upper.point(row, d / l.si), shown);
            mark(&mut drawing, lower.point(row, 100.0 * (d / r.measured - 1.0)), shown);
        }
    }
    upper.draw(&mut drawing);
    lower.draw(&mut drawing);
    let percent = |share: f64| significant(100.0 * share, 2);
    let mut entries = vec![
        (measured(), Label::plain("measured")),
        (before(), Label::plain(format!("model before (rms {} %)", percent(table.rms[0])))),
        (after(), Label::plain(format!("model after (rms {} %)", percent(table.rms[1])))),
    ];
    if table.rows.iter().any(|r| !r.used) {
        entries.push((unused(), Label::plain("measured, not used")));
    }
    let marks = table.rows.iter().enumerate().flat_map(|(i, r)| {
        [Some(r.measured), r.before, r.after].into_iter().flatten().map(move |d| ((i + 1) as f64, d / l.si))
    });
    let taken: Vec<(f64, f64)> = marks.map(|(x, y)| upper.point(x, y)).collect();
    let corner = emptiest_corner(upper.inside, legend_size(&entries), taken.iter().copied());
    legend(&mut drawing, upper.inside, corner, &entries);
    let notes = vec!["bars: one standard deviation of a difference (measuring, model and inputs together)".to_owned()];
    Ok(Piece { drawing, size: (room.width, height), numbers: numbers(&table.rows), notes })
}

fn measured() -> Mark<'static> {
    Mark::Dot { radius: 2.2, look: Look::filled(INK) }
}

fn unused() -> Mark<'static> {
    Mark::Cross { side: 4.5, look: Look::line(INK, 0.9) }
}

fn before() -> Mark<'static> {
    Mark::Square { side: 4.2, look: Look::filled(PAPER).outlined(SERIES[1], 0.9) }
}

fn after() -> Mark<'static> {
    Mark::Diamond { side: 4.6, look: Look::filled(SERIES[0]).outlined(INK, 0.3) }
}

/// A vertical bar about a value.
fn bar(to: &mut Drawing, axes: &Axes, x: f64, (value, half): (f64, f64)) {
    if half > 0.0 {
        to.line(axes.point(x, value - half), axes.point(x, value + half), Look::line(SLATE, 0.9));
    }
}

/// A scale that holds the values with room.
fn spread(values: impl Iterator<Item = f64>) -> Scale {
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)));
    let room = (ROOM * (high - low)).max(1e-3 * high.abs()).max(1e-9);
    Scale::Linear { low: low - room, high: high + room }
}

fn numbers(rows: &[Row]) -> Numbers {
    let reals =
        |of: &dyn Fn(&Row) -> Option<f64>| Cells::Reals(rows.iter().map(|r| of(r).unwrap_or(f64::NAN)).collect());
    Numbers::new()
        .with("measured_m", reals(&|r| Some(r.measured)))
        .with("before_m", reals(&|r| r.before))
        .with("after_m", reals(&|r| r.after))
        .with("sd_relative", reals(&|r| r.sd))
        .with("used", Cells::Whole(rows.iter().map(|r| i64::from(r.used)).collect()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::{Kind, Source, Wish};

    fn table() -> Rows {
        let row = |measured: f64, before: f64, after: f64, used| Row {
            measured,
            before: Some(before),
            after: Some(after),
            sd: Some(0.03),
            used,
        };
        let rows =
            vec![row(60e-6, 66e-6, 60.5e-6, true), row(80e-6, 87e-6, 79e-6, true), row(90e-6, 70e-6, 70e-6, false)];
        Rows { rows, rms: [0.095, 0.011], origin: Origin::default() }
    }

    #[test]
    fn what_is_drawn_is_the_table() {
        let source = Source::Calibrated(Box::new(table()));
        let figure = crate::figures::draw(&[Kind::Calibrated], &[source], &Wish::default()).expect("a figure");
        let svg = figure.svg();
        for text in ["measured", "model before (rms 9.5 %)", "model after (rms 1.1 %)", "not used"] {
            assert!(svg.contains(text), "{text}");
        }
        let piece =
            draw(&table(), &Room { width: 240.0, height: None, beside: false, prefix: "a".into() }).expect("a panel");
        assert_eq!(piece.numbers.reals("after_m"), Some(&[60.5e-6, 79e-6, 70e-6][..]));
        assert!(
            draw(&Rows::default(), &Room { width: 240.0, height: None, beside: false, prefix: "a".into() }).is_err()
        );
    }
}
