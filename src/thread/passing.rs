//! Conformation that liquid carries past the nodes of a mesh that lets it through ([`super::mesh::follow`]).
//!
//! Equation: on the moving liquid X and Y of [`super::rheology`] change by relaxation alone. What is in cell j at the end of a step has come
//! there along its way with what relaxation left of its X and with what it has relaxed to since, A = a^2/f, on the last part of that way. Of
//! the volumes P_i that pass the nodes in a step each brings so much of both, so that
//!   X_j(q) = s_j + alpha_j q_j - beta_j q_(j+1),   alpha_j = f_j (M_j - X*_j)/v_j',   beta_j = f_(j+1) (M_(j+1) - X*_j)/v_j',
//!   M_i = mean of m X over P_i + mean of (1 - m) A over the P_i min(1, 2/r) next to the node,   X* = m X + (1 - m) A,   m = 1/(1 + r f/2),
//! r = dt/De, v' the volumes expected at the end of the step at the velocities of its start: linear in the way q of the liquid past the nodes
//! within the step, as the volumes are. When the volumes are known at its end,
//!   X_j = s_j + [v_j X*_j + P_j M_j - P_(j+1) M_(j+1)]/v_j' - X*_j.
//! s_j changes by relaxation alone. To second order in the step this is X = E X(z - u dt) + int A(z - u t) exp(-t/De) dt/De along the liquid's
//! way, E = exp(-r), whether it forgets within a step or not: X = A - De u A' + De^2 u (u A')' where it does. Nothing is limited by how many
//! cells pass in a step: P may be more than a cell. Y likewise, with 1/a.
//! Symbols: v volume of a cell, f (in alpha and beta) volume that passes a node per way, a mean squared radius, De relaxation time, f of FENE-P.
//! Source: the integral over what has passed is Godunov's, with the limited slopes of [`super::load`] (van Leer 1977, recalled); the splitting ours.
//! Holds for: liquid that comes from a nozzle at rest but for its radius. Where nothing relaxes the sum of v X is kept to round-off and X stays
//! between its neighbours'.

use super::load::limited_slope;
use super::rheology::Polymer;

/// What lies upstream and how much of it each cell takes in.
#[derive(Debug, Clone, Default)]
pub struct Passing {
    /// Volumes at the start of the step, and what passes each node per way.
    volumes: Vec<f64>,
    passes: Vec<f64>,
    /// What is left of X and Y, and what they have relaxed to.
    parts: [Part; 2],
    /// alpha, and beta.
    enters: [Vec<f64>; 2],
    leaves: [Vec<f64>; 2],
}

/// One part of X and Y.
#[derive(Debug, Clone, Default)]
struct Part {
    held: [Vec<f64>; 2],
    /// Slopes over volume.
    slopes: [Vec<f64>; 2],
    /// What enters at the nozzle.
    fresh: [f64; 2],
    /// Share of what passes a node, the nearest, that brings it.
    reach: f64,
}

impl Part {
    /// Slopes in cells of these volumes.
    fn incline(&mut self, volumes: &[f64]) {
        let n = volumes.len();
        for (i, (held, slopes)) in self.held.iter().zip(&mut self.slopes).enumerate() {
            slopes.clear();
            slopes.extend((0..n).map(|j| {
                let before = if j == 0 { (self.fresh[i], 0.0) } else { (held[j - 1], volumes[j - 1]) };
                let last = j + 1 == n;
                if last { 0.0 } else { limited_slope([before, (held[j], volumes[j]), (held[j + 1], volumes[j + 1])]) }
            }));
        }
    }

