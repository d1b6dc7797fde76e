//! `liquids`: the built-in table, each value with its source and range.

use super::quantity::{number, percent};
use super::text::Page;
use super::{Failure, Output, print_answer, print_page};
use crate::liquids::interfaces::Pair;
use crate::liquids::surfactants::{Class, Surfactant};
use crate::liquids::table::NOT_SOURCED;
use crate::liquids::told::{Listed, listed, told};
use crate::liquids::{Properties, ZERO_CELSIUS};
use crate::units::{self, Kind};

#[derive(Debug, clap::Args)]
pub struct Args {
    /// One liquid or surfactant, for example water, 'glycerol-water 40 %' or C12E8; without it all are listed
    name: Option<String>,
    /// Temperature, for example '25 degC'; 25 degC where it is left out
    #[arg(long, value_name = "T", value_parser = temperature)]
    at: Option<f64>,
}

fn temperature(text: &str) -> Result<f64, String> {
    units::read(text, Kind::Temperature).map(|r| r.si).map_err(|e| e.to_string())
}

/// Lists liquids, interfaces and surfactants, or tells one.
///
/// # Errors
/// A liquid that is not in the table or not known at that temperature.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    let found = listed(args.name.as_deref(), args.at).map_err(|e| Failure::Input(e.to_string()))?;
    if how.json {
        return print_answer(&told(&found));
    }
    print_page(match (&found.surfactants[..], args.name.is_some()) {
        ([surfactant], true) => one_surfactant(surfactant),
        (_, one) => page(&found, one),
    })
}

fn celsius(kelvin: f64) -> String {
    format!("{} degC", (100.0 * (kelvin - ZERO_CELSIUS)).round() / 100.0)
}

fn page(listed: &Listed, one: bool) -> Page {
    let found: &[Properties] = &listed.liquids;
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
    interfaces(&mut page, &listed.pairs);
    surfactants(&mut page, &listed.surfactants);
    page
}

/// What every value of a surfactant is told with.
const AT_AIR: &str = "Between water and air: against an oil the same surfactant has another saturation and another affinity; measure them.";

fn surfactants(page: &mut Page, list: &[&Surfactant]) {
    if list.is_empty() {
        return;
    }
    page.heading("Surfactants in water, against air");
    let rows: Vec<Vec<String>> = list
        .iter()
        .map(|s| {
            vec![
                s.name.into(),
                celsius(s.temperature + ZERO_CELSIUS),
                number(s.micelles),
                number(1e3 * s.tension()),
                number(1e6 * s.saturation),
                s.affinity().map_or_else(|| "-".into(), number),
            ]
        })
        .collect();
    page.table(&["surfactant", "at", "cmc mol/m3", "mN/m", "1e-6 mol/m2", "m3/mol"], &rows);
    page.paragraph("Critical micelle concentration with the tension there; saturation (greatest surface excess); affinity.");
    page.paragraph(AT_AIR);
    page.paragraph("Keys of a case, source and range of each: slenderjet liquids C12E8.");
}

fn one_surfactant(s: &Surfactant) -> Page {
    let mut page = Page::new();
    page.title("Surfactant");
    page.fact("name", &format!("{}, {}", s.name, s.substance));
    page.fact("at", &celsius(s.temperature + ZERO_CELSIUS));
    page.fact("micelles", &format!("above {} mol/m3, where water in air has {} mN/m", number(s.micelles), number(1e3 * s.tension())));
    page.fact("saturation", &format!("{:e} mol/m2, the greatest surface excess", s.saturation));
    if let (Some(k), Some(slope), Some((low, high))) = (s.affinity(), s.sensitivity(), s.range()) {
        page.fact("affinity", &format!("{} m3/mol, from the tension at the micelles", number(k)));
        page.fact("sensitivity", &format!("one per cent more saturation, {} % less affinity", number(slope)));
        page.fact("holds", &format!("from {} to {} mol/m3", number(low), number(high)));
    }
    let unread = || "no published value was read: measure or sweep it".into();
    page.fact("diffusivity", &s.diffusivity.map_or_else(unread, |d| format!("{d:e} m2/s")));
    page.fact("source", s.source);
    page.fact("status", s.status);
    match (s.class, s.affinity()) {
        (Class::Nonionic, Some(k)) => {
            page.heading("Keys of a case");
            page.item("[surfactant] kind = \"dissolved\", phase the liquid that holds it, concentration its own within the range");
            page.item(&format!("saturation = \"{:e} mol/m2\"", s.saturation));
            page.item(&format!("affinity = \"{} m3/mol\", by gamma_0 - gamma = R T Gamma_inf ln(1 + K c)", number(k)));
            if let Some(d) = s.diffusivity {
                page.item(&format!("diffusivity = \"{d:e} m2/s\""));
            }
        }
        _ => page.paragraph(
            "No affinity: without salt the counter-ions come along, and the saturation counts twice in the tension but once in the \
             amount of surfactant. The keys of [surfactant] are for one kind of molecule.",
        ),
    }
    page.paragraph(AT_AIR);
    page.paragraph("Safety data sheets and local rules come before any liquid here.");
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
