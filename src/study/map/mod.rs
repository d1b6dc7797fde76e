//! Where a device drips, jets and makes satellites: keys varied over a grid, or a table of cases.
//!
//! ```text
//! axes -> plan (cells in one fixed order) -> a case and its answer for each cell -> rows -> border between modes
//! ```
//! Case i depends on the plan and on i alone, so a map comes out the same whatever the number of threads, killed and resumed or
//! not, whole or in shards. A cell that fails is a row that says why.

pub mod axis;
pub mod border;
mod error;
pub mod fill;
pub mod score;
pub mod shard;

pub use axis::{Axis, Spacing};
pub use border::BorderPoint;
pub use error::{AxisError, MergeError, PlanError, ShardError};
pub use shard::Shard;

use crate::outcome::{Mode, Outcome, Stopped};
use crate::tolerances::SATELLITE_FREE;
use serde::{Deserialize, Serialize};

/// Layout of the written table and its version.
pub const SCHEMA: &str = "slenderjet-map-3";

/// Most cells of a plan: at a quarter of a second each a day of one core.
pub const CELLS_MAX: usize = 400_000;

/// What is varied, in which order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Plan {
    /// Varied keys; the last one varies fastest.
    pub axes: Vec<Axis>,
    /// SI values of the keys in each cell, where the cells are no grid; the axes then have no values of their own.
    #[serde(default)]
    pub rows: Vec<Vec<f64>>,
}

/// Most varied keys: the dimensions of an array that readers open without trouble.
const AXES_MAX: usize = 16;

impl Plan {
    /// A grid over different keys.
    ///
    /// # Errors
    /// Where there are none or too many axes, a key twice, or too many cells.
    pub fn new(axes: Vec<Axis>) -> Result<Plan, PlanError> {
        different(&axes)?;
        let cells = axes.iter().try_fold(1_usize, |cells, axis| cells.checked_mul(axis.values.len()));
        match cells.filter(|cells| *cells <= CELLS_MAX) {
            Some(_) => Ok(Plan { axes, rows: Vec::new() }),
            None => Err(PlanError::TooLarge { sides: axes.iter().map(|axis| axis.values.len()).collect() }),
        }
    }

    /// A table of cases; `axes` name the keys.
    ///
    /// # Errors
    /// Where it is empty, too long, or has a key twice or rows of another length.
    pub fn of_rows(axes: Vec<Axis>, rows: Vec<Vec<f64>>) -> Result<Plan, PlanError> {
        different(&axes)?;
        if rows.is_empty() || rows.len() > CELLS_MAX {
            return Err(PlanError::Rows { count: rows.len() });
        }
        if rows.iter().any(|row| row.len() != axes.len()) {
            return Err(PlanError::Ragged);
        }
        Ok(Plan { axes, rows })
    }

    /// Number of cells.
    pub fn len(&self) -> usize {
        if self.rows.is_empty() { self.axes.iter().map(|axis| axis.values.len()).product() } else { self.rows.len() }
    }

    /// True without cells.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Position along each axis of cell `index`.
    pub fn position(&self, index: usize) -> Vec<usize> {
        if !self.rows.is_empty() {
            return vec![index];
        }
        let mut rest = index;
        let mut position: Vec<usize> = Vec::with_capacity(self.axes.len());
        for axis in self.axes.iter().rev() {
            position.push(rest % axis.values.len());
            rest /= axis.values.len();
        }
        position.reverse();
        position
    }

    /// Index of the cell at a position.
    pub fn index(&self, position: &[usize]) -> usize {
        self.axes.iter().zip(position).fold(0, |index, (axis, at)| index * axis.values.len() + at)
    }

    /// SI values of the varied keys in cell `index`.
    pub fn values(&self, index: usize) -> Vec<f64> {
        if let Some(row) = self.rows.get(index) {
            return row.clone();
        }
        self.position(index).iter().zip(&self.axes).map(|(at, axis)| axis.values[*at]).collect()
    }
}

