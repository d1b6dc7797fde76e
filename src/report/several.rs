//! The page of several runs side by side.

use super::html::{Page, figure, pre};
use super::run;
use super::table::side_by_side;
use super::words;
use crate::figures::{FigureError, Kind, Source};
use crate::outcome::Summary;
use crate::record::Recorded;

pub fn page(sources: &[Source], command: &str) -> Result<String, FigureError> {
    let mut runs: Vec<&Recorded> = Vec::new();
    for source in sources {
        match source {
            Source::Run(run) => runs.push(run),
            other => {
                let text = format!("a report compares the records of runs; {} was given among them", other.what());
                return Err(FigureError::Nothing(text));
            }
        }
    }
    let names: Vec<String> = runs.iter().enumerate().map(|(i, r)| name(i, &r.summary)).collect();
    let mut page = Page::new(&format!("Comparison of {} runs", runs.len()));
    page.section("numbers", "Side by side", &numbers(&runs, &names));
    let caption = "Each run at its last breakup, and the numbers that decide between them.";
    page.section("figure", "Figure", &figure(Kind::Compare, sources, command, caption));
    for (i, (r, name)) in runs.iter().zip(&names).enumerate() {
        let warnings = run::warnings(&r.summary);
        let contents = run::movie(r, &format!("movie-{}", i + 1))
            + &run::lead(&r.summary)
            + &warnings
            + &details("The case as typed", &pre(&r.case_text, &format!("The case of {name}")))
            + &details("Provenance", &run::provenance(&r.summary.provenance, Some(r), command));
        page.section(&format!("run-{}", i + 1), name, &contents);
    }
    let longest = runs.iter().max_by_key(|r| r.summary.cautions.len());
    if let Some(r) = longest {
        page.section("cautions", "Cautions", &run::cautions(&r.summary));
    }
    Ok(page.finish(""))
}

fn name(i: usize, s: &Summary) -> String {
    let title = if s.title.trim().is_empty() { "without a title" } else { &s.title };
    format!("{}. {title} ({})", i + 1, s.layout)
}

fn details(summary: &str, contents: &str) -> String {
    format!("<details><summary>{}</summary>{contents}</details>\n", crate::figures::drawing::escaped(summary))
}

fn numbers(runs: &[&Recorded], names: &[String]) -> String {
    let row = |name: &str, of: &dyn Fn(&Summary) -> Option<String>| {
        (name.to_owned(), runs.iter().map(|r| of(&r.summary).unwrap_or_else(|| "–".into())).collect::<Vec<_>>())
    };
    let rows = vec![
        row("Mode", &|s| Some(s.mode.to_string())),
        row("Mean diameter", &|s| {
            s.primary.mean_diameter_m.map(|d| words::sized(d, &s.size).unwrap_or_else(|| words::length(d)))
        }),
        row("Model's own error of it", &|s| s.model_error.amount().filter(|_| s.primary.mean_diameter_m.is_some())),
        row("Spread (CV)", &|s| s.primary.cv.map(words::percent)),
        row("CV, 95 % interval", &|s| {
            s.primary.cv_interval95.map(|[a, b]| format!("{} to {}", words::percent(a), words::percent(b)))
        }),
        row("Rate", &|s| s.primary.rate_per_s.map(words::rate)),
        row("Settled drops", &|s| Some(s.primary.count.to_string())),
        row("Satellites for each drop", &|s| s.satellites.per_primary.map(|n| words::number(n, 2))),
        row("Satellites' share of the volume", &|s| s.satellites.volume_fraction.map(words::percent)),
        row("Pressure, inner inlet (estimate)", &|s| s.pressure.inner_pa.map(run::pressure)),
        row("Pressure, outer inlet (estimate)", &|s| s.pressure.outer_pa.map(run::pressure)),
        row("Warnings", &|s| Some(s.warnings.len().to_string())),
    ];
    side_by_side("The runs side by side", names, &rows)
}
