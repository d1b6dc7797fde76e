//! tolerances
