//! What liquids and interface have beyond one viscosity and one tension: thinning, polymer, surfactant (SI).

use super::LayoutKind;
use super::contradictions::Contradiction;
use super::keys::{self, KEYS};
use super::problem::Code;
use super::reader::Reader;
use crate::device::thinning::Carreau;
use serde::{Deserialize, Serialize};

/// A liquid that thins: `mu = mu_inf + (mu_0 - mu_inf) (1 + (t |rate|)^2)^((n-1)/2)` (Carreau), mu_0 the stream's viscosity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Thinning {
    /// n, from 0.1 to 1.
    pub exponent: f64,
    /// t, s.
    pub time: f64,
    /// mu_inf, Pa s.
    pub viscosity_infinite: f64,
}

impl Thinning {
    /// The law over the viscosity at rest, times in units of `unit` seconds.
    pub fn law(&self, at_rest: f64, unit: f64) -> Carreau {
        Carreau { exponent: self.exponent, time: self.time / unit, infinite: self.viscosity_infinite / at_rest }
    }
}

/// A dissolved polymer (Oldroyd-B, or FENE-P with an extensibility).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Polymer {
    /// Its part of the stream's viscosity, Pa s.
    pub viscosity: f64,
    /// s.
    pub relaxation_time: f64,
    /// L^2 of FENE-P; `None`: chains that stretch without limit.
    pub extensibility: Option<f64>,
}

/// Which liquid holds a dissolved surfactant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Phase {
    Outer,
    Inner,
}

pub use crate::units::GAS_CONSTANT;

/// A surfactant.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub enum Surfactant {
    /// Stays on the interface; the case's tension is that at the amount at rest Gamma_0.
    Insoluble {
        /// E = -(Gamma_0/tension) d tension/d Gamma at Gamma_0.
        elasticity: f64,
        /// Gamma_0 over closest packing, for Langmuir's equation of state; `None`: linear.
        coverage: Option<f64>,
        /// Diffusivity along the interface, m2/s.
        diffusivity: f64,
    },
    /// Comes to the interface by diffusion; the case's tension is that of the clean interface.
    Dissolved {
        phase: Phase,
        /// mol/m3.
        concentration: f64,
        /// Gamma_inf, mol/m2.
        saturation: f64,
        /// K of Langmuir's isotherm, m3/mol.
        affinity: f64,
        /// m2/s.
        diffusivity: f64,
        /// K.
        temperature: f64,
    },
}

/// All of it; nothing for a clean interface between Newtonian liquids.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct RealLiquids {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thinning: Option<Thinning>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outer_thinning: Option<Thinning>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub polymer: Option<Polymer>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub surfactant: Option<Surfactant>,
}

/// Temperature where none is typed, K.
const ROOM: f64 = 298.15;
/// Keys that a group of keys cannot do without.
const THINNING: [&str; 3] = ["inner.thinning_exponent", "inner.thinning_time", "inner.viscosity_infinite"];
const OUTER_THINNING: [&str; 3] = ["outer.thinning_exponent", "outer.thinning_time", "outer.viscosity_infinite"];
const POLYMER: [&str; 2] = ["inner.polymer_viscosity", "inner.relaxation_time"];
const DISSOLVED: [&str; 4] =
    ["surfactant.concentration", "surfactant.saturation", "surfactant.affinity", "surfactant.diffusivity"];
/// Keys that tell that there is a liquid outside.
const OUTER_LIQUID: [&str; 5] = ["outer.liquid", "outer.temperature", "outer.viscosity", "outer.density", "outer.flow"];
/// Keys of one kind of surfactant alone.
const INSOLUBLE_ALONE: [&str; 4] =
    ["surfactant.elasticity", "surfactant.isotherm", "surfactant.coverage", "surfactant.surface_diffusivity"];
const DISSOLVED_ALONE: [&str; 5] = [
    "surfactant.phase",
    "surfactant.concentration",
    "surfactant.saturation",
    "surfactant.affinity",
    "surfactant.diffusivity",
];

