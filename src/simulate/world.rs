//! All bodies of a run, moved together to common times.
//!
//! Each body is stepped by itself with its own step; a pinch-off adds a body, a body that has become a drop leaves the
//! list and flies on as a sphere. Everything here is scaled (see [`crate::thread`]).

use crate::math::Pinned as _;
use super::contact::coalesce;
use super::ledger::Ledger;
use super::necks::NeckLog;
use super::setup::Setup;
use crate::drops::detached::{Detached, Sphere, sphere_radius};
use crate::outcome::{PinchOff, SolverCounts};
use crate::pinch_off::cut::{absorb_left, absorb_right, cut};
use crate::pinch_off::neck::{Neck, Verdict, judge, thinnest, volume_beyond};
use crate::thread::advance::Advancer;
use crate::thread::body::{Body, End};
use crate::thread::energy::{energy, excess};
use crate::tolerances::{FILLING_NECK, FINAL_EXCESS_ENERGY, NECK_BULGE};
use std::f64::consts::PI;

/// Why a body could not be moved on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stall {
    /// The step fell below the smallest even after the ends were coarsened.
    StepUnderflow,
    /// The step budget of the run is used up.
    StepBudget,
    /// Whoever listens wants no more.
    Interrupted,
}

/// A pinch-off of the attached thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Break {
    /// Which pinch-off.
    pub pinch: usize,
    /// Shortest length of the attached thread since the one before.
    pub shortest: f64,
    /// Radius of the thread half way to the neck.
    pub mid_radius: f64,
}

/// State of a run.
#[derive(Debug, Clone)]
pub struct World {
    /// Time to which all bodies have come.
    pub time: f64,
    /// The thread on the nozzle (or half wave) first, then filaments not yet round, in order of birth.
    pub bodies: Vec<Body>,
    /// Drops on their way.
    pub spheres: Vec<Sphere>,
    /// Every drop that came off.
    pub drops: Vec<Detached>,
    /// Every breakup of the attached thread and of filaments.
    pub pinch_offs: Vec<PinchOff>,
    /// What each pinch-off of the attached thread looked like.
    pub breaks: Vec<Break>,
    /// Shortest that the attached thread has been since its last breakup.
    pub shortest_now: f64,
    /// Neck history of the attached thread.
    pub necks: NeckLog,
    /// Volume that left through the outflow.
    pub left: f64,
    /// Energy in and out.
    pub ledger: Ledger,
    /// Counts by cause.
    pub counts: SolverCounts,
    /// Volume at the start.
    pub volume_start: f64,
}

/// Steps between two looks at whether the listener wants to go on.
const HEED_EVERY: u64 = 256;
/// How many times a body's mesh is mended at one place before the run gives up.
const MENDS_MAX: u32 = 6;
/// Most steps of a filament between two common times before its shape is given up.
const FILAMENT_STEPS: u64 = 6_000;
/// A filament without a waist for this many of its natural times has become a drop.
const PLAIN_TIMES: f64 = 1.5;
/// A waist shallower than this share of the largest radius is none.
const WAIST: f64 = 0.93;

impl World {
    /// A world with one body at rest or in motion.
    pub fn new(start: Body, bond: f64) -> World {
        let volume = start.volume();
        let copies = if start.right == End::Symmetry { 2.0 } else { 1.0 };
        World {
            time: 0.0,
            ledger: Ledger::starting(copies * energy(&start, bond).total()),
            shortest_now: start.length(),
            bodies: vec![start],
            spheres: Vec::new(),
            drops: Vec::new(),
            pinch_offs: Vec::new(),
            breaks: Vec::new(),
            necks: NeckLog::default(),
            left: 0.0,
            counts: SolverCounts::default(),
            volume_start: volume,
        }
    }

