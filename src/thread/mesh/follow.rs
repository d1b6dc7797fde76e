//! A mesh that follows the shape while a drop fills, and lets the liquid through.
//!
//! Equation: node i carries a coordinate q_i with dq_i/dt = u_i, the way of the liquid past it. The node itself goes
//!   z_i = z_i(start) + theta_i q_i,
//! and what the liquid outruns it passes on to the next cell,
//!   v_j = v_j(start) + f_j q_j - f_(j+1) q_(j+1),   f_i = pi (1 - theta_i) A_i,
//! so that the total volume is kept to round-off. Where the thread is Lagrangian theta = 1 and f = 0. While a drop hangs on
//! its nozzle without a neck, theta_i u_i = (z_i/L) u_tip, the motion of a shape that grows in proportion: 0 at the nozzle, 1 at
//! the tip, kept between the two. Where only the part before a place follows, that place takes the tip's part and theta = 1 from there on.
//! At a nozzle theta = 0 and f = pi, and q is the length of the plug that came in.
//! Symbols: A_i squared radius at the node (from the parabolas of its two cells, exact on a sphere), L length of the thread.
//! Source: arbitrary Lagrangian-Eulerian meshes are common practice (Hirt, Amsden & Cook 1974, J. Comput. Phys. 14, 227, recalled
//! from memory); this form is ours.
//! Holds for: theta and f are frozen over a step, so the volumes carried are of first order in the step, and the force stays a
//! function of (q, u) whose matrix is pentadiagonal.

use crate::thread::body::{Body, End};
use crate::thread::cells::Triple;
use crate::tolerances::{FOLLOW_FROM, FOLLOW_NECK};
use std::f64::consts::PI;

/// The place before the first neck of a hanging thread where it is widest; 0 where nothing is thinner than `FOLLOW_NECK` but its end.
fn before_neck(body: &Body) -> usize {
    let mut end = body.cells() - 1;
    while end > 0 && body.area(end - 1) > body.area(end) {
        end -= 1;
    }
    let thin = (0..end).find(|j| body.area(*j) < FOLLOW_NECK * FOLLOW_NECK).unwrap_or(0);
    (0..thin).fold((0, 0.0), |best, j| if body.area(j) > best.1 { (j, body.area(j)) } else { best }).0
}

/// Whether the first `nodes` of a thread are wide enough.
fn is_wide(body: &Body, nodes: usize) -> bool {
    body.v[..nodes].iter().sum::<f64>() > FOLLOW_FROM * PI * (body.z[nodes] - body.z[0])
}

/// Up to where the mesh follows a hanging thread whose thinnest neck has the radius `waist`: all along, or, since a neck moves and thins
/// with its liquid, to the widest place before it.
pub fn follows_to(body: &Body, waist: f64) -> Option<f64> {
    if waist > FOLLOW_NECK {
        return is_wide(body, body.cells()).then_some(f64::INFINITY);
    }
    let last = before_neck(body);
    is_wide(body, last).then(|| body.z[last])
}

/// How the nodes move, with an unused entry before the first and after the last node: entry i + 1 is node i.
#[derive(Debug, Clone, Default)]
pub struct Follow {
    /// theta: share of the liquid's way that the node goes.
    pub moves: Vec<f64>,
    /// f: volume that passes the node per length of q, at the start of the step ...
    pub passes: Vec<f64>,
    /// ... and in the middle of it.
    passing: Vec<f64>,
    /// Weight of a cell in [`Follow::settle`] times the way of the liquid past its end, volume over change of area.
    weights: Vec<f64>,
    /// True if any node but a nozzle lets liquid through.
    pub flowing: bool,
}

