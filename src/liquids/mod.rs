//! Built-in properties of common liquids, interfaces and surfactants, each with source, range and status.

pub mod glycerol;
pub mod interfaces;
pub mod surfactants;
pub mod table;
pub mod told;
pub mod water;

use crate::math::Pinned as _;
use crate::units::quoted;
use table::{ROW_REACH, rows};

/// 0 degC in K.
pub const ZERO_CELSIUS: f64 = 273.15;
/// Taken where no temperature is given, degC.
pub const ROOM: f64 = 25.0;
/// Range of the formulas, degC.
const FORMULA_RANGE: (f64, f64) = (0.0, 100.0);

/// A value with what is known about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Value {
    /// SI.
    pub si: f64,
    /// Relative spread to expect.
    pub spread: f64,
}

/// A liquid at a temperature.
#[derive(Debug, Clone, PartialEq)]
pub struct Properties {
    /// Name in the table, with its share if it is a mixture.
    pub name: String,
    /// K.
    pub temperature: f64,
    /// Pa s.
    pub viscosity: Value,
    /// kg/m3.
    pub density: Value,
    /// Against air, N/m.
    pub surface_tension: Value,
    /// Temperatures for which it is known, K.
    pub range: (f64, f64),
    pub source: String,
    /// `library`, `published`, [`table::NOT_SOURCED`], ...
    pub status: &'static str,
}

/// Why there are no properties.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LiquidError {
    pub found: String,
    /// What there is.
    pub right: String,
    pub nearest: Option<String>,
    /// True if the liquid is known, but not at this temperature.
    pub about_temperature: bool,
}

impl std::fmt::Display for LiquidError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}; {}", self.found, self.right)?;
        match &self.nearest {
            Some(nearest) => write!(f, " (did you mean `{nearest}`?)"),
            None => Ok(()),
        }
    }
}

impl std::error::Error for LiquidError {}

/// Longer names than this are no liquid's (and costly to compare).
const NAME_MAX: usize = 80;

/// What a name stands for.
enum Known {
    Water,
    /// Mass share of glycerol.
    Glycerol(f64),
    Listed(&'static str),
}

/// Names of everything in the table.
pub fn names() -> Vec<&'static str> {
    let mut names: Vec<&str> = vec!["water", "glycerol-water 40 %"];
    names.extend(table::ROWS.iter().map(|r| r.name));
    names.dedup();
    names
}

fn tidy(name: &str) -> String {
    name.to_lowercase().replace('_', " ").split_whitespace().collect::<Vec<_>>().join(" ")
}

fn find(name: &str) -> Result<Known, LiquidError> {
    let plain = if name.len() > NAME_MAX { String::new() } else { tidy(name) };
    if plain == "water" {
        return Ok(Known::Water);
    }
    if plain == "glycerol" {
        return Ok(Known::Glycerol(1.0));
    }
    for prefix in ["glycerol-water", "glycerol/water", "glycerol water"] {
        if let Some(rest) = plain.strip_prefix(prefix) {
            return glycerol_share(name, rest);
        }
    }
    // `glycerol 80 %` means a solution in water, as at the bench
    if let Some(rest) = plain.strip_prefix("glycerol ").filter(|rest| rest.contains('%')) {
        return glycerol_share(name, rest);
    }
    if plain == "mineral oil" || plain == "paraffin oil" {
        return Err(grade(name, "light mineral oil", "there is one grade in the table, `light mineral oil`"));
    }
    if plain.strip_prefix("silicone oil").is_some_and(|rest| rest.trim_end().ends_with("cst")) {
        if let Some(row) = table::ROWS.iter().find(|r| tidy(r.name) == plain) {
            return Ok(Known::Listed(row.name));
        }
        let grades: Vec<&str> = names().into_iter().filter(|n| n.starts_with("silicone oil")).collect();
        return Err(LiquidError {
            found: format!("`{}` is a grade that is not in the table", quoted(name)),
            right: format!("there are {}; or give viscosity and density instead", grades.join(", ")),
            nearest: None,
            about_temperature: false,
        });
    }
    if plain == "pegda" || plain.contains("diacrylate") {
        return Err(grade(
            name,
            "",
            "no published values by grade are at hand: give viscosity and density from its data sheet",
        ));
    }
    if plain == "air" {
        return Err(grade(name, "", "a gas around the drop is what `pendant` has where [outer] is left out"));
    }
    if let Some(row) = table::ROWS.iter().find(|r| tidy(r.name) == plain || ALIASES.contains(&(plain.as_str(), r.name)))
    {
        return Ok(Known::Listed(row.name));
    }
    let score = |other: &str| strsim::jaro_winkler(&plain, &tidy(other));
    let nearest = names().into_iter().max_by(|a, b| score(a).total_cmp(&score(b))).filter(|n| score(n) > 0.8);
    Err(LiquidError {
        found: format!("`{}` is not in the table of liquids", quoted(name)),
        right: format!("there are {}; or give viscosity and density instead", names().join(", ")),
        nearest: nearest.map(str::to_owned),
        about_temperature: false,
    })
}

