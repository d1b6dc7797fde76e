//! The answer in at most six lines: mode, drops with their interval, satellites, pressures, what was assumed, what to mind.
//! Commands begin and end with it.

use super::quantity::{length_to, percent, pressure, rate_to, time};
use super::text::Page;
use crate::case::LayoutKind;
use crate::outcome::{Mode, Satellites, Size, Summary, Warning};

/// The lines of an answer: a label and its text.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Answer(pub Vec<(&'static str, String)>);

impl Answer {
    /// Adds a line.
    pub fn line(&mut self, label: &'static str, text: impl Into<String>) {
        self.0.push((label, text.into()));
    }

    /// Puts the lines on a page: on a usual screen never more than [`LINES`]. What is cut stands in full further down.
    pub fn put(&self, page: &mut Page) {
        let mut lines: Vec<usize> = self.0.iter().map(|(_, text)| page.brief_lines(text)).collect();
        while page.is_usual() && lines.iter().sum::<usize>() > LINES {
            // the longest one, and of equal ones the last
            let Some(longest) = (0..lines.len()).max_by_key(|i| lines[*i]).filter(|i| lines[*i] > 1) else { break };
            lines[longest] -= 1;
        }
        self.0.iter().zip(lines).for_each(|((label, text), lines)| page.brief(label, text, lines));
    }
}

/// Significant figures of a number that is known to this relative half width; three where it is not known.
fn figures(known_to: Option<f64>) -> usize {
    known_to.filter(|r| *r > 0.0).map_or(3, |r| ((-r.log10()).ceil() as i64 + 1).clamp(2, 4) as usize)
}

/// `126 um (90 %: 118 to 134 um)`.
pub fn sized(diameter: f64, size: &Size) -> String {
    let digits = match (&size.why, half_width(diameter, size)) {
        (Some(_), _) => 2,
        (None, known) => figures(known),
    };
    match (&size.why, size.low_m) {
        (Some(why), _) => format!("{}, {why}", length_to(diameter, digits)),
        (None, Some(_)) => format!("{} (90 %: {})", length_to(diameter, digits), between(size, digits)),
        (None, None) => format!("{} (interval not known)", length_to(diameter, digits)),
    }
}

/// `118 um to 134 um, or wider`.
fn between(size: &Size, digits: usize) -> String {
    let end = |d: Option<f64>| d.map_or_else(|| "?".into(), |d| length_to(d, digits));
    let wider = if size.at_least { ", or wider" } else { "" };
    format!("{} to {}{wider}", end(size.low_m), end(size.high_m))
}

/// The interval alone, or why there is none.
pub fn interval(size: &Size) -> String {
    match (&size.why, size.low_m.zip(size.high_m)) {
        (Some(why), _) => why.clone(),
        (None, Some((low, high))) => between(size, figures(Some((high - low) / (high + low)))),
        (None, None) => "not known".into(),
    }
}

/// Relative half width of an interval.
fn half_width(diameter: f64, size: &Size) -> Option<f64> {
    Some(0.5 * (size.high_m? - size.low_m?) / diameter)
}

/// Satellites by class, largest first.
pub fn satellites(s: &Satellites) -> Option<String> {
    let per_primary = s.per_primary?;
    if per_primary == 0.0 {
        return Some("none".into());
    }
    let count = |n: f64| format!("{:.2}", n).trim_end_matches('0').trim_end_matches('.').to_owned();
    let classes: Vec<String> =
        s.classes.iter().map(|c| format!("{} of {}", count(c.per_primary), length_to(c.mean_diameter_m, 2))).collect();
    let each = if classes.is_empty() { count(per_primary) } else { classes.join(", ") };
    let share = s.volume_fraction.map_or(String::new(), |f| match f {
        f if f < 5e-5 => "; under 0.01 % of the volume".into(),
        f => format!("; {:.2} % of the volume", 100.0 * f),
    });
    Some(format!("{each} for each drop{share}"))
}

/// The limit that weighs most, in a few words.
pub fn foremost(warnings: &[Warning]) -> Option<String> {
    let first = warnings.first()?;
    let short = first.text.split([';', ':']).next().unwrap_or(&first.text);
    let more = match warnings.len() {
        1 => String::new(),
        n => format!(" (and {} more)", n - 1),
    };
    Some(format!("{}: {short}{more}", first.code))
}

