//! A drop that has just come off, on its way from its shape at the pinch-off to a sphere: for the eye only.
//!
//! The model follows a drop that will break no more as a sphere from its pinch-off on: an egg before, a ball at it. A
//! picture shows the shape that the thread had beyond the neck, and lets each of its modes swing and die out as linear theory has it:
//!   r(theta, t) = R [1 + sum_n b_n a_n(t) P_n(cos theta)],  a_n'' + 2 beta_n a_n' + w_n^2 a_n = 0
//!   w_n^2 = n (n+1) (n-1) (n+2) gamma / {[(n+1) rho_i + n rho_o] R^3},  2 beta_n = t_n w_n^2
//! with t_n the time of a viscous drop without inertia: t_2 = (19 l + 16)(2 l + 3) / [40 (l + 1)] mu_o R / gamma with l = mu_i/mu_o,
//! and t_n/t_2 as for a drop in a vacuum, where t_n is proportional to (2 n^2 + 4 n + 3) / [n (n+2) (2 n + 1)]. The volume is kept.
//! Symbols: R radius of the sphere, theta from the direction of flow, gamma tension, rho and mu of the drop (i) and around it (o).
//! Source: frequencies: Lamb, Hydrodynamics, 1932, article 275 (Rayleigh 1879 without an outer liquid), recalled from memory; t_2:
//! Rallison 1984, Annu. Rev. Fluid Mech. 16, 45, recalled from memory; that one oscillator joins both limits is ours.
//! Holds for: small departures from the sphere; nothing but drawings uses it, and their notes say so.

use crate::case::Case;
use crate::outcome::{BodyFrame, Frame, Moment, PinchOff};
use crate::record::Recorded;
use std::f64::consts::PI;

/// What the notes say.
pub const NOTE: &str = "a drop just off is drawn from its shape at the pinch-off, whose modes swing and die out by linear theory; \
    the model has it round at once";
/// Modes of a shape, and angles at which it is drawn.
const MODES: usize = 24;
const ANGLES: usize = 72;
/// Below this share of its start a shape is a sphere.
const ROUND: f64 = 4e-3;
/// A recorded sphere is one, and has its drop's radius, to this relative accuracy.
const EXACT: f64 = 1e-6;
/// Depth over the radius of a dimple that is drawn flat, and the least way from point to point along the axis.
const DIMPLE: f64 = 0.05;
const FLAT: f64 = 1e-5;
/// How often an outline that folds over is drawn closer to the sphere.
const CLOSER: usize = 6;

/// A drop with its shape at the pinch-off.
#[derive(Debug, Clone, PartialEq)]
struct JustOff {
    since: f64,
    radius: f64,
    /// r/R - 1 at even angles from the back to the front, without the part that the modes make.
    rest: Vec<f64>,
    modes: Vec<f64>,
}

/// The drops of a run that were egg-shaped when they came off.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rounding {
    drops: Vec<JustOff>,
    liquid: Option<Liquid>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Liquid {
    tension: f64,
    density: [f64; 2],
    viscosity: [f64; 2],
}

impl Liquid {
    fn of(case: &Case) -> Liquid {
        let outer = case.outer.as_ref();
        Liquid {
            tension: case.tension,
            density: [case.inner.density, outer.map_or(0.0, |o| o.density)],
            viscosity: [case.inner.viscosity, outer.map_or(0.0, |o| o.viscosity)],
        }
    }

    /// Share of mode n that is left after a time, for a drop of this radius.
    fn left(&self, n: usize, radius: f64, t: f64) -> f64 {
        let k = n as f64;
        let [inner, outer] = self.density;
        let square = k * (k + 1.0) * (k - 1.0) * (k + 2.0) * self.tension
            / (((k + 1.0) * inner + k * outer) * radius * radius * radius);
        let [mu, around] = self.viscosity;
        let second =
            (19.0 * mu + 16.0 * around) * (2.0 * mu + 3.0 * around) / (40.0 * (mu + around)) * radius / self.tension;
        let vacuum = |k: f64| (2.0 * k * k + 4.0 * k + 3.0) / (k * (k + 2.0) * (2.0 * k + 1.0));
        let beta = 0.5 * second * vacuum(k) / vacuum(2.0) * square;
        swing(beta, square, t)
    }
}

