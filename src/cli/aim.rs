//! `aim`: which flow rates give a wished drop.

use super::quantity::{flow, length, number, percent, rate};
use super::studies::{self, Bench};
use super::text::Page;
use super::{Failure, Output, case_file, map, output, print_json, print_page};
use crate::case::Case;
use crate::device::strength;
use crate::files::Kind;
use crate::study::aim::start::written;
use crate::study::aim::{Aimed, Wish, aim};
use crate::units;
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Case file (TOML), or - for standard input; its flows are where the search begins
    case: PathBuf,
    #[command(flatten)]
    changes: case_file::Changes,
    /// Wished mean diameter of the primary drops, for example '80 um'
    #[arg(long, value_name = "LENGTH", value_parser = studies::above_zero(units::Kind::Length))]
    diameter: f64,
    /// Wished primary drops a second, for example '500 /s'; sets the inner flow by mass balance
    #[arg(long, value_name = "RATE", value_parser = studies::per_time)]
    rate: Option<f64>,
    /// Accept no setting with satellites
    #[arg(long)]
    no_satellites: bool,
    /// Highest pressure that an inlet may need (else the guide for joints and push-on tubing)
    #[arg(long, value_name = "PRESSURE", value_parser = studies::above_zero(units::Kind::Pressure))]
    pressure: Option<f64>,
    /// Leave out the margins, which take some 20 to 25 coarse runs and some 10 at the case's own accuracy
    #[arg(long)]
    no_margins: bool,
    /// Case to write with the flows found
    #[arg(short, long, value_name = "CASE.toml")]
    output: Option<PathBuf>,
    /// Worker threads (else all cores that this process may use)
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    threads: Option<u16>,
}

/// Searches, simulates what was found, tells it and writes the case.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    let case = case_file::load(&args.case, &args.changes)?;
    if let Some(path) = &args.output {
        output::check(path, Some(&Kind::Case), how)?;
    }
    let wish = Wish {
        diameter: args.diameter,
        rate: args.rate,
        no_satellites: args.no_satellites,
        pressure: Some(args.pressure.unwrap_or(strength::GUIDE_JOINTS)),
        margins: !args.no_margins,
    };
    let bench = Bench::new(how, None);
    let found = aim(&case, &wish, &|case, length| bench.answer(case, length), map::threads(args.threads));
    let (aimed, found) = bench.close(found)?;
    if let (Some(path), Some(found)) = (&args.output, &found) {
        write(path, &case, found, how)?;
        how.remark(&format!("case written to {}", path.display()));
    }
    let case_on_stdout = args.output.as_deref().is_some_and(output::is_stdout);
    if how.json {
        print_json(&aimed)?;
    } else if !how.quiet && !case_on_stdout {
        print_page(page(&aimed, &wish, case.run.accuracy.name()))?;
    }
    if aimed.found { Ok(()) } else { Err(Failure::Unfinished(format!("no setting found: {}", aimed.reason))) }
}

/// What the runs were for.
fn margin_runs(a: &Aimed) -> String {
    if a.margins.is_empty() { a.reason.clone() } else { format!("{}, the others for the margins", a.reason) }
}

/// Writes the case with its comments, and the flows that were found in place of its own.
fn write(path: &Path, own: &Case, found: &Case, how: &Output) -> Result<(), Failure> {
    let changed = own.with_text("inner.flow", &written(found.inner.flow)).and_then(|case| match &found.outer {
        Some(outer) if outer.flow > 0.0 => case.with_text("outer.flow", &written(outer.flow)),
        _ => Ok(case),
    });
    let changed = changed.map_err(|errors| case_file::failure(&errors))?;
    output::write_case(path, &changed.text, how)
}

fn page(a: &Aimed, wish: &Wish, accuracy: &str) -> Page {
    let mut page = Page::new();
    let what = if a.found { "found" } else { "not found; the nearest setting simulated" };
    page.title(&format!("Drops of {}: {what}", length(wish.diameter)));
    if !a.found {
        page.paragraph(&a.reason);
    }
    page.heading("Setting");
    page.fact_if("inner flow", a.inner_flow_m3_per_s.map(flow));
    page.fact_if("outer flow", a.outer_flow_m3_per_s.map(flow));
    page.heading(&format!("What a run of it gives at `{}`", a.accuracy));
    let Some(primary) = &a.predicted else {
        page.paragraph("no flow tried gave a drop");
        return page;
    };
    let off = |error: Option<f64>| error.map_or(String::new(), |e| format!(" ({:+.2} % of the wish)", 100.0 * e));
    page.fact_if("mode", a.mode.clone());
    page.fact_if("mean diameter", primary.mean_diameter_m.map(|d| format!("{}{}", length(d), off(a.diameter_error))));
    page.fact_if("CV (a lower bound)", primary.cv.map(percent));
    page.fact_if("of so many drops the mean is known to", a.diameter_scatter.map(|s| format!("+-{}, n = {}", percent(s), primary.count)));
    if let (true, Some(drops)) = (a.found, a.drops_for_one_percent) {
        page.fact("so many drops would tell to +-1 %", &drops.to_string());
    }
    page.fact_if("primary drops", primary.rate_per_s.map(|f| format!("{}{}", rate(f), off(a.rate_error))));
    page.fact_if("satellites a drop", a.satellites.as_ref().and_then(|s| s.per_primary).map(number));
    page.fact_if("their share of volume", a.satellites.as_ref().and_then(|s| s.volume_fraction).map(percent));
    page.fact("runs", &format!("{} in all{}", a.evaluations, if a.found { format!(": {}", margin_runs(a)) } else { String::new() }));
    if !a.margins.is_empty() {
        page.heading(&format!("Margins at `{accuracy}`: change of one input until the mode changes or the diameter leaves 5 %"));
        studies::margins(&mut page, &a.margins);
    }
    if !a.warnings.is_empty() {
        page.heading("Limits of the model that this setting passes");
        a.warnings.iter().for_each(|w| page.warning(&w.code, &w.text));
    }
    if !a.cautions.is_empty() {
        page.heading("Cautions");
        a.cautions.iter().for_each(|c| page.item(c));
    }
    page
}
