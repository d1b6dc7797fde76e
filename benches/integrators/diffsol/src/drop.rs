//! The dripping drop: the equations, segments and meshes of ../drop.py.

use crate::banded::Banded;
use crate::leg::{Method, integrate};
use crate::mesh::remade;
use crate::neck::{passing, refined};
use crate::real::Real;
use crate::spline::spline;
use crate::{Answer, STOP};

pub const OHNESORGE: f64 = 0.1;
const BOND: f64 = 0.5;
const WEBER: f64 = 1e-3;
const GROWTH: f64 = 0.10;
const THINNING: f64 = 0.78;
const THINNING_FROM: f64 = 0.75;
const SEGMENTS_MAX: usize = 400;

struct Drop {
    began: f64,
    inflow: f64,
    v0: Vec<f64>,
    dv: Vec<f64>,
    mu: Vec<f64>,
}

impl Banded for Drop {
    const BELOW: usize = 7;
    const ABOVE: usize = 3;
    type Work<R: Real> = Vec<R>;

    fn work<R: Real>(&self) -> Vec<R> {
        vec![R::from(0.0); 7 * (self.v0.len() + 1)]
    }

    fn rate<R: Real>(&self, now: f64, y: &[R], yp: &mut [R], work: &mut Vec<R>) {
        let n = self.v0.len();
        let (dt, one) = (now - self.began, R::from(1.0));
        let volume = |i: usize| self.v0[i] + dt * self.dv[i];
        let mut rooms = work.chunks_exact_mut(n + 1);
        let mut room = || rooms.next().expect("seven rooms");
        let (d, an, ap, s, p, t, u) = (room(), room(), room(), room(), room(), room(), room());
        u[0] = R::from(self.inflow);
        for i in 0..n {
            d[i] = R::from(volume(i)) / y[2 * i];
            u[i + 1] = y[2 * i + 1];
        }
        // slope at the nozzle, where a = 1, by a parabola through two cell averages
        let slope = |d1: R, d2: R, a1: R, a2: R| {
            let e = d1 + d2;
            let (b11, b12) = (d1 * 0.5, d1 * d1 * (1.0 / 3.0));
            let (b21, b22) = (d1 + d2 * 0.5, (e * e * e - d1 * d1 * d1) / (d2 * 3.0));
            (a1 * b22 - a2 * b12) / (b11 * b22 - b12 * b21)
        };
        an[0] = one;
        ap[0] = slope(d[0], d[1], y[0] + -1.0, y[2] + -1.0);
        for j in 1..n {
            let g = one / (d[j - 1] + d[j]);
            an[j] = (y[2 * j - 2] * d[j] + y[2 * j] * d[j - 1]) * g;
            ap[j] = (y[2 * j] - y[2 * j - 2]) * g * 2.0;
        }
        // the same at the tip, where a = 0
        an[n] = R::from(0.0);
        ap[n] = -slope(d[n - 1], d[n - 2], y[2 * n - 2], y[2 * n - 4]);
        for j in 0..n {
            s[j] = ap[j] * 0.5 / (an[j] + ap[j] * ap[j] * 0.25).sqrt();
        }
        s[n] = R::from(-1.0);
        for i in 0..n {
            let (q, inv) = ((ap[i] + ap[i + 1]) * 0.25, one / d[i]);
            p[i] = one / (y[2 * i] + q * q).sqrt() - (s[i + 1] - s[i]) * inv;
            t[i] = y[2 * i] * (u[i + 1] - u[i]) * inv * (3.0 * OHNESORGE);
        }
        for i in 0..n {
            let through = |j: usize| R::from(self.mu[j]) / an[j];
            let below = if i + 1 < n { through(i + 1) } else { R::from(0.0) };
            let stretch = y[2 * i] * (below - through(i) - (u[i + 1] - u[i]));
            yp[2 * i] = (stretch + self.dv[i]) / d[i];
        }
        for j in 1..n {
            let g = one / (d[j - 1] + d[j]);
            let uz = (u[j + 1] - u[j - 1]) * g;
            let viscous = (t[j] - t[j - 1]) * (2.0 / (volume(j - 1) + volume(j)));
            yp[2 * j - 1] = viscous - (p[j] - p[j - 1]) * g * 2.0 - uz / an[j] * self.mu[j] + BOND;
        }
        let q = (ap[n - 1] + ap[n]) * 0.25;
        let a = y[2 * n - 2];
        let tension = a * (R::from(2.0) / (a + q * q).sqrt() - p[n - 1]);
        yp[2 * n - 1] = (tension + t[n - 1]) * (-4.0 / volume(n - 1)) + BOND;
    }
}

/// Index of the thinnest cell above the bulge, searching from the tip; none without a bulge.
fn find_neck(n: usize, a: impl Fn(usize) -> f64) -> Option<usize> {
    let (mut most, mut bulge, mut found) = (a(n - 1), n - 1, false);
    for i in (0..n).rev() {
        if a(i) > most {
            (most, bulge) = (a(i), i);
        } else if a(i) < 0.98 * most {
            found = true;
            break;
        }
    }
    // the last of equal ones, as in the loop from the bulge upwards
    found.then(|| (0..=bulge).rev().fold(bulge, |least, i| if a(i) < a(least) { i } else { least }))
}