    /// Move everything to `target`; `heed` is asked every few hundred steps whether to go on.
    pub fn advance(
        &mut self,
        setup: &Setup,
        advancer: &mut Advancer,
        target: f64,
        heed: &mut dyn FnMut(&World) -> bool,
    ) -> Result<(), Stall> {
        let mut k = 0;
        while k < self.bodies.len() {
            self.follow(setup, advancer, k, target, heed)?;
            k += 1;
        }
        self.time = target;
        self.retire(setup);
        for sphere in &mut self.spheres {
            setup.fly(sphere, target);
        }
        if setup.coalescence {
            coalesce(self, setup);
        }
        let end = setup.domain_end;
        self.spheres.retain(|s| s.position < end + 10.0);
        Ok(())
    }

    /// Move body `k` to `target`; fragments it sheds are appended and take their turn.
    fn follow(
        &mut self,
        setup: &Setup,
        advancer: &mut Advancer,
        k: usize,
        target: f64,
        heed: &mut dyn FnMut(&World) -> bool,
    ) -> Result<(), Stall> {
        let (mut mends, started) = (0, self.counts.steps_accepted);
        while self.bodies[k].time < target {
            if self.counts.steps_accepted >= setup.step_budget {
                return Err(Stall::StepBudget);
            }
            if self.counts.steps_accepted % HEED_EVERY == HEED_EVERY - 1 && !heed(self) {
                return Err(Stall::Interrupted);
            }
            let body = &mut self.bodies[k];
            match advancer.step(&setup.physics, &setup.numerics, body, target, &mut self.counts) {
                Ok((dt, report)) => self.ledger.step(body, dt, &report),
                Err(_) if mends < MENDS_MAX => {
                    mends += 1;
                    self.counts.rollbacks += 1;
                    mend(body, advancer, setup, &mut self.counts);
                    continue;
                }
                Err(_) if k == 0 => return Err(Stall::StepUnderflow),
                Err(_) => {
                    self.give_up_shape(k, target);
                    return Ok(());
                }
            }
            if k > 0 && self.counts.steps_accepted - started > FILAMENT_STEPS {
                self.give_up_shape(k, target);
                return Ok(());
            }
            if self.bodies[k].right == End::Outflow || k == 0 && setup.has_outflow {
                self.left += setup.clip(&mut self.bodies[k]);
            }
            self.look_for_neck(setup, k);
        }
        Ok(())
    }

    /// A filament that cannot be followed further is taken for one drop, and flagged.
    fn give_up_shape(&mut self, k: usize, target: f64) {
        let body = &mut self.bodies[k];
        body.flagged = true;
        body.abandoned = true;
        body.time = target;
    }

    fn look_for_neck(&mut self, setup: &Setup, k: usize) {
        let body = &self.bodies[k];
        let neck = thinnest(body);
        if k == 0 {
            self.shortest_now = self.shortest_now.min(body.length());
            self.necks.sample(body, neck.as_ref(), self.pinch_offs.len());
            let waist = neck.as_ref().map_or(1.0, |n| n.radius);
            let filling = setup.forgetful && body.left == End::Nozzle && waist > FILLING_NECK;
            self.bodies[0].filling = filling;
        }
        let Some(neck) = neck else { return };
        let body = &self.bodies[k];
        if neck.radius < WAIST * body.radius_max() {
            self.bodies[k].plain_since = self.bodies[k].time;
        }
        match judge(&self.bodies[k], &neck, setup.numerics.fineness.neck_cut) {
            Verdict::Wait => {}
            Verdict::Cut => self.pinch(setup, k, &neck),
            Verdict::AbsorbRight => absorb_right(&mut self.bodies[k], &neck),
            Verdict::AbsorbLeft => absorb_left(&mut self.bodies[k], &neck),
        }
    }

