//! A stream that a pump delivers: mean, ramp, modulation, seeded noise and the steps of a motor, with its exact integral.
//!
//! Equation: U(t) = M(t) [g(phi) + A sin(2 pi f t) + sum_k b sin(2 pi f_k t + p_k)], with f_k spread evenly over a band and
//! p_k from the seed; the noise's root mean square is `noise` (b = noise sqrt(2/n)). M is U0, or goes from U0 to U1 in straight
//! lines and, if it is to, back. Without steps g = 1; with them phi is what M has delivered in units of a step, and
//! g = (2/s) sin^2(pi x/s) for x = frac(phi) < s, else 0: every step delivers its volume, whatever M does, since dphi ~ M dt.
//! Symbols: U (sqrt(gamma/(rho R))), t (sqrt(rho R^3/gamma)), nozzle radius 1, so the flow is pi U; s share of the time between two
//! steps in which liquid flows (-).
//! Source: common practice, no source. Band-limited noise because white noise would depend on the time step.
//! Holds for: quasi-steady plug inflow; what reaches the tip (air and soft tubing before it smooth what the pump does).

use crate::math::Pinned as _;
use std::f64::consts::{PI, TAU};

/// Number of noise components: enough that the signal does not repeat within a run, few enough to cost nothing.
const COMPONENTS: usize = 24;
/// Longest time step, in periods of the fastest component, in shares of a step's pulse, and of a ramp's straight line.
const STEP_OF_PERIOD: f64 = 0.1;
const STEP_OF_RAMP: f64 = 0.01;

/// One sinusoid of relative amplitude `b`.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Wave {
    b: f64,
    omega: f64,
    phase: f64,
}

/// A mean that goes to `to` times itself and, if it is to, back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ramp {
    /// Where it goes, over the mean at first.
    pub to: f64,
    /// When it begins, how long it takes, how long it stays there, and how long the way back takes (if it goes back).
    pub start: f64,
    pub over: f64,
    pub hold: f64,
    pub back: Option<f64>,
}

impl Ramp {
    /// Times and values of its corners.
    fn corners(&self) -> ([(f64, f64); 4], usize) {
        let top = self.start + self.over;
        let down = top + self.hold;
        let corners = [(self.start, 1.0), (top, self.to), (down, self.to), (down + self.back.unwrap_or(0.0), 1.0)];
        (corners, if self.back.is_some() { 4 } else { 2 })
    }

    /// When nothing changes any more.
    pub fn end(&self) -> f64 {
        let (corners, n) = self.corners();
        corners[n - 1].0
    }

    fn at(&self, t: f64) -> f64 {
        let (corners, n) = self.corners();
        let after = corners[..n].partition_point(|c| c.0 <= t);
        match after {
            0 => corners[0].1,
            _ if after == n => corners[n - 1].1,
            _ => line(corners[after - 1], corners[after], t),
        }
    }
}

fn line(a: (f64, f64), b: (f64, f64), t: f64) -> f64 {
    a.1 + (b.1 - a.1) * (t - a.0) / (b.0 - a.0)
}

/// Steps of a motor: velocity times time that one delivers, and the share of the time between two in which liquid flows.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Steps {
    each: f64,
    share: f64,
}

impl Steps {
    /// g and dg/dphi.
    fn pulse(&self, phase: f64) -> (f64, f64) {
        let x = (phase - phase.floor()) / self.share;
        if x >= 1.0 {
            return (0.0, 0.0);
        }
        let s = (PI * x).sine();
        (2.0 / self.share * s * s, TAU / (self.share * self.share) * (TAU * x).sine())
    }

    /// The integral of g.
    fn delivered(&self, phase: f64) -> f64 {
        let whole = phase.floor();
        let x = ((phase - whole) / self.share).min(1.0);
        whole + x - (TAU * x).sine() / TAU
    }
}

/// The inflow at the nozzle, or any other stream that a pump delivers.
#[derive(Debug, Clone, PartialEq)]
pub struct Inflow {
    mean: f64,
    waves: Vec<Wave>,
    ramp: Option<Ramp>,
    steps: Option<Steps>,
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
        Inflow { mean, waves: Vec::new(), ramp: None, steps: None }
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

