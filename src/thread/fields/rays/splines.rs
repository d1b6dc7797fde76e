//! Cubic splines of the rays: through places along a line, through equal steps for several quantities at once, and
//! B-splines.
//!
//! Equation: with the slopes s_i of a cubic spline, d_i its intervals and y_i its values,
//!   d_i s_(i-1) + 2 (d_(i-1) + d_i) s_i + d_(i-1) s_(i+1) = 3 (d_i (y_i - y_(i-1))/d_(i-1) + d_(i-1) (y_(i+1) -
//!   y_i)/d_i);
//! at an even end s = 0, at an odd one y'' = 0, at a free one y''' is the same in the last two intervals.
//! Symbols: t place within an interval, 0 to 1; lengths as the caller has them.
//! Source: de Boor 1978, A Practical Guide to Splines, chapters IV and X (recalled): slopes, B-splines by recurrence.
//! Holds for: places that increase, four at least.

/// How a quantity goes on where its spline ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    Even,
    Odd,
    Free,
}

/// Value, first and second derivative by the place within an interval from (y_0, s_0, y_1, s_1) at `t`, the interval's
/// length 1.
pub fn hermite(t: f64) -> [[f64; 4]; 3] {
    let (t2, t3) = (t * t, t * t * t);
    [
        [1.0 - 3.0 * t2 + 2.0 * t3, t - 2.0 * t2 + t3, 3.0 * t2 - 2.0 * t3, t3 - t2],
        [6.0 * (t2 - t), 1.0 - 4.0 * t + 3.0 * t2, 6.0 * (t - t2), 3.0 * t2 - 2.0 * t],
        [12.0 * t - 6.0, 6.0 * t - 4.0, 6.0 - 12.0 * t, 6.0 * t - 2.0],
    ]
}

/// Slopes of the spline through (x, y), free at its first end.
pub fn slopes(x: &[f64], y: &[f64], last: Side, s: &mut Vec<f64>, upper: &mut Vec<f64>) {
    let n = x.len() - 1;
    s.clear();
    s.resize(n + 1, 0.0);
    upper.clear();
    upper.resize(n + 1, 0.0);
    let by = |i: usize| (x[i + 1] - x[i], (y[i + 1] - y[i]) / (x[i + 1] - x[i]));
    let ((d0, g0), (d1, g1)) = (by(0), by(1));
    let both = d0 + d1;
    upper[0] = both / d1;
    s[0] = ((d0 + 2.0 * both) * d1 * g0 + d0 * d0 * g1) / (both * d1);
    for i in 1..n {
        let ((d0, g0), (d1, g1)) = (by(i - 1), by(i));
        let below = 1.0 / (2.0 * (d0 + d1) - d1 * upper[i - 1]);
        upper[i] = d0 * below;
        s[i] = (3.0 * (d1 * g0 + d0 * g1) - d1 * s[i - 1]) * below;
    }
    let ((d0, g0), (d1, g1)) = (by(n - 2), by(n - 1));
    let (before, here, right) = match last {
        Side::Even => (0.0, 1.0, 0.0),
        Side::Odd => (1.0, 2.0, 3.0 * g1),
        Side::Free => {
            let both = d0 + d1;
            (both, d0, ((d1 + 2.0 * both) * d0 * g1 + d1 * d1 * g0) / both)
        }
    };
    s[n] = (right - before * s[n - 1]) / (here - before * upper[n - 1]);
    for i in (0..n).rev() {
        s[i] -= upper[i] * s[i + 1];
    }
}

/// The interval of `x` in which `at` lies, from `k` on.
pub fn interval(x: &[f64], at: f64, mut k: usize) -> usize {
    while k + 2 < x.len() && at > x[k + 1] {
        k += 1;
    }
    k
}

