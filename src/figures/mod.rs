//! Figures for papers, drawn from a record alone: nothing is simulated here, so every figure can be redrawn years later.
//!
//! A kind of figure turns a [`Source`] into a [`Piece`]: shapes in points, the numbers as plotted, and notes on what was
//! left out. Pieces become panels of a [`Figure`], which goes out as SVG, PDF or PNG with its provenance inside.
//!
//! ```text
//! strip      contours in chosen snapshots, scale bar          sizes    histograms of primaries and, apart, satellites
//! spacetime  radius over position and time                   trace    diameter against time, pump period
//! neck       thinnest radius against time to pinch-off       map      modes over two varied quantities
//! growth     growth rate against wavenumber                  compare  runs side by side
//! budget     energy over time, by cause                   calibrated  measured drops, model before and after
//! ```
//!
//! Invariants
//! 1. Same record, same wish, same bytes: no clock, no fonts of the machine.
//! 2. A user's text reaches the page through [`letters::Label::plain`] and [`drawing::escaped`] only.
//! 3. What is thinned out is named in the metadata, with the tolerance.

pub mod about;
pub mod axes;
pub mod beside;
pub mod budget;
pub mod calibrated;
pub mod compare;
pub mod contour;
pub mod drawing;
pub mod export;
pub mod glass;
pub mod growth;
pub mod letters;
pub mod map;
pub mod neck;
mod page;
pub mod palette;
mod pdf;
pub mod rounding;
pub mod scale;
pub mod sizes;
pub mod snapshots;
pub mod solid;
mod source;
pub mod spacetime;
pub mod strip;
pub mod table;
pub mod thin;
pub mod trace;
pub mod unit;

pub use page::{Figure, Panel, draw, draw_panels};
pub use source::{Measured, Source};

use crate::outcome::Mode;
use drawing::Drawing;
use table::Numbers;

/// What the notes say where a run's interval is drawn.
const SIZE_NOTE: &str = "bars on d: 90 % interval of a drop at the bench (the model's own error, missing physics, tolerances of the inputs)";
/// What they say where only the model's own error is known.
const MODEL_ERROR_NOTE: &str =
    "bars on d: the model's own error, one standard deviation; a lower bound outside the reference's range";

/// What can be drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Kind {
    Strip,
    Spacetime,
    Neck,
    Growth,
    Map,
    Sizes,
    Compare,
    Trace,
    Budget,
    Calibrated,
}

impl Kind {
    pub const ALL: [Kind; 10] = [
        Kind::Strip,
        Kind::Spacetime,
        Kind::Neck,
        Kind::Growth,
        Kind::Map,
        Kind::Sizes,
        Kind::Compare,
        Kind::Trace,
        Kind::Budget,
        Kind::Calibrated,
    ];

    /// The word on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Kind::Strip => "strip",
            Kind::Spacetime => "spacetime",
            Kind::Neck => "neck",
            Kind::Growth => "growth",
            Kind::Map => "map",
            Kind::Sizes => "sizes",
            Kind::Compare => "compare",
            Kind::Trace => "trace",
            Kind::Budget => "budget",
            Kind::Calibrated => "calibrated",
        }
    }

    /// The kind of that name.
    pub fn named(name: &str) -> Option<Kind> {
        Kind::ALL.into_iter().find(|k| k.name() == name)
    }

    /// What it shows, in a line.
    pub fn meaning(self) -> &'static str {
        match self {
            Kind::Strip => "Contours of the thread and its drops in chosen snapshots",
            Kind::Spacetime => "Radius over position and time",
            Kind::Neck => "Thinnest radius against time to pinch-off",
            Kind::Growth => "Growth rate of waves against wavenumber",
            Kind::Map => "Dripping and jetting over the varied quantities",
            Kind::Sizes => "Histogram of drop diameters",
            Kind::Compare => "Runs side by side",
            Kind::Trace => "Drop diameter against time",
            Kind::Calibrated => "Measured drops, and the model before and after calibration",
            Kind::Budget => "Energy put in and taken out over time, by cause",
        }
    }

    /// Whether it wants the whole width of a page.
    fn is_wide(self) -> bool {
        matches!(self, Kind::Strip | Kind::Spacetime | Kind::Compare)
    }
}

