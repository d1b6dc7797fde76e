//! `compare`: cases side by side, and what their difference comes from.

use crate::outcome::Mode;
use super::quantity::{flow, length, number, percent, pressure, rate, velocity};
use super::studies::{self, Bench};
use super::text::Page;
use super::{Failure, Output, answer, case_file, in_memory, map, print_answer, print_page};
use crate::case::Case;
use crate::figures::{Kind, Source};
use crate::study::compare::{Compared, Comparison, compare};
use crate::study::evaluate::{Counted, Length};
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Case files (TOML), one of them - for standard input; the first one being what the others are compared with
    #[arg(required = true, num_args = 2.., value_name = "CASE")]
    cases: Vec<PathBuf>,
    #[command(flatten)]
    changes: case_file::Changes,
    /// Leave out the margins, which take some 20 to 25 coarse runs a case and some 10 at its own accuracy
    #[arg(long)]
    no_margins: bool,
    /// Worker threads (else all cores that this process may use)
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    threads: Option<u16>,
    /// Also draw the cases side by side; each is run once more for it. The ending decides: .pdf, .svg or .png
    #[arg(short, long, value_name = "FIG.{pdf,svg,png}")]
    output: Option<PathBuf>,
}

/// Runs the cases and lays them side by side.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    if args.cases.iter().filter(|path| case_file::is_standard_input(path)).count() > 1 {
        return Err(Failure::Input("standard input holds one case: give `-` once".into()));
    }
    let cases: Vec<(String, Case)> = args
        .cases
        .iter()
        .map(|path| {
            let name = path.file_stem().map_or_else(|| path.display().to_string(), |s| s.to_string_lossy().into_owned());
            Ok((name, case_file::load(path, &args.changes)?))
        })
        .collect::<Result<_, Failure>>()?;
    let bench = Bench::new(how, None);
    let answer = |case: &Case, length: Length| bench.answer(case, length);
    let found = compare(&cases, !args.no_margins, &Counted::new(&answer), map::threads(args.threads));
    let found = bench.close(found)?;
    if let Some(target) = &args.output {
        let sources: Vec<Source> = cases.iter().map(|(_, case)| in_memory::in_memory(case)).collect::<Result<_, _>>()?;
        super::figure::write(target, &[Kind::Compare], &sources, how)?;
    }
    if how.json {
        return print_answer(&found);
    }
    if how.quiet { Ok(()) } else { print_page(page(&found)) }
}

fn page(found: &Comparison) -> Page {
    let mut page = Page::new();
    page.title(&found.cases.iter().map(|c| c.name.as_str()).collect::<Vec<_>>().join(" against "));
    page.heading("Side by side");
    let head: Vec<&str> = std::iter::once("").chain(found.cases.iter().map(|c| c.name.as_str())).collect();
    page.table(&head, &rows(&found.cases));
    page.heading("What the difference comes from");
    found.statements.iter().for_each(|s| page.paragraph(s));
    for case in found.cases.iter().filter(|c| !c.margins.is_empty()) {
        page.heading(&format!("Margins of {} at its own accuracy", case.name));
        studies::margins(&mut page, &case.margins);
    }
    for case in found.cases.iter().filter(|c| !c.warnings.is_empty()) {
        page.heading(&format!("Limits of the model that {} exceeds", case.name));
        page.paragraph(&case.warnings.join(", "));
    }
    page
}

fn rows(cases: &[Compared]) -> Vec<Vec<String>> {
    let row = |name: &str, of: &dyn Fn(&Compared) -> Option<String>| {
        let cell = |c: &Compared| of(c).unwrap_or_else(|| "-".into());
        std::iter::once(name.to_string()).chain(cases.iter().map(cell)).collect()
    };
    let all = vec![
        row("layout", &|c| Some(c.layout.clone())),
        row("inner flow", &|c| Some(flow(c.inner_flow_m3_per_s))),
        row("outer flow", &|c| c.outer_flow_m3_per_s.map(flow)),
        row("mode", &|c| Some(c.mode.map_or("no answer", Mode::word).into())),
        row("mean diameter", &|c| c.mean_diameter_m.map(length)),
        row("90 % interval of it", &|c| c.mean_diameter_m.map(|_| answer::interval(&c.size))),
        row("model's own error of it", &|c| c.mean_diameter_m.map(|_| c.model_error.amount().unwrap_or("not known".into()))),
        row("CV (a lower bound)", &|c| c.cv.map(percent)),
        row("primary drops", &|c| c.rate_per_s.map(rate)),
        row("satellites a drop", &|c| c.satellites_per_primary.map(number)),
        row("their share of volume", &|c| c.satellite_volume_fraction.map(percent)),
        row("jet", &|c| c.jet_length_m.map(length)),
        row("inner inlet", &|c| c.inner_pressure_pa.map(pressure)),
        row("outer inlet", &|c| c.outer_pressure_pa.map(pressure)),
        row("speed, narrowest place", &|c| c.outer_speed_m_per_s.map(velocity)),
        row("Ca there", &|c| c.capillary_narrowest.map(number)),
        row("no answer because", &|c| (!c.reason.is_empty()).then(|| c.reason.clone())),
    ];
    // A line that says nothing about any case is left out.
    all.into_iter().filter(|row: &Vec<String>| row[1..].iter().any(|cell| cell != "-")).collect()
}
