//! What people write (UCUM-style unit strings) <-> SI `f64`.
//!
//! A quantity is a number and a unit expression: `"120 uL/h"`, `"50 mPa.s"`, `"6.5 mN/m +- 30 %"`. In the expression `.`,
//! `*`, `·` or a space multiply and `/` divides by the next symbol, from left to right; exponents follow the symbol (`m3`,
//! `m^3`, `m³`, `s-1`); brackets group. Source: the Unified Code for Units of Measure; spellings of pumps and data sheets
//! added (`ml/hr`, `cc/min`, `micron`, `°C`, `mPas`, `cps`, `mcL`, `microlitres per hour`). What could mean two things
//! (`1,210 kg/m3`, `30-40 um`) is refused with both readings, never guessed (see `slips`).

mod expression;
pub mod kind;
mod slips;
mod table;

#[cfg(test)]
mod tests;

pub use kind::{Dimension, Kind};
pub use table::Unit;

use std::fmt;

/// Gas constant (exact by definition since 2019), J/(mol K).
pub const GAS_CONSTANT: f64 = 8.314_462_618_153_24;

/// A quantity in SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// SI value.
    pub si: f64,
    /// Relative tolerance, if one was written.
    pub tolerance: Option<f64>,
}

/// Why a text is no quantity of the kind asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnitError {
    /// What was found.
    pub found: String,
    /// What would be right.
    pub right: String,
    /// The nearest unit that would do, if one is near.
    pub nearest: Option<String>,
}

impl fmt::Display for UnitError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; {}", self.found, self.right)?;
        match &self.nearest {
            Some(nearest) => write!(f, " (did you mean `{nearest}`?)"),
            None => Ok(()),
        }
    }
}

impl std::error::Error for UnitError {}

/// Longer texts than this are no quantities.
const TEXT_MAX: usize = 120;

/// User's text made fit to print: at most 60 characters, control characters escaped.
pub fn quoted(text: &str) -> String {
    const SHOWN: usize = 60;
    let mut out = String::new();
    for (i, c) in text.chars().enumerate() {
        if i == SHOWN {
            out.push_str("...");
            break;
        }
        if c.is_control() || is_invisible(c) { out.extend(c.escape_unicode()) } else { out.push(c) }
    }
    out
}

/// Characters that reorder or hide text on a screen.
fn is_invisible(c: char) -> bool {
    matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}')
}

/// What stands behind the number of a quantity, before any tolerance.
pub fn unit_in(quantity: &str) -> &str {
    let number = |c: char| c.is_ascii_digit() || ".+-".contains(c);
    let (quantity, _) = split_tolerance(quantity.trim()).unwrap_or((quantity.trim(), ""));
    let bare = quantity.trim_start_matches(number);
    // An exponent is part of the number: `1e-9 m3/s`.
    let exponent = bare
        .strip_prefix(['e', 'E'])
        .filter(|rest| rest.starts_with(|c: char| c.is_ascii_digit() || c == '-' || c == '+'));
    exponent.map_or(bare, |rest| rest.trim_start_matches(number)).trim()
}

/// The unit of an expression such as `uL/h`.
///
/// # Errors
/// If it is no unit expression or not of the dimension of `kind`.
pub fn unit(text: &str, kind: Kind) -> Result<Unit, UnitError> {
    check(expression::parse(text.trim(), kind)?, text, kind)
}

/// A quantity of a kind, with a unit unless it has no dimension.
///
/// # Errors
/// If it is not a finite number with a unit of the dimension of `kind`.
pub fn read(text: &str, kind: Kind) -> Result<Reading, UnitError> {
    read_with(text, kind, |unit, whole| check(unit, whole, kind))
}

/// A dynamic viscosity; a kinematic one (`cSt`) is accepted where the density (kg/m3) is known.
///
/// # Errors
/// As [`read`], and for a kinematic viscosity without a density.
pub fn read_viscosity(text: &str, density: Option<f64>) -> Result<Reading, UnitError> {
    read_with(text, Kind::Viscosity, |unit, whole| {
        if unit.dimension != Kind::KinematicViscosity.dimension() {
            return check(unit, whole, Kind::Viscosity);
        }
        match density {
            Some(density) => {
                Ok(Unit { numerator: unit.numerator * density, dimension: Kind::Viscosity.dimension(), ..unit })
            }
            None => Err(UnitError {
                found: format!("`{}` is a kinematic viscosity and the density is not known", quoted(whole)),
                right: "give the density too, or a dynamic viscosity, for example \"50 mPa.s\"".into(),
                nearest: None,
            }),
        }
    })
}

