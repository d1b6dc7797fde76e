//! Growth of a drop on its tip until it pinches off.
//!
//! Equation: nodes move along their normals with the interface's velocity. A step is the linearly implicit Euler step once with dt
//! and twice with dt/2; extrapolated it is of second order, and the difference steers dt. One normal displacement, uniform away from walls, then
//! restores the volume V_0 + Q_i t; the sum of these corrections is told as a measure of error.
//!
//! Symbols: time in mu_o R/gamma.
//!
//! Source: extrapolation of Euler steps: Hairer, Norsett & Wanner, Solving Ordinary Differential Equations I (1993), II.9
//! (recalled).
//!
//! Holds for: the first drop, from a hemisphere on the rim.

use super::device::{Device, Panels};
use super::differences::End;
use super::flow::{Fixed, reduced};
use super::interface::Interface;
use super::neck::{Closing, Pinch, neck, pinch};
use super::pressure::pressure;
use super::spacing::{Fineness, is_off, laid_anew};

/// Steps may err by this much more than the tolerance before they are done again.
const REDO: f64 = 2.5;
/// Longest thread, in R.
const LONGEST: f64 = 300.0;
/// Share of the tube that the drop may fill: thinner films are not resolved.
const FILLED: f64 = 0.97;
/// Distance to the wall, in R, below which the interface touches it.
const TOUCH: f64 = 1e-3;
/// Most steps: ten times what a dripping drop takes.
const STEPS: usize = 4_000;
/// Growth of the volume, and thinning of the neck, between two readings of the pressure.
const READ_PRESSURE: (f64, f64) = (1.06, 0.8);
/// Shortest step.
const STEP_LEAST: f64 = 1e-8;

/// Resolution in space and time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resolution {
    pub interface: Fineness,
    pub panels: Panels,
    /// Displacement error of a step, over the local radius or the neck's.
    pub step: f64,
    /// Neck radius at which the run stops.
    pub neck: f64,
    /// Distance of nodes over that to the outer wall, at most; the distance counts no less than `film`.
    pub gap: f64,
    pub film: f64,
}

impl Resolution {
    /// Within 0.2 % of the finest in the drop's diameter and 1 % in the neck's place (measured on rows of `validation/reference/results/coflow.csv`).
    pub const QUICK: Resolution = Resolution {
        interface: Fineness { by_curvature: 0.4, at_rim: 0.15 },
        panels: Panels(1.0),
        step: 4e-3,
        neck: 0.03,
        gap: 0.7,
        film: 0.015,
    };
    /// Within 0.1 % in the diameter and 0.5 % in the neck's place.
    pub const BASE: Resolution = Resolution {
        interface: Fineness { by_curvature: 0.3, at_rim: 0.1 },
        panels: Panels(1.0),
        step: 2e-3,
        neck: 0.03,
        gap: 0.7,
        film: 0.015,
    };
    /// Spacing and tolerance two thirds and less.
    pub const FINE: Resolution = Resolution {
        interface: Fineness { by_curvature: 0.2, at_rim: 0.06 },
        panels: Panels(1.5),
        step: 4e-4,
        neck: 0.03,
        gap: 0.47,
        film: 0.015,
    };
}

/// Why a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    Pinched,
    /// The thread became longer than the solver follows.
    Long,
    /// The drop fills its tube but for a film that is not resolved.
    FillsTube,
    /// The interface met the glass of the tip.
    TouchesGlass,
    /// The interface met the outer wall: the film became thinner than is resolved.
    TouchesWall,
    /// Steps became shorter than makes sense.
    Stuck,
    /// Too many steps.
    Budget,
    /// The observer asked for it.
    Interrupted,
}

/// An instant, for those who look on.
#[derive(Debug, Clone, Copy)]
pub struct Instant<'a> {
    pub time: f64,
    pub interface: &'a Interface,
    pub closing: Option<&'a Closing>,
}

/// Pressures at an instant, over that at the far end of the tube (of the liquid far away where there is none).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gauge {
    pub time: f64,
    /// Inner liquid, on the axis in the tip's plane.
    pub inner: f64,
    /// Outer liquid, half-way between tip and wall, one of its outside radii behind the tip's plane.
    pub outer: Option<f64>,
}

