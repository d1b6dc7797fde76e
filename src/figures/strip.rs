//! `strip`: contours in chosen snapshots, each with its time, all to one scale with a bar.

use super::beside;
use super::drawing::{Anchor, Area, Drawing, Look, Type, trace};
use super::glass::{self, Glass};
use super::letters::{Label, number, significant};
use super::palette::{INK, SLATE};
use super::rounding::Rounding;
use super::scale::{nice_below, nice_step};
use super::snapshots::{self, Chosen};
use super::solid::{self, Solid, Told};
use super::table::{Cells, Numbers};
use super::thin::Thinned;
use super::{FigureError, Piece, Room, Wish, contour, unit};
use crate::case::Layout;
use crate::outcome::BodyFrame;
use crate::record::Recorded;

/// A drop is shown if it starts within so many diameters beyond the longest thread.
const BEYOND: f64 = 0.6;
/// A pulled thread longer than this over its width lies down, so that the page is used.
const LIES_DOWN: f64 = 9.0;
const LABEL_SIZE: f64 = 7.0;
/// A drop of which less than this share of its length would show is not drawn: it would look like a stray line.
const SLIVER: f64 = 0.4;
const GAP: f64 = 5.0;
/// What a last row less than half full costs in the choice of columns.
const FORGOTTEN: f64 = 0.8;
/// The page looks best at about this height over width; a panel beside another one a little taller.
const SHAPE: f64 = 0.55;
const SHAPE_BESIDE: f64 = 0.75;
/// No strip is taller than this over its width.
const SHAPE_MAX: f64 = 1.25;

/// The part of space that every cell shows, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    pub from: f64,
    pub to: f64,
    /// Half the width across.
    pub rim: f64,
}

/// Cells in columns and rows, flow to the right or down.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Grid {
    columns: usize,
    rows: usize,
    down: bool,
    /// Points per metre.
    scale: f64,
    /// One cell without its label, points.
    cell: (f64, f64),
}

pub fn draw(run: &Recorded, wish: &Wish, room: &Room) -> Result<Piece, FigureError> {
    let full = wish.beside.of(run);
    let at = if full.is_empty() { wish.at.clone() } else { beside::times(run, full, &wish.at) };
    let chosen = snapshots::chosen(run, &at)?;
    let glass = Glass::of(&run.case);
    let rounding = Rounding::of(run);
    let drawn: Vec<Solid> = chosen.frames.iter().map(|f| solid::drawn(f, &glass, &rounding)).collect();
    let told = drawn.iter().fold(Told::default(), |all, s| all.and(s.told));
    let mut window = window(run, &drawn.iter().flat_map(|s| &s.bodies).collect::<Vec<_>>());
    let (reach, wide) = beside::extent(full, chosen.frames.iter().map(|f| f.time));
    (window.to, window.rim) = (window.to.max(1.04 * reach), window.rim.max(1.04 * wide));
    let mut off = Vec::new();
    let slim = (window.to - window.from) / (2.0 * window.rim);
    let down = run.case.layout == Layout::Pendant && run.case.gravity > 0.0 && slim < LIES_DOWN;
    let times = times_text(&chosen);
    let grid = grid(window, &times, room, down);
    let mut drawing = Drawing::new(&room.prefix);
    let (mut numbers, mut thinned, mut slivers) = (Rows::default(), Thinned::default(), 0);
    for (k, (frame, solid)) in chosen.frames.iter().zip(&drawn).enumerate() {
        let corner = corner(&grid, k);
        let how = Type::new(LABEL_SIZE, INK, Anchor::Start);
        drawing.text((corner.0, corner.1 + LABEL_SIZE), &time_label(&times, k, &grid, chosen.broke_at.is_some()), how);
        let area = Area { x: corner.0, y: corner.1 + LABEL_SIZE + 2.5, width: grid.cell.0, height: grid.cell.1 };
        let place = placed(window, area, &grid);
        drawing.clipped(area, |to| {
            glass.draw(to, (window.from, window.to), window.rim * 1.01, &place);
            for (b, body) in solid.bodies.iter().enumerate().filter(|(_, b)| in_window(b, window)) {
                if !body.attached && is_sliver(body, window) {
                    slivers += 1;
                    continue;
                }
                contour::draw(to, &contour::contour(body, grid.scale), &place);
                let recorded = &frame.bodies[b];
                let kept = contour::contour(recorded, grid.scale).kept;
                thinned.add(kept.len(), recorded.z.len());
                numbers.push(frame.time, b, recorded, &kept);
            }
            if !full.is_empty() {
                off.push(beside::draw(to, full, frame.time, &place));
            }
        });
    }
    let bottom = corner(&grid, grid.columns * (grid.rows - 1)).1 + LABEL_SIZE + 2.5 + grid.cell.1;
    let named = time_label(&times, 0, &grid, chosen.broke_at.is_some()) != Label::plain(times[0].clone());
    let height =
        bar(&mut drawing, window, &grid, bottom + 5.0, (run, chosen.broke_at, room.width, !full.is_empty(), named));
    let mut notes = vec![chosen_note(&chosen, run.frames.len()), glass::NOTE.into(), contour::NOTE.into()];
    notes.extend(told.notes());
    notes.extend((!full.is_empty()).then(|| beside::note(&off)));
    if slivers > 0 {
        notes.push(format!("{slivers} drops of which the edge would show little are left out"));
    }
    notes.extend(thinned.statement("contours"));
    Ok(Piece { drawing, size: (room.width, height), numbers: numbers.finish(), notes })
}

