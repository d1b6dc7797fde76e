//! A dissolved surfactant on its way to a surface that is new, grows, stretches and contracts: per cell, within a run.
//!
//! Equation: the amount N on a piece of surface of area A(t), and c_s, its concentration beside it over the bulk's, obey
//!   N = beta L int K(s - s') (1 - c_s) ds',  ds = D (A/L)^2 dt,  K(s) = 1/sqrt(pi s),  N/A = kappa c_s/(1 + kappa c_s)   (Langmuir)
//! with L the area of that piece when it was new: Ward & Tordai's integral in the stretched time of a layer that goes with the surface.
//! The kernel is a sum of relaxing modes, K = sum w_k exp(-p_k^2 s), so that N = sum N_k and
//!   dN_k/dt = -p_k^2 D (A/L)^2 N_k + w_k beta D (A^2/L) (1 - c_s);
//! each step solves them with c_s at its end (a quadratic), 1/(1 + x + x^2/2) in place of exp(-x): fast modes are at their balance at
//! once. The tension within the step is that of its end too, and stretching meets a surface that surfactant follows: however fast
//! diffusion is, it limits no step.
//! From the inner liquid the same with L = 2 v, v the cell's volume: radial diffusion in a cylinder that stretches,
//!   K(s) = 2 sum exp(-j_n^2 s),  j_n the zeros of J_0,  whose sum 2/j_n^2 = 1/2 is all that the volume holds: it is depleted.
//! Symbols: lengths in R, times in sqrt(rho R^3/gamma), amounts in Gamma_inf R^2; beta = c_b R/Gamma_inf, kappa = K c_b, D diffusivity.
//! Source: Ward & Tordai 1946, J. Chem. Phys. 14, 453 (integral; not read, re-derived); Crank 1975, The Mathematics of Diffusion, 5.3
//! (cylinder; recalled); sum of exponentials: trapezoidal rule of (2/pi) int exp(-p^2 s) dp in ln p. Held against the tables of the
//! integral on a plane and on a growing drop (tests below: 0.5 % of the coverage) and against the cylinder's own series.
//! Holds for: a depleted layer thinner than the drop (outer liquid), no flow of the liquid along the surface past its layer, no barrier to
//! adsorption, single molecules (below the micelle limit), slices that do not mix (inner liquid).

use super::body::Body;
use super::load::Load;
use crate::math::Pinned as _;
use std::f64::consts::PI;

/// Most modes of the kernel.
pub const MODES: usize = 40;
/// Ages, in those of a drop, between which the kernel is held: from a ten-thousandth at rest to one that has been stretched thirtyfold.
const SHORTEST: f64 = 1e-4;
const LONGEST: f64 = 1e3;
/// Step of ln p: two modes a decade of time leave a ripple of 2.8 exp(-pi^2/(2 step)) = 0.05 % of the kernel.
const STEP: f64 = 0.5756;
/// First zeros of J_0 (handbook values).
const ZEROS: [f64; 5] =
    [2.404825557695773, 5.520078110286311, 8.653727912911013, 11.791534439014281, 14.930917708487787];
/// Where the zeros, pi apart, are taken for a continuum.
const DENSE: f64 = ZEROS[4] + 0.5 * PI;
/// Widest panel of ln p there, for two Gauss points.
const PANEL: f64 = 1.0;

/// Exchange of surfactant between a surface and the liquid on one side of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exchange {
    /// beta.
    pub concentration: f64,
    /// kappa.
    pub affinity: f64,
    /// D.
    pub diffusivity: f64,
    /// Whether the inner liquid holds it.
    pub inside: bool,
    count: usize,
    /// p_k^2.
    rates: [f64; MODES],
    /// w_k.
    weights: [f64; MODES],
}

impl Exchange {
    /// With modes for surfaces that live about as long as `age`.
    pub fn new(concentration: f64, affinity: f64, diffusivity: f64, inside: bool, age: f64) -> Exchange {
        let s = (diffusivity * age).clamp(1e-30, 1e30);
        let (fast, slow) = ((3.0 / (SHORTEST * s)).sqrt(), (0.05 / (LONGEST * s)).sqrt());
        let modes = if inside { cylinder(fast) } else { plane(fast, slow) };
        let (mut rates, mut weights) = ([0.0; MODES], [0.0; MODES]);
        let count = modes.len().min(MODES);
        for (k, (p, w)) in modes.into_iter().take(MODES).enumerate() {
            (rates[k], weights[k]) = (p * p, w);
        }
        Exchange { concentration, affinity, diffusivity, inside, count, rates, weights }
    }

