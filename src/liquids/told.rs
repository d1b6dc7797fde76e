//! What is known of liquids, their interfaces and surfactants as one JSON object, the answer of `liquids`.

use super::interfaces::{PAIRS, Pair};
use super::surfactants::{self, Class, Surfactant};
use super::{LiquidError, Properties, ZERO_CELSIUS, look_up, names};
use serde::Serialize;

/// What was asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Listed {
    pub liquids: Vec<Properties>,
    pub pairs: Vec<&'static Pair>,
    pub surfactants: Vec<&'static Surfactant>,
}

/// The answer of `liquids`; values are SI, spreads relative.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Known {
    pub liquids: Vec<Told>,
    pub interfaces: Vec<PairTold>,
    pub surfactants: Vec<SurfactantTold>,
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

/// A surfactant between water and air; against an oil it has other values.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct SurfactantTold {
    name: &'static str,
    substance: &'static str,
    /// `nonionic` or `ionic`.
    class: &'static str,
    /// `water/air`.
    interface: &'static str,
    temperature_k: f64,
    /// Concentration above which micelles form.
    critical_micelle_concentration_mol_per_m3: f64,
    tension_at_micelles_n_per_m: f64,
    /// Greatest surface excess: key `surfactant.saturation`.
    saturation_mol_per_m2: f64,
    /// Key `surfactant.affinity`, by the Szyszkowski equation through the micelles; none for an ionic surfactant, whose saturation
    /// counts twice in the tension.
    affinity_m3_per_mol: Option<f64>,
    /// By how many per cent the affinity falls where the saturation is one per cent more.
    affinity_sensitivity: Option<f64>,
    /// Concentrations for which saturation and affinity hold.
    range_mol_per_m3: Option<[f64; 2]>,
    /// Key `surfactant.diffusivity`; none where no published value was read.
    diffusivity_m2_per_s: Option<f64>,
    source: &'static str,
    status: &'static str,
}

/// One liquid with the interfaces in which it stands, one surfactant, or all that are known at a temperature (K; room where it is
/// left out).
///
/// # Errors
/// What is not in the tables or not known at that temperature.
pub fn listed(name: Option<&str>, at: Option<f64>) -> Result<Listed, LiquidError> {
    let Some(name) = name else {
        let liquids = names().into_iter().filter_map(|n| look_up(n, at).ok()).collect();
        return Ok(Listed { liquids, pairs: PAIRS.iter().collect(), surfactants: surfactants::at(at) });
    };
    if let Some(surfactant) = surfactants::look_up(name, at)? {
        return Ok(Listed { liquids: Vec::new(), pairs: Vec::new(), surfactants: vec![surfactant] });
    }
    let liquid = look_up(name, at).map_err(|e| {
        let right = if e.about_temperature {
            e.right
        } else {
            format!("{}; surfactants: {}", e.right, surfactants::names().join(", "))
        };
        LiquidError { right, ..e }
    })?;
    let pairs = PAIRS.iter().filter(|p| belongs(p, &liquid)).collect();
    Ok(Listed { liquids: vec![liquid], pairs, surfactants: Vec::new() })
}

/// All of it as it is told.
pub fn told(listed: &Listed) -> Known {
    Known {
        liquids: listed.liquids.iter().map(liquid).collect(),
        interfaces: listed.pairs.iter().map(|p| pair_told(p)).collect(),
        surfactants: listed.surfactants.iter().map(|s| surfactant_told(s)).collect(),
    }
}

fn surfactant_told(s: &Surfactant) -> SurfactantTold {
    SurfactantTold {
        name: s.name,
        substance: s.substance,
        class: match s.class {
            Class::Nonionic => "nonionic",
            Class::Ionic => "ionic",
        },
        interface: "water/air",
        temperature_k: s.temperature + ZERO_CELSIUS,
        critical_micelle_concentration_mol_per_m3: s.micelles,
        tension_at_micelles_n_per_m: s.tension(),
        saturation_mol_per_m2: s.saturation,
        affinity_m3_per_mol: s.affinity(),
        affinity_sensitivity: s.sensitivity(),
        range_mol_per_m3: s.range().map(|(low, high)| [low, high]),
        diffusivity_m2_per_s: s.diffusivity,
        source: s.source,
        status: s.status,
    }
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
