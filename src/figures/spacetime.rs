//! `spacetime`: the radius of whatever is at a place, over place and time; slopes are velocities.

use super::axes::{Axes, Axis, Fit, TICK_SIZE, TITLE_SIZE};
use super::drawing::{Anchor, Area, Drawing, Look, Type, n};
use super::letters::Label;
use super::palette::{INK, PAPER, SLATE, STEPS, ramp};
use super::scale::Scale;
use super::table::{Cells, Numbers};
use super::{FigureError, Piece, Room, unit};
use crate::case::Layout;
use crate::outcome::{BodyFrame, Frame, Moment};
use crate::record::Recorded;
use std::fmt::Write as _;

/// Most rows (snapshots) and columns (places) drawn, and what is tried next where the picture gets too large.
const RASTERS: [(usize, usize); 4] = [(420, 480), (420, 300), (220, 220), (150, 160)];
/// A picture of more bytes than this is drawn coarser.
const BYTES_MAX: usize = 1_200_000;
/// The picture ends at so many lengths of the longest thread.
const BEYOND: f64 = 2.5;
const BAR_WIDTH: f64 = 9.0;
const BAR_ROOM: f64 = 46.0;
/// More pinch-offs than this get smaller circles.
const MANY: usize = 20;
/// Places that fewer than this share of the snapshots reach are left out beyond the longest thread.
const SEEN: f64 = 0.15;

/// The field that is drawn: a radius for each snapshot and place.
struct Raster<'a> {
    frames: Vec<&'a Frame>,
    columns: Vec<f64>,
    field: Vec<Vec<f64>>,
    thickest: f64,
}

impl<'a> Raster<'a> {
    fn new(run: &'a Recorded, (rows, columns): (usize, usize)) -> Raster<'a> {
        let frames = evenly(run, rows);
        let (from, to) = extent(run);
        let columns: Vec<f64> = (0..columns).map(|i| from + (to - from) * (i as f64 + 0.5) / columns as f64).collect();
        let field: Vec<Vec<f64>> = frames.iter().map(|f| radii(f, &columns)).collect();
        let thickest = field.iter().flatten().copied().fold(0.0, f64::max).max(f64::MIN_POSITIVE);
        Raster { frames, columns, field, thickest }
    }
}

pub fn draw(run: &Recorded, room: &Room) -> Result<Piece, FigureError> {
    if run.frames.len() < 2 {
        return Err(FigureError::Nothing("a space-time diagram needs two recorded snapshots or more".into()));
    }
    let (from, to) = extent(run);
    let (start, end) = (run.frames[0].time, run.frames[run.frames.len() - 1].time);
    let (l, t) = (unit::length(to - from), unit::time(end));
    let x = Scale::Linear { low: from / l.si, high: to / l.si };
    let y = Scale::Linear { low: start / t.si, high: end.max(start + f64::MIN_POSITIVE) / t.si };
    let height = room.height_or(0.62);
    let axes = Axes::fit(
        Axis::new(x, &format!("{} *z* ({})", along(run), l.name)),
        Axis::new(y, &format!("time *t* ({})", t.name)),
        Area { x: 0.0, y: 0.0, width: room.width, height },
        Fit { right: BAR_ROOM, ..Fit::default() },
    );
    let radius = if run.pinch_offs.len() > MANY { 0.9 } else { 1.3 };
    let (raster, paths) = fine_enough(run, &axes, (t.si, end));
    let mut drawing = Drawing::new(&room.prefix);
    drawing.rect(axes.inside, Look::filled(&ramp(0.0)));
    drawing.clipped(axes.inside, |to| {
        for (level, d) in paths.iter().enumerate() {
            to.path(d, Look::filled(&ramp((level as f64 + 1.0) / STEPS as f64)));
        }
        for pinch in &run.pinch_offs {
            let at = axes.point(pinch.position / l.si, pinch.time / t.si);
            to.circle(at, radius, Look::filled(PAPER).outlined(INK, 0.5));
        }
    });
    axes.draw(&mut drawing);
    colour_bar(&mut drawing, axes.inside, raster.thickest);
    let mut notes = vec![format!(
        "radius in {STEPS} steps up to {} at {} places; circles: pinch-offs; thickest body where several overlap",
        unit::length_text(raster.thickest, 4),
        raster.columns.len()
    )];
    if raster.frames.len() < run.frames.len() {
        notes.push(format!(
            "{} of {} recorded snapshots drawn, evenly spaced and at pinch-offs",
            raster.frames.len(),
            run.frames.len()
        ));
    }
    let numbers = numbers(&raster.frames, &raster.columns, &raster.field);
    Ok(Piece { drawing, size: (room.width, height), numbers, notes })
}

/// The finest raster whose picture stays small.
fn fine_enough<'a>(run: &'a Recorded, axes: &Axes, (second, end): (f64, f64)) -> (Raster<'a>, Vec<String>) {
    let drawn = |size: (usize, usize)| {
        let raster = Raster::new(run, size);
        let edges = row_edges(&raster.frames, end);
        let paths = levels(&raster.field, &edges, raster.thickest, axes, second);
        (raster, paths)
    };
    let mut best = drawn(RASTERS[0]);
    for size in &RASTERS[1..] {
        if best.1.iter().map(String::len).sum::<usize>() <= BYTES_MAX {
            break;
        }
        best = drawn(*size);
    }
    best
}

