//! Drag on a rounded end, and the sheltered liquid behind the tip.
//!
//! Equation: a drop of radius r held in a stream U feels `6 pi mu_o r U HR K1`, `HR = (2/3 + lambda)/(1 + lambda)`; spread over
//! its length 2r this is a drag coefficient `E = 3 HR K1(r/R_w)`, joined with the slender d as (d^4 + E^4)^(1/4).
//! `K1 = [1 + 2.2757 k^5 (1-s)/(2+3s)] / [1 - 0.7017 k (2+3s)/(1+s) + 2.0865 k^3 s/(1+s) + 0.5689 k^5 (2-3s)/(1+s)
//! - 0.72603 k^6 (1-s)/(1+s)]`, s = lambda, k = r/R_w.
//! Sheltered stream: `u_eq` times `1 - exp(-z/(2R))`, R the radius of the tip, z the distance from it.
//!
//! Symbols: r drop radius (m), R_w wall radius (m), lambda = mu_i/mu_o, f share of the free-drop drag.
//!
//! Source: Hadamard 1911 (C. R. Acad. Sci. 152, 1735), Rybczynski 1911; wall factor Haberman & Sayre 1958 (David
//! Taylor Model Basin report 1143), recalled from memory, its rigid limit agrees with the rigid formula known apart.
//! Shares and shelter: see the functions.
//!
//! Holds for: r/R_w < 0.8, no inertia outside. Slender drag integrated over a sphere gives only 0.4 of the exact drag; the size
//! of a dripping drop hangs on this closure.

/// Hadamard-Rybczynski factor: 2/3 for a bubble, 1 for a rigid sphere.
pub fn hadamard_rybczynski(viscosity_ratio: f64) -> f64 {
    (2.0 / 3.0 + viscosity_ratio) / (1.0 + viscosity_ratio)
}

/// Confinement above which K1 is held (its series fails near contact).
const WALL_FACTOR_LIMIT: f64 = 0.85;

/// Wall factor K1 of a fluid sphere moving along the axis of a tube, k = r/R_w.
pub fn wall_factor(confinement: f64, viscosity_ratio: f64) -> f64 {
    let k = confinement.min(WALL_FACTOR_LIMIT);
    let s = viscosity_ratio / (1.0 + viscosity_ratio);
    let r = 1.0 - s;
    let (k2, k3) = (k * k, k * k * k);
    let k5 = k2 * k3;
    let top = 1.0 + 2.2757 * k5 * (r - s) / (2.0 * r + 3.0 * s);
    let bottom = 1.0 - 0.7017 * k * (2.0 * r + 3.0 * s) + 2.0865 * k3 * s + 0.5689 * k5 * (2.0 * r - 3.0 * s)
        - 0.72603 * k5 * k * (r - s);
    top / bottom
}

/// Drag coefficient E of a rounded end of largest radius `radius`, times the share `f` that acts on it.
pub fn end_drag(radius: f64, wall: Option<f64>, viscosity_ratio: f64, share: f64) -> f64 {
    let wall_factor = wall.map_or(1.0, |wall| wall_factor(radius / wall, viscosity_ratio));
    share * 3.0 * hadamard_rybczynski(viscosity_ratio) * wall_factor
}

/// Slender drag and end drag joined, (d^4 + E^4)^(1/4), and its derivative with respect to d.
#[inline]
pub fn blend(d: f64, end: f64) -> (f64, f64) {
    let (d2, e2) = (d * d, end * end);
    let sum = d2 * d2 + e2 * e2;
    let joined = sum.sqrt().sqrt();
    (joined, if sum > 0.0 { d2 * d * joined / sum } else { 1.0 })
}

/// Distance over which the stream recovers behind the tip, in tip radii (first estimate, common practice, no source).
const SHELTER_LENGTH: f64 = 2.0;

/// Share of the undisturbed stream at distance z behind a tip of radius R, and its derivative with respect to z.
#[inline]
pub fn shelter(z: f64, tip_radius: f64) -> (f64, f64) {
    let length = SHELTER_LENGTH * tip_radius;
    let fade = (-z.max(0.0) / length).exp();
    (1.0 - fade, fade / length)
}
