//! solver
