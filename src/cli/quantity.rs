//! SI numbers as people at the bench read them: a fitting prefix, four figures.

/// Significant figures shown.
const FIGURES: usize = 4;

/// A number with four significant figures, without needless zeros or exponents.
pub fn number(value: f64) -> String {
    if value == 0.0 {
        return "0".into();
    }
    if !value.is_finite() {
        return "-".into();
    }
    let exponent = value.abs().log10().floor() as i32;
    if !(-3..6).contains(&exponent) {
        let text = format!("{value:.prec$e}", prec = FIGURES - 2);
        let (mantissa, exponent) = text.split_once('e').unwrap_or((&text, "0"));
        return format!("{}e{exponent}", trimmed(mantissa));
    }
    let decimals = (FIGURES as i32 - 1 - exponent).max(0) as usize;
    let text = format!("{value:.decimals$}");
    trimmed(&text).to_owned()
}

fn trimmed(text: &str) -> &str {
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { text }
}

/// A number with so many significant figures, without an exponent where people write none.
fn figures(value: f64, digits: usize) -> String {
    let rounded: f64 = format!("{value:.*e}", digits.max(1) - 1).parse().unwrap_or(value);
    number(rounded)
}

fn climb_to(value: f64, ladder: Ladder, digits: usize) -> String {
    let fits = |&&(_, size): &&(&str, f64)| value.abs() >= 0.999_5 * size;
    let Some((name, size)) = ladder.iter().find(fits).or(ladder.last()) else { return number(value) };
    format!("{} {name}", figures(value / size, digits))
}

/// Metres with so many significant figures.
pub fn length_to(si: f64, digits: usize) -> String {
    climb_to(si, LENGTH, digits)
}

/// Events a second with so many significant figures.
pub fn rate_to(si: f64, digits: usize) -> String {
    climb_to(si, RATE, digits)
}

/// Units of one dimension, largest first: name and its size in SI.
type Ladder = &'static [(&'static str, f64)];

const LENGTH: Ladder = &[("m", 1.0), ("mm", 1e-3), ("um", 1e-6), ("nm", 1e-9)];
const TIME: Ladder = &[("h", 3600.0), ("min", 60.0), ("s", 1.0), ("ms", 1e-3), ("us", 1e-6), ("ns", 1e-9)];
const VOLUME: Ladder = &[("L", 1e-3), ("mL", 1e-6), ("uL", 1e-9), ("nL", 1e-12), ("pL", 1e-15), ("fL", 1e-18)];
const FLOW: Ladder =
    &[("L/h", 1e-3 / 3600.0), ("mL/h", 1e-6 / 3600.0), ("uL/h", 1e-9 / 3600.0), ("nL/h", 1e-12 / 3600.0)];
const PRESSURE: Ladder = &[("MPa", 1e6), ("kPa", 1e3), ("Pa", 1.0)];
const RATE: Ladder = &[("kHz", 1e3), ("/s", 1.0), ("/min", 1.0 / 60.0), ("/h", 1.0 / 3600.0)];
const VELOCITY: Ladder = &[("m/s", 1.0), ("mm/s", 1e-3), ("um/s", 1e-6)];

fn climb(value: f64, ladder: Ladder) -> String {
    if value == 0.0 {
        return "0".into();
    }
    let fits = |&&(_, size): &&(&str, f64)| value.abs() >= 0.999_95 * size;
    let Some((name, size)) = ladder.iter().find(fits).or(ladder.last()) else { return number(value) };
    format!("{} {name}", number(value / size))
}

/// Metres as m, mm, um, nm.
pub fn length(si: f64) -> String {
    climb(si, LENGTH)
}

/// Seconds as h, min, s, ms, us.
pub fn time(si: f64) -> String {
    climb(si, TIME)
}

/// Cubic metres as L, mL, uL, nL, pL.
pub fn volume(si: f64) -> String {
    climb(si, VOLUME)
}

/// m3/s as mL/h, uL/h.
pub fn flow(si: f64) -> String {
    climb(si, FLOW)
}

/// Pascals as MPa, kPa, Pa; with bar beside it from a tenth of a bar on.
pub fn pressure(si: f64) -> String {
    let text = climb(si, PRESSURE);
    if si.abs() >= 1e4 { format!("{text} ({} bar)", number(si / 1e5)) } else { text }
}

/// Events a second.
pub fn rate(si: f64) -> String {
    climb(si, RATE)
}

/// m/s, mm/s, um/s.
pub fn velocity(si: f64) -> String {
    climb(si, VELOCITY)
}

/// A share as percent.
pub fn percent(share: f64) -> String {
    format!("{} %", number(100.0 * share))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prefixes_fit() {
        assert_eq!(length(82.34567e-6), "82.35 um");
        assert_eq!(length(1e-3), "1 mm");
        assert_eq!(length(0.999_96e-3), "1 mm");
        assert_eq!(length(-3e-6), "-3 um");
        assert_eq!(length(0.0), "0");
        assert_eq!(time(90.0), "1.5 min");
        assert_eq!(time(0.0123), "12.3 ms");
        assert_eq!(volume(1.5e-13), "150 pL");
        assert_eq!(flow(150e-9 / 3600.0), "150 uL/h");
        assert_eq!(pressure(123_456.0), "123.5 kPa (1.235 bar)");
        assert_eq!(rate(1000.0), "1 kHz");
        assert_eq!(rate(999.0), "999 /s");
        assert_eq!(percent(0.0123), "1.23 %");
        assert_eq!(number(f64::NAN), "-");
        assert_eq!(number(1.234e-9), "1.23e-9");
        assert_eq!(number(1e-14), "1e-14");
        assert_eq!(number(-1234567.0), "-1.23e6");
    }
}
