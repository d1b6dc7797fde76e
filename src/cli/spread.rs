//! `spread`: the true spread of measured drops apart from the error of measuring.

use super::quantity::{length, number, percent, rate};
use super::studies;
use super::text::Page;
use super::{Failure, Output, print_answer, print_page};
use crate::figures::{self, Measured, Source, about::Origin};
use crate::study::spread::readings::Hints;
use crate::study::spread::{self, Known, Spread, against, readings};
use crate::units::{self, Kind};
use std::fs::File;
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Table of readings (CSV): columns `diameter [um]` (any length; `[px]` with --scale), `drop`, `image`; one row a reading, the
    /// same label in `drop` for each reading of a drop; without `drop` each row is a drop of its own
    #[arg(value_name = "MEASURED.csv")]
    measured: PathBuf,
    /// Lay a run beside the measured drops
    #[arg(long, value_name = "RUN.h5")]
    against: Option<PathBuf>,
    /// Size of a pixel for `diameter [px]`, or a factor on other diameters, with its uncertainty: '0.52 um/px +- 1 %', '1 +- 2 %'
    #[arg(long, value_name = "SCALE", value_parser = scale)]
    scale: Option<Scale>,
    /// Unit of a list without a header, for example um
    #[arg(long, value_name = "UNIT")]
    unit: Option<String>,
    /// Standard deviation of one reading, where it is known and repeats are not to tell it, for example '0.4 um'
    #[arg(long, value_name = "LENGTH", value_parser = studies::above_zero(Kind::Length))]
    reading_sd: Option<f64>,
    /// Drops below this diameter are satellites (else those below the uppermost gap of a factor 1.3)
    #[arg(long, value_name = "LENGTH", value_parser = studies::above_zero(Kind::Length))]
    satellites_below: Option<f64>,
    /// Measured rate of primary drops, for the volume closure, for example '420 /s'
    #[arg(long, value_name = "RATE", value_parser = studies::per_time)]
    rate: Option<f64>,
    /// Pumped flow of the inner liquid, for the volume closure, for example '150 uL/h'
    #[arg(long, value_name = "FLOW", value_parser = studies::above_zero(Kind::Flow))]
    flow: Option<f64>,
    /// Also draw the histogram; the ending decides: .pdf, .svg or .png
    #[arg(short, long, value_name = "FIG.{pdf,svg,png}")]
    output: Option<PathBuf>,
}

/// What a reading is multiplied by, and how well that is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    /// m for a pixel; `None` for a plain factor.
    pixel: Option<f64>,
    pub factor: f64,
    /// Relative tolerance, zero where none was told.
    pub tolerance: f64,
}

impl Scale {
    /// Whether it is the size of a pixel.
    pub fn in_pixels(&self) -> bool {
        self.pixel.is_some()
    }
}

/// `0.52 um/px +- 1 %`, where `/px` may be left out, or `1 +- 2 %`.
pub fn scale(text: &str) -> Result<Scale, String> {
    let (value, tolerance) = ["+-", "+/-", "±"].iter().find_map(|sign| text.split_once(sign)).unwrap_or((text, ""));
    let behind = |value: &str| if tolerance.is_empty() { value.to_owned() } else { format!("{value} +- {}", tolerance.trim()) };
    let trimmed = value.trim();
    if let Ok(plain) = units::read(&behind(trimmed), Kind::Number) {
        return match plain.si > 0.0 {
            true => Ok(Scale { pixel: None, factor: plain.si, tolerance: plain.tolerance.unwrap_or(0.0) }),
            false => Err("a scale above zero is needed".into()),
        };
    }
    let bare = trimmed.trim_end_matches("pixel").trim_end_matches("px").trim_end();
    let length = bare.strip_suffix('/').unwrap_or(bare).trim();
    let read = units::read(&behind(length), Kind::Length).map_err(|e| e.to_string())?;
    if read.si > 0.0 {
        Ok(Scale { pixel: Some(read.si), factor: 1.0, tolerance: read.tolerance.unwrap_or(0.0) })
    } else {
        Err("a length above zero is needed for a pixel".into())
    }
}

