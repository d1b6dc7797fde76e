//! Forces of cells whose liquid holds a polymer, and how its conformation changes within a step.
//!
//! Equation: a cell's polymer is stretched at W and its stress works on that,
//!   W = phi (u_z + l),  l = rate + share (u_j + u_(j+1)),  S = G f (C - B),  F_i = -S v dW/du_i,
//!   dX/dt = -(f X - a^2)/De + 2 (W - u_z) X,   dY/dt = -(f Y - 1/a)/De - (W - u_z) Y,
//! phi^2 the factor by which a steep thread resists stretching ([`super::foot`]) and l what the inner liquid's surface, that lags behind, adds
//! ([`super::outer`]), both frozen over a step; in a gas W = u_z. So a polymer that relaxes at once, S = 3 (1 - b) Oh W, dissipates
//! 3 (1 - b) Oh v f (u_z + l)^2, as the Newtonian liquid of its viscosity does, and what S does to W is what the chains store and lose.
//! The conformation s = (X, Y) of each cell is an unknown of the step beside way and velocity, with what liquid that passes the nodes brings
//! ([`super::passing`]), X = s + alpha q_j - beta q_(j+1). Its stage reads, c = 1/(gamma dt),
//!   (c - G_s) k_s = G + sum_i w_i k_s,i + G_q k_q + G_u k_u,   so   k_s = K [G + sum + G_q k_q + G_u k_u],  K = (c - G_s)^-1,
//! and the tension's answer T_s k_s adds T_s K G_q and T_s K G_u to its derivatives and T_s K [G + sum] to the load: all of a cell alone, so that
//! the matrix stays as narrow as it was and neither stretching nor relaxation limits the step.
//! Where the mesh goes with the liquid, what enters at the nozzle mixes with the first cell, of volume v, within the step: its G has
//! (pi u_0/v) (s_0 - s) more, s_0 that of a liquid at rest at the nozzle's radius.
//! Symbols: d cell length, T = pi a phi S its tension, G in k_s the rate of s; see [`super::rheology`].
//! Source: Rosenbrock method with inner unknowns eliminated, own; the scheme is that of [`crate::solver::rosenbrock`]. W: own, the mean square
//! over a section of the rate at which the liquid is stretched; nothing fitted.
//! Holds for: uniform conformation across the thread.

use super::body::{Body, End};
use super::force::Work;
use super::jacobian::Derivatives;
use super::passing::Passing;
use super::rheology::{Polymer, Strand};
use std::f64::consts::PI;

/// How a cell's polymer is stretched: phi, and rate and share of l.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretching {
    pub factor: f64,
    pub rate: f64,
    pub share: f64,
}

impl Stretching {
    /// As the thread itself.
    pub const MEAN: Stretching = Stretching { factor: 1.0, rate: 0.0, share: 0.0 };
}

/// A body's polymer during a step.
#[derive(Debug, Clone, Default)]
pub struct PolymerWork {
    /// Trial conformation without what has come past the nodes: s.
    state: [Vec<f64>; 2],
    /// What has.
    carried: [Vec<f64>; 2],
    passing: Passing,
    /// Whether liquid passes nodes that are no nozzle.
    flowing: bool,
    /// Stages of s.
    k: [[Vec<f64>; 2]; 4],
    /// Every cell at the last evaluation, and how it is stretched.
    strands: Vec<Strand>,
    pub stretching: Vec<Stretching>,
    /// What a stage needs of every cell, of the start of the step.
    inner: Vec<Inner>,
    /// Pull of every cell by the conformation's own change in a stage.
    pull: Vec<f64>,
}

/// Of one cell: how s, tension and forces answer.
#[derive(Debug, Clone, Copy, Default)]
struct Inner {
    /// K.
    solve: [[f64; 2]; 2],
    /// T_s K.
    pull: [f64; 2],
    /// G_q at the cell's two nodes, G_u likewise.
    by_q: [[f64; 2]; 2],
    by_u: [[f64; 2]; 2],
    /// Forces on the two nodes over the tension.
    ends: [f64; 2],
}