    /// Number of modes.
    pub fn modes(&self) -> usize {
        self.count
    }

    /// Coverage at equilibrium with the bulk.
    pub fn equilibrium(&self) -> f64 {
        self.affinity / (1.0 + self.affinity)
    }

    /// The modes `held` relax over `dt` at this stretch A/L; what they still hold, and what the whole lack (1 - c_s = 1) of the liquid
    /// beside the surface would add; `gains` by mode.
    fn relax(&self, stretch: f64, own: f64, dt: f64, held: &mut [f64], gains: &mut [f64]) -> Pending {
        let ds = self.diffusivity * stretch * stretch * dt;
        let mut pending = Pending::default();
        for k in 0..self.count {
            let x = self.rates[k] * ds;
            let kept = 1.0 / (1.0 + x + 0.5 * x * x);
            held[k] *= kept;
            pending.known += held[k];
            // (1 - kept)/p^2
            gains[k] = self.concentration * own * self.weights[k] * ds * (1.0 + 0.5 * x) * kept;
            pending.gain += gains[k];
        }
        pending
    }

    /// Coverage of a surface of area `area` at the end of a step, and by which share its answer to stretching is weakened because
    /// surfactant comes after: d ln theta/d ln A = -share.
    pub fn coverage(&self, pending: Pending, area: f64) -> (f64, f64) {
        let c = beside(pending.known / area, pending.gain / area, self.affinity);
        let more = 1.0 + self.affinity * c;
        (self.affinity * c / more, area / (area + pending.gain * more * more / self.affinity))
    }

    /// What a step of `dt` will bring to every cell, from the areas at its start.
    pub fn prepare(&self, body: &Body, areas: impl Iterator<Item = f64>, dt: f64, out: &mut Vec<Pending>) {
        out.clear();
        let Some((_, [modes @ .., label])) = body.load.memory.split_last() else { return };
        let (mut held, mut gains) = ([0.0; MODES], [0.0; MODES]);
        for (j, area) in areas.enumerate() {
            let own = if self.inside { 2.0 * body.v[j] } else { label[j] };
            held.iter_mut().zip(modes).for_each(|(held, list)| *held = list[j]);
            out.push(self.relax(area / own, own, dt, &mut held, &mut gains));
        }
    }

    /// Let every cell adsorb over a step of `dt` that began with areas `before` (and, from the inner liquid, volumes `volumes`) and ends
    /// with `after`; returns what has come.
    pub fn adsorb(&self, load: &mut Load, volumes: &[f64], [before, after]: [&[f64]; 2], dt: f64) -> f64 {
        let Some((age, [modes @ .., label])) = load.memory.split_last_mut() else { return 0.0 };
        let (mut held, mut gains) = ([0.0; MODES], [0.0; MODES]);
        let mut come = 0.0;
        for (j, (before, after)) in before.iter().zip(after).enumerate() {
            let own = if self.inside { 2.0 * volumes[j] } else { label[j] };
            held.iter_mut().zip(modes.iter()).for_each(|(held, list)| *held = list[j]);
            let pending = self.relax(before / own, own, dt, &mut held, &mut gains);
            let lack = 1.0 - beside(pending.known / after, pending.gain / after, self.affinity);
            let mut now = 0.0;
            for (list, (held, gain)) in modes.iter_mut().zip(held.iter().zip(&gains)) {
                list[j] = held + gain * lack;
                now += list[j];
            }
            come += now - load.amount[j];
            load.amount[j] = now;
            age[j] += label[j] * dt;
        }
        come
    }
}

/// What a surface will hold at the end of a step: this, and `gain` times the liquid's lack beside it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Pending {
    pub known: f64,
    pub gain: f64,
}

/// c_s of `kappa c/(1 + kappa c) = known + gain (1 - c)`: the positive root of a quadratic, without cancellation.
fn beside(known: f64, gain: f64, kappa: f64) -> f64 {
    let right = known + gain;
    let (a, b) = ((gain * kappa).max(1e-300), kappa + gain - right * kappa);
    let root = (b * b + 4.0 * a * right).sqrt();
    if b > 0.0 { 2.0 * right / (b + root) } else { (root - b) / (2.0 * a) }
}

