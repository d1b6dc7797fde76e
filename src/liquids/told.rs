//! What is known of liquids and their interfaces as one JSON object, the answer of `liquids`.

use super::interfaces::{PAIRS, Pair};
use super::{LiquidError, Properties, ZERO_CELSIUS, look_up, names};
use serde::Serialize;

/// The answer of `liquids`; values are SI, spreads relative.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Known {
    pub liquids: Vec<Told>,
    pub interfaces: Vec<PairTold>,
}

/// A liquid with what is known of it.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Told {
    name: String,
    temperature_k: f64,
    density_kg_per_m3: f64,
    density_spread: f64,
    viscosity_pa_s: f64,
    viscosity_spread: f64,
    surface_tension_n_per_m: f64,
    range_k: [f64; 2],
    source: String,
    status: &'static str,
}

/// An interface.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct PairTold {
    liquids: [&'static str; 2],
    surfactant: Option<&'static str>,
    temperature_k: f64,
    tension_n_per_m: f64,
    spread_n_per_m: f64,
    source: &'static str,
    status: &'static str,
}

/// One liquid, or all that are known at a temperature (K; room where it is left out), with the interfaces in which they stand.
///
/// # Errors
/// A liquid that is not in the table or not known at that temperature.
pub fn listed(name: Option<&str>, at: Option<f64>) -> Result<(Vec<Properties>, Vec<&'static Pair>), LiquidError> {
    let found = match name {
        Some(name) => vec![look_up(name, at)?],
        None => names().into_iter().filter_map(|n| look_up(n, at).ok()).collect(),
    };
    let pairs = PAIRS.iter().filter(|p| name.is_none() || found.iter().any(|f| belongs(p, f))).collect();
    Ok((found, pairs))
}

/// Both as they are told.
pub fn told(found: &[Properties], pairs: &[&Pair]) -> Known {
    Known { liquids: found.iter().map(liquid).collect(), interfaces: pairs.iter().map(|p| pair_told(p)).collect() }
}

fn belongs(pair: &Pair, liquid: &Properties) -> bool {
    let is = |name: &str| liquid.name == name || liquid.name.starts_with(&format!("{name} "));
    is(pair.liquids.0) || is(pair.liquids.1)
}

fn liquid(p: &Properties) -> Told {
    Told {
        name: p.name.clone(),
        temperature_k: p.temperature,
        density_kg_per_m3: p.density.si,
        density_spread: p.density.spread,
        viscosity_pa_s: p.viscosity.si,
        viscosity_spread: p.viscosity.spread,
        surface_tension_n_per_m: p.surface_tension.si,
        range_k: [p.range.0, p.range.1],
        source: p.source.clone(),
        status: p.status,
    }
}

fn pair_told(p: &Pair) -> PairTold {
    PairTold {
        liquids: [p.liquids.0, p.liquids.1],
        surfactant: p.surfactant,
        temperature_k: p.temperature + ZERO_CELSIUS,
        tension_n_per_m: 1e-3 * p.tension,
        spread_n_per_m: 1e-3 * p.spread,
        source: p.source,
        status: p.status,
    }
}