impl PolymerWork {
    /// Start of a step of length `dt` at velocities `u`, from the work's geometry; false where liquid would leave a cell empty.
    pub fn begin(polymer: &Polymer, body: &Body, u: &[f64], work: &mut Work, dt: f64) -> bool {
        let mut own = std::mem::take(&mut work.polymer);
        let n = body.cells();
        for (trial, held) in own.state.iter_mut().zip(&body.load.state) {
            trial.clone_from(held);
        }
        own.k.iter_mut().chain([&mut own.carried]).flatten().for_each(|list| list.resize(n, 0.0));
        own.carried.iter_mut().for_each(|list| list.fill(0.0));
        own.inner.clear();
        own.stretching.clear();
        own.stretching.resize(n, Stretching::MEAN);
        own.flowing = work.follow.flowing;
        let mut sound = true;
        if own.flowing {
            let cells = (&work.v[..], &work.a[1..=n]);
            sound = own.passing.begin((polymer, dt), cells, &own.state, (|i| u[i] * dt, work.follow.passing()));
        }
        work.polymer = own;
        sound
    }

    /// Conformation of a cell.
    fn held(&self, j: usize) -> [f64; 2] {
        [self.state[0][j] + self.carried[0][j], self.state[1][j] + self.carried[1][j]]
    }

    /// The liquid has gone `q` since the start of the step and `inflow` has come in.
    pub fn carry(&mut self, q: &[f64], inflow: f64) {
        if !self.flowing || self.state[0].is_empty() {
            return;
        }
        for (i, carried) in self.carried.iter_mut().enumerate() {
            let mut before = inflow / PI;
            for (j, (carried, q)) in carried.iter_mut().zip(&q[1..]).enumerate() {
                let (enters, leaves) = self.passing.shares(i, j);
                *carried = enters * before - leaves * q;
                before = *q;
            }
        }
    }

    /// Tensions of the last `geometry`, and the strands of every cell.
    pub fn add_tensions(polymer: &Polymer, modulus: f64, body: &Body, u: &[f64], work: &mut Work) {
        let mut own = std::mem::take(&mut work.polymer);
        let n = work.v.len();
        // where the mesh goes with the liquid the first cell takes in what enters
        let entering = if body.left == End::Nozzle && !own.flowing { PI * u[0] } else { 0.0 };
        own.strands.resize(n, Strand::default());
        for j in 0..n {
            let state = own.held(j);
            let mut strand = polymer.strand(modulus, work.a[j + 1], work.d[j + 1], state);
            let more = own.more(j, [u[j], u[j + 1]], work.inv_d[j + 1]);
            for (i, by) in [2.0 * more, -more].into_iter().enumerate() {
                strand.rate[i] += by * state[i];
                strand.rate_by_state[i][i] += by;
            }
            if j == 0 && entering > 0.0 {
                let share = entering / work.v[0];
                for (i, fresh) in Polymer::at_rest(1.0).into_iter().enumerate() {
                    strand.rate[i] += share * (fresh - state[i]);
                    strand.rate_by_state[i][i] -= share;
                }
            }
            work.tension[j] += own.stretching[j].factor * strand.tension;
            own.strands[j] = strand;
        }
        work.polymer = own;
    }

    /// W - u_z of a cell.
    fn more(&self, j: usize, [lo, hi]: [f64; 2], inverse: f64) -> f64 {
        let Stretching { factor, rate, share } = self.stretching[j];
        (factor - 1.0) * (hi - lo) * inverse + factor * (rate + share * (lo + hi))
    }

    /// What S does beyond the tension, equal on a cell's two nodes: -S v phi dl/du.
    fn drawn(&self, j: usize, d: f64) -> f64 {
        let Stretching { factor, share, .. } = self.stretching[j];
        -factor * self.strands[j].tension * share * d
    }

    /// Add the forces beyond the tensions.
    pub fn add_forces(work: &mut Work) {
        for j in 0..work.polymer.strands.len().min(work.v.len()) {
            let drawn = work.polymer.drawn(j, work.d[j + 1]);
            work.force[j] += drawn;
            work.force[j + 1] += drawn;
        }
    }

