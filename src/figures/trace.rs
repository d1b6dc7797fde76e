//! `trace`: each drop's diameter at the time it came off, with the pump's period behind it and what the pumps deliver below.

use super::axes::{Axes, Axis, Fit, Mark, NOTE_SIZE, mark};
use super::drawing::{Anchor, Area, Drawing, Look, Type};
use super::letters::Label;
use super::palette::{BAND, INK, PAPER, SERIES};
use super::scale::Scale;
use super::table::{Cells, Numbers};
use super::unit::{self, Unit};
use super::{FigureError, Piece, Room};
use crate::case::Layout;
use crate::outcome::{Drop, DropKind};
use crate::record::Recorded;
use crate::simulate::pumps;
use crate::thread::inflow::Inflow;
use std::f64::consts::PI;

const SATELLITE_SHARE: f64 = 0.42;
/// More periods than this run into a grey; then only the text tells the period.
const BANDS_MAX: f64 = 80.0;
/// Relative range that equal drops are given, so that rounding does not look like spread.
const SPAN_MIN: f64 = 2e-2;

pub fn draw(run: &Recorded, room: &Room) -> Result<Piece, FigureError> {
    let drops = &run.summary.drops;
    if drops.is_empty() {
        return Err(FigureError::Nothing("this record holds no drops".into()));
    }
    let of = |kind| {
        let mut list: Vec<&Drop> = drops.iter().filter(move |d| d.kind == kind).collect();
        list.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
        list
    };
    let (primaries, satellites) = (of(DropKind::Primary), of(DropKind::Satellite));
    let end = drops.iter().map(|d| d.time_s).fold(0.0, f64::max);
    let t = unit::time(end);
    let x = Scale::linear(drops.iter().map(|d| d.time_s / t.si).chain([0.0]), true);
    let height = room.height_or(0.78);
    let mut drawing = Drawing::new(&room.prefix);
    let pumped = Pumped::of(run, end);
    let whole = if pumped.is_some() && room.height.is_none() { height * FLOWS_HIGHER } else { height };
    let height = if pumped.is_some() { whole * (1.0 - FLOWS_SHARE) } else { whole };
    let both = !primaries.is_empty() && !satellites.is_empty();
    let split = if both { height * (1.0 - SATELLITE_SHARE) } else { height };
    let settled = run.summary.primary.settled_after.unwrap_or(0);
    let left = [(&primaries, split, both), (&satellites, height - if both { split } else { 0.0 }, false)]
        .into_iter()
        .filter(|(d, _, _)| !d.is_empty())
        .map(|(d, outside, shares_x)| Axes::left_of(&y_axis(d, "").1, outside, shares_x || pumped.is_some()))
        .chain(pumped.iter().map(|p| Axes::left_of(&p.axis(), whole - height, false)))
        .fold(0.0, f64::max);
    let mut place = Place { to: &mut drawing, run, x, t, width: room.width, left };
    if !primaries.is_empty() {
        let look = |i: usize| if i < settled { PAPER } else { SERIES[0] };
        place.panel((0.0, split, both || pumped.is_some()), &primaries, "primary *d* ", |to, at, i| {
            mark(to, at, Mark::Dot { radius: 1.8, look: Look::filled(look(i)).outlined(SERIES[0], 0.7) });
        });
    }
    if !satellites.is_empty() {
        place.panel(
            (if both { split } else { 0.0 }, height, pumped.is_some()),
            &satellites,
            "satellite *d* ",
            |to, at, _| {
                mark(to, at, Mark::Triangle { side: 4.0, look: Look::filled(SERIES[1]).outlined(INK, 0.4) });
            },
        );
    }
    if let Some(pumped) = &pumped {
        place.flows((height, whole), pumped);
    }
    let mut notes = Vec::new();
    if settled > 0 {
        notes.push(format!("open symbols: the first {settled} primary drops, transients"));
    }
    Ok(Piece { drawing, size: (room.width, whole), numbers: numbers(run, drops), notes })
}

