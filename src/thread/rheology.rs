//! What a cell's liquid and surface do beyond one viscosity and one tension: thinning, polymer, surfactant.
//!
//! Equation (scaled, see [`super`]; a = h^2 of the cell, d its length, v its volume, rate = du/d):
//!   viscous tension  3 Oh (v/d^2) du m,   m = m_inf + (m_0 - m_inf) (1 + 3 (t rate)^2)^((n-1)/2)      (Carreau; m = b with a polymer)
//!   polymer tension  pi a G f (C - B),    G = (1 - b) Oh/De,   f = (L^2 - 3)/(L^2 - C - 2B)  (1 for Oldroyd-B)
//!   C = X/a^2, B = Y a;  dX/dt = -(f X - a^2)/De,  dY/dt = -(f Y - 1/a)/De   on the moving liquid
//!   capillary tension  g(Gamma) T,  T of a surface of tension 1, g of [`super::surfactant`];  Gamma = N/(2 pi d s),  s^2 = c_0 + c_1^2/4.
//! Symbols: X, Y conformation of the polymer along and across without the part that stretching alone would give (so no term
//! stretches them and a fast thread costs no steps), C, B the conformation itself (1 at rest), b solvent's share of Oh, De
//! relaxation time, N amount of surfactant.
//! The force of a cell on its neighbours is its whole axial force, so that the Marangoni stress is the difference of tensions and
//! momentum is kept (a round drop is pulled by no gradient of tension); |shear rate| is sqrt(2 D:D) = sqrt(3) |rate| of uniaxial stretching.
//! Source: Bird, Armstrong & Hassager 1987, Dynamics of Polymeric Liquids 1 (Carreau; recalled); Bird, Dotson & Johnson 1980,
//! J. Non-Newtonian Fluid Mech. 7, 213 (FENE-P; recalled); thread equations with polymer: Entov & Hinch 1997, J. Non-Newtonian
//! Fluid Mech. 72, 31 (recalled). Derivatives are tested against differences, answers against tables made by two other methods.
//! Holds for: uniform velocity and conformation across the thread (long waves).

use super::cells::Triple;
use super::surfactant::Surfactant;
use crate::device::thinning::Carreau;
use crate::math::Pinned as _;
use std::f64::consts::PI;

/// A dissolved polymer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Polymer {
    /// 1 - b.
    pub share: f64,
    /// De.
    pub relaxation: f64,
    /// 1/L^2 (0: Oldroyd-B).
    pub inverse_extensibility: f64,
}

/// All of it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Rheology {
    pub thinning: Option<Carreau>,
    pub polymer: Option<Polymer>,
    pub surfactant: Option<Surfactant>,
}

impl Rheology {
    /// m and rate dm/d rate at a rate of stretching.
    #[inline(always)]
    pub fn thinned(&self, rate: f64) -> (f64, f64) {
        match (self.thinning, self.polymer) {
            (Some(liquid), _) => liquid.viscosity(3.0 * (liquid.time * rate).powi(2)),
            (None, Some(polymer)) => (1.0 - polymer.share, 0.0),
            (None, None) => (1.0, 0.0),
        }
    }
}

/// What a polymer's cell needs inside one step: its tension, what it answers to length and conformation, and how the
/// conformation answers to both.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Strand {
    /// Tension.
    pub tension: f64,
    /// dT/dd at fixed X and Y.
    pub by_length: f64,
    /// dT/d(X, Y).
    pub by_state: [f64; 2],
    /// d(X, Y)/dt.
    pub rate: [f64; 2],
    /// Its derivative by length.
    pub rate_by_length: [f64; 2],
    /// Its derivatives by (X, Y), rows of the rates.
    pub rate_by_state: [[f64; 2]; 2],
}

impl Polymer {
    /// Modulus G at Ohnesorge number `ohnesorge`.
    pub fn modulus(&self, ohnesorge: f64) -> f64 {
        self.share * ohnesorge / self.relaxation
    }

    /// f and 1/(L^2 - C - 2B), the latter 0 for Oldroyd-B; infinite or negative f beyond the chains' length.
    #[inline(always)]
    fn stiffening(&self, c: f64, b: f64) -> (f64, f64) {
        let q = self.inverse_extensibility;
        // both over L^2, so that an endless chain is no special case
        let left = 1.0 - q * (c + 2.0 * b);
        let f = (1.0 - 3.0 * q) / left;
        // beyond full length there is no state: NaN is refused by the step
        if left > 0.0 { (f, q / left) } else { (f64::NAN, f64::NAN) }
    }