/// What a run found.
#[derive(Debug, Clone)]
pub struct Grown {
    pub ended: Ended,
    pub pinch: Option<Pinch>,
    pub time: f64,
    pub interface: Interface,
    pub steps: usize,
    pub rejected: usize,
    pub nodes_most: usize,
    pub glass_nodes: usize,
    /// Sum of the volume corrections' sizes over the final volume.
    pub corrected: f64,
    /// Volume less what was pumped, over the volume.
    pub volume_relative: f64,
    pub pressures: Vec<Gauge>,
}

/// A hemisphere on the rim.
pub fn hemisphere(fine: &Fineness) -> Interface {
    let n = 30;
    let angle = |i: usize| std::f64::consts::FRAC_PI_2 * i as f64 / (n as f64 - 1.0);
    let z = (0..n).map(|i| angle(i).sin()).collect();
    let r = (0..n).map(|i| if i + 1 == n { 0.0 } else { angle(i).cos() }).collect();
    laid_anew(&Interface::new(z, r, (End::Pinned, End::Axis)), fine, &|_, _| f64::MAX)
}

/// A step's two answers: extrapolated, and how far the two are apart.
struct Step {
    z: Vec<f64>,
    r: Vec<f64>,
    error: f64,
}

fn step(
    fixed: &Fixed,
    now: &Interface,
    equation: &super::flow::Reduced,
    dt: f64,
    bond: f64,
    thinnest: f64,
) -> Option<Step> {
    let whole = now.moved(&equation.normal_velocity(now, dt)?, dt);
    let half = now.moved(&equation.normal_velocity(now, 0.5 * dt)?, 0.5 * dt);
    if !whole.is_sound() || !half.is_sound() {
        return None;
    }
    let second = reduced(fixed, &half, bond).normal_velocity(&half, 0.5 * dt)?;
    let twice = half.moved(&second, 0.5 * dt);
    let mut error = 0.0f64;
    let (mut z, mut r) = (Vec::with_capacity(now.nodes()), Vec::with_capacity(now.nodes()));
    for i in 0..now.nodes() {
        let (dz, dr) = (twice.z[i] - whole.z[i], twice.r[i] - whole.r[i]);
        let scale = now.r[i].max(thinnest).min(1.0);
        error = error.max((dz * dz + dr * dr).sqrt() / scale);
        z.push(twice.z[i] + dz);
        r.push(twice.r[i] + dr);
    }
    error.is_finite().then_some(Step { z, r, error })
}

