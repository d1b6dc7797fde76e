//! Chains of bounded length (FENE-P) in cells that have become other ones.
//!
//! Equation: X and Y of [`super::rheology`] are carried, C = X/a^2 and B = Y a follow from them; in new cells C + 2B stays at or below the largest
//! that any old cell had.
//! Symbols: a mean squared radius of a cell.
//! Source: ours. Where the radius changes fast, a thread's corner, C of a new cell may pass what any old one had, full length L^2 included,
//! beyond which the model has no state; the liquid itself has no such chain.
//! Holds for: FENE-P; chains without a full length are left as they are carried.

use super::body::Body;
use super::load::{Law, Load};

/// Largest C + 2B of a body's chains if their length is bounded (FENE-P), else 0.
pub fn longest(body: &Body) -> f64 {
    let bounded = |law: &Law| law.rheology.polymer.is_some_and(|p| p.inverse_extensibility > 0.0);
    if !body.load.law.as_ref().is_some_and(bounded) {
        return 0.0;
    }
    let [x, y] = &body.load.state;
    (0..body.cells()).map(|j| stretch([x[j], y[j]], body.area(j))).fold(0.0, f64::max)
}

/// C + 2B.
fn stretch([x, y]: [f64; 2], a: f64) -> f64 {
    x / (a * a) + 2.0 * y * a
}

/// Shortens the chains of new cells to `most`, C + 2B of the longest before; 0 where chains have no full length.
pub fn shorten(load: &mut Load, most: f64, area: impl Fn(usize) -> f64) {
    if most <= 0.0 {
        return;
    }
    let [x, y] = &mut load.state;
    for (j, (x, y)) in x.iter_mut().zip(y).enumerate() {
        let share = most / stretch([*x, *y], area(j));
        if share < 1.0 {
            (*x, *y) = (*x * share, *y * share);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::thread::body::End;
    use crate::thread::laden::{at_rest, on_nodes};
    use crate::thread::rheology::{Polymer, Rheology};

    // A thread's corner: chains near full length in the thread, on nodes that lie elsewhere.
    #[test]
    fn no_regrid_makes_a_chain_longer_than_the_longest_was() {
        let nodes = |n: usize| -> Vec<f64> { (0..=n).map(|i| 2.0 * i as f64 / n as f64).collect() };
        let area = |z: f64| 0.003 + if z > 1.0 { (z - 1.0).powi(2) } else { 0.0 };
        let mut body = Body::from_profile(nodes(57), End::Symmetry, End::Symmetry, area, |_| 0.0);
        for inverse in [1e-3, 0.0] {
            let polymer = Polymer { share: 0.5, relaxation: 2.0, inverse_extensibility: inverse };
            let law = Law { rheology: Rheology { polymer: Some(polymer), ..Rheology::default() }, ohnesorge: 0.4 };
            body.load = at_rest(law, &body);
            for (j, x) in body.load.state[0].iter_mut().enumerate() {
                *x *= if j < 30 { 990.0 } else { 1.0 };
            }
            let most = longest(&body);
            assert_eq!(most > 0.0, inverse > 0.0);
            let mut next = Body::from_profile(nodes(83), End::Symmetry, End::Symmetry, area, |_| 0.0);
            let scale = body.volume() / next.volume();
            next.v.iter_mut().for_each(|v| *v *= scale);
            next.load = on_nodes(&body, &next.z, &next.v);
            if inverse > 0.0 {
                assert!(longest(&next) <= most * (1.0 + 1e-12) && longest(&next) > 0.9 * most);
            }
        }
    }
}
