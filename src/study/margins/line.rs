//! Lines through runs whose drops scatter, and where they let the size leave the band.
//!
//! Equation: run r at input i scaled by f gives `ln d_r = a + s w_r + y_i(ln f) + e_r` with `y_i(x) = b_i x + c_i x^2`: a the level
//! of the case itself, s the shift of the case's own accuracy against the lines' (w_r = 1 for its runs, else 0), b_i and c_i slope
//! and bend along input i, e_r chance with variance v/n_r. Least squares with weights n_r; v is what the runs leave about the lines,
//! so that whatever makes their means differ (drops that scatter, drops that follow their neighbours, a line that bends twice) is in
//! it, and so is the jumping of an undisturbed jet, which locks to another pattern at the next setting. The size leaves the band
//! where `y_i = ln(1 +- 5 %)`; level and shift take no part in that. What is told is what re-runs show: at the near end one of
//! N drops still lies in the band, at the far end it does not, each with 95 %: the nearest x where `|y_i| + t s` reaches the band
//! and the nearest where `|y_i| - t s` does, `s^2 = s_y^2 + v/N`, s_y the standard error of y_i(x) and t Student's.
//!
//! Symbols: d mean diameter of a run (m), n_r its settled primaries (-), N = 20, f factor on the input (-), all else dimensionless.
//!
//! Source: weighted linear regression with prediction bands (common practice, no source).
//!
//! Holds for: inputs that change by some tens of percent, along which ln d is nearly a parabola over ln f.

use super::irregular::DROPS;
use super::{CHANGE_MAX, DIAMETER_BAND};
use crate::study::quantiles;
use nalgebra::{DMatrix, DVector, Matrix2, Vector2};

/// Chance with which a re-run at an end of an interval may lie on the wrong side of the border.
const MISS: f64 = 0.05;

/// A run with its settled drops.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    /// Index of the input that was scaled, and ln of its factor (zero: the case itself).
    pub input: usize,
    pub along: f64,
    /// ln(d), d in m.
    pub size: f64,
    pub drops: usize,
    /// Whether run at an accuracy other than that of the lines.
    pub shifted: bool,
}

/// Points at which a line is looked at on the way to `CHANGE_MAX`.
const LOOKS: u32 = 500;

/// Lines along all inputs.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Lines {
    /// b_i and c_i with their covariances, by input; `None` where too few of its runs gave drops.
    lines: Vec<Option<(Vector2<f64>, Matrix2<f64>)>>,
    /// Student's t.
    quantile: f64,
    /// sqrt(v): the standard deviation of a run's mean is this over the root of its drops.
    pub scatter: f64,
    /// Diameter of the case at its own accuracy, by all runs.
    pub level: f64,
}

/// Lines through `points` along so many inputs; `None` where too few runs gave drops to tell any and their errors. An input needs
/// points at two changes.
pub(super) fn lines(points: &[Point], inputs: usize) -> Option<Lines> {
    let shifts = points.iter().any(|p| p.shifted) && points.iter().any(|p| !p.shifted);
    // Where the two numbers of each input stand; an input without a line takes no place, lest it spoil the others'.
    let mut unknowns = 1 + usize::from(shifts);
    let places: Vec<Option<usize>> = (0..inputs)
        .map(|i| {
            let mut along = points.iter().filter(|p| p.input == i && p.along != 0.0).map(|p| p.along);
            let first = along.next()?;
            along.any(|other| other != first).then(|| {
                unknowns += 2;
                unknowns - 2
            })
        })
        .collect();
    let row = |p: &Point| {
        let mut row = DVector::zeros(unknowns);
        row[0] = 1.0;
        if shifts {
            row[1] = f64::from(u8::from(p.shifted));
        }
        if let Some(at) = places[p.input] {
            row[at] = p.along;
            row[at + 1] = p.along * p.along;
        }
        row
    };
    // A lone point along an input without a line tells nothing.
    let points: Vec<&Point> = points.iter().filter(|p| p.along == 0.0 || places[p.input].is_some()).collect();
    let freedom = points.len().checked_sub(unknowns).filter(|n| *n > 0)? as f64;
    let (mut matrix, mut right) = (DMatrix::zeros(unknowns, unknowns), DVector::zeros(unknowns));
    for p in &points {
        let row = row(p);
        right += p.drops as f64 * p.size * &row;
        matrix += p.drops as f64 * &row * row.transpose();
    }
    let inverse = matrix.cholesky()?.inverse();
    let solved = &inverse * right;
    let left = |p: &&Point| p.drops as f64 * (p.size - row(p).dot(&solved)).powi(2);
    let variance = points.iter().map(left).sum::<f64>() / freedom;
    let quantile = quantiles::f_ratio(1.0 - 2.0 * MISS, 1.0, freedom).sqrt();
    let line = |at: usize| (solved.fixed_rows::<2>(at).into_owned(), variance * inverse.fixed_view::<2, 2>(at, at));
    let level = (solved[0] + if shifts { solved[1] } else { 0.0 }).exp();
    let lines = places.iter().map(|place| place.map(line)).collect();
    Some(Lines { lines, quantile, scatter: variance.sqrt(), level })
}