/// (p_k, w_k) of 1/sqrt(pi s) = (2/pi) int exp(-p^2 s) dp; what lies below the slowest is one mode that keeps all.
fn plane(fast: f64, slow: f64) -> Vec<(f64, f64)> {
    let count = ((fast / slow).logarithm() / STEP).ceil().max(1.0) as usize;
    let weight = |p: f64| 2.0 / PI * STEP * p;
    let geometric = (0..=count.min(MODES - 2)).map(|k| slow * (STEP * k as f64).exponential());
    let below = weight(slow) / (STEP.exponential() - 1.0);
    std::iter::once((0.0, below)).chain(geometric.map(|p| (p, weight(p)))).collect()
}

/// (p_k, w_k) of 2 sum exp(-j_n^2 s); the slowest makes up what is cut off, so that the volume gives all that it holds (on the fastest it
/// would come at once).
fn cylinder(fast: f64) -> Vec<(f64, f64)> {
    let width = (fast.max(30.0 * DENSE) / DENSE).logarithm();
    let panels = ((width / PANEL).ceil() as usize).min((MODES - ZEROS.len()) / 2);
    let half = 0.5 * width / panels as f64;
    let dense = (0..2 * panels).map(|k| {
        let middle = half * (2 * (k / 2) + 1) as f64;
        let offset = half / 3.0f64.sqrt() * if k % 2 == 0 { -1.0 } else { 1.0 };
        let p = DENSE * (middle + offset).exponential();
        (p, 2.0 / PI * half * p)
    });
    let mut modes: Vec<(f64, f64)> = ZEROS.iter().map(|j| (*j, 2.0)).chain(dense).collect();
    let sum: f64 = modes.iter().map(|(p, w)| w / (p * p)).sum();
    if let Some((p, w)) = modes.first_mut() {
        *w += (0.5 - sum) * *p * *p;
    }
    modes
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    impl Exchange {
        /// One step of a single surface of steady area; returns what it holds then.
        fn step(&self, area: f64, own: f64, dt: f64, held: &mut [f64; MODES]) -> f64 {
            let mut gains = [0.0; MODES];
            let pending = self.relax(area / own, own, dt, held, &mut gains);
            let lack = 1.0 - beside(pending.known / area, pending.gain / area, self.affinity);
            held.iter_mut().zip(&gains).for_each(|(held, gain)| *held += gain * lack);
            let (coverage, share) = self.coverage(pending, area);
            assert!((held.iter().sum::<f64>() / (coverage * area) - 1.0).abs() < 1e-6 || coverage < 1e-9);
            assert!(share > 0.0 && share <= 1.0);
            held.iter().sum()
        }
    }

    fn table(text: &str) -> Vec<Vec<f64>> {
        let rows = text.lines().filter(|l| !l.starts_with('#')).skip(1);
        rows.map(|l| l.split(',').map(|cell| cell.parse().expect("a number")).collect()).collect()
    }

    /// Coverage at the times `wanted` (in the units of the tables) on a surface whose area grows like t^m, `steps` a factor e of time.
    fn march(kappa: f64, m: f64, wanted: &[f64], steps: f64) -> Vec<f64> {
        // D = 1, beta = 1: the unit of time of the tables. A run knows ages within a few decades.
        let last = *wanted.last().expect("a time");
        let exchange = Exchange::new(1.0, kappa, 1.0, false, last.powf(2.0 * m + 1.0).min(last));
        let area = |t: f64| if m > 0.0 { t.powf(m) } else { 1.0 };
        let mut held = [0.0; MODES];
        let mut t = wanted[0] * 1e-3;
        let mut found = Vec::new();
        for goal in wanted {
            let count = ((goal / t).ln() * steps).ceil().max(1.0);
            let factor = (goal / t).powf(1.0 / count);
            let mut now = 0.0;
            for _ in 0..count as usize {
                let dt = t * (factor - 1.0);
                t *= factor;
                now = exchange.step(area(t), 1.0, dt, &mut held) / area(t);
            }
            found.push(now);
        }
        found
    }

    /// Largest relative error of the coverage against a table, over rows within two decades of time up to each row's own.
    fn worst(m: f64, text: &str, steps: f64) -> f64 {
        let rows = table(text);
        let mut worst: f64 = 0.0;
        let mut compared = 0;
        for kappa in [1.0, 10.0, 100.0] {
            let own: Vec<&Vec<f64>> = rows.iter().filter(|r| r[0] == kappa).collect();
            for row in own.iter().filter(|r| r[1] > 1e-5) {
                let found = march(kappa, m, &[row[1]], steps)[0];
                worst = worst.max((found / row[2] - 1.0).abs());
                compared += 1;
            }
        }
        assert!(compared > 10, "{compared}");
        worst
    }

    // tests/data/real_liquids: diffusion equation by Chebyshev collocation, 1e-7 in theta. With short steps what is left is the
    // kernel's; with ten steps a factor e of time, fewer than a run takes, it is the step's.
    #[test]
    fn reference_adsorption_on_a_plane() {
        let text = include_str!("../../tests/data/real_liquids/wardtordai_planar.csv");
        let (short, long) = (worst(0.0, text, 100.0), worst(0.0, text, 10.0));
        println!("plane: {short:.2e} {long:.2e}");
        assert!(short < 5e-3 && long < 0.03, "{short} {long}");
    }

    #[test]
    fn reference_adsorption_on_a_growing_drop() {
        let text = include_str!("../../tests/data/real_liquids/wardtordai_drop.csv");
        let (short, long) = (worst(2.0 / 3.0, text, 100.0), worst(2.0 / 3.0, text, 10.0));
        println!("drop: {short:.2e} {long:.2e}");
        assert!(short < 5e-3 && long < 0.04, "{short} {long}");
    }

    // Uptake of a cylinder whose surface is kept empty, 1 - sum 4/j^2 exp(-j^2 T) (Crank 1975, eq. 5.23, recalled), of which at T = 0.1 a
    // fraction 0.6 is out: series summed here with sixty zeros by McMahon's expansion. Never more than it holds.
    #[test]
    fn theory_a_cylinder_is_depleted() {
        let zero = |n: usize| {
            let b = PI * (n as f64 - 0.25);
            if n <= ZEROS.len() { ZEROS[n - 1] } else { b + 1.0 / (8.0 * b) - 31.0 / (384.0 * b * b * b) }
        };
        let series = |t: f64| 1.0 - (1..=60).map(|n| 4.0 / zero(n).powi(2) * (-zero(n).powi(2) * t).exp()).sum::<f64>();
        // almost endless affinity at almost no concentration: the surface stays empty in the liquid's eyes
        for age in [0.02, 0.1, 0.5] {
            let exchange = Exchange::new(1e-3, 1e9, 1.0, true, age);
            let (own, area) = (2.0 * PI * 0.3, 2.0 * PI * 0.3);
            let mut held = [0.0; MODES];
            let (steps, mut now) = (2000, 0.0);
            for _ in 0..steps {
                now = exchange.step(area, own, age / f64::from(steps), &mut held);
            }
            // all that the volume own/2 holds
            assert_relative_eq!(now / (1e-3 * 0.5 * own), series(age), max_relative = 6e-3);
        }
        let exchange = Exchange::new(0.5, 20.0, 1.0, true, 1.0);
        let mut held = [0.0; MODES];
        let now = exchange.step(1.0, 1.0, 1e9, &mut held);
        // what is on the surface and what is left: theta = kappa c/(1 + kappa c), theta + beta c/2 = beta/2
        let c = 1.0 - now / 0.25;
        assert_relative_eq!(now, 20.0 * c / (1.0 + 20.0 * c), max_relative = 1e-9);
    }

    #[test]
    fn the_weakened_answer_is_the_derivative() {
        let exchange = Exchange::new(1.0, 6.0, 1.0, false, 1.0);
        let pending = Pending { known: 0.3, gain: 0.2 };
        let (coverage, share) = exchange.coverage(pending, 0.9);
        let at = |x: f64| exchange.coverage(pending, 0.9 * x).0.ln();
        assert_relative_eq!(share, -(at(1.0 + 1e-6) - at(1.0 - 1e-6)) / 2e-6, max_relative = 1e-7);
        assert!(coverage < exchange.equilibrium() && share < 0.9);
    }

    // Very fast: at equilibrium within a step. Very slow: nothing.
    #[test]
    fn theory_limits_of_diffusion() {
        for inside in [false, true] {
            let fast = Exchange::new(1e6, 5.0, 1e9, inside, 1.0);
            let mut held = [0.0; MODES];
            assert_relative_eq!(fast.step(0.7, 0.7, 1e-3, &mut held) / 0.7, 5.0 / 6.0, max_relative = 1e-4);
            // of the order of sqrt(D t) = 1e-15
            let slow = Exchange::new(1.0, 5.0, 1e-30, inside, 1.0);
            let held = slow.step(0.7, 0.7, 1.0, &mut [0.0; MODES]);
            assert!(held < 1e-14, "{held}");
        }
    }
}
