//! Why measured drops cannot be compared with a case.

use crate::units::quoted;

/// Why measured drops cannot be compared with a case, or not with these keys free.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum CalibrateError {
    /// No column of the table can be predicted.
    #[error("the table has neither a column `diameter [um]` nor `rate [1/s]`")]
    NothingMeasured,
    /// A mode that is none.
    #[error("line {line}: mode `{}` is none of dripping, transition, jetting", quoted(mode))]
    UnknownMode { line: u64, mode: String },
    /// Every row was left out; the first reason.
    #[error("no row of the table can be used: {first}")]
    NoUsableRow { first: String },
    /// Rows without error cannot be weighed against each other.
    #[error("the errors of the measurements cannot all be zero")]
    NoErrors,
    /// The same, met in the course of the search.
    #[error("the measurements have no error to weigh them by")]
    NoWeights,
    /// The camera's scale has no tolerance.
    #[error("a free scale needs its uncertainty: --scale '1 +- 2 %'")]
    ScaleWithoutTolerance,
    /// The same key is named twice.
    #[error("`{key}` is freed twice")]
    FreedTwice { key: String },
    /// The table varies the key that is to be found.
    #[error("`{key}` is free and a column of the table: it is one or the other")]
    FreeAndColumn { key: String },
    /// The key has no value above zero in this case.
    #[error("`{key}` is no number above zero in this case{}", nearest.map_or(String::new(), |near| format!("; did you mean `{near}`?")))]
    NoNumber {
        key: String,
        /// The nearest key of the layout.
        nearest: Option<&'static str>,
    },
}
