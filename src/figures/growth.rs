//! `growth`: growth rate of waves on the thread against their wavenumber, this model beside exact theory.

use super::about::Origin;
use super::axes::{Axes, Axis, Fit, Mark, emptiest_corner, legend, legend_size, mark};
use super::drawing::{Area, Drawing, Look};
use super::letters::{Label, significant};
use super::palette::{DASHES, INK, PAPER, SERIES};
use super::scale::Scale;
use super::table::{Cells, Numbers};
use super::{FigureError, Piece, Room, Wish};
use crate::case::Case;
use crate::outcome::Instability;
use crate::record::Recorded;
use serde::Deserialize;

/// Growth rates as `slenderjet growth --json` prints them; rates in units of `rate_scale_per_s`.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Growth {
    /// Reduced wavenumber x = k R.
    pub wavenumber: Vec<f64>,
    /// The model's rate; `None` where it has none.
    pub model: Vec<Option<f64>>,
    /// Exact theory, where there is one.
    #[serde(default)]
    pub exact: Option<Vec<Option<f64>>>,
    #[serde(default)]
    pub exact_source: Option<String>,
    pub rate_scale_per_s: f64,
    #[serde(default)]
    pub character: Option<Instability>,
    #[serde(skip)]
    pub origin: Option<Origin>,
}

impl Growth {
    /// From the output of `slenderjet growth --json`.
    ///
    /// # Errors
    /// Where the text is something else.
    pub fn from_json(text: &str) -> Result<Growth, FigureError> {
        let growth: Growth = serde_json::from_str(text)
            .map_err(|e| FigureError::Nothing(format!("this is not the output of `slenderjet growth --json`: {e}")))?;
        let n = growth.wavenumber.len();
        let fits = growth.model.len() == n && growth.exact.as_ref().is_none_or(|e| e.len() == n);
        if !fits || n < 2 {
            return Err(FigureError::Nothing("growth rates need two wavenumbers or more, and a rate for each".into()));
        }
        Ok(growth)
    }
}

/// Wavenumbers at which a run's case is judged.
const WAVENUMBERS: usize = 120;
const WAVENUMBER_MAX: f64 = 1.2;

/// Growth rates of the thread of a recorded case: formulas, no simulation.
///
/// # Errors
/// Where the case has no thread.
pub fn of_run(run: &Recorded) -> Result<Growth, FigureError> {
    of_case(&run.case, Some(Origin::new(&run.summary.title, &run.summary.provenance)))
}

/// Growth rates of the thread of a case.
///
/// # Errors
/// Where the case has no thread.
pub fn of_case(case: &Case, origin: Option<Origin>) -> Result<Growth, FigureError> {
    let at: Vec<f64> = (1..=WAVENUMBERS).map(|i| WAVENUMBER_MAX * i as f64 / WAVENUMBERS as f64).collect();
    let found = crate::study::growth::growth(case, &at);
    let found = found.ok_or_else(|| FigureError::Nothing("this case has no thread: nothing flows".into()))?;
    Ok(Growth {
        wavenumber: found.wavenumber,
        model: found.model.into_iter().map(Some).collect(),
        exact: found.exact.map(|e| e.into_iter().map(Some).collect()),
        exact_source: found.exact_source,
        rate_scale_per_s: found.rate_scale_per_s,
        character: found.character,
        origin,
    })
}

pub fn draw(growth: &Growth, wish: &Wish, room: &Room) -> Result<Piece, FigureError> {
    let height = room.height_or(0.78);
    let measured = || wish.points.iter().copied();
    let exact = growth.exact.clone().unwrap_or_default();
    let rates = growth.model.iter().chain(&exact).filter_map(|r| *r).chain(measured().map(|p| p.1));
    let unstable = rates.filter(|r| *r >= 0.0).fold(0.0, f64::max);
    let x = Scale::linear(growth.wavenumber.iter().copied().chain(measured().map(|p| p.0)), true);
    let axes = Axes::fit(
        Axis::new(x, "reduced wavenumber *x* = *kR*"),
        Axis::new(Scale::linear([0.0, 1.12 * unstable].into_iter(), true), "growth rate *ω* / *ω*_{0}"),
        Area { x: 0.0, y: 0.0, width: room.width, height },
        Fit::default(),
    );
    let mut drawing = Drawing::new(&room.prefix);
    let pieces = |values: &[Option<f64>]| {
        let rows = growth.wavenumber.iter().zip(values);
        rows.filter_map(|(x, r)| r.map(|r| axes.point(*x, r))).collect::<Vec<_>>()
    };
    let (model, theory) = (pieces(&growth.model), pieces(&exact));
    let look = |i: usize| Look::line(SERIES[[0, 2][i]], 1.3).dashed(DASHES[i]);
    let dot = Mark::Dot { radius: 1.9, look: Look::filled(PAPER).outlined(INK, 0.7) };
    drawing.clipped(axes.inside, |to| {
        to.polyline(&model, look(0));
        to.polyline(&theory, look(1));
    });
    axes.draw(&mut drawing);
    measured().filter(|p| axes.hold(p.0, p.1)).for_each(|p| mark(&mut drawing, axes.point(p.0, p.1), dot));
    let mut entries = vec![(Mark::Line(look(0)), Label::plain("this model"))];
    if !theory.is_empty() {
        entries.push((Mark::Line(look(1)), Label::plain("exact theory")));
    }
    if !wish.points.is_empty() {
        entries.push((dot, Label::plain("measured")));
    }
    let scale = format!("*ω*_{{0}} = {} s^{{-1}}", significant(growth.rate_scale_per_s, 3));
    entries.push((Mark::Line(Look::line("none", 0.0)), Label::marked(&scale)));
    let taken = model.iter().chain(&theory).copied();
    let corner = emptiest_corner(axes.inside, legend_size(&entries), taken);
    legend(&mut drawing, axes.inside, corner, &entries);
    let mut notes: Vec<String> = growth.exact_source.iter().map(|s| format!("exact theory: {s}")).collect();
    notes.extend(growth.character.iter().map(|c| format!("instability: {c}")));
    Ok(Piece { drawing, size: (room.width, height), numbers: numbers(growth, wish), notes })
}

fn numbers(growth: &Growth, wish: &Wish) -> Numbers {
    let (n, m) = (growth.wavenumber.len(), wish.points.len());
    let real = |r: &Option<f64>| r.unwrap_or(f64::NAN);
    let exact = growth.exact.as_ref().map_or(vec![f64::NAN; n], |e| e.iter().map(real).collect());
    let padded = |mut v: Vec<f64>| {
        v.resize(n + m, f64::NAN);
        Cells::Reals(v)
    };
    let x = growth.wavenumber.iter().copied().chain(wish.points.iter().map(|p| p.0)).collect();
    let measured = std::iter::repeat_n(f64::NAN, n).chain(wish.points.iter().map(|p| p.1)).collect();
    let table = Numbers::new()
        .with("wavenumber_kr", Cells::Reals(x))
        .with("model", padded(growth.model.iter().map(real).collect()))
        .with("exact", padded(exact));
    if m > 0 { table.with("measured", Cells::Reals(measured)) } else { table }
}
