//! Where a body is thinnest, and whether that neck is ready to be cut.
//!
//! Equation: a neck is a cell whose squared radius is not above that of its neighbours (or, at a mirror plane, of its one
//! neighbour); its radius is the minimum of the cell's parabola where that lies inside the three cells.

use crate::thread::body::{Body, End};
use crate::thread::cells::Triple;
use crate::tolerances::{FRAGMENT_RADIUS_IN_CUTS, NECK_BULGE, NECK_CUT_ALWAYS};
use std::f64::consts::PI;

/// A neck.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Neck {
    /// Cell that holds it.
    pub cell: usize,
    /// Where it is.
    pub position: f64,
    /// Its radius.
    pub radius: f64,
}

/// The thinnest neck of a body; `None` if the body has none (a drop without a waist).
pub fn thinnest(body: &Body) -> Option<Neck> {
    let n = body.cells();
    let mut best: Option<(usize, f64)> = None;
    let mut previous = if body.left == End::Symmetry { f64::INFINITY } else { body.area_left() };
    let mut own = body.area(0);
    for j in 0..n {
        let next = match (j + 1 < n, body.right) {
            (true, _) => body.area(j + 1),
            (false, End::Symmetry) => f64::INFINITY,
            (false, _) => body.area_right(),
        };
        if own <= previous && own <= next && best.is_none_or(|(_, a)| own < a) && !is_end_of_free(body, j) {
            best = Some((j, own));
        }
        (previous, own) = (own, next);
    }
    best.map(|(cell, _)| refine(body, cell))
}

/// The cell at a free end is thin because it is an end.
fn is_end_of_free(body: &Body, j: usize) -> bool {
    (j == 0 && matches!(body.left, End::Tip | End::Outflow | End::Nozzle))
        || (j + 1 == body.cells() && matches!(body.right, End::Tip | End::Outflow))
}

fn refine(body: &Body, j: usize) -> Neck {
    let n = body.cells();
    let own = body.cell(j);
    let (left, right) = (if j > 0 { body.cell(j - 1) } else { own }, if j + 1 < n { body.cell(j + 1) } else { own });
    let p = Triple { dl: left.0, d: own.0, dr: right.0, al: left.1, a: own.1, ar: right.1 }.parabola();
    let x = if p.c2 > 0.0 { (-0.5 * p.c1 / p.c2).clamp(-0.5 * own.0, 0.5 * own.0) } else { 0.0 };
    let lowest = p.at(x);
    let a = if lowest > 0.0 { lowest.min(own.1) } else { own.1 };
    Neck { cell: j, position: body.middle(j) + x, radius: a.sqrt() }
}

/// Volume of the body from the neck to its last node.
pub fn volume_beyond(body: &Body, neck: &Neck) -> f64 {
    let share = (body.z[neck.cell + 1] - neck.position) / (body.z[neck.cell + 1] - body.z[neck.cell]);
    body.v[neck.cell] * share + body.v[neck.cell + 1..].iter().sum::<f64>()
}

/// What to do about a neck.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Too thick, or not yet wider on both sides: go on.
    Wait,
    /// Cut here.
    Cut,
    /// The bit beyond the neck towards the last node is too small to live: give it back to the body.
    AbsorbRight,
    /// The same towards the first node.
    AbsorbLeft,
}

/// Judge a neck: thin enough, wider on both sides, and enough liquid on both sides.
pub fn judge(body: &Body, neck: &Neck, cut: f64) -> Verdict {
    if neck.radius >= cut {
        return Verdict::Wait;
    }
    let floor = 4.0 * PI / 3.0 * (FRAGMENT_RADIUS_IN_CUTS * cut).powi(3);
    let swell = (NECK_BULGE * neck.radius).powi(2);
    let n = body.cells();
    let volume = |cells: std::ops::Range<usize>| body.v[cells].iter().sum::<f64>();
    let swells = |cells: std::ops::Range<usize>| cells.into_iter().any(|j| body.area(j) > swell);
    let (left, right) = (0..neck.cell, neck.cell + 1..n);
    let held_left = body.left == End::Nozzle || neck.cell == 0 && body.left == End::Symmetry;
    let held_right = neck.cell + 1 == n && body.right == End::Symmetry;
    let enough_left = held_left || volume(left.clone()) > floor;
    let enough_right = held_right || volume(right.clone()) > floor;
    let bulge = (held_left || swells(left)) && (held_right || swells(right));
    match (enough_left, enough_right) {
        (true, true) if bulge || neck.radius < NECK_CUT_ALWAYS * cut => Verdict::Cut,
        (true, false) if neck.radius < NECK_CUT_ALWAYS * cut && body.right == End::Tip => Verdict::AbsorbRight,
        (false, true) if neck.radius < NECK_CUT_ALWAYS * cut && body.left == End::Tip => Verdict::AbsorbLeft,
        // a fragment in a mirror plane, or a body that is all fragment
        (false, _) | (_, false) if neck.radius < NECK_CUT_ALWAYS * cut => Verdict::Cut,
        _ => Verdict::Wait,
    }
}