/// Other names of liquids in the table.
const ALIASES: [(&str, &str); 4] = [
    ("2-propanol", "isopropanol"),
    ("propan-2-ol", "isopropanol"),
    ("n-hexadecane", "hexadecane"),
    ("n-decane", "decane"),
];

fn grade(name: &str, nearest: &str, right: &str) -> LiquidError {
    LiquidError {
        found: format!("`{}` is not in the table by that name", quoted(name)),
        right: right.into(),
        nearest: (!nearest.is_empty()).then(|| nearest.to_owned()),
        about_temperature: false,
    }
}

fn glycerol_share(name: &str, rest: &str) -> Result<Known, LiquidError> {
    let percent = rest.trim().strip_suffix('%').and_then(|p| p.trim().parse::<f64>().ok());
    match percent.filter(|p| (0.0..=100.0).contains(p)) {
        Some(percent) => Ok(Known::Glycerol(percent / 100.0)),
        None => Err(LiquidError {
            found: format!("`{}` does not say how much glycerol", quoted(name)),
            right: "write the percentage by mass, 0 to 100, for example \"glycerol-water 40 %\"".into(),
            nearest: None,
            about_temperature: false,
        }),
    }
}

/// Properties of a liquid at a temperature (K), or at 25 degC.
///
/// # Errors
/// If it is not in the table or not known at that temperature: what there is, with the nearest.
pub fn look_up(name: &str, temperature: Option<f64>) -> Result<Properties, LiquidError> {
    let celsius = temperature.map(|t| t - ZERO_CELSIUS);
    match find(name)? {
        Known::Listed(listed) => from_rows(listed, celsius),
        Known::Water => {
            let t = in_range("water", celsius.unwrap_or(ROOM), FORMULA_RANGE)?;
            Ok(Properties {
                name: "water".into(),
                temperature: t + ZERO_CELSIUS,
                viscosity: Value { si: water::viscosity(t), spread: 0.01 },
                density: Value { si: water::density(t), spread: 1e-4 },
                surface_tension: Value { si: water::surface_tension(t), spread: 5e-3 },
                range: kelvin(FORMULA_RANGE),
                source: "Kell 1975 (density), IAPWS SR6-08 (viscosity), IAPWS R1-76 (tension)".into(),
                status: "published formulas, held against IAPWS to 0.1 %",
            })
        }
        Known::Glycerol(c) => {
            let t = in_range("glycerol-water", celsius.unwrap_or(ROOM), FORMULA_RANGE)?;
            Ok(Properties {
                name: format!("glycerol-water {} %", (1e6 * c).round() / 1e4),
                temperature: t + ZERO_CELSIUS,
                viscosity: Value { si: glycerol::viscosity(c, t), spread: 0.035 },
                density: Value { si: glycerol::density(c, t), spread: 3e-3 },
                surface_tension: Value { si: glycerol::surface_tension(c, t), spread: 0.03 },
                range: kelvin(FORMULA_RANGE),
                source: "Cheng 2008 (viscosity), Volk & Kaehler 2018 (density), between the pure liquids (tension)"
                    .into(),
                status: "published formulas; viscosity held against a table from 0 to 40 degC to 3.5 %",
            })
        }
    }
}