/// a'' + 2 beta a' + w^2 a = 0 from one, at rest.
fn swing(beta: f64, square: f64, t: f64) -> f64 {
    let d = square - beta * beta;
    if d > 0.0 {
        let w = d.sqrt();
        (-beta * t).exp() * ((w * t).cos() + beta / w * (w * t).sin())
    } else {
        let w = (-d).sqrt().max(1e-9 * beta);
        // the slow root without cancellation
        let (slow, fast) = (square / (beta + w), beta + w);
        (fast * (-slow * t).exp() - slow * (-fast * t).exp()) / (fast - slow)
    }
}

impl Rounding {
    pub fn of(run: &Recorded) -> Rounding {
        let drops = run.summary.drops.iter();
        let drops = drops.filter_map(|d| just_off(run, d.pinch?, d.volume_m3)).collect();
        Rounding { drops, liquid: Some(Liquid::of(&run.case)) }
    }

    /// A frame with the drops just off in their shapes, and whether there were any.
    pub fn shaped(&self, frame: &Frame) -> (Frame, bool) {
        let Some(liquid) = &self.liquid else { return (frame.clone(), false) };
        let mut shaped = frame.clone();
        let mut any = false;
        for body in shaped.bodies.iter_mut() {
            let Some((centre, radius)) = sphere(body) else { continue };
            let drop = self.drops.iter().rev().find(|d| d.since <= frame.time && alike(d.radius, radius));
            if let Some(outline) = drop.and_then(|d| d.outline(liquid, frame.time - d.since)) {
                let u = body.u[0];
                body.z = outline.iter().map(|(z, _)| centre + radius * z).collect();
                body.h = outline.iter().map(|(_, h)| radius * h).collect();
                body.u = vec![u; body.z.len()];
                any = true;
            }
        }
        (shaped, any)
    }
}

impl JustOff {
    /// The outline over R about the centre, back to front; none where it is a sphere.
    fn outline(&self, liquid: &Liquid, t: f64) -> Option<Vec<(f64, f64)>> {
        let left: Vec<f64> = (0..=MODES).map(|n| if n < 2 { 0.0 } else { liquid.left(n, self.radius, t) }).collect();
        if left.iter().all(|a| a.abs() < ROUND) {
            return None;
        }
        let departure: Vec<f64> = (0..=ANGLES)
            .map(|i| {
                let p = legendre(cosine_at(i));
                let modes: f64 = (2..=MODES).map(|n| self.modes[n] * left[n] * p[n]).sum();
                modes + self.rest[i] * left[MODES]
            })
            .collect();
        (0..CLOSER).find_map(|k| drawn(&departure, 0.5_f64.powi(k as i32)))
    }
}

/// An outline with the volume of the unit sphere; none where it folds over.
fn drawn(departure: &[f64], share: f64) -> Option<Vec<(f64, f64)>> {
    let radii: Vec<f64> = departure.iter().map(|d| 1.0 + share * d).collect();
    let scale = 1.0 / polar_volume(&radii).cbrt();
    let point = |(i, r): (usize, &f64)| {
        let (c, s) = (cosine_at(i), if i == 0 || i == ANGLES { 0.0 } else { sine_at(i) });
        (scale * r * c, scale * r * s)
    };
    let mut points: Vec<(f64, f64)> = radii.iter().enumerate().map(point).collect();
    let (mut front, mut deepest) = (f64::NEG_INFINITY, 0.0_f64);
    for (z, _) in &mut points {
        deepest = deepest.max(front - *z);
        // a radius over the axis cannot show a dimple: a flat place stands for a shallow one
        *z = z.max(front + FLAT);
        front = *z;
    }
    (radii.iter().all(|r| *r > 0.0) && deepest < DIMPLE).then_some(points)
}