impl Lines {
    /// The changes (without their sign) up to which and from which on a re-run shows the size in and out of the band along an
    /// input, upwards for `sign` +1; infinite where none does up to `CHANGE_MAX` or nothing is known, zero for the first where scatter alone fills it.
    pub fn border(&self, input: usize, sign: f64) -> [f64; 2] {
        let look = |i: u32| CHANGE_MAX * f64::from(i) / f64::from(LOOKS);
        let Some((line, covariance)) = &self.lines[input] else { return [f64::INFINITY; 2] };
        // How far past the band the size is, by its error farther (`which` +1) or less far (-1).
        let past = |change: f64, which: f64| {
            let along = (sign * change).ln_1p();
            let row = Vector2::new(along, along * along);
            let spread = row.dot(&(covariance * row)).max(0.0) + self.scatter.powi(2) / f64::from(DROPS);
            let size = row.dot(line);
            let beyond = (size - DIAMETER_BAND.ln_1p()).max((-DIAMETER_BAND).ln_1p() - size);
            beyond + which * self.quantile * spread.sqrt()
        };
        [1.0, -1.0].map(|which| {
            let Some(first) = (0..=LOOKS).find(|i| past(look(*i), which) >= 0.0) else { return f64::INFINITY };
            if first == 0 {
                return 0.0;
            }
            let (mut low, mut high) = (look(first - 1), look(first));
            for _ in 0..40 {
                let middle = 0.5 * (low + high);
                if past(middle, which) >= 0.0 { high = middle } else { low = middle }
            }
            high
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Points on lines of slopes 0.5 and -0.2, the first with a bend of -0.3, the second accuracy 1 % larger, each point moved by
    /// its own `off`.
    fn points(off: impl Fn(usize) -> f64) -> Vec<Point> {
        let along =
            [(0, 0.0), (0, -0.25), (0, 0.1), (1, -0.1), (1, 0.25), (0, 0.05), (1, 0.2), (0, 0.0), (1, 0.3), (0, 0.22)];
        let point = |(i, (input, change)): (usize, &(usize, f64))| {
            let (along, shifted) = (f64::ln_1p(*change), i >= 5);
            let line = [0.5 * along - 0.3 * along * along, -0.2 * along][*input];
            Point {
                input: *input,
                along,
                size: line + if shifted { 0.01 } else { 0.0 } + off(i),
                drops: 10 + i,
                shifted,
            }
        };
        along.iter().enumerate().map(point).collect()
    }

    #[test]
    fn exact_lines_end_where_the_power_law_does() {
        let found = lines(&points(|_| 0.0), 2).expect("enough runs");
        assert!(found.scatter < 1e-12);
        let ends = |input, sign, exact: f64| {
            for end in found.border(input, sign) {
                assert_relative_eq!(end, exact, max_relative = 1e-9);
            }
        };
        // The roots of 0.5 x - 0.3 x^2 = ln(1 +- 5 %).
        let root = |band: f64| ((0.5 - (0.25 - 1.2 * band.ln()).sqrt()) / 0.6).exp();
        ends(0, 1.0, root(1.05) - 1.0);
        ends(0, -1.0, 1.0 - root(0.95));
        ends(1, 1.0, 0.95f64.powi(-5) - 1.0);
        ends(1, -1.0, 1.0 - 1.05f64.powi(-5));
    }

    // Against a general library (numpy, `linalg.lstsq` on rows times sqrt(n), and the covariance v (X' W X)^-1) on these points.
    #[test]
    fn lines_and_their_errors_are_those_of_a_general_library() {
        let offsets = [0.003, -0.004, 0.002, -0.006, 0.005, 0.001, 0.012, -0.002, 0.004, -0.007];
        let found = lines(&points(|i| offsets[i]), 2).expect("enough runs");
        let expected = [
            (0.485_803_262_0, -0.436_633_492_4, 0.012_527_730_1, 0.057_320_672_5),
            (-0.124_922_669_8, -0.242_363_600_6, 0.026_037_873_1, 0.123_118_015_0),
        ];
        for ((line, covariance), (b, c, s_b, s_c)) in found.lines.iter().flatten().zip(expected) {
            assert_relative_eq!(line[0], b, max_relative = 1e-6);
            assert_relative_eq!(line[1], c, max_relative = 1e-6);
            assert_relative_eq!(covariance[(0, 0)].sqrt(), s_b, max_relative = 1e-6);
            assert_relative_eq!(covariance[(1, 1)].sqrt(), s_c, max_relative = 1e-6);
        }
        // Student's t, 95 %, 4 degrees of freedom (scipy; handbook tables: 2.132).
        assert_eq!(found.lines.iter().flatten().count(), 2);
        assert_relative_eq!(found.quantile, 2.131_846_786_3, max_relative = 1e-9);
        assert_relative_eq!(found.scatter, 0.013_792_711_740, max_relative = 1e-7);
    }

    #[test]
    fn a_size_that_may_never_leave_the_band_has_no_outer_end() {
        let offsets = [0.009, -0.012, 0.006, -0.018, 0.015, 0.003, 0.036, -0.006, 0.012, -0.021];
        let found = lines(&points(|i| offsets[i]), 2).expect("enough runs");
        let [inner, outer] = found.border(1, 1.0);
        assert!(inner > 0.1 && inner < 0.3 && outer.is_infinite(), "{inner} {outer}");
        assert_eq!(lines(&points(|_| 0.0)[..6], 2), None, "six runs tell no error of six numbers");
    }
}
