//! `neck`: the thinnest radius against the time left to pinch-off, with the similarity laws that may hold.
//!
//! Laws (tau = time left): viscous thread `h = 0.0709 (gamma/mu) tau` (Papageorgiou 1995, Phys. Fluids 7, 1529), viscous
//! with inertia `h = 0.0304 (gamma/mu) tau` (Eggers 1993, Phys. Rev. Lett. 71, 3458), thin liquid
//! `h = 0.7 (gamma tau^2/rho)^(1/3)` (exponent: Keller & Miksis 1983, SIAM J. Appl. Math. 43, 268; prefactor about 0.7, recalled
//! from memory), equal viscosities inside and outside `h = 0.0335 (gamma/mu) tau` (Lister & Stone 1998, Phys. Fluids 10, 2758,
//! recalled from memory). They are drawn, never fitted.

use super::axes::{Axes, Axis, Fit, Mark, emptiest_corner, legend, legend_size};
use super::drawing::{Area, Drawing, Look};
use super::letters::Label;
use super::palette::{DASHES, MIST, SERIES, SLATE};
use super::scale::Scale;
use super::table::{Cells, Numbers};
use super::{FigureError, Piece, Room, unit};
use crate::case::Case;
use crate::outcome::NeckSample;
use crate::record::Recorded;
use crate::theory::pinch_laws::{EQUAL_VISCOSITY_SPEED, THIN_EXPONENT};

const VISCOUS: f64 = 0.0709;
const VISCOUS_INERTIAL: f64 = 0.0304;
const THIN_PREFACTOR: f64 = 0.7;
/// Outer over inner viscosity below which the surrounding is passive to a neck, ...
const PASSIVE: f64 = 0.02;
/// ... and how far from one the law for equal viscosities is still drawn.
const NEARLY_EQUAL: f64 = 2.0;
/// Above this Ohnesorge number a neck is not thin-liquid anywhere that it is drawn.
const VISCOUS_FROM: f64 = 1.0;
/// Width of the later approaches: wide enough to show where the first one lies on them.
const LATER: f64 = 2.0;
/// The thinnest place that moves by more than so many of its radii from sample to sample, ...
const JUMP: f64 = 6.0;
/// ... or thins at once to less than this, is another neck than before. Samples are 3 % apart.
const DROP: f64 = 0.85;
/// So does one whose rate of thinning grows at once by this factor: of two necks the thinner one counts, and when one overtakes
/// the other the radius has a kink. (A single neck's rate was seen to change by up to 4 from sample to sample in the examples, at a
/// passing by 10 to 800.)
const KINK: f64 = 6.0;
/// Breakups drawn singly.
const SINGLY: usize = 60;

/// A law of the form h = c tau^p.
#[derive(Debug, Clone, PartialEq)]
struct Law {
    name: &'static str,
    factor: f64,
    power: f64,
}

fn laws(case: &Case, ohnesorge: f64) -> Vec<Law> {
    let speed = case.tension / case.inner.viscosity;
    let ratio = case.outer.as_ref().map_or(0.0, |o| o.viscosity / case.inner.viscosity);
    if ratio > PASSIVE {
        let equal = (1.0 / NEARLY_EQUAL..=NEARLY_EQUAL).contains(&ratio);
        let law =
            Law { name: "equal viscosities, 0.0335 *γτ*/*μ*", factor: EQUAL_VISCOSITY_SPEED * speed, power: 1.0 };
        return if equal { vec![law] } else { Vec::new() };
    }
    let mut laws =
        vec![Law { name: "viscous, inertial, 0.0304 *γτ*/*μ*", factor: VISCOUS_INERTIAL * speed, power: 1.0 }];
    if ohnesorge < VISCOUS_FROM {
        let factor = THIN_PREFACTOR * (case.tension / case.inner.density).cbrt();
        laws.push(Law { name: "thin liquid, 0.7 (*γτ*^{2}/*ρ*)^{1/3}", factor, power: THIN_EXPONENT });
    } else {
        laws.push(Law { name: "viscous, 0.0709 *γτ*/*μ*", factor: VISCOUS * speed, power: 1.0 });
    }
    laws
}

