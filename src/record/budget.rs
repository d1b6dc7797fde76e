//! The energy budget as series over time, beside the snapshots.
//!
//! ```text
//! /budget    sample_time (sample); snapshot_index (sample): which snapshot it belongs to;
//!            kinetic, surface, potential, inlet, outflow, outer_drag, outer_stress, film, added_mass, viscous, artificial, cuts,
//!            regrids (sample): J, what each cause has put in since the start (negative: taken out); open (sample): relative
//! ```
//! One row for each evenly spaced snapshot. The changes of the first three equal the sum of the others up to what stays open.

use super::RecordError;
use super::netcdf::{Growing, along, dimension, meaning, subgroup};
use super::read::Opened;
use crate::outcome::{Budget, Frame};
use hdf5::Group;

/// An entry: its name, its meaning and where it is in a budget.
type Entry = (&'static str, &'static str, fn(&mut Budget) -> &mut f64);

const ENTRIES: [Entry; 13] = [
    ("kinetic", "change of kinetic energy, of drops as they were when they came off", |b| &mut b.kinetic_j),
    ("surface", "change of surface energy, of drops as they were when they came off", |b| &mut b.surface_j),
    ("potential", "change of potential energy, of drops as they were when they came off", |b| &mut b.potential_j),
    ("inlet", "work of the liquid that enters, by its pressure and speed", |b| &mut b.inlet_j),
    ("outflow", "work of the thread beyond the end of the domain", |b| &mut b.outflow_j),
    ("outer_drag", "work of the outer liquid's drag", |b| &mut b.outer_drag_j),
    ("outer_stress", "work of the outer liquid's normal stress", |b| &mut b.outer_stress_j),
    ("film", "work of the liquid film between drop and wall", |b| &mut b.film_j),
    ("added_mass", "kinetic energy that the outer liquid took up as added mass", |b| &mut b.added_mass_j),
    ("viscous", "work of the inner viscosity", |b| &mut b.viscous_j),
    ("artificial", "work of the artificial viscosity", |b| &mut b.artificial_j),
    ("cuts", "energy that cuts with their caps and joints brought", |b| &mut b.cuts_j),
    ("regrids", "energy that new meshes brought", |b| &mut b.regrids_j),
];

/// Takes the budgets that snapshots bring along.
pub(super) struct BudgetWriter {
    group: Group,
    time: Growing<f64>,
    snapshot: Growing<i32>,
    entries: Vec<Growing<f64>>,
    open: Growing<f64>,
    /// Snapshots so far.
    seen: i32,
}

impl BudgetWriter {
    pub(super) fn new(root: &Group) -> hdf5::Result<Self> {
        let group = subgroup(root, "budget")?;
        let entry = |e: &Entry| Growing::new(&group, meaning(e.0, "J", e.1));
        Ok(BudgetWriter {
            time: Growing::new(&group, meaning("sample_time", "s", "time of the sample"))?,
            snapshot: Growing::new(&group, meaning("snapshot_index", "1", "index of the snapshot in the root group"))?,
            entries: ENTRIES.iter().map(entry).collect::<hdf5::Result<_>>()?,
            open: Growing::new(&group, meaning("open", "1", "what stays open, over the energy turned over"))?,
            group,
            seen: 0,
        })
    }

    pub(super) fn push(&mut self, frame: &Frame) -> hdf5::Result<()> {
        if let Some(mut budget) = frame.budget {
            self.time.extend(&[frame.time])?;
            self.snapshot.extend(&[self.seen])?;
            for (column, (_, _, of)) in self.entries.iter_mut().zip(&ENTRIES) {
                column.extend(&[*of(&mut budget)])?;
            }
            self.open.extend(&[budget.open_relative])?;
        }
        self.seen += 1;
        Ok(())
    }

    pub(super) fn finish(self) -> hdf5::Result<()> {
        let (time, samples) = self.time.finish()?;
        dimension(&self.group, meaning("sample", "1", "samples of the budget in order of time"), samples)?;
        along(&self.group, &time, "sample")?;
        along(&self.group, &self.snapshot.finish()?.0, "sample")?;
        for column in self.entries.into_iter().chain([self.open]) {
            along(&self.group, &column.finish()?.0, "sample")?;
        }
        Ok(())
    }
}

/// Gives the snapshots their budgets back; a record without them has none.
pub(super) fn read(root: &Opened, frames: &mut [Frame]) -> Result<(), RecordError> {
    if !root.has("budget") {
        return Ok(());
    }
    let from = root.group("budget")?;
    let snapshots = from.counts("snapshot_index")?;
    let open = from.reals("open")?;
    from.same_length(&[("snapshot_index", snapshots.len()), ("open", open.len())])?;
    from.all_finite(&[("open", &open)])?;
    let mut rows: Vec<Budget> = open.iter().map(|o| Budget { open_relative: *o, ..Budget::default() }).collect();
    for (name, _, of) in ENTRIES {
        let column = from.reals(name)?;
        from.same_length(&[("snapshot_index", snapshots.len()), (name, column.len())])?;
        from.all_finite(&[(name, &column)])?;
        rows.iter_mut().zip(column).for_each(|(row, value)| *of(row) = value);
    }
    for (snapshot, row) in snapshots.iter().zip(rows) {
        let frame = frames.get_mut(*snapshot).ok_or_else(|| from.damaged("`snapshot_index` names no snapshot"))?;
        frame.budget = Some(row);
    }
    Ok(())
}
