//! The numbers of compared runs: one small chart for each quantity, a row for each run, the value written at its dot.

use crate::figures::axes::{Mark, NOTE_SIZE, TICK_SIZE, TITLE_SIZE, mark};
use crate::figures::drawing::{Anchor, Area, Drawing, Look, Type};
use crate::figures::letters::{Label, significant};
use crate::figures::palette::{INK, MIST, SERIES, SLATE};
use crate::figures::scale::Scale;
use crate::figures::unit;
use crate::outcome::Summary;
use crate::record::Recorded;

const GAP: f64 = 12.0;
/// Values that differ by more than this factor get a logarithmic axis.
const DECADES: f64 = 20.0;
/// Room for numbers and titles below the charts.
pub const FOOT: f64 = 26.0;
/// Height of a row in charts that stand below the pictures.
const ROW: f64 = 17.0;
/// Charts side by side below the pictures.
const ABREAST: usize = 2;

/// A number of a run, its interval if it has one.
type Reading = (Option<f64>, Option<[f64; 2]>);

fn quantities(runs: &[&Recorded]) -> Vec<(String, Vec<Reading>)> {
    let all = |of: &dyn Fn(&Summary) -> Reading| runs.iter().map(|r| of(&r.summary)).collect::<Vec<_>>();
    let within = |d: f64, e: f64| [d * (1.0 - e), d * (1.0 + e)];
    let diameters = all(&|s| {
        let d = s.primary.mean_diameter_m;
        let size = s.size.low_m.zip(s.size.high_m).map(|(low, high)| [low, high]).filter(|_| d.is_some());
        (d, size.or(d.zip(s.primary.model_error_relative).map(|(d, e)| within(d, e))))
    });
    let l = unit::length(diameters.iter().filter_map(|d| d.0).fold(0.0, f64::max));
    let shown = diameters.iter().map(|d| (d.0.map(|v| v / l.si), d.1.map(|i| i.map(|v| v / l.si)))).collect();
    let percent = |v: f64| 100.0 * v;
    vec![
        (format!("*d* ({})", l.name), shown),
        ("CV (%)".into(), all(&|s| (s.primary.cv.map(percent), s.primary.cv_interval95.map(|i| i.map(percent))))),
        ("rate (s^{-1})".into(), all(&|s| (s.primary.rate_per_s, None))),
        ("satellites (vol. %)".into(), all(&|s| (s.satellites.volume_fraction.map(percent), None))),
    ]
}

/// Charts in the area beside the pictures, rows at the heights of these.
pub fn beside(to: &mut Drawing, runs: &[&Recorded], middles: &[f64], area: Area) {
    let quantities = quantities(runs);
    let width = (area.width - GAP * (quantities.len() - 1) as f64) / quantities.len() as f64;
    for (i, quantity) in quantities.iter().enumerate() {
        chart(to, quantity, middles, Area { x: area.x + i as f64 * (width + GAP), width, ..area });
    }
}

/// Charts in rows below the pictures, each run by its number; returns where they end.
pub fn below(to: &mut Drawing, runs: &[&Recorded], area: Area) -> f64 {
    let quantities = quantities(runs);
    let width = (area.width - GAP * ABREAST as f64) / ABREAST as f64;
    let height = ROW * runs.len() as f64;
    let mut y = area.y;
    for pair in quantities.chunks(ABREAST) {
        let middles: Vec<f64> = (0..runs.len()).map(|i| y + 4.0 + ROW * (i as f64 + 0.7)).collect();
        for (i, quantity) in pair.iter().enumerate() {
            let x = area.x + i as f64 * (width + GAP) + GAP;
            for (run, at) in middles.iter().enumerate() {
                let how = Type::new(TICK_SIZE, INK, Anchor::End).bold();
                to.text((x - 4.0, at + 0.34 * TICK_SIZE), &Label::plain((run + 1).to_string()), how);
            }
            chart(to, quantity, &middles, Area { x, y, width, height: height + 6.0 });
        }
        y += height + 6.0 + FOOT + 6.0;
    }
    y
}

fn chart(to: &mut Drawing, (title, readings): &(String, Vec<Reading>), middles: &[f64], area: Area) {
    let Area { x, width, .. } = area;
    let bottom = area.y + area.height;
    let ends = || readings.iter().flat_map(|(v, i)| v.iter().copied().chain(i.iter().flatten().copied()));
    let finite = || ends().filter(|v| v.is_finite());
    let (low, top) = (finite().fold(f64::MAX, f64::min), finite().fold(0.0, f64::max));
    let values = readings.iter().filter_map(|(v, _)| *v).filter(|v| v.is_finite());
    let smallest = values.fold(f64::MAX, f64::min);
    let scale = if low > 0.0 && top > DECADES * smallest {
        Scale::Log { low: low / 1.6, high: 1.6 * top }
    } else {
        Scale::Linear { low: 0.0, high: if top > 0.0 { 1.12 * top } else { 1.0 } }
    };
    to.line((x, bottom), (x + width, bottom), Look::line(SLATE, 0.6));
    to.line((x, area.y), (x, bottom), Look::line(MIST, 0.5));
    for (value, label) in scale.ticks(2).major {
        let at = x + width * scale.at(value);
        to.line((at, bottom), (at, bottom + 3.0), Look::line(SLATE, 0.6));
        to.text((at, bottom + 3.5 + TICK_SIZE), &label, Type::new(TICK_SIZE, INK, Anchor::Middle));
    }
    let centre = (x + 0.5 * width, bottom + 3.5 + TICK_SIZE + 3.0 + TITLE_SIZE);
    to.text(centre, &Label::marked(title), Type::new(TITLE_SIZE - 1.0, INK, Anchor::Middle));
    for (reading, y) in readings.iter().zip(middles) {
        dot(to, (x, width), &scale, *reading, *y);
    }
}

/// A value as a dot at the end of a line, its interval as a bar, its number above it.
fn dot(to: &mut Drawing, (x, width): (f64, f64), scale: &Scale, (value, interval): Reading, y: f64) {
    let at = |v: f64| x + width * scale.at(v);
    let Some(value) = value.filter(|v| v.is_finite()) else {
        to.text((x + 3.0, y + 2.0), &Label::plain("–"), Type::new(NOTE_SIZE, SLATE, Anchor::Start));
        return;
    };
    // the stroke from zero says how much, which a logarithmic axis cannot
    if !matches!(scale, Scale::Log { .. }) {
        to.line((x, y), (at(value), y), Look::line(MIST, 0.5));
    }
    if let Some([low, high]) = interval {
        to.line((at(low), y), (at(high), y), Look::line(SERIES[0], 1.0));
        for end in [low, high] {
            // taller than the dot, which may hide a short bar
            to.line((at(end), y - 3.2), (at(end), y + 3.2), Look::line(SERIES[0], 0.7));
        }
    }
    mark(to, (at(value), y), Mark::Dot { radius: 2.2, look: Look::filled(SERIES[0]) });
    let label = Label::marked(&significant(value, 3));
    let wide = label.width(NOTE_SIZE, false);
    let start = (at(value) - 0.5 * wide).clamp(x + 2.0, (x + width - wide).max(x + 2.0));
    to.text((start, y - 4.0), &label, Type::new(NOTE_SIZE, INK, Anchor::Start));
}
