//! Reduced-order simulation of drop formation in glass-capillary devices.

pub mod case;
pub mod cli;
pub mod device;
pub mod drops;
pub mod figures;
pub mod groups;
pub mod limits;
pub mod liquids;
pub mod outcome;
pub mod pinch_off;
pub mod record;
pub mod regime;
pub mod report;
pub mod simulate;
pub mod solver;
pub mod stokes;
pub mod study;
pub mod theory;
pub mod thread;
pub mod tolerances;
pub mod units;
