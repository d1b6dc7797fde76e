//! The one-dimensional thread: equations stated once, state, mesh, and one time step.
//!
//! Units inside this module: lengths in the radius R that pins the contact line, times in sqrt(rho_i R^3/gamma),
//! so rho_i = gamma = R = 1; the viscosity of the inner liquid is the Ohnesorge number, gravity is the Bond number and
//! the mean velocity at the nozzle is sqrt(We). A case scaled to other units gives the same numbers here, bit for bit.
//!
//! Equations (Eggers & Dupont 1994, J. Fluid Mech. 262, 205, with full curvature):
//!   A_t + (A u)_z = 0,
//!   u_t + u u_z = -K_z + (3 Oh / A) (A u_z)_z + Bo + outer liquid (see [`outer`] and [`closures`]).
//! Nodes move with the liquid, cells keep their volume exactly, so volume is conserved to round-off.

pub mod advance;
pub mod body;
pub mod cells;
pub mod closures;
pub mod dispersion;
pub mod energy;
pub mod estimate;
pub mod force;
pub mod inflow;
pub mod jacobian;
pub mod load;
pub mod mesh;
pub mod outer;
pub mod rheology;
pub mod rows;
pub mod step;
