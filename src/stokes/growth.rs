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
//! Holds for: the first drop, from a hemisphere on the rim, and, where asked, those after it: the interface is cut at its neck, what came
//! off stays in the flow until the tube's wall hides it from the tip (satellites as spheres from the start; one that meets a drop joins it).

use super::detach::{cut, rounded};
use super::device::{Device, Panels};
use super::differences::End;
use super::flow::{Fixed, Reduced, reduced};
use super::interface::Interface;
use super::neck::{Closing, Pinch, neck, pinch};
use super::pressure::pressure;
use super::spacing::{Fineness, is_off, laid_anew};
use super::start::first;
use super::step::{Step, step};

/// Steps may err by this much more than the tolerance before they are done again.
const REDO: f64 = 2.5;
/// Longest thread, in R.
const LONGEST: f64 = 300.0;
/// Share of the tube that the drop may fill: thinner films are not resolved.
const FILLED: f64 = 0.97;
/// Distance to the wall, in R, below which the interface touches it.
const TOUCH: f64 = 1e-3;
/// First step after a cut.
const AFTER_CUT: f64 = 1e-3;
/// A detached drop is forgotten when it is this many radii of the tube, or of its own where there is none, ahead of the growing one.
const FORGOTTEN: f64 = 2.0;
/// Gap on the axis, over R, at which drops meet.
const MEET: f64 = 2e-3;
/// Share of the largest drop's volume below which a drop is a satellite.
const SATELLITE: f64 = 0.1;
/// Most steps, for each drop: ten times what a dripping drop takes.
const STEPS: usize = 4_000;
/// Most work, for each drop: nodes of the interface times the square of all nodes, summed over the steps. About a minute on two cores,
/// four times what a drop on a thread of fifteen tip diameters takes; counted, not timed, so that the answer does not hang on the machine.
const WORK: f64 = 1e11;
/// Growth of the volume, and thinning of the neck, between two readings of the pressure.
const READ_PRESSURE: (f64, f64) = (1.06, 0.8);
/// Shortest step.
const STEP_LEAST: f64 = 1e-8;

/// Resolution in space and time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resolution {
    pub interface: Fineness,
    pub panels: Panels,
    /// Displacement error of a step, over the local radius of curvature or the neck's radius (before there is one, R), the larger.
    pub step: f64,
    /// Neck radius at which the run stops.
    pub neck: f64,
    /// Distance of nodes over that to the outer wall, at most; the distance counts no less than `film`.
    pub gap: f64,
    pub film: f64,
}

impl Resolution {
    /// Within 0.2 % of the finest in the drop's diameter and 2 % in the neck's place (measured on rows of `validation/reference/results/coflow.csv`).
    pub const QUICK: Resolution = Resolution {
        interface: Fineness { by_curvature: 0.4, at_rim: 0.15 },
        panels: Panels(1.0),
        step: 4e-3,
        neck: 0.03,
        gap: 0.7,
        film: 0.015,
    };
    /// Within 0.1 % in the diameter and 1 % in the neck's place.
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
    /// Too many steps, or too much work.
    Budget,
    /// The growing drop caught up with one before it.
    Met,
    /// The observer asked for it.
    Interrupted,
}

/// An instant, for those who look on.
#[derive(Debug, Clone, Copy)]
pub struct Instant<'a> {
    pub time: f64,
    /// The drop on its tip.
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
    /// The first.
    pub pinch: Option<Pinch>,
    /// All, satellites among them.
    pub pinches: Vec<Pinch>,
    pub time: f64,
    pub interface: Interface,
    pub steps: usize,
    pub rejected: usize,
    pub nodes_most: usize,
    pub glass_nodes: usize,
    /// Sum of the volume corrections' sizes over the volume pumped.
    pub corrected: f64,
    /// Volume on the tip less what it should hold, over the volume.
    pub volume_relative: f64,
    pub pressures: Vec<Gauge>,
    /// How the thread stood at the end.
    pub thread: Thread,
}

/// A thread that has not pinched off.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Thread {
    /// Place of its front, and the speed at which that goes on.
    pub front: f64,
    pub front_speed: f64,
    /// Place and radius of its neck, and the speed at which that thins (negative: widens).
    pub neck: Option<[f64; 3]>,
}

impl Grown {
    /// The drops that are no satellites.
    pub fn primaries(&self) -> Vec<Pinch> {
        let largest = self.pinches.iter().map(|p| p.volume).fold(0.0, f64::max);
        self.pinches.iter().filter(|p| p.volume > SATELLITE * largest).copied().collect()
    }
}