fn read_with(
    text: &str,
    kind: Kind,
    accept: impl Fn(Unit, &str) -> Result<Unit, UnitError>,
) -> Result<Reading, UnitError> {
    if text.len() > TEXT_MAX {
        return Err(wrong(format!("a text of {} bytes is no quantity", text.len()), kind));
    }
    let text = slips::without_quotes(text);
    let (value, tolerance) = match split_tolerance(text) {
        Some((value, tolerance)) => (value, Some(tolerance)),
        None => (text, None),
    };
    let (number, mut unit_text) = split_number(value, kind)?;
    let digits = value.trim().strip_suffix(unit_text).unwrap_or(value).trim();
    // `5 +- 1 mN/m`: the unit stands once, behind the tolerance.
    let spread = tolerance.map(|t| split_number(t, kind)).transpose()?;
    if let (true, Some((_, shared))) = (unit_text.is_empty(), spread)
        && shared != "%"
    {
        unit_text = shared;
    }
    let unit = if unit_text.is_empty() {
        if kind != Kind::Number {
            return Err(wrong(format!("`{}` has no unit", quoted(text.trim())), kind));
        }
        Unit::ONE
    } else {
        accept(expression::parse(unit_text, kind)?, value)?
    };
    let si = shifted(digits, &unit).unwrap_or_else(|| unit.si(number));
    if !si.is_finite() {
        return Err(wrong(format!("`{}` is too large for a number", quoted(text.trim())), kind));
    }
    let tolerance = match spread {
        None => None,
        Some((size, "%")) => Some(size / 100.0),
        Some((size, own)) => {
            let own = if own.is_empty() { unit } else { accept(expression::parse(own, kind)?, value)? };
            Some((own.difference(size) / si).abs())
        }
    };
    match tolerance {
        Some(t) if !(0.0..1.0).contains(&t) => Err(UnitError {
            found: format!("`{}` has a tolerance outside 0 to 100 %", quoted(text.trim())),
            right: "write for example \"5 mN/m +- 30 %\"".into(),
            nearest: None,
        }),
        _ => Ok(Reading { si, tolerance }),
    }
}

/// A decimal in a unit that is a power of ten: the number nearest to what was written (1.05 mm is 1.05e-3, which 1.05
/// divided by 1000 is not).
fn shifted(digits: &str, unit: &Unit) -> Option<f64> {
    let power = unit.power_of_ten().filter(|_| unit.offset == 0.0)?;
    let (mantissa, exponent) = digits.split_once(['e', 'E']).unwrap_or((digits, "0"));
    let exponent = exponent.replace('\u{2212}', "-").parse::<i32>().ok()?.checked_add(power)?;
    format!("{}e{exponent}", mantissa.replace('\u{2212}', "-")).parse().ok()
}

fn split_tolerance(text: &str) -> Option<(&str, &str)> {
    ["+-", "+/-", "±"].iter().find_map(|sign| text.split_once(sign))
}

/// Number at the start of a text and the rest of it.
fn split_number(text: &str, kind: Kind) -> Result<(f64, &str), UnitError> {
    let text = text.trim();
    let end = number_end(text);
    let (number, rest) = text.split_at(end);
    if let Some(error) = slips::in_number(text, number, rest, kind) {
        return Err(error);
    }
    match number.replace('\u{2212}', "-").parse::<f64>() {
        Ok(value) if value.is_finite() => Ok((value, rest.trim())),
        Ok(_) => Err(wrong(format!("`{}` is too large for a number", quoted(text)), kind)),
        Err(_) => Err(wrong(format!("`{}` does not begin with a number", quoted(text)), kind)),
    }
}

/// Where the longest decimal number at the start of a text ends.
fn number_end(text: &str) -> usize {
    let digits = |from: usize| from + text[from..].bytes().take_while(u8::is_ascii_digit).count();
    let sign = |from: usize| {
        text[from..]
            .chars()
            .next()
            .filter(|c| matches!(c, '+' | '-' | '\u{2212}'))
            .map_or(from, |c| from + c.len_utf8())
    };
    let start = sign(0);
    let mut end = digits(start);
    if text[end..].starts_with('.') && digits(end + 1) > end + 1 || text[end..].starts_with('.') && end > start {
        end = digits(end + 1);
    }
    if end > start && text[end..].starts_with(['e', 'E']) {
        let from = sign(end + 1);
        let to = digits(from);
        if to > from {
            end = to;
        }
    }
    end
}

/// The unit if it has the dimension of `kind`.
fn check(unit: Unit, text: &str, kind: Kind) -> Result<Unit, UnitError> {
    if unit.dimension == kind.dimension() {
        return Ok(unit);
    }
    let what = match Kind::of(unit.dimension) {
        Some(other) => format!("is {}", other.name()),
        None => format!("has the dimension {}", unit.dimension),
    };
    Err(wrong(format!("`{}` {what}", quoted(text.trim())), kind))
}

/// An error that tells what would be right for `kind`.
fn wrong(found: String, kind: Kind) -> UnitError {
    let right = if kind == Kind::Number {
        "a plain number is needed, for example 0.5 or \"5 %\"".to_owned()
    } else {
        format!("{} is needed, in {}", kind.name(), kind.usual_units().join(", "))
    };
    UnitError { found, right, nearest: None }
}