/// The evenly spaced snapshots as far as rows allow; where there is room, the pinch-offs between them. Bursts would only thicken a
/// few lines.
fn evenly(run: &Recorded, rows: usize) -> Vec<&Frame> {
    let of = |moment: Moment| run.frames.iter().filter(move |f| f.moment == moment);
    let even: Vec<&Frame> = of(Moment::Even).collect();
    if even.len() < 2 {
        return run.frames.iter().step_by(run.frames.len().div_ceil(rows)).collect();
    }
    let mut chosen: Vec<&Frame> = even.iter().copied().step_by(even.len().div_ceil(rows)).collect();
    if chosen.len() + run.pinch_offs.len() <= rows + rows / 4 {
        chosen.extend(of(Moment::PinchOff));
        chosen.sort_by(|a, b| a.time.total_cmp(&b.time));
    }
    chosen
}

/// What the places are counted from.
fn along(run: &Recorded) -> &'static str {
    if matches!(run.case.layout, Layout::Segment(_)) { "position" } else { "distance from the tip" }
}

/// From the tip (or the wave's start) to a little beyond the longest thread, as far as drops are often seen: those that fall
/// fast are caught by few snapshots, as streaks that say nothing of their way.
fn extent(run: &Recorded) -> (f64, f64) {
    let bodies = || run.frames.iter().flat_map(|f| f.bodies.iter());
    let end = |b: &BodyFrame| b.z.last().copied().unwrap_or(0.0);
    let behind = bodies().filter_map(|b| b.z.first().copied()).fold(0.0, f64::min);
    // Small drops that fly back may end up behind the tip, where the model knows no glass: not shown.
    let start = if matches!(run.case.layout, Layout::Segment(_)) { behind } else { 0.0 };
    let thread = bodies().filter(|b| b.attached).map(end).fold(0.0, f64::max);
    let farthest = bodies().map(end).fold(0.0, f64::max);
    let mut ends: Vec<f64> = run.frames.iter().map(|f| f.bodies.iter().map(end).fold(0.0, f64::max)).collect();
    ends.sort_by(f64::total_cmp);
    let often = ends[((1.0 - SEEN) * (ends.len() - 1) as f64) as usize].max(1.1 * thread);
    let to = if thread > 0.0 { farthest.min(BEYOND * thread).min(often) } else { farthest };
    (start, to.max(start + 1e-12))
}

/// Radius at each place, zero where no body is.
fn radii(frame: &Frame, places: &[f64]) -> Vec<f64> {
    let mut radii = vec![0.0_f64; places.len()];
    for body in &frame.bodies {
        let (Some(first), Some(last)) = (body.z.first(), body.z.last()) else { continue };
        let (a, b) = (places.partition_point(|p| p < first), places.partition_point(|p| p <= last));
        for i in a..b {
            radii[i] = radii[i].max(radius_at(body, places[i]));
        }
    }
    radii
}