/// Hears of every step; ends the run by returning false.
pub type Look<'a> = &'a mut (dyn FnMut(&Instant<'_>) -> bool + Send);

/// Runs until the first pinch-off or another end.
pub fn grow(device: &Device, how: &Resolution, look: Look<'_>) -> Grown {
    grow_drops(device, how, 1, look)
}

/// Runs until so many drops (satellites not counted) came off, or another end.
pub fn grow_drops(device: &Device, how: &Resolution, drops: usize, look: Look<'_>) -> Grown {
    // Inside the pool from the start: else every matrix would wait for another thread to wake.
    rayon::scope(|_| Growth::new(device, how, drops).follow(look))
}

/// A run under way.
struct Growth<'a> {
    device: &'a Device,
    how: &'a Resolution,
    wanted: usize,
    /// The drop on its tip, then those in the flow; the volume that each should hold, the first one's at `since`.
    surfaces: Vec<Interface>,
    volumes: Vec<f64>,
    since: f64,
    time: f64,
    dt: f64,
    reach: f64,
    closing: Vec<Closing>,
    /// Volume corrected, and volume at the start.
    corrected: f64,
    start: f64,
    found: Vec<Pinch>,
}

impl<'a> Growth<'a> {
    fn new(device: &'a Device, how: &'a Resolution, wanted: usize) -> Growth<'a> {
        let first = first(device, &how.interface);
        let start = first.volume_from(0);
        Growth {
            device,
            how,
            wanted,
            surfaces: vec![first],
            volumes: vec![start],
            since: 0.0,
            time: 0.0,
            dt: 0.02,
            reach: device.first_reach(),
            closing: Vec::new(),
            corrected: 0.0,
            start,
            found: Vec::new(),
        }
    }

    /// Volume that the drop on its tip should hold.
    fn due(&self) -> f64 {
        self.volumes[0] + self.device.inner_flow * (self.time - self.since)
    }

    fn follow(mut self, look: Look<'_>) -> Grown {
        let mut fixed = Fixed::new(self.device.walls(self.reach, self.how.panels));
        let (mut steps, mut rejected, mut nodes_most, mut work) = (0, 0, 0, 0.0);
        let mut equation = None;
        let (mut pressures, mut read_at) = (Vec::new(), (0.0, 1.0));
        let mut ended = Ended::Budget;
        let mut thread = Thread::default();
        while steps + rejected < STEPS * self.wanted && work < WORK * self.wanted as f64 {
            let Some(glass) = &fixed else {
                ended = Ended::Stuck;
                break;
            };
            let nodes: usize = self.surfaces.iter().map(Interface::nodes).sum();
            nodes_most = nodes_most.max(nodes);
            work += nodes as f64 * ((nodes + glass.walls.boundary.nodes()) as f64).powi(2);
            let eq = equation.get_or_insert_with(|| reduced(glass, &self.surfaces, self.device.bond));
            let thinnest = self.closing.last().map_or(1.0, |c| c.neck.r);
            if self.due() > read_at.0 || thinnest < read_at.1 {
                pressures.extend(self.gauge(glass, eq));
                read_at = (READ_PRESSURE.0 * self.due(), READ_PRESSURE.1 * thinnest);
            }
            let tried = step(glass, &self.surfaces, eq, self.dt, self.device.bond, thinnest);
            let error = tried.as_ref().map_or(f64::INFINITY, |s| s.error);
            let Some(next) = tried.filter(|_| error <= REDO * self.how.step) else {
                self.dt *= if error.is_finite() { (0.8 * (self.how.step / error).sqrt()).clamp(0.2, 0.7) } else { 0.5 };
                rejected += 1;
                if self.dt < STEP_LEAST {
                    ended = Ended::Stuck;
                    break;
                }
                continue;
            };
            let before = self.front();
            let lasted = self.dt;
            self.time += lasted;
            steps += 1;
            self.take(next);
            thread.front_speed = (self.front() - before) / lasted;
            equation = None;
            let now = &self.surfaces[0];
            let end = now.z[now.nodes() - 1];
            match neck(now) {
                Some(neck) => self.closing.push(Closing { time: self.time, neck, end }),
                None => self.closing.clear(),
            }
            let closing = self.closing.last();
            if !look(&Instant { time: self.time, interface: &self.surfaces[0], closing }) {
                ended = Ended::Interrupted;
                break;
            }
            if closing.is_some_and(|c| c.neck.r < self.how.neck) {
                self.found.extend(pinch(&self.closing));
                if self.primaries() >= self.wanted {
                    ended = Ended::Pinched;
                    break;
                }
                if !self.detach() {
                    ended = Ended::Stuck;
                    break;
                }
                read_at = (0.0, 1.0);
            }
            if let Some(why) = self.outside() {
                ended = why;
                break;
            }
            if self.device.channel.is_some() && self.front() > self.reach - self.device.margin() {
                self.reach += 0.5 * self.reach;
                fixed = Fixed::new(self.device.walls(self.reach, self.how.panels));
            }
        }
        let now = self.surfaces[0].clone();
        let volume = now.volume_from(0);
        Grown {
            ended,
            pinch: self.found.first().copied(),
            time: self.time,
            steps,
            rejected,
            nodes_most,
            glass_nodes: fixed.map_or(0, |f| f.walls.boundary.nodes()),
            corrected: self.corrected / (self.start + self.device.inner_flow * self.time),
            volume_relative: (volume - self.due()) / volume,
            thread: Thread { front: self.front(), neck: self.thinning(), ..thread },
            interface: now,
            pressures,
            pinches: self.found,
        }
    }

    /// The neck now: place, radius, speed of thinning over its last instants.
    fn thinning(&self) -> Option<[f64; 3]> {
        let last = self.closing.last()?;
        let before = self.closing.iter().rev().nth(10).or(self.closing.first()).filter(|c| c.time < last.time)?;
        Some([last.neck.z, last.neck.r, (before.neck.r - last.neck.r) / (last.time - before.time)])
    }

    fn primaries(&self) -> usize {
        let largest = self.found.iter().map(|p| p.volume).fold(0.0, f64::max);
        self.found.iter().filter(|p| p.volume > SATELLITE * largest).count()
    }

    /// Place of the front of the drop on its tip.
    fn front(&self) -> f64 {
        let z = &self.surfaces[0].z;
        z[z.len() - 1]
    }

    /// A step's answer with its volumes and nodes put right; drops that count no more are forgotten.
    fn take(&mut self, next: Step) {
        self.surfaces = next.surfaces;
        self.dt *= (0.85 * (self.how.step / next.error.max(1e-12)).sqrt()).clamp(0.5, 1.6);
        let due = self.due();
        let (device, how) = (self.device, self.how);
        let outlines: Vec<Vec<(f64, f64)>> = self.surfaces.iter().map(points).collect();
        for (k, surface) in self.surfaces.iter_mut().enumerate() {
            // films ask for nodes: at the outer wall, and between drops
            let others = outlines.iter().enumerate().filter(|(j, _)| *j != k).map(|(_, o)| o);
            let room = |z: f64, r: f64| {
                let apart = others.clone().fold(f64::MAX, |least, o| least.min(distance(o, (z, r))));
                how.gap * device.room(z, r).min(apart).max(how.film)
            };
            self.corrected += restore(surface, device, if k == 0 { due } else { self.volumes[k] });
            if is_off(surface, &how.interface, &room) {
                *surface = laid_anew(surface, &how.interface, &room);
            }
        }
        self.part_detached();
        self.absorb();
        let front = self.front();
        let end = device.channel.as_ref().map(|c| c.end_radius());
        for k in (1..self.surfaces.len()).rev() {
            let drop = &self.surfaces[k];
            let far = drop.z[0] - front > FORGOTTEN * end.unwrap_or(5.0 * drop.widest());
            let leaves = end.is_some() && drop.z[drop.nodes() - 1] > self.reach - 0.5 * device.margin();
            if far || leaves {
                self.surfaces.remove(k);
                self.volumes.remove(k);
            }
        }
    }

    /// Cuts the interface at its neck; false where that is not possible.
    fn detach(&mut self) -> bool {
        let (Some(closing), Some(pinch)) = (self.closing.last(), self.found.last()) else { return false };
        let Some((mut rear, mut front)) = cut(&self.surfaces[0], &closing.neck) else { return false };
        let left = self.due() - pinch.volume;
        let (device, how) = (self.device, self.how);
        let room = |z: f64, r: f64| how.gap * device.room(z, r).max(how.film);
        for (part, volume) in [(&mut rear, left), (&mut front, pinch.volume)] {
            *part = laid_anew(part, &how.interface, &room);
            restore(part, device, volume);
        }
        let largest = self.found.iter().map(|p| p.volume).fold(0.0, f64::max);
        if pinch.volume < SATELLITE * largest {
            front = self.if_it_fits(rounded(&front, pinch.volume), front);
        }
        self.surfaces[0] = rear;
        self.surfaces.insert(1, front);
        self.volumes[0] = left;
        self.volumes.insert(1, pinch.volume);
        self.since = self.time;
        self.dt = AFTER_CUT;
        self.closing.clear();
        self.surfaces.iter().all(Interface::is_sound)
    }

    /// The rounder shape where the walls leave it room.
    fn if_it_fits(&self, round: Interface, own: Interface) -> Interface {
        let fits = |i: usize| self.device.room(round.z[i], round.r[i]) > 0.1 * round.widest();
        if (0..round.nodes()).all(fits) { round } else { own }
    }

    /// Detached drops whose own tails break: the larger part goes on, the smaller one becomes a sphere.
    fn part_detached(&mut self) {
        for k in (1..self.surfaces.len()).rev() {
            let Some(found) = neck(&self.surfaces[k]).filter(|n| n.r < self.how.neck) else { continue };
            let Some((rear, front)) = cut(&self.surfaces[k], &found) else { continue };
            let whole = self.volumes[k];
            let (ahead, behind) = (found.volume_ahead, whole - found.volume_ahead);
            let room = |z: f64, r: f64| self.how.gap * self.device.room(z, r).max(self.how.film);
            let shape = |part: Interface, volume: f64, small: bool| {
                let mut laid = laid_anew(&part, &self.how.interface, &room);
                restore(&mut laid, self.device, volume);
                if small { self.if_it_fits(rounded(&part, volume), laid) } else { laid }
            };
            let front = shape(front, ahead, ahead < behind);
            let rear = shape(rear, behind, behind <= ahead);
            (self.surfaces[k], self.volumes[k]) = (front, ahead);
            self.surfaces.insert(k, rear);
            self.volumes.insert(k, behind);
        }
    }

    /// Gap on the axis between a surface and the one ahead of it.
    fn gap(&self, k: usize) -> f64 {
        let z = &self.surfaces[k].z;
        self.surfaces[k + 1].z[0] - z[z.len() - 1]
    }

    /// A satellite that meets a neighbour becomes part of it: a film between a drop and so small a one changes nothing that is told.
    fn absorb(&mut self) {
        let largest = self.found.iter().map(|p| p.volume).fold(0.0, f64::max);
        let small = |volume: f64| volume < SATELLITE * largest;
        for k in (0..self.surfaces.len() - 1).rev() {
            if k + 1 >= self.surfaces.len() || self.gap(k) > MEET {
                continue;
            }
            let (goes, stays) = match (small(self.volumes[k + 1]), k > 0 && small(self.volumes[k])) {
                (true, _) => (k + 1, k),
                (false, true) => (k, k + 1),
                _ => continue,
            };
            self.volumes[stays] += self.volumes[goes];
            self.surfaces.remove(goes);
            self.volumes.remove(goes);
        }
    }

    /// The pressures now.
    fn gauge(&self, glass: &Fixed, equation: &Reduced) -> Option<Gauge> {
        let (device, time) = (self.device, self.time);
        let u = equation.velocity(&self.surfaces, 0.0)?;
        let read = |points: &[(f64, f64)]| pressure(glass, &self.surfaces, device.bond, &u, points);
        let Some(channel) = &device.channel else {
            return Some(Gauge { time, inner: read(&[(0.0, 0.0)])[0], outer: None });
        };
        let end = channel.end_radius();
        let beside = (-device.outside, 0.5 * (device.outside + channel.radius));
        let p = read(&[(0.0, 0.0), beside, (self.reach - 0.25 * end, 0.0)]);
        // carried back along the straight tube to where it ended at first, so that a longer tube does not count
        let total = device.inner_flow + device.outer_flow;
        let further = self.reach - 0.25 * end - device.first_reach();
        let far = p[2] + 8.0 * total / (std::f64::consts::PI * end.powi(4)) * further;
        Some(Gauge { time, inner: p[0] - far, outer: Some(p[1] - far) })
    }

    /// Where the interface left what can be followed.
    fn outside(&self) -> Option<Ended> {
        let (device, now) = (self.device, &self.surfaces[0]);
        if self.front() > LONGEST {
            return Some(Ended::Long);
        }
        if (0..self.surfaces.len() - 1).any(|k| self.gap(k) < MEET) {
            return Some(Ended::Met);
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
}

fn points(of: &Interface) -> Vec<(f64, f64)> {
    of.z.iter().copied().zip(of.r.iter().copied()).collect()
}

/// Distance of a point to the nearest of these.
fn distance(outline: &[(f64, f64)], (z, r): (f64, f64)) -> f64 {
    outline.iter().fold(f64::MAX, |least, p| least.min((p.0 - z).powi(2) + (p.1 - r).powi(2))).sqrt()
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
