//! Dripping tap that becomes a jet.
//!
//! Equation: `We_c = 4 (Bo_o/Bo) [1 + K Bo_o Bo - sqrt((1 + K Bo_o Bo)^2 - 1)]^2` with this source's own groups
//! `Bo = sqrt(rho g D^2/(2 gamma))`, `We = rho V^2 D/gamma`, K = 0.37.
//!
//! Symbols: D inside and D_o outside diameter of the nozzle (m), V mean velocity in it (m/s).
//!
//! Source: Clanet & Lasheras 1999, J. Fluid Mech. 383, 307 (definitions and K read, formula recalled from memory).
//!
//! Holds for: thin liquids in air, thin-walled or wetted nozzles, Bo of this kind below about 1.1.

/// K of the source (read there, not fitted here).
const NECKING: f64 = 0.37;

/// Velocity in the nozzle above which the tap is a jet, m/s; SI throughout, diameters in m.
pub fn critical_velocity(inside: f64, outside: f64, density: f64, tension: f64, gravity: f64) -> f64 {
    let bond = |d: f64| (density * gravity * d * d / (2.0 * tension)).sqrt();
    let (inner, outer) = (bond(inside), bond(outside));
    let sum = 1.0 + NECKING * outer * inner;
    let weber = 4.0 * outer / inner * (sum - (sum * sum - 1.0).sqrt()).powi(2);
    (weber * tension / (density * inside)).sqrt()
}