    /// Cut body `k` at the neck.
    fn pinch(&mut self, setup: &Setup, k: usize, neck: &Neck) {
        let body = &self.bodies[k];
        self.ledger.close(body);
        let attached = k == 0;
        let seen = if attached { self.necks.when(setup.numerics.fineness.neck_cut) } else { None };
        self.pinch_offs.push(PinchOff {
            time: if attached { self.necks.extrapolated(body.time, neck.radius) } else { body.time },
            position: seen.map_or(neck.position, |s| s.position),
            length: seen.map_or(body.z[body.cells()], |s| s.length) - if attached { 0.0 } else { body.z[0] },
            volume: seen.map_or_else(|| volume_beyond(body, neck), |s| s.beyond),
        });
        self.counts.pinches += 1;
        let number = self.pinch_offs.len() as u64;
        let (mut stays, off) = cut(body, neck);
        if attached {
            self.breaks.push(Break {
                pinch: self.pinch_offs.len() - 1,
                shortest: self.shortest_now,
                mid_radius: radius_at(body, 0.5 * neck.position),
            });
            self.shortest_now = stays.length();
            self.necks.pinched(number as usize - 1);
        }
        stays.ledger = [0.0; 2];
        let Some(mut off) = off else {
            self.bodies[k] = stays;
            return;
        };
        off.ledger = [0.0; 2];
        off.parent_pinch = number;
        // of two parts of a filament the larger one keeps the filament's birth
        for part in [&mut off, &mut stays] {
            part.plain_since = body.time;
        }
        if attached || off.volume() <= stays.volume() {
            birth(&mut off);
        } else {
            birth(&mut stays);
        }
        self.bodies[k] = stays;
        if off.right == End::Outflow {
            // what goes on beyond the end of the domain is no drop
            self.left += off.volume();
            self.ledger.hand_over(energy(&off, setup.physics.bond).total());
        } else if is_final(&off, setup) {
            self.finish(off, setup);
        } else {
            self.bodies.push(off);
        }
    }

    /// Filaments that have become drops leave the list.
    fn retire(&mut self, setup: &Setup) {
        let mut k = 1;
        while k < self.bodies.len() {
            if is_final(&self.bodies[k], setup) {
                let body = self.bodies.remove(k);
                self.finish(body, setup);
            } else {
                k += 1;
            }
        }
        let recorded = |w: &World| w.drops.iter().any(|d| d.held == 0.0);
        if setup.half_wave && self.bodies[0].right == End::Tip && is_final(&self.bodies[0], setup) && !recorded(self) {
            let body = self.bodies[0].clone();
            let drop = self.record(&body, setup);
            // the half drop stays in the list: it is the start of the next wave
            self.drops[drop].held = 0.0;
        }
    }

    /// Turn every filament into drops as it is (end of the run).
    pub fn finish_all(&mut self, setup: &Setup) {
        let settled: Vec<Body> = self.bodies.drain(1..).collect();
        for body in settled {
            if single(&body) || body.length() < 4.0 * body.radius_max() {
                self.finish(body, setup);
            } else {
                self.bodies.push(body);
            }
        }
    }

    fn finish(&mut self, mut body: Body, setup: &Setup) {
        self.ledger.close(&body);
        body.ledger = [0.0; 2];
        let copies = if setup.half_wave { 2.0 } else { 1.0 };
        self.ledger.hand_over(copies * energy(&body, setup.physics.bond).total());
        let drop = self.record(&body, setup);
        self.counts.frozen += 1;
        self.spheres.push(Sphere {
            drop,
            position: if body.right == End::Symmetry { body.z[body.cells()] } else { body.centre() },
            velocity: if body.right == End::Symmetry { 0.0 } else { body.momentum() / body.volume() },
            volume: self.drops[drop].volume,
            time: body.time,
        });
    }

    fn record(&mut self, body: &Body, setup: &Setup) -> usize {
        let mirrored = body.left == End::Symmetry || body.right == End::Symmetry;
        let position = match (body.left, body.right) {
            (End::Symmetry, _) => body.z[0],
            (_, End::Symmetry) => body.z[body.cells()],
            _ => body.born_at[0],
        };
        self.drops.push(Detached {
            time: if body.born > 0.0 { body.born } else { self.pinch_offs.first().map_or(body.time, |p| p.time) },
            volume: body.volume() * if mirrored { 2.0 } else { 1.0 },
            position,
            velocity: if mirrored { 0.0 } else { body.born_at[1] },
            merged_from: Vec::new(),
            merged_into: None,
            held: body.volume(),
            copies: if setup.half_wave && !mirrored { 2 } else { 1 },
            flagged: body.flagged,
        });
        self.drops.len() - 1
    }

