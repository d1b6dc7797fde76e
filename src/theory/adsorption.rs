//! A dissolved surfactant on its way to a fresh interface: adsorption limited by diffusion, on a plane or a growing drop.
//!
//! Equation: with the area `A(t) = t^m` of an interface that grows everywhere alike, and `s = t^(2m+1)/(2m+1)`,
//! `theta A = pi^(-1/2) int_0^s (1 - c)/sqrt(s - s') ds'` and, at every instant, `theta = kappa c/(1 + kappa c)` (Langmuir);
//! m = 0 a plane at rest, m = 2/3 a sphere fed at constant flow. Tension `gamma = gamma_0 + R T Gamma_inf ln(1 - theta)`.
//!
//! Symbols: theta = Gamma/Gamma_inf, c concentration beside the interface over the bulk's c_b, kappa = K c_b, t time in
//! (Gamma_inf/c_b)^2/D, Gamma_inf closest packing (mol/m2), K Langmuir constant (m3/mol), D diffusivity.
//!
//! Source: Ward & Tordai 1946, J. Chem. Phys. 14, 453 (integral; the article itself was not read, the integral re-derived from
//! the diffusion equation in coordinates that move with the interface); area t^(2/3) of a drop: Ilkovic 1934 (recalled), the
//! same change of variable. Held against tables made by a diffusion solver.
//!
//! Holds for: a diffusion layer much thinner than the drop, bulk not depleted, no barrier to adsorption, single molecules
//! (below the micelle limit). The integral is taken exactly over pieces on which c is linear, on points graded towards t = 0,
//! and extrapolated from three meshes; their difference is the error that is told.

use crate::case::rheology::GAS_CONSTANT;
use crate::math::Pinned as _;
use std::f64::consts::PI;

/// How the interface grows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Interface {
    /// A plane at rest.
    Plane,
    /// A sphere fed at constant flow from nothing.
    Drop,
}

/// A dissolved surfactant of the Langmuir kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Solution {
    /// c_b, mol/m3.
    pub concentration: f64,
    /// Gamma_inf, mol/m2.
    pub saturation: f64,
    /// K, m3/mol.
    pub affinity: f64,
    /// D, m2/s.
    pub diffusivity: f64,
    /// K.
    pub temperature: f64,
}

/// What is on an interface at some age.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layer {
    /// theta = Gamma/Gamma_inf.
    pub coverage: f64,
    /// c: concentration beside the interface over the bulk's.
    pub subsurface: f64,
    /// Error of the coverage, relative, from three meshes.
    pub error: f64,
}

/// Points of the coarsest of three meshes.
const POINTS: usize = 200;
/// Largest number of points.
const POINTS_MAX: usize = 12_800;
/// Grading: the j-th point at (j/n)^GRADE of the last; the first lie where theta still grows like sqrt(t).
const GRADE: i32 = 5;

impl Interface {
    /// m.
    fn growth(self) -> f64 {
        match self {
            Interface::Plane => 0.0,
            Interface::Drop => 2.0 / 3.0,
        }
    }
}

/// Coverage at time `t` (in (Gamma_inf/c_b)^2/D), to a relative error of `tolerance` at best effort; see [`Layer::error`].
pub fn coverage(interface: Interface, kappa: f64, t: f64, tolerance: f64) -> Layer {
    if t <= 0.0 || kappa <= 0.0 {
        return Layer { coverage: 0.0, subsurface: 0.0, error: 0.0 };
    }
    let mut points = POINTS;
    let mut values = [0, 1].map(|i| march(interface, kappa, t, points << i));
    loop {
        points *= 2;
        let finer = march(interface, kappa, t, 2 * points);
        // Second order: theta is 1/3 of the last change away from the finest.
        let [first, second] = [values, [values[1], finer]].map(|[coarse, fine]| fine + (fine - coarse) / 3.0);
        let error = ((second - first) / second).abs();
        if error <= tolerance || 2 * points >= POINTS_MAX {
            let coverage = second.clamp(0.0, 1.0 - f64::EPSILON);
            return Layer { coverage, subsurface: coverage / (kappa * (1.0 - coverage)), error };
        }
        values = [values[1], finer];
    }
}

/// theta at the end of a march over `n` points.
fn march(interface: Interface, kappa: f64, end: f64, n: usize) -> f64 {
    let m = interface.growth();
    let power = 2.0 * m + 1.0;
    let s_end = end.power(power) / power;
    let s: Vec<f64> = (0..=n).map(|j| s_end * (j as f64 / n as f64).powi(GRADE)).collect();
    // 1 - c at each point; all of it is missing at the start
    let mut lack = vec![1.0; n + 1];
    let mut theta = 0.0;
    for k in 1..=n {
        let area = (power * s[k]).power(m / power);
        let mut sum = 0.0;
        // Distances to both ends of a piece as square roots: nothing cancels in its two weights.
        let mut far = s[k].sqrt();
        for j in 1..k {
            let near = (s[k] - s[j]).sqrt();
            let scale = (s[j] - s[j - 1]) / ((far + near) * (far + near));
            sum += scale * (lack[j - 1] * (far + 2.0 * near) + lack[j] * (2.0 * far + near));
            far = near;
        }
        // last piece: near = 0
        sum += far * lack[k - 1];
        let scale = 2.0 / (3.0 * PI.sqrt() * area);
        let (known, own) = (scale * sum, 2.0 * scale * far);
        // kappa c/(1 + kappa c) = known + own (1 - c): the positive root of a quadratic, without cancellation
        let right = known + own;
        let (a, b) = (own * kappa, kappa + own - right * kappa);
        let root = (b * b + 4.0 * a * right).sqrt();
        let c = if b > 0.0 { 2.0 * right / (b + root) } else { (root - b) / (2.0 * a) };
        lack[k] = 1.0 - c;
        theta = kappa * c / (1.0 + kappa * c);
    }
    theta
}