    /// Eliminate the conformation, and add the derivatives of the polymer's forces and its answer. At the start of a step.
    pub fn eliminate(c: f64, body: &Body, u: &[f64], work: &mut Work, to: &mut Derivatives) {
        let n = work.v.len();
        let own = &mut work.polymer;
        let (moves, passes) = (&work.follow.moves[1..], &work.follow.passes[1..]);
        for j in 0..n {
            let (strand, Stretching { factor, share, .. }) = (&own.strands[j], own.stretching[j]);
            let (d, inv_d, v) = (work.d[j + 1], work.inv_d[j + 1], work.v[j]);
            let [[xx, xy], [yx, yy]] = strand.rate_by_state;
            let (a, b, e, f) = (c - xx, -xy, -yx, c - yy);
            let inv = 1.0 / (a * f - b * e);
            let solve = [[f * inv, -b * inv], [-e * inv, a * inv]];
            let [tx, ty] = strand.by_state.map(|by| factor * by);
            let pull = [tx * solve[0][0] + ty * solve[1][0], tx * solve[0][1] + ty * solve[1][1]];
            // length, and what of it is squared radius, by q at the two nodes
            let length = [-moves[j], moves[j + 1]];
            let thinner = [length[0] - d / v * passes[j], length[1] + d / v * passes[j + 1]];
            let [x, y] = own.held(j);
            let turned = [2.0 * x, -y];
            // W - u_z by length, and by the two velocities
            let by_length = -(factor - 1.0) * (u[j + 1] - u[j]) * inv_d * inv_d;
            let by_speed = [factor * share - (factor - 1.0) * inv_d, factor * share + (factor - 1.0) * inv_d];
            let mut inner = Inner { solve, pull, ends: [1.0 - share * d, -1.0 - share * d], ..Inner::default() };
            let mut by_q = [0.0; 2];
            let mut by_u = [0.0; 2];
            for node in 0..2 {
                let carried: [f64; 2] = std::array::from_fn(|i| {
                    let (enters, leaves) = if own.flowing { own.passing.shares(i, j) } else { (0.0, 0.0) };
                    if node == 0 { enters } else { -leaves }
                });
                for (i, (turned, through)) in turned.iter().zip(&strand.rate_by_state).enumerate() {
                    inner.by_q[node][i] = strand.rate_by_length[i] * thinner[node]
                        + turned * by_length * length[node]
                        + through[0] * carried[0]
                        + through[1] * carried[1];
                    inner.by_u[node][i] = turned * by_speed[node];
                }
                let [g, h] = [inner.by_q[node], inner.by_u[node]];
                by_q[node] = factor * strand.by_length * thinner[node] + tx * carried[0] + ty * carried[1];
                by_q[node] += pull[0] * g[0] + pull[1] * g[1];
                by_u[node] = pull[0] * h[0] + pull[1] * h[1];
            }
            let drawn = factor * strand.tension * share;
            let last = j + 1 == n && body.right == End::Outflow;
            for (side, end) in inner.ends.into_iter().enumerate() {
                if side == 1 && last {
                    continue;
                }
                let at = |node: usize| (end * by_q[node] - drawn * length[node], end * by_u[node]);
                to.add(j + side, j, [at(0), at(1)]);
            }
            own.inner.push(inner);
        }
    }

    /// Load of stage `DONE`: rate and weighted earlier stages into the stage itself, what they pull into `rhs`.
    pub fn load_stage<const DONE: usize>(&mut self, body: &Body, w: [f64; DONE], rhs: &mut [f64]) {
        if self.inner.is_empty() {
            return;
        }
        let (done, open) = self.k.split_at_mut(DONE);
        self.pull.clear();
        for (j, (inner, strand)) in self.inner.iter().zip(&self.strands).enumerate() {
            for i in 0..2 {
                let past: f64 = done.iter().zip(w).map(|(k, w)| w * k[i][j]).sum();
                open[0][i][j] = strand.rate[i] + past;
            }
            self.pull.push(inner.pull[0] * open[0][0][j] + inner.pull[1] * open[0][1][j]);
        }
        let n = self.pull.len();
        for (j, (pull, inner)) in self.pull.iter().zip(&self.inner).enumerate() {
            rhs[j] += pull * inner.ends[0];
            // at an outflow the thread beyond pulls back just as hard
            if j + 1 < n || body.right != End::Outflow {
                rhs[j + 1] += pull * inner.ends[1];
            }
        }
    }

