//! When and how thin: the same as ../neck.py.

/// Lowest squared radius of the parabola through the averages of cells i-1, i, i+1.
pub fn refined(a: impl Fn(usize) -> f64, d: impl Fn(usize) -> f64, n: usize, i: usize) -> f64 {
    let (left, right) = (i.saturating_sub(1), (i + 1).min(n - 1));
    let (rise_right, rise_left) = (a(right) - a(i), a(i) - a(left));
    let (x_right, x_left) = (0.5 * (d(i) + d(right)), -0.5 * (d(i) + d(left)));
    let q_right = x_right * x_right + (d(right).powi(2) - d(i).powi(2)) / 12.0;
    let q_left = x_left * x_left + (d(left).powi(2) - d(i).powi(2)) / 12.0;
    let det = x_right * q_left - x_left * q_right;
    let c1 = (rise_right * q_left + rise_left * q_right) / det;
    let c2 = (-x_right * rise_left - x_left * rise_right) / det;
    if c2 <= 0.0 {
        return a(i);
    }
    let x = (-0.5 * c1 / c2).clamp(-0.5 * d(i), 0.5 * d(i));
    let lowest = a(i) - c2 * d(i).powi(2) / 12.0 + c1 * x + c2 * x * x;
    if lowest > 0.0 { lowest.min(a(i)) } else { a(i) }
}

/// Time at which the squared radius passes `level`: Lagrange through the last (time, squared radius) that fall.
pub fn passing(seen: &[(f64, f64)], level: f64) -> f64 {
    let mut from = seen.len() - 1;
    while from > 0 && seen[from - 1].1 > seen[from].1 {
        from -= 1;
    }
    let seen = &seen[from..];
    let weight = |i: usize| -> f64 {
        let others = seen.iter().enumerate().filter(|(j, _)| *j != i);
        others.map(|(_, (_, x))| (level - x) / (seen[i].1 - x)).product()
    };
    seen.iter().enumerate().map(|(i, (t, _))| t * weight(i)).sum()
}
