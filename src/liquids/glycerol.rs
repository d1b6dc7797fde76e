//! Glycerol in water, by mass.
//!
//! Equation, t in degC, c mass share of glycerol:
//!   viscosity mu_w^alpha mu_g^(1 - alpha), mu_w = 1.790e-3 exp[(-1230 - t) t/(36100 + 360 t)],
//!             mu_g = 12.100 exp[(-1233 + t) t/(9900 + 70 t)] Pa s, alpha = 1 - c + a b c (1 - c)/(a c + b (1 - c)),
//!             a = 0.705 - 0.0017 t, b = (4.9 + 0.036 t) a^2.5;
//!   density   k (rho_w + (rho_g - rho_w)/(1 + rho_g/rho_w (1/c - 1))), rho_g = 1273.3 - 0.6121 t kg/m3,
//!             k = 1 + (1.78e-6 t^2 - 1.82e-4 t + 1.41e-2) sin(pi c^1.31)^0.81.
//!
//! Symbols: as above.
//!
//! Source: viscosity Cheng 2008, Ind. Eng. Chem. Res. 47, 3285; density Volk & Kaehler 2018, Exp. Fluids 59, 75;
//! coefficients read in two open programs that cite them; viscosity held against the table of Segur & Oberstar 1951 (3.5 %).
//!
//! Holds for: 0 to 100 degC; the viscosity was checked from 0 to 40 degC.

use crate::math::Pinned as _;
use std::f64::consts::PI;

/// Viscosity in Pa s of a mass share `c` of glycerol at `t` degC.
pub fn viscosity(c: f64, t: f64) -> f64 {
    let water = 1.790e-3 * ((-1230.0 - t) * t / (36100.0 + 360.0 * t)).exponential();
    let glycerol = 12.1 * ((-1233.0 + t) * t / (9900.0 + 70.0 * t)).exponential();
    let a = 0.705 - 0.0017 * t;
    let b = (4.9 + 0.036 * t) * a.power(2.5);
    let alpha = 1.0 - c + a * b * c * (1.0 - c) / (a * c + b * (1.0 - c));
    water.power(alpha) * glycerol.power(1.0 - alpha)
}

/// Density in kg/m3 of a mass share `c` of glycerol at `t` degC.
pub fn density(c: f64, t: f64) -> f64 {
    let (water, glycerol) = (super::water::density(t), 1273.3 - 0.6121 * t);
    if c <= 0.0 {
        return water;
    }
    let contraction = (1.78e-6 * t - 1.82e-4) * t + 1.41e-2;
    let bend = (PI * c.power(1.31)).sine().max(0.0).power(0.81);
    (1.0 + contraction * bend) * (water + (glycerol - water) / (1.0 + glycerol / water * (1.0 / c - 1.0)))
}

/// Surface tension in N/m: between water's and glycerol's (63.4 mN/m at 20 degC) by mass; a rough rule (3 %).
pub fn surface_tension(c: f64, t: f64) -> f64 {
    super::water::surface_tension(t) * (1.0 - c) + 63.4e-3 * c
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    // Segur & Oberstar 1951, Ind. Eng. Chem. 43, 2117, 0 to 40 degC; the formula's own column was made independently.
    #[test]
    fn published_segur_and_oberstar_viscosity() {
        let text = include_str!("../../tests/data/liquids/glycerol_water_viscosity.csv");
        let mut checked = 0;
        for line in text.lines().filter(|l| !l.starts_with(['#', 'g'])) {
            let row: Vec<f64> = line.split(',').map(|x| x.parse().expect("a number")).collect();
            let ours = 1e3 * viscosity(row[0] / 100.0, row[1]);
            assert_relative_eq!(ours, row[3], max_relative = 1e-4);
            assert_relative_eq!(ours, row[2], max_relative = 0.036);
            checked += 1;
        }
        assert!(checked > 60, "{checked}");
    }

    // Handbook densities at 20 degC (Bosart & Snoddy 1928, Ind. Eng. Chem. 20, 1377), recalled from memory.
    #[test]
    fn published_recalled_density() {
        for (percent, rho) in [
            (0.0, 998.2),
            (10.0, 1022.1),
            (20.0, 1047.0),
            (40.0, 1099.3),
            (50.0, 1126.3),
            (60.0, 1153.8),
            (80.0, 1208.5),
            (100.0, 1261.1),
        ] {
            assert_relative_eq!(density(percent / 100.0, 20.0), rho, max_relative = 2e-3);
        }
    }
}
