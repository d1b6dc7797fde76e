//! The universal neck of a viscous thread with inertia.
//!
//! Equation (h = tau p(x), u = q(x)/sqrt(tau), x = z/sqrt(tau), viscous units):
//! `-p + (q + x/2) p' = -q' p/2`, `q/2 + (q + x/2) q' = p'/p^2 + 3 (q' p^2)'/p^2`; regular where q + x/2 = 0 (there q' = 2),
//! and q ~ 1/x far away on both sides. Two unknowns (place and thickness of the regular point) meet two conditions.
//!
//! Symbols: lengths in l_v = mu^2/(rho gamma), times in t_v = mu^3/(rho gamma^2); tau time to breakup.
//!
//! Source: Eggers 1993, Phys. Rev. Lett. 71, 3458. Power series about the regular point, then shooting: own computation.
//!
//! Holds for: necks thinner than l_v, before breakup; h_min = 0.030426 (gamma/mu) tau.

use nalgebra::{Matrix2, Vector2, Vector3};

const TERMS: usize = 24;
/// The series converges to about 1.8; it is left well inside.
const LEAVE_SERIES: f64 = 0.3;
const STEPS: usize = 800;
const NEWTON_LIMIT: usize = 12;
/// Far ends tried in turn: each answer starts the next, because solutions off the right one blow up like exp(x^2/12).
const ENDS: [f64; 14] = [3.0, 3.25, 3.5, 3.75, 4.0, 4.25, 4.5, 4.75, 5.0, 5.25, 5.5, 5.75, 6.0, 6.25];

/// The similarity solution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Universal {
    /// Place of the regular point.
    pub place: f64,
    /// p there.
    pub thickness: f64,
    /// Smallest p: h_min = `speed` (gamma/mu) tau.
    pub speed: f64,
}

/// Shoots for the solution; `None` if Newton's method fails.
pub fn universal() -> Option<Universal> {
    // Start: published digits, only to land in the right basin.
    let mut point = Vector2::new(-1.57, 0.0304);
    for end in ENDS {
        for _ in 0..NEWTON_LIMIT {
            let miss = miss(point, end);
            let mut jacobian = Matrix2::zeros();
            for j in 0..2 {
                let mut moved = point;
                moved[j] *= 1.0 + 1e-7;
                jacobian.set_column(j, &((self::miss(moved, end) - miss) / (moved[j] - point[j])));
            }
            let step = jacobian.try_inverse()? * miss;
            point -= step;
            if step.amax() < 1e-10 {
                break;
            }
        }
        if !(point[0].is_finite() && point[1].is_finite()) {
            return None;
        }
    }
    let (p, _) = series(point);
    let at = |i: i32| evaluate(&p, f64::from(i) * 1e-4);
    let speed = (-1000..1000).map(at).fold(f64::INFINITY, f64::min);
    Some(Universal { place: point[0], thickness: point[1], speed })
}

/// How far the solution through `point` is from q ~ 1/x at +-end: x q' + q on both sides.
fn miss(point: Vector2<f64>, end: f64) -> Vector2<f64> {
    let (p, q) = series(point);
    let slope: Vec<f64> = (1..q.len()).map(|n| n as f64 * q[n]).collect();
    let side = |sign: f64| {
        let e = sign * LEAVE_SERIES;
        let mut y = Vector3::new(evaluate(&p, e), evaluate(&q, e), evaluate(&slope, e));
        let mut x = point[0] + e;
        let step = (sign * end - x) / STEPS as f64;
        for _ in 0..STEPS {
            let k1 = derivative(x, y);
            let k2 = derivative(x + 0.5 * step, y + k1 * (0.5 * step));
            let k3 = derivative(x + 0.5 * step, y + k2 * (0.5 * step));
            let k4 = derivative(x + step, y + k3 * step);
            y += (k1 + (k2 + k3) * 2.0 + k4) * (step / 6.0);
            x += step;
        }
        y[1] + x * y[2]
    };
    Vector2::new(side(1.0), side(-1.0))
}

/// Both equations solved for the slopes of (p, q, q').
fn derivative(x: f64, y: Vector3<f64>) -> Vector3<f64> {
    let [p, q, slope] = [y[0], y[1], y[2]];
    let drift = q + 0.5 * x;
    let p_slope = p * (1.0 - 0.5 * slope) / drift;
    Vector3::new(p_slope, slope, (0.5 * q + drift * slope - p_slope / (p * p) - 6.0 * slope * p_slope / p) / 3.0)
}

/// Power series of p and q about the regular point.
fn series(point: Vector2<f64>) -> (Vec<f64>, Vec<f64>) {
    let mut p = vec![0.0; TERMS + 1];
    let mut q = vec![0.0; TERMS + 2];
    (p[0], q[0], q[1]) = (point[1], -0.5 * point[0], 2.0);
    for n in 1..=TERMS {
        // Each order is linear in its two new coefficients p_n and q_(n+1): what is left with both zero, then a 2x2 solve.
        let p_slope: Vec<f64> = (1..=n).map(|i| i as f64 * p[i]).chain([0.0]).collect();
        let q_slope: Vec<f64> = (1..=n + 1).map(|i| i as f64 * q[i]).collect();
        let mut drift = q[..=n].to_vec();
        drift[0] += 0.5 * point[0];
        drift[1] += 0.5;
        let square: Vec<f64> = (0..=n).map(|m| product(&p, &p, m)).collect();
        let first = -p[n] + product(&drift, &p_slope, n) + 0.5 * product(&q_slope, &p, n);
        let inertia: Vec<f64> = (0..n).map(|m| 0.5 * q[m] + product(&drift, &q_slope, m)).collect();
        let m = n as f64;
        let second = product(&square, &inertia, n - 1) - p_slope[n - 1] - 3.0 * m * product(&q_slope, &square, n);
        let thickness = point[1];
        let matrix = Matrix2::new(
            2.5 * m,
            0.5 * (m + 1.0) * thickness,
            -m - 12.0 * m * thickness,
            -3.0 * m * (m + 1.0) * thickness * thickness,
        );
        let new =
            matrix.try_inverse().map_or(Vector2::repeat(f64::NAN), |inverse| inverse * Vector2::new(-first, -second));
        (p[n], q[n + 1]) = (new[0], new[1]);
    }
    (p, q)
}

/// Coefficient n of the product of two power series.
fn product(a: &[f64], b: &[f64], n: usize) -> f64 {
    (0..=n).map(|i| a[i] * b[n - i]).sum()
}

fn evaluate(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}
