//! How the drop's size goes with the flow near the wish, from all runs there and what each of them can know.
//!
//! Equation: `y = a + b x + d` with y = ln(diameter/wish), x = ln(flow/flow_0), flow_0 that of the run nearest to the wish, and d
//! the shift of the case's own accuracy against coarse runs (d = 0 for those); least squares with weights
//! 1/(s^2/n + f^2 + (c x^2)^2) and prior knowledge of b and d: s the CV
//! of the drops of all runs of that mode (a run's own where larger), n its drops, f what two meshes of one fineness differ by,
//! c the bend of y. The wish is at `x = -(a + d)/b`; the variance of y there follows from the same matrix.
//!
//! Symbols: y, x, a, b, d, s, f, c all dimensionless, n drops (-).
//!
//! Source: Bayesian linear regression with normal priors (common practice, no source). The standard deviations of the priors are
//! ours: slopes of the shipped examples lie within 0.4 of those supposed, coarse runs within 1 % of `standard` ones.
//!
//! Holds for: one mode, flows within some tens of percent of flow_0; farther runs count little.

use super::search::Tried;
use nalgebra::{Matrix3, Vector3};

/// Standard deviation of the supposed slope, of the shift between accuracies and (none known) of the level.
const PRIOR: [f64; 3] = [10.0, 0.4, 0.01];
/// Relative difference of two meshes of one fineness.
const FLOOR: f64 = 5e-4;
/// Bend of ln(d) over ln(flow)^2.
const BEND: f64 = 0.1;
/// CV where a run has too few drops to show one and no other run of its mode has more.
const CV_UNKNOWN: f64 = 0.05;
/// Slopes flatter than this tell no flow.
const SLOPE_MIN: f64 = 0.02;
/// Farthest that the place of the wish is looked for, in ln(flow).
const REACH: f64 = 3.0;

/// The line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Law {
    /// Flow that gives the wish, on a coarse run and at the case's own accuracy.
    pub coarse: f64,
    pub own: f64,
    /// Standard deviation of ln(d) there, on coarse runs and at the case's own accuracy.
    pub known: [f64; 2],
    pub slope: f64,
}

/// CV of the drops of all runs of a run's mode, or its own where larger.
pub fn pooled_cv(run: &Tried, tried: &[Tried]) -> f64 {
    let alike = tried.iter().filter(|t| t.mode == run.mode && t.drops > 1);
    let (freedom, squares) = alike.fold((0.0, 0.0), |(n, sum), t| {
        let m = (t.drops - 1) as f64;
        (n + m, sum + m * t.cv * t.cv)
    });
    let pooled = if freedom > 0.0 { (squares / freedom).sqrt() } else { CV_UNKNOWN };
    pooled.max(if run.drops > 1 { run.cv } else { 0.0 })
}

/// The standard error of ln(diameter) of a run, by the drops of all runs of its mode.
pub fn error(run: &Tried, tried: &[Tried]) -> f64 {
    pooled_cv(run, tried) / (run.drops.max(1) as f64).sqrt()
}

/// The line through the runs of the mode of the run nearest to the wish; `None` without a drop.
pub fn law(tried: &[Tried], supposed: f64) -> Option<Law> {
    let with_drop = || tried.iter().filter(|t| t.diameter.is_some());
    let nearest = with_drop().min_by(|a, b| a.off.abs().total_cmp(&b.off.abs()))?;
    let runs: Vec<&Tried> = with_drop().filter(|t| t.mode == nearest.mode).collect();
    let about = nearest.flow.ln();
    let (matrix, right) = normal_equations(&runs, tried, about, supposed);
    let inverse = matrix.try_inverse()?;
    let solved = inverse * right;
    let (a, b, d) = (solved[0], solved[1], solved[2]);
    let slope = if b.abs() < SLOPE_MIN { SLOPE_MIN.copysign(supposed) } else { b };
    let at = |level: f64| (about - level / slope).clamp(about - REACH, about + REACH);
    let known = |x: f64, shift: f64| {
        let g = Vector3::new(1.0, x - about, shift);
        g.dot(&(inverse * g)).sqrt()
    };
    let (coarse, own) = (at(a), at(a + d));
    Some(Law { coarse: coarse.exp(), own: own.exp(), known: [known(coarse, 0.0), known(own, 1.0)], slope })
}

