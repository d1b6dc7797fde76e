//! All bodies of a run, moved together to common times.
//!
//! Each body is stepped by itself with its own step; a pinch-off adds a body, a body that has become a drop leaves the
//! list and flies on as a sphere. Everything here is scaled (see [`crate::thread`]).

use super::contact::coalesce;
use super::ending::filled_at;
use super::ledger::{Balance, Ledger};
use super::mend::mend;
use super::necks::NeckLog;
use super::setup::Setup;
use super::snapshots::Tape;
use super::standing::Standing;
use crate::drops::detached::{Detached, Sphere, sphere_radius};
use crate::outcome::{PinchOff, SolverCounts};
use crate::pinch_off::cut::{absorb_left, absorb_right};
use crate::pinch_off::neck::{Neck, Verdict, judge, thinnest, volume_beyond};
use crate::pinch_off::string::{part, string};
use crate::thread::advance::Advancer;
use crate::thread::body::{Body, End};
use crate::thread::energy::{Energy, energy, excess};
use crate::thread::laden;
use crate::thread::load::Load;
use crate::tolerances::{FILLING_NECK, FINAL_EXCESS_ENERGY};
use std::f64::consts::PI;

/// Why a body could not be moved on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stall {
    /// The step fell below the smallest even after the ends were coarsened.
    StepUnderflow,
    /// The step budget of the run is used up.
    StepBudget,
    /// A jet that crosses its drop has been followed for long enough without a breakup.
    UnbrokenJet,
    /// Whoever listens wants no more.
    Interrupted,
}

/// A pinch-off of the attached thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Break {
    /// Which pinch-off.
    pub pinch: usize,
    /// Volume that it left on the nozzle where the thread is thinner than a drop: what waits in line to become drops.
    pub left: f64,
    /// Least that the attached thread has stood out since the one before ([`Standing`]).
    pub standing: f64,
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
    /// The attached thread since its last breakup.
    pub standing: Standing,
    /// Neck history of the attached thread.
    pub necks: NeckLog,
    /// Volume that left through the outflow.
    pub left: f64,
    /// When the end of the attached thread was last within the domain.
    pub open_since: f64,
    /// Energy in and out.
    pub ledger: Ledger,
    /// Counts by cause.
    pub counts: SolverCounts,
    /// Volume at the start.
    pub volume_start: f64,
    /// Copies for snapshots; no part of the state.
    pub tape: Tape,
    /// Surfactant on its way.
    pub surfactant: Surfactant,
    /// When two fields were left for closures, since they came no further.
    pub closures_from: Option<f64>,
    /// Cells times steps of all bodies since this process took the run up; no part of the state.
    pub work: u64,
}

/// Steps between two looks at whether the listener wants to go on.
const ASK_EVERY: u64 = 256;
/// Breakups of the attached thread from which all are brought to one time, whatever the time aimed at: a spike sheds drops a million
/// times smaller than the one that was guessed.
const BREAKS_AT_ONCE: usize = 16;
/// How many times a body's mesh is mended at one place before the run gives up.
const MENDS_MAX: u32 = 6;
/// Most steps of a filament between two common times before its shape is given up.
const FILAMENT_STEPS: u64 = 6_000;
/// A filament without a waist for this many of its natural times has become a drop.
const PLAIN_TIMES: f64 = 1.5;
/// A waist shallower than this share of the largest radius is none.
const WAIST: f64 = 0.93;

/// Breakups looked back on for the size of a drop.
const SATELLITES: usize = 3;

/// Volume of a body where it is thinner than `radius`.
fn thinner(body: &Body, radius: f64) -> f64 {
    (0..body.cells()).filter(|j| body.area(*j) < radius * radius).map(|j| body.v[j]).sum()
}