    /// With a mean that changes.
    pub fn with_ramp(mut self, ramp: Option<Ramp>) -> Inflow {
        self.ramp = ramp.filter(|r| r.to != 1.0);
        self
    }

    /// Delivered in steps of the volume `each` (pi times velocity times time), within the share `share` of the time between two.
    pub fn with_steps(mut self, each: f64, share: f64) -> Inflow {
        if each > 0.0 {
            self.steps = Some(Steps { each: each / PI, share });
        }
        self
    }

    /// Velocity at first, without modulation, noise or steps.
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// The largest velocity that the mean comes to.
    pub fn mean_max(&self) -> f64 {
        self.mean * self.ramp.map_or(1.0, |r| r.to.max(1.0))
    }

    /// Whether it is the same at all times.
    pub fn is_steady(&self) -> bool {
        self.waves.is_empty() && self.ramp.is_none() && self.steps.is_none()
    }

    /// Whether its mean changes.
    pub fn ramp(&self) -> Option<&Ramp> {
        self.ramp.as_ref()
    }

    /// The longest time step that sees what it does; infinite where it is steady.
    pub fn longest_step(&self) -> f64 {
        let fastest = self.waves.iter().map(|w| w.omega).fold(0.0, f64::max);
        let waves = if fastest > 0.0 { STEP_OF_PERIOD * TAU / fastest } else { f64::INFINITY };
        let steps = self.steps.map_or(f64::INFINITY, |s| STEP_OF_PERIOD * s.each * s.share / self.mean_max());
        let ramp = self.ramp.map_or(f64::INFINITY, |r| {
            let lines = [Some(r.over), r.back].into_iter().flatten().filter(|t| *t > 0.0);
            STEP_OF_RAMP * lines.fold(f64::INFINITY, f64::min)
        });
        waves.min(steps).min(ramp)
    }

    /// The mean at time `t`.
    fn mean_at(&self, t: f64) -> f64 {
        self.mean * self.ramp.map_or(1.0, |r| r.at(t))
    }

    /// The mean's rate of change.
    fn mean_rise(&self, t: f64) -> f64 {
        self.pieces(t, 0.0, |_, _, _, rise| rise)
    }

    /// Sum over the straight lines of the mean between `t` and `t + dt` of f(from, length, mean at from, rise).
    fn pieces(&self, t: f64, dt: f64, f: impl Fn(f64, f64, f64, f64) -> f64) -> f64 {
        let Some(ramp) = self.ramp else { return f(t, dt, self.mean, 0.0) };
        let (corners, n) = ramp.corners();
        let (mut sum, mut from) = (0.0, t);
        for after in corners[..n].partition_point(|c| c.0 <= t)..=n {
            let to = if after < n { corners[after].0.min(t + dt) } else { t + dt };
            let moving = after > 0 && after < n;
            let rise = if moving {
                let (a, b) = (corners[after - 1], corners[after]);
                self.mean * (b.1 - a.1) / (b.0 - a.0)
            } else {
                0.0
            };
            sum += f(from, to - from, self.mean_at(from), rise);
            from = to;
            if to >= t + dt {
                break;
            }
        }
        sum
    }

    /// Integral of the mean from the start.
    fn pumped(&self, t: f64) -> f64 {
        self.pieces(0.0, t, |_, dt, mean, rise| dt * (mean + 0.5 * rise * dt))
    }

    /// g and its rate of change.
    fn pulse(&self, t: f64) -> (f64, f64) {
        self.steps.map_or((1.0, 0.0), |steps| {
            let (g, slope) = steps.pulse(self.pumped(t) / steps.each);
            (g, slope * self.mean_at(t) / steps.each)
        })
    }

    fn swing(&self, t: f64) -> f64 {
        self.waves.iter().map(|w| w.b * (w.omega * t + w.phase).sine()).sum::<f64>()
    }