/// Axes of a map.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum MapAxes {
    /// The varied quantities as typed.
    #[default]
    Raw,
    /// Capillary number of the outer, Weber number of the inner flow.
    Groups,
}

/// The number whose contours a map shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Contours {
    #[default]
    Diameter,
    Cv,
    Rate,
    Satellites,
    None,
}

/// How panels are lettered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PanelLetters {
    /// (a), (b), ...
    #[default]
    Bracketed,
    /// a, b, ...
    Small,
    /// A, B, ...
    Large,
    None,
}

impl PanelLetters {
    /// The letter of a panel, counted from 0.
    pub fn of(self, panel: usize) -> String {
        let letter = (b'a' + (panel % 26) as u8) as char;
        match self {
            PanelLetters::Bracketed => format!("({letter})"),
            PanelLetters::Small => letter.to_string(),
            PanelLetters::Large => letter.to_ascii_uppercase().to_string(),
            PanelLetters::None => String::new(),
        }
    }
}

/// What the user asked for beyond the kind.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Wish {
    /// Page width in mm; by default one column (85), or two (170) for wide kinds and several panels.
    pub width_mm: Option<f64>,
    /// Snapshots of a strip, s.
    pub at: Vec<f64>,
    /// Outlines of the full equations to lay over a strip.
    pub beside: beside::Over,
    pub axes: MapAxes,
    /// Measured points to lay over the model: two numbers each, in SI units of the axes.
    pub points: Vec<(f64, f64)>,
    /// Mode of each, where it was told: `dripping`, `jetting`, or empty.
    pub point_modes: Vec<Option<Mode>>,
    /// Their errors, one standard deviation along each axis; empty, or zero, where none is known.
    pub errors: Vec<(f64, f64)>,
    pub contours: Contours,
    pub letters: PanelLetters,
    /// Size of the axes' titles, points; by default 8. All else keeps its proportion to it.
    pub font_size: Option<f64>,
    /// Dots per inch of a PNG; by default 300.
    pub dpi: Option<f64>,
    /// The command that asked, for the metadata.
    pub command: String,
}

/// Why a figure could not be drawn.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FigureError {
    /// The source has nothing of that kind.
    #[error("{0}")]
    Nothing(String),
    /// The kind cannot be drawn from that source.
    #[error("`{}` is drawn from {wanted}, not from {found}", kind.name())]
    WrongSource { kind: Kind, wanted: &'static str, found: &'static str },
    /// A renderer failed.
    #[error("the figure could not be rendered: {0}")]
    Rendering(#[source] Box<dyn std::error::Error + Send + Sync>),
}

/// One panel before it has its place.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Piece {
    pub drawing: Drawing,
    /// Width and height, points.
    pub size: (f64, f64),
    pub numbers: Numbers,
    pub notes: Vec<String>,
}

/// Height for each width beyond one column.
const WIDER: f64 = 0.3;

/// Room for a panel: its width, and its height where neighbours decide it.
#[derive(Debug, Clone, PartialEq)]
pub struct Room {
    pub width: f64,
    pub height: Option<f64>,
    /// Whether another panel stands in the same row.
    pub beside: bool,
    /// Prefix of ids.
    pub prefix: String,
}

impl Room {
    /// The height asked for, or `share` of the width; on a wide page less, so that a figure leaves room for words.
    fn height_or(&self, share: f64) -> f64 {
        let column = self.width.min(export::points(page::ONE_COLUMN));
        self.height.unwrap_or(share * column + WIDER * (self.width - column))
    }
}
