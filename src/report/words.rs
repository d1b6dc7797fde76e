//! What a run found, in plain words.

use crate::figures::letters::significant;
use crate::figures::unit;
use crate::outcome::Summary;

/// `1.2 × 10^{5}` as a reader of plain text sees it.
pub fn plain(markup: &str) -> String {
    let raised = |c: char| match c {
        '-' => '⁻',
        '0' => '⁰',
        '1' => '¹',
        '2' => '²',
        '3' => '³',
        '4'..='9' => char::from_u32('⁴' as u32 + (c as u32 - '4' as u32)).unwrap_or(c),
        other => other,
    };
    match markup.split_once("^{").and_then(|(a, rest)| rest.split_once('}').map(|(e, b)| (a, e, b))) {
        Some((a, exponent, b)) => format!("{a}{}{b}", exponent.chars().map(raised).collect::<String>()),
        None => markup.to_owned(),
    }
}

pub fn number(value: f64, digits: usize) -> String {
    plain(&significant(value, digits))
}

pub fn length(value: f64) -> String {
    plain(&unit::length_text(value, 3))
}

pub fn time(value: f64) -> String {
    plain(&unit::time_text(value, 3))
}

pub fn percent(share: f64) -> String {
    format!("{} %", number(100.0 * share, 2))
}

pub fn rate(per_second: f64) -> String {
    if per_second >= 1.0 {
        format!("{} a second", number(per_second, 3))
    } else if per_second * 60.0 >= 1.0 {
        format!("{} a minute", number(per_second * 60.0, 3))
    } else {
        format!("{} an hour", number(per_second * 3600.0, 3))
    }
}

pub fn volume(m3: f64) -> String {
    const UNITS: [(f64, &str); 5] = [(1e-9, "µL"), (1e-12, "nL"), (1e-15, "pL"), (1e-18, "fL"), (1e-21, "aL")];
    let (si, name) = UNITS.into_iter().find(|(si, _)| m3 >= *si).unwrap_or(UNITS[4]);
    format!("{} {name}", number(m3 / si, 3))
}

/// The answer in a sentence or two.
pub fn verdict(s: &Summary) -> String {
    let mode = match s.mode.as_str() {
        "dripping" => "The device drips",
        "jetting" => "The device jets",
        _ => "No steady breakup was seen",
    };
    let mut text = match (s.primary.mean_diameter_m, s.primary.rate_per_s) {
        (Some(d), Some(r)) => format!("{mode}: drops of {}, {}", length(d), rate(r)),
        (Some(d), None) => format!("{mode}: drops of {}", length(d)),
        _ => mode.to_owned(),
    };
    if let Some(cv) = s.primary.cv {
        text += &format!(", spread (CV) {}", percent(cv));
    }
    text.push('.');
    match s.satellites.per_primary {
        Some(n) if n > 0.0 => {
            let share =
                s.satellites.volume_fraction.map_or(String::new(), |f| format!(", {} of the volume", percent(f)));
            text += &format!(" Satellites: {} for each drop{share}.", number(n, 2));
        }
        Some(_) => text += " No satellites.",
        None => {}
    }
    text
}

/// The sentences below it.
pub fn summary(s: &Summary) -> Vec<String> {
    let mut out = vec![verdict(s)];
    if !s.mode_evidence.is_empty() {
        out.push(format!("How the mode was judged: {}", s.mode_evidence));
    }
    if let Some(first) = &s.first_pinch {
        out.push(format!(
            "The first drop broke off after {}, {} from the tip, when the thread was {} long.",
            time(first.time_s),
            length(first.position_m),
            length(first.length_m)
        ));
    }
    if let Some(jet) = &s.jet {
        out.push(format!("The jet is {} long and {} thick.", length(jet.length_m), length(jet.diameter_m)));
    }
    if let (Some([a, b]), n) = (s.primary.cv_interval95, s.primary.count) {
        out.push(format!("From {n} settled drops the spread lies between {} and {} (95 %).", percent(a), percent(b)));
    }
    match s.primary.settled_after {
        Some(1) => out.push("The first drop is left out of the means: the device had not settled.".into()),
        Some(n) if n > 0 => {
            out.push(format!("The first {n} drops are left out of the means: the device had not settled."))
        }
        _ => {}
    }
    if let Some(bar) = &s.error_bar {
        out.push(format!("Numerical error of the diameter: {} ({}).", percent(bar.diameter_relative), bar.how));
    }
    if s.primary.mean_diameter_m.is_some() {
        out.push(format!("The model's own error of the diameter: {}.", s.model_error.words()));
    }
    if let Some(estimate) = &s.linear_estimate {
        out.push(format!("Linear estimate: {}", estimate.text));
    }
    out.push(ended(&s.stopped));
    out
}

fn ended(stopped: &str) -> String {
    match stopped {
        "drops_reached" => "The run ended with the number of drops asked for.".into(),
        "time_reached" => "The run ended at the time asked for.".into(),
        "interrupted" => "The run was interrupted; what is shown ends there.".into(),
        other => format!("The run ended before its goal: {}.", other.replace('_', " ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_as_people_write_them() {
        assert_eq!(plain("1.2 × 10^{-5} m"), "1.2 × 10⁻⁵ m");
        assert_eq!(plain("10^{79}"), "10⁷⁹");
        assert_eq!(volume(2.7e-13), "270 pL");
        assert_eq!(rate(0.5), "30.0 a minute");
        assert_eq!(percent(0.0123), "1.2 %");
    }
}