/// Reads a table, takes its spread apart, tells what can be told.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    let hints = Hints {
        pixel: args.scale.and_then(|s| s.pixel),
        factor: args.scale.filter(|s| s.pixel.is_none()).map(|s| s.factor),
        unit: args.unit.clone(),
    };
    let table = table(&args.measured, &hints)?;
    let run = args.against.as_deref().map(crate::record::read_summary).transpose()?;
    let known = Known {
        reading_sd: args.reading_sd,
        rate: args.rate,
        flow: args.flow,
        satellites_below: args.satellites_below,
        pixel: args.scale.and_then(|s| s.pixel),
        scale_tolerance: args.scale.map(|s| s.tolerance).filter(|t| *t > 0.0),
    };
    let mut found = spread::analyse(&table.drops, &known);
    if table.list {
        found.notes.push("there is no column `drop`: each row was taken for a drop of its own".into());
    }
    if table.one_of > 1 {
        found.notes.insert(
            0,
            format!(
                "{} readings are more than memory should hold: one of {} drops was analysed, picked by a hash of its label; counts are theirs",
                table.readings, table.one_of
            ),
        );
    }
    if !table.ignored.is_empty() {
        found.notes.push(format!("columns not used: {}", table.ignored.join(", ")));
    }
    found.against = run.as_ref().map(|summary| against::against(&found, summary));
    if let Some(target) = &args.output {
        draw(&found, &args.measured, target, how)?;
    }
    if how.json {
        return print_answer(&found);
    }
    if how.quiet { Ok(()) } else { print_page(page(&found, how.verbose > 0)) }
}

/// The measured drops as a histogram, satellites apart.
fn draw(found: &Spread, measured: &Path, target: &Path, how: &Output) -> Result<(), Failure> {
    let of = |satellite: bool| found.drops.iter().filter(move |d| d.satellite == satellite).map(|d| d.mean_m).collect();
    let mut facts = vec![format!("measured, *n* = {}", found.n_drops), format!("mean {}", length(found.mean_m).replace(" um", " µm"))];
    match (found.distinguishable, found.cv_true, found.cv_true_interval95) {
        (Some(true), Some(cv), Some([low, high])) => {
            facts.extend([format!("true CV {}", percent(cv)), format!("(95 %: {} to {})", percent(low), percent(high))]);
        }
        (_, _, Some([_, high])) => facts.push(format!("true CV below {}", percent(high))),
        _ => facts.extend(found.cv_observed.map(|cv| format!("CV with the error of reading {}", percent(cv)))),
    }
    let bytes = std::fs::read(measured).unwrap_or_default();
    let origin = Origin {
        title: measured.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default(),
        case_sha256: crate::record::sha256_hex(&bytes),
        version: env!("CARGO_PKG_VERSION").into(),
        command: super::source::command_line(),
    };
    let source = Source::Measured(Box::new(Measured { primaries: of(false), satellites: of(true), facts, origin }));
    super::figure::write(target, &[figures::Kind::Sizes], &[source], how)
}

fn table(path: &Path, hints: &Hints) -> Result<readings::Table, Failure> {
    let file = File::open(path).map_err(|e| Failure::Input(format!("{}: cannot be read: {e}", path.display())))?;
    readings::read(file, hints).map_err(|errors| super::source::problems(path, &errors.problems))
}

fn page(s: &Spread, detailed: bool) -> Page {
    let mut page = Page::new();
    page.title(&s.statement);
    page.heading("Primary drops");
    page.fact("drops, readings", &format!("{}, {}", s.n_drops, s.n_readings));
    page.fact("mean diameter", &with_interval(length(s.mean_m), s.mean_interval95_m.map(|i| i.map(length))));
    page.fact_if("sd, observed", s.sd_observed_m.map(length));
    page.fact_if("sd of one reading", s.sd_measurement_m.map(length));
    page.fact_if("with the scale's uncertainty", s.mean_interval95_with_scale_m.map(|[low, high]| format!("95 %: {} to {}", length(low), length(high))));
    page.fact_if("CV, observed", s.cv_observed.map(percent));
    match (s.distinguishable, s.cv_true_interval95) {
        (Some(false), Some([_, upper])) => page.fact("CV, true", &format!("cannot be told; below {} (97.5 %)", percent(upper))),
        (_, interval) => {
            page.fact_if("sd, true", s.sd_true_m.map(length));
            page.fact_if("CV, true", s.cv_true.map(|cv| with_interval(percent(cv), interval.map(|i| i.map(percent)))));
        }
    }
    page.fact_if("without the outliers", s.cv_true_without_outliers.map(percent));
    sizes(&mut page, s);
    page.heading("Satellites");
    page.fact("split off", &s.satellites.how);
    if s.satellites.count > 0 {
        page.fact("for each primary drop", &number(s.satellites.per_primary));
        page.fact("share of the volume", &percent(s.satellites.volume_fraction));
        page.fact_if("mean diameter", s.satellites.mean_diameter_m.map(length));
    }
    outliers(&mut page, s, detailed);
    if let Some(closure) = &s.closure {
        page.heading("Volume closure");
        if closure.flagged { page.warning("closure", &closure.text) } else { page.paragraph(&closure.text) }
    }
    compared(&mut page, s);
    page.heading("Notes");
    page.item(&format!("method: {}", s.method));
    s.notes.iter().for_each(|note| page.item(note));
    page
}