/// Radius of a body at a place between its ends; between nodes on a straight line.
fn radius_at(body: &BodyFrame, z: f64) -> f64 {
    let after = body.z.partition_point(|node| *node < z).clamp(1, body.z.len().max(2) - 1);
    let (Some(&z0), Some(&z1)) = (body.z.get(after - 1), body.z.get(after)) else { return 0.0 };
    let share = if z1 > z0 { ((z - z0) / (z1 - z0)).clamp(0.0, 1.0) } else { 0.0 };
    body.h[after - 1] + share * (body.h[after] - body.h[after - 1])
}

/// Where rows meet: half-way between snapshots.
fn row_edges(frames: &[&Frame], end: f64) -> Vec<f64> {
    let mut edges = vec![frames[0].time];
    edges.extend(frames.windows(2).map(|w| 0.5 * (w[0].time + w[1].time)));
    edges.push(end);
    edges
}

/// One path for each step of the scale: runs of places of that step, row by row.
fn levels(field: &[Vec<f64>], edges: &[f64], thickest: f64, axes: &Axes, second: f64) -> Vec<String> {
    let mut paths = vec![String::new(); STEPS];
    let a = axes.inside;
    let step = |h: f64| ((h / thickest * STEPS as f64).ceil() as usize).min(STEPS);
    for (row, values) in field.iter().enumerate() {
        let y = |t: f64| a.y + a.height * (1.0 - axes.y_scale().at(t / second));
        let (bottom, top) = (y(edges[row]), y(edges[row + 1]));
        let mut start = 0;
        for i in 1..=values.len() {
            if i < values.len() && step(values[i]) == step(values[start]) {
                continue;
            }
            if let Some(level) = step(values[start]).checked_sub(1) {
                let x = |k: usize| a.x + a.width * k as f64 / values.len() as f64;
                // A hair of overlap keeps viewers from showing seams between rows.
                let (left, width, height) = (x(start), x(i) - x(start), bottom - top + 0.08);
                let _ = write!(paths[level], "M{} {}h{}v{}h{}z", n(left), n(top), n(width), n(height), n(-width));
            }
            start = i;
        }
    }
    paths
}

fn colour_bar(to: &mut Drawing, inside: Area, thickest: f64) {
    let l = unit::length(thickest);
    let area = Area { x: inside.x + inside.width + 8.0, width: BAR_WIDTH, ..inside };
    let each = area.height / (STEPS + 1) as f64;
    for i in 0..=STEPS {
        let y = area.y + area.height - each * (i + 1) as f64;
        to.rect(Area { y, height: each + 0.08, ..area }, Look::filled(&ramp(i as f64 / STEPS as f64)));
    }
    to.rect(area, Look::line(SLATE, 0.6));
    let scale = Scale::Linear { low: 0.0, high: thickest / l.si };
    let right = area.x + area.width;
    let ticks = scale.ticks((area.height / 18.0) as usize).major;
    let widest = ticks.iter().map(|(_, label)| label.width(TICK_SIZE, false)).fold(0.0, f64::max);
    for (value, label) in ticks {
        let y = area.y + area.height * (1.0 - scale.at(value));
        to.line((right, y), (right + 3.0, y), Look::line(SLATE, 0.6));
        to.text((right + 4.5, y + 0.34 * TICK_SIZE), &label, Type::new(TICK_SIZE, INK, Anchor::Start));
    }
    let title = Label::marked(&format!("radius *h* ({})", l.name));
    to.text_upward(
        (right + 4.5 + widest + 3.0 + TITLE_SIZE, area.y + 0.5 * area.height),
        &title,
        Type::new(TITLE_SIZE, INK, Anchor::Middle),
    );
}

/// The drawn field without its empty places.
fn numbers(frames: &[&Frame], columns: &[f64], field: &[Vec<f64>]) -> Numbers {
    let (mut time, mut z, mut h) = (Vec::new(), Vec::new(), Vec::new());
    for (frame, values) in frames.iter().zip(field) {
        for (place, radius) in columns.iter().zip(values).filter(|(_, r)| **r > 0.0) {
            time.push(frame.time);
            z.push(*place);
            h.push(*radius);
        }
    }
    Numbers::new().with("time_s", Cells::Reals(time)).with("z_m", Cells::Reals(z)).with("h_m", Cells::Reals(h))
}
