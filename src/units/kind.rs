//! Dimensions, and the kinds of quantity that a case or an argument may ask for.

use std::fmt;

/// Exponents of metre, kilogram, second, kelvin and mole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Dimension {
    pub length: i8,
    pub mass: i8,
    pub time: i8,
    pub temperature: i8,
    pub amount: i8,
}

/// Largest exponent that an expression may reach; nothing physical comes near.
const EXPONENT_MAX: i32 = 9;

impl Dimension {
    /// No dimension.
    pub const NONE: Dimension = Dimension::new(0, 0, 0, 0);

    /// m^length kg^mass s^time K^temperature.
    pub const fn new(length: i8, mass: i8, time: i8, temperature: i8) -> Dimension {
        Dimension { length, mass, time, temperature, amount: 0 }
    }

    /// The same times mol^amount.
    pub const fn mol(self, amount: i8) -> Dimension {
        Dimension { amount, ..self }
    }

    fn combine(self, other: Dimension, power: i32) -> Option<Dimension> {
        let sum = |a: i8, b: i8| {
            let e = i32::from(b).checked_mul(power)?.checked_add(i32::from(a))?;
            (-EXPONENT_MAX..=EXPONENT_MAX).contains(&e).then_some(e as i8)
        };
        Some(Dimension {
            length: sum(self.length, other.length)?,
            mass: sum(self.mass, other.mass)?,
            time: sum(self.time, other.time)?,
            temperature: sum(self.temperature, other.temperature)?,
            amount: sum(self.amount, other.amount)?,
        })
    }

    /// This dimension times `other` to the power `power`; `None` beyond every physical use.
    pub fn times(self, other: Dimension, power: i32) -> Option<Dimension> {
        self.combine(other, power)
    }
}

/// The unit expression in SI base units, for example `kg.m-1.s-1`.
impl fmt::Display for Dimension {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parts =
            [("kg", self.mass), ("m", self.length), ("s", self.time), ("K", self.temperature), ("mol", self.amount)];
        let words: Vec<String> = parts
            .iter()
            .filter(|(_, e)| *e != 0)
            .map(|(name, e)| if *e == 1 { (*name).to_owned() } else { format!("{name}{e}") })
            .collect();
        f.write_str(if words.is_empty() { "1".to_owned() } else { words.join(".") }.as_str())
    }
}

/// What sort of quantity is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    Number,
    Length,
    Time,
    Frequency,
    Volume,
    Flow,
    Velocity,
    Acceleration,
    Density,
    Viscosity,
    KinematicViscosity,
    Tension,
    Pressure,
    Temperature,
    Mass,
    Force,
    Area,
    Concentration,
    SurfaceConcentration,
    Affinity,
    Diffusivity,
}

/// Name, dimension, SI unit, units that people use (the first one serves as the example).
type Row = (Kind, &'static str, Dimension, &'static str, &'static [&'static str]);

