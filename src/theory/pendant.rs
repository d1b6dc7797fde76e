//! Static drop that hangs from the edge of a nozzle.
//!
//! Equation (lengths in the nozzle radius, s along the profile from the apex, z upwards):
//! `dr/ds = cos p`, `dz/ds = sin p`, `dp/ds = 2 b - Bo z - sin p/r`, `dV/ds = pi r^2 sin p`; the profile ends on r = 1.
//!
//! Symbols: b apex curvature, p angle of the surface to the horizontal, Bo = drho g R^2/gamma, V volume over R^3.
//!
//! Source: Young 1805, Laplace 1806; Bashforth & Adams 1883; stability by the greatest volume of the family that starts at
//! V = 0: Padday & Pitt 1973, Phil. Trans. R. Soc. Lond. A 275, 489.
//!
//! Holds for: axisymmetric drop pinned at a round edge, Bo from 1e-4 to about 10. The family is followed by the length of its
//! profile, which grows all the way to the greatest volume.

use super::roots;
use crate::math::Pinned as _;
use nalgebra::SVector;
use std::f64::consts::PI;

/// r, z, p, V and the first three's slopes with respect to b.
type State = SVector<f64, 7>;

/// Step along the profile, over the nozzle radius; at least a few hundred steps.
const STEP: f64 = 2e-3;
/// The same where a family is only followed, not reported: fourth order keeps it within 1e-7.
const STEP_COARSE: f64 = 0.015;
const STEPS_MIN: f64 = 150.0;
const NEWTON_LIMIT: usize = 40;
const FAMILY_LIMIT: usize = 4000;

/// One hanging drop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pendant {
    pub bond: f64,
    /// b = R/R_apex.
    pub apex_curvature: f64,
    /// Length of the profile from apex to edge.
    pub arc: f64,
    /// V/R^3.
    pub volume: f64,
    /// Apex to nozzle plane.
    pub height: f64,
    /// Angle of the surface to the horizontal at the nozzle, rad.
    pub angle: f64,
    /// Widest radius.
    pub radius_max: f64,
}

impl Pendant {
    /// The drop whose profile is `arc` long, near apex curvature `guess`.
    fn of_arc(bond: f64, arc: f64, guess: f64) -> Option<Pendant> {
        Pendant::stepped(bond, arc, guess, STEP)
    }

    fn stepped(bond: f64, arc: f64, guess: f64, step: f64) -> Option<Pendant> {
        let mut b = guess;
        for _ in 0..NEWTON_LIMIT {
            let (end, radius_max) = integrate(bond, b, arc, step, |_| {});
            let change = (end[0] - 1.0) / end[4];
            if !change.is_finite() {
                return None;
            }
            // A nearly flat drop hardly feels its curvature: there the edge itself is met to round-off.
            if change.abs() <= 1e-12 * b.abs() || (end[0] - 1.0).abs() <= 4e-15 * arc {
                return Some(Pendant {
                    bond,
                    apex_curvature: b,
                    arc,
                    volume: end[3],
                    height: end[1],
                    angle: end[2],
                    radius_max,
                });
            }
            b -= change.clamp(-0.2 * b.abs().max(0.1), 0.2 * b.abs().max(0.1));
        }
        None
    }

    /// Profile (r, z) from apex to edge.
    pub fn profile(&self) -> Vec<(f64, f64)> {
        let mut points = vec![(0.0, 0.0)];
        integrate(self.bond, self.apex_curvature, self.arc, STEP, |y| points.push((y[0], y[1])));
        points
    }
}

/// The family of drops at one Bond number, from empty to greatest volume and a little beyond.
fn family(bond: f64) -> Vec<Pendant> {
    let mut drops: Vec<Pendant> = Vec::new();
    // Nearly flat: r = s - b^2 s^3/6 = 1.
    let (mut arc, mut step) = (1.0f64 + 1e-5, 1e-5f64);
    let mut guess = (6.0 * (arc - 1.0)).sqrt();
    for _ in 0..FAMILY_LIMIT {
        let found = Pendant::stepped(bond, arc, guess, STEP_COARSE).filter(|drop| {
            drops.last().is_none_or(|last| {
                (drop.apex_curvature - last.apex_curvature).abs() < 0.1 * (0.05 + last.apex_curvature)
            })
        });
        match found {
            Some(drop) => {
                let fell = drops.last().is_some_and(|last| drop.volume < last.volume);
                drops.push(drop);
                if fell {
                    break;
                }
                step = (1.4 * step).min(0.04 * arc);
            }
            None => {
                arc -= step;
                step *= 0.3;
                if step < 1e-9 {
                    break;
                }
            }
        }
        arc += step;
        guess = ahead(&drops, arc).unwrap_or(guess);
    }
    drops
}

/// Curvature expected at `arc`, by the parabola through the last three drops (line through two, value of one).
fn ahead(drops: &[Pendant], arc: f64) -> Option<f64> {
    let last = &drops[drops.len().saturating_sub(3)..];
    let term = |i: usize| {
        let others = (0..last.len()).filter(|&j| j != i);
        last[i].apex_curvature * others.map(|j| (arc - last[j].arc) / (last[i].arc - last[j].arc)).product::<f64>()
    };
    (!last.is_empty()).then(|| (0..last.len()).map(term).sum())
}

