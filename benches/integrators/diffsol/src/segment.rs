//! Half a wave between two mirrors: the equations, mesh and states of ../segment.py.

use crate::banded::Banded;
use crate::leg::{Method, integrate};
use crate::neck::{passing, refined};
use crate::real::Real;
use crate::{Answer, STOP};
use std::f64::consts::PI;

const WAVENUMBER: f64 = 0.7;
const OHNESORGE: f64 = 0.1;
const AMPLITUDE: f64 = 0.01;
/// Place of the pinch and half width of the finely meshed stretch of a graded mesh.
const PINCH: f64 = 2.07;
const WIDTH: f64 = 0.2;
const RATIO: f64 = 12.0;

struct Segment {
    inv_d: Vec<f64>,
    inv_between: Vec<f64>,
    left_weight: Vec<f64>,
}

impl Banded for Segment {
    const BELOW: usize = 3;
    const ABOVE: usize = 3;
    type Work<R: Real> = [Vec<R>; 6];

    fn work<R: Real>(&self) -> [Vec<R>; 6] {
        std::array::from_fn(|_| vec![R::from(0.0); self.inv_d.len() + 1])
    }

    fn rate<R: Real>(&self, _t: f64, y: &[R], yp: &mut [R], [h, s, hp, p, t, u]: &mut [Vec<R>; 6]) {
        let n = self.inv_d.len();
        let zero = R::from(0.0);
        for i in 0..n {
            h[i] = y[2 * i].sqrt();
        }
        for end in [0, n] {
            (u[end], hp[end], s[end]) = (zero, zero, zero);
        }
        for j in 1..n {
            u[j] = y[2 * j - 1];
            let slope = (h[j] - h[j - 1]) * self.inv_between[j];
            hp[j] = slope;
            s[j] = slope / (slope * slope + 1.0).sqrt();
        }
        for i in 0..n {
            let q = (hp[i] + hp[i + 1]) * 0.5;
            p[i] = R::from(1.0) / (h[i] * (q * q + 1.0).sqrt()) - (s[i + 1] - s[i]) * self.inv_d[i];
            t[i] = y[2 * i] * (u[i + 1] - u[i]) * (3.0 * OHNESORGE * self.inv_d[i]);
        }
        let mut flux = zero;
        for j in 1..n {
            let face = y[2 * j - 2] * self.left_weight[j] + y[2 * j] * (1.0 - self.left_weight[j]);
            let next = face * u[j];
            yp[2 * j - 2] = -(next - flux) * self.inv_d[j - 1];
            flux = next;
            let (right, left) = ((u[j] + u[j + 1]) * 0.5, (u[j] + u[j - 1]) * 0.5);
            let pull = -(right * right - left * left) * 0.5 - (p[j] - p[j - 1]) + (t[j] - t[j - 1]) / face;
            yp[2 * j - 1] = pull * self.inv_between[j];
        }
        yp[2 * n - 2] = flux * self.inv_d[n - 1];
    }
}

fn faces(n: usize, graded: bool) -> Vec<f64> {
    let length = PI / WAVENUMBER;
    if !graded {
        return (0..=n).map(|i| length * i as f64 / n as f64).collect();
    }
    let fine: Vec<f64> = (0..=20_000).map(|i| length * f64::from(i) / 2e4).collect();
    let density = |z: f64| {
        let size2 = 1.0 + ((z - PINCH) / WIDTH).powi(2);
        (1.0 / size2 + 1.0 / (RATIO * RATIO)).sqrt()
    };
    let mut c = vec![0.0; fine.len()];
    for i in 1..fine.len() {
        c[i] = c[i - 1] + 0.5 * (density(fine[i]) + density(fine[i - 1])) * (fine[i] - fine[i - 1]);
    }
    crate::mesh::evenly(&c, &fine, n)
}

pub fn run(method: Method, n: usize, rtol: f64, graded: bool) -> Result<Answer, String> {
    let z = faces(n, graded);
    let d: Vec<f64> = z.windows(2).map(|w| w[1] - w[0]).collect();
    let middle: Vec<f64> = z.windows(2).map(|w| 0.5 * (w[0] + w[1])).collect();
    let (mut between, mut left_weight) = (vec![1.0; n + 1], vec![0.0; n + 1]);
    for j in 1..n {
        between[j] = middle[j] - middle[j - 1];
        left_weight[j] = (middle[j] - z[j]) / between[j];
    }
    let (k, eps) = (WAVENUMBER, AMPLITUDE);
    let whole = |z: f64| z + 2.0 * eps * (k * z).sin() / k + eps * eps * (z / 2.0 + (2.0 * k * z).sin() / (4.0 * k));
    let mut y0 = vec![0.0; 2 * n - 1];
    for i in 0..n {
        y0[2 * i] = (whole(z[i + 1]) - whole(z[i])) / d[i];
    }
    let inverse = |x: &[f64]| x.iter().map(|x| 1.0 / x).collect();
    let system = Segment { inv_d: inverse(&d), inv_between: inverse(&between), left_weight };
    let thinnest = |y: &[f64]| (0..n).min_by(|&i, &j| y[2 * i].total_cmp(&y[2 * j])).unwrap_or(0);
    let event = |y: &[f64]| y[2 * thinnest(y)] - STOP * STOP;
    let (leg, _) = integrate(method, system, event, [0.0, f64::INFINITY], y0, rtol)?;
    if !leg.stopped {
        return Err(format!("no neck of {STOP}"));
    }
    let seen: Vec<(f64, f64)> =
        leg.last.iter().map(|(t, y)| (*t, refined(|i| y[2 * i], |i| d[i], n, thinnest(y)))).collect();
    let time = passing(&seen, STOP * STOP);
    Ok(Answer { time, steps: leg.steps, cells: n, evaluations: leg.evaluations })
}
