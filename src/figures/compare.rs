//! `compare`: runs side by side: each at its last breakup, all to one scale, and the numbers that decide between them.

use super::axes::{Mark, NOTE_SIZE, TICK_SIZE, TITLE_SIZE, mark};
use super::drawing::{Anchor, Area, Drawing, Look, Type};
use super::glass::{self, Glass};
use super::letters::{Label, number};
use super::palette::{INK, MIST, SERIES, SLATE};
use super::scale::{Scale, nice_below};
use super::strip::{Window, in_window, window};
use super::table::{Cells, Numbers};
use super::thin::Thinned;
use super::{FigureError, Kind, MODEL_ERROR_NOTE, Piece, Room, Source, contour, unit};
use crate::outcome::{Frame, Summary};
use crate::record::Recorded;

const ROW_MIN: f64 = 34.0;
const PICTURE_SHARE: f64 = 0.46;
const NAME_ROOM: f64 = 19.0;
const BOTTOM: f64 = 30.0;
const GAP: f64 = 12.0;

pub fn draw(sources: &[Source], room: &Room) -> Result<Piece, FigureError> {
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
    let shots: Vec<(&Recorded, &Frame, Window)> = runs.iter().filter_map(|r| shot(r)).collect();
    if shots.len() < runs.len() {
        return Err(FigureError::Nothing(
            "one of the records holds no instants; set [run] frames and run again".into(),
        ));
    }
    let picture = PICTURE_SHARE * room.width;
    let scale = shots.iter().map(|(_, _, w)| picture / (w.to - w.from)).fold(f64::MAX, f64::min);
    let heights: Vec<f64> = shots.iter().map(|(_, _, w)| (2.0 * w.rim * scale).max(ROW_MIN) + NAME_ROOM).collect();
    let total: f64 = heights.iter().sum();
    let mut drawing = Drawing::new(&room.prefix);
    let mut thinned = Thinned::default();
    let mut middles = Vec::new();
    let mut y = 0.0;
    for ((run, frame, window), height) in shots.iter().zip(&heights) {
        let name = Label::plain(shortened(&name_of(run), room.width));
        drawing.text((0.0, y + TITLE_SIZE), &name, Type::new(TITLE_SIZE, INK, Anchor::Start).bold());
        let cell = Area { x: 0.0, y: y + NAME_ROOM - 5.0, width: picture, height: height - NAME_ROOM };
        snapshot(&mut drawing, (run, frame), *window, cell, scale, &mut thinned);
        middles.push(cell.y + 0.5 * cell.height);
        y += height;
    }
    bar(&mut drawing, scale, picture, total + 6.0);
    let columns =
        Area { x: picture + 2.0 * GAP, y: 12.0, width: room.width - picture - 2.0 * GAP, height: total - 14.0 };
    numbers_beside(&mut drawing, &runs, &middles, columns);
    let mut notes = vec![glass::NOTE.to_owned(), "each run at its last breakup".into()];
    notes.extend(
        runs.iter().any(|r| r.summary.primary.model_error_relative.is_some()).then(|| MODEL_ERROR_NOTE.to_owned()),
    );
    notes.extend(thinned.statement("contours"));
    Ok(Piece { drawing, size: (room.width, total + BOTTOM), numbers: numbers(&runs), notes })
}