/// The answer of a run.
pub fn of(s: &Summary) -> Answer {
    let mut a = Answer::default();
    let p = &s.primary;
    if let Some(end) = s.end.as_ref() {
        a.line("ended", format!("{}: {}", s.stopped.word(), end.what));
        a.line("to do", end.remedy.clone());
    }
    match (p.mean_diameter_m, p.rate_per_s) {
        (Some(d), _) if s.layout == LayoutKind::Segment.name() => a.line("drop", length_to(d, 3)),
        (Some(d), r) => {
            a.line(
                "mode",
                format!(
                    "{}{}",
                    s.mode,
                    p.cv.map_or(String::new(), |cv| format!(", drops alike to {} (CV)", percent(round(cv))))
                ),
            );
            a.line("drops", sized(d, &s.size));
            let digits = figures(half_width(d, &s.size).map(|r| 3.0 * r));
            if let Some(r) = r {
                let jet = s.jet.as_ref().map_or(String::new(), |j| format!("; jet {} long", length_to(j.length_m, 2)));
                a.line("rate", format!("{}{jet}", rate_to(r, digits)));
            }
        }
        (None, _) if s.layout == LayoutKind::Segment.name() => {
            a.line("drop", "none: the wave has not broken by the end of the run")
        }
        (None, _) if !s.stopped.is_physical() => {
            a.line("mode", format!("{} so far", s.mode));
            a.line("NOT", format!("established, so no size is told: {}", s.established.why));
            if let Some(text) = so_far(s) {
                a.line("so far", text);
            }
        }
        (None, _) if s.mode != Mode::None => a.line("mode", s.mode.to_string()),
        (None, _) => {}
    }
    if let Some(text) = satellites(&s.satellites) {
        a.line("satellites", text);
    }
    if let Some(inner) = s.pressure.inner_pa {
        let outer = s.pressure.outer_pa.map_or(String::new(), |pa| format!(", outer {}", pressure(round(pa))));
        a.line("pressure", format!("inner {}{outer} (estimate)", pressure(round(inner))));
    }
    last(&mut a, &s.assumed, &s.warnings);
    a.0.truncate(LINES);
    a
}

/// Most lines of an answer.
pub const LINES: usize = 6;

/// What was assumed, else what to mind; both if there is room.
pub fn last(a: &mut Answer, assumed: &[String], warnings: &[Warning]) {
    if let Some(text) = assumed.first() {
        a.0.truncate(LINES - 1);
        a.line("assumed", text.clone());
    }
    if let Some(text) = foremost(warnings).filter(|_| a.0.len() < LINES) {
        a.line("warning", text);
    }
}

fn round(x: f64) -> f64 {
    format!("{x:.1e}").parse().unwrap_or(x)
}

/// What came off of a run that is not established.
fn so_far(s: &Summary) -> Option<String> {
    let primaries = || s.drops.iter().filter(|d| d.kind == crate::outcome::DropKind::Primary);
    let (small, large) =
        primaries().fold((f64::INFINITY, 0.0_f64), |(a, b), d| (a.min(d.diameter_m), b.max(d.diameter_m)));
    let last = primaries().map(|d| d.time_s).fold(0.0, f64::max);
    (large > 0.0).then(|| {
        format!(
            "{} drops of {} to {} within {}",
            primaries().count(),
            length_to(small, 3),
            length_to(large, 3),
            time(round(last))
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outcome::SatelliteClass;

    #[test]
    fn as_many_digits_as_are_known() {
        let size = |low, high| Size { low_m: Some(low), high_m: Some(high), ..Size::default() };
        assert_eq!(sized(126.37e-6, &size(118.2e-6, 134.4e-6)), "126 um (90 %: 118 um to 134 um)");
        assert_eq!(sized(126.37e-6, &size(95e-6, 158e-6)), "130 um (90 %: 95 um to 160 um)");
        assert_eq!(sized(126.37e-6, &Size::default()), "126 um (interval not known)");
        let unknown =
            Size { why: Some("may be off by 99 % (the model's own error); confirm it".into()), ..Size::default() };
        assert_eq!(sized(126.37e-6, &unknown), "130 um, may be off by 99 % (the model's own error); confirm it");
        assert_eq!(interval(&size(118.2e-6, 134.4e-6)), "118 um to 134 um");
        assert_eq!(interval(&unknown), "may be off by 99 % (the model's own error); confirm it");
    }

    #[test]
    fn six_lines_are_enough_on_a_usual_screen() {
        let mut a = Answer::default();
        for label in ["ended", "to do", "pressure", "assumed", "warning"] {
            a.line(label, "a text that goes on and on and would take more than two lines of a screen of eighty letters, which is too much ".repeat(2));
        }
        let lines = |width| {
            let mut page = Page::with_width(width);
            a.put(&mut page);
            page.into_text().lines().map(str::to_owned).collect::<Vec<_>>()
        };
        let usual = lines(80);
        assert!(usual.len() == LINES && usual.iter().all(|l| l.chars().count() <= 96), "{usual:#?}");
        assert!(usual.iter().filter(|l| l.ends_with(" ...")).count() == 5, "{usual:#?}");
        assert!(lines(50).len() > LINES && !lines(50).iter().any(|l| l.ends_with("...")), "narrow ones wrap");
    }

    #[test]
    fn satellites_are_told_class_by_class() {
        let class = |n, d| SatelliteClass { per_primary: n, mean_diameter_m: d, smallest_m: d, largest_m: d };
        let s = Satellites {
            per_primary: Some(3.0),
            volume_fraction: Some(0.004),
            mean_diameter_m: Some(1.3e-6),
            classes: vec![class(1.0, 2.15e-6), class(2.0, 0.48e-6)],
        };
        assert_eq!(satellites(&s).expect("some"), "1 of 2.2 um, 2 of 480 nm for each drop; 0.40 % of the volume");
        assert_eq!(satellites(&Satellites { per_primary: Some(0.0), ..s }).expect("none"), "none");
    }
}
