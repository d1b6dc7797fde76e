//! The state of a run as flat lists, so that it can be written, read back and continued bit for bit.

use super::ledger::Ledger;
use super::necks::{MARKS, NeckLog, Seen as AtNeck};
use super::schedule::Schedule;
use super::standing::Standing;
use super::world::{AtBreak, Break, Surfactant, World};
use super::{Checkpoint, SimulateError};
use crate::drops::detached::{Detached, Sphere};
use crate::outcome::{NeckSample, PinchOff, SolverCounts};
use crate::thread::adsorption::MODES;
use crate::thread::body::Body;
use crate::thread::energy::Energy;
use crate::thread::laden::Seen;
use crate::thread::load::Load;
use crate::thread::power::Powers;

/// Changes whenever the meaning of the lists changes.
const LAYOUT: u64 = 8;

/// Write the state.
pub fn save(world: &World, schedule: &Schedule) -> Checkpoint {
    let mut to = Checkpoint::default();
    to.counts.push(LAYOUT);
    to.reals.extend([world.time, world.left, world.open_since, world.volume_start]);
    let Standing { least, volume, work } = world.standing;
    to.reals.extend([least, volume]);
    to.counts.push(work);
    to.reals.push(schedule.interval);
    to.counts.extend([schedule.passed as u64, schedule.approaches as u64]);
    let l = &world.ledger;
    for e in [l.start, l.cuts, l.regrids, l.handed] {
        to.reals.extend([e.kinetic, e.surface, e.potential]);
    }
    to.reals.extend(l.work.to_array());
    to.reals.push(l.turnover);
    to.counts.extend(count_list(&world.counts));
    to.reals.push(world.closures_from.unwrap_or(f64::INFINITY));
    list(&mut to, &world.bodies, |to, b| b.save(&mut to.reals, &mut to.counts));
    list(&mut to, &world.spheres, |to, s| {
        to.reals.extend([s.position, s.velocity, s.volume, s.time]);
        to.counts.push(s.drop as u64);
    });
    list(&mut to, &world.drops, |to, d| {
        to.reals.extend([d.time, d.volume, d.position, d.velocity, d.in_domain]);
        to.counts.extend([u64::from(d.copies), u64::from(d.flagged), optional(d.merged_into), optional(d.pinch)]);
        to.counts.push(d.merged_from.len() as u64);
        to.counts.extend(d.merged_from.iter().map(|i| *i as u64));
    });
    list(&mut to, &world.pinch_offs, |to, p| to.reals.extend([p.time, p.position, p.length, p.volume]));
    list(&mut to, &world.breaks, |to, b| {
        to.reals.extend([b.left, b.standing, b.mid_radius]);
        to.counts.push(b.pinch as u64);
    });
    let necks = &world.necks;
    list(&mut to, &necks.samples, |to, s| {
        to.reals.extend([s.time, s.position, s.radius, s.length]);
        to.counts.push(optional(s.pinch));
    });
    let seen = |to: &mut Checkpoint, s: &AtNeck| to.reals.extend([s.time, s.radius, s.position, s.length, s.beyond]);
    list(&mut to, &necks.last, seen);
    for mark in &necks.marks {
        to.counts.push(u64::from(mark.is_some()));
        seen(&mut to, &mark.unwrap_or_default());
    }
    to.counts.push(necks.open as u64);
    if carries_surfactant(&world.bodies) {
        let s = &world.surfactant;
        to.reals.extend([s.start, s.come, s.gone]);
        to.counts.push(u64::from(s.packed));
        list(&mut to, &s.drops, |to, load| {
            to.counts.push(load.amount.len() as u64);
            to.counts.push(load.memory.len() as u64);
            to.reals.extend(&load.amount);
            load.memory.iter().for_each(|list| to.reals.extend(list));
        });
        list(&mut to, &s.seen, |to, s| {
            to.counts.push(s.pinch as u64);
            for seen in [s.neck, s.drop] {
                to.reals.extend([seen.tension, seen.amount, seen.age]);
            }
        });
    }
    to
}

fn carries_surfactant(bodies: &[Body]) -> bool {
    bodies.iter().any(|body| !body.load.amount.is_empty())
}

fn list<T>(to: &mut Checkpoint, items: &[T], write: impl Fn(&mut Checkpoint, &T)) {
    to.counts.push(items.len() as u64);
    for item in items {
        write(to, item);
    }
}

/// None is the largest number.
fn optional(index: Option<usize>) -> u64 {
    index.map_or(u64::MAX, |i| i as u64)
}

fn count_list(c: &SolverCounts) -> [u64; 10] {
    [
        c.steps_accepted,
        c.steps_rejected_error,
        c.steps_rejected_pivot,
        c.steps_rejected_crossing,
        c.regrids,
        c.pinches,
        c.coalescences,
        c.rollbacks,
        c.frozen,
        c.cells_max,
    ]
}

/// Reads the lists in order.
struct From<R, C> {
    reals: R,
    counts: C,
}

impl<R: Iterator<Item = f64>, C: Iterator<Item = u64>> From<R, C> {
    fn real(&mut self) -> Option<f64> {
        self.reals.next()
    }

    fn count(&mut self) -> Option<u64> {
        self.counts.next()
    }

    fn index(&mut self) -> Option<usize> {
        usize::try_from(self.count()?).ok()
    }

    fn optional(&mut self) -> Option<Option<usize>> {
        match self.count()? {
            u64::MAX => Some(None),
            i => Some(Some(usize::try_from(i).ok()?)),
        }
    }

    fn list<T>(&mut self, mut read: impl FnMut(&mut Self) -> Option<T>) -> Option<Vec<T>> {
        let n = self.count()?;
        // grows only as far as the lists really go
        (0..n).map(|_| read(self)).collect()
    }

