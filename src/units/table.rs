//! Unit symbols after the Unified Code for Units of Measure (UCUM), with the spellings that pumps and data sheets use.

use super::kind::Dimension;
use crate::math::Pinned as _;

/// A unit: `si = value * numerator / denominator + offset`. Kept as a ratio so that decimal values stay what they are:
/// `30 um` is the number nearest to 3e-5, which 30 times 1e-6 is not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    pub numerator: f64,
    pub denominator: f64,
    /// Zero for all but degrees Celsius and Fahrenheit.
    pub offset: f64,
    pub dimension: Dimension,
}

impl Unit {
    /// No unit.
    pub const ONE: Unit = ratio(1.0, 1.0, (0, 0, 0, 0));

    /// SI value of `value` in this unit.
    pub fn si(&self, value: f64) -> f64 {
        value * self.numerator / self.denominator + self.offset
    }

    /// Size of a difference of `value` in this unit.
    pub fn difference(&self, value: f64) -> f64 {
        value * self.numerator / self.denominator
    }

    /// The power of ten that it is of its SI unit, if it is one.
    pub fn power_of_ten(&self) -> Option<i32> {
        let size = self.numerator / self.denominator;
        let power = size.decimal_logarithm().round();
        ((10f64.power(power) / size - 1.0).abs() < 1e-12).then_some(power as i32)
    }

    /// This unit times `other` to the power `power`; `None` for shifted scales and beyond every physical use.
    pub fn times(&self, other: &Unit, power: i32) -> Option<Unit> {
        let dimension = self.dimension.times(other.dimension, power)?;
        let (up, down) =
            if power < 0 { (other.denominator, other.numerator) } else { (other.numerator, other.denominator) };
        let unit = Unit {
            numerator: self.numerator * up.powi(power.abs()),
            denominator: self.denominator * down.powi(power.abs()),
            offset: 0.0,
            dimension,
        };
        (self.offset == 0.0 && other.offset == 0.0).then_some(unit)
    }
}

const fn ratio(numerator: f64, denominator: f64, dimension: (i8, i8, i8, i8)) -> Unit {
    let (length, mass, time, temperature) = dimension;
    Unit { numerator, denominator, offset: 0.0, dimension: Dimension::new(length, mass, time, temperature) }
}

const fn unit(numerator: f64, dimension: (i8, i8, i8, i8)) -> Unit {
    ratio(numerator, 1.0, dimension)
}

const fn shifted(numerator: f64, denominator: f64, offset: f64) -> Unit {
    Unit { numerator, denominator, offset, dimension: Dimension::new(0, 0, 0, 1) }
}

/// Prefixes of the SI that occur in the laboratory.
const PREFIXES: [(&str, f64, f64); 13] = [
    ("G", 1e9, 1.0),
    ("M", 1e6, 1.0),
    ("k", 1e3, 1.0),
    ("h", 1e2, 1.0),
    ("da", 1e1, 1.0),
    ("d", 1.0, 1e1),
    ("c", 1.0, 1e2),
    ("m", 1.0, 1e3),
    ("u", 1.0, 1e6),
    ("n", 1.0, 1e9),
    ("p", 1.0, 1e12),
    ("f", 1.0, 1e15),
    ("a", 1.0, 1e18),
];

/// Symbols that take a prefix.
const METRIC: [(&str, Unit); 16] = [
    ("m", unit(1.0, (1, 0, 0, 0))),
    ("g", ratio(1.0, 1e3, (0, 1, 0, 0))),
    ("s", unit(1.0, (0, 0, 1, 0))),
    ("L", ratio(1.0, 1e3, (3, 0, 0, 0))),
    ("l", ratio(1.0, 1e3, (3, 0, 0, 0))),
    ("Pa", unit(1.0, (-1, 1, -2, 0))),
    // A pascal second without its dot, as data sheets print it.
    ("Pas", unit(1.0, (-1, 1, -1, 0))),
    ("bar", unit(1e5, (-1, 1, -2, 0))),
    ("N", unit(1.0, (1, 1, -2, 0))),
    ("J", unit(1.0, (2, 1, -2, 0))),
    ("Hz", unit(1.0, (0, 0, -1, 0))),
    ("P", ratio(1.0, 10.0, (-1, 1, -1, 0))),
    ("St", ratio(1.0, 1e4, (2, 0, -1, 0))),
    ("K", unit(1.0, (0, 0, 0, 1))),
    ("mol", Unit { dimension: Dimension::NONE.mol(1), ..unit(1.0, (0, 0, 0, 0)) }),
    // molar: mol/L
    ("M", Unit { dimension: Dimension::new(-3, 0, 0, 0).mol(1), ..unit(1e3, (0, 0, 0, 0)) }),
];

