//! Measured drops beside a map: how many lie in their own mode, and how far off the sizes are.
//!
//! Equation: a point's mode is that of the nearest cell (distances in logarithms over each axis's range); its size is `ln d` between the
//! cells about it, linear in each axis's logarithm, from those of that mode alone.
//!
//! Holds for: points within the map; what lies outside is counted and not scored.

use crate::outcome::Mode;
use serde::Serialize;

/// What a score needs of a map: the values of each key in each cell, modes, diameters (NaN where there is none).
#[derive(Debug, Clone, Copy)]
pub struct Cells<'a> {
    pub keys: &'a [&'a [f64]],
    pub modes: &'a [Option<Mode>],
    pub diameters: &'a [f64],
}

/// A measured point.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// SI values of the map's keys.
    pub at: Vec<f64>,
    pub mode: Option<Mode>,
    pub diameter: Option<f64>,
}

/// What the map says at a point.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Told {
    /// Null where the nearest cell gave no answer.
    pub mode: Option<Mode>,
    pub diameter_m: Option<f64>,
}

/// All points together.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Score {
    pub points: usize,
    /// Beyond the map's range.
    pub outside: usize,
    /// Points within that told their mode, and how many of them lie in it.
    pub with_mode: usize,
    pub mode_right: usize,
    /// Points within that told their size where the map has one in their mode, their rms difference and its mean
    /// (measured over mapped, less one).
    pub with_size: usize,
    pub size_rms_relative: Option<f64>,
    pub size_mean_relative: Option<f64>,
    pub text: String,
}

/// How far beyond the outermost cells a point still counts, as a share of the axis's range.
const SLACK: f64 = 0.02;

/// One axis: its coordinate and its distinct places.
struct Scale {
    log: bool,
    places: Vec<f64>,
}

impl Scale {
    fn of(values: &[f64]) -> Scale {
        let log = values.iter().all(|v| *v > 0.0);
        let mut places: Vec<f64> = values.iter().map(|v| if log { v.ln() } else { *v }).collect();
        places.sort_by(f64::total_cmp);
        places.dedup_by(|a, b| (*a - *b).abs() <= 1e-9 * a.abs().max(b.abs()).max(1e-3));
        Scale { log, places }
    }

    fn at(&self, value: f64) -> f64 {
        if self.log { value.ln() } else { value }
    }

    fn range(&self) -> f64 {
        (self.places[self.places.len() - 1] - self.places[0]).max(f64::MIN_POSITIVE)
    }

    fn holds(&self, u: f64) -> bool {
        let slack = if self.places.len() > 1 { SLACK * self.range() } else { 1e-6 * self.places[0].abs().max(1e-3) };
        u >= self.places[0] - slack && u <= self.places[self.places.len() - 1] + slack
    }

    /// The place below, and the share of the way to the next.
    fn between(&self, u: f64) -> (usize, f64) {
        if self.places.len() < 2 {
            return (0, 0.0);
        }
        let low = self.places.partition_point(|p| *p <= u).clamp(1, self.places.len() - 1) - 1;
        let share = (u - self.places[low]) / (self.places[low + 1] - self.places[low]);
        (low, share.clamp(0.0, 1.0))
    }

    fn index(&self, value: f64) -> usize {
        let u = self.at(value);
        let near = |i: &usize| (self.places[*i] - u).abs();
        (0..self.places.len()).min_by(|a, b| near(a).total_cmp(&near(b))).unwrap_or(0)
    }
}

/// Holds points against a map that has at least one cell; what the map says at each comes beside, `None` outside of it.
pub fn score(cells: &Cells<'_>, points: &[Point]) -> (Score, Vec<Option<Told>>) {
    let scales: Vec<Scale> = cells.keys.iter().map(|values| Scale::of(values)).collect();
    let place =
        |cell: usize| scales.iter().zip(cells.keys).map(|(s, values)| s.index(values[cell])).collect::<Vec<_>>();
    let grid: std::collections::HashMap<Vec<usize>, usize> =
        (0..cells.modes.len()).map(|cell| (place(cell), cell)).collect();
    let told: Vec<Option<Told>> = points.iter().map(|point| told(cells, &scales, &grid, &point.at)).collect();
    let inside: Vec<(&Point, &Told)> = points.iter().zip(&told).filter_map(|(p, t)| Some((p, t.as_ref()?))).collect();
    let with_mode: Vec<bool> = inside.iter().filter_map(|(p, t)| Some(p.mode? == t.mode?)).collect();
    let same = |p: &Point, t: &Told| p.mode.is_none_or(|mode| Some(mode) == t.mode);
    let sizes: Vec<f64> = inside
        .iter()
        .filter(|(p, t)| same(p, t))
        .filter_map(|(p, t)| Some(p.diameter? / t.diameter_m? - 1.0))
        .collect();
    let mean = |of: fn(f64) -> f64| {
        (!sizes.is_empty()).then(|| sizes.iter().map(|d| of(*d)).sum::<f64>() / sizes.len() as f64)
    };
    let mut found = Score {
        points: points.len(),
        outside: points.len() - inside.len(),
        with_mode: with_mode.len(),
        mode_right: with_mode.iter().filter(|right| **right).count(),
        with_size: sizes.len(),
        size_rms_relative: mean(|d| d * d).map(f64::sqrt),
        size_mean_relative: mean(|d| d),
        text: String::new(),
    };
    found.text = words(&found);
    (found, told)
}

