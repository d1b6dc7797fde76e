//! What figures are drawn from.

use super::about::Origin;
use super::calibrated::Rows;
use super::growth::Growth;
use super::map::MapTable;
use crate::record::Recorded;

/// Drops measured at the bench, as `slenderjet spread` took them apart.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Measured {
    /// Diameters, m.
    pub primaries: Vec<f64>,
    pub satellites: Vec<f64>,
    /// Lines that stand in the figure, in markup.
    pub facts: Vec<String>,
    pub origin: Origin,
}

/// A file read back.
#[derive(Debug, Clone, PartialEq)]
pub enum Source {
    Run(Box<Recorded>),
    Map(Box<MapTable>),
    Growth(Box<Growth>),
    Measured(Box<Measured>),
    Calibrated(Box<Rows>),
}

impl Source {
    /// In words, with an article.
    pub fn what(&self) -> &'static str {
        match self {
            Source::Run(_) => "the record of a run",
            Source::Map(_) => "a map",
            Source::Growth(_) => "growth rates",
            Source::Measured(_) => "measured drops",
            Source::Calibrated(_) => "measured rows of a calibration",
        }
    }

    pub(super) fn origin(&self) -> Option<Origin> {
        match self {
            Source::Run(run) => Some(Origin::new(&run.summary.title, &run.summary.provenance)),
            Source::Map(map) => Some(map.origin.clone()),
            Source::Growth(growth) => growth.origin.clone(),
            Source::Measured(measured) => Some(measured.origin.clone()),
            Source::Calibrated(rows) => Some(rows.origin.clone()),
        }
    }
}
