//! Conformation that liquid carries past the nodes of a mesh that lets it through ([`super::mesh::follow`]).
//!
//! Equation: on the moving liquid X and Y of [`super::rheology`] change by relaxation alone, so that of the volumes P_i that pass the nodes in
//! a step each brings the integral of the X that lies upstream. With X* = (X + r a^2/2)/(1 + r f/2), r = dt/De, what half a step of relaxation
//! makes of X, and <X>_i its mean over the liquid that passes node i,
//!   X_j(q) = s_j + alpha_j q_j - beta_j q_(j+1),   alpha_j = f_j (<X>_j - X*_j)/v_j',   beta_j = f_(j+1) (<X>_(j+1) - X*_j)/v_j',
//! linear in the way q of the liquid past the nodes within the step, as the volumes are (v' those expected at its end, at the velocities of its
//! start), and exactly at its end, when the volumes are known,
//!   X_j = s_j + [v_j X*_j + P_j <X>_j - P_(j+1) <X>_(j+1)]/v_j' - X*_j.
//! s_j changes by relaxation alone. X* makes it of second order in the step: liquid relaxes where it is on its way. Nothing is
//! limited by how many cells pass in a step: P may be more than a cell. Y likewise.
//! Symbols: v volume of a cell, f volume that passes a node per way, a mean squared radius, De relaxation time, f (in X*) of FENE-P.
//! Source: the integral over what has passed is Godunov's, with the limited slopes of [`super::load`] (van Leer 1977, recalled); the splitting ours.
//! Holds for: liquid that comes from a nozzle at rest but for its radius. The sum of v X is kept to round-off where nothing relaxes, and X stays
//! between its neighbours'.

use super::load::limited_slope;
use super::rheology::Polymer;

/// What lies upstream and how much of it each cell takes in.
#[derive(Debug, Clone, Default)]
pub struct Passing {
    /// Volumes at the start of the step, and what passes each node per way.
    volumes: Vec<f64>,
    passes: Vec<f64>,
    /// X* and Y*, and their slopes over volume.
    half: [Vec<f64>; 2],
    slopes: [Vec<f64>; 2],
    /// alpha, and beta.
    enters: [Vec<f64>; 2],
    leaves: [Vec<f64>; 2],
}

impl Passing {
    /// At the start of a step, `share` of each cell's conformation being X*; `ways` are the ways of the liquid past the nodes expected in it,
    /// `passes` volumes per way. False where a cell would be emptied by them.
    pub fn begin(&mut self, volumes: &[f64], half: [Vec<f64>; 2], ways: impl Fn(usize) -> f64, passes: &[f64]) -> bool {
        let n = volumes.len();
        self.volumes.clear();
        self.volumes.extend_from_slice(volumes);
        self.passes.clear();
        self.passes.extend_from_slice(&passes[..=n]);
        self.half = half;
        let fresh = Polymer::at_rest(1.0);
        for i in 0..2 {
            let (held, from) = (&self.half[i], &self.volumes);
            self.slopes[i].clear();
            self.slopes[i].extend((0..n).map(|j| {
                let before = if j == 0 { (fresh[i], 0.0) } else { (held[j - 1], from[j - 1]) };
                if j + 1 == n { 0.0 } else { limited_slope([before, (held[j], from[j]), (held[j + 1], from[j + 1])]) }
            }));
            self.enters[i].resize(n, 0.0);
            self.leaves[i].resize(n, 0.0);
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
            for i in 0..2 {
                self.enters[i][j] = passes[j] * (before.1[i] - self.half[i][j]) / then;
                self.leaves[i][j] = passes[j + 1] * (after.1[i] - self.half[i][j]) / then;
            }
            before = after;
        }
        true
    }

    /// Mean conformation of the liquid of volume `passed` that goes past node `i`, backwards where it is negative.
    fn mean(&self, i: usize, passed: f64) -> [f64; 2] {
        let (n, fresh) = (self.volumes.len(), Polymer::at_rest(1.0));
        let mut left = passed.abs();
        let mut sum = [0.0; 2];
        let mut at = i;
        while left > 0.0 {
            let end = if passed > 0.0 { at == 0 } else { at == n };
            if end {
                let beyond = if passed > 0.0 { fresh } else { [self.half[0][n - 1], self.half[1][n - 1]] };
                (0..2).for_each(|k| sum[k] += left * beyond[k]);
                break;
            }
            let (j, side) = if passed > 0.0 { (at - 1, 0.5) } else { (at, -0.5) };
            let whole = self.volumes[j];
            let take = left.min(whole);
            (0..2).for_each(|k| sum[k] += take * (self.half[k][j] + side * self.slopes[k][j] * (whole - take)));
            left -= take;
            at = if passed > 0.0 { at - 1 } else { at + 1 };
        }
        if passed != 0.0 {
            return sum.map(|held| held / passed.abs());
        }
        // at rest: what is just upstream
        match i {
            0 => fresh,
            _ => std::array::from_fn(|k| self.half[k][i - 1] + 0.5 * self.slopes[k][i - 1] * self.volumes[i - 1]),
        }
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
            let leaving = (out, self.mean(j + 1, out));
            add(
                j,
                std::array::from_fn(|k| {
                    let own = self.half[k][j];
                    (entering.0 * (entering.1[k] - own) - leaving.0 * (leaving.1[k] - own)) / then
                }),
            );
            entering = leaving;
        }
    }
}