impl Follow {
    /// Motion of the nodes over a step, from the state at its start: lengths `d` and squared radii `a` with their ghosts.
    pub fn set(&mut self, body: &Body, u: &[f64], d: &[f64], a: &[f64], dt: f64) {
        let n = body.cells();
        self.moves.clear();
        self.moves.resize(n + 3, 1.0);
        self.passes.clear();
        self.passes.resize(n + 3, 0.0);
        (self.moves[0], self.moves[n + 2]) = (0.0, 0.0);
        let follows = body.follows && body.left == End::Nozzle;
        let last = if follows { body.z.partition_point(|z| *z <= body.follows_to).saturating_sub(1) } else { 0 };
        self.flowing = last > 0;
        if body.left == End::Nozzle {
            (self.moves[1], self.passes[1]) = (0.0, PI);
        }
        if !self.flowing {
            return;
        }
        let rate = u[last] / (body.z[last] - body.z[0]);
        let mut before = Triple::around(d, a, 0).parabola();
        for i in 1..last {
            let after = Triple::around(d, a, i).parabola();
            let wanted = rate * (body.z[i] - body.z[0]) / u[i];
            // comparisons that a NaN fails
            let share = if wanted > 0.0 { wanted } else { 0.0 };
            let share = if share < 1.0 { share } else { 1.0 };
            let (al, ar, dl, dr) = (a[i], a[i + 1], d[i], d[i + 1]);
            let curved = 0.5 * (before.at(0.5 * dl) + after.at(-0.5 * dr));
            let (low, high) = if al < ar { (al, ar) } else { (ar, al) };
            // at a sharp turn the parabolas may overshoot; the straight line between the means does not
            let area = if curved > 0.7 * low && curved < 1.4 * high { curved } else { (al * dr + ar * dl) / (dl + dr) };
            self.moves[i + 1] = share;
            self.passes[i + 1] = PI * (1.0 - share) * area;
            before = after;
        }
        self.predict(u, d, a, dt);
    }

    /// Where the areas at the nodes will be half a step later, at the rates of the start. Such a prediction is unstable where the
    /// liquid passes more than a cell in a step, and its share `p` ([`predicted`]) fades out before; what it leaves out,
    /// [`Follow::settle`] makes up for implicitly.
    fn predict(&mut self, u: &[f64], d: &[f64], a: &[f64], dt: f64) {
        let n = u.len() - 1;
        let (moves, passes) = (&self.moves[1..], &self.passes[1..]);
        // relative rate of a cell's squared radius
        let rate = |j: usize| {
            let filled = (passes[j] * u[j] - passes[j + 1] * u[j + 1]) / (PI * a[j + 1]);
            (filled - (moves[j + 1] * u[j + 1] - moves[j] * u[j])) / d[j + 1]
        };
        self.passing.clone_from(&self.passes);
        let mut before = rate(0);
        for i in 1..n {
            let after = rate(i);
            let shorter = if d[i] < d[i + 1] { d[i] } else { d[i + 1] };
            let share = predicted((1.0 - moves[i]) * u[i] * dt / shorter);
            if share > 0.0 {
                let (l, r) = (a[i] * d[i + 1], a[i + 1] * d[i]);
                self.passing[i + 1] *= 1.0 + share * 0.5 * dt * (before * l + after * r) / (l + r);
            }
            before = after;
        }
    }

    /// What passes each node per way of the liquid, in the middle of the step.
    pub fn passing(&self) -> &[f64] {
        &self.passing[1..]
    }

    /// Volumes of the cells after the liquid has gone `q` and `inflow` has come in.
    pub fn volumes(&self, body: &Body, q: &[f64], inflow: f64, v: &mut Vec<f64>) {
        let n = body.cells();
        if !self.flowing {
            v.clone_from(&body.v);
            v[0] += inflow;
            return;
        }
        v.resize(n, 0.0);
        let (v, start, passes, q) = (&mut v[..n], &body.v[..n], &self.passing[2..n + 2], &q[1..=n]);
        let mut entering = inflow;
        for j in 0..n {
            let leaving = passes[j] * q[j];
            v[j] = start[j] + (entering - leaving);
            entering = leaving;
        }
    }

