//! `growth`: growth rate against wavenumber, this model and exact theory side by side.

use super::quantity::number;
use super::text::Page;
use super::{Failure, Output};
use crate::case::Case;
use crate::figures::{self, about::Origin};
use crate::study::growth::{Growth, growth};
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  slenderjet growth coflow.toml --at 0.3,0.5,0.7")]
pub struct Args {
    /// Case file (TOML); - reads standard input
    case: PathBuf,
    #[command(flatten)]
    changes: super::case_file::Changes,
    /// Reduced wavenumbers x = k R, separated by commas (left out: 0.05 to 1.05)
    #[arg(long, value_name = "X,X...", value_delimiter = ',', value_parser = wavenumber)]
    at: Vec<f64>,
    /// Also draw the rates; the ending decides: .pdf, .svg or .png
    #[arg(short, long, value_name = "FIG.{pdf,svg,png}")]
    output: Option<PathBuf>,
}

/// Largest reduced wavenumber that makes sense on a continuum thread.
const WAVENUMBER_MAX: f64 = 20.0;

fn wavenumber(text: &str) -> Result<f64, String> {
    let x: f64 = text.trim().parse().map_err(|_| format!("'{text}' is no number; a reduced wavenumber is a plain number"))?;
    if x > 0.0 && x <= WAVENUMBER_MAX {
        return Ok(x);
    }
    Err(format!("a reduced wavenumber x = k R lies above 0 and up to {WAVENUMBER_MAX}; waves grow below 1"))
}

/// Growth rates of the thread that the case would have without breakup.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    let case = super::case_file::load_any(&args.case, &args.changes)?;
    if let Some((key, why)) = crate::study::growth::refusal(&case) {
        return Err(Failure::Input(format!("{}: {key}: {why}", args.case.display())));
    }
    let at = if args.at.is_empty() { (1..=21).map(|i| f64::from(i) * 0.05).collect() } else { args.at.clone() };
    if let Some(target) = &args.output {
        draw(&case, target, how)?;
    }
    let Some(answer) = growth(&case, &at) else {
        return Err(Failure::Input(format!("{}: this case has no thread: nothing flows", args.case.display())));
    };
    if how.json {
        return super::print_answer(&answer);
    }
    if how.quiet { Ok(()) } else { super::print_page(page(&case.title, &answer)) }
}

/// The rates as a figure, at wavenumbers close enough for a smooth line.
fn draw(case: &Case, target: &Path, how: &Output) -> Result<(), Failure> {
    let origin = Origin {
        title: case.title.clone(),
        case_sha256: crate::record::sha256_hex(case.text.as_bytes()),
        version: env!("CARGO_PKG_VERSION").into(),
        command: super::source::command_line(),
    };
    let rates = figures::growth::of_case(case, Some(origin)).map_err(|e| Failure::Input(e.to_string()))?;
    super::figure::write(target, &[figures::Kind::Growth], &[figures::Source::Growth(Box::new(rates))], how)
}

fn page(title: &str, g: &Growth) -> Page {
    let mut page = Page::new();
    page.title(title);
    page.fact("thread radius", &super::quantity::length(g.radius_m));
    page.fact_if("confinement R/R_w", g.confinement.map(|x| format!("{x:.4}")));
    page.fact_if("Ohnesorge", g.ohnesorge.map(number));
    page.fact_if("viscosity ratio", g.viscosity_ratio.map(number));
    page.fact("unit of rate", &format!("{} 1/s", number(g.rate_scale_per_s)));
    page.heading("Growth rate against x = k R");
    let share = |model: f64, exact: f64| if exact.abs() > 1e-12 { format!("{:+.2} %", 100.0 * (model / exact - 1.0)) } else { "-".into() };
    let rows: Vec<Vec<String>> = (0..g.wavenumber.len())
        .map(|i| {
            let exact = g.exact.as_ref().map(|e| e[i]);
            vec![
                number(g.wavenumber[i]),
                number(g.model[i]),
                exact.map_or("-".into(), number),
                exact.map_or("-".into(), |e| share(g.model[i], e)),
            ]
        })
        .collect();
    page.table(&["x", "this model", "exact theory", "model - exact"], &rows);
    page.heading("Fastest mode");
    let mode = |m: &crate::study::growth::Mode| {
        format!("x = {}, rate {} ({} 1/s)", number(m.x), number(m.rate), number(m.rate * g.rate_scale_per_s))
    };
    page.fact("this model", &mode(&g.fastest.model));
    page.fact_if("exact theory", g.fastest.exact.as_ref().map(mode));
    page.fact_if("exact is", g.exact_source.clone());
    page.fact_if("no exact theory", g.exact_missing.clone());
    page.heading("Dripping or jetting");
    page.fact("instability", &g.character.map_or("not found".into(), |c| c.to_string()));
    page.fact_if("by exact theory", g.character_exact.map(|c| c.to_string()));
    page.fact_if("how far to trust it", g.character_text.clone());
    for remark in &g.remarks {
        page.item(remark);
    }
    page
}
