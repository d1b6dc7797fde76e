//! Viscosity of a shear-thinning outer liquid about a thread and about its drop-shaped ends.
//!
//! Equation: the stream of a liquid of one viscosity about a cell, v' = C/r - k r from r = h to where its shear ends, R_e, and the
//! stretching rate w h^2/r^2 that a thread which thins at the rate w makes in it; its squared rate is s^2 + e^2, s = v', e = w h^2/r^2.
//! Each force takes the viscosity m(g) at the mean squared rate, weighted by the power that the force itself spends:
//!   drag    g^2 = int (s^2 + e^2) s^2 r dr / int s^2 r dr,
//!   stress  g^2 = int (s^2 + e^2) e^2 r dr / int e^2 r dr,
//! C, k and w being those of a liquid with that viscosity: found in three rounds from the viscosity at rest, frozen over a step.
//! A drop-shaped end of radius b that the stream passes at the speed V: g = (V/4b) sqrt(E/3), E its drag coefficient (3: rigid sphere
//! far from walls), so that the power spent per volume grows as the drag does.
//!
//! Symbols: m over the viscosity at rest (Carreau, [`Carreau`]); rates in units of the thread's.
//!
//! Source: own. That power is least in Stokes flow (Helmholtz 1868, recalled) makes a force of first order in 1 - m the mean of m by
//! its own power; the mean square in place of the mean logarithm is ours, since it has a closed form and is nearer for a strong thinning: of a
//! tube's pressure 1 % at most for n from 0.3. Held against exact one-dimensional flow of a Carreau liquid about a core (tests):
//! drag off by 2.1 % of that on a core at rest (rms) at n = 0.8, 7 % at 0.5 and 12 to 13 % at 0.3. Ends: the 4
//! was chosen with a rigid sphere in a power law in view, whose drag factors are then within 7 % at n = 0.8, 1 % at 0.5, 11 % at 0.3 of
//! those that are recalled of Gu & Tanner 1985 (J. Non-Newtonian Fluid Mech. 17, 1); no source in full was found, and nothing judges it
//! between walls or with a mobile surface.
//!
//! Holds for: liquids without elasticity; n from 0.3. Wake, reach and the shares of the closures stay those of Newtonian liquids at the
//! local viscosity.

use crate::device::thinning::{Carreau, squared_rates};
use crate::thread::closures::Local;

/// Viscosities over that at rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thinned {
    /// In what shears the liquid.
    pub drag: f64,
    /// In what stretches it.
    pub stress: f64,
}

/// Rate about a sphere over its speed and radius.
const ABOUT_SPHERE: f64 = 0.25;
/// Rounds of viscosity and flow: drags settle to 1 % of that at rest for n = 0.5 (rms).
const ROUNDS: usize = 3;

impl Thinned {
    /// Closures in units of the local viscosity in units of that at rest.
    pub fn over_rest(&self, local: Local) -> Local {
        Local { drag: self.drag * local.drag, c_e: self.stress * local.c_e, ..local }
    }
}

/// Viscosities about a thread of squared radius `a`; `flow` tells the stream (C, k, R_e^2) and w at given ones.
pub fn thinned(law: &Carreau, a: f64, flow: impl Fn(Thinned) -> ([f64; 3], f64)) -> Thinned {
    let mut own = Thinned { drag: 1.0, stress: 1.0 };
    for _ in 0..ROUNDS {
        let (stream, w) = flow(own);
        let [drag, stress] = squared_rates(stream, a, w).map(|square| law.viscosity(law.time * law.time * square).0);
        own = Thinned { drag, stress };
    }
    own
}