    /// Tension and rates of a cell: `a` its mean squared radius, `d` its length.
    #[inline(always)]
    pub fn strand(&self, modulus: f64, a: f64, d: f64, [x, y]: [f64; 2]) -> Strand {
        let inv_a = 1.0 / a;
        let (c, b) = (x * inv_a * inv_a, y * a);
        let (f, r) = self.stiffening(c, b);
        let difference = c - b;
        let scale = PI * modulus * a;
        let f_a = f * r * 2.0 * (b - c) * inv_a;
        let (f_x, f_y) = (f * r * inv_a * inv_a, 2.0 * f * r * a);
        let by_a = PI * modulus * (f * difference + a * f_a * difference + f * (-2.0 * c - b));
        let inv_de = 1.0 / self.relaxation;
        // da/dd = -a/d
        let turn = -a / d;
        Strand {
            tension: scale * f * difference,
            by_length: by_a * turn,
            by_state: [scale * (f_x * difference + f * inv_a * inv_a), scale * (f_y * difference - f * a)],
            rate: [-(f * x - a * a) * inv_de, -(f * y - inv_a) * inv_de],
            rate_by_length: [-(x * f_a - 2.0 * a) * inv_de * turn, -(y * f_a + inv_a * inv_a) * inv_de * turn],
            rate_by_state: [[-(f + x * f_x) * inv_de, -x * f_y * inv_de], [-y * f_x * inv_de, -(f + y * f_y) * inv_de]],
        }
    }

    /// X and Y of a polymer at rest in a cell of mean squared radius `a`.
    pub fn at_rest(a: f64) -> [f64; 2] {
        [a * a, 1.0 / a]
    }

    /// What is left of X and Y when they have relaxed for `time` at the same radius, in one implicit step, and what they have relaxed to.
    pub fn relaxing(&self, a: f64, [x, y]: [f64; 2], time: f64) -> [[f64; 2]; 2] {
        let (f, _) = self.stiffening(x / (a * a), y * a);
        let r = time / self.relaxation;
        let (left, [x_rest, y_rest]) = (1.0 / (1.0 + f * r), Polymer::at_rest(a));
        [[left * x, left * y], [left * r * x_rest, left * r * y_rest]]
    }

    /// Elastic energy stored and power dissipated by relaxation, per volume: `G/2 [(L^2 - 3) ln f - ln(C B^2)]` and
    /// `G/(2 De) [(f C - 1)^2/C + 2 (f B - 1)^2/B]`; their rates balance the stress power G f (C - B) du/dz.
    pub fn energy(&self, modulus: f64, a: f64, [x, y]: [f64; 2]) -> (f64, f64) {
        let (c, b) = (x / (a * a), y * a);
        let (f, _) = self.stiffening(c, b);
        let q = self.inverse_extensibility;
        let springs = if q > 0.0 { (1.0 / q - 3.0) * f.logarithm() } else { c + 2.0 * b - 3.0 };
        let stored = 0.5 * modulus * (springs - (c * b * b).logarithm());
        let lost = 0.5 * modulus / self.relaxation * ((f * c - 1.0).powi(2) / c + 2.0 * (f * b - 1.0).powi(2) / b);
        (stored, lost)
    }
}