impl Solution {
    /// kappa = K c_b.
    pub fn kappa(&self) -> f64 {
        self.affinity * self.concentration
    }

    /// Unit of time (Gamma_inf/c_b)^2/D, s.
    pub fn time(&self) -> f64 {
        (self.saturation / self.concentration).powi(2) / self.diffusivity
    }

    /// By how much a coverage lowers the tension, N/m.
    pub fn pressure(&self, coverage: f64) -> f64 {
        -GAS_CONSTANT * self.temperature * self.saturation * (-coverage).logarithm_of_one_more()
    }

    /// The same at equilibrium.
    pub fn equilibrium_pressure(&self) -> f64 {
        GAS_CONSTANT * self.temperature * self.saturation * self.kappa().logarithm_of_one_more()
    }

    /// The layer on an interface of age `age` (s).
    pub fn layer(&self, interface: Interface, age: f64) -> Layer {
        coverage(interface, self.kappa(), age / self.time(), TOLERANCE)
    }
}

/// Relative error of a coverage that [`Solution::layer`] aims at: a tension has four digits at best.
const TOLERANCE: f64 = 1e-6;

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn table(text: &str) -> Vec<Vec<f64>> {
        let rows = text.lines().filter(|l| !l.starts_with('#')).skip(1);
        rows.map(|l| l.split(',').map(|cell| cell.parse().expect("a number")).collect()).collect()
    }

    fn check(interface: Interface, text: &str) {
        let rows = table(text);
        assert!(rows.len() > 30);
        for row in rows {
            let [kappa, t, theta, _, c, diffusivity, saturation, affinity, concentration, age, tension, _] = row[..]
            else {
                panic!("{row:?}")
            };
            let layer = coverage(interface, kappa, t, 1e-7);
            assert_relative_eq!(layer.coverage, theta, max_relative = 1e-6);
            assert!(
                ((layer.coverage / theta - 1.0).abs() < 3.0 * layer.error + 2e-7) && layer.error < 1e-6,
                "{layer:?} {row:?}"
            );
            assert_relative_eq!(layer.subsurface, c, max_relative = 3e-5, epsilon = 1e-9);
            let solution = Solution { concentration, saturation, affinity, diffusivity, temperature: 298.15 };
            let lowered = solution.pressure(solution.layer(interface, age).coverage);
            assert_relative_eq!(0.072 - lowered, 1e-3 * tension, max_relative = 1e-6);
        }
    }

    // tests/data/real_liquids: diffusion equation by Chebyshev collocation, 1e-7 in theta.
    #[test]
    fn reference_adsorption_on_a_plane() {
        check(Interface::Plane, include_str!("../../tests/data/real_liquids/wardtordai_planar.csv"));
    }

    #[test]
    fn reference_adsorption_on_a_growing_drop() {
        check(Interface::Drop, include_str!("../../tests/data/real_liquids/wardtordai_drop.csv"));
    }

    // Sink at the start: theta = 2 sqrt(t/pi) on a plane, less by sqrt(3/7) on a drop.
    #[test]
    fn theory_short_times() {
        for kappa in [0.1, 10.0, 1e4] {
            let t = 1e-12;
            let plane = coverage(Interface::Plane, kappa, t, 1e-8).coverage;
            let drop = coverage(Interface::Drop, kappa, t, 1e-8).coverage;
            assert_relative_eq!(plane, 2.0 * (t / PI).sqrt(), max_relative = 2e-5);
            assert_relative_eq!(drop / plane, (3.0f64 / 7.0).sqrt(), max_relative = 1e-5);
        }
    }

    // Nearly full: on a plane (1 - c) sqrt(t) tends to theta_e/sqrt(pi) (the source is used up at a constant rate of theta_e),
    // on a drop to theta_e sqrt(7 pi/3)/B(1/2, 11/14).
    #[test]
    fn theory_long_times() {
        let (kappa, t) = (1.0, 1e6);
        let plane = coverage(Interface::Plane, kappa, t, 1e-9);
        let theta_e = kappa / (1.0 + kappa);
        assert_relative_eq!((1.0 - plane.subsurface) * t.sqrt(), theta_e / PI.sqrt(), max_relative = 0.01);
        let beta = crate::theory::quadrature::interval(|a| 2.0 * a.cos().max(0.0).powf(4.0 / 7.0), 0.0, 0.5 * PI);
        let drop = coverage(Interface::Drop, kappa, t, 1e-9);
        assert_relative_eq!(
            (1.0 - drop.subsurface) * t.sqrt(),
            theta_e * (7.0 * PI / 3.0).sqrt() / beta,
            max_relative = 0.01
        );
        let solution =
            Solution { concentration: 1.0, saturation: 3e-6, affinity: 1.0, diffusivity: 5e-10, temperature: 298.15 };
        let full = solution.pressure(solution.layer(Interface::Plane, 1e6 * solution.time()).coverage);
        assert_relative_eq!(full, solution.equilibrium_pressure(), max_relative = 2e-3);
    }
}
