//! Whether a run has seen enough of the pump's pulsation to speak of it.

use super::{figure, when};
use crate::case::Case;
use crate::outcome::Warning;

/// Periods that settled drops must cover so that their mean and spread hold the pulsation (common practice, no source).
const PERIODS: f64 = 2.0;

/// The settled drops of a run cover too little of what the pumps repeat.
///
/// Equation: periods = t/T, t from the first settled drop to the last.
/// Symbols: `covered_s` t (s), T the longest period of a modulation or of a motor's steps (s).
/// Source: the criterion is ours.
/// Holds for: what the case tells of its pumps; noise has a band that every run covers.
pub fn pulsation_short(case: &Case, covered_s: f64) -> Option<Warning> {
    let (period, what) =
        case.forcing.periods(case.inner.flow, case.outer.as_ref().map(|o| o.flow)).into_iter().next()?;
    let periods = covered_s / period;
    when(periods < PERIODS, "pulsation_short", || {
        format!(
            "the settled drops cover {} of a period of the {what} ({} s): its share in size, rate and spread is not in these numbers; \
             run at least {} s longer (run.until, or more drops)",
            figure(periods),
            figure(period),
            figure((PERIODS - periods) * period)
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{examples, parse};

    // A pulsation of 500 ms and drops of 60 ms.
    #[test]
    fn a_run_shorter_than_the_pulsation_says_so() {
        let plain =
            parse(examples::find("coflow").expect("an example").text, "coflow").unwrap_or_else(|e| panic!("{e}"));
        assert!(pulsation_short(&plain, 0.06).is_none());
        let pulsed = plain.with_text("forcing.frequency", "2 Hz").err();
        assert!(pulsed.is_some(), "a frequency needs its amplitude");
        let mut pulsed = plain;
        pulsed.forcing.amplitude = 0.05;
        pulsed.forcing.frequency = 2.0;
        let told = pulsation_short(&pulsed, 0.06).expect("a warning");
        assert!(
            told.code == "pulsation_short" && told.text.contains("0.12 of a period of the inner pulsation (0.5 s)"),
            "{told:?}"
        );
        assert!(pulsation_short(&pulsed, 1.0).is_none());
        // An outer pump that pulses more slowly, or whose motor does, is what counts then.
        pulsed.forcing.outer.amplitude = 0.05;
        pulsed.forcing.outer.frequency = 0.5;
        assert!(pulsation_short(&pulsed, 1.0).is_some_and(|told| told.text.contains("outer pulsation (2 s)")));
        let flow = pulsed.outer.as_ref().map_or(0.0, |o| o.flow);
        pulsed.forcing.outer = crate::case::OuterForcing { step: 3.0 * flow, ..Default::default() };
        assert!(pulsation_short(&pulsed, 1.0).is_some_and(|told| told.text.contains("outer pump's steps (3 s)")));
    }
}