/// What to show of space: from behind the tip to a little beyond the longest thread.
pub fn window(run: &Recorded, shown: &[&BodyFrame]) -> Window {
    let bodies = || shown.iter().copied();
    let end = |b: &BodyFrame| b.z.last().copied().unwrap_or(0.0);
    let farthest = bodies().map(end).fold(0.0, f64::max);
    let thread = bodies().filter(|b| b.attached).map(end).fold(0.0, f64::max);
    let tip = Glass::of(&run.case).tip;
    let drop = run.summary.primary.mean_diameter_m.unwrap_or(0.3 * thread);
    let (from, to) = match tip {
        Some((bore, _)) => {
            let near = |b: &&BodyFrame| b.z.first().is_some_and(|z| *z < thread + BEYOND * drop);
            (
                -1.2 * bore,
                bodies().filter(near).map(end).fold(thread + 0.1 * drop, f64::max).max(2.0 * bore) + 0.05 * drop,
            )
        }
        None => (bodies().filter_map(|b| b.z.first().copied()).fold(0.0, f64::min), farthest),
    };
    let inside = |b: &&BodyFrame| b.z.first().is_some_and(|z| *z < to);
    let thick = bodies().filter(inside).flat_map(|b| b.h.iter().copied()).fold(0.0, f64::max);
    let rim = 1.08 * thick.max(Glass::of(&run.case).reach(from, to, thick));
    let room = if tip.is_none() { 0.02 * (to - from) } else { 0.0 };
    Window { from: from - room, to: (to + room).max(from + 1e-12), rim: rim.max(1e-3 * (to - from)) }
}

/// The number of columns whose page comes closest to the wished shape, with room for the times above the cells.
fn grid(window: Window, times: &[String], room: &Room, down: bool) -> Grid {
    let (cells, width) = (times.len(), room.width);
    let least = times.iter().map(|t| label_width(t)).fold(0.0, f64::max);
    let wished = match room.height {
        Some(height) => height / width,
        None if room.beside => SHAPE_BESIDE,
        None => SHAPE,
    };
    let (along, across) = (window.to - window.from, 2.0 * window.rim);
    let (w, h) = if down { (across, along) } else { (along, across) };
    let page = |columns: usize| {
        let rows = cells.div_ceil(columns);
        let cell = (width - GAP * (columns - 1) as f64) / columns as f64;
        let scale = cell / w;
        let height = rows as f64 * (scale * h + LABEL_SIZE + 2.5 + GAP);
        (Grid { columns, rows, down, scale, cell: (cell, scale * h) }, height / width)
    };
    // A last row with a lone cell or two looks forgotten.
    let holes = |g: &Grid| {
        let empty = g.columns * g.rows - cells;
        empty as f64 / cells as f64 + if 2 * empty > g.columns { FORGOTTEN } else { 0.0 }
    };
    let cost = |(g, shape): &(Grid, f64)| (shape / wished).ln().abs() + 0.5 * holes(g);
    let fits = |(g, _): &(Grid, f64)| g.cell.0 >= least;
    let best = (1..=cells).map(page).filter(fits).min_by(|a, b| cost(a).total_cmp(&cost(b)));
    let (mut grid, shape) = best.unwrap_or_else(|| page(1));
    let most = if room.beside { wished.max(SHAPE_BESIDE) } else { SHAPE_MAX };
    if shape > most {
        let shrink = most / shape;
        grid.scale *= shrink;
        grid.cell = (grid.cell.0 * shrink, grid.cell.1 * shrink);
    }
    grid
}