/// Angle i of [`ANGLES`], from the back (pi) to the front (0).
fn angle(i: usize) -> f64 {
    PI * (1.0 - i as f64 / ANGLES as f64)
}

fn cosine_at(i: usize) -> f64 {
    angle(i).cos()
}

fn sine_at(i: usize) -> f64 {
    angle(i).sin()
}

/// Weight of an angle in the mean over the sphere.
fn weight(i: usize) -> f64 {
    let end = |i: f64| (PI * (i / ANGLES as f64).clamp(0.0, 1.0)).cos();
    0.5 * (end(i as f64 - 0.5) - end(i as f64 + 0.5))
}

/// Volume over that of the unit sphere.
fn polar_volume(radii: &[f64]) -> f64 {
    radii.iter().enumerate().map(|(i, r)| weight(i) * r.powi(3)).sum()
}

/// P_0 to P_MODES.
fn legendre(x: f64) -> [f64; MODES + 1] {
    let mut p = [1.0; MODES + 1];
    p[1] = x;
    for n in 2..=MODES {
        let k = n as f64;
        p[n] = ((2.0 * k - 1.0) * x * p[n - 1] - (k - 1.0) * p[n - 2]) / k;
    }
    p
}

/// Centre and radius of a body that is recorded as a sphere.
fn sphere(body: &BodyFrame) -> Option<(f64, f64)> {
    let last = body.z.len().checked_sub(1).filter(|n| !body.attached && *n > 2 && n % 2 == 0)?;
    let (centre, radius) = (0.5 * (body.z[0] + body.z[last]), 0.5 * (body.z[last] - body.z[0]));
    let on = |i: usize| alike((body.z[i] - centre).hypot(body.h[i]), radius);
    (radius > 0.0 && (0..=last).all(on)).then_some((centre, radius))
}

fn alike(a: f64, b: f64) -> bool {
    (a - b).abs() <= EXACT * b
}

/// A drop that was round at its pinch-off in the record, with the shape beyond the neck just before it.
fn just_off(run: &Recorded, pinch: usize, volume: f64) -> Option<JustOff> {
    let at = run.pinch_offs.get(pinch)?;
    let radius = (0.75 * volume / PI).cbrt();
    let of = |moment: Moment| run.frames.iter().rev().find(move |f| f.pinch == Some(pinch) && f.moment == moment);
    of(Moment::PinchOff)?.bodies.iter().filter_map(sphere).find(|(_, r)| alike(*r, radius))?;
    let whole = of(Moment::Approach)?.bodies.iter().find(|b| b.attached)?;
    let radii = polar(whole, at)?;
    let scale = 1.0 / polar_volume(&radii).cbrt();
    let departure: Vec<f64> = radii.iter().map(|r| scale * r - 1.0).collect();
    let mut modes = vec![0.0; MODES + 1];
    for (i, d) in departure.iter().enumerate() {
        let p = legendre(cosine_at(i));
        (0..=MODES).for_each(|n| modes[n] += (2.0 * n as f64 + 1.0) * weight(i) * d * p[n]);
    }
    let made = |i: usize| legendre(cosine_at(i)).iter().zip(&modes).skip(2).map(|(p, b)| p * b).sum::<f64>();
    let rest = departure.iter().enumerate().map(|(i, d)| d - made(i)).collect();
    Some(JustOff { since: at.time, radius, rest, modes })
}

