//! Mesh of a body: wanted cell size, redistribution of nodes, transfer of volume and velocity.

pub mod follow;
pub mod regrid;
pub mod size;
mod transfer;