const ROWS: [Row; 21] = [
    (Kind::Number, "a plain number", Dimension::NONE, "1", &["%"]),
    (Kind::Length, "a length", Dimension::new(1, 0, 0, 0), "m", &["um", "mm", "nm", "cm", "m"]),
    (Kind::Time, "a time", Dimension::new(0, 0, 1, 0), "s", &["ms", "us", "s", "min", "h"]),
    (Kind::Frequency, "a frequency", Dimension::new(0, 0, -1, 0), "1/s", &["Hz", "kHz", "1/s", "1/min"]),
    (Kind::Volume, "a volume", Dimension::new(3, 0, 0, 0), "m3", &["uL", "nL", "pL", "mL"]),
    (
        Kind::Flow,
        "a volume flow",
        Dimension::new(3, 0, -1, 0),
        "m3/s",
        &["uL/h", "mL/h", "uL/min", "mL/min", "nL/s", "m3/s"],
    ),
    (Kind::Velocity, "a velocity", Dimension::new(1, 0, -1, 0), "m/s", &["mm/s", "m/s", "um/s", "cm/s"]),
    (Kind::Acceleration, "an acceleration", Dimension::new(1, 0, -2, 0), "m/s2", &["m/s2", "cm/s2"]),
    (Kind::Density, "a density", Dimension::new(-3, 1, 0, 0), "kg/m3", &["kg/m3", "g/mL", "g/cm3", "kg/L"]),
    (Kind::Viscosity, "a viscosity", Dimension::new(-1, 1, -1, 0), "Pa.s", &["mPa.s", "cP", "Pa.s", "P", "cSt"]),
    (Kind::KinematicViscosity, "a kinematic viscosity", Dimension::new(2, 0, -1, 0), "m2/s", &["cSt", "mm2/s"]),
    (Kind::Tension, "an interfacial tension", Dimension::new(0, 1, -2, 0), "N/m", &["mN/m", "N/m", "dyn/cm"]),
    (Kind::Pressure, "a pressure", Dimension::new(-1, 1, -2, 0), "Pa", &["kPa", "bar", "mbar", "psi", "Pa"]),
    (Kind::Temperature, "a temperature", Dimension::new(0, 0, 0, 1), "K", &["degC", "K"]),
    (Kind::Mass, "a mass", Dimension::new(0, 1, 0, 0), "kg", &["g", "mg", "kg"]),
    (Kind::Force, "a force", Dimension::new(1, 1, -2, 0), "N", &["mN", "N", "dyn"]),
    (Kind::Area, "an area", Dimension::new(2, 0, 0, 0), "m2", &["mm2", "um2", "m2"]),
    (
        Kind::Concentration,
        "a concentration",
        Dimension::new(-3, 0, 0, 0).mol(1),
        "mol/m3",
        &["mol/m3", "mmol/L", "mM", "uM", "mol/L"],
    ),
    (
        Kind::SurfaceConcentration,
        "an amount on a surface",
        Dimension::new(-2, 0, 0, 0).mol(1),
        "mol/m2",
        &["mol/m2", "umol/m2"],
    ),
    (
        Kind::Affinity,
        "an adsorption constant",
        Dimension::new(3, 0, 0, 0).mol(-1),
        "m3/mol",
        &["m3/mol", "L/mol", "L/mmol"],
    ),
    (Kind::Diffusivity, "a diffusivity", Dimension::new(2, 0, -1, 0), "m2/s", &["m2/s", "cm2/s", "um2/s"]),
];

impl Kind {
    fn row(self) -> &'static Row {
        ROWS.iter().find(|row| row.0 == self).unwrap_or(&ROWS[0])
    }

    /// `a length`, `a volume flow`, ...
    pub fn name(self) -> &'static str {
        self.row().1
    }

    /// Its dimension.
    pub fn dimension(self) -> Dimension {
        self.row().2
    }

    /// Its SI unit as text, `1` for a plain number.
    pub fn si_unit(self) -> &'static str {
        self.row().3
    }

    /// Units that people use for it, the usual one first.
    pub fn usual_units(self) -> &'static [&'static str] {
        self.row().4
    }

    /// All there are.
    pub fn all() -> impl Iterator<Item = Kind> {
        ROWS.iter().map(|row| row.0)
    }

    /// The kind that has this dimension, if it has a name.
    pub fn of(dimension: Dimension) -> Option<Kind> {
        ROWS.iter().find(|row| row.2 == dimension).map(|row| row.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_its_own_row_and_dimension() {
        for row in ROWS {
            assert_eq!(row.0.row().1, row.1);
            // a diffusivity is measured in the units of a kinematic viscosity
            let first = if row.0 == Kind::Diffusivity { Kind::KinematicViscosity } else { row.0 };
            assert_eq!(Kind::of(row.2), Some(first), "two kinds of one dimension");
        }
    }

    #[test]
    fn exponents_stay_bounded() {
        let metre = Dimension::new(1, 0, 0, 0);
        assert_eq!(Dimension::NONE.times(metre, 9), Some(Dimension::new(9, 0, 0, 0)));
        assert_eq!(Dimension::NONE.times(metre, 10), None);
        assert_eq!(metre.times(metre, i32::MAX), None);
        assert_eq!(Dimension::new(-1, 1, -1, 0).to_string(), "kg.m-1.s-1");
    }
}