/// The drop of greatest volume: beyond it none is stable.
pub fn greatest(bond: f64) -> Option<Pendant> {
    greatest_of(&family(bond))
}

fn greatest_of(drops: &[Pendant]) -> Option<Pendant> {
    let top = drops.iter().enumerate().max_by(|a, b| a.1.volume.total_cmp(&b.1.volume))?.0;
    let (low, high) = (drops.get(top.checked_sub(1)?)?, drops.get(top + 1)?);
    let (bond, guess) = (low.bond, drops[top].apex_curvature);
    let volume = |arc: f64| Pendant::of_arc(bond, arc, guess).map_or(f64::NAN, |drop| drop.volume);
    Pendant::of_arc(bond, roots::golden_section(volume, low.arc, high.arc, 1e-8), guess)
}

/// The stable drop of a given volume; `None` beyond the greatest.
pub fn of_volume(bond: f64, volume: f64) -> Option<Pendant> {
    let mut drops = family(bond);
    let greatest = greatest_of(&drops)?;
    if volume.is_nan() || volume <= 0.0 || volume > greatest.volume {
        return None;
    }
    drops.retain(|drop| drop.arc < greatest.arc);
    let after = drops.partition_point(|drop| drop.volume < volume);
    let above = drops.get(after).copied().unwrap_or(greatest);
    // The family is followed in coarser steps: brackets get that much room.
    let low = if after == 0 { 1.0 + 1e-12 } else { drops[after - 1].arc * (1.0 - 1e-6) };
    let high = (above.arc * (1.0 + 1e-6)).min(greatest.arc);
    let guess = above.apex_curvature;
    let miss = |arc: f64| Pendant::of_arc(bond, arc, guess).map_or(f64::NAN, |drop| drop.volume - volume);
    Pendant::of_arc(bond, roots::bracketed(miss, low, high)?, guess)
}

/// Fourth-order Runge-Kutta from the apex; the state at the end and the widest radius on the way.
fn integrate(bond: f64, b: f64, arc: f64, step: f64, mut visit: impl FnMut(&State)) -> (State, f64) {
    let steps = (arc / step).ceil().max(STEPS_MIN * STEP_COARSE / step);
    let step = arc / steps;
    let mut y = State::zeros();
    let mut widest = Widest::default();
    for _ in 0..steps as usize {
        let k1 = slopes(bond, b, &y);
        let k2 = slopes(bond, b, &(y + k1 * (0.5 * step)));
        let k3 = slopes(bond, b, &(y + k2 * (0.5 * step)));
        let k4 = slopes(bond, b, &(y + k3 * step));
        y += (k1 + (k2 + k3) * 2.0 + k4) * (step / 6.0);
        widest.pass(y[0]);
        visit(&y);
    }
    (y, widest.radius())
}

fn slopes(bond: f64, b: f64, y: &State) -> State {
    let (sine, cosine) = y[2].sine_and_cosine();
    // On the axis sin p/r is b, and its slope in b is 1.
    let (hoop, hoop_b) = if y[0] > 0.0 { (sine / y[0], (cosine * y[6] - sine / y[0] * y[4]) / y[0]) } else { (b, 1.0) };
    State::from([
        cosine,
        sine,
        2.0 * b - bond * y[1] - hoop,
        PI * y[0] * y[0] * sine,
        -sine * y[6],
        cosine * y[6],
        2.0 - bond * y[5] - hoop_b,
    ])
}

/// Largest of a sequence of radii, by the parabola through the three about it.
#[derive(Default)]
struct Widest {
    last: [f64; 2],
    found: f64,
}

impl Widest {
    fn pass(&mut self, r: f64) {
        let [a, b] = self.last;
        if b >= a && b > r {
            let bend = a - 2.0 * b + r;
            self.found = self.found.max(b - (r - a) * (r - a) / (8.0 * bend));
        }
        self.last = [b, r];
    }

    fn radius(&self) -> f64 {
        self.found.max(self.last[1])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn theory_every_volume_up_to_the_greatest_has_its_drop() {
        let greatest = greatest(0.5).expect("a greatest volume");
        for share in [0.01, 0.5, 0.99, 0.999_9] {
            let drop = of_volume(0.5, share * greatest.volume).expect("a drop");
            assert_relative_eq!(drop.volume, share * greatest.volume, max_relative = 1e-9);
            // Force balance: weight = tension at the rim less pressure there.
            let pressure = 2.0 * drop.apex_curvature - 0.5 * drop.height;
            assert_relative_eq!(0.5 * drop.volume, 2.0 * PI * drop.angle.sin() - PI * pressure, max_relative = 1e-8);
        }
        assert_eq!(of_volume(0.5, 1.001 * greatest.volume), None);
        assert_eq!(of_volume(0.5, f64::NAN), None);
    }
}