    fn energy(&mut self) -> Option<Energy> {
        Some(Energy { kinetic: self.real()?, surface: self.real()?, potential: self.real()? })
    }

    /// A load of one cell, or of none.
    fn pooled(&mut self) -> Option<Load> {
        let (cells, lists) = (self.count()?, self.count()?);
        if cells > 1 || lists > 2 + MODES as u64 {
            return None;
        }
        let mut list = || (0..cells).map(|_| self.real()).collect::<Option<Vec<f64>>>();
        let amount = list()?;
        let memory = (0..lists).map(|_| list()).collect::<Option<_>>()?;
        Some(Load { amount, memory, ..Load::default() })
    }

    fn neck(&mut self) -> Option<AtNeck> {
        Some(AtNeck {
            time: self.real()?,
            radius: self.real()?,
            position: self.real()?,
            length: self.real()?,
            beyond: self.real()?,
        })
    }

    fn world(&mut self) -> Option<(World, Schedule)> {
        if self.count()? != LAYOUT {
            return None;
        }
        let (time, left) = (self.real()?, self.real()?);
        let (open_since, volume_start) = (self.real()?, self.real()?);
        let standing = Standing { least: self.real()?, volume: self.real()?, work: self.count()? };
        let schedule =
            Schedule { interval: self.real().filter(|d| *d > 0.0)?, passed: self.index()?, approaches: self.index()? };
        let (start, cuts, regrids, handed) = (self.energy()?, self.energy()?, self.energy()?, self.energy()?);
        let mut work = Powers::default().to_array();
        for power in &mut work {
            *power = self.real()?;
        }
        let turnover = self.real()?;
        let ledger = Ledger { start, work: Powers::from_array(work), turnover, cuts, regrids, handed };
        let counts = SolverCounts {
            steps_accepted: self.count()?,
            steps_rejected_error: self.count()?,
            steps_rejected_pivot: self.count()?,
            steps_rejected_crossing: self.count()?,
            regrids: self.count()?,
            pinches: self.count()?,
            coalescences: self.count()?,
            rollbacks: self.count()?,
            frozen: self.count()?,
            cells_max: self.count()?,
        };
        let closures_from = Some(self.real()?).filter(|time| time.is_finite());
        let bodies = self.list(|f| Body::load(&mut f.reals, &mut f.counts))?;
        if bodies.is_empty() {
            return None;
        }
        let spheres = self.list(|f| {
            let (position, velocity, volume, time) = (f.real()?, f.real()?, f.real()?, f.real()?);
            Some(Sphere { position, velocity, volume, time, drop: f.index()? })
        })?;
        let drops = self.list(|f| {
            let (time, volume, position, velocity, in_domain) = (f.real()?, f.real()?, f.real()?, f.real()?, f.real()?);
            let copies = u32::try_from(f.count()?).ok()?;
            let flagged = f.count()? != 0;
            let (merged_into, pinch) = (f.optional()?, f.optional()?);
            let merged_from = f.list(Self::index)?;
            Some(Detached {
                time,
                volume,
                position,
                velocity,
                merged_from,
                merged_into,
                copies,
                in_domain,
                flagged,
                pinch,
            })
        })?;
        let pinch_offs = self
            .list(|f| Some(PinchOff { time: f.real()?, position: f.real()?, length: f.real()?, volume: f.real()? }))?;
        let breaks = self.list(|f| {
            let (left, standing, mid_radius) = (f.real()?, f.real()?, f.real()?);
            Some(Break { pinch: f.index()?, left, standing, mid_radius })
        })?;
        let samples = self.list(|f| {
            let (time, position, radius, length) = (f.real()?, f.real()?, f.real()?, f.real()?);
            Some(NeckSample { time, position, radius, length, pinch: f.optional()? })
        })?;
        let last = self.list(Self::neck)?;
        let mut marks = [None; MARKS.len()];
        for mark in &mut marks {
            let there = self.count()? != 0;
            let seen = self.neck()?;
            *mark = there.then_some(seen);
        }
        let open = self.index().filter(|i| *i <= samples.len())?;
        let sound = spheres.iter().all(|s| s.drop < drops.len())
            && drops.iter().all(|d| d.pinch.is_none_or(|p| p < pinch_offs.len()))
            && breaks.iter().all(|b| b.pinch < pinch_offs.len());
        let surfactant = if carries_surfactant(&bodies) {
            let (start, come, gone, packed) = (self.real()?, self.real()?, self.real()?, self.count()? != 0);
            let drops = self.list(Self::pooled)?;
            let seen = self.list(|f| {
                let pinch = f.index()?;
                let mut surface = || Some(Seen { tension: f.real()?, amount: f.real()?, age: f.real()? });
                Some(AtBreak { pinch, neck: surface()?, drop: surface()? })
            })?;
            Surfactant { start, come, gone, packed, drops, seen }
        } else {
            Surfactant::default()
        };
        let necks = NeckLog { samples, marks, last, open };
        let world = World {
            time,
            standing,
            bodies,
            spheres,
            drops,
            pinch_offs,
            breaks,
            necks,
            left,
            open_since,
            ledger,
            counts,
            volume_start,
            tape: Default::default(),
            surfactant,
            closures_from,
            work: 0,
        };
        sound.then_some((world, schedule))
    }
}

/// Read the state back.
pub fn load(from: &Checkpoint) -> Result<(World, Schedule), SimulateError> {
    let mut lists = From { reals: from.reals.iter().copied(), counts: from.counts.iter().copied() };
    let read = lists.world();
    let finished = lists.reals.next().is_none() && lists.counts.next().is_none();
    match read {
        Some(state) if finished => Ok(state),
        _ => Err(SimulateError::ForeignCheckpoint("its lists are not those of this version".into())),
    }
}
