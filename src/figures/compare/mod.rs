//! `compare`: runs side by side: each at its last breakup, and the numbers that decide between them.
//!
//! Pictures are to one scale with one bar, unless the runs differ so much in size that the smallest would vanish: then each
//! has its own scale and bar, and the notes say so. On a wide page the numbers stand beside the pictures, else below.

mod charts;

use super::axes::{NOTE_SIZE, TICK_SIZE, TITLE_SIZE};
use super::drawing::{Anchor, Area, Drawing, Look, Type};
use super::glass::{self, Glass};
use super::letters::{Label, number};
use super::palette::{INK, SLATE};
use super::rounding::Rounding;
use super::scale::nice_below;
use super::solid::{Solid, Told, drawn};
use super::strip::{Window, in_window, window};
use super::table::{Cells, Numbers};
use super::thin::Thinned;
use super::{FigureError, Kind, MODEL_ERROR_NOTE, Piece, Room, SIZE_NOTE, Source, contour, snapshots, unit};
use crate::outcome::{Mode, Summary};
use crate::record::Recorded;

/// Below this width (points) the numbers stand below the pictures.
const BESIDE_FROM: f64 = 420.0;
const PICTURE_SHARE: f64 = 0.42;
/// A picture's height: least, and most over its width.
const ROW_MIN: f64 = 22.0;
const ROW_SHAPE: f64 = 0.4;
/// Room for a run's name and mode above its picture, and below it for a bar.
const NAME_ROOM: f64 = 21.0;
const BAR_ROOM: f64 = 15.0;
const GAP: f64 = 12.0;
/// Runs whose lengths differ by more than this factor are drawn each to its own scale.
const ONE_SCALE: f64 = 12.0;

/// Room beside the charts for half a number under the last tick, points.
const MARGIN: f64 = 8.0;

/// A run with the snapshot that is shown of it.
struct Shot<'a> {
    run: &'a Recorded,
    solid: Solid,
    window: Window,
    /// Points per metre.
    scale: f64,
}

impl Shot<'_> {
    fn length(&self) -> f64 {
        self.window.to - self.window.from
    }

    fn height(&self) -> f64 {
        (2.0 * self.window.rim * self.scale).max(ROW_MIN)
    }
}

pub fn draw(sources: &[Source], room: &Room) -> Result<Piece, FigureError> {
    let runs = of_runs(sources)?;
    let mut shots: Vec<Shot<'_>> = runs.iter().filter_map(|r| shot(r)).collect();
    if shots.len() < runs.len() {
        let text = "one of the records holds no snapshots; set [run] frames and run again";
        return Err(FigureError::Nothing(text.into()));
    }
    let beside = room.width >= BESIDE_FROM;
    let picture = if beside { PICTURE_SHARE * room.width } else { room.width };
    let one_scale = scaled(&mut shots, picture);
    let mut drawing = Drawing::new(&room.prefix);
    let mut thinned = Thinned::default();
    let (mut y, mut middles) = (0.0, Vec::new());
    for (i, shot) in shots.iter().enumerate() {
        name(&mut drawing, &shot.run.summary, (i, !beside), (y, picture));
        let cell = Area { x: 0.0, y: y + NAME_ROOM, width: picture, height: shot.height() };
        snapshot(&mut drawing, shot, cell, &mut thinned);
        middles.push(cell.y + 0.5 * cell.height);
        y = cell.y + cell.height + 6.0;
        if !one_scale {
            bar(&mut drawing, shot.scale, shot.length().min(picture / shot.scale), y);
            y += BAR_ROOM;
        }
    }
    let charts_from = if beside {
        charts::beside(
            &mut drawing,
            &runs,
            &middles,
            Area { x: picture + 2.0 * GAP, y: 4.0, width: room.width - picture - 2.0 * GAP - MARGIN, height: y - 4.0 },
        );
        y
    } else {
        y + if one_scale { BAR_ROOM + 4.0 } else { 2.0 }
    };
    if one_scale {
        bar(&mut drawing, shots[0].scale, picture / shots[0].scale, y);
    }
    let end = if beside {
        y + charts::FOOT
    } else {
        charts::below(&mut drawing, &runs, Area { x: 0.0, y: charts_from, width: room.width, height: 0.0 })
    };
    let mut notes = vec![glass::NOTE.to_owned(), "each run just before a break-up".into()];
    if !one_scale {
        notes.push("each run is drawn to its own scale: they differ too much in size for one".into());
    }
    let bars = runs.iter().any(|r| r.summary.primary.model_error_relative.is_some());
    let sized = runs.iter().any(|r| r.summary.size.low_m.is_some());
    notes.extend(bars.then(|| if sized { SIZE_NOTE } else { MODEL_ERROR_NOTE }.to_owned()));
    notes.extend(shots.iter().fold(Told::default(), |all, s| all.and(s.solid.told)).notes());
    notes.extend(thinned.statement("contours"));
    Ok(Piece { drawing, size: (room.width, end), numbers: numbers(&runs), notes })
}

fn of_runs(sources: &[Source]) -> Result<Vec<&Recorded>, FigureError> {
    let mut runs: Vec<&Recorded> = Vec::new();
    for source in sources {
        match source {
            Source::Run(run) => runs.push(run),
            other => {
                let wanted = "the records of two runs or more";
                return Err(FigureError::WrongSource { kind: Kind::Compare, wanted, found: other.what() });
            }
        }
    }
    if runs.len() < 2 {
        return Err(FigureError::Nothing("a comparison needs the records of two runs or more".into()));
    }
    Ok(runs)
}

