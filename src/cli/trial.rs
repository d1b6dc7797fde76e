//! A few coarse drops in place of a size law outside of its range.
//!
//! The work is counted, not timed, so that the answer is the same on every machine: `EFFORT` takes about a second on one core.

use crate::case::{Case, Layout};
use crate::limits::expected::Expected;
use crate::limits::interval;
use crate::limits::model_error::model_error;
use crate::limits::size::{Balance, dripping};
use crate::limits::{warnings_seen, without_a_drop};
use crate::outcome::{Mode, Outcome, Size, Stopped, Warning};
use crate::simulate::{Comparison, Next, Observer, Progress, simulate};
use crate::study::evaluate::quick;

/// Most work of the trial, in cells times steps of all that is followed in shape.
const EFFORT: u64 = 500_000;
/// Drops asked for.
const DROPS: u32 = 4;

/// What is expected of the case, after the trial where there was one.
pub struct Found {
    pub expected: Expected,
    pub size: Size,
    pub warnings: Vec<Warning>,
}

/// Stops where the work is used up.
struct Watch;

impl Observer for Watch {
    fn wants_frames(&self) -> bool {
        false
    }

    fn comparison(&self) -> Comparison {
        Comparison::None
    }

    fn progress(&mut self, at: &Progress) -> Next {
        if at.work > EFFORT { Next::Interrupt } else { Next::Continue }
    }
}

/// Whether the balance behind the expected size is outside of the range in which it was fitted.
fn needs_trial(case: &Case, law: &Expected) -> bool {
    match case.layout {
        Layout::Segment(_) => false,
        Layout::Counterflow(_) => true,
        Layout::Coflow => law.mode != Mode::Dripping || dripping(case).is_none_or(|(_, by)| by == Balance::Recalled),
        Layout::Pendant => law.drop_diameter_m.is_none() || law.mode != Mode::Dripping,
    }
}

/// What is expected, with the trial's drops in place of the law's where that is outside of its range.
pub fn seen(case: &Case, law: Expected) -> Found {
    let mut warnings = warnings_seen(case, None);
    let mut expected = law;
    if needs_trial(case, &expected)
        && let Ok(outcome) = simulate(&quick(case, DROPS), None, &mut Watch)
    {
        take(case, &mut expected, &mut warnings, outcome);
    }
    let error = model_error(case, expected.mode);
    let size = interval::size(case, expected.mode, expected.drop_diameter_m, &error, None, &warnings);
    Found { expected, size, warnings }
}

/// Puts the trial's answer in place of the law's, as far as it got.
fn take(case: &Case, expected: &mut Expected, warnings: &mut Vec<Warning>, outcome: Outcome) {
    let s = outcome.summary;
    if s.stopped.is_physical() {
        let end = s.end.unwrap_or_default();
        expected.mode = Mode::None;
        (expected.drop_diameter_m, expected.rate_per_s) = (None, None);
        expected.text = format!("{} ({DROPS} coarse drops simulated): {}; {}", s.stopped.words(), end.what, end.remedy);
        *warnings = without_a_drop(std::mem::take(warnings));
        warnings.insert(0, Warning { code: s.stopped.word().into(), text: format!("{}; {}", end.what, end.remedy) });
        return;
    }
    if let (true, Some(d)) = (s.established.is, s.primary.mean_diameter_m) {
        expected.mode = s.mode;
        (expected.drop_diameter_m, expected.rate_per_s) = (Some(d), s.primary.rate_per_s);
        *warnings = warnings_seen(case, Some((s.mode, d)));
        expected.drop_diameter_by = "a few coarse drops simulated here";
        expected.text = format!("estimate from a few coarse drops simulated here: {}", s.mode_evidence);
    } else if s.stopped == Stopped::Interrupted || !s.established.is {
        expected.drop_diameter_by = "a rule outside of its range (a trial of two seconds did not settle)";
    }
}
