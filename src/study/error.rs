//! Why a study, or one run of it, has no answer.

use super::calibrate::CalibrateError;
use super::map::{AxisError, PlanError};
use crate::case::CaseErrors;
use crate::simulate::SimulateError;
use std::error::Error;

/// Why a study, or one run of it, has no answer.
///
/// ```
/// use slenderjet::prelude::*;
/// use slenderjet::study::StudyError;
/// use slenderjet::study::evaluate::{Counted, Length, simulated};
///
/// # let text = slenderjet::case::examples::find("segment").ok_or("an example")?.text;
/// let case = parse(text, "thread.toml")?;
/// // The user's wish to stop is asked for at every step; here it is there from the start.
/// let answer = |case: &Case, length: Length| simulated(case, length, &|| true);
/// let found = Counted::new(&answer).ask(&case);
/// assert!(matches!(found, Err(StudyError::Interrupted)));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StudyError {
    /// The user wanted to stop; what was found until then is not told.
    #[error("interrupted")]
    Interrupted,
    /// A run cannot be simulated.
    #[error(transparent)]
    Simulate(#[from] SimulateError),
    /// A case that the study made of the user's contradicts itself.
    #[error("{}{note}", errors.in_one_line())]
    Case {
        #[source]
        errors: CaseErrors,
        /// What the study did to the case, where that explains them.
        note: &'static str,
    },
    /// An axis of a map cannot be laid.
    #[error(transparent)]
    Axis(#[from] AxisError),
    /// The cells of a map cannot be laid.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// Measured rows cannot be compared with this case, or not with these keys free.
    #[error(transparent)]
    Calibrate(#[from] CalibrateError),
    /// A thread of its own has no flow to aim with.
    #[error("a segment has no flow to aim with")]
    NoFlow,
    /// A search ended before its first run.
    #[error("nothing was run")]
    NothingRun,
    /// Margins are those of a drop.
    #[error("the case itself gives no settled drop to have margins of")]
    NoDrop,
    /// Nothing in the case is uncertain.
    #[error("no quantity of the case has a tolerance; write one as \"5 mN/m +- 30 %\"")]
    NoTolerance,
    /// Too many uncertain inputs, or too few or too many runs.
    #[error("2 to {runs_max} runs and at most {inputs_max} uncertain inputs are possible")]
    Sample { runs_max: u32, inputs_max: usize },
    /// The system gives no threads.
    #[error("cannot start {threads} threads: {source}")]
    Threads { threads: usize, source: rayon::ThreadPoolBuildError },
    /// Whoever answers the cases has a reason of its own.
    #[error(transparent)]
    Other(Box<dyn Error + Send + Sync>),
}

impl StudyError {
    /// A reason of whoever answers the cases.
    pub fn other(reason: impl Into<Box<dyn Error + Send + Sync>>) -> StudyError {
        StudyError::Other(reason.into())
    }
}

/// The first problem of a case, for the row of a table.
pub(super) fn first(errors: &CaseErrors) -> String {
    errors.problems.first().map_or(String::new(), |p| format!("{}: {}; {}", p.key, p.found, p.right))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_case_that_is_none_keeps_its_problems() {
        let errors = crate::case::parse("layout = \"segment\"\n", "thread.toml").expect_err("nothing else is there");
        let error = StudyError::Case { errors: errors.clone(), note: " (invented)" };
        let said = error.to_string();
        assert!(said.starts_with(&first(&errors)) && said.ends_with(" (invented)"), "{said}");
        let source = error.source().and_then(|source| source.downcast_ref::<CaseErrors>());
        assert_eq!(source, Some(&errors));
        assert!(errors.problems.len() > 1 && errors.problems.iter().all(|p| said.contains(&p.right)), "{said}");
    }

    #[test]
    fn a_reason_of_the_answerer_keeps_its_words_and_its_own_source() {
        let told = std::io::Error::other("the disk is full");
        assert_eq!(StudyError::other(told).to_string(), "the disk is full");
        assert_eq!(StudyError::other("an invented reason").to_string(), "an invented reason");
    }
}
