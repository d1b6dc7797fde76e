//! What simple balances expect a dripping drop to be: for `check` and for the limits, never for a result.
//!
//! Equation: under gravity the drop-weight curve. In an outer stream the pull of the stream on a drop of radius r and aspect 1.3
//! held with its near pole 2R behind the tip, `6 pi mu_o r HR K1 V` with wall, drift, wake and elongation of
//! [`crate::thread::closures::ends`], equals 4.5 gamma R; the drop that comes off is `exp(0.139 + 0.646 sqrt(Ca q))` times that
//! one (it fills on while it necks).
//! Outside the range of the fit d/D = 1 + 1/(3 Ca). The smaller of weight and stream.
//!
//! Symbols: d drop diameter, D = 2R diameter of the rim that pins the contact line (m), Ca on the axis velocity,
//! q = Q_i/(pi R^2 U).
//!
//! Source: Harkins & Brown 1919 (curve, see [`crate::theory::drop_weight`]). Balance: the pull at necking is about that of the force
//! histories of our own boundary-element table (`validation/reference`); the two numbers in the exponent are fitted
//! to its dripping rows. Outside: Umbanhowar, Prasad & Weitz 2000, Langmuir 16, 347 (recalled from memory).
//!
//! Holds for: slow dripping. Balance: Ca 0.02 to 0.5, lambda 0.1 to 10, q up to 2, R_w/R from 2.5; 68 dripping rows,
//! each left out of the fit, are met within 4.2 % (rms), 15 % at worst; of rows drawn afterwards one
//! (104) is 20 % low. The recalled law is 15 % low to 57 % high in the wide tube and several times too large in narrow ones. Not for counter-flow, where the drop forms behind the orifice.

use super::reference::Place;
use crate::case::{Case, Layout};
use crate::groups::{groups, length};
use crate::math::Pinned as _;
use crate::theory::{drop_weight, roots};
use crate::thread::closures::ends::{Wake, elongated, round_end, sampled_at};
use std::f64::consts::PI;

/// Pull through the neck when the drop comes off, gamma R.
const PULL: f64 = 4.5;
/// Where its near pole stands then, tip radii.
const BEHIND: f64 = 2.0;
/// Its aspect.
const ASPECT: f64 = 1.3;
/// Logarithm of the drop over that of the balance: constant, share of sqrt(Ca q).
const GROWN: [f64; 2] = [0.139, 0.646];
/// Range of the fit: Ca, lambda, largest q, smallest R_w/R, each opened by a tenth (round numbers typed in other units).
const CAPILLARY: (f64, f64) = (0.018, 0.55);
const RATIO: (f64, f64) = (0.09, 11.0);
const SHARE: f64 = 2.2;
const WALL: f64 = 2.3;
/// Largest part of the wall's radius that the balance looks at.
const FILLED: f64 = 0.95;

/// Which balance an expected diameter comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Balance {
    Weight,
    /// Pull of the stream, within the range of its fit.
    Stream,
    /// The recalled law, outside.
    Recalled,
}

impl Balance {
    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            Balance::Weight => "weight against tension (drop-weight curve)",
            Balance::Stream => {
                "the stream's pull against tension (balance fitted to our own first-principles table: rms 4 %, 15 % at worst)"
            }
            Balance::Recalled => {
                "the recalled law 1 + 1/(3 Ca) (outside the range of the fitted balance: may be half too large or worse)"
            }
        }
    }
}

/// Diameter of a dripping drop, m; `None` where nothing pulls it off.
pub fn dripping_diameter(case: &Case) -> Option<f64> {
    dripping(case).map(|(d, _)| d)
}

/// The same, and where it comes from.
pub fn dripping(case: &Case) -> Option<(f64, Balance)> {
    let (g, r) = (groups(case), length(case));
    let falling = drop_weight::volume(g.bond).map(|v| (r * (6.0 * v / PI).cube_root(), Balance::Weight));
    let carried = g.capillary_outer.filter(|_| case.layout == Layout::Coflow).map(|capillary| {
        match Place::of(case).and_then(|place| carried(&place)) {
            Some(ratio) => (2.0 * r * ratio, Balance::Stream),
            None => (2.0 * r * (1.0 + 1.0 / (3.0 * capillary)), Balance::Recalled),
        }
    });
    match (falling, carried) {
        (Some(a), Some(b)) => Some(if a.0 < b.0 { a } else { b }),
        (a, b) => a.or(b),
    }
}

