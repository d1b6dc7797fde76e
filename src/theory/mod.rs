//! theory