/// The samples that lead to one breakup.
struct Approach {
    pinch: usize,
    left: Vec<f64>,
    radius: Vec<f64>,
    time: Vec<f64>,
}

/// Samples of the neck that broke: what was the thinnest place before it, elsewhere on the thread, is left out.
fn of_one_neck<'a>(samples: &'a [&'a NeckSample]) -> &'a [&'a NeckSample] {
    let is_other = |w: &[&NeckSample]| {
        (w[1].position - w[0].position).abs() > JUMP * w[0].radius || w[1].radius < DROP * w[0].radius
    };
    let moved = samples.windows(2).rposition(is_other).map_or(0, |i| i + 1);
    let rate = |a: &NeckSample, b: &NeckSample| (a.radius / b.radius).ln() / (b.time - a.time);
    let is_kink = |w: &[&NeckSample]| rate(w[1], w[2]) > KINK * rate(w[0], w[1]).max(0.0);
    let passed = samples.windows(3).rposition(is_kink).map_or(0, |i| i + 1);
    &samples[moved.max(passed)..]
}

fn approaches(run: &Recorded) -> Vec<Approach> {
    let of = |(i, p): (usize, &crate::outcome::PinchOff)| {
        let samples: Vec<_> =
            run.necks.iter().filter(|s| s.pinch == Some(i) && s.time < p.time && s.radius > 0.0).collect();
        let rows: Vec<(f64, f64, f64)> =
            of_one_neck(&samples).iter().map(|s| (p.time - s.time, s.radius, s.time)).collect();
        Approach {
            pinch: i,
            left: rows.iter().map(|r| r.0).collect(),
            radius: rows.iter().map(|r| r.1).collect(),
            time: rows.iter().map(|r| r.2).collect(),
        }
    };
    run.pinch_offs.iter().enumerate().map(of).filter(|a| a.left.len() > 1).collect()
}

pub fn draw(run: &Recorded, room: &Room) -> Result<Piece, FigureError> {
    let found = approaches(run);
    let Some(first) = found.first() else {
        return Err(FigureError::Nothing("nothing pinched off in this record, so there is no neck to draw".into()));
    };
    let (most_left, most_radius) = (largest(&found, |a| &a.left), largest(&found, |a| &a.radius));
    let (t, l) = (unit::time(most_left), unit::length(most_radius));
    let x = Scale::log(found.iter().flat_map(|a| a.left.iter().map(|v| v / t.si)));
    let y = Scale::log(found.iter().flat_map(|a| a.radius.iter().map(|v| v / l.si)));
    let height = room.height_or(0.82);
    let axes = Axes::fit(
        Axis::new(x, &format!("time to pinch-off *τ* ({})", t.name)),
        Axis::new(y, &format!("neck radius *h*_{{min}} ({})", l.name)),
        Area { x: 0.0, y: 0.0, width: room.width, height },
        Fit::default(),
    );
    let mut drawing = Drawing::new(&room.prefix);
    let laws = laws(&run.case, run.summary.groups.ohnesorge);
    let curve = |a: &Approach| -> Vec<(f64, f64)> {
        a.left.iter().zip(&a.radius).map(|(x, y)| axes.point(x / t.si, y / l.si)).collect()
    };
    let law_look = |i: usize| Look::line(SLATE, 0.8).dashed(DASHES[(i + 1) % DASHES.len()]);
    drawing.clipped(axes.inside, |to| {
        for a in found[1..].iter().rev().take(SINGLY).rev() {
            to.polyline(&curve(a), Look::line(MIST, LATER));
        }
        for (i, law) in laws.iter().enumerate() {
            let (low, high) = axes.x_scale().ends();
            let at = |tau: f64| axes.point(tau, law.factor * (tau * t.si).powf(law.power) / l.si);
            to.line(at(low), at(high), law_look(i));
        }
        to.polyline(&curve(first), Look::line(SERIES[0], 1.3));
    });
    axes.draw(&mut drawing);
    let mut entries = vec![(Mark::Line(Look::line(SERIES[0], 1.3)), Label::plain("first pinch-off"))];
    if found.len() > 1 {
        let n = (found.len() - 1).min(SINGLY);
        let later = if n == 1 { "a later one".to_owned() } else { format!("{n} later ones") };
        entries.push((Mark::Line(Look::line(MIST, LATER)), Label::plain(later)));
    }
    entries.extend(laws.iter().enumerate().map(|(i, law)| (Mark::Line(law_look(i)), Label::marked(law.name))));
    let mut points: Vec<(f64, f64)> = found.iter().flat_map(&curve).collect();
    for law in &laws {
        let ((low, high), steps) = (axes.x_scale().ends(), 60);
        let tau = (0..=steps).map(|i| low * (high / low).powf(f64::from(i) / f64::from(steps)));
        points.extend(tau.map(|tau| axes.point(tau, law.factor * (tau * t.si).powf(law.power) / l.si)));
    }
    let corner = emptiest_corner(axes.inside, legend_size(&entries), points.iter().copied());
    legend(&mut drawing, axes.inside, corner, &entries);
    let mut notes = vec![
        "laws drawn with their published prefactors, not fitted".to_owned(),
        "each line follows the neck that broke, from when it was the thinnest place".to_owned(),
    ];
    if laws.is_empty() {
        notes.push("no similarity law is known to hold for this ratio of viscosities; none is drawn".into());
    }
    if found.len() > SINGLY + 1 {
        notes.push(format!("the first and the last {SINGLY} of {} breakups are drawn", found.len()));
    }
    Ok(Piece { drawing, size: (room.width, height), numbers: numbers(&found), notes })
}

fn largest(found: &[Approach], of: fn(&Approach) -> &Vec<f64>) -> f64 {
    found.iter().flat_map(|a| of(a).iter().copied()).fold(0.0, f64::max)
}

fn numbers(found: &[Approach]) -> Numbers {
    let all = |of: fn(&Approach) -> &Vec<f64>| Cells::Reals(found.iter().flat_map(|a| of(a).iter().copied()).collect());
    let index = found.iter().flat_map(|a| std::iter::repeat_n(a.pinch as i64, a.left.len())).collect();
    Numbers::new()
        .with("pinch", Cells::Whole(index))
        .with("time_s", all(|a| &a.time))
        .with("time_left_s", all(|a| &a.left))
        .with("neck_radius_m", all(|a| &a.radius))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_place_is_another_neck() {
        let sample =
            |time: f64, position: f64, radius: f64| NeckSample { time, position, radius, length: 1.0, pinch: None };
        let of = |places: &[(f64, f64)]| {
            let samples: Vec<NeckSample> =
                places.iter().zip(0..).map(|((z, h), i)| sample(f64::from(i), *z, *h)).collect();
            of_one_neck(&samples.iter().collect::<Vec<_>>()).len()
        };
        assert_eq!(of(&[(0.0, 10.0), (1.0, 9.7), (2.0, 9.4)]), 3);
        assert_eq!(of(&[(0.0, 10.0), (900.0, 9.7), (901.0, 9.4)]), 2, "moved away");
        assert_eq!(of(&[(0.0, 10.0), (1.0, 5.0), (1.0, 4.9)]), 2, "thinned at once");
        assert_eq!(of(&[]), 0);
        assert_eq!(of(&[(0.0, 10.0), (0.1, 9.99), (0.2, 9.7), (0.3, 9.4)]), 3, "overtaken by a faster one");
    }
}