/// Share of the height for what the pumps deliver, how much higher the figure is for it, white above its lines, and their points.
const FLOWS_SHARE: f64 = 0.3;
const FLOWS_HIGHER: f64 = 1.25;
const FLOWS_WHITE: f64 = 0.35;
const POINTS: usize = 1500;

/// Flows over those of the case, where they change.
struct Pumped {
    /// Name and values at evenly spaced times (s).
    lines: Vec<(&'static str, Vec<(f64, f64)>)>,
}

impl Pumped {
    fn of(run: &Recorded, end: f64) -> Option<Pumped> {
        let mut case = run.case.clone();
        // Pulses that run into a grey are left to the text.
        if case
            .forcing
            .periods(case.inner.flow, case.outer.as_ref().map(|o| o.flow))
            .iter()
            .any(|p| end / p.0 > BANDS_MAX)
        {
            (case.forcing.amplitude, case.forcing.step) = (0.0, 0.0);
            case.forcing.outer = crate::case::OuterForcing::default();
        }
        let (inner, outer) = pumps::delivered(&case);
        let line = |stream: &Inflow| -> Vec<(f64, f64)> {
            (0..=POINTS)
                .map(|i| end * i as f64 / POINTS as f64)
                .map(|t| (t, stream.velocity(t) / stream.mean()))
                .collect()
        };
        let both = [("inner flow", Some(inner)), ("outer flow", outer)];
        let lines: Vec<_> =
            both.into_iter().filter_map(|(name, s)| Some((name, line(&s.filter(|s| !s.is_steady())?)))).collect();
        (!lines.is_empty()).then_some(Pumped { lines })
    }

    fn axis(&self) -> Axis {
        let most = self.lines.iter().flat_map(|l| l.1.iter().map(|p| p.1)).fold(0.0, f64::max);
        Axis::new(Scale::Linear { low: 0.0, high: (1.0 + FLOWS_WHITE) * most }, "*Q* / *Q*_{0}")
    }
}

struct Place<'a> {
    to: &'a mut Drawing,
    run: &'a Recorded,
    x: Scale,
    t: Unit,
    width: f64,
    left: f64,
}