/// Viscosity about an end of radius `radius`; `seen` tells its drag coefficient and the speed at which the stream passes it.
pub fn around_end(law: &Carreau, radius: f64, seen: impl Fn(f64) -> (f64, f64)) -> f64 {
    let mut own = 1.0;
    for _ in 0..ROUNDS {
        let (drag, speed) = seen(own);
        own = law.viscosity((ABOUT_SPHERE * law.time * speed / radius).powi(2) * drag / 3.0).0;
    }
    own
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::thread::closures::{Outer, core_annular};
    use approx::assert_relative_eq;
    use std::f64::consts::PI;

    // Midpoint rule in r of the definitions.
    #[test]
    fn squared_rates_are_the_means_of_their_definition() {
        for (c, k, near, far, w) in [(0.7, 1.3, 0.2, 1.0, 0.0), (-0.4, 0.9, 0.5, 2.0, 1.5), (0.0, 2.0, 0.1, 6.8, 0.3)] {
            let steps = 200_000;
            let d: f64 = (far - near) / f64::from(steps);
            let [mut shear, mut own, mut stretched, mut e2] = [0.0; 4];
            for i in 0..steps {
                let r: f64 = near + d * (f64::from(i) + 0.5);
                let (s, e) = ((c / r - k * r).powi(2), (w * near * near / (r * r)).powi(2));
                shear += (s + e) * s * r;
                own += s * r;
                stretched += (s + e) * e * r;
                e2 += e * r;
            }
            let [by_shear, by_stretch] = squared_rates([c, k, far * far], near * near, w);
            assert_relative_eq!(by_shear, shear / own, max_relative = 1e-6);
            if w > 0.0 {
                assert_relative_eq!(by_stretch, stretched / e2, max_relative = 1e-6);
            }
        }
    }

    /// Exact axial force per length on a core of radius `x` and mean velocity `u` in a tube of radius 1 through which `flow` goes in all,
    /// viscosity ratio `ratio` at rest: stress tau x/r - G (r - x^2/r)/2 in a Carreau liquid, tau and G by Newton's method from `start`.
    fn exact(law: &Carreau, x: f64, (ratio, u, flow): (f64, f64, f64), start: [f64; 2]) -> f64 {
        let rate = |stress: f64| {
            let wanted = stress.abs();
            let (mut low, mut high) = (0.0, 1.0f64);
            let of = |g: f64| g * law.viscosity((law.time * g).powi(2)).0;
            while of(high) < wanted {
                high *= 2.0;
            }
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if of(middle) < wanted { low = middle } else { high = middle }
            }
            0.5 * (low + high) * stress.signum()
        };
        let points = 200;
        let d = (1.0 - x) / f64::from(points);
        let defects = |[tau, gradient]: [f64; 2]| {
            let (mut surface, mut outer) = (0.0, 0.0);
            for i in 0..points {
                let r = x + d * (f64::from(i) + 0.5);
                let slope = rate(tau * x / r - 0.5 * gradient * (r - x * x / r));
                surface -= d * slope;
                outer -= d * r * r * slope;
            }
            outer = PI * (outer - x * x * surface);
            [surface - tau * x / (4.0 * ratio) - u, outer + PI * x * x * u - flow]
        };
        let mut p = start;
        for _ in 0..60 {
            let here = defects(p);
            let h = [1e-6 * (p[0].abs() + 1e-3), 1e-6 * (p[1].abs() + 1e-3)];
            let by = [defects([p[0] + h[0], p[1]]), defects([p[0], p[1] + h[1]])];
            let j = |row: usize, column: usize| (by[column][row] - here[row]) / h[column];
            let det = j(0, 0) * j(1, 1) - j(0, 1) * j(1, 0);
            let step = [(j(1, 1) * here[0] - j(0, 1) * here[1]) / det, (j(0, 0) * here[1] - j(1, 0) * here[0]) / det];
            // half steps while the defect would grow
            let size = |d: [f64; 2]| d[0].abs() + d[1].abs();
            let mut share = 1.0;
            while share > 1e-3 && size(defects([p[0] - share * step[0], p[1] - share * step[1]])) > size(here) {
                share *= 0.5;
            }
            p = [p[0] - share * step[0], p[1] - share * step[1]];
            if size(here) < 1e-9 {
                break;
            }
        }
        assert!(defects(p).iter().all(|d| d.abs() < 1e-6), "no exact flow at {x} {ratio} {u}");
        2.0 * PI * x * p[0] + PI * x * x * p[1]
    }

    fn drag(law: &Carreau, x: f64, (ratio, u, flow): (f64, f64, f64)) -> [f64; 2] {
        let outer = Outer::new(ratio, 1.0, flow);
        let own = thinned(law, x * x, |t| {
            (outer.thinned(t.drag, t.stress).shear_flow(x * x, None, Some(1.0), (u, 1.0)), 0.0)
        });
        let local = own.over_rest(outer.thinned(own.drag, own.stress).local(x * x, None, Some(1.0)));
        [u, 0.0].map(|u| PI * local.drag.value * (local.u_eq.value - u))
    }

    // Exact one-dimensional flow about a core. The bounds stand in the heading of this file as what the closure does not know; no
    // constant was chosen with them in view.
    #[test]
    fn theory_drag_on_a_core_in_a_thinning_stream() {
        let flow = 0.5 * PI;
        for (n, rms_bound, worst_bound) in [(1.0, 1e-3, 1e-2), (0.8, 0.03, 0.08), (0.5, 0.09, 0.25)] {
            let (mut sum, mut worst, mut count) = (0.0f64, 0.0f64, 0);
            for time in [0.3, 3.0] {
                let law = Carreau { exponent: n, time, infinite: 0.0 };
                for (ratio, x) in [(0.1, 0.5), (1.0, 0.2), (1.0, 0.5), (10.0, 0.8)] {
                    for share in [0.0, 0.5, 1.5] {
                        let axis = 2.0 * flow / PI;
                        let u = share * axis * core_annular::equilibrium(x * x, 1.0 / ratio).mean;
                        let [c, k, _] = Outer::new(ratio, 1.0, flow).shear_flow(x * x, None, Some(1.0), (u, 1.0));
                        let [ours, held] = drag(&law, x, (ratio, u, flow));
                        let exact = exact(&law, x, (ratio, u, flow), [c / x - k * x, 2.0 * k]);
                        let off = (ours - exact) / held;
                        (sum, worst, count) = (sum + off * off, worst.max(off.abs()), count + 1);
                    }
                }
            }
            let rms = (sum / f64::from(count)).sqrt();
            assert!(rms < rms_bound && worst < worst_bound, "n = {n}: rms {rms}, worst {worst} of {count}");
        }
    }

    // A tube's pressure by Rabinowitsch's integral (device::thinning) is a core of no radius: C = 0, k the only rate.
    #[test]
    fn theory_a_stream_without_a_core_is_that_of_a_tube() {
        for n in [0.3, 0.5, 0.8, 1.0] {
            for time in [0.01, 1.0, 100.0] {
                let law = Carreau { exponent: n, time, infinite: 0.0 };
                let tube = law.tube(PI, 1.0);
                // mean velocity 1: v' = -4 r
                let [square, _] = squared_rates([0.0, 4.0, 1.0], 1e-12, 0.0);
                let own = law.viscosity(time * time * square).0;
                assert!((own / tube - 1.0).abs() < 0.012, "{n} {time}: {own} {tube}");
            }
        }
    }

    // No thinning in slow flow; in fast flow that of the power law: m ~ (t g)^(n-1).
    #[test]
    fn theory_slow_and_fast_limits() {
        let law = |time| Carreau { exponent: 0.6, time, infinite: 0.0 };
        let at = |time, w| {
            let outer = Outer::new(1.0, 1.0, 1.0);
            let flow = |t: Thinned| (outer.thinned(t.drag, t.stress).shear_flow(0.09, None, Some(1.0), (1.0, 1.0)), w);
            thinned(&law(time), 0.09, flow)
        };
        let slow = at(1e-6, 0.5);
        assert_relative_eq!(slow.drag, 1.0, max_relative = 1e-9);
        assert_relative_eq!(slow.stress, 1.0, max_relative = 1e-9);
        let (fast, faster) = (at(1e5, 0.5), at(1e6, 0.5));
        // a change of viscosity changes the ratio too, so that the flow differs a little
        assert_relative_eq!(faster.drag / fast.drag, 10f64.powf(-0.4), max_relative = 0.03);
        assert!(fast.drag < 0.02 && fast.stress < 0.05, "{fast:?}");
    }

    // A sphere in a power law K g^n: X = drag/(3 pi K d^2 (V/d)^n) at the rate of an end. 1.24 at 0.8, 1.42 at 0.5, 1.46 at 0.3 recalled
    // from memory (Gu & Tanner 1985, J. Non-Newtonian Fluid Mech. 17, 1); they guided the rate, so this holds the formula alone.
    #[test]
    fn regress_drag_on_a_sphere_in_a_power_law() {
        for (n, recalled, bound) in [(0.8, 1.24, 0.08), (0.5, 1.42, 0.01), (0.3, 1.46, 0.12)] {
            let time = 1e6;
            let own = around_end(&Carreau { exponent: n, time, infinite: 0.0 }, 0.5, |_| (3.0, 1.0));
            // K = t^(n-1), d = 1, V = 1
            let x = own / f64::powf(time, n - 1.0);
            assert!((x / recalled - 1.0).abs() < bound, "{n}: {x} {recalled}");
        }
    }
}