/// Gives each shot its scale; true if it is the same for all.
fn scaled(shots: &mut [Shot<'_>], picture: f64) -> bool {
    let lengths = || shots.iter().map(Shot::length);
    let (shortest, longest) = (lengths().fold(f64::MAX, f64::min), lengths().fold(0.0, f64::max));
    let thickest = shots.iter().map(|s| 2.0 * s.window.rim).fold(0.0, f64::max);
    let fitting = |length: f64, across: f64| (picture / length).min(ROW_SHAPE * picture / across);
    let one = longest <= ONE_SCALE * shortest;
    for shot in shots.iter_mut() {
        let own = fitting(shot.length(), 2.0 * shot.window.rim);
        shot.scale = if one { fitting(longest, thickest) } else { own };
    }
    one
}

/// Title, and below it layout and mode; with a number where numbers stand apart from pictures.
fn name(to: &mut Drawing, of: &Summary, (i, numbered): (usize, bool), (y, width): (f64, f64)) {
    let number = if numbered { format!("{}  ", i + 1) } else { String::new() };
    let title = if of.title.trim().is_empty() { "without a title" } else { of.title.trim() };
    let label = Label::plain(shortened(&format!("{number}{title}"), width));
    to.text((0.0, y + TITLE_SIZE), &label, Type::new(TITLE_SIZE, INK, Anchor::Start).bold());
    let mode = match of.mode {
        Mode::None if of.first_pinch.is_some() => "breaks up, without a mode",
        Mode::None => "no break-up",
        mode => mode.word(),
    };
    let settled = if of.established.is || of.mode == Mode::None { "" } else { ", not established" };
    let second = Label::plain(format!("{}, {mode}{settled}", of.layout));
    to.text((0.0, y + TITLE_SIZE + NOTE_SIZE + 2.0), &second, Type::new(NOTE_SIZE, SLATE, Anchor::Start));
}

/// A title that fits the width, cut with an ellipsis.
fn shortened(title: &str, width: f64) -> String {
    let fits = |text: &str| Label::plain(text).width(TITLE_SIZE, true) <= width;
    if fits(title) {
        return title.into();
    }
    let letters: Vec<char> = title.chars().collect();
    let keep = (0..letters.len()).rev().find(|n| fits(&(letters[..*n].iter().collect::<String>() + "…"))).unwrap_or(0);
    letters[..keep].iter().collect::<String>() + "…"
}

/// The snapshot before the break-up that a strip of the run shows too, and what to show of it.
fn shot(run: &Recorded) -> Option<Shot<'_>> {
    let last = run.frames.len().checked_sub(1)?;
    let index = match snapshots::shown_break(run) {
        Some(pinch) => snapshots::at_break(run, pinch).saturating_sub(1),
        None => last,
    };
    let solid = drawn(&run.frames[index], &Glass::of(&run.case), &Rounding::of(run));
    let window = window(run, &solid.bodies.iter().collect::<Vec<_>>());
    Some(Shot { run, solid, window, scale: 1.0 })
}

fn snapshot(to: &mut Drawing, shot: &Shot<'_>, cell: Area, thinned: &mut Thinned) {
    let (w, scale) = (shot.window, shot.scale);
    let middle = cell.y + 0.5 * cell.height;
    let place = |z: f64, r: f64| (cell.x + scale * (z - w.from), middle - scale * r);
    to.clipped(Area { width: scale * shot.length(), ..cell }, |to| {
        Glass::of(&shot.run.case).draw(to, (w.from, w.to), w.rim * 1.01, place);
        for body in shot.solid.bodies.iter().filter(|b| in_window(b, w)) {
            let outline = contour::contour(body, scale);
            contour::draw(to, &outline, place);
            thinned.add(outline.kept.len(), body.z.len());
        }
    });
}

/// A scale bar of at most about a third of `length` (m), its words beside it.
fn bar(to: &mut Drawing, scale: f64, length: f64, y: f64) {
    let length = nice_below(0.35 * length);
    let u = unit::length(length);
    to.line((0.0, y), (scale * length, y), Look::line(INK, 1.6));
    let label = Label::plain(format!("{} {}", number(length / u.si, 0), u.name));
    to.text((scale * length + 5.0, y + 0.34 * TICK_SIZE), &label, Type::new(TICK_SIZE, INK, Anchor::Start));
}

fn numbers(runs: &[&Recorded]) -> Numbers {
    let all = |of: &dyn Fn(&Summary) -> Option<f64>| {
        Cells::Reals(runs.iter().map(|r| of(&r.summary).unwrap_or(f64::NAN)).collect())
    };
    let texts = |of: &dyn Fn(&Summary) -> &str| Cells::Texts(runs.iter().map(|r| of(&r.summary).to_owned()).collect());
    Numbers::new()
        .with("title", texts(&|s| &s.title))
        .with("layout", texts(&|s| &s.layout))
        .with("mode", texts(&|s| s.mode.word()))
        .with("mean_diameter_m", all(&|s| s.primary.mean_diameter_m))
        .with("model_error_relative", all(&|s| s.primary.model_error_relative))
        .with("cv", all(&|s| s.primary.cv))
        .with("cv_low95", all(&|s| s.primary.cv_interval95.map(|i| i[0])))
        .with("cv_high95", all(&|s| s.primary.cv_interval95.map(|i| i[1])))
        .with("rate_per_s", all(&|s| s.primary.rate_per_s))
        .with("satellite_volume_fraction", all(&|s| s.satellites.volume_fraction))
}
