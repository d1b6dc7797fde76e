//! How the thread breaks, as a camera sees it.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// Where the thread breaks and whether it comes back to the tip (`src/regime.rs` judges it).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Mode {
    /// Drops come off at the tip, or the thread comes back to it after each.
    Dripping,
    /// Between the two: the thread comes back some of the way, or some of the time.
    Transition,
    /// A thread stands out from the tip and breaks at its end.
    Jetting,
    /// Nothing broke.
    None,
}

impl Mode {
    pub const ALL: [Mode; 4] = [Mode::Dripping, Mode::Transition, Mode::Jetting, Mode::None];

    /// The word in tables and files.
    pub fn word(self) -> &'static str {
        match self {
            Mode::Dripping => "dripping",
            Mode::Transition => "transition",
            Mode::Jetting => "jetting",
            Mode::None => "none",
        }
    }

    /// The word, or nothing where there was no answer.
    pub fn word_of(mode: Option<Mode>) -> &'static str {
        mode.map_or("", Mode::word)
    }

    /// Whether this mode is surely another one: the transition is a doubt between two, and no change by itself.
    pub fn differs(self, other: Mode) -> bool {
        let doubt = [self, other].contains(&Mode::Transition) && ![self, other].contains(&Mode::None);
        self != other && !doubt
    }
}

impl fmt::Display for Mode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

/// A word that is no mode.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("none of dripping, transition, jetting, none")]
pub struct NoMode;

impl FromStr for Mode {
    type Err = NoMode;

    /// A mode by its word, in capitals or not.
    fn from_str(text: &str) -> Result<Mode, NoMode> {
        Mode::ALL.into_iter().find(|mode| mode.word().eq_ignore_ascii_case(text)).ok_or(NoMode)
    }
}

/// What a small disturbance of a uniform thread does in the frame of the nozzle, by linear theory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Instability {
    /// It grows in place: dripping is expected.
    Absolute,
    /// It grows on its way downstream: jetting is expected.
    Convective,
    /// Nothing grows.
    Stable,
}

impl fmt::Display for Instability {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Instability::Absolute => "absolute",
            Instability::Convective => "convective",
            Instability::Stable => "stable",
        })
    }
}