    /// Velocity at the nozzle at time `t`.
    pub fn velocity(&self, t: f64) -> f64 {
        self.mean_at(t) * (self.pulse(t).0 + self.swing(t))
    }

    /// Rate of change of the velocity at the nozzle at time `t`.
    pub fn acceleration(&self, t: f64) -> f64 {
        let (g, g_t) = self.pulse(t);
        let swing_t = self.waves.iter().map(|w| w.b * w.omega * (w.omega * t + w.phase).cosine()).sum::<f64>();
        let own = self.mean_at(t) * (g_t + swing_t);
        if self.ramp.is_none() { own } else { own + self.mean_rise(t) * (g + self.swing(t)) }
    }

    /// Volume that enters between `t` and `t + dt`, exactly.
    pub fn volume(&self, t: f64, dt: f64) -> f64 {
        let waves = |t: f64, dt: f64, mean: f64, rise: f64| {
            // cos p - cos (p + x) = 2 sin(x/2) sin(p + x/2): no cancellation for short steps
            let wave = |w: &Wave| {
                let half = 0.5 * w.omega * dt;
                let level = 2.0 * w.b * half.sine() * (w.omega * t + w.phase + half).sine() / w.omega;
                if rise == 0.0 {
                    return mean * level;
                }
                let (p, x) = (w.omega * t + w.phase, w.omega * dt);
                let first = ((p + x).sine() - p.sine()) / w.omega - dt * (p + x).cosine();
                mean * level + rise * w.b * first / w.omega
            };
            self.waves.iter().map(wave).sum::<f64>()
        };
        let smooth = match self.steps {
            Some(steps) => {
                let phase = |t: f64| self.pumped(t) / steps.each;
                steps.each * (steps.delivered(phase(t + dt)) - steps.delivered(phase(t)))
            }
            None if self.ramp.is_none() => {
                return PI * self.mean * (dt + self.waves_of_unit(t, dt));
            }
            None => self.pieces(t, dt, |_, dt, mean, rise| dt * (mean + 0.5 * rise * dt)),
        };
        PI * (smooth + self.pieces(t, dt, waves))
    }

    /// Integral of the modulation and noise of a mean of one.
    fn waves_of_unit(&self, t: f64, dt: f64) -> f64 {
        let wave = |w: &Wave| {
            let half = 0.5 * w.omega * dt;
            2.0 * w.b * half.sine() * (w.omega * t + w.phase + half).sine() / w.omega
        };
        self.waves.iter().map(wave).sum::<f64>()
    }

