//! The stream that enters at the nozzle: mean, modulation and seeded noise, with its exact integral.
//!
//! Equation: U(t) = U0 [1 + A sin(2 pi f t) + sum_k b sin(2 pi f_k t + p_k)], with f_k spread evenly over a band and
//! p_k from the seed; the noise's root mean square is `noise` (b = noise sqrt(2/n)).
//! Symbols: U (sqrt(gamma/(rho R))), t (sqrt(rho R^3/gamma)), nozzle radius 1, so the flow is pi U.
//! Source: common practice, no source. Band-limited noise because white noise would depend on the time step.
//! Holds for: quasi-steady plug inflow.

use crate::math::Pinned as _;
use std::f64::consts::{PI, TAU};

/// Number of noise components: enough that the signal does not repeat within a run, few enough to cost nothing.
const COMPONENTS: usize = 24;

/// One sinusoid of relative amplitude `b`.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Wave {
    b: f64,
    omega: f64,
    phase: f64,
}

/// The inflow at the nozzle.
#[derive(Debug, Clone, PartialEq)]
pub struct Inflow {
    mean: f64,
    waves: Vec<Wave>,
}

/// Next number of a splitmix64 sequence: small, seedable, the same on every machine.
fn splitmix(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let mut x = *state;
    x = (x ^ (x >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    x = (x ^ (x >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    x ^ (x >> 31)
}

fn uniform(state: &mut u64) -> f64 {
    (splitmix(state) >> 11) as f64 / (1u64 << 53) as f64
}

impl Inflow {
    /// A steady inflow of mean velocity `mean`.
    pub fn steady(mean: f64) -> Inflow {
        Inflow { mean, waves: Vec::new() }
    }

    /// With a modulation of relative `amplitude` at `frequency`.
    pub fn with_modulation(mut self, amplitude: f64, frequency: f64) -> Inflow {
        if amplitude != 0.0 && frequency > 0.0 {
            self.waves.push(Wave { b: amplitude, omega: TAU * frequency, phase: 0.0 });
        }
        self
    }

    /// With noise of relative root mean square `noise` in the band of frequencies from `low` to `high`.
    pub fn with_noise(mut self, noise: f64, seed: u64, low: f64, high: f64) -> Inflow {
        if noise > 0.0 {
            let mut state = seed;
            let b = noise * (2.0 / COMPONENTS as f64).sqrt();
            let width = (high - low) / COMPONENTS as f64;
            for k in 0..COMPONENTS {
                let frequency = low + width * (k as f64 + uniform(&mut state));
                self.waves.push(Wave { b, omega: TAU * frequency, phase: TAU * uniform(&mut state) });
            }
        }
        self
    }

    /// Mean velocity.
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// Velocity at the nozzle at time `t`.
    pub fn velocity(&self, t: f64) -> f64 {
        self.mean * (1.0 + self.waves.iter().map(|w| w.b * (w.omega * t + w.phase).sine()).sum::<f64>())
    }

    /// Rate of change of the velocity at the nozzle at time `t`.
    pub fn acceleration(&self, t: f64) -> f64 {
        self.mean * self.waves.iter().map(|w| w.b * w.omega * (w.omega * t + w.phase).cosine()).sum::<f64>()
    }

    /// Volume that enters between `t` and `t + dt`, exactly.
    pub fn volume(&self, t: f64, dt: f64) -> f64 {
        // cos p - cos (p + x) = 2 sin(x/2) sin(p + x/2): no cancellation for short steps
        let wave = |w: &Wave| {
            let half = 0.5 * w.omega * dt;
            2.0 * w.b * half.sine() * (w.omega * t + w.phase + half).sine() / w.omega
        };
        PI * self.mean * (dt + self.waves.iter().map(wave).sum::<f64>())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn the_volume_is_the_integral_of_the_velocity() {
        let inflow = Inflow::steady(0.3).with_modulation(0.05, 0.2).with_noise(0.01, 7, 0.01, 0.4);
        let (t, dt, n) = (3.0, 2.0, 4000);
        let sum: f64 = (0..n).map(|i| inflow.velocity(t + dt * (i as f64 + 0.5) / n as f64)).sum();
        assert_relative_eq!(inflow.volume(t, dt), PI * sum * dt / n as f64, max_relative = 1e-8);
        let rise = (inflow.velocity(t + 1e-5) - inflow.velocity(t - 1e-5)) / 2e-5;
        assert_relative_eq!(inflow.acceleration(t), rise, max_relative = 1e-8);
    }

    #[test]
    fn noise_has_the_stated_size_and_depends_on_the_seed_only() {
        let make = |seed| Inflow::steady(1.0).with_noise(0.02, seed, 0.05, 1.0);
        let n = 200_000;
        let square: f64 = (0..n).map(|i| (make(3).velocity(i as f64 * 0.037) - 1.0).powi(2)).take(n / 10).sum();
        assert_relative_eq!((square / (n / 10) as f64).sqrt(), 0.02, max_relative = 0.05);
        assert_eq!(make(3), make(3));
        assert_ne!(make(3), make(4));
    }
}
