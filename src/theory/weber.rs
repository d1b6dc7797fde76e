//! Viscous thread in the long-wave limit: what the one-dimensional equations themselves say.
//!
//! Equation: `w^2 + 3 Oh x^2 w = x^2 (1 - x^2)/2`; with radial inertia the first term has the factor (1 + x^2/8).
//! Fastest mode of the plain form: `x = 1/sqrt(2 + 3 sqrt(2) Oh)`, `w = 1/(2 sqrt(2) + 6 Oh)`.
//!
//! Symbols: x = k R, Oh = mu/sqrt(rho gamma R), w in sqrt(gamma/(rho R^3)).
//!
//! Source: Weber 1931, Z. angew. Math. Mech. 11, 136; Eggers & Dupont 1994, J. Fluid Mech. 262, 205; with radial inertia
//! Green 1976, Int. J. Eng. Sci. 14, 49.
//!
//! Holds for: small perturbations, x below about 1; 2.98 % fast at Oh = 0 against the exact relation, 0.34 % at Oh = 1.

use super::Mode;

/// Growth rate at reduced wavenumber x < 1 (the slower decay for x > 1; zero growth for an oscillation).
pub fn growth(ohnesorge: f64, x: f64) -> f64 {
    root(1.0, ohnesorge, x)
}

/// Growth rate with radial inertia.
pub fn growth_with_radial_inertia(ohnesorge: f64, x: f64) -> f64 {
    root(1.0 + x * x / 8.0, ohnesorge, x)
}

fn root(mass: f64, ohnesorge: f64, x: f64) -> f64 {
    let (damping, drive) = (1.5 * ohnesorge * x * x, 0.5 * x * x * (1.0 - x * x));
    let discriminant = damping * damping + mass * drive;
    if discriminant < 0.0 {
        return -damping / mass;
    }
    // Rationalised so that large Oh loses no digits.
    drive / (damping + discriminant.sqrt())
}

/// The mode of the plain form that grows fastest.
pub fn fastest(ohnesorge: f64) -> Mode {
    let root_two = 2f64.sqrt();
    Mode { wavenumber: 1.0 / (2.0 + 3.0 * root_two * ohnesorge).sqrt(), rate: 1.0 / (2.0 * root_two + 6.0 * ohnesorge) }
}