    /// The stage itself, once that of ways and velocities is known; `entry` what the inflow's own change adds to those of node 0.
    pub fn solve_stage(&mut self, stage: usize, k_q: &[f64], k_u: &[f64], entry: (f64, f64)) {
        let [k_x, k_y] = &mut self.k[stage];
        for (j, inner) in self.inner.iter().enumerate() {
            let (way, rise) = if j == 0 { entry } else { (0.0, 0.0) };
            let (q, u) = ([k_q[j] + way, k_q[j + 1]], [k_u[j] + rise, k_u[j + 1]]);
            let side = |i: usize, own: f64| {
                let nodes = (0..2).map(|node| inner.by_q[node][i] * q[node] + inner.by_u[node][i] * u[node]);
                own + nodes.sum::<f64>()
            };
            let side = [side(0, k_x[j]), side(1, k_y[j])];
            k_x[j] = inner.solve[0][0] * side[0] + inner.solve[0][1] * side[1];
            k_y[j] = inner.solve[1][0] * side[0] + inner.solve[1][1] * side[1];
        }
    }

    /// Add a stage to the trial state.
    pub fn add(&mut self, stage: usize, factor: f64) {
        for (trial, k) in self.state.iter_mut().zip(&self.k[stage]) {
            trial.iter_mut().zip(k).for_each(|(s, k)| *s += factor * k);
        }
    }

    /// Largest relative change of a conformation by the error vector, as a change of radius (X ~ h^3 in a thread); infinite
    /// where a conformation is not positive.
    pub fn error(&self) -> f64 {
        let mut most = 0.0;
        for (i, k) in self.k[3].iter().enumerate() {
            for (j, k) in k.iter().enumerate().take(self.state[i].len()) {
                let held = self.state[i][j] + self.carried[i][j];
                let change = (k / held).abs() / 3.0;
                // written so that a NaN is refused
                if !(held > 0.0 && change.is_finite()) {
                    return f64::INFINITY;
                }
                most = f64::max(most, change);
            }
        }
        most
    }

    /// End of a step whose volumes will be `after` when `inflow` has come in; false where a conformation is not positive.
    pub fn close(&mut self, after: &[f64], inflow: f64) -> bool {
        if !self.flowing || self.state[0].is_empty() {
            return true;
        }
        let state = &mut self.state;
        self.passing.gained(after, inflow, |j, gained| (0..2).for_each(|i| state[i][j] += gained[i]));
        state.iter().flatten().all(|x| *x > 0.0)
    }

    /// The body takes the conformation.
    pub fn finish(&mut self, body: &mut Body) {
        if !self.state[0].is_empty() {
            std::mem::swap(&mut self.state, &mut body.load.state);
        }
    }

    /// Power lost by relaxation, and what a lagging surface draws from the nozzle: the pinned node does no work.
    pub fn powers(&self, polymer: &Polymer, modulus: f64, body: &Body, u: &[f64], work: &Work) -> (f64, f64) {
        let lost = |j: usize| work.v[j] * polymer.energy(modulus, work.a[j + 1], self.held(j)).1;
        let drawn = if body.left.is_fixed() { -self.drawn(0, work.d[1]) * u[0] } else { 0.0 };
        ((0..work.v.len()).map(lost).sum(), drawn)
    }

    /// Power by which the stream about a lagging surface stretches the chains: S v phi times the part of l that no node's velocity makes.
    pub fn driven(&self, work: &Work) -> f64 {
        let of = |(strand, (how, d)): (&Strand, (&Stretching, &f64))| how.factor * strand.tension * how.rate * d;
        self.strands.iter().zip(self.stretching.iter().zip(&work.d[1..])).map(of).sum()
    }

    /// Tension of the first cell of squared radius `a` and length `d` with what it holds now, beyond that of the last evaluation.
    pub fn first_tension(&self, polymer: &Polymer, modulus: f64, (a, d): (f64, f64)) -> f64 {
        let now = polymer.strand(modulus, a, d, self.held(0)).tension;
        self.stretching[0].factor * (now - self.strands[0].tension)
    }
}