fn corner(grid: &Grid, k: usize) -> (f64, f64) {
    let (column, row) = (k % grid.columns, k / grid.columns);
    (column as f64 * (grid.cell.0 + GAP), row as f64 * (grid.cell.1 + LABEL_SIZE + 2.5 + GAP))
}

/// The way from (z, r) to the page.
fn placed(window: Window, area: Area, grid: &Grid) -> impl Fn(f64, f64) -> (f64, f64) + use<> {
    let (scale, down) = (grid.scale, grid.down);
    move |z, r| {
        let along = scale * (z - window.from);
        if down {
            (area.x + 0.5 * area.width + scale * r, area.y + along)
        } else {
            (area.x + along, area.y + 0.5 * area.height - scale * r)
        }
    }
}

pub fn in_window(body: &BodyFrame, window: Window) -> bool {
    let (first, last) = (body.z.first(), body.z.last());
    first.is_some_and(|z| *z <= window.to) && last.is_some_and(|z| *z >= window.from)
}

/// Whether the window's edge leaves little of a body.
fn is_sliver(body: &BodyFrame, window: Window) -> bool {
    let (Some(first), Some(last)) = (body.z.first(), body.z.last()) else { return true };
    last.min(window.to) - first < SLIVER * (last - first)
}

/// Times with as many decimals as tell neighbours apart, and three digits of the latest; counted from the break-up two digits do.
fn times_text(chosen: &Chosen) -> Vec<String> {
    let frames = &chosen.frames;
    if let Some(broke) = chosen.broke_at {
        return frames.iter().map(|f| since(f.time - broke)).collect();
    }
    let latest = frames.iter().map(|f| f.time.abs()).fold(0.0, f64::max);
    let u = unit::time(latest);
    let steps = frames.windows(2).map(|w| (w[1].time - w[0].time) / u.si).filter(|d| *d > 0.0);
    let finest = nice_step(0.5 * steps.fold(f64::MAX, f64::min).min(10.0));
    let three = 2.0 - if latest > 0.0 { (latest / u.si).log10().floor() } else { 2.0 };
    let decimals = three.max(-finest.log10().floor()).clamp(0.0, 6.0) as usize;
    frames.iter().map(|f| format!("{} {}", number(f.time / u.si, decimals), u.name)).collect()
}

/// A time from the break-up with its sign.
fn since(dt: f64) -> String {
    if dt == 0.0 {
        return "0".into();
    }
    // from one of a unit on: two digits are all there is
    let u = unit::time(2.0 * dt.abs());
    let sign = if dt < 0.0 { '\u{2212}' } else { '+' };
    format!("{sign}{} {}", significant(dt.abs() / u.si, 2), u.name)
}

fn label_width(time: &str) -> f64 {
    Label::plain(time).width(LABEL_SIZE, false)
}

/// The time over a cell; the first says what it is, if there is room.
fn time_label(times: &[String], k: usize, grid: &Grid, relative: bool) -> Label {
    let name = if relative { "*t* \u{2212} *t*_{b}" } else { "*t*" };
    let named = Label::marked(&format!("{name} = {}", times[k]));
    if k == 0 && named.width(LABEL_SIZE, false) <= grid.cell.0 { named } else { Label::plain(times[k].clone()) }
}

