//! Cubic spline through points, third derivative continuous at the second and the last but one ("not a knot"): what
//! `CubicSpline` of SciPy does by default.
//!
//! Source: de Boor 1978, A Practical Guide to Splines, chapter IV (recalled).

/// Values of the spline through (x, y) at places `at`, which rise.
pub fn spline(x: &[f64], y: &[f64], at: &[f64]) -> Vec<f64> {
    let n = x.len();
    let h: Vec<f64> = x.windows(2).map(|w| w[1] - w[0]).collect();
    let slope: Vec<f64> = (0..n - 1).map(|i| (y[i + 1] - y[i]) / h[i]).collect();
    // unknown first derivatives m: lower[i] m[i-1] + own[i] m[i] + upper[i] m[i+1] = right[i]
    let (mut lower, mut own, mut upper, mut right) = (vec![0.0; n], vec![0.0; n], vec![0.0; n], vec![0.0; n]);
    own[0] = h[1];
    upper[0] = h[0] + h[1];
    right[0] = ((h[0] + 2.0 * upper[0]) * h[1] * slope[0] + h[0] * h[0] * slope[1]) / upper[0];
    for i in 1..n - 1 {
        lower[i] = h[i];
        own[i] = 2.0 * (h[i - 1] + h[i]);
        upper[i] = h[i - 1];
        right[i] = 3.0 * (h[i] * slope[i - 1] + h[i - 1] * slope[i]);
    }
    let (a, b) = (h[n - 2], h[n - 3]);
    own[n - 1] = b;
    lower[n - 1] = a + b;
    right[n - 1] = (a * a * slope[n - 3] + (2.0 * (a + b) + a) * b * slope[n - 2]) / (a + b);
    for i in 1..n {
        let w = lower[i] / own[i - 1];
        own[i] -= w * upper[i - 1];
        right[i] -= w * right[i - 1];
    }
    let mut m = right;
    m[n - 1] /= own[n - 1];
    for i in (0..n - 1).rev() {
        m[i] = (m[i] - upper[i] * m[i + 1]) / own[i];
    }
    let mut i = 0;
    at.iter()
        .map(|&z| {
            while i + 2 < n && z > x[i + 1] {
                i += 1;
            }
            let (t, c2) = (z - x[i], (3.0 * slope[i] - 2.0 * m[i] - m[i + 1]) / h[i]);
            let c3 = (m[i] + m[i + 1] - 2.0 * slope[i]) / (h[i] * h[i]);
            y[i] + t * (m[i] + t * (c2 + t * c3))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::spline;

    /// A cubic is its own spline.
    #[test]
    fn theory_cubic_is_kept() {
        let f = |z: f64| 1.0 - 2.0 * z + 0.5 * z * z - 0.3 * z * z * z;
        let x = [0.0, 0.1, 0.25, 0.7, 0.8, 1.3];
        let y = x.map(f);
        let at = [0.0, 0.05, 0.2, 0.5, 0.75, 1.0, 1.3];
        for (value, z) in spline(&x, &y, &at).iter().zip(at) {
            assert!((value - f(z)).abs() < 1e-14, "{z}: {value} against {}", f(z));
        }
    }
}
