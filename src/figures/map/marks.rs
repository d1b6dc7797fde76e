//! Symbols of a map: open with satellites, closed without (or with a share of the volume too small to matter); shape and
//! lightness tell the mode, colour only helps.

use super::source::MapTable;
use crate::figures::axes::{Mark, NOTE_SIZE, mark};
use crate::figures::drawing::{Anchor, Drawing, Look, Type};
use crate::figures::letters::Label;
use crate::figures::palette::{GROUND_DRIPPING, GROUND_JETTING, INK, PAPER, SERIES, SLATE};
use crate::outcome::Mode;
use crate::study::map::Status;

/// What became of a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    Dripping,
    DrippingSatellites,
    Jetting,
    JettingSatellites,
    /// Between the two.
    Transition,
    /// Drops came off, but the device had not settled.
    NotEstablished,
    NoBreakup,
    Failed,
}

const READ: Look<'static> = Look { fill: PAPER, stroke: INK, width: 1.2, dash: "" };
/// Symbol of a measured point whose mode was not told.
pub const MEASURED: Mark<'static> = Mark::Diamond { side: 6.0, look: READ };

/// Symbol of a measured point: large, in ink, in the shape of its own mode.
pub fn measured(mode: Option<Mode>) -> Mark<'static> {
    match mode {
        Some(Mode::Dripping) => Mark::Dot { radius: 3.2, look: READ },
        Some(Mode::Jetting) => Mark::Square { side: 6.0, look: READ },
        Some(Mode::None) => Mark::Cross { side: 5.4, look: READ },
        _ => MEASURED,
    }
}

/// What the symbols of measured points say, each once.
pub fn measured_entries(count: usize, modes: &[Option<Mode>]) -> Vec<(Mark<'static>, &'static str)> {
    let told = |mode: Mode| modes.contains(&Some(mode));
    let named = [
        (Mode::Dripping, "measured dripping"),
        (Mode::Jetting, "measured jetting"),
        (Mode::None, "measured, no drops"),
    ];
    let mut entries: Vec<_> =
        named.into_iter().filter(|(mode, _)| told(*mode)).map(|(mode, name)| (measured(Some(mode)), name)).collect();
    if modes.iter().flatten().count() < count {
        entries.push((MEASURED, "measured"));
    }
    entries
}

const SIZE: f64 = 3.4;

impl Fate {
    pub const ALL: [Fate; 8] = [
        Fate::Dripping,
        Fate::DrippingSatellites,
        Fate::Jetting,
        Fate::JettingSatellites,
        Fate::Transition,
        Fate::NotEstablished,
        Fate::NoBreakup,
        Fate::Failed,
    ];

    pub fn of(map: &MapTable, row: usize) -> Fate {
        if map.status[row] == Status::NotEstablished {
            return Fate::NotEstablished;
        }
        match (map.mode[row], map.makes_satellites[row]) {
            (Some(Mode::Transition), _) => Fate::Transition,
            (Some(Mode::Dripping), false) => Fate::Dripping,
            (Some(Mode::Dripping), true) => Fate::DrippingSatellites,
            (Some(Mode::Jetting), false) => Fate::Jetting,
            (Some(Mode::Jetting), true) => Fate::JettingSatellites,
            _ if map.status[row] == Status::Failed => Fate::Failed,
            _ => Fate::NoBreakup,
        }
    }

    pub fn name(self) -> &'static str {
        match self {
            Fate::Dripping => "dripping",
            Fate::DrippingSatellites => "dripping, satellites",
            Fate::Jetting => "jetting",
            Fate::JettingSatellites => "jetting, satellites",
            Fate::Transition => "transition",
            Fate::NotEstablished => "not established",
            Fate::NoBreakup => "no breakup",
            Fate::Failed => "no answer",
        }
    }

    pub fn mark(self) -> Mark<'static> {
        let look = |fill, stroke| Look::filled(fill).outlined(stroke, 0.9);
        match self {
            Fate::Dripping => Mark::Dot { radius: 0.5 * SIZE, look: look(SERIES[0], SERIES[0]) },
            Fate::DrippingSatellites => Mark::Dot { radius: 0.5 * SIZE, look: look(PAPER, SERIES[0]) },
            Fate::Jetting => Mark::Square { side: SIZE, look: look(SERIES[2], SERIES[2]) },
            Fate::JettingSatellites => Mark::Square { side: SIZE, look: look(PAPER, SERIES[2]) },
            Fate::Transition => Mark::Diamond { side: SIZE, look: look(PAPER, INK) },
            Fate::NotEstablished => Mark::Dot { radius: 0.3 * SIZE, look: look(SLATE, SLATE) },
            Fate::NoBreakup => Mark::Cross { side: 3.2, look: Look::line(SLATE, 0.8) },
            Fate::Failed => Mark::Triangle { side: 3.4, look: look(PAPER, SLATE) },
        }
    }
}

/// Tint of the ground where a mode is.
pub fn ground(mode: Option<Mode>) -> Option<&'static str> {
    match mode {
        Some(Mode::Dripping) => Some(GROUND_DRIPPING),
        Some(Mode::Jetting) => Some(GROUND_JETTING),
        _ => None,
    }
}

/// A line of the legend.
pub fn entry(to: &mut Drawing, at: (f64, f64), symbol: Mark<'_>, label: &Label) {
    // a line ends where the words begin
    let aside = if matches!(symbol, Mark::Line(_)) { 4.0 } else { 0.0 };
    mark(to, (at.0 - aside, at.1), symbol);
    to.text((at.0 + 7.0, at.1 + 0.34 * NOTE_SIZE), label, Type::new(NOTE_SIZE, INK, Anchor::Start));
}
