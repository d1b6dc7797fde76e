//! What a run found, in plain words.

use crate::figures::letters::significant;
use crate::figures::unit;
use crate::outcome::{Mode, Size, Stopped, Summary};

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
    rate_to(per_second, 3)
}

fn rate_to(per_second: f64, digits: usize) -> String {
    if per_second >= 1.0 {
        format!("{} a second", number(per_second, digits))
    } else if per_second * 60.0 >= 1.0 {
        format!("{} a minute", number(per_second * 60.0, digits))
    } else {
        format!("{} an hour", number(per_second * 3600.0, digits))
    }
}

pub fn volume(m3: f64) -> String {
    const UNITS: [(f64, &str); 5] = [(1e-9, "µL"), (1e-12, "nL"), (1e-15, "pL"), (1e-18, "fL"), (1e-21, "aL")];
    let (si, name) = UNITS.into_iter().find(|(si, _)| m3 >= *si).unwrap_or(UNITS[4]);
    format!("{} {name}", number(m3 / si, 3))
}

/// The answer in a sentence or two.
pub fn verdict(s: &Summary) -> String {
    let mode = match s.mode {
        Mode::Dripping => "The device drips",
        Mode::Transition => "The device is between dripping and jetting",
        Mode::Jetting => "The device jets",
        _ if s.first_pinch.is_some() => "It breaks up, but has no mode",
        _ => "No break-up was seen",
    };
    let size = s.primary.mean_diameter_m.map(|d| {
        sized(d, &s.size).unwrap_or_else(|| known_to(d, s.primary.model_error_relative, s.model_error.at_least))
    });
    let mut text = match (size, s.primary.rate_per_s) {
        (Some(d), Some(r)) => format!("{mode}: drops of {d}, {}", rate_to(r, rate_figures(s))),
        (Some(d), None) => format!("{mode}: drops of {d}"),
        _ => mode.to_owned(),
    };
    if let Some(cv) = s.primary.cv {
        text += &format!(", spread (CV) {}", percent(cv));
    }
    text.push('.');
    if !s.established.is {
        text += &format!(" Not established: {}.", s.established.why);
    }
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

/// A diameter with its interval, to the digits that this leaves.
pub fn sized(d: f64, size: &Size) -> Option<String> {
    let (value, ends) = unit::known(d, [size.low_m?, size.high_m?], size.at_least);
    let wider = if size.at_least { ", or wider" } else { "" };
    Some(format!("{value} (90 % of drops at the bench: {ends}{wider})"))
}

/// Significant figures of a rate: the pumped flow is known, so that it is as uncertain as the volume.
fn rate_figures(s: &Summary) -> usize {
    let half = |d: f64| Some(1.5 * (s.size.high_m? - s.size.low_m?) / d);
    let relative = s.primary.mean_diameter_m.and_then(half).filter(|r| *r > 0.0);
    let most = if s.size.at_least { 3.0 } else { 4.0 };
    relative.map_or(3, |r| ((-r.log10()).ceil() + 1.0).clamp(2.0, most) as usize)
}

/// A diameter with the model's own error, to the digits that the error leaves.
fn known_to(d: f64, error: Option<f64>, at_least: bool) -> String {
    let Some(error) = error.filter(|e| *e > 0.0) else { return length(d) };
    let u = unit::length(d);
    let (value, sd) = (d / u.si, error * d / u.si);
    // one digit of the error, two where it begins with a one
    let place = sd.log10().floor() as i32;
    let place = if sd / 10f64.powi(place) < 2.0 { place - 1 } else { place };
    let step = 10f64.powi(place);
    let decimals = (-place).max(0) as usize;
    let rounded = |v: f64| number_of((v / step).round() * step, decimals);
    let sign = if at_least { "± at least" } else { "±" };
    format!("{} {sign} {} {} (the model's own error, one standard deviation)", rounded(value), rounded(sd), u.name)
}

fn number_of(value: f64, decimals: usize) -> String {
    crate::figures::letters::number(value, decimals)
}

/// Values in one unit with as many decimals as tell `finest` of them apart, at most six digits in all.
pub fn column(values: &[f64], finest: f64, of: fn(f64) -> unit::Unit) -> Vec<String> {
    let largest = values.iter().copied().map(f64::abs).fold(0.0, f64::max);
    let u = of(largest);
    let most = 5 - (largest / u.si).max(1e-3).log10().floor() as i32;
    let wanted = -(finest / u.si).max(1e-12).log10().floor() as i32;
    let decimals = wanted.clamp(0, most.max(0)) as usize;
    values.iter().map(|v| format!("{} {}", number_of(v / u.si, decimals), u.name)).collect()
}

/// A text as a sentence: its first letter large, a full stop at its end.
pub fn sentence(text: &str) -> String {
    let mut letters = text.trim().chars();
    let mut out: String = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    out.extend(letters);
    if !out.is_empty() && !out.ends_with(['.', '!', '?']) {
        out.push('.');
    }
    out
}

/// The sentences below it.
pub fn summary(s: &Summary) -> Vec<String> {
    let mut out = Vec::new();
    if !s.mode_evidence.is_empty() {
        out.push(sentence(&format!("How the mode was judged: {}", s.mode_evidence)));
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
        let text = estimate.text.trim_start_matches("estimate, ");
        out.push(sentence(&format!("Linear estimate: {text}")));
    }
    if let Some(text) = ended(s.stopped) {
        out.push(text.into());
    }
    out
}

/// How a run ended that reached what was asked for.
fn ended(stopped: Stopped) -> Option<&'static str> {
    match stopped {
        Stopped::DropsReached => Some("The run ended with the number of drops asked for."),
        Stopped::Until => Some("The run ended at the time asked for."),
        _ => None,
    }
}