fn with_interval(value: String, interval: Option<[String; 2]>) -> String {
    interval.map_or(value.clone(), |[low, high]| format!("{value} (95 %: {low} to {high})"))
}

fn sizes(page: &mut Page, s: &Spread) {
    let (Some(all), Some(all_volume)) = (s.moments, s.percentiles) else { return };
    let (Some(own), Some(own_volume)) = (s.moments_primary, s.percentiles_primary) else { return };
    page.heading("Mean diameters and volume percentiles (ISO 9276-2)");
    let row = |name: &str, a: f64, b: f64| vec![name.to_string(), length(a), length(b)];
    page.table(
        &["", "all drops", "primary"],
        &[
            row("D[1,0]", all.d10, own.d10),
            row("D[2,1]", all.d21, own.d21),
            row("D[3,2]", all.d32, own.d32),
            row("D[4,3]", all.d43, own.d43),
            row("D10 by volume", all_volume.d10v, own_volume.d10v),
            row("D50 by volume", all_volume.d50v, own_volume.d50v),
            row("D90 by volume", all_volume.d90v, own_volume.d90v),
        ],
    );
}

/// Outliers listed at most, unless more detail is asked for.
const OUTLIERS_SHOWN: usize = 10;

fn outliers(page: &mut Page, s: &Spread, detailed: bool) {
    if s.outliers.is_empty() {
        return;
    }
    page.heading("Outliers (shown, and kept in every number above unless said otherwise)");
    let most = if detailed { usize::MAX } else { OUTLIERS_SHOWN };
    for outlier in s.outliers.iter().take(most) {
        let where_ = outlier.line.map_or("all its readings".into(), |line| format!("the reading in line {line}"));
        let drop = units::quoted(&outlier.drop);
        page.item(&format!("drop {drop}, {where_}: {}, modified score {}", length(outlier.diameter_m), number(outlier.score)));
    }
    if s.outliers.len() > most {
        page.item(&format!("and {} more (-v or --json shows all)", s.outliers.len() - most));
    }
}

fn compared(page: &mut Page, s: &Spread) {
    let Some(run) = &s.against else { return };
    page.heading("Against the run");
    page.paragraph(&run.statement);
    let or_dash = |value: Option<String>| value.unwrap_or_else(|| "-".into());
    let row = |name: &str, measured: Option<String>, predicted: Option<String>| {
        vec![name.to_string(), or_dash(measured), or_dash(predicted)]
    };
    page.table(
        &["", "measured", "predicted"],
        &[
            row("mean diameter", Some(length(s.mean_m)), run.mean_diameter_m.map(length)),
            row("true CV", true_cv(s), run.cv.map(percent)),
            row("satellites a drop", Some(number(s.satellites.per_primary)), run.satellites_per_primary.map(number)),
            row("drops", None, run.rate_per_s.map(rate)),
            row("mode", None, Some(run.mode.to_string())),
        ],
    );
}

/// The true CV as far as it can be told.
fn true_cv(s: &Spread) -> Option<String> {
    match (s.distinguishable, s.cv_true_interval95) {
        (Some(false), Some([_, upper])) => Some(format!("below {}", percent(upper))),
        _ => s.cv_true.map(percent),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scale_is_a_length_a_pixel_or_a_factor_with_its_tolerance() {
        for text in ["0.5 um/px", "0.5 um / px", "0.5 um", "500 nm/px", "0.5 um/pixel"] {
            assert!((scale(text).expect(text).pixel.expect("a length") - 5e-7).abs() < 1e-18, "{text}");
        }
        let known = scale("0.5 um/px +- 1 %").expect("a length");
        assert!((known.tolerance - 0.01).abs() < 1e-12 && known.pixel.is_some());
        let factor = scale("1.02 +- 2 %").expect("a factor");
        assert_eq!((factor.pixel, factor.factor), (None, 1.02));
        assert!((factor.tolerance - 0.02).abs() < 1e-12);
        for text in ["0.5 px", "-1 um/px", "-1", "0", "0.5 mPa.s/px", "1 +- 200 %", ""] {
            assert!(scale(text).is_err(), "{text}");
        }
    }
}
