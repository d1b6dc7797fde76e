//! The thread as two fields, the mean velocity of its sections and that of its surface, in an outer liquid of its own.

pub mod stream;
