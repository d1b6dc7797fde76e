//! The first-principles table of first drops in a co-flow, and how far the model was from it, row by row.
//!
//! Equation: nearness of two places, w = exp(-D^2/2), D^2 = sum of (ln ratio of each parameter / its kernel length)^2.
//!
//! Symbols: Ca = mu_o U/gamma, q = Q_i/(pi R^2 U), lambda = mu_i/mu_o, R_w wall radius, R tip radius (m), U axis velocity of the
//! outer stream (m/s), D tip diameter.
//!
//! Source: own axisymmetric two-liquid boundary-element computation, `validation/reference`; the differences are those of
//! the validation suite, which writes them (`table.rs`) and fails where it is stale.
//!
//! Holds for: first drops, thin-walled tips, no inertia, no gravity, clean interface.

pub mod devices;
mod table;

use crate::case::{Case, Layout};
use crate::device::wall::WallProfile;
use crate::groups::{groups, length, outer_velocity};
use crate::math::Pinned as _;
use std::f64::consts::PI;

/// Factors in Ca, q, lambda and R_w/R that are one kernel length apart. Round numbers, chosen so that each row, left out,
/// lies within the error told from the others about as often as a normal law says (the validation page prints how often).
const KERNEL: [f64; 4] = [2.0, 4.0, 3.0, 2.0];

/// Where a case lies in the table's parameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Ca on the axis velocity.
    pub capillary: f64,
    /// q, the inner velocity on the pinned radius over the axis velocity.
    pub inner_share: f64,
    /// lambda.
    pub viscosity_ratio: f64,
    /// R_w/R.
    pub wall: f64,
}

/// A row of the table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    pub number: u32,
    pub place: Place,
    /// d/D of the reference.
    pub diameter: f64,
    /// Place of its first neck over D.
    pub neck: f64,
    /// The model's d/D over the reference's, less one.
    pub difference: f64,
    /// The same of the neck's place.
    pub neck_difference: f64,
}

/// Number, Ca, q, lambda, R_w/R, d/D, neck/D, difference of d, difference of the neck's place.
type Line = (u32, f64, f64, f64, f64, f64, f64, f64, f64);

/// Every row.
pub fn rows() -> impl Iterator<Item = Row> {
    table::LINES.iter().map(|&(number, capillary, inner_share, viscosity_ratio, wall, diameter, neck, d, z)| Row {
        number,
        place: Place { capillary, inner_share, viscosity_ratio, wall },
        diameter,
        neck,
        difference: d,
        neck_difference: z,
    })
}

impl Place {
    /// Of a case; `None` where the table has nothing to say: other layouts, no outer stream, no inner flow.
    pub fn of(case: &Case) -> Option<Place> {
        let (outer, r) = (case.outer.as_ref().filter(|_| case.layout == Layout::Coflow)?, length(case));
        let (axis, wall) = (outer_velocity(case)?, WallProfile::of(case).radius(0.0)?);
        (case.inner.flow > 0.0).then(|| Place {
            capillary: groups(case).capillary_outer.unwrap_or(0.0),
            inner_share: case.inner.flow / (PI * r * r * axis),
            viscosity_ratio: case.inner.viscosity / outer.viscosity,
            wall: wall / r,
        })
    }

    fn logarithms(&self) -> [f64; 4] {
        [self.capillary, self.inner_share, self.viscosity_ratio, self.wall].map(crate::math::Pinned::logarithm)
    }

    /// D between two places, in kernel lengths.
    pub fn distance(&self, other: &Place) -> f64 {
        let (a, b) = (self.logarithms(), other.logarithms());
        (0..4).map(|i| ((a[i] - b[i]) / KERNEL[i].logarithm()).powi(2)).sum::<f64>().sqrt()
    }

    /// exp(-D^2/2).
    pub fn nearness(&self, other: &Place) -> f64 {
        let d = self.distance(other);
        (-0.5 * d * d).exponential()
    }
}
