//! What is taken at rest of a liquid that is not Newtonian.

use super::when;
use crate::case::{Case, Layout};
use crate::outcome::Warning;

/// Validity warnings that such a liquid earns at a nozzle.
pub(super) fn warnings(case: &Case) -> Vec<Warning> {
    let outside = if case.outer.is_some() {
        "; drag and stress of the outer liquid take the viscosity ratio at rest"
    } else {
        ""
    };
    let thinning = when(case.layout != Layout::Segment && case.real.thinning.is_some(), "thinning_at_rest", || {
        format!(
            "the thread thins as it stretches, and the pressure at the inner inlet is that of the thinning liquid (developed flow), but groups \
             and estimates take the inner viscosity at rest (an upper bound){outside}"
        )
    });
    thinning.into_iter().collect()
}