fn kelvin(range: (f64, f64)) -> (f64, f64) {
    (range.0 + ZERO_CELSIUS, range.1 + ZERO_CELSIUS)
}

fn in_range(name: &str, t: f64, range: (f64, f64)) -> Result<f64, LiquidError> {
    if (range.0 - 1e-9..=range.1 + 1e-9).contains(&t) {
        return Ok(t);
    }
    Err(LiquidError {
        found: format!("{name} is not known at {} degC", (1e4 * t).round() / 1e4),
        right: format!("it is known from {} to {} degC", range.0, range.1),
        nearest: Some(format!("{} degC", if t < range.0 { range.0 } else { range.1 })),
        about_temperature: true,
    })
}

/// Between the rows of a liquid: viscosity logarithmically, the rest linearly.
fn from_rows(name: &'static str, celsius: Option<f64>) -> Result<Properties, LiquidError> {
    let rows = rows(name);
    let (first, last) = (rows[0], rows[rows.len() - 1]);
    let range = (first.temperature - ROW_REACH, last.temperature + ROW_REACH);
    let t = in_range(name, celsius.unwrap_or(ROOM.clamp(first.temperature, last.temperature)), range)?;
    let k = rows.iter().position(|r| r.temperature >= t).unwrap_or(rows.len() - 1);
    let (low, high) = (rows[k.saturating_sub(1)], rows[k]);
    let span = high.temperature - low.temperature;
    let s = if span > 0.0 { ((t - low.temperature) / span).clamp(0.0, 1.0) } else { 0.0 };
    let linear = |a: f64, b: f64| a + s * (b - a);
    Ok(Properties {
        name: name.into(),
        temperature: t + ZERO_CELSIUS,
        viscosity: Value { si: 1e-3 * low.viscosity * (high.viscosity / low.viscosity).power(s), spread: low.spread },
        density: Value { si: linear(low.density, high.density), spread: 0.005 },
        surface_tension: Value { si: 1e-3 * linear(low.surface_tension, high.surface_tension), spread: 0.03 },
        range: kelvin(range),
        source: low.source.into(),
        status: low.status,
    })
}

/// Liquids of this group mix with each other in any share (common practice, no source).
const AQUEOUS: [&str; 5] = ["water", "glycerol", "ethanol", "isopropanol", "poly(ethylene glycol)"];
/// And these.
const OILY: [&str; 7] =
    ["decane", "dodecane", "hexadecane", "toluene", "light mineral oil", "sunflower oil", "1-octanol"];

/// Why two named liquids have no interface; `None` where they have one or are not known.
pub fn mix(one: &str, other: &str) -> Option<&'static str> {
    let (a, b) = (tidy(one), tidy(other));
    let both = |group: &[&str]| [&a, &b].iter().all(|n| group.iter().any(|g| n.starts_with(g)));
    if a == b {
        return Some("are the same liquid");
    }
    (both(&AQUEOUS) || both(&OILY) || both(&["silicone oil"])).then_some("mix")
}

