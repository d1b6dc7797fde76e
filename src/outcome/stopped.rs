//! Why a run ended.

use serde::{Deserialize, Serialize};
use std::fmt;

/// Why a run ended. What was asked for and physical ends are answers; a budget is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Stopped {
    /// As many primary drops as asked for came off.
    DropsReached,
    /// The time asked for has gone by.
    #[serde(alias = "time_reached")]
    Until,
    /// The user stopped it.
    Interrupted,
    /// The drop on the tip fills the tube.
    Plug,
    /// The thread fills the glass that it passes.
    TouchesWall,
    /// Nothing breaks: every wave dies away.
    NoBreakup,
    /// The thread reaches the end of the tube before it breaks.
    LeavesTube,
    /// A jet stands out whose drop has not come off for as long as it was followed.
    UnbrokenJet,
    /// The steps allowed were used up.
    StepBudget,
    /// The simulated time allowed was used up.
    TimeBudget,
    /// No step was small enough to go on.
    StepUnderflow,
    /// A search may spend no more work on one run.
    EffortLimit,
}

impl Stopped {
    /// The word in summaries and records.
    pub fn word(self) -> &'static str {
        match self {
            Stopped::DropsReached => "drops_reached",
            Stopped::Until => "until",
            Stopped::Interrupted => "interrupted",
            Stopped::Plug => "plug",
            Stopped::TouchesWall => "touches_wall",
            Stopped::NoBreakup => "no_breakup",
            Stopped::LeavesTube => "leaves_tube",
            Stopped::UnbrokenJet => "unbroken_jet",
            Stopped::StepBudget => "step_budget",
            Stopped::TimeBudget => "time_budget",
            Stopped::StepUnderflow => "step_underflow",
            Stopped::EffortLimit => "effort_limit",
        }
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Stopped::DropsReached => "with the number of drops asked for",
            Stopped::Until => "at the time asked for",
            Stopped::Interrupted => "interrupted",
            Stopped::Plug => "the drop on the tip fills the tube",
            Stopped::TouchesWall => "the thread touches the wall",
            Stopped::NoBreakup => "nothing breaks off",
            Stopped::LeavesTube => "the thread leaves the tube unbroken",
            Stopped::UnbrokenJet => "a jet stands out and does not break where it was followed",
            Stopped::StepBudget => "its steps were used up",
            Stopped::TimeBudget => "drops came too seldom to wait for more",
            Stopped::StepUnderflow => "the equations could not be followed further with steps of any size",
            Stopped::EffortLimit => "it takes more work than a search may spend",
        }
    }

    /// Whether the device itself ended it, or it goes on as a jet without drops: an answer.
    pub fn is_physical(self) -> bool {
        matches!(
            self,
            Stopped::Plug | Stopped::TouchesWall | Stopped::NoBreakup | Stopped::LeavesTube | Stopped::UnbrokenJet
        )
    }

    /// Whether the run came to what was asked for or to a physical end.
    pub fn is_answer(self) -> bool {
        self.is_physical() || matches!(self, Stopped::DropsReached | Stopped::Until)
    }

    /// Whether more of the same run would go on where this one ended.
    pub fn can_go_on(self) -> bool {
        matches!(self, Stopped::Interrupted | Stopped::StepBudget | Stopped::TimeBudget)
    }
}

impl fmt::Display for Stopped {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

/// Where a run ended that did not reach what was asked for, and what to do about it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct End {
    /// What was going on, with its numbers.
    pub what: String,
    /// What to change, or how to go on.
    pub remedy: String,
    /// Where, m from the tip.
    pub position_m: Option<f64>,
    /// When, s.
    pub time_s: Option<f64>,
    /// The film that a plug leaves on the wall, m (an estimate).
    pub film_m: Option<f64>,
    /// Its length, m (an estimate).
    pub plug_length_m: Option<f64>,
    /// Where the estimates come from.
    pub source: Option<String>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_in_files_are_those_promised() {
        for stopped in [
            Stopped::DropsReached,
            Stopped::Until,
            Stopped::Interrupted,
            Stopped::Plug,
            Stopped::TouchesWall,
            Stopped::NoBreakup,
            Stopped::LeavesTube,
            Stopped::UnbrokenJet,
            Stopped::StepBudget,
            Stopped::TimeBudget,
            Stopped::StepUnderflow,
            Stopped::EffortLimit,
        ] {
            assert_eq!(serde_json::to_value(stopped).expect("a word"), stopped.word());
            assert!(!(stopped.is_answer() && stopped.can_go_on()), "{stopped}");
        }
        let old: Stopped = serde_json::from_str("\"time_reached\"").expect("an earlier word");
        assert_eq!(old, Stopped::Until);
    }
}
