//! Weight of drops that fall slowly from a tip.
//!
//! Equation: `rho g V = 2 pi R gamma f(R/V^(1/3))`, that is `Bo = 2 pi f y^3`, y = R/V^(1/3).
//!
//! Symbols: V volume that leaves the tip per drop, satellites included (m3), R wetted radius of the tip (m),
//! Bo = drho g R^2/gamma.
//!
//! Source: Harkins & Brown 1919, J. Am. Chem. Soc. 41, 499, as tabulated in Adamson & Gast, Physical Chemistry of Surfaces;
//! recalled from memory, not read.
//!
//! Holds for: very slow dripping of thin liquids, 0.30 <= y <= 1.20 (rows above are less accurate in the original: left out).

use super::roots;

/// (y, f) as recalled.
pub const TABLE: [(f64, f64); 19] = [
    (0.30, 0.7256),
    (0.35, 0.7011),
    (0.40, 0.6828),
    (0.45, 0.6669),
    (0.50, 0.6515),
    (0.55, 0.6362),
    (0.60, 0.6250),
    (0.65, 0.6171),
    (0.70, 0.6093),
    (0.75, 0.6032),
    (0.80, 0.6000),
    (0.85, 0.5992),
    (0.90, 0.5998),
    (0.95, 0.6034),
    (1.00, 0.6098),
    (1.05, 0.6179),
    (1.10, 0.6280),
    (1.15, 0.6407),
    (1.20, 0.6535),
];

/// f between the rows, by the cubic through the four nearest.
pub fn fraction(y: f64) -> Option<f64> {
    if !(0.30..=1.20).contains(&y) {
        return None;
    }
    let below = TABLE.partition_point(|row| row.0 <= y).saturating_sub(2).min(TABLE.len() - 4);
    let rows = &TABLE[below..below + 4];
    let term = |i: usize| {
        let others = (0..4).filter(|&j| j != i);
        rows[i].1 * others.map(|j| (y - rows[j].0) / (rows[i].0 - rows[j].0)).product::<f64>()
    };
    Some((0..4).map(term).sum())
}

/// Volume over R^3 of what leaves the tip per drop at Bond number `bond`; `None` outside the table.
pub fn volume(bond: f64) -> Option<f64> {
    let miss = |y: f64| fraction(y).map_or(f64::NAN, |f| 2.0 * std::f64::consts::PI * f * y.powi(3) - bond);
    roots::bracketed(miss, 0.30, 1.20).map(|y| y.powi(-3))
}
