//! One liquid that flows through a hole: radius of the tube in which a parabola is as fast on the axis as the stream is.
//!
//! Equation: lengths in the hole's radius, s from its plane along the flow. Up to the hole and in it
//!   R^2 = 4 (1 + t^2)/p,  t = ln(1 + e^(-k x))/k,  p = 3 + 1/(1 + e^(-k x)),  x = s - 0.04,  k = 4.466;
//! in a cone of half angle q that begins at s = 0
//!   R = 1 + g ln(1 + e^(j (s - s_0)))/j,  g = (2/sqrt 3) (1 - cos q) sqrt(1 + 2 cos q)/sin q,  s_0 = 1/g - 1/tan q,  j = 3.5.
//! Symbols: R; the velocity on the axis is 2 Q/(pi R^2), Q the flow.
//! Source: t = -s, p = 3 is the exact flow through a hole in a plate (Sampson 1891: within a hyperboloid of confocal coordinate c goes the
//! share 1 - c^3; recalled), t = 0, p = 4 that in a tube (1 - c^4 with c^2 = 1 - r^2). From one to the other goes the slowest axisymmetric
//! disturbance of Stokes flow along a tube, e^(-k s). g s is the exact flow from a point in a cone
//! (velocity as cos^2 less cos^2 q; elementary). The two numbers 0.04 (how far rounding moves the plane) and 3.5 are fitted to the axis
//! velocity of own boundary elements of the bare stream (`validation/reference`; edges rounded by 0.02 to 0.1, cones of slope 0.2 to 2.5),
//! none to a thread. What matters is the slope too: a thread is stretched with it. A form whose slope vanished in the hole's plane pulled at a
//! neck there with twice the stretch where there is half of it (`validation/orifice/README.md`).
//! Holds for: no inertia. Velocity on the axis within 2 % (rms) from two radii before the plane on, its slope within 0.03 of the hole's
//! velocity a radius (rms); behind the hole within 1 % up to slopes of 0.7, 5 % up to 2.5.

use crate::math::Pinned as _;

/// Decay of the slowest axisymmetric disturbance of Stokes flow along a tube: real part of the first root of
/// `k (J0(k)^2 + J1(k)^2) = 2 J0(k) J1(k)`, k = 4.466 + 1.468 i (elementary; common practice, no source).
pub const DECAY: f64 = 4.466;
/// Where the flow's plane lies.
const PLANE: f64 = 0.04;
/// Rate at which a stream leaves the hole's radius for the cone's.
const LEAVING: f64 = 3.5;
/// Exponent beyond which nothing is left.
const OVER: f64 = 40.0;

/// ln(1 + e^x) and its derivative.
fn ramp(x: f64) -> (f64, f64) {
    if x > OVER {
        return (x, 1.0);
    }
    let e = x.exponential();
    (e.logarithm_of_one_more(), e / (1.0 + e))
}

/// R of the stream at `s` from a hole's plane, and its slope.
pub fn into(s: f64) -> (f64, f64) {
    let (t, outside) = ramp(-DECAY * (s - PLANE));
    let (t, p) = (t / DECAY, 4.0 - outside);
    let radius = (4.0 * (1.0 + t * t) / p).sqrt();
    // dt/ds = -outside, dp/ds = k outside (1 - outside)
    let slope = 0.5 * radius * (-2.0 * t * outside / (1.0 + t * t) - DECAY * outside * (1.0 - outside) / p);
    (radius, slope)
}

/// g of a cone of slope `steepness`.
fn growth(steepness: f64) -> f64 {
    let cosine = 1.0 / (1.0 + steepness * steepness).sqrt();
    2.0 / 3f64.sqrt() * (1.0 - cosine) * (1.0 + 2.0 * cosine).sqrt() / (steepness * cosine)
}

/// R of the stream at `s` from the beginning of a cone of slope `steepness`, and its slope.
pub fn into_cone(s: f64, steepness: f64) -> (f64, f64) {
    let growth = growth(steepness);
    let (far, share) = ramp(LEAVING * (s + 1.0 / steepness - 1.0 / growth));
    (1.0 + growth * far / LEAVING, growth * share)
}