/// State on a mesh: nodes, volume (over pi) beyond each, velocities.
struct Shape {
    z: Vec<f64>,
    m: Vec<f64>,
    u: Vec<f64>,
}

impl Shape {
    fn start(res: f64, inflow: f64) -> Shape {
        let cap = |z: f64| z - z * z * z / 3.0;
        let z: Vec<f64> = (0..=400).map(|i| f64::from(i) / 400.0).collect();
        let a: Vec<f64> = z.windows(2).map(|w| (cap(w[1]) - cap(w[0])) / (w[1] - w[0])).collect();
        let z = remade(&z, &a, res);
        let mut m: Vec<f64> = z.iter().map(|&z| 2.0 / 3.0 - cap(z)).collect();
        m[z.len() - 1] = 0.0;
        Shape { u: vec![inflow; z.len()], z, m }
    }

    fn remeshed(self, v: &[f64], res: f64, inflow: f64) -> Result<Shape, String> {
        let a: Vec<f64> = self.z.windows(2).zip(v).map(|(w, v)| v / (w[1] - w[0])).collect();
        let z = remade(&self.z, &a, res);
        let (mut m, mut u) = (spline(&self.z, &self.m, &z), spline(&self.z, &self.u, &z));
        let last = m.len() - 1;
        (m[0], m[last], u[0]) = (self.m[0], 0.0, inflow);
        if m.windows(2).any(|w| w[1] >= w[0]) {
            return Err("a new mesh has a cell of negative volume".into());
        }
        Ok(Shape { z, m, u })
    }
}

pub fn run(method: Method, res: f64, rtol: f64) -> Result<Answer, String> {
    let inflow = WEBER.sqrt();
    let mut shape = Shape::start(res, inflow);
    let mut answer = Answer { time: 0.0, steps: 0, cells: 0, evaluations: 0 };
    for _ in 0..SEGMENTS_MAX {
        let n = shape.z.len() - 1;
        answer.cells = answer.cells.max(n);
        let m = &shape.m;
        let v0: Vec<f64> = m.windows(2).map(|w| w[0] - w[1]).collect();
        let a: Vec<f64> = shape.z.windows(2).zip(&v0).map(|(w, v)| v / (w[1] - w[0])).collect();
        let (mut closed, mut neck) = (0.0, 1.0);
        if let Some(least) = find_neck(n, |i| a[i]) {
            neck = a[least].sqrt();
            if neck < 0.8 {
                let half = 0.5 * shape.z[least];
                let k = shape.z.partition_point(|z| *z < half).max(1);
                let share = (half - shape.z[k - 1]) / (shape.z[k] - shape.z[k - 1]);
                closed = m[k - 1] + share * (m[k] - m[k - 1]);
            }
        }
        let mu: Vec<f64> = m.iter().map(|m| inflow * ((m - closed) / (shape.m[0] - closed)).max(0.0).powi(2)).collect();
        let dv: Vec<f64> = mu.windows(2).map(|w| w[0] - w[1]).collect();
        let mut y0 = vec![0.0; 2 * n];
        for i in 0..n {
            (y0[2 * i], y0[2 * i + 1]) = (a[i], shape.u[i + 1]);
        }
        let began = answer.time;
        let level = (THINNING * neck).clamp(STOP, THINNING_FROM).powi(2);
        let end = began + (GROWTH * m[0].max(0.7)).min(0.25 * (m[0] - closed)) / inflow;
        let event = |y: &[f64]| find_neck(n, |i| y[2 * i]).map_or(1.0, |least| y[2 * least]) - level;
        let system = Drop { began, inflow, v0, dv, mu };
        let (leg, system) = integrate(method, system, event, [began, end], y0, rtol)?;
        answer.steps += leg.steps;
        answer.evaluations += leg.evaluations;
        let volume = |t: f64, i: usize| system.v0[i] + (t - began) * system.dv[i];
        if leg.stopped && level <= STOP * STOP {
            let seen: Vec<(f64, f64)> = leg
                .last
                .iter()
                .filter_map(|(t, y)| {
                    let least = find_neck(n, |i| y[2 * i])?;
                    Some((*t, refined(|i| y[2 * i], |i| volume(*t, i) / y[2 * i], n, least)))
                })
                .collect();
            answer.time = passing(&seen, STOP * STOP);
            return Ok(answer);
        }
        let (t, y) = leg.last.last().ok_or("no step")?;
        answer.time = *t;
        let v: Vec<f64> = (0..n).map(|i| volume(*t, i)).collect();
        let (mut z, mut m, mut u) = (vec![0.0; n + 1], vec![0.0; n + 1], vec![inflow; n + 1]);
        for i in 0..n {
            z[i + 1] = z[i] + v[i] / y[2 * i];
            u[i + 1] = y[2 * i + 1];
        }
        for i in (0..n).rev() {
            m[i] = m[i + 1] + v[i];
        }
        shape = Shape { z, m, u }.remeshed(&v, res, inflow)?;
    }
    Err(format!("no neck of {STOP} after {SEGMENTS_MAX} meshes"))
}