/// Value and slope at `at` within interval `k`.
pub fn evaluate(x: &[f64], y: &[f64], s: &[f64], k: usize, at: f64) -> (f64, f64) {
    let d = x[k + 1] - x[k];
    let t = (at - x[k]) / d;
    let [v, slope, _] = hermite(t);
    let data = [y[k], d * s[k], y[k + 1], d * s[k + 1]];
    let sum = |c: [f64; 4]| c[0] * data[0] + c[1] * data[1] + c[2] * data[2] + c[3] * data[3];
    (sum(v), sum(slope) / d)
}

/// Several quantities at one place.
pub const LANES: usize = 8;
pub type Lanes = [f64; LANES];

/// Slopes of the splines through values at equal steps, over the step, of each lane.
#[inline(always)]
pub fn slopes_of_lanes(y: &[Lanes], first: Side, last: Side, s: &mut [Lanes], upper: &mut [f64]) {
    let n = y.len() - 1;
    let (s, upper) = (&mut s[..=n], &mut upper[..=n]);
    let rise = |i: usize| std::array::from_fn::<f64, LANES, _>(|l| y[i + 1][l] - y[i][l]);
    let (a, b) = (rise(0), rise(1));
    (upper[0], s[0]) = match first {
        Side::Even => (0.0, [0.0; LANES]),
        Side::Odd => (0.5, a.map(|a| 1.5 * a)),
        Side::Free => (2.0, std::array::from_fn(|l| 0.5 * (5.0 * a[l] + b[l]))),
    };
    for i in 1..n {
        let below = 1.0 / (4.0 - upper[i - 1]);
        upper[i] = below;
        for l in 0..LANES {
            s[i][l] = (3.0 * (y[i + 1][l] - y[i - 1][l]) - s[i - 1][l]) * below;
        }
    }
    let (a, b) = (rise(n - 2), rise(n - 1));
    let (before, here, right): (f64, f64, Lanes) = match last {
        Side::Even => (0.0, 1.0, [0.0; LANES]),
        Side::Odd => (1.0, 2.0, b.map(|b| 3.0 * b)),
        Side::Free => (2.0, 1.0, std::array::from_fn(|l| 0.5 * (5.0 * b[l] + a[l]))),
    };
    let below = 1.0 / (here - before * upper[n - 1]);
    s[n] = std::array::from_fn(|l| (right[l] - before * s[n - 1][l]) * below);
    for i in (0..n).rev() {
        let after = s[i + 1];
        s[i].iter_mut().zip(after).for_each(|(s, after)| *s -= upper[i] * after);
    }
}