    /// Mean velocity between `t` and `t + dt`.
    pub fn mean_over(&self, t: f64, dt: f64) -> f64 {
        if dt > 0.0 { self.volume(t, dt) / (PI * dt) } else { self.velocity(t) }
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

    fn ramp(back: Option<f64>) -> Ramp {
        Ramp { to: 4.0, start: 2.0, over: 6.0, hold: 1.5, back }
    }

    // The area under the broken line: 0.2 (2 + (1 + 4)/2 6 + 4 1.5 + (4 + 1)/2 5 + 3).
    #[test]
    fn theory_a_ramp_delivers_the_area_under_its_lines() {
        let up_and_down = Inflow::steady(0.2).with_ramp(Some(ramp(Some(5.0))));
        assert_relative_eq!(
            up_and_down.volume(0.0, 17.5),
            PI * 0.2 * (2.0 + 15.0 + 6.0 + 12.5 + 3.0),
            max_relative = 1e-14
        );
        let up = Inflow::steady(0.2).with_ramp(Some(ramp(None)));
        assert_relative_eq!(up.volume(0.0, 17.5), PI * 0.2 * (2.0 + 15.0 + 4.0 * 9.5), max_relative = 1e-14);
        assert_relative_eq!(up.velocity(5.0), 0.5, max_relative = 1e-14);
        assert_relative_eq!(up.acceleration(5.0), 0.1, max_relative = 1e-14);
        assert_eq!((up.acceleration(1.0), up.acceleration(9.0)), (0.0, 0.0));
    }

    // A train of steps: every step delivers its volume, with a ramp too.
    #[test]
    fn theory_a_train_of_steps_delivers_a_step_a_time() {
        let each = 0.05;
        let steady = Inflow::steady(0.3).with_steps(each, 0.4);
        let period = each / (PI * 0.3);
        for k in [1.0, 2.0, 57.0] {
            assert_relative_eq!(steady.volume(0.0, k * period), k * each, max_relative = 1e-11);
        }
        // Nothing flows in the second part of each interval.
        assert_eq!(steady.velocity(0.7 * period), 0.0);
        assert_relative_eq!(steady.velocity(0.2 * period), 0.3 * 2.0 / 0.4, max_relative = 1e-9);
        // Up a ramp to the flow of four: the number of steps is what was pumped over a step.
        let ramped = Inflow::steady(0.2).with_ramp(Some(ramp(Some(5.0)))).with_steps(each, 0.4);
        let pumped = PI * 0.2 * (2.0 + 15.0 + 6.0 + 12.5 + 3.0);
        let whole = (pumped / each).floor() * each;
        assert!((0.0..=each).contains(&(ramped.volume(0.0, 17.5) - whole)), "{}", ramped.volume(0.0, 17.5));
    }

    // Fourier series of a train of sin^2 pulses: line k has amplitude 2 sinc(k s)/(1 - (k s)^2) over the mean, sinc x = sin(pi x)/(pi x).
    #[test]
    fn theory_the_spectrum_has_its_lines_at_the_frequency_of_the_steps() {
        let (each, share, mean) = (0.05, 0.4, 0.3);
        let steps = Inflow::steady(mean).with_steps(each, share);
        let pulsed = Inflow::steady(mean).with_modulation(0.07, 1.3);
        let line = |stream: &Inflow, frequency: f64, k: f64| {
            let (n, whole) = (20_000, 10.0 / frequency);
            let at = |i: i32| whole * (f64::from(i) + 0.5) / f64::from(n);
            let part = |shift: f64| {
                (0..n).map(|i| stream.velocity(at(i)) * (TAU * k * frequency * at(i) + shift).sin()).sum::<f64>()
                    / f64::from(n)
            };
            2.0 * part(0.0).hypot(part(0.5 * PI)) / mean
        };
        let frequency = PI * mean / each;
        for k in [1.0_f64, 2.0, 3.0] {
            let x = k * share;
            let closed = 2.0 * (PI * x).sin() / (PI * x) / (1.0 - x * x);
            assert_relative_eq!(line(&steps, frequency, k), closed.abs(), max_relative = 1e-6);
        }
        assert!(line(&steps, frequency, 0.5) < 1e-9, "nothing between the lines");
        assert_relative_eq!(line(&pulsed, 1.3, 1.0), 0.07, max_relative = 1e-9);
    }

    #[test]
    fn everything_at_once_is_the_integral_and_the_rate_of_change_of_the_velocity() {
        let stream = Inflow::steady(0.3)
            .with_modulation(0.05, 0.2)
            .with_noise(0.01, 7, 0.01, 0.4)
            .with_ramp(Some(ramp(Some(5.0))))
            .with_steps(0.9, 0.6);
        let n = 40_000;
        for (t, dt) in [(0.5, 3.0), (1.0, 16.0), (8.2, 1.0), (20.0, 4.0)] {
            let sum: f64 = (0..n).map(|i| stream.velocity(t + dt * (f64::from(i) + 0.5) / f64::from(n))).sum();
            assert_relative_eq!(stream.volume(t, dt), PI * sum * dt / f64::from(n), max_relative = 1e-6);
            assert_relative_eq!(stream.mean_over(t, dt), sum / f64::from(n), max_relative = 1e-6);
        }
        for t in [0.7, 3.1, 8.6, 11.0, 16.0] {
            let rise = (stream.velocity(t + 1e-5) - stream.velocity(t - 1e-5)) / 2e-5;
            assert_relative_eq!(stream.acceleration(t), rise, max_relative = 1e-5, epsilon = 1e-7);
        }
    }
}
