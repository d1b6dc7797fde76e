//! The total flow in the tube where pumps make it change.
//!
//! Equation: Q_T = Q_i + Q_o, each the mean over a step: the volume delivered in it over its length.
//! Symbols: flows in units of R^2 sqrt(gamma/(rho R)).
//! Source: conservation of volume.
//! Holds for: streams that follow their pumps at once.

use super::inflow::Inflow;
use std::f64::consts::PI;

/// Both flows.
#[derive(Debug, Clone, PartialEq)]
pub struct Stream {
    pub inner: Inflow,
    pub outer: Inflow,
}

impl Stream {
    /// Mean total flow between `t` and `t + dt`.
    pub fn total(&self, t: f64, dt: f64) -> f64 {
        PI * (self.inner.mean_over(t, dt) + self.outer.mean_over(t, dt))
    }

    /// The longest time step that sees what it does.
    pub fn longest_step(&self) -> f64 {
        self.inner.longest_step().min(self.outer.longest_step())
    }
}