fn normal_equations(runs: &[&Tried], tried: &[Tried], about: f64, supposed: f64) -> (Matrix3<f64>, Vector3<f64>) {
    let mut matrix = Matrix3::from_diagonal(&Vector3::from(PRIOR.map(|sd| sd.powi(-2))));
    let mut right = Vector3::new(0.0, supposed * PRIOR[1].powi(-2), 0.0);
    for run in runs {
        let x = run.flow.ln() - about;
        let row = Vector3::new(1.0, x, if run.own { 1.0 } else { 0.0 });
        let weight = (error(run, tried).powi(2) + FLOOR * FLOOR + (BEND * x * x).powi(2)).recip();
        right += weight * run.off * row;
        matrix += weight * row * row.transpose();
    }
    (matrix, right)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outcome::Mode;
    use approx::assert_relative_eq;

    fn run(flow: f64, off: f64, cv: f64, own: bool) -> Tried {
        Tried { own, drops: 9, cv, ..Tried::with_drop(flow, off, Mode::Jetting) }
    }

    #[test]
    fn exact_runs_give_their_line_and_the_shift_of_the_own_accuracy() {
        let line = |x: f64| 0.02 - 0.35 * x;
        let mut tried: Vec<Tried> =
            [-0.06, 0.02, 0.1].iter().map(|x| run(f64::exp(*x), line(*x), 0.0, false)).collect();
        let found = law(&tried, -0.4).expect("drops");
        assert_relative_eq!(found.slope, -0.35, epsilon = 0.004);
        assert_relative_eq!(found.coarse.ln(), 0.02 / 0.35, epsilon = 4e-3);
        // The own accuracy gives drops 0.4 % larger.
        tried.push(run(found.coarse, 0.004, 0.0, true));
        let found = law(&tried, -0.4).expect("drops");
        assert_relative_eq!(found.own.ln(), 0.024 / 0.35, epsilon = 3e-3);
    }

    // One run of nine drops whose CV is 3 % knows its mean to 1 %; four runs at one flow to half of that.
    #[test]
    fn drops_that_scatter_know_their_mean_by_the_root_of_their_number() {
        let four: Vec<Tried> = (0..4).map(|_| run(1.0, 0.0, 0.03, false)).collect();
        let one = law(&four[..1], -0.4).expect("drops");
        assert_relative_eq!(one.known[0], 0.01, max_relative = 2e-3);
        assert_relative_eq!(law(&four, -0.4).expect("drops").known[0], 0.005, max_relative = 6e-3);
        // At the own accuracy nothing was run: the shift's own 1 % comes on top.
        assert_relative_eq!(one.known[1], 2f64.sqrt() * 0.01, max_relative = 2e-3);
    }

    #[test]
    fn two_scattered_runs_do_not_turn_the_slope() {
        // 2.0 and 2.3 % too small at flows 9 % apart, which alone would say that drops grow with the outer flow.
        let near = [run(1529.0, -0.020, 0.03, false), run(1404.0, -0.023, 0.03, false)];
        let found = law(&[&near[..], &[run(2000.0, -0.093, 0.03, false)]].concat(), -0.4).expect("drops");
        assert!((-0.4..-0.15).contains(&found.slope) && (1250.0..1450.0).contains(&found.coarse), "{found:?}");
    }

    #[test]
    fn runs_without_a_drop_tell_no_law() {
        let silent = Tried { diameter: None, ..run(1.0, f64::INFINITY, 0.0, false) };
        assert_eq!(law(&[silent], -0.4), None);
    }
}