impl RealLiquids {
    /// A clean interface between Newtonian liquids.
    pub fn is_plain(&self) -> bool {
        *self == RealLiquids::default()
    }

    /// Effects in words, with the key that asks for each.
    pub fn effects(&self) -> Vec<(&'static str, &'static str)> {
        let surfactant = self.surfactant.map(|s| match s {
            Surfactant::Insoluble { .. } => ("surfactant.kind", "an insoluble surfactant"),
            Surfactant::Dissolved { .. } => ("surfactant.kind", "a dissolved surfactant"),
        });
        let thinning = self.thinning.map(|_| ("inner.thinning_exponent", "a shear-thinning inner liquid"));
        let outer = self.outer_thinning.map(|_| ("outer.thinning_exponent", "a shear-thinning outer liquid"));
        let polymer = self.polymer.map(|_| ("inner.polymer_viscosity", "a polymer in the inner liquid"));
        [thinning, outer, polymer, surfactant].into_iter().flatten().collect()
    }
}

/// Reads it; `None` of a part where nothing of it is there, or what is there is not enough (then a problem says so).
pub(super) fn read(reader: &mut Reader, layout: LayoutKind) -> RealLiquids {
    RealLiquids {
        thinning: thinning(reader, THINNING),
        outer_thinning: outer_thinning(reader, layout),
        polymer: polymer(reader),
        surfactant: surfactant(reader, layout),
    }
}

/// Whether there is a liquid outside.
fn liquid_outside(reader: &Reader, layout: LayoutKind) -> bool {
    matches!(layout, LayoutKind::Coflow | LayoutKind::Counterflow)
        || reader.document.entries.iter().any(|e| OUTER_LIQUID.contains(&e.key.as_str()))
}

fn outer_thinning(reader: &mut Reader, layout: LayoutKind) -> Option<Thinning> {
    if let Some(key) = OUTER_THINNING.iter().find(|key| reader.has(key))
        && !liquid_outside(reader, layout)
    {
        let right = "give the liquid outside in [outer], or leave it out".into();
        reader.report(Code::Contradiction, key, "there is no liquid outside".into(), right, None);
        return None;
    }
    thinning(reader, OUTER_THINNING)
}

fn any(reader: &Reader, keys: &[&str]) -> bool {
    keys.iter().any(|key| reader.has(key))
}