/// Area of a cell's surface over 2 pi d, with its derivatives by (c0, c1), from the parabola of its neighbourhood.
#[inline(always)]
pub fn girth(triple: &Triple) -> (f64, [f64; 2]) {
    let p = triple.parabola();
    let s = (p.c0 + 0.25 * p.c1 * p.c1).sqrt();
    (s, [0.5 / s, 0.25 * p.c1 / s])
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    const CHAINS: [Polymer; 2] = [
        Polymer { share: 0.75, relaxation: 3.0, inverse_extensibility: 0.0 },
        Polymer { share: 0.5, relaxation: 0.2, inverse_extensibility: 1.0 / 400.0 },
    ];

    #[test]
    fn derivatives_of_a_strand_agree_with_differences() {
        for chain in CHAINS {
            let (a, d, q) = (0.3, 0.02, [0.3 * 0.3 * 40.0, 0.2 / 0.3]);
            let g = chain.modulus(0.4);
            let volume = a * d;
            let at = |d: f64, q| chain.strand(g, volume / d, d, q);
            let s = at(d, q);
            let step = 1e-6;
            let by = |up: Strand, down: Strand, width: f64| {
                [
                    (up.tension - down.tension) / width,
                    (up.rate[0] - down.rate[0]) / width,
                    (up.rate[1] - down.rate[1]) / width,
                ]
            };
            let length = by(at(d * (1.0 + step), q), at(d * (1.0 - step), q), 2.0 * step * d);
            assert_relative_eq!(s.by_length, length[0], max_relative = 1e-7);
            assert_relative_eq!(s.rate_by_length[0], length[1], max_relative = 1e-6);
            assert_relative_eq!(s.rate_by_length[1], length[2], max_relative = 1e-6);
            for i in 0..2 {
                let moved = |sign: f64| {
                    let mut q = q;
                    q[i] *= 1.0 + sign * step;
                    at(d, q)
                };
                let state = by(moved(1.0), moved(-1.0), 2.0 * step * q[i]);
                assert_relative_eq!(s.by_state[i], state[0], max_relative = 1e-6);
                assert_relative_eq!(s.rate_by_state[0][i], state[1], max_relative = 1e-6, epsilon = 1e-9);
                assert_relative_eq!(s.rate_by_state[1][i], state[2], max_relative = 1e-6, epsilon = 1e-9);
            }
        }
    }

    #[test]
    fn theory_a_polymer_at_rest_pulls_nothing_and_stays() {
        for chain in CHAINS {
            let s = chain.strand(2.0, 0.3, 0.1, Polymer::at_rest(0.3));
            assert!(s.tension.abs() < 1e-14 && s.rate.iter().all(|r| r.abs() < 1e-13), "{s:?}");
            let (stored, lost) = chain.energy(2.0, 0.3, Polymer::at_rest(0.3));
            assert!(stored.abs() < 1e-12 && lost.abs() < 1e-12);
        }
    }

    // Stress power = rate of stored energy + dissipation, for a cell stretched at a given rate.
    #[test]
    fn theory_the_energy_of_a_strand_balances() {
        for chain in CHAINS {
            let (g, v, rate) = (0.7, 0.01 * PI, 0.9);
            let (mut d, mut q) = (0.01 / 0.5, Polymer::at_rest(0.5));
            let a = |d: f64| v / (PI * d);
            let (mut work, mut lost) = (0.0, 0.0);
            let dt = 1e-4;
            for _ in 0..15_000 {
                // middle of the step by half a step first
                let s = chain.strand(g, a(d), d, q);
                let half = [q[0] + 0.5 * dt * s.rate[0], q[1] + 0.5 * dt * s.rate[1]];
                let middle = d * (1.0 + 0.5 * dt * rate);
                let m = chain.strand(g, a(middle), middle, half);
                work += m.tension * rate * middle * dt;
                lost += chain.energy(g, a(middle), half).1 * v * dt;
                q = [q[0] + dt * m.rate[0], q[1] + dt * m.rate[1]];
                d *= (dt * rate).exp();
            }
            let stored = chain.energy(g, a(d), q).0 * v;
            assert_relative_eq!(work, stored + lost, max_relative = 1e-3);
        }
    }

    #[test]
    fn theory_carreau_limits_and_derivative() {
        let liquid =
            Rheology { thinning: Some(Carreau { exponent: 0.6, time: 10.0, infinite: 0.01 }), ..Rheology::default() };
        assert_eq!(liquid.thinned(0.0), (1.0, 0.0));
        // power law: m tends to (sqrt(3) t rate)^(n-1)
        let (m, _) = liquid.thinned(1e4);
        assert_relative_eq!(m, 0.01 + 0.99 * (3f64.sqrt() * 1e5).powf(-0.4), max_relative = 1e-9);
        let (_, slope) = liquid.thinned(0.3);
        let numeric = 0.3 * (liquid.thinned(0.3 + 1e-6).0 - liquid.thinned(0.3 - 1e-6).0) / 2e-6;
        assert_relative_eq!(slope, numeric, max_relative = 1e-8);
    }
}