/// The four cubic B-splines that are not 0 between the knots `i` and `i + 1` of 0, 1, ..., m (each end three times
/// more), at `i + t`: values, first and second derivatives.
pub fn b_splines(m: usize, i: usize, t: f64) -> [[f64; 4]; 3] {
    let knot = |j: usize| (j.saturating_sub(3)).min(m) as f64;
    let at = i as f64 + t;
    // of degree 1, 2, 3, by recurrence; knot j of this interval's own counting is i + 3
    let own = i + 3;
    let mut by_degree = [[0.0; 4]; 4];
    by_degree[0][0] = 1.0;
    for degree in 1..4 {
        let before = by_degree[degree - 1];
        let mut saved = 0.0;
        for j in 0..degree {
            let (right, left) = (knot(own + j + 1), knot(own + j + 1 - degree));
            let part = before[j] / (right - left);
            by_degree[degree][j] = saved + (right - at) * part;
            saved = (at - left) * part;
        }
        by_degree[degree][degree] = saved;
    }
    let lower = |degree: usize, lowered: &[f64]| {
        // derivative of degree `degree` from those of one less: d (N_j/(k_(j+d) - k_j) - N_(j+1)/(k_(j+d+1) - k_(j+1)))
        let mut out = [0.0; 4];
        for (j, out) in out.iter_mut().enumerate().take(degree + 1) {
            let first = own + j - degree;
            let share = |number: usize, first: usize| {
                let length = knot(first + degree) - knot(first);
                if length > 0.0 { lowered[number] / length } else { 0.0 }
            };
            let left = if j > 0 { share(j - 1, first) } else { 0.0 };
            let right = if j < degree { share(j, first + 1) } else { 0.0 };
            *out = degree as f64 * (left - right);
        }
        out
    };
    let second = lower(3, &lower(2, &by_degree[1]));
    [by_degree[3], lower(3, &by_degree[2]), second]
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    type Function = fn(f64) -> f64;

    // A cubic is its own spline (elementary); ends as it has them.
    #[test]
    fn theory_a_cubic_is_its_own_spline() {
        let x = [0.0, 0.3, 0.5, 1.1, 1.6, 2.0];
        let (mut s, mut upper) = (Vec::new(), Vec::new());
        let cases: [(Side, Function, Function); 3] = [
            (Side::Free, |x| 1.0 - x + 0.5 * x * x * x, |x| -1.0 + 1.5 * x * x),
            (
                Side::Even,
                |x| (x - 2.0).powi(2) * (1.0 + 0.3 * x),
                |x| 2.0 * (x - 2.0) * (1.0 + 0.3 * x) + 0.3 * (x - 2.0).powi(2),
            ),
            (Side::Odd, |x| (x - 2.0) + (x - 2.0).powi(3), |x| 1.0 + 3.0 * (x - 2.0).powi(2)),
        ];
        for (last, of, slope) in cases {
            let y = x.map(of);
            slopes(&x, &y, last, &mut s, &mut upper);
            let mut k = 0;
            for i in 0..=40 {
                let at = 0.05 * f64::from(i);
                k = interval(&x, at, k);
                let (value, found) = evaluate(&x, &y, &s, k, at);
                assert_relative_eq!(value, of(at), epsilon = 1e-12);
                assert_relative_eq!(found, slope(at), epsilon = 1e-12);
            }
        }
    }

    #[test]
    fn theory_lanes_at_equal_steps_are_splines_too() {
        let of = |x: f64, l: usize| 1.0 + l as f64 * x - 0.2 * (x - 7.0).powi(3);
        let y: Vec<Lanes> = (0..=7).map(|i| std::array::from_fn(|l| of(f64::from(i), l))).collect();
        let (mut s, mut upper) = (vec![[0.0; LANES]; 8], vec![0.0; 8]);
        slopes_of_lanes(&y, Side::Free, Side::Odd, &mut s, &mut upper);
        for (i, s) in s.iter().enumerate() {
            for (l, s) in s.iter().enumerate() {
                assert_relative_eq!(*s, l as f64 - 0.6 * (i as f64 - 7.0).powi(2), epsilon = 1e-11);
            }
        }
    }

    // Partition of unity; derivatives by differences; 1/6, 2/3, 1/6 at inner knots.
    #[test]
    fn theory_b_splines() {
        for i in 0..9 {
            for t in [0.1, 0.5, 0.8] {
                let ([v, d, dd], e) = (b_splines(9, i, t), 1e-5);
                let (up, down) = (b_splines(9, i, t + e), b_splines(9, i, t - e));
                assert_relative_eq!(v.iter().sum::<f64>(), 1.0, epsilon = 1e-14);
                for j in 0..4 {
                    assert_relative_eq!(d[j], (up[0][j] - down[0][j]) / (2.0 * e), epsilon = 1e-8);
                    assert_relative_eq!(dd[j], (up[1][j] - down[1][j]) / (2.0 * e), epsilon = 1e-8);
                }
            }
        }
        let middle = b_splines(9, 4, 0.0)[0];
        for (ours, exact) in middle.iter().zip([1.0 / 6.0, 2.0 / 3.0, 1.0 / 6.0, 0.0]) {
            assert_relative_eq!(*ours, exact, epsilon = 1e-14);
        }
    }
}
