//! Units shown to people, chosen so that the numbers beside the ticks stay short.

/// A unit: how many SI units it is, its letters in markup, and how it reads in a column name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    pub si: f64,
    pub name: &'static str,
}

const fn unit(si: f64, name: &'static str) -> Unit {
    Unit { si, name }
}

const LENGTHS: [Unit; 4] = [unit(1e-9, "nm"), unit(1e-6, "µm"), unit(1e-3, "mm"), unit(1.0, "m")];
const TIMES: [Unit; 4] = [unit(1e-9, "ns"), unit(1e-6, "µs"), unit(1e-3, "ms"), unit(1.0, "s")];
/// Volume flow.
const FLOWS: [Unit; 3] = [unit(1e-12 / 3600.0, "nL/h"), unit(1e-9 / 3600.0, "µL/h"), unit(1e-6 / 3600.0, "mL/h")];

fn fitting(units: &[Unit], largest: f64, least: f64) -> Unit {
    let fits = units.iter().rev().find(|u| largest.abs() >= least * u.si);
    *fits.unwrap_or(&units[0])
}

/// Less than so many of a unit, and the next smaller one reads better.
const LEAST: f64 = 2.0;

/// For lengths up to `largest` m; from one micrometre on, for nobody in this trade says 1580 nm.
pub fn length(largest: f64) -> Unit {
    fitting(&LENGTHS, largest, 1.0 - 1e-9)
}

/// For times up to `largest` s.
pub fn time(largest: f64) -> Unit {
    fitting(&TIMES, largest, LEAST)
}

/// For volume flows up to `largest` m3/s.
pub fn flow(largest: f64) -> Unit {
    fitting(&FLOWS, largest, LEAST)
}

/// A length with its unit and so many digits, as text.
pub fn length_text(value: f64, digits: usize) -> String {
    let u = length(value);
    format!("{} {}", super::letters::significant(value / u.si, digits), u.name)
}

/// Least relative half width to which digits are told where the interval is but a part.
const PART: f64 = 5e-3;

/// A length and the ends of its interval in one unit, each to the digits that the interval leaves: one of its half width, two where
/// that begins with a one. Where the interval is only a part of what is not known, no digit beyond half a percent is told.
pub fn known(value: f64, [low, high]: [f64; 2], at_least: bool) -> (String, String) {
    let u = length(value);
    let half = (0.5 * (high - low) / u.si).max(if at_least { PART * value / u.si } else { 0.0 });
    if !(half.is_finite() && half > 0.0) {
        return (length_text(value, 3), String::new());
    }
    let place = half.log10().floor() as i32;
    let place = if half / 10_f64.powi(place) < 2.0 { place - 1 } else { place };
    // a mean with less than two figures would not look like one
    let place = place.min((value / u.si).abs().max(f64::MIN_POSITIVE).log10().floor() as i32 - 1);
    let step = 10_f64.powi(place);
    let shown = |v: f64| super::letters::number((v / u.si / step).round() * step, (-place).max(0) as usize);
    (format!("{} {}", shown(value), u.name), format!("{}–{} {}", shown(low), shown(high), u.name))
}

/// A time with its unit and so many digits, as text.
pub fn time_text(value: f64, digits: usize) -> String {
    let u = time(value);
    format!("{} {}", super::letters::significant(value / u.si, digits), u.name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_keep_numbers_short() {
        assert_eq!(length(80e-6).name, "µm");
        assert_eq!(length(3e-3).name, "mm");
        assert_eq!(length(1.58e-6).name, "µm");
        assert_eq!(time(1.5e-3).name, "µs");
        assert_eq!(length(0.0).name, "nm");
        assert_eq!(flow(4.2e-11).name, "µL/h");
        assert_eq!(length_text(81.23e-6, 3), "81.2 µm");
        assert_eq!(known(126.37e-6, [118.2e-6, 134.4e-6], false), ("126 µm".into(), "118–134 µm".into()));
        assert_eq!(known(126.37e-6, [95e-6, 158e-6], false), ("130 µm".into(), "100–160 µm".into()));
        assert_eq!(known(126.37e-6, [126.2e-6, 126.5e-6], false), ("126.37 µm".into(), "126.20–126.50 µm".into()));
        assert_eq!(known(215.2e-6, [8.6e-6, 422e-6], true), ("220 µm".into(), "10–420 µm".into()));
        assert_eq!(known(4.553e-3, [4.546e-3, 4.561e-3], true), ("4.55 mm".into(), "4.55–4.56 mm".into()));
    }
}