fn name_of(run: &Recorded) -> String {
    let (title, layout) = (&run.summary.title, &run.summary.layout);
    if title.trim().is_empty() { layout.clone() } else { format!("{title} ({layout})") }
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

/// The instant just before the last breakup, and what to show of it.
fn shot(run: &Recorded) -> Option<(&Recorded, &Frame, Window)> {
    let last = run.pinch_offs.last().map(|p| p.time);
    let before = |t: f64| run.frames.partition_point(|f| f.time <= t).saturating_sub(1);
    let frame = run.frames.get(last.map_or(run.frames.len().saturating_sub(1), before))?;
    Some((run, frame, window(run, &[frame])))
}

fn snapshot(to: &mut Drawing, of: (&Recorded, &Frame), w: Window, cell: Area, scale: f64, thinned: &mut Thinned) {
    let middle = cell.y + 0.5 * cell.height;
    let place = |z: f64, r: f64| (cell.x + scale * (z - w.from), middle - scale * r);
    let seen = Area { width: scale * (w.to - w.from), ..cell };
    to.clipped(seen, |to| {
        Glass::of(&of.0.case).draw(to, (w.from, w.to), w.rim * 1.01, place);
        for body in of.1.bodies.iter().filter(|b| in_window(b, w)) {
            let outline = contour::contour(body, scale);
            contour::draw(to, &outline, place);
            thinned.add(outline.kept.len(), body.z.len());
        }
    });
}

fn bar(to: &mut Drawing, scale: f64, picture: f64, y: f64) {
    let length = nice_below(0.35 * picture / scale);
    let u = unit::length(2.0 * length);
    to.line((0.0, y), (scale * length, y), Look::line(INK, 1.6));
    let label = Label::plain(format!("{} {}", number(length / u.si, 0), u.name));
    to.text((0.0, y + 3.0 + TICK_SIZE), &label, Type::new(TICK_SIZE, INK, Anchor::Start));
}

/// A number of a run, its interval if it has one.
type Reading = (Option<f64>, Option<[f64; 2]>);

fn quantities(runs: &[&Recorded]) -> Vec<(String, Vec<Reading>)> {
    let all = |of: &dyn Fn(&Summary) -> Reading| runs.iter().map(|r| of(&r.summary)).collect::<Vec<_>>();
    let within = |d: f64, e: f64| [d * (1.0 - e), d * (1.0 + e)];
    let diameters = all(&|s| {
        let d = s.primary.mean_diameter_m;
        (d, d.zip(s.primary.model_error_relative).map(|(d, e)| within(d, e)))
    });
    let l = unit::length(diameters.iter().filter_map(|d| d.0).fold(0.0, f64::max));
    let shown = diameters.iter().map(|d| (d.0.map(|v| v / l.si), d.1.map(|i| i.map(|v| v / l.si)))).collect();
    let percent = |v: f64| 100.0 * v;
    vec![
        (format!("*d* ({})", l.name), shown),
        ("CV (%)".into(), all(&|s| (s.primary.cv.map(percent), s.primary.cv_interval95.map(|i| i.map(percent))))),
        ("rate (s^{-1})".into(), all(&|s| (s.primary.rate_per_s, None))),
        ("satellites (% vol.)".into(), all(&|s| (s.satellites.volume_fraction.map(percent), None))),
    ]
}

fn numbers_beside(to: &mut Drawing, runs: &[&Recorded], middles: &[f64], area: Area) {
    let quantities = quantities(runs);
    let width = (area.width - GAP * (quantities.len() - 1) as f64) / quantities.len() as f64;
    let bottom = area.y + area.height;
    for (i, (title, readings)) in quantities.iter().enumerate() {
        let x = area.x + i as f64 * (width + GAP);
        let ends = readings.iter().flat_map(|(v, i)| v.iter().copied().chain(i.iter().flatten().copied()));
        let top = ends.filter(|v| v.is_finite()).fold(0.0, f64::max);
        let scale = Scale::Linear { low: 0.0, high: if top > 0.0 { 1.12 * top } else { 1.0 } };
        to.line((x, bottom), (x + width, bottom), Look::line(SLATE, 0.6));
        to.line((x, area.y - 8.0), (x, bottom), Look::line(MIST, 0.5));
        for (value, label) in scale.ticks(2).major {
            let at = x + width * scale.at(value);
            to.line((at, bottom), (at, bottom + 3.0), Look::line(SLATE, 0.6));
            to.text((at, bottom + 3.5 + TICK_SIZE), &label, Type::new(TICK_SIZE, INK, Anchor::Middle));
        }
        let centre = (x + 0.5 * width, bottom + 3.5 + TICK_SIZE + 3.0 + TITLE_SIZE);
        to.text(centre, &Label::marked(title), Type::new(TITLE_SIZE - 0.5, INK, Anchor::Middle));
        for ((value, interval), y) in readings.iter().zip(middles) {
            reading(to, (x, width), &scale, (*value, *interval), *y);
        }
    }
}

fn reading(to: &mut Drawing, (x, width): (f64, f64), scale: &Scale, (value, interval): Reading, y: f64) {
    let at = |v: f64| x + width * scale.at(v);
    let Some(value) = value.filter(|v| v.is_finite()) else {
        to.text((x + 3.0, y + 2.0), &Label::plain("–"), Type::new(NOTE_SIZE, SLATE, Anchor::Start));
        return;
    };
    to.line((x, y), (at(value), y), Look::line(MIST, 0.5));
    if let Some([low, high]) = interval {
        to.line((at(low), y), (at(high), y), Look::line(SERIES[0], 1.0));
        for end in [low, high] {
            // taller than the dot, which may hide a short bar
            to.line((at(end), y - 3.2), (at(end), y + 3.2), Look::line(SERIES[0], 0.7));
        }
    }
    mark(to, (at(value), y), Mark::Dot { radius: 2.2, look: Look::filled(SERIES[0]) });
}

fn numbers(runs: &[&Recorded]) -> Numbers {
    let all = |of: &dyn Fn(&Summary) -> Option<f64>| {
        Cells::Reals(runs.iter().map(|r| of(&r.summary).unwrap_or(f64::NAN)).collect())
    };
    let texts = |of: &dyn Fn(&Summary) -> &String| Cells::Texts(runs.iter().map(|r| of(&r.summary).clone()).collect());
    Numbers::new()
        .with("title", texts(&|s| &s.title))
        .with("layout", texts(&|s| &s.layout))
        .with("mode", texts(&|s| &s.mode))
        .with("mean_diameter_m", all(&|s| s.primary.mean_diameter_m))
        .with("model_error_relative", all(&|s| s.primary.model_error_relative))
        .with("cv", all(&|s| s.primary.cv))
        .with("rate_per_s", all(&|s| s.primary.rate_per_s))
        .with("satellite_volume_fraction", all(&|s| s.satellites.volume_fraction))
}