fn told(
    cells: &Cells<'_>,
    scales: &[Scale],
    grid: &std::collections::HashMap<Vec<usize>, usize>,
    at: &[f64],
) -> Option<Told> {
    let u: Vec<f64> = scales.iter().zip(at).map(|(scale, value)| scale.at(*value)).collect();
    if !scales.iter().zip(&u).all(|(scale, u)| u.is_finite() && scale.holds(*u)) {
        return None;
    }
    let distance = |cell: usize| -> f64 {
        let apart = |(k, scale): (usize, &Scale)| ((scale.at(cells.keys[k][cell]) - u[k]) / scale.range()).powi(2);
        scales.iter().enumerate().map(apart).sum()
    };
    let nearest = (0..cells.modes.len()).min_by(|a, b| distance(*a).total_cmp(&distance(*b)))?;
    let mode = cells.modes[nearest];
    let brackets: Vec<(usize, f64)> = scales.iter().zip(&u).map(|(scale, u)| scale.between(*u)).collect();
    let (mut sum, mut weights) = (0.0, 0.0);
    for corner in 0..1_usize << brackets.len() {
        let upper = |k: usize| corner >> k & 1;
        let place: Vec<usize> = brackets.iter().enumerate().map(|(k, (low, _))| low + upper(k)).collect();
        let share = |(k, (_, share)): (usize, &(usize, f64))| if upper(k) == 1 { *share } else { 1.0 - share };
        let weight: f64 = brackets.iter().enumerate().map(share).product();
        if let Some(cell) = grid.get(&place).filter(|cell| cells.modes[**cell] == mode && cells.diameters[**cell] > 0.0)
        {
            sum += weight * cells.diameters[*cell].ln();
            weights += weight;
        }
    }
    // Where the cells about the point are of other modes or missing, its own nearest one speaks.
    let own = Some(cells.diameters[nearest]).filter(|d| *d > 0.0);
    let diameter_m = if weights > 0.0 { Some((sum / weights).exp()) } else { own };
    Some(Told { mode, diameter_m })
}

fn words(s: &Score) -> String {
    let mut parts = Vec::new();
    if s.with_mode > 0 {
        parts.push(format!("{} of {} measured points lie in their own mode", s.mode_right, s.with_mode));
    }
    if let (Some(rms), Some(mean)) = (s.size_rms_relative, s.size_mean_relative) {
        parts.push(format!(
            "{} measured sizes differ by {:.1} % rms ({:+.1} % on average)",
            s.with_size,
            100.0 * rms,
            100.0 * mean
        ));
    }
    if s.outside > 0 {
        parts.push(format!("{} of {} points lie outside the map and are not scored", s.outside, s.points));
    }
    if parts.is_empty() {
        "the measured points tell neither mode nor size: nothing to score".into()
    } else {
        parts.join("; ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Invented: d = x^0.5 y^-0.25, jetting above y = 4.
    fn with<R>(of: impl Fn(&Cells<'_>) -> R) -> R {
        let (mut x, mut y) = (Vec::new(), Vec::new());
        for i in 0..5 {
            for j in 0..4 {
                x.push(2f64.powi(i));
                y.push(2f64.powi(j));
            }
        }
        let modes: Vec<_> = y.iter().map(|y| Some(if *y > 4.0 { Mode::Jetting } else { Mode::Dripping })).collect();
        let diameters: Vec<f64> = x.iter().zip(&y).map(|(x, y)| x.powf(0.5) * y.powf(-0.25)).collect();
        of(&Cells { keys: &[&x, &y], modes: &modes, diameters: &diameters })
    }

    fn point(x: f64, y: f64, mode: Option<Mode>, diameter: f64) -> Point {
        Point { at: vec![x, y], mode, diameter: Some(diameter) }
    }

    // A power law is straight in logarithms: interpolation is exact.
    #[test]
    fn theory_a_power_law_is_met_between_the_cells() {
        let points =
            [point(3.0, 1.7, Some(Mode::Dripping), 3f64.powf(0.5) * 1.7f64.powf(-0.25)), point(11.0, 3.0, None, 1.0)];
        let (found, told) = with(|cells| score(cells, &points));
        assert_relative_eq!(
            told[0].as_ref().expect("inside").diameter_m.expect("a size"),
            points[0].diameter.expect("given"),
            max_relative = 1e-12
        );
        assert_relative_eq!(
            told[1].as_ref().expect("inside").diameter_m.expect("a size"),
            11f64.sqrt() * 3f64.powf(-0.25),
            max_relative = 1e-12
        );
        assert_eq!((found.with_mode, found.mode_right, found.with_size), (1, 1, 2));
    }

    #[test]
    fn modes_are_counted_and_points_outside_are_not() {
        let points = [
            point(2.0, 7.9, Some(Mode::Dripping), 1.0),
            point(2.0, 7.9, Some(Mode::Jetting), 1.1 * 2f64.sqrt() * 8f64.powf(-0.25)),
            point(100.0, 2.0, Some(Mode::Dripping), 1.0),
        ];
        let (found, told) = with(|cells| score(cells, &points));
        assert_eq!((found.points, found.outside, found.with_mode, found.mode_right), (3, 1, 2, 1));
        assert!(told[2].is_none());
        // Only the point in its own mode has a size that compares; across the border no cell of the other mode takes part.
        assert_eq!(found.with_size, 1);
        assert!(found.text.contains("1 of 2 measured points") && found.text.contains("1 of 3"), "{}", found.text);
        assert!((found.size_rms_relative.expect("one") - 0.1).abs() < 0.01);
    }
}
