//! Derivatives along the interface by the index of its nodes.
//!
//! Equation: compact differences of sixth order,
//!   f'_(i-1)/3 + f'_i + f'_(i+1)/3 = (14/9)(f_(i+1) - f_(i-1))/2 + (1/9)(f_(i+2) - f_(i-2))/4,
//!   (2/11) f''_(i-1) + f''_i + (2/11) f''_(i+1) = (12/11)(f_(i+1) - 2 f_i + f_(i-1)) + (3/11)(f_(i+2) - 2 f_i + f_(i-2))/4,
//! mirrored at an axis or a plane of symmetry (even or odd), explicit six-point formulas at the two nodes next to a free end.
//!
//! Symbols: f at the nodes, spacing 1; the answer is a matrix, since the linearised step needs it.
//!
//! Source: Lele, J. Comput. Phys. 103 (1992) 16, eqs 2.1.7 and 2.2.7 (recalled; orders held by the tests below).
//!
//! Holds for: eight nodes or more, smooth spacing.

use nalgebra::DMatrix;

/// How an end of the interface goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// It ends on a rim.
    Pinned,
    /// It meets the axis at a right angle: z even, r odd.
    Axis,
    /// A plane of symmetry: z odd, r even.
    Plane,
}

/// Matrices of first and second derivative.
#[derive(Debug, Clone)]
pub struct Differences {
    pub first: DMatrix<f64>,
    pub second: DMatrix<f64>,
}

/// What an end does to the function there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Beyond {
    Nothing,
    Even,
    Odd,
}

impl Beyond {
    fn sign(self) -> f64 {
        if self == Beyond::Odd { -1.0 } else { 1.0 }
    }
}

/// Derivative matrices for `n` nodes.
pub fn differences(n: usize, left: Beyond, right: Beyond) -> Differences {
    Differences { first: derivative(n, left, right, true), second: derivative(n, left, right, false) }
}

/// Off-diagonal weight of the unknown derivatives, then the weights of f at distance 0, 1, 2.
const FIRST: (f64, [f64; 3]) = (1.0 / 3.0, [0.0, 7.0 / 9.0, 1.0 / 36.0]);
const SECOND: (f64, [f64; 3]) = (2.0 / 11.0, [-24.0 / 11.0 - 3.0 / 22.0, 12.0 / 11.0, 3.0 / 44.0]);

fn derivative(n: usize, left: Beyond, right: Beyond, first: bool) -> DMatrix<f64> {
    let (off, weight) = if first { FIRST } else { SECOND };
    let mut right_side = DMatrix::zeros(n, n);
    // tridiagonal: below, on, above
    let mut band = vec![(off, 1.0, off); n];
    let last = n as isize - 1;
    // where an index beyond an end is found, with its sign
    let place = |j: isize| -> (usize, f64) {
        if j < 0 {
            ((-j) as usize, left.sign())
        } else if j > last {
            ((2 * last - j) as usize, right.sign())
        } else {
            let zero = (j == 0 && left == Beyond::Odd) || (j == last && right == Beyond::Odd);
            (j as usize, if zero { 0.0 } else { 1.0 })
        }
    };
    for i in 0..n {
        let from_right = n - 1 - i;
        let one_sided = (left == Beyond::Nothing && i < 2) || (right == Beyond::Nothing && from_right < 2);
        if one_sided {
            band[i] = (0.0, 1.0, 0.0);
            let start = if i < 2 { 0 } else { n - 6 };
            let offsets: [f64; 6] = std::array::from_fn(|k| (start + k) as f64 - i as f64);
            for (k, w) in one_sided_weights(&offsets, if first { 1 } else { 2 }).iter().enumerate() {
                right_side[(i, start + k)] = *w;
            }
            continue;
        }
        let here = i as isize;
        for (distance, w) in weight.iter().enumerate() {
            let d = distance as isize;
            for (j, side) in [(here - d, if first { -1.0 } else { 1.0 }), (here + d, 1.0)] {
                let (at, sign) = place(j);
                right_side[(i, at)] += w * side * sign;
                if d == 0 {
                    break;
                }
            }
        }
        // the derivative beyond an end: of an even function odd in the first, even in the second
        let flip = if first { -1.0 } else { 1.0 };
        if i == 0 {
            band[i].2 += off * flip * left.sign();
            band[i].0 = 0.0;
        }
        if from_right == 0 {
            band[i].0 += off * flip * right.sign();
            band[i].2 = 0.0;
        }
    }
    sweep(&band, right_side)
}

