//! `budget`: where the energy came from and where it went, summed up over time, each cause named at the end of its line.

use super::axes::{Axes, Axis, Fit, NOTE_SIZE};
use super::drawing::{Anchor, Area, Drawing, Look, Type};
use super::letters::Label;
use super::palette::{DASHES, INK, MIST, SERIES};
use super::scale::Scale;
use super::table::{Cells, Numbers};
use super::unit::{self, Unit};
use super::{FigureError, Piece, Room};
use crate::outcome::Budget;
use crate::record::Recorded;

/// A line: its name, its column and what it shows of a budget.
type Line = (&'static str, &'static str, fn(&Budget) -> f64);

/// What is stored is drawn whole, causes dashed.
const STORED: [Line; 3] = [
    ("surface", "surface_j", |b| b.surface_j),
    ("kinetic", "kinetic_j", |b| b.kinetic_j),
    ("potential", "potential_j", |b| b.potential_j),
];
const CAUSES: [Line; 6] = [
    ("inlet", "inlet_j", |b| b.inlet_j),
    ("outflow", "outflow_j", |b| b.outflow_j),
    ("viscosity", "viscous_j", |b| b.viscous_j),
    ("outer liquid", "outer_j", |b| b.outer_drag_j + b.outer_stress_j + b.film_j + b.added_mass_j),
    ("artificial viscosity", "artificial_j", |b| b.artificial_j),
    ("cuts, new meshes", "cuts_and_regrids_j", |b| b.cuts_j + b.regrids_j),
];
/// What never reaches this share of the largest entry is left out, and named in the notes.
const SHOWN: f64 = 0.01;
/// Room at the right of the lines for their names.
const GAP: f64 = 6.0;

fn joules(largest: f64) -> Unit {
    let units = [(1.0, "J"), (1e-3, "mJ"), (1e-6, "µJ"), (1e-9, "nJ"), (1e-12, "pJ"), (1e-15, "fJ")];
    let fits = units.into_iter().find(|(si, _)| largest >= *si).unwrap_or(units[5]);
    Unit { si: fits.0, name: fits.1 }
}

pub fn draw(run: &Recorded, room: &Room) -> Result<Piece, FigureError> {
    let rows: Vec<(f64, Budget)> = run.frames.iter().filter_map(|f| Some((f.time, f.budget?))).collect();
    if rows.len() < 2 {
        return Err(FigureError::Nothing("this record holds no energy budget over time; run the case again".into()));
    }
    let all: Vec<&Line> = STORED.iter().chain(&CAUSES).collect();
    let largest = |line: &Line| rows.iter().map(|(_, b)| line.2(b).abs()).fold(0.0, f64::max);
    let most = all.iter().map(|line| largest(line)).fold(f64::MIN_POSITIVE, f64::max);
    let (shown, small): (Vec<&Line>, Vec<&Line>) = all.iter().partition(|line| largest(line) >= SHOWN * most);
    let (t, e) = (unit::time(rows[rows.len() - 1].0), joules(most));
    let value = |line: &Line, b: &Budget| line.2(b) / e.si;
    let names: Vec<Label> = shown.iter().map(|line| Label::plain(line.0)).collect();
    let widest = names.iter().map(|name| name.width(NOTE_SIZE, false)).fold(0.0, f64::max);
    let height = room.height_or(0.78);
    let ends = rows.iter().flat_map(|(_, b)| shown.iter().map(|line| value(line, b)));
    let axes = Axes::fit(
        Axis::new(Scale::linear(rows.iter().map(|(time, _)| time / t.si), true), &format!("time *t* ({})", t.name)),
        Axis::new(Scale::linear(ends, false), &format!("energy put in ({})", e.name)),
        Area { x: 0.0, y: 0.0, width: room.width, height },
        Fit { right: widest + GAP, ..Fit::default() },
    );
    let mut drawing = Drawing::new(&room.prefix);
    let zero = (axes.point(0.0, 0.0), axes.point(rows[rows.len() - 1].0 / t.si, 0.0));
    drawing.line(zero.0, zero.1, Look::line(MIST, 0.5));
    let is_stored = |line: &Line| STORED.iter().any(|s| s.0 == line.0);
    for (i, line) in shown.iter().enumerate() {
        let points: Vec<_> = rows.iter().map(|(time, b)| axes.point(time / t.si, value(line, b))).collect();
        let dash = if is_stored(line) { DASHES[0] } else { DASHES[1 + i % (DASHES.len() - 1)] };
        drawing.polyline(&points, Look::line(SERIES[i % SERIES.len()], 1.2).dashed(dash));
    }
    axes.draw(&mut drawing);
    let last = &rows[rows.len() - 1].1;
    let heights = apart(shown.iter().map(|line| axes.point(0.0, value(line, last)).1).collect(), &axes.inside);
    for (i, (name, y)) in names.iter().zip(heights).enumerate() {
        let x = axes.inside.x + axes.inside.width + GAP;
        drawing.line((x - 4.5, y), (x - 1.0, y), Look::line(SERIES[i % SERIES.len()], 1.2));
        drawing.text((x + 1.0, y + 0.34 * NOTE_SIZE), name, Type::new(NOTE_SIZE, INK, Anchor::Start));
    }
    let mut notes = vec![
        "energy since the start: whole lines are stored (drops as they were when they came off), broken lines are what each cause \
         put in (below zero: took out)"
            .to_owned(),
        format!("open at the end: {:.2e} of the energy turned over", last.open_relative),
    ];
    if !small.is_empty() {
        let list: Vec<&str> = small.iter().map(|line| line.0).collect();
        notes.push(format!("below {} % of the largest and not drawn: {}", 100.0 * SHOWN, list.join(", ")));
    }
    Ok(Piece { drawing, size: (room.width, height), numbers: numbers(&rows, &all), notes })
}

/// Heights of the names: those of their lines, pushed apart to a line's height.
fn apart(wanted: Vec<f64>, inside: &Area) -> Vec<f64> {
    let step = NOTE_SIZE + 1.5;
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|a, b| wanted[*a].total_cmp(&wanted[*b]));
    let mut placed = wanted.clone();
    let mut from = inside.y;
    for i in &order {
        placed[*i] = wanted[*i].max(from);
        from = placed[*i] + step;
    }
    // and back up where the last one would leave the frame
    let mut until = inside.y + inside.height;
    for i in order.iter().rev() {
        placed[*i] = placed[*i].min(until);
        until = placed[*i] - step;
    }
    placed
}

fn numbers(rows: &[(f64, Budget)], lines: &[&Line]) -> Numbers {
    let time = Numbers::new().with("time_s", Cells::Reals(rows.iter().map(|r| r.0).collect()));
    let column = |line: &Line| Cells::Reals(rows.iter().map(|(_, b)| line.2(b)).collect());
    let all = lines.iter().fold(time, |table, line| table.with(line.1, column(line)));
    all.with("open_relative", Cells::Reals(rows.iter().map(|(_, b)| b.open_relative).collect()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_never_lie_on_each_other() {
        let inside = Area { x: 0.0, y: 0.0, width: 10.0, height: 100.0 };
        for wanted in [vec![50.0, 50.0, 51.0], vec![99.0, 98.0, 100.0], vec![0.0, 0.0, 100.0]] {
            let mut placed = apart(wanted, &inside);
            placed.sort_by(f64::total_cmp);
            assert!(placed.windows(2).all(|w| w[1] - w[0] > NOTE_SIZE), "{placed:?}");
            assert!(placed[0] >= -1e-9 && placed[2] <= 100.0, "{placed:?}");
        }
    }
}