    /// What passes a node hangs on the area there, which is frozen over a step. Waves on the area would grow from step to step by
    /// what that leaves out unless capillarity, which the step treats implicitly, flattens them first. Where it does not, the
    /// change that the step made is carried on implicitly,
    ///   delta v_j = g_j - g_(j+1),   g_i = w_i pi (1 - theta_i) u_i dt (change of A_(i-1) + delta A_(i-1)),
    /// with the area upstream, from the nozzle on. It keeps the volume to round-off, is of second order in the step and nothing
    /// where the shape stays. With C = (1 - theta) u dt/d cells passed in a step, the prediction has p = (1 - C^2)^2 (0 from C = 1
    /// on) of the half step by which the areas are late, so that (1 - p)/2 of the change is missing: together the two are of second
    /// order, and a wave of angle t from cell to cell grows in a step by
    ///   |G|^2 - 1 = C^2 sin^2 t (1 - 2 w - p (1 + w C (1 - cos t)) + p^2 C^2 sin^2 t/4)/|1 + w C (1 - e^(-i t))|^2,
    /// which without w is a growth at any C (a viscous thread that feeds a bulb from a fast nozzle took steps of a hundredth of a
    /// cell). w = max((1 - p)/2, 1 - 1/C^2) P^2/(1 + P^2), with P the rate of passing, u/d, over the slower of the viscous and the
    /// inertial rate at which a wave of four cells flattens, k^2 r/(6 Oh + 2 mu_o (c_E + D/(r k)^2) + (2 r)^1/2), k = pi/(2 d) (the
    /// long-wave dispersion relation for k r large, the outer liquid's normal stress and drag in the resistance beside 3 Oh).
    ///
    /// It is part of every stage, not of the state that a step accepts alone: a force at volumes that are off by what is carried on
    /// afterwards lags behind by the whole step (with every weight at its largest the `coflow` example's first drop was 0.9 % too large,
    /// a drop of two thousand cells passed in a step left 7.6 % of its energy open; in the stages 0.2 and 0.2 %). A step whose mesh lets
    /// liquid through stays of first order (a growing drop's length is off by 2e-5 where a cell passes in one, by half of that in half steps).
    pub fn settle(&self, body: &Body, z: &[f64], v: &mut [f64]) {
        let mut entering = 0.0;
        for (j, weight) in self.weights.iter().enumerate() {
            let (before, now) = (body.z[j + 1] - body.z[j], z[j + 1] - z[j]);
            let change = v[j] / now - body.v[j] / before;
            v[j] += settled(change, *weight, now, &mut entering);
        }
    }

    /// The weights of [`Follow::settle`] in a step of length `dt`, from the state at its start; none where no liquid passes. `outer` is
    /// the part of the outer liquid in the resistance of each cell, nothing in a gas.
    pub fn weigh(&mut self, body: &Body, u: &[f64], (dt, ohnesorge): (f64, f64), outer: &[f64]) {
        self.weights.clear();
        if !self.flowing {
            return;
        }
        let (n, moves) = (body.cells(), &self.moves);
        self.weights.extend((0..n).map(|j| {
            let (d, area) = body.cell(j);
            let speed = if j + 1 < n && u[j + 1] > 0.0 { (1.0 - moves[j + 2]) * u[j + 1] } else { 0.0 };
            let cells = speed * dt / d;
            if cells > 0.0 {
                let (radius, k) = (area.sqrt(), 0.5 * PI / d);
                let resistance = 6.0 * ohnesorge + 2.0 * outer.get(j).copied().unwrap_or(0.0) + (2.0 * radius).sqrt();
                let outrun = speed / d * resistance / (k * k * radius);
                let (late, damped) = (0.5 * (1.0 - predicted(cells)), 1.0 - 1.0 / (cells * cells));
                late.max(damped) * outrun * outrun / (1.0 + outrun * outrun) * speed * dt
            } else {
                0.0
            }
        }));
    }

    /// Largest relative change of a cell's squared radius by the error `k` of q: what an error puts into a cell is carried on as the change
    /// of a step is ([`Follow::settle`]). `None` if nodes have crossed or a cell is empty.
    pub fn largest_error(&self, body: &Body, z: &[f64], v: &[f64], k: &[f64]) -> Option<f64> {
        let (moves, passes) = (&self.moves[1..], &self.passes[1..]);
        let (mut largest, mut entering) = (0.0, 0.0);
        for (j, weight) in self.weights.iter().enumerate() {
            let (before, now) = (body.z[j + 1] - body.z[j], z[j + 1] - z[j]);
            let (least, emptiest) = (before.min(now), body.v[j].min(v[j]));
            if !(least > 0.0 && emptiest > 0.0) {
                return None;
            }
            let stretched = (moves[j + 1] * k[j + 1] - moves[j] * k[j]) / least;
            let change = passes[j] * k[j] - passes[j + 1] * k[j + 1] - emptiest * stretched;
            // what a surface carries is not settled with the volume
            let weight = if body.load.amount.is_empty() { *weight } else { 0.0 };
            let left = change + settled(change / now, weight, now, &mut entering);
            largest = f64::max(largest, left.abs() / emptiest);
        }
        Some(largest)
    }

