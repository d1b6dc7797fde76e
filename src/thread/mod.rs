//! thread

pub mod closures;
