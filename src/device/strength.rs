//! What a jammed line can reach, and what glass of that shape is said to bear.
//!
//! Equation: jammed tip p = F/(pi d^2/4), F force of the pump, d bore of the syringe; guide for a perfect annealed
//! borosilicate tube p = 136 atm x wall/outside diameter.
//!
//! Symbols: Pa, m, N.
//!
//! Source: F about 200 N and the bores of plastic syringes recalled from memory (120, 34, 12, 3.6 bar for 1, 3, 10, 60 mL);
//! guide: a university glass shop's page (read; `tests/data/device/borosilicate_tube_pressure.csv`). Square walls: own estimate.
//!
//! Holds for: orders of magnitude. A guide, not a rating: scratches, tapers, forged tips, joints and tubing have none.

use crate::math::Pinned as _;
use std::f64::consts::PI;

/// Force of a usual syringe pump, N.
pub const PUMP_FORCE: f64 = 200.0;
/// Usual syringes: volume (m3) and bore (m).
pub const SYRINGES: [(f64, f64); 4] = [(1e-6, 4.6e-3), (3e-6, 8.66e-3), (10e-6, 14.5e-3), (60e-6, 26.6e-3)];
/// Standard atmosphere, Pa.
pub const ATMOSPHERE: f64 = 101_325.0;
/// Lower end of the estimate for the flat walls of a square capillary (5 to 12 bar), Pa.
pub const GUIDE_SQUARE: f64 = 5e5;
/// Joints and push-on tubing: a few bar, Pa.
pub const GUIDE_JOINTS: f64 = 2e5;
/// Guide factor of a round tube, Pa.
const GUIDE_ROUND: f64 = 136.0 * ATMOSPHERE;

/// Bore of a syringe of that volume, between and beyond the usual ones by power law.
pub fn syringe_bore(volume: f64) -> f64 {
    let k = SYRINGES.iter().position(|s| s.0 >= volume).unwrap_or(SYRINGES.len() - 1).max(1);
    let ((v0, d0), (v1, d1)) = (SYRINGES[k - 1], SYRINGES[k]);
    d0 * (volume / v0).power((d1 / d0).logarithm() / (v1 / v0).logarithm())
}

/// Pressure that the pump reaches on a jammed line, Pa.
pub fn jammed(volume: f64) -> f64 {
    let bore = syringe_bore(volume);
    PUMP_FORCE / (0.25 * PI * bore * bore)
}

/// Guide for a round tube, Pa.
pub fn guide_round(outer: f64, bore: f64) -> f64 {
    GUIDE_ROUND * (0.5 * (outer - bore)).max(0.0) / outer
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn published_guide_for_round_tubes() {
        let text = include_str!("../../tests/data/device/borosilicate_tube_pressure.csv");
        let mut checked = 0;
        for line in text.lines().filter(|l| l.starts_with(|c: char| c.is_ascii_digit())) {
            let row: Vec<f64> = line.split(',').map(|x| x.parse().expect("a number")).collect();
            let guide = guide_round(1e-3 * row[0], 1e-3 * (row[0] - 2.0 * row[1])) / ATMOSPHERE;
            assert_relative_eq!(guide, row[2], max_relative = 0.02);
            checked += 1;
        }
        assert_eq!(checked, 3);
    }

    // Figures of the bench, recalled from memory.
    #[test]
    fn common_practice_jammed_syringes() {
        for (ml, bar) in [(1.0, 120.0), (3.0, 34.0), (10.0, 12.0), (60.0, 3.6)] {
            assert_relative_eq!(jammed(1e-6 * ml) / 1e5, bar, max_relative = 0.02);
        }
        assert!(jammed(5e-6) < jammed(3e-6) && jammed(5e-6) > jammed(10e-6));
        assert!(jammed(0.25e-6) > jammed(1e-6) && jammed(100e-6) < jammed(60e-6));
    }
}