    /// Mean over the nearest of the liquid of volume `passed` that goes past node `i`, backwards where it is negative.
    fn mean(&self, volumes: &[f64], i: usize, passed: f64) -> [f64; 2] {
        let n = volumes.len();
        if passed == 0.0 {
            // what is just upstream
            let face = |k: usize| self.held[k][i - 1] + 0.5 * self.slopes[k][i - 1] * volumes[i - 1];
            return if i == 0 { self.fresh } else { [face(0), face(1)] };
        }
        let whole = passed.abs() * self.reach;
        let (mut left, mut sum, mut at) = (whole, [0.0; 2], i);
        while left > 0.0 {
            if at == if passed > 0.0 { 0 } else { n } {
                let beyond = if passed > 0.0 { self.fresh } else { [self.held[0][n - 1], self.held[1][n - 1]] };
                (0..2).for_each(|k| sum[k] += left * beyond[k]);
                break;
            }
            let (j, side) = if passed > 0.0 { (at - 1, 0.5) } else { (at, -0.5) };
            let take = left.min(volumes[j]);
            (0..2).for_each(|k| sum[k] += take * (self.held[k][j] + side * self.slopes[k][j] * (volumes[j] - take)));
            left -= take;
            at = if passed > 0.0 { at - 1 } else { at + 1 };
        }
        sum.map(|held| held / whole)
    }
}

impl Passing {
    /// Start of a step of length `dt` of cells of these volumes and squared radii `area` with the conformation `state`; `ways` are the ways of
    /// the liquid past the nodes expected in it, `passes` volumes per way. False where a cell would be emptied by them.
    pub fn begin(
        &mut self,
        (polymer, dt): (&Polymer, f64),
        (volumes, area): (&[f64], &[f64]),
        state: &[Vec<f64>; 2],
        (ways, passes): (impl Fn(usize) -> f64, &[f64]),
    ) -> bool {
        let n = volumes.len();
        self.volumes.clear();
        self.volumes.extend_from_slice(volumes);
        self.passes.clear();
        self.passes.extend_from_slice(&passes[..=n]);
        let r = dt / polymer.relaxation;
        self.parts[0].reach = 1.0;
        self.parts[1].reach = if r > 2.0 { 2.0 / r } else { 1.0 };
        let rest = polymer.relaxing(1.0, Polymer::at_rest(1.0), 0.5 * dt);
        for (k, part) in self.parts.iter_mut().enumerate() {
            part.fresh = rest[k];
            part.held.iter_mut().for_each(|list| list.resize(n, 0.0));
        }
        for j in 0..n {
            let both = polymer.relaxing(area[j], [state[0][j], state[1][j]], 0.5 * dt);
            for (part, own) in self.parts.iter_mut().zip(both) {
                (part.held[0][j], part.held[1][j]) = (own[0], own[1]);
            }
        }
        self.parts.iter_mut().for_each(|part| part.incline(&self.volumes));
        for list in self.enters.iter_mut().chain(&mut self.leaves) {
            list.resize(n, 0.0);
        }
        let passed = |i: usize| passes[i] * ways(i);
        let mut before = (passed(0), self.mean(0, passed(0)));
        for j in 0..n {
            let after = (passed(j + 1), self.mean(j + 1, passed(j + 1)));
            let then = volumes[j] + before.0 - after.0;
            // written so that a NaN is refused
            if !(then > 0.0) {
                return false;
            }
            let own = self.own(j);
            for (i, own) in own.into_iter().enumerate() {
                self.enters[i][j] = passes[j] * (before.1[i] - own) / then;
                self.leaves[i][j] = passes[j + 1] * (after.1[i] - own) / then;
            }
            before = after;
        }
        true
    }

    /// X* and Y* of a cell.
    fn own(&self, j: usize) -> [f64; 2] {
        std::array::from_fn(|k| self.parts.iter().map(|part| part.held[k][j]).sum())
    }

    /// M of X and of Y of the liquid of volume `passed` that goes past node `i`.
    fn mean(&self, i: usize, passed: f64) -> [f64; 2] {
        let [left, come] = self.parts.each_ref().map(|part| part.mean(&self.volumes, i, passed));
        [left[0] + come[0], left[1] + come[1]]
    }

    /// alpha and beta of component `i` in cell `j`.
    pub fn shares(&self, i: usize, j: usize) -> (f64, f64) {
        (self.enters[i][j], self.leaves[i][j])
    }