/// Distance from the centre of volume to the surface beyond the neck, at each angle; none where a ray meets it more than once.
fn polar(whole: &BodyFrame, at: &PinchOff) -> Option<Vec<f64>> {
    let middle = whole.z.partition_point(|z| *z < at.position);
    // the thinnest node about the place: the neck itself
    let near = middle.saturating_sub(8)..(middle + 8).min(whole.z.len());
    let neck = near.min_by(|a, b| whole.h[*a].total_cmp(&whole.h[*b]))?;
    let mut points: Vec<(f64, f64)> = whole.z[neck..].iter().copied().zip(whole.h[neck..].iter().copied()).collect();
    points.first_mut()?.1 = 0.0;
    points.last_mut()?.1 = 0.0;
    let (mut volume, mut moment) = (0.0, 0.0);
    for w in points.windows(2) {
        let cell = (w[1].0 - w[0].0) * 0.5 * (w[0].1 * w[0].1 + w[1].1 * w[1].1);
        (volume, moment) = (volume + cell, moment + 0.5 * cell * (w[0].0 + w[1].0));
    }
    let centre = moment / volume;
    let seen: Vec<(f64, f64)> = points.iter().map(|(z, h)| (h.atan2(z - centre), (z - centre).hypot(*h))).collect();
    if seen.len() < 8 || seen.windows(2).any(|w| w[1].0 >= w[0].0) {
        return None;
    }
    let radius = |i: usize| {
        let a = angle(i);
        let after = seen.partition_point(|(b, _)| *b > a).clamp(1, seen.len() - 1);
        let ((a0, r0), (a1, r1)) = (seen[after - 1], seen[after]);
        r0 + (r1 - r0) * ((a0 - a) / (a0 - a1)).clamp(0.0, 1.0)
    };
    Some((0..=ANGLES).map(radius).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn water() -> Liquid {
        Liquid { tension: 0.072, density: [1000.0, 0.0], viscosity: [1e-3, 0.0] }
    }

    /// Rayleigh 1879 (Proc. R. Soc. 29, 71): a free drop's fundamental period is 2 pi sqrt(rho R^3 / (8 gamma)).
    #[test]
    fn theory_a_drop_swings_in_its_own_period() {
        let radius = 1e-3_f64;
        let period = 2.0 * PI * (1000.0 * radius.powi(3) / (8.0 * 0.072)).sqrt();
        let half = water().left(2, radius, 0.5 * period);
        assert!((half + 1.0).abs() < 0.05, "turned over after half a period: {half}");
        assert!(water().left(2, radius, 0.25 * period).abs() < 0.05);
    }

    /// A very viscous drop creeps back to a sphere with the time t_2.
    #[test]
    fn theory_a_viscous_drop_creeps() {
        let thick = Liquid { tension: 0.03, density: [900.0, 1000.0], viscosity: [10.0, 10.0] };
        let t2 = 35.0 * 5.0 / 80.0 * 10.0 * 1e-4 / 0.03;
        assert!((thick.left(2, 1e-4, t2) - (-1.0_f64).exp()).abs() < 1e-3);
    }

    /// Every outline has the volume of its sphere, and the shape goes over into it.
    #[test]
    fn theory_the_volume_stays() {
        let mut modes = vec![0.0; MODES + 1];
        (modes[2], modes[3]) = (0.2, -0.1);
        let egg = JustOff { since: 0.0, radius: 1e-3, rest: vec![0.0; ANGLES + 1], modes };
        for t in [0.0, 1e-3, 4e-3, 2e-2] {
            let outline = egg.outline(&water(), t).expect("still swinging");
            let volume: f64 = outline
                .windows(2)
                .map(|w| (w[1].0 - w[0].0) * (w[0].1 * w[0].1 + w[0].1 * w[1].1 + w[1].1 * w[1].1) / 3.0)
                .sum();
            assert!((volume / (4.0 / 3.0) - 1.0).abs() < 3e-3, "{volume} at {t}");
        }
        let length = |t: f64| egg.outline(&water(), t).map(|o| o[ANGLES].0 - o[0].0);
        assert!(length(0.0).is_some_and(|l| l > 2.2) && length(10.0).is_none());
    }
}
