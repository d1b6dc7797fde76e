//! Unit symbols after the Unified Code for Units of Measure (UCUM), with the spellings that pumps and data sheets use.

use super::kind::Dimension;

/// A unit: `si = factor * value + offset`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    pub factor: f64,
    /// Zero for all but degrees Celsius and Fahrenheit.
    pub offset: f64,
    pub dimension: Dimension,
}

const fn unit(factor: f64, dimension: (i8, i8, i8, i8)) -> Unit {
    let (length, mass, time, temperature) = dimension;
    Unit { factor, offset: 0.0, dimension: Dimension::new(length, mass, time, temperature) }
}

const fn shifted(factor: f64, offset: f64) -> Unit {
    Unit { factor, offset, dimension: Dimension::new(0, 0, 0, 1) }
}

/// Prefixes of the SI that occur in the laboratory.
const PREFIXES: [(&str, f64); 13] = [
    ("G", 1e9),
    ("M", 1e6),
    ("k", 1e3),
    ("h", 1e2),
    ("da", 1e1),
    ("d", 1e-1),
    ("c", 1e-2),
    ("m", 1e-3),
    ("u", 1e-6),
    ("n", 1e-9),
    ("p", 1e-12),
    ("f", 1e-15),
    ("a", 1e-18),
];

/// Symbols that take a prefix.
const METRIC: [(&str, Unit); 13] = [
    ("m", unit(1.0, (1, 0, 0, 0))),
    ("g", unit(1e-3, (0, 1, 0, 0))),
    ("s", unit(1.0, (0, 0, 1, 0))),
    ("L", unit(1e-3, (3, 0, 0, 0))),
    ("l", unit(1e-3, (3, 0, 0, 0))),
    ("Pa", unit(1.0, (-1, 1, -2, 0))),
    ("bar", unit(1e5, (-1, 1, -2, 0))),
    ("N", unit(1.0, (1, 1, -2, 0))),
    ("J", unit(1.0, (2, 1, -2, 0))),
    ("Hz", unit(1.0, (0, 0, -1, 0))),
    ("P", unit(0.1, (-1, 1, -1, 0))),
    ("St", unit(1e-4, (2, 0, -1, 0))),
    ("K", unit(1.0, (0, 0, 0, 1))),
];

/// Symbols that stand alone.
const WHOLE: [(&str, Unit); 26] = [
    ("1", unit(1.0, (0, 0, 0, 0))),
    ("%", unit(1e-2, (0, 0, 0, 0))),
    ("ppm", unit(1e-6, (0, 0, 0, 0))),
    ("min", unit(60.0, (0, 0, 1, 0))),
    ("h", unit(3600.0, (0, 0, 1, 0))),
    ("hr", unit(3600.0, (0, 0, 1, 0))),
    ("hour", unit(3600.0, (0, 0, 1, 0))),
    ("d", unit(86_400.0, (0, 0, 1, 0))),
    ("day", unit(86_400.0, (0, 0, 1, 0))),
    ("sec", unit(1.0, (0, 0, 1, 0))),
    ("micron", unit(1e-6, (1, 0, 0, 0))),
    ("cc", unit(1e-6, (3, 0, 0, 0))),
    ("ccm", unit(1e-6, (3, 0, 0, 0))),
    ("in", unit(0.0254, (1, 0, 0, 0))),
    ("dyn", unit(1e-5, (1, 1, -2, 0))),
    ("erg", unit(1e-7, (2, 1, -2, 0))),
    // Pound-force per square inch from the exact pound, inch and standard gravity.
    ("psi", unit(0.453_592_37 * 9.806_65 / (0.0254 * 0.0254), (-1, 1, -2, 0))),
    ("atm", unit(101_325.0, (-1, 1, -2, 0))),
    ("Torr", unit(101_325.0 / 760.0, (-1, 1, -2, 0))),
    ("mmHg", unit(133.322_387_415, (-1, 1, -2, 0))),
    ("degC", shifted(1.0, 273.15)),
    ("Cel", shifted(1.0, 273.15)),
    ("°C", shifted(1.0, 273.15)),
    ("℃", shifted(1.0, 273.15)),
    ("degF", shifted(5.0 / 9.0, 459.67 * 5.0 / 9.0)),
    ("°F", shifted(5.0 / 9.0, 459.67 * 5.0 / 9.0)),
];

/// The unit behind a symbol such as `um`, `mPa`, `h` or `degC`; both micro signs count as `u`.
pub fn symbol(text: &str) -> Option<Unit> {
    let text = &text.replace(['µ', 'μ'], "u");
    let find = |table: &[(&str, Unit)], name: &str| table.iter().find(|(n, _)| *n == name).map(|(_, u)| *u);
    if let Some(unit) = find(&WHOLE, text).or_else(|| find(&METRIC, text)) {
        return Some(unit);
    }
    PREFIXES.iter().find_map(|(prefix, factor)| {
        let unit = find(&METRIC, text.strip_prefix(prefix)?)?;
        Some(Unit { factor: factor * unit.factor, ..unit })
    })
}
