//! Meshes of the dripping drop: the rule by shape of ../drop.py, which is slenderjet's own.

use crate::STOP;
use crate::drop::OHNESORGE;

/// Places at which the rising `c(z)` takes n + 1 evenly spaced values.
pub fn evenly(c: &[f64], z: &[f64], n: usize) -> Vec<f64> {
    let whole = c[c.len() - 1];
    let mut i = 0;
    let place = |k: usize| {
        let want = whole * k as f64 / n as f64;
        while i + 2 < c.len() && want > c[i + 1] {
            i += 1;
        }
        z[i] + (z[i + 1] - z[i]) * (want - c[i]) / (c[i + 1] - c[i])
    };
    (0..=n).map(place).collect()
}

fn wanted(z: &[f64], a: &[f64], res: f64) -> Vec<f64> {
    let n = a.len();
    let mut size: Vec<f64> = (0..n)
        .map(|i| {
            let d = z[i + 1] - z[i];
            let (dl, al) = if i > 0 { (z[i] - z[i - 1], a[i - 1]) } else { (0.0, 1.0) };
            let (dr, ar) = if i + 1 < n { (z[i + 2] - z[i + 1], a[i + 1]) } else { (0.0, 0.0) };
            let (xr, xl) = (0.5 * (d + dr), -0.5 * (d + dl));
            let (qr, ql) = (xr * xr + (dr * dr - d * d) / 12.0, xl * xl + (dl * dl - d * d) / 12.0);
            let det = xr * ql - xl * qr;
            let slope = ((ar - a[i]) * ql - (al - a[i]) * qr) / det;
            let bend = 2.0 * (xr * (al - a[i]) - xl * (ar - a[i])) / det;
            let h = a[i].sqrt();
            let q1 = slope / (2.0 * a[i]);
            let profile = 1.0 / (q1 * q1 + (bend / (2.0 * a[i]) - q1 * q1).abs()).sqrt().max(1e-12);
            let ell2 = a[i] + 0.25 * slope * slope;
            let ell = ell2.sqrt();
            let ell_length = 2.0 * ell2 / (slope * (1.0 + 0.5 * bend)).abs().max(1e-12);
            let longest = (2.0 * h * (2.0 + 4.243 * OHNESORGE / h.sqrt()).sqrt()).min(6.0 * h);
            let cap = ell.min(ell_length).min(2.0 * longest.max(4.0 * h));
            let s = profile.min(longest).max(cap).min(2.0 * longest.max(ell));
            (res * s).max(res * STOP).max(0.05 * res * h)
        })
        .collect();
    size[n - 1] = size[n - 3];
    size[n - 2] = size[n - 3];
    size
}

/// New nodes for cells of average squared radius `a` between nodes `z`.
pub fn remade(z: &[f64], a: &[f64], res: f64) -> Vec<f64> {
    let n = a.len();
    let mut size = wanted(z, a, res);
    let grow = (2.5 * res).min(0.3);
    for i in 1..n {
        size[i] = size[i].min(size[i - 1] + grow * 0.5 * (z[i + 1] - z[i - 1]));
    }
    for i in (0..n - 1).rev() {
        size[i] = size[i].min(size[i + 1] + grow * 0.5 * (z[i + 2] - z[i]));
    }
    let mut c = vec![0.0; n + 1];
    for i in 0..n {
        c[i + 1] = c[i] + (z[i + 1] - z[i]) / size[i];
    }
    let mut new = evenly(&c, z, c[n].ceil() as usize);
    for _ in 0..4 {
        let old = new.clone();
        for (node, three) in new[1..].iter_mut().zip(old.windows(3)) {
            *node = 0.25 * three[0] + 0.5 * three[1] + 0.25 * three[2];
        }
    }
    let last = new.len() - 1;
    (new[0], new[last]) = (0.0, z[n]);
    new
}