fn different(axes: &[Axis]) -> Result<(), PlanError> {
    if axes.is_empty() || axes.len() > AXES_MAX {
        return Err(PlanError::Keys { count: axes.len() });
    }
    match (1..axes.len()).find(|i| axes[..*i].iter().any(|axis| axis.key == axes[*i].key)) {
        Some(twice) => Err(PlanError::VariedTwice { key: axes[twice].key.clone() }),
        None => Ok(()),
    }
}

/// Whether a cell was answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Status {
    /// The run came to its end.
    Done,
    /// The run came to its end before the device settled: the mode stands, mean and rate are not told.
    #[serde(rename = "not established")]
    NotEstablished,
    /// The run gave up before; what it had found stands, and the reason says why it stopped.
    Partial,
    /// No answer; the reason says why.
    Failed,
}

impl Status {
    /// The word in tables.
    pub fn word(self) -> &'static str {
        match self {
            Status::Done => "done",
            Status::NotEstablished => "not established",
            Status::Partial => "partial",
            Status::Failed => "failed",
        }
    }

    /// The status that a word in a table stands for.
    pub fn from_word(word: &str) -> Option<Status> {
        [Status::Done, Status::NotEstablished, Status::Partial, Status::Failed].into_iter().find(|s| s.word() == word)
    }
}

/// The answer of one cell. SI; missing is `None`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Row {
    /// Cell in the plan.
    pub index: usize,
    /// SI values of the varied keys.
    pub values: Vec<f64>,
    /// `None` where the cell gave no answer.
    pub mode: Option<Mode>,
    pub mean_diameter_m: Option<f64>,
    /// Where the diameter of a bench drop is expected to lie (90 %); `None` where it is not known, or too wide to tell anything.
    #[serde(default)]
    pub size_low_m: Option<f64>,
    #[serde(default)]
    pub size_high_m: Option<f64>,
    /// Whether the run came to repeat itself; `None` where there was no run.
    #[serde(default)]
    pub established: Option<bool>,
    /// The model's own error of it, relative; `None` where nothing outside the model tells.
    pub model_error_relative: Option<f64>,
    pub cv: Option<f64>,
    pub rate_per_s: Option<f64>,
    pub satellites_per_primary: Option<f64>,
    pub satellite_volume_fraction: Option<f64>,
    pub jet_length_m: Option<f64>,
    pub first_pinch_s: Option<f64>,
    pub status: Status,
    /// Why it failed or stopped early; empty where it did neither.
    pub reason: String,
    /// Codes of the validity limits that the cell exceeds, separated by spaces.
    pub warnings: String,
    /// Settled primary drops behind mean and spread.
    pub settled_drops: usize,
}

impl Row {
    /// The row of a run.
    pub fn answered(index: usize, values: Vec<f64>, outcome: &Outcome) -> Row {
        let s = &outcome.summary;
        let (status, reason) = match s.stopped {
            end if end.is_physical() => (Status::Done, end.word().to_owned()),
            Stopped::DropsReached | Stopped::Until if !s.established.is => {
                (Status::NotEstablished, format!("not established: {}", s.established.why))
            }
            end if end.is_answer() => (Status::Done, String::new()),
            short => (Status::Partial, format!("stopped early: {short}")),
        };
        Row {
            index,
            values,
            mode: Some(s.mode),
            mean_diameter_m: s.primary.mean_diameter_m,
            size_low_m: s.size.low_m,
            size_high_m: s.size.high_m,
            established: Some(s.established.is),
            model_error_relative: s.primary.model_error_relative,
            cv: s.primary.cv,
            rate_per_s: s.primary.rate_per_s,
            satellites_per_primary: s.satellites.per_primary,
            satellite_volume_fraction: s.satellites.volume_fraction.map(|share| share.max(0.0)),
            jet_length_m: s.jet.as_ref().map(|jet| jet.length_m),
            first_pinch_s: s.first_pinch.as_ref().map(|pinch| pinch.time_s),
            status,
            reason,
            warnings: s.warnings.iter().map(|w| w.code.as_str()).collect::<Vec<_>>().join(" "),
            settled_drops: s.primary.count,
        }
    }