/// What a reader must know of a run that ended otherwise.
pub fn cut_short(s: &Summary) -> Option<String> {
    if ended(s.stopped).is_some() {
        return None;
    }
    let end = s.end.as_ref();
    let what = end.map_or_else(|| s.stopped.words().to_owned(), |end| end.what.clone());
    let remedy = end.map_or_else(String::new, |end| format!(" What to do: {}.", end.remedy));
    let kind = match s.stopped {
        Stopped::UnbrokenJet => "The run was left as it stood",
        answer if answer.is_answer() => "The device ended the run",
        _ => "The run ended before its goal",
    };
    Some(format!("{kind}: {what}.{remedy} What is shown ends there."))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_run_cut_short_says_why() {
        let mut summary =
            crate::study::synthetic::outcome(&crate::study::synthetic::case(), Mode::Dripping, None, 0.0).summary;
        assert_eq!(cut_short(&summary), None);
        summary.stopped = Stopped::StepBudget;
        assert!(cut_short(&summary).unwrap().contains("steps were used up"));
        summary.stopped = Stopped::Plug;
        assert!(cut_short(&summary).unwrap().contains("The device ended the run"));
        summary.stopped = Stopped::UnbrokenJet;
        assert!(cut_short(&summary).unwrap().contains("left as it stood"));
        assert_eq!(sentence("a limit of 3 was passed"), "A limit of 3 was passed.");
        assert_eq!(sentence(""), "");
    }

    #[test]
    fn digits_follow_the_uncertainty() {
        assert!(known_to(127.3e-6, Some(0.05), false).starts_with("127 ± 6 µm"));
        assert!(known_to(127.3e-6, Some(0.01), false).starts_with("127.3 ± 1.3 µm"));
        assert!(known_to(1.273e-3, Some(0.3), true).starts_with("1.3 ± at least 0.4 mm"));
        assert_eq!(known_to(127.3e-6, None, false), "127 µm");
        let size = Size { low_m: Some(118.2e-6), high_m: Some(134.4e-6), at_least: true, share: Vec::new(), why: None };
        let told = sized(126.37e-6, &size);
        assert_eq!(told.as_deref(), Some("126 µm (90 % of drops at the bench: 118–134 µm, or wider)"));
        assert_eq!(sized(126.37e-6, &Size::default()), None);
    }

    #[test]
    fn a_column_tells_its_values_apart_and_no_more() {
        let times = column(&[0.10001, 0.20002, 0.30001], 1e-5, unit::time);
        assert_eq!(times, ["100.01 ms", "200.02 ms", "300.01 ms"]);
        assert_eq!(column(&[127.0e-6, 127.02e-6], 1e-8, unit::length), ["127.00 µm", "127.02 µm"]);
        assert_eq!(column(&[1.0], 1e-30, unit::length)[0], "1.00000 m");
    }

    #[test]
    fn numbers_read_as_people_write_them() {
        assert_eq!(plain("1.2 × 10^{-5} m"), "1.2 × 10⁻⁵ m");
        assert_eq!(plain("10^{79}"), "10⁷⁹");
        assert_eq!(volume(2.7e-13), "270 pL");
        assert_eq!(rate(0.5), "30.0 a minute");
        assert_eq!(percent(0.0123), "1.2 %");
    }
}