/// Scale bar and arrow of the flow below the cells; returns where the page ends.
fn bar(
    to: &mut Drawing,
    window: Window,
    grid: &Grid,
    y: f64,
    (run, broke_at, width, full, named): (&Recorded, Option<f64>, f64, bool, bool),
) -> f64 {
    let (down, gravity) = (grid.down, run.case.gravity);
    let across = if down { 2.0 * window.rim } else { window.to - window.from };
    let length = nice_below(0.4 * across);
    let x1 = grid.scale * length;
    to.line((0.0, y + 2.0), (x1, y + 2.0), Look::line(INK, 1.6));
    let how = Type::new(LABEL_SIZE, INK, Anchor::Start);
    let u = unit::length(length);
    let label = Label::plain(format!("{} {}", number(length / u.si, 0), u.name));
    to.text((0.0, y + 4.0 + LABEL_SIZE), &label, how);
    let mut x = x1.max(label.width(LABEL_SIZE, false)) + 14.0;
    let mut line = y + 4.0 + LABEL_SIZE;
    if !matches!(run.case.layout, Layout::Segment(_)) {
        arrow(to, (x, y + 2.0), down);
        to.text((x + if down { 5.0 } else { 0.0 }, line), &Label::plain("flow"), how);
        x += 36.0;
    }
    let gravity_words = (!matches!(run.case.layout, Layout::Segment(_)) && gravity != 0.0)
        .then_some(if gravity > 0.0 { "gravity along the flow" } else { "gravity against the flow" });
    if full {
        to.line((x, y + 2.0), (x + 16.0, y + 2.0), beside::look());
        let label = Label::plain(beside::NAME);
        to.text((x, line), &label, how);
        x += label.width(LABEL_SIZE, false) + 14.0;
    }
    // where the first time has no room to say what it is counted from, this line does
    let break_words = broke_at.map(|t| match (named, unit::time_text(t, 4)) {
        (true, t) => format!("break-up at *t*_{{b}} = {t}"),
        (false, t) => format!("times from the break-up at {t}"),
    });
    let settled = (!run.summary.established.is && !matches!(run.case.layout, Layout::Segment(_)))
        .then(|| "not established".to_owned());
    for words in gravity_words.map(str::to_owned).into_iter().chain(break_words).chain(settled) {
        let label = Label::marked(&words);
        let wide = label.width(LABEL_SIZE, false);
        if x + wide > width {
            (x, line) = (0.0, line + LABEL_SIZE + 2.5);
        }
        to.text((x, line), &label, how);
        x += wide + 14.0;
    }
    line + 3.0
}

fn arrow(to: &mut Drawing, at: (f64, f64), down: bool) {
    let (x, y) = at;
    let look = Look::line(SLATE, 0.8);
    if down {
        to.line((x, y - 2.0), (x, y + 9.0), look);
        to.path(&trace(&[(x - 2.0, y + 7.0), (x + 2.0, y + 7.0), (x, y + 11.0)], true), Look::filled(SLATE));
    } else {
        to.line((x, y), (x + 14.0, y), look);
        to.path(&trace(&[(x + 13.0, y - 2.0), (x + 13.0, y + 2.0), (x + 17.5, y)], true), Look::filled(SLATE));
    }
}

fn chosen_note(chosen: &Chosen, of: usize) -> String {
    let frames = &chosen.frames;
    let u = unit::time(frames.iter().map(|f| f.time.abs()).fold(0.0, f64::max));
    let times: Vec<String> = frames.iter().map(|f| format!("{:.6}", f.time / u.si)).collect();
    let note = format!("{} of {of} recorded snapshots, at {} {}", frames.len(), times.join(", "), u.name);
    match chosen.carried {
        0 => note,
        n => format!(
            "{note}; {n} of them lie between recorded ones: the thread between its two neighbours in time, drops carried by their own velocities"
        ),
    }
}

/// The nodes as drawn.
#[derive(Default)]
struct Rows {
    time: Vec<f64>,
    body: Vec<i64>,
    z: Vec<f64>,
    h: Vec<f64>,
}

impl Rows {
    fn push(&mut self, time: f64, index: usize, body: &BodyFrame, kept: &[usize]) {
        for &i in kept {
            self.time.push(time);
            self.body.push(index as i64);
            self.z.push(body.z[i]);
            self.h.push(body.h[i]);
        }
    }

    fn finish(self) -> Numbers {
        Numbers::new()
            .with("time_s", Cells::Reals(self.time))
            .with("body", Cells::Whole(self.body))
            .with("z_m", Cells::Reals(self.z))
            .with("h_m", Cells::Reals(self.h))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Asked for 2.9 s and 8.8 s, a strip once said 3 s and 9 s.
    #[test]
    fn labels_tell_the_times_that_were_asked_for() {
        let told = |times: &[f64]| {
            let frames = times.iter().map(|&time| crate::outcome::Frame { time, ..Default::default() }).collect();
            times_text(&Chosen { frames, ..Chosen::default() })
        };
        assert_eq!(told(&[2.9, 8.8]), ["2.90 s", "8.80 s"]);
        assert_eq!(told(&[0.0123, 0.0124, 0.0125]), ["12.30 ms", "12.40 ms", "12.50 ms"]);
        assert_eq!(told(&[0.0, 0.151]), ["0 ms", "151 ms"]);
        assert_eq!(told(&[2.9]), ["2.90 s"]);
    }
}