impl Place<'_> {
    fn panel(
        &mut self,
        (top, bottom, shares_x): (f64, f64, bool),
        drops: &[&Drop],
        title: &str,
        draw: impl Fn(&mut Drawing, (f64, f64), usize),
    ) {
        let (l, y) = y_axis(drops, title);
        let axes = Axes::fit(
            Axis::new(self.x, &format!("time *t* ({})", self.t.name)),
            y,
            Area { x: 0.0, y: top, width: self.width, height: bottom - top },
            Fit { left: self.left, shares_x, ..Fit::default() },
        );
        self.periods(&axes, top == 0.0);
        for (i, drop) in drops.iter().enumerate() {
            draw(self.to, axes.point(drop.time_s / self.t.si, drop.diameter_m / l.si), i);
        }
        axes.draw(self.to);
        if top == 0.0 {
            self.answer(&axes);
        }
    }

    /// The interval that the answer has, which is far wider than the axis, or that there is none.
    fn answer(&mut self, axes: &Axes) {
        let s = &self.run.summary;
        let size = s.primary.mean_diameter_m.zip(s.size.low_m.zip(s.size.high_m));
        let text = match size {
            Some((d, (low, high))) => {
                let (_, ends) = unit::known(d, [low, high], s.size.at_least);
                let mean = unit::length_text(d, 3);
                let wider = if s.size.at_least { " or wider" } else { "" };
                format!("mean {mean}, 90 % at the bench: {ends}{wider}")
            }
            None if !s.established.is && !matches!(self.run.case.layout, Layout::Segment(_)) => {
                "not established".to_owned()
            }
            None => return,
        };
        let at = (axes.inside.x + 4.0, axes.inside.y + axes.inside.height - 4.0);
        self.to.text(at, &Label::plain(text), Type::new(NOTE_SIZE, INK, Anchor::Start));
    }

    /// What the pumps deliver.
    fn flows(&mut self, (top, bottom): (f64, f64), pumped: &Pumped) {
        let axes = Axes::fit(
            Axis::new(self.x, &format!("time *t* ({})", self.t.name)),
            pumped.axis(),
            Area { x: 0.0, y: top, width: self.width, height: bottom - top },
            Fit { left: self.left, ..Fit::default() },
        );
        let mut at = axes.inside.x + 4.0;
        for (i, (name, line)) in pumped.lines.iter().enumerate() {
            let points: Vec<(f64, f64)> = line.iter().map(|(t, q)| axes.point(t / self.t.si, *q)).collect();
            self.to.polyline(&points, Look::line(SERIES[i], 0.9));
            let y = axes.inside.y + NOTE_SIZE + 2.0;
            self.to.line((at, y - 0.35 * NOTE_SIZE), (at + 9.0, y - 0.35 * NOTE_SIZE), Look::line(SERIES[i], 0.9));
            self.to.text((at + 11.0, y), &Label::plain((*name).to_owned()), Type::new(NOTE_SIZE, INK, Anchor::Start));
            at += 60.0;
        }
        axes.draw(self.to);
    }

    /// Every other half period of the pump in a tint, and its length in words.
    fn periods(&mut self, axes: &Axes, named: bool) {
        let case = &self.run.case;
        let periods = case.forcing.periods(case.inner.flow, case.outer.as_ref().map(|o| o.flow));
        // With a ramp the flows are drawn below, and a motor's steps have no one period.
        let Some((period, what)) = periods.first().copied().filter(|_| case.forcing.ramp.is_none()) else { return };
        let end = self.x.ends().1 * self.t.si;
        if end / period <= BANDS_MAX {
            let a = axes.inside;
            for k in 0..(end / period).ceil() as usize {
                let at = |t: f64| a.x + a.width * self.x.at(t / self.t.si).clamp(0.0, 1.0);
                let (x0, x1) = (at(k as f64 * period), at((k as f64 + 0.5) * period));
                self.to.rect(Area { x: x0, y: a.y, width: x1 - x0, height: a.height }, Look::filled(BAND));
            }
        }
        if named {
            let text = format!("{what}: {}", unit::time_text(period, 3));
            let at = (axes.inside.x + axes.inside.width - 3.0, axes.inside.y + NOTE_SIZE + 2.0);
            self.to.text(at, &Label::marked(&text), Type::new(NOTE_SIZE, INK, Anchor::End));
        }
    }
}

fn y_axis(drops: &[&Drop], title: &str) -> (Unit, Axis) {
    let l = unit::length(drops.iter().map(|d| d.diameter_m).fold(0.0, f64::max));
    (l, Axis::new(diameters(drops, l.si), &format!("{title}({})", l.name)))
}

fn diameters(drops: &[&Drop], si: f64) -> Scale {
    let values = || drops.iter().map(|d| d.diameter_m / si);
    let (low, high) = (values().fold(f64::MAX, f64::min), values().fold(0.0, f64::max));
    let (middle, half) = (0.5 * (low + high), (0.75 * (high - low)).max(SPAN_MIN * high));
    // no diameter is negative, however widely they spread
    Scale::Linear { low: (middle - half).max(0.0), high: middle + half }
}

fn numbers(run: &Recorded, drops: &[Drop]) -> Numbers {
    let (inner, outer) = pumps::delivered(&run.case);
    let flow = |stream: &Inflow| Cells::Reals(drops.iter().map(|d| PI * stream.velocity(d.time_s)).collect());
    let kind = |d: &Drop| if d.kind == DropKind::Primary { "primary" } else { "satellite" }.to_owned();
    let table = Numbers::new()
        .with("time_s", Cells::Reals(drops.iter().map(|d| d.time_s).collect()))
        .with("kind", Cells::Texts(drops.iter().map(kind).collect()))
        .with("diameter_m", Cells::Reals(drops.iter().map(|d| d.diameter_m).collect()));
    if matches!(run.case.layout, Layout::Segment(_)) {
        return table;
    }
    // What the pumps deliver at that time, without their noise.
    let table = table.with("inner_flow_m3_per_s", flow(&inner));
    match outer {
        Some(outer) => table.with("outer_flow_m3_per_s", flow(&outer)),
        None => table,
    }
}