/// Solves the tridiagonal system for every column.
fn sweep(band: &[(f64, f64, f64)], mut x: DMatrix<f64>) -> DMatrix<f64> {
    let n = band.len();
    let mut above = vec![0.0; n];
    let mut pivot = vec![0.0; n];
    for i in 0..n {
        let before = if i == 0 { 0.0 } else { above[i - 1] };
        pivot[i] = 1.0 / (band[i].1 - band[i].0 * before);
        above[i] = band[i].2 * pivot[i];
    }
    for mut column in x.column_iter_mut() {
        for i in 0..n {
            let before = if i == 0 { 0.0 } else { column[i - 1] };
            column[i] = (column[i] - band[i].0 * before) * pivot[i];
        }
        for i in (0..n - 1).rev() {
            column[i] -= above[i] * column[i + 1];
        }
    }
    x
}

/// Weights of six values at `offsets` in the derivative of the given order at 0.
fn one_sided_weights(offsets: &[f64; 6], order: usize) -> [f64; 6] {
    std::array::from_fn(|m| {
        // the Lagrange polynomial of m, ascending powers
        let mut poly = [0.0; 6];
        poly[0] = 1.0;
        let mut degree = 0;
        for (k, x) in offsets.iter().enumerate() {
            if k == m {
                continue;
            }
            let below = offsets[m] - x;
            for d in (0..=degree).rev() {
                poly[d + 1] += poly[d] / below;
                poly[d] *= -x / below;
            }
            degree += 1;
        }
        poly[order] * if order == 2 { 2.0 } else { 1.0 }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::DVector;

    fn error(n: usize, left: Beyond, right: Beyond, f: impl Fn(f64) -> [f64; 3], to: f64) -> (f64, f64) {
        let h = to / (n as f64 - 1.0);
        let d = differences(n, left, right);
        let v = DVector::from_fn(n, |i, _| f(i as f64 * h)[0]);
        let (a, b) = (&d.first * &v / h, &d.second * &v / (h * h));
        (0..n).fold((0.0, 0.0), |(x, y): (f64, f64), i| {
            let exact = f(i as f64 * h);
            (x.max((a[i] - exact[1]).abs()), y.max((b[i] - exact[2]).abs()))
        })
    }

    // sin and cos over a quarter, mirrored where they are even or odd; order from 13 to 25 nodes.
    #[test]
    fn theory_orders_of_the_differences() {
        let quarter = std::f64::consts::FRAC_PI_2;
        let sin = |x: f64| [x.sin(), x.cos(), -x.sin()];
        let cos = |x: f64| [x.cos(), -x.sin(), -x.cos()];
        let order = |f: &dyn Fn(f64) -> [f64; 3], l, r| {
            let (a, b) = (error(13, l, r, f, quarter), error(25, l, r, f, quarter));
            ((a.0 / b.0).log2(), (a.1 / b.1).log2())
        };
        for (f, l, r) in
            [(&sin as &dyn Fn(f64) -> [f64; 3], Beyond::Odd, Beyond::Even), (&cos, Beyond::Even, Beyond::Odd)]
        {
            let (first, second) = order(f, l, r);
            assert!(first > 5.8 && second > 5.8, "{first} {second}");
        }
        let (first, second) = order(&|x| [x.exp(), x.exp(), x.exp()], Beyond::Nothing, Beyond::Nothing);
        assert!(first > 4.5 && second > 3.6, "{first} {second}");
    }
}
