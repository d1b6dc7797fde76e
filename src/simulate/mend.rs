//! What helps a body on whose steps have become too short.

use super::setup::Setup;
use crate::math::Pinned as _;
use crate::outcome::SolverCounts;
use crate::pinch_off::neck::thinnest;
use crate::thread::advance::Advancer;
use crate::thread::body::{Body, End};
use crate::tolerances::NECK_BULGE;

/// After a step underflow: merge the cells of free ends and around the thinnest place pairwise, and go on.
pub fn mend(body: &mut Body, advancer: &mut Advancer, setup: &Setup, counts: &mut SolverCounts) {
    body.flagged = true;
    for _ in 0..2 {
        let n = body.cells();
        if n < 16 {
            break;
        }
        if body.left == End::Tip {
            merge_cells(body, 0);
        }
        if body.right == End::Tip {
            merge_cells(body, body.cells() - 2);
        }
    }
    if let Some(neck) = thinnest(body).filter(|neck| neck.radius > 0.0 && neck.radius < 1.0 / NECK_BULGE) {
        merge_cells(body, neck.cell.min(body.cells() - 2));
    }
    advancer.regrid_if_due(&setup.physics, &setup.numerics, body, counts);
    body.dt = 1e-6 * body.radius_max().power(1.5);
}

/// Merge cells `j` and `j + 1`, momentum kept by the neighbours.
fn merge_cells(body: &mut Body, j: usize) {
    if body.cells() < 12 {
        return;
    }
    body.last_powers = None;
    if !body.load.is_empty() {
        body.load.merge(j, [body.v[j], body.v[j + 1]]);
    }
    let half = 0.5 * (body.v[j] + body.v[j + 1]);
    let spread = half * body.u[j + 1] - 0.5 * (body.v[j + 1] * body.u[j] + body.v[j] * body.u[j + 2]);
    body.v[j] += body.v[j + 1];
    body.v.remove(j + 1);
    body.z.remove(j + 1);
    body.u.remove(j + 1);
    let neighbours =
        body.v[j] + 0.5 * (if j > 0 { body.v[j - 1] } else { 0.0 } + body.v.get(j + 1).copied().unwrap_or(0.0));
    let shift = spread / neighbours;
    for i in [j, j + 1] {
        if !(i == 0 && body.left.is_fixed() || i == body.cells() && body.right.is_fixed()) {
            body.u[i] += shift;
        }
    }
}
