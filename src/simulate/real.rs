//! Which of a case's effects beyond one viscosity and one tension a run computes, and what it should be warned of.

use super::SimulateError;
use super::world::World;
use crate::case::rheology::Surfactant;
use crate::case::{Case, Layout};
use crate::outcome::Warning;

/// Whether a run computes everything that the case's keys ask for.
///
/// # Errors
/// The first key that it does not.
pub fn computes(case: &Case) -> Result<(), SimulateError> {
    let alone = case.layout == Layout::Segment && case.outer.is_none();
    // a polymer's thread that outlives many drops, and what an outer liquid does to it, have not been held against anything
    match case.real.effects().iter().find(|(key, _)| *key == "inner.polymer_viscosity") {
        Some(&(key, what)) if !alone => Err(SimulateError::OnlySegment(key, what)),
        _ => Ok(()),
    }
}

/// Ohnesorge number below which the Marangoni stress of a real surface acts on a layer thinner than the thread.
const LAYERED: f64 = 0.3;

/// What a user of these effects should know of the answer.
pub fn warnings(case: &Case, world: &World) -> Vec<Warning> {
    let mut found = Vec::new();
    let mut warn = |code: &str, text: String| found.push(Warning { code: code.into(), text });
    if case.real.is_plain() {
        return found;
    }
    if let Some(Surfactant::Insoluble { elasticity, .. }) = case.real.surfactant {
        let radius = case.segment.map_or(case.device.pinned_radius(), |s| s.radius);
        let ohnesorge = case.inner.viscosity / (case.inner.density * case.tension * radius).sqrt();
        if elasticity > 0.0 && ohnesorge < LAYERED {
            warn(
                "marangoni_layer",
                format!(
                    "Ohnesorge number {ohnesorge:.3}: the Marangoni stress of a real surface drags along a layer, here the whole \
                     section; waves grow too slowly (`growth` shows by how much)"
                ),
            );
        }
        if world.is_packed() {
            let text = "the surfactant is packed somewhere (tension down to 2 % of that at rest): a real layer buckles or leaves \
                        the surface there, here its tension stays";
            warn("surfactant_packed", text.into());
        }
    }
    found
}