/// d/D of a drop that the stream pulls off; `None` outside the range of the fit.
pub fn carried(place: &Place) -> Option<f64> {
    let Place { capillary, inner_share, viscosity_ratio, wall } = *place;
    let inside = (CAPILLARY.0..=CAPILLARY.1).contains(&capillary)
        && (RATIO.0..=RATIO.1).contains(&viscosity_ratio)
        && inner_share <= SHARE
        && wall >= WALL;
    if !inside {
        return None;
    }
    let miss = |r: f64| {
        let end = round_end(r, Some(wall), viscosity_ratio, 1.0);
        let felt = sampled_at((BEHIND, BEHIND + 2.0 * r * ASPECT), r, ASPECT, wall, viscosity_ratio);
        let stream = end.drift * Wake::new(1.0, wall).at(felt).0;
        2.0 * PI * end.drag * elongated(ASPECT, r / wall, viscosity_ratio) * r * capillary * stream - PULL
    };
    let held = roots::bracketed(miss, 0.1, FILLED * wall).unwrap_or(FILLED * wall);
    Some(held * (GROWN[0] + GROWN[1] * (capillary * inner_share).sqrt()).exponential())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{examples, parse};
    use crate::limits::reference::rows;

    // Tate's law with the drop-weight fraction: 2 pi R gamma f = rho g V, f about 0.6 to 0.7 here.
    #[test]
    fn a_tap_drips_drops_of_the_usual_size() {
        let tap = parse(examples::find("tap").expect("an example").text, "tap").expect("a case");
        let d = dripping_diameter(&tap).expect("gravity pulls");
        let weight = PI / 6.0 * d.powi(3) * (tap.inner.density * 9.80665);
        let fraction = weight / (2.0 * PI * 1.5e-3 * tap.tension);
        assert!((0.6..0.75).contains(&fraction), "{fraction}");
        let still = Case { gravity: 0.0, ..tap };
        assert_eq!(dripping_diameter(&still), None);
    }

    // The validation page holds the same against the recalled law, row by row.
    #[test]
    fn the_balance_meets_the_first_principles_table() {
        let misses: Vec<(u32, f64)> = rows()
            .filter(|row| row.neck < 5.0)
            .map(|row| (row.number, carried(&row.place).expect("in its range") / row.diameter - 1.0))
            .collect();
        let rms = (misses.iter().map(|m| m.1 * m.1).sum::<f64>() / misses.len() as f64).sqrt();
        assert!(misses.len() >= 50 && rms < 0.05, "rms {rms} of {} rows", misses.len());
        // Row 104 was drawn blindly after the fit: a drop in a tube of four tip radii, drawn out by a fast inner stream.
        const KNOWN_MISS: (u32, f64) = (104, -0.196);
        for (row, miss) in misses {
            let expected = if row == KNOWN_MISS.0 { KNOWN_MISS.1 } else { 0.0 };
            let bound = if row == KNOWN_MISS.0 { 0.01 } else { 0.18 };
            assert!((miss - expected).abs() < bound, "row {row}: {miss}");
        }
    }

    #[test]
    fn a_faster_stream_drips_smaller_drops_in_the_range_and_beyond() {
        let coflow = parse(examples::find("coflow").expect("an example").text, "coflow").expect("a case");
        let flows = ["2 mL/h", "15 mL/h", "20 mL/h", "40 mL/h", "400 mL/h"];
        let at = |flow| dripping(&coflow.with_text("outer.flow", flow).expect("a case")).expect("a drop");
        let sizes = flows.map(at);
        assert!(sizes.windows(2).all(|pair| pair[1].0 < pair[0].0), "{sizes:?}");
        assert_eq!(sizes.map(|s| s.1 == Balance::Stream), [false, true, true, true, false]);
    }
}
