//! `calibrate`: which tension, tip or scale explains measured drops.

use super::quantity::{length, number, percent, rate};
use super::spread::{Scale, scale};
use super::studies::{Bench, Keeping};
use super::text::Page;
use super::{Failure, Output, case_file, map, output, print_answer, print_page, source};
use crate::case::Case;
use crate::figures::{self, Source, calibrated::Rows};
use crate::files;
use crate::study::calibrate::{Calibrated, Estimate, Question, SCALE, WIDE, calibrate};
use crate::study::evaluate::{Counted, Length};
use crate::study::measured::{self, Measured};
use crate::units::{self, Kind};
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Case file (TOML) with the tolerances of what is uncertain, as in "7.5 mN/m +- 30 %"; - reads standard input
    case: PathBuf,
    /// Measured drops (CSV): any keys of the case with units, `diameter [um]`, and where known `diameter_sd [um]`, `rate [1/s]`,
    /// `rate_sd [1/s]`, `mode`; a row a setting
    #[arg(value_name = "MEASURED.csv")]
    measured: PathBuf,
    #[command(flatten)]
    changes: case_file::Changes,
    /// Keys to find (else those of tension, tip bore and orifice bore that have a tolerance, and the scale where one is given)
    #[arg(long, value_name = "KEY,KEY", value_delimiter = ',')]
    free: Vec<String>,
    /// True over read diameter with its uncertainty, '1 +- 2 %': it is then found too
    #[arg(long, value_name = "SCALE", value_parser = scale)]
    scale: Option<Scale>,
    /// The model's own error of a diameter, one standard deviation, in place of what the model tells of itself, for example '5 %'
    #[arg(long, value_name = "SHARE", value_parser = share)]
    model_error: Option<f64>,
    /// Case to write with the values found and their remaining tolerances; with the ending .pdf, .svg or .png a figure of the rows
    /// before and after (may be given twice)
    #[arg(short, long, value_name = "CASE.toml|FIG")]
    output: Vec<PathBuf>,
    #[command(flatten)]
    keeping: Keeping,
    /// Worker threads (else all cores that this process may use)
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    threads: Option<u16>,
}

fn share(text: &str) -> Result<f64, String> {
    let share = units::read(text, Kind::Number).map_err(|e| e.to_string())?.si;
    if share > 0.0 && share < 1.0 { Ok(share) } else { Err("a share between 0 and 100 % is needed".into()) }
}

/// What `calibrate --json` tells.
#[derive(serde::Serialize, schemars::JsonSchema)]
pub struct Told<'a> {
    /// Of the case.
    title: &'a str,
    case_sha256: String,
    #[serde(flatten)]
    found: &'a Calibrated,
}

/// Reads case and table, runs, tells, writes the corrected case.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    let case = case_file::load(&args.case, &args.changes)?;
    let table = table(&args.measured)?;
    let question = question(args, &case, &table)?;
    let (figures, cases): (Vec<&PathBuf>, Vec<&PathBuf>) = args.output.iter().partition(|path| is_figure(path));
    if figures.len() > 1 || cases.len() > 1 {
        return Err(Failure::Input("one case and one figure can be written at most".into()));
    }
    let (figure, written) = (figures.first(), cases.first());
    if let Some(path) = written {
        output::check(path, Some(&files::Kind::Case), how)?;
    }
    let bench = Bench::new(how, None).keeping(&args.keeping, how)?;
    let answer = |case: &Case, length: Length| bench.answer(case, length);
    let found = calibrate(&case, &table, &question, &Counted::new(&answer), map::threads(args.threads));
    let found = bench.close(found)?;
    let told = Told { title: &case.title, case_sha256: crate::record::sha256_hex(case.text.as_bytes()), found: &found };
    if let Some(path) = figure {
        draw(&told, path, how)?;
    }
    if let Some(path) = written {
        let text = corrected(&case, &found)?;
        output::write_case(path, &text, how)?;
        how.remark(&format!("case written to {}", path.display()));
    }
    if how.json {
        return print_answer(&told);
    }
    if how.quiet { Ok(()) } else { print_page(page(&case, &found)) }
}

fn is_figure(path: &Path) -> bool {
    let ending = path.extension().and_then(|e| e.to_str()).unwrap_or_default().to_lowercase();
    ["pdf", "svg", "png"].contains(&ending.as_str())
}

/// The rows before and after as a figure: the same as `figure calibrated` draws from the answer in JSON.
fn draw(told: &Told<'_>, target: &Path, how: &Output) -> Result<(), Failure> {
    let text = super::answer_text(told)?;
    let mut rows = Rows::from_json(&text).map_err(|e| Failure::Unfinished(e.to_string()))?;
    rows.origin.command = source::command_line();
    super::figure::write(target, &[figures::Kind::Calibrated], &[Source::Calibrated(Box::new(rows))], how)
}

fn table(path: &Path) -> Result<Measured, Failure> {
    let file = std::fs::File::open(path).map_err(|e| Failure::Input(format!("{}: cannot be read: {e}", path.display())))?;
    measured::read(file, measured::DROPS).map_err(|errors| source::problems(path, &errors.problems))
}

fn question(args: &Args, case: &Case, table: &Measured) -> Result<Question, Failure> {
    if args.scale.is_some_and(|s| s.in_pixels()) {
        return Err(Failure::Input("--scale is a factor here, true over read diameter, for example '1 +- 2 %'".into()));
    }
    let scale = args.scale.map(|s| (s.factor, s.tolerance));
    Question::new(case, table, &args.free, scale, args.model_error).map_err(Failure::input)
}