/// Hears of every step; ends the run by returning false.
pub type Look<'a> = &'a mut (dyn FnMut(&Instant<'_>) -> bool + Send);

/// Runs until the first pinch-off or another end.
pub fn grow(device: &Device, how: &Resolution, look: Look<'_>) -> Grown {
    // Inside the pool from the start: else every matrix would wait for another thread to wake.
    rayon::scope(|_| follow(device, how, look))
}

fn follow(device: &Device, how: &Resolution, look: Look<'_>) -> Grown {
    let room = |z: f64, r: f64| how.gap * device.room(z, r).max(how.film);
    let mut reach = device.first_reach();
    let mut fixed = Fixed::new(device.walls(reach, how.panels));
    let mut now = hemisphere(&how.interface);
    let start = now.volume_from(0);
    let (mut time, mut dt, mut corrected) = (0.0, 0.02, 0.0);
    let (mut steps, mut rejected, mut nodes_most) = (0, 0, 0);
    let mut closing: Vec<Closing> = Vec::new();
    let mut equation = None;
    let (mut pressures, mut read_at) = (Vec::new(), (0.0, 1.0));
    let mut ended = Ended::Budget;
    while steps + rejected < STEPS {
        let Some(glass) = &fixed else {
            ended = Ended::Stuck;
            break;
        };
        let eq = equation.get_or_insert_with(|| reduced(glass, &now, device.bond));
        let thinnest = closing.last().map_or(1.0, |c| c.neck.r);
        if now.volume_from(0) > read_at.0 || thinnest < read_at.1 {
            pressures.extend(gauge(glass, &now, eq, device, (time, reach)));
            read_at = (READ_PRESSURE.0 * now.volume_from(0), READ_PRESSURE.1 * thinnest);
        }
        let tried = step(glass, &now, eq, dt, device.bond, thinnest);
        let error = tried.as_ref().map_or(f64::INFINITY, |s| s.error);
        let taken = tried
            .filter(|_| error <= REDO * how.step)
            .map(|s| Interface::new(s.z, s.r, now.ends))
            .filter(Interface::is_sound);
        let Some(next) = taken else {
            dt *= if error.is_finite() { (0.8 * (how.step / error).sqrt()).clamp(0.2, 0.7) } else { 0.5 };
            rejected += 1;
            if dt < STEP_LEAST {
                ended = Ended::Stuck;
                break;
            }
            continue;
        };
        time += dt;
        steps += 1;
        now = next;
        corrected += restore(&mut now, device, start + device.inner_flow * time);
        if is_off(&now, &how.interface, &room) {
            now = laid_anew(&now, &how.interface, &room);
        }
        nodes_most = nodes_most.max(now.nodes());
        equation = None;
        dt *= (0.85 * (how.step / error.max(1e-12)).sqrt()).clamp(0.5, 1.6);
        let end = now.z[now.nodes() - 1];
        match neck(&now) {
            Some(neck) => closing.push(Closing { time, neck, end }),
            None => closing.clear(),
        }
        let seen = Instant { time, interface: &now, closing: closing.last() };
        if !look(&seen) {
            ended = Ended::Interrupted;
            break;
        }
        if closing.last().is_some_and(|c| c.neck.r < how.neck) {
            ended = Ended::Pinched;
            break;
        }
        if let Some(why) = outside(device, &now) {
            ended = why;
            break;
        }
        if device.channel.is_some() && end > reach - device.margin() {
            reach += 0.5 * reach;
            fixed = Fixed::new(device.walls(reach, how.panels));
        }
    }
    let volume = now.volume_from(0);
    Grown {
        ended,
        pinch: if ended == Ended::Pinched { pinch(&closing) } else { None },
        time,
        steps,
        rejected,
        nodes_most,
        glass_nodes: fixed.map_or(0, |f| f.walls.boundary.nodes()),
        corrected: corrected / volume,
        volume_relative: (volume - start - device.inner_flow * time) / volume,
        interface: now,
        pressures,
    }
}

/// The pressures now, the tube closed at `reach`.
fn gauge(
    glass: &Fixed,
    now: &Interface,
    equation: &super::flow::Reduced,
    device: &Device,
    (time, reach): (f64, f64),
) -> Option<Gauge> {
    let u = equation.velocity(now, 0.0)?;
    let read = |points: &[(f64, f64)]| pressure(glass, now, device.bond, &u, points);
    let Some(channel) = &device.channel else {
        return Some(Gauge { time, inner: read(&[(0.0, 0.0)])[0], outer: None });
    };
    let end = channel.end_radius();
    let beside = (-device.outside, 0.5 * (device.outside + channel.radius));
    let p = read(&[(0.0, 0.0), beside, (reach - end, 0.0)]);
    // carried back along the straight tube to where it ended at first, so that a longer tube does not count
    let total = device.inner_flow + device.outer_flow;
    let far = p[2] + 8.0 * total / (std::f64::consts::PI * end.powi(4)) * (reach - end - device.first_reach());
    Some(Gauge { time, inner: p[0] - far, outer: Some(p[1] - far) })
}

/// Displaces the interface to the wanted volume, alike everywhere but next to the outer wall, where less: a film must not be
/// closed by a correction; gives the size of the correction.
fn restore(now: &mut Interface, device: &Device, volume: f64) -> f64 {
    let first = volume - now.volume_from(0);
    // the second pass takes what the first, linear in the displacement, leaves
    for _ in 0..2 {
        let missing = volume - now.volume_from(0);
        let mut by: Vec<f64> = (0..now.nodes()).map(|i| device.room(now.z[i], now.r[i]).clamp(0.0, 1.0)).collect();
        if now.ends.0 == End::Pinned {
            by[0] = 0.0;
        }
        let area: f64 = now.flux_weights().iter().zip(&by).map(|(w, b)| w * b).sum();
        *now = now.moved(&by, missing / area);
    }
    first.abs()
}

/// Where the interface left what can be followed.
fn outside(device: &Device, now: &Interface) -> Option<Ended> {
    if now.z[now.nodes() - 1] > LONGEST {
        return Some(Ended::Long);
    }
    if let Some(channel) = &device.channel {
        if channel.orifice.is_none() && now.widest() > FILLED * channel.radius {
            return Some(Ended::FillsTube);
        }
        if (1..now.nodes()).any(|i| channel.distance(now.z[i], now.r[i]) < TOUCH) {
            return Some(Ended::TouchesWall);
        }
    }
    let thick = device.outside > device.bore;
    let inside_glass = |i: usize| now.z[i] < -1e-4 && now.r[i] > device.bore && now.r[i] < device.outside;
    (thick && (1..now.nodes()).any(inside_glass)).then_some(Ended::TouchesGlass)
}
