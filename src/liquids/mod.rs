//! liquids
