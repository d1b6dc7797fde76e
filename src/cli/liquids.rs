//! `liquids`: the built-in table, each value with its source and range.

use super::quantity::{number, percent};
use super::text::Page;
use super::{Failure, Output, print_json, print_page};
use crate::liquids::interfaces::{PAIRS, Pair};
use crate::liquids::table::NOT_SOURCED;
use crate::liquids::{Properties, ZERO_CELSIUS, look_up, names};
use crate::units::{self, Kind};
use serde::Serialize;

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

#[derive(Serialize)]
struct Told {
    name: String,
    temperature_k: f64,
    density_kg_per_m3: f64,
    density_spread: f64,
    viscosity_pa_s: f64,
    viscosity_spread: f64,
    surface_tension_n_per_m: f64,
    range_k: [f64; 2],
    source: String,
    status: &'static str,
}

#[derive(Serialize)]
struct PairTold {
    liquids: [&'static str; 2],
    surfactant: Option<&'static str>,
    temperature_k: f64,
    tension_n_per_m: f64,
    spread_n_per_m: f64,
    source: &'static str,
    status: &'static str,
}

/// Lists liquids and interfaces, or tells one.
///
/// # Errors
/// A liquid that is not in the table or not known at that temperature.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    let found = match &args.name {
        Some(name) => vec![look_up(name, args.at).map_err(|e| Failure::Input(e.to_string()))?],
        // At a given temperature the list holds what is known there.
        None => names().into_iter().filter_map(|n| look_up(n, args.at).ok()).collect(),
    };
    let pairs: Vec<&Pair> = PAIRS.iter().filter(|p| args.name.is_none() || found.iter().any(|f| belongs(p, f))).collect();
    if how.json {
        let liquids: Vec<Told> = found.iter().map(told).collect();
        let pairs: Vec<PairTold> = pairs.into_iter().map(pair_told).collect();
        return print_json(&serde_json::json!({ "liquids": liquids, "interfaces": pairs }));
    }
    print_page(page(&found, &pairs, args.name.is_some()))
}

fn belongs(pair: &Pair, liquid: &Properties) -> bool {
    let is = |name: &str| liquid.name == name || liquid.name.starts_with(&format!("{name} "));
    is(pair.liquids.0) || is(pair.liquids.1)
}

fn told(p: &Properties) -> Told {
    Told {
        name: p.name.clone(),
        temperature_k: p.temperature,
        density_kg_per_m3: p.density.si,
        density_spread: p.density.spread,
        viscosity_pa_s: p.viscosity.si,
        viscosity_spread: p.viscosity.spread,
        surface_tension_n_per_m: p.surface_tension.si,
        range_k: [p.range.0, p.range.1],
        source: p.source.clone(),
        status: p.status,
    }
}

fn pair_told(p: &Pair) -> PairTold {
    PairTold {
        liquids: [p.liquids.0, p.liquids.1],
        surfactant: p.surfactant,
        temperature_k: p.temperature + ZERO_CELSIUS,
        tension_n_per_m: 1e-3 * p.tension,
        spread_n_per_m: 1e-3 * p.spread,
        source: p.source,
        status: p.status,
    }
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
