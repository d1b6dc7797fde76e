//! Loops of a step over nodes and cells: slices of one length, no branches, sums in four lanes, so that the compiler makes
//! vector code of them. The lanes are added in a fixed order: the same numbers on every machine.

use multiversion::multiversion;

/// Lanes of a sum.
const LANES: usize = 4;

/// Fold of `f` over 0..n in lanes, from `zero`, joined by `join`.
#[inline(always)]
pub fn lanes<T: Copy>(n: usize, zero: T, join: impl Fn(T, T) -> T, f: impl Fn(usize) -> T) -> T {
    let mut sums = [zero; LANES];
    let whole = n - n % LANES;
    let mut j = 0;
    while j < whole {
        for (lane, sum) in sums.iter_mut().enumerate() {
            *sum = join(*sum, f(j + lane));
        }
        j += LANES;
    }
    for (lane, j) in (whole..n).enumerate() {
        sums[lane] = join(sums[lane], f(j));
    }
    join(join(sums[0], sums[1]), join(sums[2], sums[3]))
}

/// The larger; a NaN on the right is passed over.
#[inline(always)]
pub fn larger(a: f64, b: f64) -> f64 {
    if b > a { b } else { a }
}

/// The smaller; a NaN on the right is passed over.
#[inline(always)]
pub fn smaller(a: f64, b: f64) -> f64 {
    if b < a { b } else { a }
}

/// Sum.
#[multiversion(targets("x86_64+avx2"))]
pub fn total(x: &[f64]) -> f64 {
    lanes(x.len(), 0.0, |a, b| a + b, |j| x[j])
}

/// Largest of non-negative values.
#[multiversion(targets("x86_64+avx2"))]
pub fn largest(x: &[f64]) -> f64 {
    lanes(x.len(), 0.0, larger, |j| x[j])
}

/// Smallest.
#[multiversion(targets("x86_64+avx2"))]
pub fn smallest(x: &[f64]) -> f64 {
    lanes(x.len(), f64::INFINITY, smaller, |j| x[j])
}

/// Largest change `k` of a cell's length relative to the shorter of its new and old length; `None` if a new one is not
/// positive.
#[multiversion(targets("x86_64+avx2"))]
pub fn largest_stretch(new: &[f64], old: &[f64], k: &[f64]) -> Option<f64> {
    let n = new.len() - 1;
    let (new, old, k) = (&new[..=n], &old[..=n], &k[..=n]);
    let cell = |j: usize| {
        let length = new[j + 1] - new[j];
        let least = smaller(old[j + 1] - old[j], length);
        ((k[j + 1] - k[j]).abs() / least, length)
    };
    let (stretch, shortest) = lanes(n, (0.0, f64::INFINITY), |a, b| (larger(a.0, b.0), smaller(a.1, b.1)), cell);
    (shortest > 0.0).then_some(stretch)
}

/// Sum of m k^2, sum of m, largest |u|.
#[multiversion(targets("x86_64+avx2"))]
pub fn momenta(k: &[f64], m: &[f64], u: &[f64]) -> (f64, f64, f64) {
    let n = m.len();
    let (k, u) = (&k[..n], &u[..n]);
    let join = |a: (f64, f64, f64), b: (f64, f64, f64)| (a.0 + b.0, a.1 + b.1, larger(a.2, b.2));
    lanes(n, (0.0, 0.0, 0.0), join, |i| (m[i] * k[i] * k[i], m[i], u[i].abs()))
}

/// Right-hand side of a stage: force + inertia sum_s w_s k_s.
#[multiversion(targets("x86_64+avx2"))]
pub fn load<const DONE: usize>(force: &[f64], inertia: &[f64], k: [&[f64]; DONE], w: [f64; DONE], out: &mut [f64]) {
    let n = out.len();
    let (force, inertia, k) = (&force[..n], &inertia[..n], k.map(|k| &k[..n]));
    for i in 0..n {
        let mut sum = 0.0;
        for s in 0..DONE {
            sum += w[s] * k[s][i];
        }
        out[i] = force[i] + inertia[i] * sum;
    }
}

/// start + sum_s w_s k_s.
#[multiversion(targets("x86_64+avx2"))]
pub fn weigh<const DONE: usize>(start: &[f64], k: [&[f64]; DONE], w: [f64; DONE], out: &mut [f64]) {
    let n = out.len();
    let (start, k) = (&start[..n], k.map(|k| &k[..n]));
    for i in 0..n {
        let mut sum = start[i];
        for s in 0..DONE {
            sum += w[s] * k[s][i];
        }
        out[i] = sum;
    }
}