/// Symbols that stand alone.
const WHOLE: [(&str, Unit); 35] = [
    ("1", unit(1.0, (0, 0, 0, 0))),
    ("%", ratio(1.0, 1e2, (0, 0, 0, 0))),
    ("ppm", ratio(1.0, 1e6, (0, 0, 0, 0))),
    ("min", unit(60.0, (0, 0, 1, 0))),
    ("h", unit(3600.0, (0, 0, 1, 0))),
    ("hr", unit(3600.0, (0, 0, 1, 0))),
    ("hour", unit(3600.0, (0, 0, 1, 0))),
    ("d", unit(86_400.0, (0, 0, 1, 0))),
    ("day", unit(86_400.0, (0, 0, 1, 0))),
    ("hrs", unit(3600.0, (0, 0, 1, 0))),
    ("minute", unit(60.0, (0, 0, 1, 0))),
    ("sec", unit(1.0, (0, 0, 1, 0))),
    // Viscometers say `cps` for centipoise; it is none of the usual units of a frequency.
    ("cps", ratio(1.0, 1e3, (-1, 1, -1, 0))),
    ("mcL", ratio(1.0, 1e9, (3, 0, 0, 0))),
    ("mcl", ratio(1.0, 1e9, (3, 0, 0, 0))),
    ("mcg", ratio(1.0, 1e9, (0, 1, 0, 0))),
    ("mcm", ratio(1.0, 1e6, (1, 0, 0, 0))),
    ("micron", ratio(1.0, 1e6, (1, 0, 0, 0))),
    ("inch", ratio(254.0, 1e4, (1, 0, 0, 0))),
    ("cc", ratio(1.0, 1e6, (3, 0, 0, 0))),
    ("ccm", ratio(1.0, 1e6, (3, 0, 0, 0))),
    ("in", ratio(254.0, 1e4, (1, 0, 0, 0))),
    ("dyn", ratio(1.0, 1e5, (1, 1, -2, 0))),
    ("dyne", ratio(1.0, 1e5, (1, 1, -2, 0))),
    ("erg", ratio(1.0, 1e7, (2, 1, -2, 0))),
    // Pound-force per square inch from the exact pound, inch and standard gravity.
    ("psi", unit(0.453_592_37 * 9.806_65 / (0.0254 * 0.0254), (-1, 1, -2, 0))),
    ("atm", unit(101_325.0, (-1, 1, -2, 0))),
    ("Torr", ratio(101_325.0, 760.0, (-1, 1, -2, 0))),
    ("mmHg", unit(133.322_387_415, (-1, 1, -2, 0))),
    ("degC", shifted(1.0, 1.0, 273.15)),
    ("Cel", shifted(1.0, 1.0, 273.15)),
    ("°C", shifted(1.0, 1.0, 273.15)),
    ("℃", shifted(1.0, 1.0, 273.15)),
    ("degF", shifted(5.0, 9.0, 459.67 * 5.0 / 9.0)),
    ("°F", shifted(5.0, 9.0, 459.67 * 5.0 / 9.0)),
];

/// Prefixes and units in full.
const PREFIX_WORDS: [(&str, &str); 8] = [
    ("nano", "n"),
    ("micro", "u"),
    ("milli", "m"),
    ("centi", "c"),
    ("deci", "d"),
    ("hecto", "h"),
    ("kilo", "k"),
    ("mega", "M"),
];
const UNIT_WORDS: [(&str, &str); 12] = [
    ("meter", "m"),
    ("metre", "m"),
    ("gram", "g"),
    ("second", "s"),
    ("liter", "L"),
    ("litre", "L"),
    ("pascal", "Pa"),
    ("newton", "N"),
    ("joule", "J"),
    ("hertz", "Hz"),
    ("poise", "P"),
    ("kelvin", "K"),
];

/// The symbol of a unit in full: `centipoise`, `microlitres`.
fn symbol_of_word(word: &str) -> Option<String> {
    let word = word.to_ascii_lowercase();
    let (prefix, rest) = PREFIX_WORDS
        .iter()
        .find_map(|(name, prefix)| Some((*prefix, word.strip_prefix(name)?)))
        .unwrap_or(("", word.as_str()));
    let is = |name: &str| rest == name || rest.strip_suffix('s') == Some(name);
    UNIT_WORDS.iter().find(|(name, _)| is(name)).map(|(_, unit)| format!("{prefix}{unit}"))
}

/// The unit behind a symbol such as `um`, `mPa`, `h` or `degC`, or a word such as `centipoise`; both micro signs count as `u`.
pub fn symbol(text: &str) -> Option<Unit> {
    let text = &text.replace(['µ', 'μ'], "u");
    if let Some(unit) = short(text) {
        return Some(unit);
    }
    let plural = text.strip_suffix('s').filter(|name| matches!(*name, "micron" | "hour" | "minute" | "day"));
    plural.map_or_else(|| symbol_of_word(text).and_then(|symbol| short(&symbol)), short)
}

fn short(text: &str) -> Option<Unit> {
    let find = |table: &[(&str, Unit)], name: &str| table.iter().find(|(n, _)| *n == name).map(|(_, u)| *u);
    if let Some(unit) = find(&WHOLE, text).or_else(|| find(&METRIC, text)) {
        return Some(unit);
    }
    PREFIXES.iter().find_map(|(prefix, up, down)| {
        let unit = find(&METRIC, text.strip_prefix(prefix)?)?;
        Some(Unit { numerator: up * unit.numerator, denominator: down * unit.denominator, ..unit })
    })
}
