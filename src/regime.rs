//! regime
