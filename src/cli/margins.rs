//! `margins`: how far a setting is from its mode's border, and how far each input may drift before the size does.

use crate::outcome::Mode;
use super::quantity::number;
use super::studies::{self, Bench, Keeping};
use super::text::Page;
use super::{Failure, Output, case_file, map, print_answer, print_page};
use crate::case::Case;
use crate::study::aim::DROPS;
use crate::study::crossings::{Borders, Crossing, borders, told};
use crate::study::evaluate::{Counted, Length};
use crate::study::margins::{DIAMETER_BAND, Input, Margin, margins};
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Case file (TOML); - reads standard input
    case: PathBuf,
    #[command(flatten)]
    changes: case_file::Changes,
    /// How far to look for the border of the mode, as a factor up and down
    #[arg(long, value_name = "FACTOR", default_value_t = 4.0, value_parser = factor)]
    within: f64,
    /// Only the margins of the size: leave out the search for the border, which takes some 10 coarse runs an input and more
    #[arg(long)]
    no_border: bool,
    #[command(flatten)]
    keeping: Keeping,
    /// Worker threads (else all cores that this process may use)
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    threads: Option<u16>,
}

/// Factors beyond this leave every laboratory.
const FACTOR_MAX: f64 = 100.0;

fn factor(text: &str) -> Result<f64, String> {
    let factor: f64 = text.trim().parse().map_err(|_| format!("`{text}` is no number"))?;
    if factor > 1.0 && factor <= FACTOR_MAX { Ok(factor) } else { Err(format!("a factor above 1 and up to {FACTOR_MAX} is needed")) }
}

/// Runs the case and its neighbours.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    let case = case_file::load(&args.case, &args.changes)?;
    let bench = Bench::new(how, None).keeping(&args.keeping, how)?;
    let answer = |case: &Case, length: Length| bench.answer(case, length);
    let (ask, threads) = (Counted::new(&answer), map::threads(args.threads));
    let found = margins(&case, None, DROPS, &ask, threads).and_then(|size| {
        let border = if args.no_border { None } else { Some(borders(&case, args.within, DROPS, &ask, threads)?) };
        Ok((size, border))
    });
    let runs = ask.count();
    let (size, border) = bench.close(found)?;
    if how.json {
        return print_answer(&told(&case, &size, border.as_ref(), runs));
    }
    if how.quiet { Ok(()) } else { print_page(page(&case, &size, border.as_ref(), runs)) }
}

/// The case's key of an input.
pub fn key(case: &Case, input: Input) -> &'static str {
    crate::study::crossings::key(case, input)
}

fn page(case: &Case, size: &[Margin], border: Option<&Borders>, runs: usize) -> Page {
    let mut page = Page::new();
    page.title(&case.title);
    page.heading(&format!(
        "Change of one input until the diameter leaves {} % or the mode changes, at `{}`",
        100.0 * DIAMETER_BAND,
        case.run.accuracy.name()
    ));
    studies::margins(&mut page, size);
    if let Some(border) = border {
        page.heading(&format!("Borders of the mode within a factor {} (coarse runs, bisected to 2 %)", number(border.within)));
        edge(&mut page, border);
    }
    page.fact("runs", &runs.to_string());
    page
}

fn edge(page: &mut Page, border: &Borders) {
    page.fact("mode of the case there", border.mode.map_or("no answer", Mode::word));
    let row = |c: &Crossing| {
        vec![c.key.to_owned(), map::in_unit(c.unit, c.at), format!("x {}", number(c.factor)), format!("{} to {}", c.from, c.to)]
    };
    match border.crossings.is_empty() {
        true => page.paragraph("no input changes the mode that far"),
        false => page.table(&["key", "at", "factor", "mode"], &border.crossings.iter().map(row).collect::<Vec<_>>()),
    }
    border.no_answer.iter().for_each(|why| page.item(why));
}