impl World {
    /// A world with one body at rest or in motion.
    pub fn new(start: Body, bond: f64) -> World {
        let volume = start.volume();
        let copies = if start.right == End::Symmetry { 2.0 } else { 1.0 };
        let surfactant = Surfactant { start: start.load.total_amount(), ..Surfactant::default() };
        let standing = Standing::of(&start);
        World {
            time: 0.0,
            ledger: Ledger::starting(energy(&start, bond) * copies),
            bodies: vec![start],
            spheres: Vec::new(),
            drops: Vec::new(),
            pinch_offs: Vec::new(),
            breaks: Vec::new(),
            necks: NeckLog::default(),
            left: 0.0,
            open_since: 0.0,
            counts: SolverCounts::default(),
            volume_start: volume,
            standing,
            tape: Tape::default(),
            surfactant,
            closures_from: None,
            work: 0,
        }
    }

    /// Move everything to `target`, or to when the thread on the nozzle fills its glass, which ends a run for drops, or has broken so often
    /// that what came off must be looked at; `go_on` is asked every few hundred steps whether to go on.
    pub fn advance(
        &mut self,
        setup: &Setup,
        advancer: &mut Advancer,
        target: f64,
        go_on: &mut dyn FnMut(&World) -> bool,
    ) -> Result<(), Stall> {
        let (mut k, first) = (1, self.pinch_offs.len());
        self.follow(setup, advancer, 0, target, go_on)?;
        let target = target.min(self.bodies[0].time);
        while k < self.bodies.len() {
            self.follow(setup, advancer, k, target, go_on)?;
            k += 1;
        }
        self.order_pinches(first);
        self.time = target;
        self.retire(setup);
        for sphere in &mut self.spheres {
            setup.fly(sphere, target);
        }
        if setup.coalescence {
            coalesce(self, setup);
        }
        self.spheres.retain(|s| s.position < setup.domain_end + 10.0);
        Ok(())
    }

    /// Bodies are moved one after the other: put the pinch-offs from `first` on in order of time.
    fn order_pinches(&mut self, first: usize) {
        let mut order: Vec<usize> = (first..self.pinch_offs.len()).collect();
        order.sort_by(|a, b| self.pinch_offs[*a].time.total_cmp(&self.pinch_offs[*b].time));
        if order.is_sorted() {
            return;
        }
        let new = |old: usize| order.iter().position(|i| *i == old).map_or(old, |i| first + i);
        let sorted: Vec<PinchOff> = order.iter().map(|i| self.pinch_offs[*i].clone()).collect();
        self.pinch_offs.truncate(first);
        self.pinch_offs.extend(sorted);
        for b in self.breaks.iter_mut().rev().take_while(|b| b.pinch >= first) {
            b.pinch = new(b.pinch);
        }
        for seen in self.surfactant.seen.iter_mut().rev().take_while(|s| s.pinch >= first) {
            seen.pinch = new(seen.pinch);
        }
        for body in self.bodies.iter_mut().filter(|b| b.parent_pinch > first as u64) {
            body.parent_pinch = new(body.parent_pinch as usize - 1) as u64 + 1;
        }
        for pinch in self.drops.iter_mut().rev().filter_map(|d| d.pinch.as_mut()).filter(|p| **p >= first) {
            *pinch = new(*pinch);
        }
        for pinch in self.necks.samples.iter_mut().rev().filter_map(|s| s.pinch.as_mut()).filter(|p| **p >= first) {
            *pinch = new(*pinch);
        }
    }

