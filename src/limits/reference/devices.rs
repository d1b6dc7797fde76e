//! Rows of the full equations with an orifice, and with inertia in a co-flow: what the model's own error is told from there.
//!
//! Equation: nearness as in [`super`], in the parameters below.
//!
//! Symbols: Ca_h = mu_o (Q_i + Q_o)/(pi R_h^2 gamma), R_h radius of the hole, R of the tip's bore; Q_i/Q_o flow ratio; lambda = mu_i/mu_o;
//! La_o = rho_o gamma R/mu_o^2; Ca, q as in [`super`].
//!
//! Source: own boundary elements (orifice) and own runs of a general flow solver (inertia), `validation/reference`; the suite writes
//! the differences (`rows.rs`): of the orifice from rows that guided no closure; with inertia from all in which it drips. To these nothing is fitted, but those up
//! to blind-inertia-4 were in view when the form of the jet in a drop ([`crate::thread::crossing`]) was chosen, and tell too little by that.
//!
//! Holds for: first drops; orifice: no inertia, a channel of at least three holes' radii, wetted walls.

mod rows;

use crate::case::Case;
use crate::groups::{groups, length};
use crate::math::Pinned;
use std::f64::consts::PI;

/// Factors in Ca_h, flow ratio, lambda and R_h/R that are one kernel length apart: as coarse as the rows are few.
pub const DEVICE_KERNEL: [f64; 4] = [2.5, 3.0, 4.0, 2.0];
/// The same in La_o, Ca, q and lambda.
pub const INERTIAL_KERNEL: [f64; 4] = [5.0, 2.0, 4.0, 3.0];

/// Where a case with an orifice lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Device {
    pub capillary: f64,
    pub flow_ratio: f64,
    pub viscosity_ratio: f64,
    /// R_h/R.
    pub hole: f64,
}

/// Where a co-flow with inertia lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inertial {
    pub laplace: f64,
    pub capillary: f64,
    pub inner_share: f64,
    pub viscosity_ratio: f64,
}

/// Logarithms of a place, and the model's relative difference there.
pub type Line = ([f64; 4], f64);

fn lines(known: &'static [[f64; 5]]) -> impl Iterator<Item = Line> {
    known.iter().map(|&[a, b, c, d, difference]| ([a, b, c, d].map(Pinned::logarithm), difference))
}

/// The orifice's rows that guided nothing, by two fields or by closures.
pub fn device_rows(two_fields: bool) -> impl Iterator<Item = Line> {
    lines(if two_fields { rows::DEVICES } else { rows::BY_CLOSURES })
}

/// The rows with inertia.
pub fn inertial_rows() -> impl Iterator<Item = Line> {
    lines(rows::INERTIAL)
}

impl Device {
    /// Of a case; `None` without an orifice or without both flows.
    pub fn of(case: &Case) -> Option<Device> {
        let (outer, orifice) = (case.outer.as_ref()?, case.layout.orifice()?);
        let hole = 0.5 * orifice.bore;
        let capillary = outer.viscosity * (case.inner.flow + outer.flow) / (PI * hole * hole * case.tension);
        (case.inner.flow > 0.0 && outer.flow > 0.0).then(|| Device {
            capillary,
            flow_ratio: case.inner.flow / outer.flow,
            viscosity_ratio: case.inner.viscosity / outer.viscosity,
            hole: hole / length(case),
        })
    }

    pub fn logarithms(&self) -> [f64; 4] {
        [self.capillary, self.flow_ratio, self.viscosity_ratio, self.hole].map(Pinned::logarithm)
    }
}

impl Inertial {
    /// Of a case with a place in the co-flow's table.
    pub fn of(case: &Case, place: &super::Place) -> Option<Inertial> {
        let laplace = crate::limits::outer_laplace(case)?;
        let capillary = groups(case).capillary_outer?;
        Some(Inertial { laplace, capillary, inner_share: place.inner_share, viscosity_ratio: place.viscosity_ratio })
    }

    pub fn logarithms(&self) -> [f64; 4] {
        [self.laplace, self.capillary, self.inner_share, self.viscosity_ratio].map(Pinned::logarithm)
    }
}