/// A value as people write it, with the tolerance that leaves its standard deviation.
fn written(case: &Case, key: &str, value: f64, sd: f64) -> String {
    let unit = case.typed.iter().find(|t| t.key == key).map_or("1", |t| t.unit);
    let (size, name) = match unit {
        "m" => (1e-6, "um"),
        "N/m" => (1e-3, "mN/m"),
        "Pa.s" => (1e-3, "mPa.s"),
        "m3/s" => (1e-9 / 3600.0, "uL/h"),
        other => (1.0, other),
    };
    let name = if name == "1" { String::new() } else { format!(" {name}") };
    format!("{}{name} +- {:.2} %", significant(value / size), 100.0 * 3f64.sqrt() * sd)
}

/// Five figures.
fn significant(value: f64) -> String {
    let digits = (4 - value.abs().log10().floor() as i32).clamp(0, 12) as usize;
    format!("{value:.digits$}")
}

/// The case with its comments, and what was found in place of its own.
fn corrected(case: &Case, found: &Calibrated) -> Result<String, Failure> {
    let mut changed = case.clone();
    for (key, freed) in found.free.iter().filter(|(key, _)| key.as_str() != SCALE) {
        let set = |case: &Case, key: &str, text: &str| case.with_text(key, text).map_err(|errors| case_file::failure(&errors));
        let own = case.typed.iter().find(|t| t.key == *key).map_or(freed.mean, |t| t.si);
        let rim = case.device.tip_outer.filter(|_| key == "device.tip_bore").map(|rim| rim * freed.mean / own);
        let text = written(case, key, freed.mean, freed.sd_relative);
        changed = match rim {
            Some(rim) if freed.mean > own => set(&set(&changed, "device.tip_outer", &format!("{} um", significant(1e6 * rim)))?, key, &text)?,
            Some(rim) => set(&set(&changed, key, &text)?, "device.tip_outer", &format!("{} um", significant(1e6 * rim)))?,
            None => set(&changed, key, &text)?,
        };
        if key == "interface.tension" && case.outer.is_some() {
            changed = set(&changed, "interface.tension_at", "drop")?;
        }
    }
    Ok(changed.text)
}

fn page(case: &Case, c: &Calibrated) -> Page {
    let mut page = Page::new();
    page.title(&c.verdict);
    let unit = |key: &str| case.typed.iter().find(|t| t.key == key).map_or("1", |t| t.unit);
    page.heading("What was found (90 % intervals)");
    let shown = |key: &str, e: &Estimate| {
        let [low, high] = e.interval90.map(|v| map::in_unit(unit(key), v));
        format!("{} ({low} to {high})", map::in_unit(unit(key), e.mean))
    };
    let freed: Vec<Vec<String>> = c
        .free
        .iter()
        .map(|(key, f)| {
            let now = Estimate { mean: f.mean, interval90: f.interval90, sd_relative: f.sd_relative };
            vec![key.clone(), shown(key, &f.prior), shown(key, &now)]
        })
        .collect();
    page.table(&["key", "before", "after"], &freed);
    c.undetermined.iter().for_each(|text| page.item(text));
    page.heading("Row by row");
    rows(&mut page, c);
    page.heading("Predicted for the case itself");
    let predicted = |f: &crate::study::calibrate::Predicted| {
        let [low, high] = f.diameter_m.interval90;
        format!("{}, {} (90 %: {} to {})", f.mode, length(f.diameter_m.mean), length(low), length(high))
    };
    page.fact_if("before", c.before.as_ref().map(predicted));
    page.fact_if("after", c.after.as_ref().map(predicted));
    if let Some(next) = &c.next {
        page.heading("The measurement that would help most");
        let settings: Vec<String> =
            next.settings.iter().map(|(key, v)| format!("{key} = {}", map::in_unit(unit(key), *v))).collect();
        let place = if settings.is_empty() { "at the case's own setting".into() } else { format!("at {}", settings.join(", ")) };
        page.paragraph(&format!("{} {place}: {}", next.measure, next.why));
    }
    page.heading("Notes");
    c.notes.iter().for_each(|note| page.item(note));
    page.item(&format!("chance of so large a misfit: {}; {} runs", percent(c.chance), c.evaluations));
    page
}

fn rows(page: &mut Page, c: &Calibrated) {
    let or_dash = |value: Option<String>| value.unwrap_or_else(|| "-".into());
    let row = |r: &crate::study::calibrate::RowTold| {
        vec![
            r.line.to_string(),
            or_dash(r.measured_m.map(length)),
            or_dash(r.before_m.map(length)),
            or_dash(r.after_m.map(length)),
            or_dash(r.sd_m.map(length)),
            or_dash(r.measured_rate_per_s.map(rate)),
            or_dash(r.after_rate_per_s.map(rate)),
            or_dash(r.left_out.map(number)),
        ]
    };
    let head = ["line", "measured", "before", "after", "sd", "rate", "after", "left out"];
    page.table(&head, &c.rows.iter().map(row).collect::<Vec<_>>());
    page.paragraph("left out: distance from what the other rows predict, in standard deviations");
    for r in c.rows.iter().filter(|r| !r.used) {
        page.item(&format!("line {} was not used: {}", r.line, r.reason));
    }
    // The prior width where no tolerance was told is worth a word only where it was used.
    if c.free.values().any(|f| (f.prior.sd_relative - WIDE).abs() < 1e-12) {
        page.item("a tolerance in the case (\"7.5 mN/m +- 30 %\") would narrow what is found");
    }
}