    /// Move body `k` to `target`; fragments it sheds are appended and take their turn.
    fn follow(
        &mut self,
        setup: &Setup,
        advancer: &mut Advancer,
        k: usize,
        target: f64,
        go_on: &mut dyn FnMut(&World) -> bool,
    ) -> Result<(), Stall> {
        let (mut mends, started, breaks) = (0, self.counts.steps_accepted, self.breaks.len());
        while self.bodies[k].time < target {
            if self.counts.steps_accepted >= setup.step_budget {
                return Err(Stall::StepBudget);
            }
            if setup.leaves_jets && self.standing.is_unbroken_jet() {
                return Err(Stall::UnbrokenJet);
            }
            if self.counts.steps_accepted % ASK_EVERY == ASK_EVERY - 1 && !go_on(self) {
                return Err(Stall::Interrupted);
            }
            let body = &mut self.bodies[k];
            match advancer.step(&setup.physics, &setup.numerics, body, target, &mut self.counts) {
                Ok((dt, report)) => {
                    self.work += body.cells() as u64;
                    self.surfactant.come += report.surfactant;
                    self.ledger.step(dt, &report);
                }
                Err(_) if mends < MENDS_MAX => {
                    mends += 1;
                    self.counts.rollbacks += 1;
                    let before = energy(body, setup.physics.bond);
                    mend(body, advancer, setup, &mut self.counts);
                    self.ledger.regrids = self.ledger.regrids + (energy(body, setup.physics.bond) - before);
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
                let amount = self.bodies[k].load.total_amount();
                let closed = self.bodies[k].right != End::Outflow;
                let (gone, energy) = setup.clip(&mut self.bodies[k]);
                if k == 0 && closed {
                    self.open_since = self.bodies[0].time;
                }
                self.surfactant.gone += amount - self.bodies[k].load.total_amount();
                self.left += gone;
                self.ledger.hand_over(energy);
            }
            self.tape.note(k, &self.bodies[k]);
            self.look_for_neck(setup, k);
            let sprays = self.breaks.len() >= breaks + BREAKS_AT_ONCE;
            if k == 0 && (sprays || setup.ends_when_filled() && filled_at(setup, &self.bodies[0]).is_some()) {
                break;
            }
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
            self.standing.look(body, self.breaks.is_empty());
            self.necks.sample(body, neck.as_ref(), self.pinch_offs.len());
            let cut = setup.numerics.fineness.neck_cut;
            self.tape.note_neck(&self.necks.last, cut, self.breaks.len());
            let waist = neck.as_ref().map_or(1.0, |n| n.radius);
            let hangs = body.left == End::Nozzle;
            let filling = setup.overdamped && hangs && waist > FILLING_NECK;
            let body = &mut self.bodies[0];
            let follows = if hangs { setup.follows_to(body, waist) } else { None };
            (body.filling, body.follows) = (filling, follows.is_some());
            body.follows_to = follows.unwrap_or(f64::INFINITY);
        }
        let Some(neck) = neck else { return };
        let body = &self.bodies[k];
        if neck.radius < WAIST * body.radius_max() {
            self.bodies[k].plain_since = self.bodies[k].time;
        }
        let held = !setup.half_wave && string(&self.bodies[k], &neck).is_some();
        let verdict = if held { Verdict::Cut } else { judge(&self.bodies[k], &neck, setup.numerics.fineness.neck_cut) };
        match verdict {
            Verdict::Wait => {}
            Verdict::Cut => self.pinch(setup, k, &neck),
            Verdict::AbsorbRight | Verdict::AbsorbLeft => {
                let before = energy(&self.bodies[k], setup.physics.bond);
                let absorb = if verdict == Verdict::AbsorbRight { absorb_right } else { absorb_left };
                absorb(&mut self.bodies[k], &neck);
                self.ledger.cuts = self.ledger.cuts + (energy(&self.bodies[k], setup.physics.bond) - before);
            }
        }
    }

    /// Cut body `k` at the neck.
    fn pinch(&mut self, setup: &Setup, k: usize, neck: &Neck) {
        if k == 0 {
            self.tape.about_to_cut(&self.bodies[0], self.breaks.len());
        }
        self.cut_at(setup, k, neck);
        self.tape.note_cut(k, &self.bodies[k]);
    }

    fn cut_at(&mut self, setup: &Setup, k: usize, neck: &Neck) {
        let body = &self.bodies[k];
        let attached = k == 0;
        let seen = if attached { self.necks.when(setup.numerics.fineness.neck_cut) } else { None };
        let held = if setup.half_wave { None } else { string(body, neck) };
        let (now, last) = (body.time, self.breaks.last().map_or(0.0, |b| self.pinch_offs[b.pinch].time));
        // a held thread has no instant at which its radius vanishes
        self.pinch_offs.push(PinchOff {
            time: if attached && held.is_none() { self.necks.pinched_at(now, neck.radius, last) } else { now },
            position: seen.map_or(neck.position, |s| s.position),
            length: seen.map_or(body.z[body.cells()], |s| s.length) - if attached { 0.0 } else { body.z[0] },
            volume: seen.map_or_else(|| volume_beyond(body, neck), |s| s.beyond),
        });
        self.counts.pinches += 1;
        let number = self.pinch_offs.len() as u64;
        let (mut stays, off) = part(body, neck, held);
        if attached && setup.carries_surfactant() {
            let drop = off.as_ref().unwrap_or(&stays);
            let seen = laden::seen(body, neck.cell..neck.cell + 1).zip(laden::seen(drop, 0..drop.cells()));
            let pinch = self.pinch_offs.len() - 1;
            self.surfactant.seen.extend(seen.map(|(neck, drop)| AtBreak { pinch, neck, drop }));
        }
        if attached {
            let pinch = self.pinch_offs.len() - 1;
            let drop = self.latest_drop().unwrap_or(0.0).max(self.pinch_offs[pinch].volume);
            let mid_radius = radius_at(body, 0.5 * neck.position);
            let (left, standing) = (thinner(&stays, sphere_radius(drop)), self.standing.least);
            self.breaks.push(Break { pinch, left, standing, mid_radius });
            self.standing = Standing::of(&stays);
            self.necks.pinched(number as usize - 1);
        }
        let bond = setup.physics.bond;
        let mut change = energy(&stays, bond) - energy(body, bond);
        if let Some(off) = &off {
            change = change + energy(off, bond);
        }
        self.ledger.cuts = self.ledger.cuts + change;
        stays.follows = false;
        let Some(mut off) = off else {
            self.bodies[k] = stays;
            return;
        };
        off.follows = false;
        // of two parts of a filament the larger one keeps the filament's birth
        for part in [&mut off, &mut stays] {
            part.plain_since = body.time;
        }
        if attached || off.volume() <= stays.volume() {
            birth(&mut off, number);
        } else {
            birth(&mut stays, number);
        }
        self.bodies[k] = stays;
        if off.right == End::Outflow {
            // what goes on beyond the end of the domain is no drop
            self.left += off.volume();
            self.surfactant.gone += off.load.total_amount();
            self.ledger.hand_over(energy(&off, setup.physics.bond));
        } else if is_final(&off, setup) {
            self.finish(off, setup);
        } else {
            self.tape.note_cut(self.bodies.len(), &off);
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
        let recorded = |w: &World| w.drops.iter().any(|d| d.in_domain == 0.0);
        if setup.half_wave && self.bodies[0].right == End::Tip && is_final(&self.bodies[0], setup) && !recorded(self) {
            let body = self.bodies[0].clone();
            let drop = self.record(&body, setup);
            // the half drop stays in the list: it is the start of the next wave
            self.drops[drop].in_domain = 0.0;
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

    fn finish(&mut self, body: Body, setup: &Setup) {
        self.surfactant.packed |= laden::is_packed(&body);
        let copies = if setup.half_wave { 2.0 } else { 1.0 };
        self.ledger.hand_over(energy(&body, setup.physics.bond) * copies);
        let drop = self.record(&body, setup);
        if setup.carries_surfactant() {
            self.surfactant.keep(drop, body.load.pooled());
        }
        self.counts.frozen += 1;
        self.spheres.push(Sphere {
            drop,
            position: if body.right == End::Symmetry { body.z[body.cells()] } else { body.centre() },
            velocity: if body.right == End::Symmetry { 0.0 } else { body.momentum() / body.volume() },
            volume: self.drops[drop].volume,
            time: body.time,
        });
        self.tape.note_sphere(&self.spheres[self.spheres.len() - 1]);
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
            in_domain: body.volume(),
            copies: if setup.half_wave && !mirrored { 2 } else { 1 },
            flagged: body.flagged,
            pinch: match body.parent_pinch {
                0 => (!self.pinch_offs.is_empty()).then_some(0),
                number => Some(number as usize - 1),
            },
        });
        self.drops.len() - 1
    }

    /// Volume of the latest drop. A satellite comes off soon after its drop: the larger of the latest ones is a drop.
    pub fn latest_drop(&self) -> Option<f64> {
        let late = self.breaks.iter().rev().take(SATELLITES).map(|b| self.pinch_offs[b.pinch].volume);
        late.reduce(f64::max)
    }

    /// Whether all of the attached thread has come out of the nozzle since its end left the domain: it has then shown once, from end to
    /// end and without what its start did, that it passes unbroken.
    pub fn passes_unbroken(&self, setup: &Setup) -> bool {
        let (thread, since) = (&self.bodies[0], self.open_since);
        thread.right == End::Outflow && setup.physics.inflow.volume(since, thread.time - since) > thread.volume()
    }

    /// Relative defect of the volume: what is there against what was there and came in.
    pub fn volume_defect(&self, setup: &Setup) -> f64 {
        let bodies: f64 = self.bodies.iter().map(Body::volume).sum();
        let drops: f64 = self.drops.iter().map(|d| d.in_domain).sum();
        let entered = if setup.half_wave { 0.0 } else { setup.physics.inflow.volume(0.0, self.bodies[0].time) };
        let expected = self.volume_start + entered;
        ((bodies + drops + self.left - expected) / expected).abs()
    }

    /// The same of the surfactant; `None` where there is none.
    pub fn surfactant_defect(&self, setup: &Setup) -> Option<f64> {
        if !setup.carries_surfactant() {
            return None;
        }
        let bodies: f64 = self.bodies.iter().map(|b| b.load.total_amount()).sum();
        let drops: f64 = self.surfactant.drops.iter().map(Load::total_amount).sum();
        let expected = self.surfactant.start + self.surfactant.come;
        let open = (bodies + drops + self.surfactant.gone - expected).abs();
        Some(if open > 0.0 { open / expected.abs() } else { 0.0 })
    }

    /// Whether some surface is or was packed with surfactant.
    pub fn is_packed(&self) -> bool {
        self.surfactant.packed || self.bodies.iter().any(laden::is_packed)
    }

    /// The energy budget so far, scaled.
    pub fn budget(&self, setup: &Setup) -> Balance {
        let copies = if setup.half_wave { 2.0 } else { 1.0 };
        let there = self.bodies.iter().fold(Energy::default(), |sum, b| sum + energy(b, setup.physics.bond) * copies);
        self.ledger.balance(there, copies)
    }
}

/// Surfactant at the start, what came since, what left the domain, what is on drops, and what the surface was like at each breakup.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Surfactant {
    pub start: f64,
    pub come: f64,
    pub gone: f64,
    /// Whether a drop's surface was packed with it.
    pub packed: bool,
    /// On each drop that is no longer followed in shape, as one cell.
    pub drops: Vec<Load>,
    /// At each breakup of the attached thread.
    pub seen: Vec<AtBreak>,
}

/// The surface when a drop came off.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct AtBreak {
    /// Which pinch-off.
    pub pinch: usize,
    pub neck: laden::Seen,
    pub drop: laden::Seen,
}

impl Surfactant {
    /// Keep what is on drop `number`.
    pub fn keep(&mut self, number: usize, load: Load) {
        if self.drops.len() <= number {
            self.drops.resize(number + 1, Load::default());
        }
        self.drops[number] = load;
    }

    /// Take what is on drop `number`.
    pub fn take(&mut self, number: usize) -> Load {
        self.drops.get_mut(number).map(std::mem::take).unwrap_or_default()
    }
}

/// Radius of a body at a place.
fn radius_at(body: &Body, z: f64) -> f64 {
    let j = body.z.partition_point(|x| *x <= z).clamp(1, body.cells()) - 1;
    body.area(j).sqrt()
}

/// Note when, where and at which pinch-off (counted from 1) a fragment came off.
fn birth(body: &mut Body, pinch: u64) {
    body.parent_pinch = pinch;
    body.born = body.time;
    body.born_at = [body.centre(), body.momentum() / body.volume()];
}

/// True if the body has one bulge only.
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
