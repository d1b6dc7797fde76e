//! Written by the validation suite.

pub(super) const DEVICES: &[[f64; 5]] = &[];

pub(super) const INERTIAL: &[[f64; 5]] = &[];
