//! What `--vary KEY=FROM..TO/N[log]` and `--vary KEY=A,B,C` mean.

use super::AxisError;
use crate::math::Pinned as _;
use crate::units::unit_in;
use serde::{Deserialize, Serialize};

/// How values are laid between the ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Spacing {
    /// Equal steps.
    Linear,
    /// Equal ratios.
    Log,
    /// As listed.
    List,
}

/// A varied key and its values.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Axis {
    /// Dotted key of the case, for example `inner.flow`.
    pub key: String,
    /// SI unit, `1` for a plain number.
    pub unit: String,
    pub spacing: Spacing,
    /// SI values in ascending or descending order, as asked for.
    pub values: Vec<f64>,
}

/// Most values of an axis.
pub(super) const VALUES_MAX: usize = 10_000;

/// An axis before its quantities are read.
#[derive(Debug, Clone, PartialEq)]
pub struct AxisText {
    pub key: String,
    pub from: String,
    pub to: String,
    pub count: usize,
    pub spacing: Spacing,
}

impl AxisText {
    /// Take `KEY=FROM..TO/N[log]` apart. A unit written once, behind TO, holds for FROM too.
    ///
    /// # Errors
    /// What is missing in the text.
    pub fn parse(text: &str) -> Result<AxisText, AxisError> {
        let wrong = |what: &str| AxisError::Range { text: text.to_owned(), what: what.to_owned() };
        let (key, range) = text.split_once('=').ok_or_else(|| wrong("there is no `=`"))?;
        let (ends, count) = range.rsplit_once('/').ok_or_else(|| wrong("there is no number of values"))?;
        let (count, spacing) = match count.trim().strip_suffix("log") {
            Some(count) => (count.trim(), Spacing::Log),
            None => (count.trim().strip_suffix("lin").unwrap_or(count.trim()).trim(), Spacing::Linear),
        };
        let count: usize = count.parse().map_err(|_| wrong(&format!("`{count}` is no number of values")))?;
        if !(1..=VALUES_MAX).contains(&count) {
            return Err(wrong(&format!("{count} values; 1 to {VALUES_MAX} are possible")));
        }
        let (from, to) = ends.split_once("..").ok_or_else(|| wrong("there is no `..` between two ends"))?;
        let (from, to) = (from.trim(), to.trim());
        if key.trim().is_empty() || from.is_empty() || to.is_empty() {
            return Err(wrong("key and both ends are needed"));
        }
        let unit = unit_in(to);
        let from =
            if unit_in(from).is_empty() && !unit.is_empty() { format!("{from} {unit}") } else { from.to_string() };
        Ok(AxisText { key: key.trim().to_string(), from, to: to.to_string(), count, spacing })
    }
}

/// Takes `KEY=A,B,C` apart; `None` where it is a range. A unit written once, behind the last value, holds for all.
///
/// # Errors
/// What is missing in the text.
pub fn list(text: &str) -> Option<Result<(String, Vec<String>), AxisError>> {
    let (key, values) = text.split_once('=').filter(|(_, values)| !values.contains(".."))?;
    let values: Vec<&str> = values.split(',').map(str::trim).collect();
    if key.trim().is_empty() || values.iter().any(|v| v.is_empty()) || values.len() > VALUES_MAX {
        return Some(Err(AxisError::List { text: text.to_owned() }));
    }
    let unit = unit_in(values[values.len() - 1]);
    let with_unit = |value: &str| match unit_in(value).is_empty() && !unit.is_empty() {
        true => format!("{value} {unit}"),
        false => value.to_owned(),
    };
    Some(Ok((key.trim().to_owned(), values.into_iter().map(with_unit).collect())))
}

/// The unit in which a range or a list was typed: that of its last value; empty where there is none.
pub fn typed_unit(text: &str) -> String {
    match (list(text), AxisText::parse(text)) {
        (Some(Ok((_, values))), _) => values.last().map_or(String::new(), |last| unit_in(last).to_owned()),
        (None, Ok(range)) => unit_in(&range.to).to_owned(),
        _ => String::new(),
    }
}

impl Axis {
    /// Values between two ends.
    ///
    /// # Errors
    /// Where ratios are asked for across zero or an end is no number.
    pub fn between(
        key: &str,
        unit: &str,
        [from, to]: [f64; 2],
        count: usize,
        spacing: Spacing,
    ) -> Result<Axis, AxisError> {
        if !from.is_finite() || !to.is_finite() {
            return Err(AxisError::InfiniteEnds { key: key.into() });
        }
        if spacing == Spacing::Log && !(from > 0.0 && to > 0.0) {
            return Err(AxisError::NotAboveZero { key: key.into() });
        }
        if count > 1 && from == to {
            return Err(AxisError::EqualEnds { key: key.into(), count });
        }
        let value = |i: usize| {
            let share = i as f64 / (count.max(2) - 1) as f64;
            // The ends exactly as typed: powers and sums would round them.
            match (i, spacing) {
                (0, _) => from,
                (i, _) if i + 1 == count => to,
                (_, Spacing::Linear | Spacing::List) => from + share * (to - from),
                (_, Spacing::Log) => from * (to / from).power(share),
            }
        };
        let values = (0..count).map(value).collect();
        Ok(Axis { key: key.into(), unit: unit.into(), spacing, values })
    }
}