    /// Relative defect of the volume: what is there against what was there and came in.
    pub fn volume_defect(&self, setup: &Setup) -> f64 {
        let bodies: f64 = self.bodies.iter().map(Body::volume).sum();
        let drops: f64 = self.drops.iter().map(|d| d.held).sum();
        let entered = if setup.half_wave { 0.0 } else { setup.physics.inflow.volume(0.0, self.bodies[0].time) };
        let expected = self.volume_start + entered;
        ((bodies + drops + self.left - expected) / expected).abs()
    }

    /// Relative residual of the energy budget.
    pub fn energy_residual(&self, setup: &Setup) -> f64 {
        let copies = if setup.half_wave { 2.0 } else { 1.0 };
        let now: f64 = self.bodies.iter().map(|b| copies * energy(b, setup.physics.bond).total()).sum();
        let open: f64 = self.bodies.iter().map(|b| b.ledger[0] * b.ledger[1]).sum();
        self.ledger.residual(now, open, copies)
    }
}

/// Radius of a body at a place.
fn radius_at(body: &Body, z: f64) -> f64 {
    let j = body.z.partition_point(|x| *x <= z).clamp(1, body.cells()) - 1;
    body.area(j).sqrt()
}

/// Note when and where a fragment came off.
fn birth(body: &mut Body) {
    body.born = body.time;
    body.born_at = [body.centre(), body.momentum() / body.volume()];
}

/// True if the body has one swelling only.
fn single(body: &Body) -> bool {
    thinnest(body).is_none_or(|neck| neck.radius > WAIST * body.radius_max())
}

/// True if the filament has become a drop: too small to follow, or too little excess energy to break again, or without
/// a waist for long enough.
fn is_final(body: &Body, setup: &Setup) -> bool {
    if body.left != End::Symmetry && body.right == End::Outflow {
        return true;
    }
    let radius = sphere_radius(body.volume());
    if body.abandoned || radius < setup.rigid_radius || body.z[0] > setup.domain_end {
        return true;
    }
    if !single(body) {
        return false;
    }
    // mirrored halves count as wholes
    let natural = (radius * radius * radius).sqrt() * 2.0 * PI / 8f64.sqrt();
    excess(body) < FINAL_EXCESS_ENERGY
        || body.time - body.plain_since > PLAIN_TIMES * natural.max(setup.physics.ohnesorge * radius)
}

/// After a step underflow: merge the cells of free ends and around the thinnest place pairwise, and go on.
fn mend(body: &mut Body, advancer: &mut Advancer, setup: &Setup, counts: &mut SolverCounts) {
    body.flagged = true;
    for _ in 0..2 {
        let n = body.cells();
        if n < 16 {
            break;
        }
        if body.left == End::Tip {
            merge_cells(body, 0);
        }
        if body.right == End::Tip {
            merge_cells(body, body.cells() - 2);
        }
    }
    if let Some(neck) = thinnest(body).filter(|neck| neck.radius > 0.0 && neck.radius < 1.0 / NECK_BULGE) {
        merge_cells(body, neck.cell.min(body.cells() - 2));
    }
    advancer.regrid_if_due(&setup.physics, &setup.numerics, body, counts);
    body.dt = 1e-6 * body.radius_max().power(1.5);
}

/// Merge cells `j` and `j + 1`, momentum kept by the neighbours.
fn merge_cells(body: &mut Body, j: usize) {
    if body.cells() < 12 {
        return;
    }
    let half = 0.5 * (body.v[j] + body.v[j + 1]);
    let spread = half * body.u[j + 1] - 0.5 * (body.v[j + 1] * body.u[j] + body.v[j] * body.u[j + 2]);
    body.v[j] += body.v[j + 1];
    body.v.remove(j + 1);
    body.z.remove(j + 1);
    body.u.remove(j + 1);
    let neighbours =
        body.v[j] + 0.5 * (if j > 0 { body.v[j - 1] } else { 0.0 } + body.v.get(j + 1).copied().unwrap_or(0.0));
    let shift = spread / neighbours;
    for i in [j, j + 1] {
        if !(i == 0 && body.left.is_fixed() || i == body.cells() && body.right.is_fixed()) {
            body.u[i] += shift;
        }
    }
}
