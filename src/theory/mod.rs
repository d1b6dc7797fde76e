//! Exact and published theory, evaluated independently of the solver: what the program is checked against.
//!
//! Equation: one topic a file; each opens with its own.
//!
//! Symbols: x = k R reduced wavenumber, Oh = mu/sqrt(rho gamma R), Bo = drho g R^2/gamma, We = rho U^2 R/gamma,
//! lambda = mu_i/mu_o (inner over outer).
//!
//! Source: in each file, beside the equation.
//!
//! Holds for: in each file. Nothing here uses [`crate::thread`] or [`crate::solver`], so that agreement means something.

pub mod adsorption;
pub mod bessel;
pub mod convective;
pub mod core_annular;
pub mod drop_oscillation;
pub mod drop_weight;
pub mod ducts;
pub mod falling_jet;
pub mod faucet;
pub mod pendant;
pub mod pinch_laws;
pub mod plug;
pub mod quadrature;
pub mod rayleigh;
pub mod roots;
pub mod stokes_thread;
pub mod surfactant_jet;
pub mod universal_pinch;
pub mod viscoelastic;
pub mod viscous_jet;
pub mod weber;

/// A mode of a thread: reduced wavenumber and growth rate, both in the units of the relation it comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mode {
    /// x = k R.
    pub wavenumber: f64,
    /// Growth rate.
    pub rate: f64,
}