/// Notes which of `wanted` are missing; whether none is.
fn complete(reader: &mut Reader, wanted: &[&'static str], what: &str) -> bool {
    let missing: Vec<&'static str> = wanted.iter().copied().filter(|key| !reader.is_answered(key)).collect();
    for key in &missing {
        let (about, example) = keys::find(key).map_or(("", ""), |k| (k.about, k.example));
        let name = key.split('.').next_back().unwrap_or(key);
        reader.report(
            Code::MissingKey,
            key,
            format!("is missing; {what} needs it"),
            format!("add to [{}]: {name} = \"{example}\" ({about})", key.split('.').next().unwrap_or_default()),
            None,
        );
    }
    missing.is_empty()
}

fn thinning(reader: &mut Reader, keys: [&'static str; 3]) -> Option<Thinning> {
    if !any(reader, &keys) || !complete(reader, &keys[..2], "a shear-thinning liquid") {
        return None;
    }
    Some(Thinning {
        exponent: reader.real(keys[0])?,
        time: reader.real(keys[1])?,
        viscosity_infinite: reader.real(keys[2]).unwrap_or(0.0),
    })
}

fn polymer(reader: &mut Reader) -> Option<Polymer> {
    if !any(reader, &["inner.polymer_viscosity", "inner.relaxation_time", "inner.extensibility"]) {
        return None;
    }
    if !complete(reader, &POLYMER, "a polymer") {
        return None;
    }
    Some(Polymer {
        viscosity: reader.real(POLYMER[0])?,
        relaxation_time: reader.real(POLYMER[1])?,
        extensibility: reader.real("inner.extensibility"),
    })
}

fn surfactant(reader: &mut Reader, layout: LayoutKind) -> Option<Surfactant> {
    let given: Vec<&str> = KEYS.iter().map(|k| k.name).filter(|name| name.starts_with("surfactant.")).collect();
    if !any(reader, &given) || !complete(reader, &["surfactant.kind"], "a surfactant") {
        return None;
    }
    let kind = reader.text("surfactant.kind")?;
    let other: &[&str] = if kind == "insoluble" { &DISSOLVED_ALONE } else { &INSOLUBLE_ALONE };
    for key in other.iter().filter(|key| reader.has(key)).collect::<Vec<_>>() {
        let kinds = ["insoluble", "dissolved"];
        let right = format!("it belongs to kind = \"{}\"", kinds[usize::from(kind == "insoluble")]);
        reader.report(Code::Contradiction, key, format!("a surfactant of kind {kind} has no use for it"), right, None);
    }
    if kind == "insoluble" {
        let langmuir = reader.text("surfactant.isotherm").is_some_and(|word| word == "langmuir");
        let wanted: &[&'static str] =
            if langmuir { &["surfactant.elasticity", "surfactant.coverage"] } else { &["surfactant.elasticity"] };
        if !complete(reader, wanted, "an insoluble surfactant") {
            return None;
        }
        if !langmuir && reader.has("surfactant.coverage") {
            let right = "write isotherm = \"langmuir\", or leave coverage out".into();
            reader.report(Code::Contradiction, "surfactant.coverage", "a linear isotherm has none".into(), right, None);
        }
        return Some(Surfactant::Insoluble {
            elasticity: reader.real("surfactant.elasticity")?,
            coverage: if langmuir { Some(reader.real("surfactant.coverage")?) } else { None },
            diffusivity: reader.real("surfactant.surface_diffusivity").unwrap_or(0.0),
        });
    }
    if !complete(reader, &DISSOLVED, "a dissolved surfactant") {
        return None;
    }
    let inner = reader.text("surfactant.phase").is_some_and(|word| word == "inner");
    if !inner && !liquid_outside(reader, layout) {
        let right = "write phase = \"inner\", or give the liquid outside in [outer]".into();
        reader.report(Code::Contradiction, "surfactant.phase", "no liquid outside could hold it".into(), right, None);
    }
    Some(Surfactant::Dissolved {
        phase: if inner { Phase::Inner } else { Phase::Outer },
        concentration: reader.real(DISSOLVED[0])?,
        saturation: reader.real(DISSOLVED[1])?,
        affinity: reader.real(DISSOLVED[2])?,
        diffusivity: reader.real(DISSOLVED[3])?,
        temperature: reader.real("inner.temperature").unwrap_or(ROOM),
    })
}

/// What of it cannot stand together, given the viscosities of the inner and the outer liquid.
pub(super) fn contradictions(real: &RealLiquids, viscosity: f64, outer: Option<f64>) -> Vec<Contradiction> {
    let mut found: Vec<Contradiction> = Vec::new();
    let below = |key, value: f64, viscosity: f64| {
        (
            key,
            format!("{} mPa.s is not below the liquid's viscosity at rest ({} mPa.s)", 1e3 * value, 1e3 * viscosity),
            format!("less than {} mPa.s is needed", 1e3 * viscosity),
        )
    };
    if let Some(thinning) = real.thinning.filter(|t| t.viscosity_infinite >= viscosity) {
        found.push(below("inner.viscosity_infinite", thinning.viscosity_infinite, viscosity));
    }
    if let (Some(thinning), Some(outer)) = (real.outer_thinning, outer)
        && thinning.viscosity_infinite >= outer
    {
        found.push(below("outer.viscosity_infinite", thinning.viscosity_infinite, outer));
    }
    if let Some(polymer) = real.polymer.filter(|p| p.viscosity >= viscosity) {
        found.push(below("inner.polymer_viscosity", polymer.viscosity, viscosity));
    }
    if real.thinning.is_some() && real.polymer.is_some() {
        found.push((
            "inner.thinning_exponent",
            "stands beside a polymer: a solvent that thins under a polymer is not computed".into(),
            "give either the thinning_ keys or the polymer's".into(),
        ));
    }
    found
}