    /// Places of the nodes after the liquid has gone `q`.
    pub fn places(&self, body: &Body, q: &[f64], z: &mut [f64]) {
        let n = body.cells();
        let (z, start, q, moves) = (&mut z[..=n], &body.z[..=n], &q[..=n], &self.moves[1..n + 2]);
        for i in 0..=n {
            z[i] = start[i] + moves[i] * q[i];
        }
    }
}

/// delta of a cell's volume: with g = weight (change + delta/now) it is what enters less g, and g enters the next.
fn settled(change: f64, weight: f64, now: f64, entering: &mut f64) -> f64 {
    let delta = (*entering - weight * change) / (1.0 + weight / now);
    *entering = weight * (change + delta / now);
    delta
}

/// Share of the change over half a step that is predicted where the liquid passes `cells` cells in a step.
fn predicted(cells: f64) -> f64 {
    let fade = 1.0 - cells * cells;
    if fade > 0.0 { fade * fade } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bulb on a thread, its volumes off by `wave` times a wave of two cells, and the liquid passing it at `u`.
    fn settled(wave: f64, u: f64, ohnesorge: f64, outer: &[f64]) -> (Body, Vec<f64>, Vec<f64>) {
        let z: Vec<f64> = (0..=40).map(|i| f64::from(i) / 8.0).collect();
        let body = Body::from_profile(z, End::Nozzle, End::Tip, |z| 1.0 + 0.1 * z, |_| 1.0);
        let mut follow = Follow { moves: vec![0.0; 43], flowing: true, ..Follow::default() };
        follow.moves[42] = 1.0;
        let off = |(j, v): (usize, &f64)| v * (1.0 + if j % 2 == 0 { wave } else { -wave });
        let start: Vec<f64> = body.v.iter().enumerate().map(off).collect();
        let mut v = start.clone();
        follow.weigh(&body, &[u; 41], (1.0, ohnesorge), outer);
        follow.settle(&body, &body.z, &mut v);
        (body, start, v)
    }

    #[test]
    fn settling_keeps_the_volume_and_leaves_a_shape_that_stays() {
        let (_, start, same) = settled(0.0, 5.0, 10.0, &[]);
        assert_eq!(start, same);
        let (body, start, v) = settled(0.1, 5.0, 10.0, &[]);
        approx::assert_relative_eq!(v.iter().sum::<f64>(), start.iter().sum::<f64>(), max_relative = 1e-14);
        // forty cells passed in the step: nearly all of the wave is gone with the liquid
        let left = |v: &[f64]| v.iter().zip(&body.v).map(|(v, v0)| (v / v0 - 1.0).abs()).fold(0.0, f64::max);
        assert!(left(&v[..39]) < 0.02 && left(&start) > 0.09, "{}", left(&v[..39]));
    }

    #[test]
    fn capillarity_that_flattens_waves_is_left_to_itself() {
        let (_, start, v) = settled(0.1, 1.0, 0.01, &[]);
        let moved = v.iter().zip(&start).map(|(a, b)| (a / b - 1.0).abs()).fold(0.0, f64::max);
        let (_, start, slow) = settled(0.1, 0.1, 10.0, &[]);
        assert!(moved < 0.02, "{moved}");
        let little = slow.iter().zip(&start).map(|(a, b)| (a / b - 1.0).abs()).fold(0.0, f64::max);
        assert!(little < 0.01, "a tenth of the liquid's way of the case before: {little}");
        // an outer liquid that resists as an inner one does leaves a wave as that one leaves it
        let (_, _, alone) = settled(0.1, 1.0, 2.0, &[]);
        let (_, _, both) = settled(0.1, 1.0, 0.5, &[4.5; 40]);
        assert_eq!(alone, both);
    }

    // A thread wider than its tip that necks far from it is followed to where it is widest before the neck; one that necks at its tip, not.
    #[test]
    fn what_stands_before_a_neck_is_followed() {
        let thread = |area: fn(f64) -> f64| {
            let z = (0..=200).map(|i| 0.1 * f64::from(i)).collect();
            Body::from_profile(z, End::Nozzle, End::Tip, area, |_| 1.0)
        };
        let far = thread(|z| if z < 10.0 { 1.0 + z } else { (11.0 - 5.0 * (z - 10.0)).max(0.1) + (z - 15.0).max(0.0) });
        assert_eq!(follows_to(&far, 0.6), Some(f64::INFINITY));
        assert!(follows_to(&far, 0.3).is_some_and(|to| (to - 9.9).abs() < 0.11));
        let near = thread(|z| if z < 1.0 { 1.0 - 0.9 * z } else { 0.1 + 3.0 * (z - 1.0) });
        assert_eq!(follows_to(&near, 0.3), None);
        let mut follow = Follow::default();
        let body = Body { follows: true, follows_to: 9.9, ..far };
        let ghosts = |inner: Vec<f64>| [vec![0.0], inner, vec![0.0]].concat();
        let d = ghosts(vec![0.1; 200]);
        let a = ghosts((0..200).map(|j| body.area(j)).collect());
        follow.set(&body, &body.u, &d, &a, 0.01);
        // nodes go in proportion to their way from the tip up to there, and with the liquid beyond
        assert!(follow.flowing && (follow.moves[51] - 50.0 / 99.0).abs() < 0.02);
        assert!(
            follow.moves[102..=201].iter().all(|m| *m == 1.0) && follow.passes[102..=201].iter().all(|f| *f == 0.0)
        );
    }

    // A wave on an even thread that nothing flattens goes with the liquid: at any number of cells passed in a step it must not grow
    // (what the sudden ends of the train overshoot apart; without `settle` it would by exp(4.4) at half a cell a step).
    #[test]
    fn a_wave_that_is_carried_along_does_not_grow() {
        let (n, d) = (200, 0.1);
        for cells in [0.1, 0.3, 0.5, 0.7, 0.9, 1.0, 1.2, 1.5, 3.0] {
            for wave in [4.0, 8.0, 20.0] {
                let (u, dt) = (1.0, cells * d);
                let z: Vec<f64> = (0..=n).map(|i| d * f64::from(i)).collect();
                let mut body = Body::from_profile(z, End::Nozzle, End::Tip, |_| 1.0, |_| u);
                body.follows = true;
                for (j, v) in body.v.iter_mut().enumerate().skip(20).take(60) {
                    *v *= 1.0 + 1e-3 * (2.0 * PI * j as f64 / wave).sin();
                }
                let largest =
                    |body: &Body| body.v[..150].iter().map(|v| (v / (PI * d) - 1.0).abs()).fold(0.0, f64::max);
                let (before, mut follow, mut v) = (largest(&body), Follow::default(), Vec::new());
                for _ in 0..(4.0 / dt) as usize {
                    let d = [0.0].into_iter().chain((0..200).map(|_| d)).chain([0.0]).collect::<Vec<_>>();
                    let a: Vec<f64> = (0..202)
                        .map(|j| if j == 201 { 0.0 } else { body.v.get(j.max(1) - 1).map_or(1.0, |v| v / (PI * 0.1)) })
                        .collect();
                    follow.set(&body, &body.u, &d, &a, dt);
                    // the nodes stand still: all of the liquid passes
                    follow.moves[2..=200].fill(0.0);
                    for i in 1..200 {
                        follow.passes[i + 1] = PI * 0.5 * (a[i] + a[i + 1]);
                    }
                    follow.predict(&body.u, &d, &a, dt);
                    follow.volumes(&body, &vec![u * dt; 201], PI * u * dt, &mut v);
                    follow.weigh(&body, &body.u, (dt, 1e6), &[]);
                    follow.settle(&body, &body.z, &mut v);
                    body.v.clone_from(&v);
                }
                let after = largest(&body);
                assert!(after < 1.5 * before, "{cells} cells a step, wave of {wave}: {before} to {after}");
            }
        }
    }
}
