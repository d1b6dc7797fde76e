//! thread

pub mod closures;
pub mod dispersion;
pub mod estimate;
