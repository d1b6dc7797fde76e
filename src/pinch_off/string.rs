//! The even thread that a polymer holds between two drops, and how it gives way.
//!
//! Equation: a neck is held where the polymer's stress stands up to the capillary one, f G (C - B) h/gamma above 1/2: it is 1.2 to 2 in a
//! thread that thins as exp(-t/3 lambda) (force balance of thread and drop; `validation/necks_of_real_liquids`) and falls with h
//! where the polymer is too weak. Such a thread has no place of its own to pinch. At the radius [`STRING_CUT`] it is divided
//! in its middle (by volume) and each half goes to the drop on its side, as the recoil of a broken string carries it there: cut off where
//! it is thinnest like a Newtonian neck it would leave blobs as small as a cut may leave.
//!
//! Symbols: see [`crate::thread::rheology`]; lengths in the pinned radius.
//!
//! Source: Entov & Hinch 1997, J. Non-Newtonian Fluid Mech. 72, 31 (thinning of a held thread; recalled); the cut is ours. What the string
//! holds is at most a few thousandths of a drop; its elastic energy is lost with it and stands in the budget under cuts.
//!
//! Holds for: threads in a gas and, where the outer liquid's drag on the string is small beside its tension, in a liquid. A real string breaks when its chains are stretched fully, or blisters into beads of less than its own
//! volume; neither is computed.

use super::cut::{absorb_left, absorb_right, cut};
use super::neck::Neck;
use crate::thread::body::{Body, End};
use crate::tolerances::{NECK_BULGE, STRING_CUT, STRING_HELD};
use std::f64::consts::PI;
use std::ops::Range;

/// Stress of the polymer at a cell over the capillary one, gamma/h; 0 without a polymer.
pub fn hold(body: &Body, cell: usize) -> f64 {
    let Some(law) = body.load.law else { return 0.0 };
    let Some(polymer) = law.rheology.polymer else { return 0.0 };
    let (a, d) = (body.area(cell), body.z[cell + 1] - body.z[cell]);
    let state = [body.load.state[0][cell], body.load.state[1][cell]];
    polymer.strand(polymer.modulus(law.ohnesorge), a, d, state).tension / (PI * a) * a.sqrt()
}

/// The string about a neck that a polymer holds and that has become thin enough: its cells, with wider ones on both sides.
pub fn string(body: &Body, neck: &Neck) -> Option<Range<usize>> {
    if neck.radius >= STRING_CUT || hold(body, neck.cell) < STRING_HELD {
        return None;
    }
    let wide = (NECK_BULGE * neck.radius).powi(2);
    let thin = |j: &usize| body.area(*j) < wide;
    let first = (0..neck.cell).rev().take_while(thin).last().unwrap_or(neck.cell);
    let last = (neck.cell..body.cells()).take_while(thin).last().unwrap_or(neck.cell);
    // something must be there to take each half, wider than the string
    (first >= 3 && last + 4 <= body.cells()).then_some(first..last + 1)
}

/// What stays (with the body's left end) and what comes off at a neck: a held string is divided, any other neck cut.
pub fn part(body: &Body, neck: &Neck, held: Option<Range<usize>>) -> (Body, Option<Body>) {
    let Some(string) = held else { return cut(body, neck) };
    let (stays, off) = divide(body, string);
    (stays, Some(off))
}

/// Divide a string: what stays (with the body's left end) and what comes off.
pub fn divide(body: &Body, string: Range<usize>) -> (Body, Body) {
    let half = 0.5 * body.v[string.clone()].iter().sum::<f64>();
    let mut sum = 0.0;
    let middle = string.clone().find(|j| {
        sum += body.v[*j];
        sum >= half
    });
    // a node between two cells of the string, or one of its ends
    let at = middle.map_or(string.end, |j| j + 1).min(string.end);
    let n = body.cells();
    let mut left = body.without_nodes();
    left.right = End::Tip;
    (left.z, left.u, left.v) = (body.z[..=at].to_vec(), body.u[..=at].to_vec(), body.v[..at].to_vec());
    left.load = body.load.part(0..at, 1.0, 1.0);
    let mut right = body.without_nodes();
    right.left = End::Tip;
    (right.z, right.u, right.v) = (body.z[at..].to_vec(), body.u[at..].to_vec(), body.v[at..].to_vec());
    right.load = body.load.part(at..n, 1.0, 1.0);
    let here = |cell: usize, side: &Body| Neck { cell, position: side.middle(cell), radius: side.area(cell).sqrt() };
    let (start, end) = (here(string.start.min(at - 1), &left), here((string.end - at).min(n - at - 1), &right));
    absorb_right(&mut left, &start);
    absorb_left(&mut right, &end);
    (left, right)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pinch_off::neck::thinnest;
    use crate::thread::laden::at_rest;
    use crate::thread::load::Law;
    use crate::thread::rheology::{Polymer, Rheology};
    use approx::assert_relative_eq;

    /// Two drops on an even thread of radius 0.04, its chains stretched to C.
    fn dumbbell(c: f64) -> Body {
        let z: Vec<f64> = (0..=400).map(|i| f64::from(i) / 50.0 - 4.0).collect();
        let drop = |z: f64| (1.0 - (z.abs() - 3.0).powi(2)).max(0.0);
        let mut body = Body::from_profile(
            z,
            End::Tip,
            End::Tip,
            |z| drop(z).max(if z.abs() < 2.5 { 0.0016 } else { 1e-9 }),
            |z| 0.1 * z,
        );
        let polymer = Polymer { share: 0.5, relaxation: 2.0, inverse_extensibility: 0.0 };
        let law = Law { rheology: Rheology { polymer: Some(polymer), ..Rheology::default() }, ohnesorge: 0.4 };
        body.load = at_rest(law, &body);
        for j in 0..body.cells() {
            body.load.state[0][j] *= c;
        }
        body
    }

    // G = 0.1, so that G (C - 1) h = 1/2 at C = 126.
    #[test]
    fn a_string_is_held_where_its_polymer_stands_up_to_the_tension() {
        for (c, held) in [(1.0, false), (120.0, false), (131.0, true), (1000.0, true)] {
            let body = dumbbell(c);
            let neck = Neck { cell: 200, position: 0.0, radius: body.area(200).sqrt() };
            assert_relative_eq!(hold(&body, 200), 0.1 * (c - 1.0) * 0.04, max_relative = 1e-9);
            assert_eq!(string(&body, &neck).is_some(), held, "{c}");
        }
        let plain = Body { load: Default::default(), ..dumbbell(1000.0) };
        let neck = thinnest(&plain).expect("a neck");
        assert_eq!(string(&plain, &neck), None);
    }

    #[test]
    fn both_sides_get_half_of_a_string_and_no_neck_of_it_is_left() {
        let body = dumbbell(1000.0);
        let neck = Neck { cell: 200, position: 0.0, radius: 0.04 };
        let (left, right) = divide(&body, string(&body, &neck).expect("a string"));
        assert_relative_eq!(left.volume() + right.volume(), body.volume(), max_relative = 1e-14);
        assert_relative_eq!(left.momentum() + right.momentum(), body.momentum(), epsilon = 1e-12);
        assert_relative_eq!(left.volume() / right.volume(), 1.0, max_relative = 0.02);
        for side in [&left, &right] {
            assert_eq!(side.load.state[0].len(), side.cells());
            assert!(side.v.iter().all(|v| *v > 0.0));
            assert!(thinnest(side).is_none_or(|neck| neck.radius > 0.1), "{:?}", thinnest(side));
        }
    }
}
