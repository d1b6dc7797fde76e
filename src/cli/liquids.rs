//! `liquids`: the built-in table, each value with its source and range.

use super::quantity::{number, percent};
use super::text::Page;
use super::{Failure, Output, print_answer, print_page};
use crate::liquids::interfaces::Pair;
use crate::liquids::table::NOT_SOURCED;
use crate::liquids::told::{listed, told};
use crate::liquids::{Properties, ZERO_CELSIUS};
use crate::units::{self, Kind};

#[derive(Debug, clap::Args)]
pub struct Args {
    /// One liquid, for example water or 'glycerol-water 40 %'; without it all are listed
    name: Option<String>,
    /// Temperature, for example '25 degC'; 25 degC where it is left out
    #[arg(long, value_name = "T", value_parser = temperature)]
    at: Option<f64>,
}

fn temperature(text: &str) -> Result<f64, String> {
    units::read(text, Kind::Temperature).map(|r| r.si).map_err(|e| e.to_string())
}

/// Lists liquids and interfaces, or tells one.
///
/// # Errors
/// A liquid that is not in the table or not known at that temperature.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    let (found, pairs) = listed(args.name.as_deref(), args.at).map_err(|e| Failure::Input(e.to_string()))?;
    if how.json {
        return print_answer(&told(&found, &pairs));
    }
    print_page(page(&found, &pairs, args.name.is_some()))
}

fn celsius(kelvin: f64) -> String {
    format!("{} degC", (100.0 * (kelvin - ZERO_CELSIUS)).round() / 100.0)
}

fn page(found: &[Properties], pairs: &[&Pair], one: bool) -> Page {
    let mut page = Page::new();
    page.title("Liquids");
    if let ([liquid], true) = (found, one) {
        page.fact("name", &liquid.name);
        page.fact("at", &celsius(liquid.temperature));
        page.fact("known", &format!("from {} to {}", celsius(liquid.range.0), celsius(liquid.range.1)));
        let spread = |v: f64| format!("+- {}", percent(v));
        page.fact("density", &format!("{} kg/m3 {}", number(liquid.density.si), spread(liquid.density.spread)));
        page.fact("viscosity", &format!("{} mPa.s {}", number(1e3 * liquid.viscosity.si), spread(liquid.viscosity.spread)));
        let tension = &liquid.surface_tension;
        page.fact("tension in air", &format!("{} mN/m {}", number(1e3 * tension.si), spread(tension.spread)));
        page.fact("source", &liquid.source);
        page.fact("status", liquid.status);
    } else {
        let rows: Vec<Vec<String>> = found
            .iter()
            .map(|p| {
                vec![
                    p.name.clone(),
                    celsius(p.temperature),
                    number(p.density.si),
                    number(1e3 * p.viscosity.si),
                    percent(p.viscosity.spread),
                    number(1e3 * p.surface_tension.si),
                    if p.status == NOT_SOURCED { "no".into() } else { "yes".into() },
                ]
            })
            .collect();
        page.table(&["liquid", "at", "kg/m3", "mPa.s", "+-", "mN/m in air", "sourced"], &rows);
        page.paragraph("Source, status and range of each: slenderjet liquids NAME. Any share: 'glycerol-water 62 %'.");
    }
    interfaces(&mut page, pairs);
    page
}

fn interfaces(page: &mut Page, pairs: &[&Pair]) {
    if pairs.is_empty() {
        return;
    }
    page.heading("Interfacial tensions (for examples, never for a tight prediction)");
    let rows: Vec<Vec<String>> = pairs
        .iter()
        .map(|p| {
            let with = p.surfactant.map_or("", |_| " *");
            vec![
                format!("{} / {}{with}", p.liquids.0, p.liquids.1),
                format!("{} degC", p.temperature),
                format!("{} +- {}", p.tension, p.spread),
                if p.status == NOT_SOURCED { "no".into() } else { "yes".into() },
            ]
        })
        .collect();
    page.table(&["pair", "at", "mN/m", "sourced"], &rows);
    for (p, surfactant) in pairs.iter().filter_map(|p| Some((p, p.surfactant?))) {
        page.item(&format!("* {} / {}: with {surfactant}", p.liquids.0, p.liquids.1));
    }
    if pairs.iter().any(|p| p.status == NOT_SOURCED) {
        page.item("not sourced: no published table was at hand; measure it. --json tells the source of each");
    }
    page.paragraph(
        "With a surfactant the tension at the age of the drop counts: measure it, or sweep it. Safety data sheets and local \
         rules come before any liquid here.",
    );
}
