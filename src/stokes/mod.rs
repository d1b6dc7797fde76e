//! The same case by the full two-liquid equations without inertia: axisymmetric boundary elements.
//!
//! A second solver that shares nothing with [`crate::thread`] but the case: no slenderness, no closure, no fitted constant. It
//! follows the first drop from a hemisphere to its pinch-off and says how far off the reduced model is (`docs/confirm.md`).
//!
//! One direction: `ring` (kernels), `rule` (quadrature), `layer` (matrices), `differences` and `interface` (the moving boundary),
//! `spacing` (its nodes), `glass`, `channel` and `device` (what does not move), `flow` (velocity), `streams` (one liquid alone), `pressure`, `neck`, `detach` (cut at a neck), `start`, `step`, `growth` (time), `bodies` (exact solutions and held drops), `case` (from a
//! case, to an answer).
//!
//! Threads: rows of a matrix are computed side by side; each row by one thread in one order, so that their number does not
//! show in the answer.

pub mod bodies;
pub mod case;
pub mod channel;
pub mod detach;
pub mod device;
pub mod differences;
pub mod flow;
pub mod glass;
pub mod growth;
pub mod interface;
pub mod layer;
pub mod neck;
pub mod pressure;
pub mod ring;
pub mod rule;
pub mod spacing;
pub mod start;
pub mod step;
pub mod streams;

#[cfg(test)]
mod tests;
