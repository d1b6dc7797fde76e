//! Water at atmospheric pressure.
//!
//! Equation, t in degC, T in K:
//!   density   (999.83952 + 16.945176 t - 7.9870401e-3 t^2 - 46.170461e-6 t^3 + 105.56302e-9 t^4 - 280.54253e-12 t^5)
//!             / (1 + 16.879850e-3 t) kg/m3;
//!   viscosity 1e-6 sum a_i (T/300)^b_i Pa s;
//!   tension   0.2358 tau^1.256 (1 - 0.625 tau) N/m against its vapour, tau = 1 - T/647.096.
//!
//! Symbols: as above.
//!
//! Source: density Kell 1975, J. Chem. Eng. Data 20, 97; viscosity IAPWS SR6-08(2011), liquid water at 0.1 MPa; tension
//! IAPWS R1-76(2014); held against values of IAPWS-95, R12-08 and R1-76 by an independent library, to 0.1 %.
//!
//! Holds for: 0 to 100 degC at about 1 bar.

use crate::math::Pinned as _;

const A: [f64; 4] = [280.68, 511.45, 61.131, 0.45903];
const B: [f64; 4] = [-1.9, -7.7, -19.6, -40.0];
const CRITICAL: f64 = 647.096;

/// Density in kg/m3 at `t` degC.
pub fn density(t: f64) -> f64 {
    let top = 999.83952
        + t * (16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12))));
    top / (1.0 + 16.879850e-3 * t)
}

/// Viscosity in Pa s at `t` degC.
pub fn viscosity(t: f64) -> f64 {
    let reduced = (t + 273.15) / 300.0;
    1e-6 * A.iter().zip(B).map(|(a, b)| a * reduced.power(b)).sum::<f64>()
}

/// Surface tension in N/m at `t` degC.
pub fn surface_tension(t: f64) -> f64 {
    let tau = 1.0 - (t + 273.15) / CRITICAL;
    0.2358 * tau.power(1.256) * (1.0 - 0.625 * tau)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    // IAPWS-95, R12-08, R1-76(2014) evaluated by an independent library.
    #[test]
    fn published_iapws_within_a_thousandth() {
        let text = include_str!("../../tests/data/liquids/water_iapws.csv");
        let rows = text.lines().filter(|l| !l.starts_with(['#', 'T']));
        let mut checked = 0;
        for line in rows {
            let row: Vec<f64> = line.split(',').map(|x| x.parse().expect("a number")).collect();
            assert_relative_eq!(density(row[0]), row[1], max_relative = 1e-5);
            assert_relative_eq!(1e3 * viscosity(row[0]), row[2], max_relative = 1e-3);
            assert_relative_eq!(1e3 * surface_tension(row[0]), row[3], max_relative = 1e-3);
            checked += 1;
        }
        assert_eq!(checked, 7);
    }
}
