//! Wanted cell size along a body.
//!
//! Equation: with h'/h = a'/2a, h''/h = a''/2a - (a'/2a)^2,
//!   L_v   = 1/sqrt((h'/h)^2 + |h''/h|)               the profile's own length,
//!   ell   = sqrt(a + a'^2/4), L_ell = ell/|ell'|     the cap's radius and its length (equal R on a sphere of radius R),
//!   L_max = 2 h sqrt(2 + 3 sqrt2 Oh_loc)             twice h over the fastest wavenumber (Weber 1931, long-wave form),
//!   s = c min( min(L_v, L_max) , max-free bound min(ell, L_ell, ...) ) as written below, then |ds/dz| bounded.
//! Symbols: c fineness, Oh_loc = Oh/sqrt(h).
//! Source: ours; judged by the convergence tables of the validation page.
//! Holds for: any body; sizes in units of the pinned radius.

use crate::thread::body::{Body, End};
use crate::thread::cells::Triple;
use crate::tolerances::CELL_FLOOR;

/// What decides the cell size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fineness {
    /// Cells per length scale, inverted: 0.1 is production.
    pub c: f64,
    /// Radius at which necks are cut.
    pub neck_cut: f64,
    /// Ohnesorge number of the inner liquid.
    pub ohnesorge: f64,
    /// Longest cell in units of c h; with an outer liquid the wall and the neighbourhood ask for shorter ones.
    pub longest: f64,
}

/// Wanted size of every cell, smooth along the body.
pub fn wanted(body: &Body, fineness: &Fineness, out: &mut Vec<f64>) {
    let n = body.cells();
    out.clear();
    let cell = |j: usize| (body.z[j + 1] - body.z[j], body.area(j));
    let ghost = |end: End, inner: (f64, f64)| match end {
        End::Nozzle => (0.0, 1.0),
        End::Tip => (0.0, 0.0),
        End::Symmetry | End::Outflow => inner,
    };
    let mut left = ghost(body.left, cell(0));
    let mut own = cell(0);
    for j in 0..n {
        let right = if j + 1 < n { cell(j + 1) } else { ghost(body.right, own) };
        let triple = Triple { dl: left.0, d: own.0, dr: right.0, al: left.1, a: own.1, ar: right.1 };
        out.push(local(&triple, fineness));
        (left, own) = (own, right);
    }
    calm_tips(body, out);
    resolve_whole(body, fineness, out);
    limit_growth(body, fineness, out);
}

fn local(triple: &Triple, f: &Fineness) -> f64 {
    let p = triple.parabola();
    let a = triple.a;
    let h = a.sqrt();
    let (slope, bend) = (p.c1, 2.0 * p.c2);
    let q1 = slope / (2.0 * a);
    let q2 = bend / (2.0 * a) - q1 * q1;
    let profile = 1.0 / (q1 * q1 + q2.abs()).sqrt().max(1e-12);
    let ell2 = a + 0.25 * slope * slope;
    let ell = ell2.sqrt();
    let ell_length = 2.0 * ell2 / (slope * (1.0 + 0.5 * bend)).abs().max(1e-12);
    let longest = (2.0 * h * (2.0 + 4.243 * f.ohnesorge / h.sqrt()).sqrt()).min(f.longest * h);
    let cap = ell.min(ell_length).min(2.0 * longest.max(4.0 * h));
    let s = profile.min(longest).max(cap);
    (f.c * s.min(2.0 * longest.max(ell))).max(f.c * f.neck_cut).max(CELL_FLOOR * f.c * h)
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
