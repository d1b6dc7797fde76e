//! Interfacial tensions between liquids, with their spread.
//!
//! Some have a source that was read, the others say that they have none: measure those. With a surfactant the tension at the
//! age of the drop counts, seldom the equilibrium value: measure it, or sweep it.

use super::table::NOT_SOURCED;

/// Tension of a pair.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// The two liquids; names of the table of liquids where they are in it.
    pub liquids: (&'static str, &'static str),
    /// What is dissolved, if anything.
    pub surfactant: Option<&'static str>,
    /// degC.
    pub temperature: f64,
    /// mN/m.
    pub tension: f64,
    /// mN/m, plus or minus.
    pub spread: f64,
    pub source: &'static str,
    pub status: &'static str,
}

const READ: &str = "published, read";
const SECOND_HAND: &str = "published, read second-hand";
const TYPICAL: &str = "typical";
const ZEPPIERI: &str = "measured by Zeppieri et al. 2001, J. Chem. Eng. Data 46, 1086, whose table was not at hand";
const GOEBEL: &str = "measured by Goebel & Lunkenheimer 1997, Langmuir 13, 369, whose table was not at hand";
const TAYLOR: &str = "table citing Taylor 1964";
const ADAMSON: &str = "table citing Adamson & Gast";

const fn pair(
    liquids: (&'static str, &'static str),
    surfactant: Option<&'static str>,
    values: (f64, f64, f64),
    told: (&'static str, &'static str),
) -> Pair {
    let (temperature, tension, spread) = values;
    Pair { liquids, surfactant, temperature, tension, spread, source: told.0, status: told.1 }
}

/// The list.
pub const PAIRS: &[Pair] = &[
    pair(("water", "decane"), None, (25.0, 52.0, 0.5), (ZEPPIERI, NOT_SOURCED)),
    pair(("water", "dodecane"), None, (25.0, 52.6, 0.5), (ZEPPIERI, NOT_SOURCED)),
    pair(("water", "hexadecane"), None, (22.0, 53.0, 1.0), (GOEBEL, NOT_SOURCED)),
    pair(
        ("water", "hexadecane"),
        Some("sodium dodecyl sulfate above its cmc"),
        (25.0, 8.0, 4.0),
        (TYPICAL, NOT_SOURCED),
    ),
    pair(("water", "transformer oil"), None, (20.0, 37.2, 1.0), (TAYLOR, READ)),
    pair(("water", "mercury"), None, (20.0, 415.0, 2.0), (ADAMSON, READ)),
    pair(("water", "1-butanol"), None, (20.0, 1.8, 0.1), (ADAMSON, READ)),
    pair(("water", "ethyl acetate"), None, (20.0, 6.8, 0.2), (ADAMSON, READ)),
    pair(("water", "benzaldehyde"), None, (20.0, 15.5, 0.3), (ADAMSON, READ)),
    pair(("water", "nitrobenzene"), None, (20.0, 24.4, 0.2), (ADAMSON, READ)),
    pair(("water", "silicone oil"), None, (25.0, 40.0, 4.0), (TYPICAL, NOT_SOURCED)),
    pair(
        ("water", "sunflower oil"),
        None,
        (25.0, 25.0, 4.0),
        (
            "Fisher, Mitchell & Parker 1985, J. Food Sci. (abstract): 23 to 26 mN/m for commercial vegetable oils; refined oils \
             14 to 23 mN/m elsewhere",
            READ,
        ),
    ),
    pair(("water", "light mineral oil"), Some("2 % sorbitan monooleate"), (25.0, 4.0, 2.0), (TYPICAL, NOT_SOURCED)),
    pair(
        ("water", "hydrofluoroether"),
        None,
        (25.0, 49.5, 0.5),
        ("Brosseau et al. 2014, as an open simulation of emulsions cites it", SECOND_HAND),
    ),
    pair(
        ("water", "hydrofluoroether"),
        Some("fluorinated block copolymer"),
        (25.0, 2.8, 2.3),
        (
            "between 0.54 mN/m against a buffer (Calhoun et al. 2022) and 5.1 mN/m above its cmc (Scanga et al. 2018), as an open \
             simulation of emulsions cites them",
            SECOND_HAND,
        ),
    ),
];

/// The clean pair of two liquids, in either order; a grade of silicone oil counts as silicone oil.
pub fn clean(one: &str, other: &str) -> Option<&'static Pair> {
    let is = |liquid: &str, name: &str| liquid == name || (name == "silicone oil" && liquid.starts_with(name));
    PAIRS.iter().find(|p| {
        let (a, b) = p.liquids;
        p.surfactant.is_none() && (is(one, a) && is(other, b) || is(one, b) && is(other, a))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_list_is_carried_over_unchanged() {
        let text = include_str!("../../tests/data/liquids/interfacial_tensions.csv");
        let mut checked = 0;
        for line in text.lines().skip(2) {
            let name = line.split(',').next().expect("a pair").replace("n-", "");
            let numbers: Vec<f64> = line.split(',').skip(1).take(3).filter_map(|x| x.parse().ok()).collect();
            let [temperature, tension, spread] = numbers[..] else { panic!("{line}") };
            let known = PAIRS.iter().any(|p| {
                (p.temperature, p.tension, p.spread) == (temperature, tension, spread) && name.starts_with(p.liquids.0)
            });
            assert!(known, "{line}");
            checked += 1;
        }
        assert_eq!(checked, 14);
    }

    #[test]
    fn pairs_are_found_in_either_order_and_without_surfactant() {
        assert_eq!(clean("hexadecane", "water").map(|p| p.tension), Some(53.0));
        assert_eq!(clean("water", "silicone oil 50 cSt").map(|p| p.tension), Some(40.0));
        assert_eq!(clean("light mineral oil", "water"), None);
    }
}
