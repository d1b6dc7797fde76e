//! Which of a case's effects beyond one viscosity and one tension a run computes, and what it should be warned of.

use super::SimulateError;
use super::setup::Setup;
use super::world::World;
use crate::case::rheology::{Phase, Surfactant};
use crate::case::{Case, Layout};
use crate::outcome::{Surface, Warning};
use crate::theory::adsorption::Solution;
use crate::tolerances::STRING_CUT;

/// Whether a run computes everything that the case's keys ask for.
///
/// # Errors
/// The first key that it does not.
pub fn computes(case: &Case) -> Result<(), SimulateError> {
    let effects = case.real.effects();
    let (Some(polymer), Some(&(key, what))) =
        (case.real.polymer, effects.iter().find(|(key, _)| *key == "inner.polymer_viscosity"))
    else {
        return Ok(());
    };
    let not_here = |why: String| Err(SimulateError::NotHere(key, what, why));
    let radius = case.device.pinned_radius();
    let capillary = (case.inner.density * radius.powi(3) / case.tension).sqrt();
    if !matches!(case.layout, Layout::Segment(_)) && polymer.relaxation_time < SHORT * capillary {
        return not_here(format!(
            "it forgets within {:.3} of the tip's capillary time of {:.3} ms (least {SHORT}); leave its keys out: a polymer that fast is a part of \
             the viscosity until the last instants of a neck",
            polymer.relaxation_time / capillary,
            1e3 * capillary
        ));
    }
    Ok(())
}

/// Relaxation time over the tip's capillary time sqrt(rho R^3/tension) below which a run does not follow a polymer on a nozzle.
const SHORT: f64 = 0.05;

/// Ohnesorge number below which the Marangoni stress of a real surface acts on a layer thinner than the thread.
const LAYERED: f64 = 0.3;

/// A dissolved surfactant as exact theory takes it.
fn solution(case: &Case) -> Option<Solution> {
    match case.real.surfactant? {
        Surfactant::Dissolved { concentration, saturation, affinity, diffusivity, temperature, .. } => {
            Some(Solution { concentration, saturation, affinity, diffusivity, temperature })
        }
        Surfactant::Insoluble { .. } => None,
    }
}

/// Tension at equilibrium with the liquid that holds the surfactant, N/m.
pub(super) fn equilibrium(case: &Case) -> Option<f64> {
    Some(case.tension - solution(case)?.equilibrium_pressure())
}

/// The surface when the drops of these pinch-offs came off; all of them where none is given.
pub fn surface(case: &Case, setup: &Setup, world: &World, pinches: &[usize]) -> Option<Surface> {
    let seen = &world.surfactant.seen;
    let settled: Vec<_> = seen.iter().filter(|s| pinches.contains(&s.pinch)).collect();
    let settled = if settled.is_empty() { seen.iter().take(1).collect() } else { settled };
    if settled.is_empty() {
        return None;
    }
    let mean =
        |of: &dyn Fn(&super::world::AtBreak) -> f64| settled.iter().map(|s| of(s)).sum::<f64>() / settled.len() as f64;
    let drop = case.tension * mean(&|s| s.drop.tension);
    let equilibrium = equilibrium(case);
    Some(Surface {
        neck_tension_n_per_m: case.tension * mean(&|s| s.neck.tension),
        drop_tension_n_per_m: drop,
        clean_tension_n_per_m: equilibrium.map(|_| case.tension),
        equilibrium_tension_n_per_m: equilibrium,
        age_s: equilibrium.map(|_| setup.scales.time * mean(&|s| s.drop.age)),
        equilibrium_share: equilibrium.map(|e| (case.tension - drop) / (case.tension - e)),
    })
}

/// Depleted layer over the drop's radius from which its curvature feeds it.
const THICK_LAYER: f64 = 0.3;

/// Where the theory of a dissolved surfactant ends.
fn dissolved(case: &Case, surface: &Surface) -> Vec<(&'static str, String)> {
    let (Some(solution), Some(age), Some(share)) = (solution(case), surface.age_s, surface.equilibrium_share) else {
        return Vec::new();
    };
    let mut found = vec![(
        "surfactant_age",
        format!(
            "tension (computed) {:.2} mN/m at the neck and {:.2} on the drop when it came off, its surface {:.3} ms old and {:.0} % of the way from \
             clean to equilibrium; adsorption by diffusion alone, no barrier, its layer at rest beside the surface (a stream along it \
             brings more), new surface at the rim clean",
            1e3 * surface.neck_tension_n_per_m,
            1e3 * surface.drop_tension_n_per_m,
            1e3 * age,
            100.0 * share
        ),
    )];
    let layer = (std::f64::consts::PI * solution.diffusivity * age).sqrt();
    let outside = matches!(case.real.surfactant, Some(Surfactant::Dissolved { phase: Phase::Outer, .. }));
    if outside && layer > THICK_LAYER * case.device.pinned_radius() && share < 0.95 {
        found.push((
            "surfactant_layer_thick",
            format!(
                "the depleted layer is {:.1} um thick (limit {THICK_LAYER} of the tip's radius): a curved one brings more than computed",
                1e6 * layer
            ),
        ));
    }
    found
}

/// What a user of these effects should know of the answer.
pub fn warnings(case: &Case, world: &World, surface: Option<&Surface>) -> Vec<Warning> {
    let mut found = Vec::new();
    let mut warn = |code: &str, text: String| found.push(Warning { code: code.into(), text });
    if case.real.is_plain() {
        return found;
    }
    if let Some(polymer) = case.real.polymer.filter(|_| !matches!(case.layout, Layout::Segment(_))) {
        warn(
            "polymer_string",
            format!(
                "one relaxation time ({:.3} ms), chains at rest when they leave the tip (a needle shears them before); a thread that they hold \
                 thins as exp(-t/3 relaxation times) and is divided at {STRING_CUT} of the tip's radius, each half drawn into its drop: beads on \
                 it that are smaller than that are not told",
                1e3 * polymer.relaxation_time
            ),
        );
    }
    for (code, text) in surface.map(|s| dissolved(case, s)).unwrap_or_default() {
        warn(code, text);
    }
    if let (Some(Surfactant::Insoluble { .. }), Some(s)) =
        (case.real.surfactant, surface.filter(|_| !matches!(case.layout, Layout::Segment(_))))
    {
        warn(
            "surfactant_stretched",
            format!(
                "tension (computed) {:.2} mN/m at the neck and {:.2} on the drop when it came off; nothing comes past the contact line while a drop \
                 fills, so its surface only stretches; new surface that a thread draws from the rim carries the amount at rest",
                1e3 * s.neck_tension_n_per_m,
                1e3 * s.drop_tension_n_per_m
            ),
        );
    }
    let elastic = match case.real.surfactant {
        Some(Surfactant::Insoluble { elasticity, .. }) => Some(elasticity > 0.0),
        Some(Surfactant::Dissolved { .. }) => {
            Some(surface.is_some_and(|s| s.equilibrium_share.is_some_and(|e| e < 0.95)))
        }
        None => None,
    };
    if let Some(elastic) = elastic {
        let radius = case.layout.segment().map_or(case.device.pinned_radius(), |s| s.radius);
        let ohnesorge = case.inner.viscosity / (case.inner.density * case.tension * radius).sqrt();
        if elastic && ohnesorge < LAYERED {
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