/// Tension (N/m) between two named liquids without surfactant, or of one in `air`, where it is known.
pub fn tension_between(one: &str, other: &str, temperature: Option<f64>) -> Option<Value> {
    let (a, b) = (look_up(one, temperature), look_up(other, temperature));
    match (a, b) {
        (Ok(a), _) if tidy(other) == "air" => Some(a.surface_tension),
        (_, Ok(b)) if tidy(one) == "air" => Some(b.surface_tension),
        (Ok(a), Ok(b)) => {
            let pair = interfaces::clean(&a.name, &b.name)?;
            Some(Value { si: 1e-3 * pair.tension, spread: pair.spread / pair.tension })
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn everything_listed_can_be_looked_up() {
        for name in names() {
            let liquid = look_up(name, None).unwrap_or_else(|e| panic!("{name}: {e}"));
            assert!(
                liquid.viscosity.si > 1e-4 && liquid.density.si > 500.0 && liquid.surface_tension.si > 5e-3,
                "{name}"
            );
            assert!(!liquid.source.is_empty() && !liquid.status.is_empty());
            assert!(liquid.range.0 <= liquid.temperature && liquid.temperature <= liquid.range.1);
        }
    }

    // A value without a source is told as such, and nothing shipped stands on one.
    #[test]
    fn no_value_is_recalled_and_no_example_uses_an_unsourced_one() {
        let known = ["library", "published", table::NOT_SOURCED];
        let fair = |status: &str| !status.contains("recall") && known.iter().any(|k| status.starts_with(k));
        for name in names() {
            let liquid = look_up(name, None).unwrap_or_else(|e| panic!("{name}: {e}"));
            assert!(fair(liquid.status) && !liquid.source.contains("recall"), "{name}: {}", liquid.status);
        }
        for pair in interfaces::PAIRS {
            assert!(fair(pair.status) && !pair.source.contains("recall"), "{pair:?}");
        }
        assert!(!fair("published, coefficients recalled") && !fair("read"));
        let shipped = include_str!("../case/examples/coflow.toml").to_owned()
            + include_str!("../case/examples/counterflow.toml")
            + include_str!("../case/examples/tap.toml")
            + include_str!("../case/examples/jet.toml")
            + include_str!("../case/examples/segment.toml")
            + include_str!("../case/examples/tenmicron.toml");
        let named = shipped.lines().filter(|line| line.starts_with("liquid")).filter_map(|line| line.split('"').nth(1));
        let mut seen = 0;
        for name in named {
            assert_ne!(look_up(name, None).expect("known").status, table::NOT_SOURCED, "{name}");
            seen += 1;
        }
        assert!(seen >= 4, "{seen}");
    }

    #[test]
    fn names_are_read_with_tolerance_for_their_spelling() {
        assert_eq!(look_up(" Sunflower  Oil", None).expect("known").name, "sunflower oil");
        assert_eq!(look_up("glycerol-water 62.5%", None).expect("known").name, "glycerol-water 62.5 %");
        assert_relative_eq!(
            look_up("hexadecane", Some(295.65)).expect("known").viscosity.si,
            (3.482f64 * 3.081).sqrt() * 1e-3,
            max_relative = 1e-9
        );
        assert_relative_eq!(tension_between("water", "air", None).expect("known").si, 71.97e-3, max_relative = 1e-3);
        assert!(tension_between("sunflower oil", "toluene", None).is_none());
    }

    #[test]
    fn bench_names_resolve_or_say_what_there_is() {
        assert_eq!(look_up("glycerol 80%", None).expect("known").name, "glycerol-water 80 %");
        assert_eq!(look_up("2-propanol", None).expect("known").name, "isopropanol");
        let said = |name| look_up(name, None).expect_err("not there").to_string();
        let silicone = said("silicone oil 5 cSt");
        assert!(silicone.contains("silicone oil 10 cSt") && !silicone.contains("did you mean"), "{silicone}");
        assert!(said("mineral oil").contains("did you mean `light mineral oil`?"));
        assert!(said("PEGDA").contains("data sheet") && said("air").contains("pendant"));
    }

    #[test]
    fn liquids_that_mix_are_told() {
        assert_eq!(mix("Water", "water"), Some("are the same liquid"));
        assert_eq!(mix("glycerol-water 40 %", "ethanol"), Some("mix"));
        assert_eq!(mix("hexadecane", "sunflower oil"), Some("mix"));
        assert_eq!((mix("water", "hexadecane"), mix("silicone oil 50 cSt", "water")), (None, None));
    }

    #[test]
    fn what_is_not_there_is_refused_with_what_there_is() {
        let said = |name, t| look_up(name, t).expect_err("not there").to_string();
        assert!(said("watter", None).ends_with("(did you mean `water`?)"));
        assert!(said("unobtainium", None).contains("sunflower oil"));
        assert!(said("glycerol-water", None).contains("percentage by mass"));
        assert!(said("glycerol-water 140 %", None).contains("percentage by mass"));
        assert!(said("water", Some(400.0)).contains("from 0 to 100 degC"));
        assert!(said("sunflower oil", Some(350.0)).contains("from 17.5 to 42.5 degC"));
    }
}
