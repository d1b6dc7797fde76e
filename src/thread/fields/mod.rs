//! The two fields of a thread, the mean velocity of its sections and that of its surface, and what the liquids about it
//! take.

pub mod glass;
pub mod rays;
