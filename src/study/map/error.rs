//! Why a map cannot be laid out or put together.

use super::shard::{SHARDS_MAX, list};
use super::{AXES_MAX, CELLS_MAX, Shard, axis::VALUES_MAX};

/// Why a key cannot be varied like this.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum AxisError {
    /// The text is no range.
    #[error(
        "`{text}`: {what}; write KEY=FROM..TO/N or KEY=FROM..TO/Nlog, for example \"inner.flow=50..500 uL/h/8log\""
    )]
    Range { text: String, what: String },
    /// The text is no list.
    #[error(
        "`{text}`: a key and 1 to {VALUES_MAX} values are needed; write KEY=A,B,C, for example \
         \"inner.flow=50,100,300 uL/h\", or KEY=FROM..TO/N"
    )]
    List { text: String },
    /// An end of a range is no finite number.
    #[error("`{key}`: both ends must be finite numbers")]
    InfiniteEnds { key: String },
    /// A listed value is no finite number.
    #[error("`{key}`: all values must be finite numbers")]
    InfiniteValues { key: String },
    /// Ratios across zero.
    #[error("`{key}`: a logarithmic range needs both ends above zero")]
    NotAboveZero { key: String },
    /// Several values between ends that are the same.
    #[error("`{key}`: {count} values between equal ends")]
    EqualEnds { key: String, count: usize },
    /// A value is listed twice.
    #[error("`{key}`: a value is listed twice")]
    ListedTwice { key: String },
}

/// Why the cells of a map cannot be laid.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanError {
    /// No key or too many.
    #[error("a map varies 1 to {AXES_MAX} keys, not {count}")]
    Keys { count: usize },
    /// A key on two axes.
    #[error("`{key}` is varied twice")]
    VariedTwice { key: String },
    /// A grid of so many values along its axes.
    #[error("a map of {} cells is too large (at most {CELLS_MAX})", by(sides))]
    TooLarge { sides: Vec<usize> },
    /// No rows or too many.
    #[error("a map of {count} rows is not possible (1 to {CELLS_MAX})")]
    Rows { count: usize },
    /// A row of another length.
    #[error("a row has not as many values as there are keys")]
    Ragged,
}

/// Why shards do not make a map.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum MergeError {
    #[error("there is nothing to merge")]
    Nothing,
    #[error(
        "shard {shard} belongs to another plan (another case, range, setting, or another version or build of the program)"
    )]
    OtherPlan { shard: Shard },
    #[error("shard {shard} and shard {first} divide the map differently")]
    OtherDivision { shard: Shard, first: Shard },
    #[error("shard {shard} is there twice")]
    Twice { shard: Shard },
    #[error("shard {shard} is incomplete: {missing} of its cells are missing")]
    Incomplete { shard: Shard, missing: usize },
    #[error("of {of} shards these are missing: {}", list(indices))]
    Missing {
        of: usize,
        /// From 1.
        indices: Vec<usize>,
    },
}

/// A text that names no shard.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{text}` is no shard: write I/N with 1 <= I <= N <= {SHARDS_MAX}, for example 2/12")]
pub struct ShardError {
    pub text: String,
}

fn by(sides: &[usize]) -> String {
    sides.iter().map(usize::to_string).collect::<Vec<_>>().join(" x ")
}
