//! Jet in a passive gas: does a disturbance grow in place or is it swept away?
//!
//! Equation: with the exact relation D(s, x) = 0 of [`super::viscous_jet`] for a jet at rest, the response seen in the frame
//! of the nozzle has its saddle where `D = 0` and `dD/dx + i U dD/ds = 0` (s seen from the jet, complex x); the growth there
//! is Re(s - i x U). Absolute where it is positive.
//!
//! Symbols: U = sqrt(We), We = rho V^2 R/gamma, Oh = mu/sqrt(rho gamma R); Re = U/Oh.
//!
//! Source: Leib & Goldstein 1986, J. Fluid Mech. 168, 479 (inviscid) and Phys. Fluids 29, 952 (viscous); Huerre & Monkewitz
//! 1990, Annu. Rev. Fluid Mech. 22, 473.
//!
//! Holds for: uniform jet, no gas, no gravity.

use super::viscous_jet;
use nalgebra::Complex;

type Point = (Complex<f64>, Complex<f64>);

const NEWTON_LIMIT: usize = 25;
const STEPS_LIMIT: usize = 4000;
const BISECTIONS: usize = 45;
/// Velocities, in sqrt(gamma/(rho R)): no jet is absolutely unstable beyond 1.77.
const FASTEST: f64 = 20.0;
const LONGEST_STEP: f64 = 0.03;

/// Weber number below which a jet of this Ohnesorge number is absolutely unstable.
pub fn critical_weber(ohnesorge: f64) -> Option<f64> {
    let mut path = Path::start(ohnesorge)?;
    let mut before = path;
    let mut steps = 0;
    while path.growth() > 0.0 {
        before = path;
        path.advance()?;
        steps += 1;
        if steps > STEPS_LIMIT || path.velocity >= FASTEST {
            return None;
        }
    }
    // Bisection between two neighbouring points of the path cannot leave its branch.
    for _ in 0..BISECTIONS {
        let middle = before.moved(0.5 * (before.velocity + path.velocity))?;
        if middle.growth() > 0.0 { before = middle } else { path = middle }
    }
    Some(path.velocity * path.velocity)
}

#[derive(Debug, Clone, Copy)]
struct Path {
    ohnesorge: f64,
    velocity: f64,
    /// Next step of the velocity to try.
    step: f64,
    at: Point,
}

impl Path {
    /// At rest the saddle is the fastest mode, with real x.
    fn start(ohnesorge: f64) -> Option<Path> {
        let mode = viscous_jet::fastest(ohnesorge);
        let guess = (Complex::new(mode.rate, 0.0), Complex::new(mode.wavenumber, 0.0));
        Some(Path { ohnesorge, velocity: 0.0, step: 0.02 * mode.rate, at: newton(ohnesorge, 0.0, guess)? })
    }

    fn growth(&self) -> f64 {
        let (s, x) = self.at;
        s.re + x.im * self.velocity
    }

    /// One step towards faster flow, shorter where Newton's method fails or the saddle runs fast.
    fn advance(&mut self) -> Option<()> {
        while self.step > 1e-9 {
            match self.moved((self.velocity + self.step).min(FASTEST)) {
                Some(next) => {
                    *self = Path { step: (1.3 * self.step).min(LONGEST_STEP), ..next };
                    return Some(());
                }
                None => self.step *= 0.4,
            }
        }
        None
    }

    fn moved(&self, velocity: f64) -> Option<Path> {
        let at = newton(self.ohnesorge, velocity, self.at)?;
        let near = (at.1 - self.at.1).norm() < 0.05 * (0.02 + self.at.1.norm());
        near.then_some(Path { velocity, at, ..*self })
    }
}

/// Newton's method for (s, x); derivatives by central differences of the analytic residual.
fn newton(ohnesorge: f64, velocity: f64, start: Point) -> Option<Point> {
    let (mut s, mut x) = start;
    for _ in 0..NEWTON_LIMIT {
        let d = |s, x| viscous_jet::residual(ohnesorge, x, s);
        let (es, ex) = (s.norm() * 1e-4 + 1e-9, x.norm() * 1e-4);
        let value = d(s, x);
        let [plus_s, minus_s, plus_x, minus_x] = [d(s + es, x), d(s - es, x), d(s, x + ex), d(s, x - ex)];
        let (by_s, by_x) = ((plus_s - minus_s) / (2.0 * es), (plus_x - minus_x) / (2.0 * ex));
        let by_ss = (plus_s - value * 2.0 + minus_s) / (es * es);
        let by_xx = (plus_x - value * 2.0 + minus_x) / (ex * ex);
        let corners = d(s + es, x + ex) - d(s + es, x - ex) - d(s - es, x + ex) + d(s - es, x - ex);
        let mixed = corners / (4.0 * es * ex);
        let drift = Complex::new(0.0, velocity);
        let second = by_x + drift * by_s;
        let (second_s, second_x) = (mixed + drift * by_ss, by_xx + drift * mixed);
        let determinant = by_s * second_x - by_x * second_s;
        let step_s = (value * second_x - by_x * second) / determinant;
        let step_x = (by_s * second - second_s * value) / determinant;
        s -= step_s;
        x -= step_x;
        if !(s.re.is_finite() && s.im.is_finite() && x.re.is_finite() && x.im.is_finite()) {
            return None;
        }
        if step_x.norm() < 1e-9 * x.norm() && step_s.norm() < 1e-9 * s.norm() {
            return Some((s, x));
        }
    }
    None
}