    /// The row of a cell without an answer.
    pub fn failed(index: usize, values: Vec<f64>, reason: impl Into<String>) -> Row {
        Row {
            index,
            values,
            mode: None,
            mean_diameter_m: None,
            size_low_m: None,
            size_high_m: None,
            established: None,
            model_error_relative: None,
            cv: None,
            rate_per_s: None,
            satellites_per_primary: None,
            satellite_volume_fraction: None,
            jet_length_m: None,
            first_pinch_s: None,
            status: Status::Failed,
            reason: reason.into(),
            warnings: String::new(),
            settled_drops: 0,
        }
    }

    /// True where drops came off and satellites carry less than [`SATELLITE_FREE`] of the volume; `None` where no drop came off or
    /// the cell failed.
    pub fn satellite_free(&self) -> Option<bool> {
        self.satellite_volume_fraction.map(|share| share < SATELLITE_FREE)
    }
}

/// A map or a shard of one.
#[derive(Debug, Clone, PartialEq)]
pub struct Map {
    pub title: String,
    /// `coflow`, `counterflow`, ...
    pub layout: String,
    pub plan: Plan,
    /// When the run of a cell ends, in words.
    pub statistics: String,
    /// Mesh and tolerance of the runs.
    pub accuracy: String,
    /// Hash of everything the rows follow from: the case, the plan, the settings, the version.
    pub plan_hash: String,
    pub shard: Shard,
    /// In the order of their index.
    pub rows: Vec<Row>,
    /// Where the mode changes, to 2 %; empty where it was not asked for.
    pub border: Vec<BorderPoint>,
    /// Whether the border was traced.
    pub border_traced: bool,
    /// The case file as typed.
    pub case_text: String,
    pub case_sha256: String,
    /// Version of the program.
    pub version: String,
}

impl Map {
    /// Indices that the shard should hold and does not.
    pub fn holes(&self) -> Vec<usize> {
        let present: std::collections::HashSet<usize> = self.rows.iter().map(|row| row.index).collect();
        self.shard.cells(self.plan.len()).filter(|index| !present.contains(index)).collect()
    }
}

/// Join shards into the whole map.
///
/// # Errors
/// Where a shard is foreign, incomplete, there twice, or missing.
pub fn merge(shards: Vec<Map>) -> Result<Map, MergeError> {
    let Some(first) = shards.first() else { return Err(MergeError::Nothing) };
    let (hash, of) = (first.plan_hash.clone(), first.shard.of);
    let mut seen = vec![false; of];
    for map in &shards {
        let shard = map.shard;
        if map.plan_hash != hash {
            return Err(MergeError::OtherPlan { shard });
        }
        if map.shard.of != of {
            return Err(MergeError::OtherDivision { shard, first: first.shard });
        }
        if std::mem::replace(&mut seen[map.shard.index - 1], true) {
            return Err(MergeError::Twice { shard });
        }
        let holes = map.holes();
        if !holes.is_empty() || map.rows.len() != map.shard.cells(map.plan.len()).count() {
            return Err(MergeError::Incomplete { shard, missing: holes.len() });
        }
    }
    let indices: Vec<usize> = (1..=of).filter(|i| !seen[i - 1]).collect();
    if !indices.is_empty() {
        return Err(MergeError::Missing { of, indices });
    }
    let mut whole = Map { shard: Shard::WHOLE, rows: Vec::new(), ..shards[0].clone() };
    whole.rows = shards.into_iter().flat_map(|map| map.rows).collect();
    whole.rows.sort_by_key(|row| row.index);
    Ok(whole)
}

#[cfg(test)]
mod tests;