impl Axis {
    /// Listed values.
    ///
    /// # Errors
    /// Where a value is no finite number or stands twice.
    pub fn listed(key: &str, unit: &str, values: Vec<f64>) -> Result<Axis, AxisError> {
        if values.iter().any(|v| !v.is_finite()) {
            return Err(AxisError::InfiniteValues { key: key.into() });
        }
        if (1..values.len()).any(|i| values[..i].contains(&values[i])) {
            return Err(AxisError::ListedTwice { key: key.into() });
        }
        Ok(Axis { key: key.into(), unit: unit.into(), spacing: Spacing::List, values })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn lists_are_taken_apart() {
        let (key, values) = list("inner.flow = 50, 100, 300 uL/h").expect("a list").expect("well formed");
        assert_eq!(
            (key.as_str(), values),
            ("inner.flow", vec!["50 uL/h".to_owned(), "100 uL/h".into(), "300 uL/h".into()])
        );
        let (_, mixed) = list("outer.flow=500 uL/h,2 mL/h").expect("a list").expect("well formed");
        assert_eq!(mixed, ["500 uL/h", "2 mL/h"]);
        assert!(list("inner.flow=50..500 uL/h/8log").is_none() && list("inner.flow").is_none());
        assert!(list("inner.flow=50,,100 uL/h").expect("a list").is_err());
        assert!(
            Axis::listed("k", "1", vec![1.0, 2.0, 1.0]).is_err() && Axis::listed("k", "1", vec![f64::NAN]).is_err()
        );
    }

    #[test]
    fn ranges_are_taken_apart() {
        let found = AxisText::parse("inner.flow=50..500 uL/h/8log").expect("well formed");
        assert_eq!((found.key.as_str(), found.from.as_str(), found.to.as_str()), ("inner.flow", "50 uL/h", "500 uL/h"));
        assert_eq!((found.count, found.spacing), (8, Spacing::Log));
        let mixed = AxisText::parse("outer.flow = 500 uL/h .. 20 mL/h / 5").expect("well formed");
        assert_eq!((mixed.from.as_str(), mixed.to.as_str(), mixed.spacing), ("500 uL/h", "20 mL/h", Spacing::Linear));
        let plain = AxisText::parse("model.end_drag=0.3..1/4").expect("well formed");
        assert_eq!((plain.from.as_str(), plain.to.as_str()), ("0.3", "1"));
        let exponent = AxisText::parse("inner.flow=1e-12..1e-11 m3/s/3log").expect("well formed");
        assert_eq!((exponent.from.as_str(), exponent.to.as_str()), ("1e-12 m3/s", "1e-11 m3/s"));
    }

    #[test]
    fn the_unit_as_typed() {
        for (text, unit) in [
            ("inner.flow=50..500 uL/h/8log", "uL/h"),
            ("inner.flow=50,100 uL/h", "uL/h"),
            ("outer.flow=500 uL/h..2e1 mL/h/5", "mL/h"),
            ("model.end_drag=0.3..1/4", ""),
            ("nonsense", ""),
        ] {
            assert_eq!(typed_unit(text), unit, "{text}");
        }
    }

    #[test]
    fn wrong_ranges_say_what_is_missing() {
        for (text, what) in [
            ("inner.flow", "no `=`"),
            ("inner.flow=50 uL", "number of values"),
            ("inner.flow=50 uL/h/8", "no `..`"),
            ("inner.flow=50..500 uL/h/x", "no number"),
            ("inner.flow=50..500 uL/h/0", "values"),
            ("=1..2/3", "needed"),
            ("a=..2/3", "needed"),
        ] {
            let error = AxisText::parse(text).expect_err(text);
            assert!(error.to_string().contains(what), "{text}: {error}");
        }
    }

    #[test]
    fn values_keep_their_ends_and_their_spacing() {
        let log = Axis::between("k", "m", [1e-9, 1e-7], 5, Spacing::Log).expect("possible");
        assert_eq!((log.values[0], log.values[4]), (1e-9, 1e-7));
        assert_relative_eq!(log.values[2], 1e-8, max_relative = 1e-12);
        let linear = Axis::between("k", "m", [3.0, 1.0], 3, Spacing::Linear).expect("possible");
        assert_eq!(linear.values, [3.0, 2.0, 1.0]);
        assert_eq!(Axis::between("k", "1", [2.0, 9.0], 1, Spacing::Linear).expect("possible").values, [2.0]);
        assert!(Axis::between("k", "1", [0.0, 1.0], 3, Spacing::Log).is_err());
        assert!(Axis::between("k", "1", [1.0, 1.0], 3, Spacing::Linear).is_err());
        assert!(Axis::between("k", "1", [f64::NAN, 1.0], 3, Spacing::Linear).is_err());
    }
}
