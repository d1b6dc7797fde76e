//! Linear algebra and time stepping that know vectors, not liquids.

pub mod banded;
pub mod dense;
pub mod pentadiagonal;
pub mod rosenbrock;
