//! Wanted cell size along a body.
//!
//! Equation: with h'/h = a'/2a, h''/h = a''/2a - (a'/2a)^2,
//!   L_v   = 1/sqrt((h'/h)^2 + |h''/h|)               the profile's own length,
//!   ell   = sqrt(a + a'^2/4), L_ell = ell/|ell'|     the cap's radius and its length (equal R on a sphere of radius R),
//!   L_max = 2 h sqrt(2 + 3 sqrt2 Oh_loc)             twice h over the fastest wavenumber (Weber 1931, long-wave form),
//!   s = c min( min(L_v, L_max) , max-free bound min(ell, L_ell, ...) , L_w ) as written below, then |ds/dz| bounded.
//! Symbols: c fineness, Oh_loc = Oh/sqrt(h), L_w the wall's own length ([`Wall::length`]).
//! Source: ours; judged by the convergence tables of the validation page. Without L_w the `coarse` border between drops from
//! the funnel and a thread through the orifice lay 23 % too high in inner flow (`tests/model/orifice_modes.rs`), with it 3 %.
//! Holds for: any body; sizes in units of the pinned radius.

use crate::thread::body::{Body, End};
use crate::thread::cells::Triple;
use crate::thread::outer::profile::Wall;
use crate::thread::rows::{larger, smaller};
use crate::tolerances::CELL_FLOOR;
use multiversion::multiversion;

/// 3 sqrt 2: the wave that grows fastest on a thread has (k h)^2 = 1/(2 + 3 sqrt 2 Oh_loc).
const WEBER: f64 = 4.243;

/// Length behind a tip within which cells are kept as long as rays can see, and their least length at the tip: rays stand 0.15 to 0.2 apart there.
const RIM: f64 = 0.5;
const RIM_CELL: f64 = 0.1;

/// What decides the cell size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fineness {
    /// Size of a cell over the length that decides there (`COARSE`, `STANDARD` and `FINE` in `tolerances`).
    pub c: f64,
    /// Radius at which necks are cut.
    pub neck_cut: f64,
    /// Ohnesorge number of the inner liquid.
    pub ohnesorge: f64,
    /// Longest cell in units of c h; with an outer liquid the wall and the neighbourhood ask for shorter ones.
    pub longest: f64,
}

/// Wanted size of every cell, smooth along the body.
pub fn wanted(body: &Body, fineness: &Fineness, wall: &Wall, out: &mut Vec<f64>) {
    let n = body.cells();
    let (mut d, mut a) = (vec![0.0; n + 2], vec![0.0; n + 2]);
    for j in 0..n {
        (d[j + 1], a[j + 1]) = body.cell(j);
    }
    (d[0], a[0]) = body.left.beyond((d[1], a[1]));
    (d[n + 1], a[n + 1]) = body.right.beyond((d[n], a[n]));
    out.resize(n, 0.0);
    everywhere(fineness, &d, &a, out);
    calm_tips(body, out);
    resolve_whole(body, fineness, out);
    follow_wall(body, fineness, wall, out);
    limit_growth(body, fineness, out);
    calm_rim(body, out);
}

/// The first, middle and last `n` of n + 2.
fn three(x: &[f64], n: usize) -> [&[f64]; 3] {
    [&x[..n], &x[1..=n], &x[2..n + 2]]
}

#[multiversion(targets("x86_64+avx2"))]
fn everywhere(fineness: &Fineness, d: &[f64], a: &[f64], out: &mut [f64]) {
    let n = out.len();
    let ([dl, d, dr], [al, a, ar]) = (three(d, n), three(a, n));
    for j in 0..n {
        out[j] = local(&Triple { dl: dl[j], d: d[j], dr: dr[j], al: al[j], a: a[j], ar: ar[j] }, fineness);
    }
}

#[inline(always)]
fn local(triple: &Triple, f: &Fineness) -> f64 {
    let p = triple.parabola();
    let a = triple.a;
    let h = a.sqrt();
    let (slope, bend) = (p.c1, 2.0 * p.c2);
    let quarter = 0.25 * slope * slope;
    // (h'/h)^2 + |h''/h| is this over a^2
    let bent = quarter + (0.5 * bend * a - quarter).abs();
    let profile = a / larger(bent.sqrt(), 1e-12 * a);
    let ell2 = a + quarter;
    let ell = ell2.sqrt();
    let ell_length = 2.0 * ell2 / larger((slope * (1.0 + 0.5 * bend)).abs(), 1e-12);
    let weber = 2.0 * (2.0 * a + WEBER * f.ohnesorge * h * h.sqrt()).sqrt();
    let longest = smaller(weber, f.longest * h);
    let cap = smaller(smaller(ell, ell_length), 2.0 * larger(longest, 4.0 * h));
    let s = larger(smaller(profile, longest), cap);
    let s = f.c * smaller(s, 2.0 * larger(longest, ell));
    larger(larger(s, f.c * f.neck_cut), CELL_FLOOR * f.c * h)
}

/// A drop flattened along the axis has ends flatter than it is long: its length decides then.
fn resolve_whole(body: &Body, f: &Fineness, s: &mut [f64]) {
    let half = match (body.left, body.right) {
        (End::Tip, End::Tip) => 0.5 * body.length(),
        (End::Symmetry, End::Tip) | (End::Tip, End::Symmetry) => body.length(),
        _ => return,
    };
    for s in s {
        *s = s.min(f.c * half);
    }
}

/// The two cells at a tip take the size of the third: their own parabola says little.
fn calm_tips(body: &Body, s: &mut [f64]) {
    let n = s.len();
    if n < 4 {
        return;
    }
    if body.left == End::Tip {
        s[0] = s[2];
        s[1] = s[2];
    }
    if body.right == End::Tip {
        s[n - 1] = s[n - 3];
        s[n - 2] = s[n - 3];
    }
}

/// Behind a tip about which rays stand no cell is much shorter than their distance there: what rays do not see, no outer liquid holds.
fn calm_rim(body: &Body, s: &mut [f64]) {
    if body.rays == 0 {
        return;
    }
    for (j, s) in s.iter_mut().enumerate() {
        let left = 1.0 - (body.middle(j) - body.z[0]) / RIM;
        if left <= 0.0 {
            break;
        }
        *s = s.max(RIM_CELL * left);
    }
}

/// Where the wall narrows or widens, the stream's pull changes along the thread as fast as the wall does, however smooth the
/// thread is.
fn follow_wall(body: &Body, f: &Fineness, wall: &Wall, s: &mut [f64]) {
    if !matches!(wall, Wall::Profile { .. }) {
        return;
    }
    let mut from = 0;
    for (j, s) in s.iter_mut().enumerate() {
        *s = s.min(f.c * wall.length(body.middle(j), &mut from));
    }
}

/// Bound the growth of the size from cell to cell, both ways.
fn limit_growth(body: &Body, f: &Fineness, s: &mut [f64]) {
    let rate = (2.5 * f.c).min(0.3);
    for j in 1..s.len() {
        s[j] = s[j].min(s[j - 1] + rate * (body.middle(j) - body.middle(j - 1)));
    }
    for j in (1..s.len()).rev() {
        s[j - 1] = s[j - 1].min(s[j] + rate * (body.middle(j) - body.middle(j - 1)));
    }
}