/// Where R would reach `radius` far along the cone.
pub fn reaches(radius: f64, steepness: f64) -> f64 {
    radius / growth(steepness) - 1.0 / steepness
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    // Sampson 1891 (recalled): (3 Q/2 pi)/(1 + s^2) on the axis; Poiseuille: 2 Q/pi.
    #[test]
    fn theory_flow_to_a_plate_and_along_a_tube() {
        for s in [-9.0f64, -20.0, -300.0] {
            assert_relative_eq!(into(s).0.powi(-2), 0.75 / (1.0 + (s - PLANE).powi(2)), max_relative = 1e-9);
        }
        assert_relative_eq!(into(8.0).0, 1.0, max_relative = 1e-12);
    }

    // Own boundary elements (`validation/reference`), edge rounded by 0.1 of the hole: velocity on the axis over that far in the hole, and
    // its slope.
    #[test]
    fn reference_velocity_on_the_axis_before_and_in_a_hole() {
        for (s, velocity, slope) in [
            (-2.0, 0.1406, 0.1131),
            (-1.0, 0.3518, 0.3584),
            (-0.5, 0.5827, 0.5537),
            (-0.26, 0.7190, 0.5642),
            (0.0, 0.8528, 0.4422),
            (0.24, 0.9371, 0.2592),
            (0.5, 0.9824, 0.1029),
            (0.74, 0.9974, 0.0325),
            (1.0, 1.0017, 0.0063),
        ] {
            let (radius, by_place) = into(s);
            assert_relative_eq!(radius.powi(-2), velocity, max_relative = 0.04);
            assert!(
                (-2.0 * by_place * radius.powi(-3) - slope).abs() < 0.05,
                "{s}: {}",
                -2.0 * by_place * radius.powi(-3)
            );
        }
    }

    // The same behind a hole one radius long: cones of slope 0.67, s from the cone's beginning.
    #[test]
    fn reference_velocity_on_the_axis_in_a_cone() {
        for (s, velocity) in [(0.0, 0.8994), (0.24, 0.8082), (0.5, 0.6889), (1.0, 0.4812), (1.5, 0.3412), (2.0, 0.2530)]
        {
            assert_relative_eq!(into_cone(s, 2.0 / 3.0).0.powi(-2), velocity, max_relative = 0.03);
        }
    }

    // 3 sin^2 q/((1 - cos q)^2 (1 + 2 cos q)) of Q/(2 pi z^2) on the axis of a cone (velocity as cos^2 less cos^2 q), against 4/z^2 of a
    // parabola in its radius z tan q: a slender cone is filled.
    #[test]
    fn theory_flow_in_a_cone() {
        for steepness in [0.05f64, 0.67, 2.0] {
            let q = steepness.atan();
            let flow = 3.0 * q.sin().powi(2) / ((1.0 - q.cos()).powi(2) * (1.0 + 2.0 * q.cos()));
            assert_relative_eq!(into_cone(400.0, steepness).1, 2.0 / flow.sqrt(), max_relative = 1e-9);
            assert_relative_eq!(into_cone(reaches(9.0, steepness), steepness).0, 9.0, max_relative = 1e-6);
        }
        assert_relative_eq!(into_cone(80.0, 0.05).0, 1.0 + 0.05 * 80.0, max_relative = 2e-3);
    }

    proptest! {
        #[test]
        fn slopes_are_derivatives(s in -6.0f64..4.0, steepness in 0.05f64..3.0) {
            let d = 1e-6;
            for at in [into as fn(f64) -> (f64, f64), |s| into_cone(s, 0.7)] {
                let difference = (at(s + d).0 - at(s - d).0) / (2.0 * d);
                prop_assert!((at(s).1 - difference).abs() < 1e-7);
            }
            let difference = (into_cone(s + d, steepness).0 - into_cone(s - d, steepness).0) / (2.0 * d);
            prop_assert!((into_cone(s, steepness).1 - difference).abs() < 1e-7);
        }
    }
}
