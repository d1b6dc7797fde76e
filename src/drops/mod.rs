//! Drop bookkeeping: what came off, which of it is primary, how equal the primaries are.

pub mod detached;
pub mod tally;