    /// What each cell has gained by the end of the step, when its volumes are `after` and `inflow` has come in.
    pub fn gained(&self, after: &[f64], inflow: f64, mut add: impl FnMut(usize, [f64; 2])) {
        let mut entering = (inflow, self.mean(0, inflow));
        for (j, (&v, &then)) in self.volumes.iter().zip(after).enumerate() {
            // what comes in past a node and does not stay goes on past the next; nothing does past a node that goes with the liquid
            let through = entering.0 + (v - then);
            let out = if self.passes[j + 1] == 0.0 { 0.0 } else { through };
            let (leaving, own) = ((out, self.mean(j + 1, out)), self.own(j));
            let gain = |k: usize| (entering.0 * (entering.1[k] - own[k]) - leaving.0 * (leaving.1[k] - own[k])) / then;
            add(j, [gain(0), gain(1)]);
            entering = leaving;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    const N: usize = 60;

    /// Cells of uneven volumes, and something that all of them hold.
    fn cells(held: impl Fn(f64) -> f64) -> (Vec<f64>, [Vec<f64>; 2]) {
        let volumes: Vec<f64> = (0..N).map(|j| 0.1 * (1.2 + (2.0 * j as f64).sin())).collect();
        let mut end = 0.0;
        let list: Vec<f64> = volumes
            .iter()
            .map(|v| {
                end += v;
                held(end - 0.5 * v)
            })
            .collect();
        (volumes, [list.clone(), list])
    }

    /// What the cells hold after `passed` has gone past every node but the last, which goes with the liquid.
    fn after(relaxation: f64, volumes: &[f64], state: &[Vec<f64>; 2], passed: f64) -> (Vec<f64>, Vec<f64>) {
        let polymer = Polymer { share: 0.5, relaxation, inverse_extensibility: 0.0 };
        let mut passes = vec![1.0; N + 1];
        passes[N] = 0.0;
        let mut own = Passing::default();
        let area = vec![1.0; N];
        assert!(own.begin((&polymer, 1.0), (volumes, &area), state, (|_| passed, &passes)));
        let mut then = volumes.to_vec();
        then[N - 1] += passed;
        let mut x = state[0].clone();
        own.gained(&then, passed, |j, gained| x[j] += gained[0]);
        (then, x)
    }

    // What enters has X = 1. However many cells pass, what was there and what came in is there, and nothing exceeds what was.
    #[test]
    fn what_does_not_relax_is_kept_and_stays_between_its_neighbours() {
        let (volumes, state) = cells(|m| if m < 2.0 { 1.0 } else { 9.0 });
        for passed in [0.01, 0.3, 2.0] {
            let (then, x) = after(1e15, &volumes, &state, passed);
            let sum = |x: &[f64], v: &[f64]| x.iter().zip(v).map(|(x, v)| x * v).sum::<f64>();
            assert_relative_eq!(sum(&x, &then), sum(&state[0], &volumes) + passed, max_relative = 1e-13);
            assert!(x.iter().all(|x| *x > 1.0 - 1e-12 && *x < 9.0 + 1e-12), "{passed}");
        }
    }

    // A density that is linear in the volume is carried exactly (but in the cells at the ends).
    #[test]
    fn a_linear_conformation_is_carried_exactly() {
        let (volumes, state) = cells(|m| 1.0 + m);
        let (_, x) = after(1e15, &volumes, &state, 0.3);
        for j in 6..N - 2 {
            assert_relative_eq!(x[j], state[0][j] - 0.3, max_relative = 1e-9);
        }
    }

    // In the expected ways the volumes' linear law and the law at the end of the step are one.
    #[test]
    fn the_ways_expected_bring_what_the_step_expects() {
        let (volumes, state) = cells(|m| 1.0 + (0.7 * m).sin().powi(2));
        for relaxation in [1e15, 0.7, 0.01] {
            let polymer = Polymer { share: 0.5, relaxation, inverse_extensibility: 0.0 };
            let mut passes = vec![1.0; N + 1];
            passes[N] = 0.0;
            let (mut own, area) = (Passing::default(), vec![1.2; N]);
            assert!(own.begin((&polymer, 1.0), (&volumes, &area), &state, (|_| 0.2, &passes)));
            let mut then = volumes.clone();
            then[N - 1] += 0.2;
            own.gained(&then, 0.2, |j, gained| {
                let (enters, leaves) = own.shares(0, j);
                let last = if j + 1 == N { 0.0 } else { 0.2 };
                assert_relative_eq!(gained[0], enters * 0.2 - leaves * last, epsilon = 1e-12);
            });
        }
    }
}
