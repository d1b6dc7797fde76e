//! The page of a map.

use super::html::{Page, facts, figure, p, pre};
use super::table::{Cell, sortable};
use super::words;
use crate::figures::map::{MapTable, axis};
use crate::figures::{FigureError, Kind, Source};
use crate::outcome::Mode;
use crate::study::map::Status;

/// Rows of a table in a page; what is more is in the map's file.
const ROWS_MAX: usize = 5000;

pub fn page(map: &MapTable, command: &str) -> Result<String, FigureError> {
    let sources = [Source::Map(Box::new(map.clone()))];
    let title = if map.title.trim().is_empty() { "A map without a title" } else { &map.title };
    let mut page = Page::new(title);
    let caption = "What each cell of the map did: dripping, jetting, with satellites worth the name or without.";
    let contents = figure(Kind::Map, &sources, command, caption);
    page.section("map", "Map", &contents);
    page.section("rows", "Cells", &rows(map));
    page.section("case", "The case that was varied", &pre(&map.case_text, "The case as typed"));
    let o = &map.origin;
    let known = [
        ("Case, sha256", o.case_sha256.clone()),
        ("Version", format!("slenderjet {}", o.version)),
        ("Command", o.command.clone()),
        ("Page made by", command.to_owned()),
    ];
    page.section("provenance", "Provenance", &facts(&known));
    let caution = "Before any of these flows is pumped: slenderjet check tells the pressures of a case. Estimates, not ratings; \
                   follow your laboratory's own rules, the safety data sheets and local regulations.";
    page.section("cautions", "Cautions", &p(caution));
    Ok(page.finish(&format!("<p class=\"lead\">{}</p>", crate::figures::drawing::escaped(&verdict(map)))))
}

fn verdict(map: &MapTable) -> String {
    let count = |mode| map.mode.iter().filter(|m| **m == Some(mode)).count();
    let failed = map.status.iter().filter(|s| **s == Status::Failed).count();
    let range = map
        .diameter
        .iter()
        .copied()
        .filter(|d| d.is_finite())
        .fold(None, |r: Option<(f64, f64)>, d| Some(r.map_or((d, d), |(a, b)| (a.min(d), b.max(d)))));
    let drops =
        range.map_or(String::new(), |(a, b)| format!(" Drops from {} to {}.", words::length(a), words::length(b)));
    format!(
        "{} cells: {} drip, {} jet, {} are between, {} do neither, {failed} gave no answer.{drops}",
        map.rows(),
        count(Mode::Dripping),
        count(Mode::Jetting),
        count(Mode::Transition),
        count(Mode::None)
    )
}

fn rows(map: &MapTable) -> String {
    let shown: Vec<(String, f64)> = map.keys.iter().map(axis::heading).collect();
    let names: Vec<String> = shown.iter().map(|(name, _)| name.clone()).collect();
    let mut headings: Vec<&str> = names.iter().map(String::as_str).collect();
    headings.extend(["Mode", "Mean diameter", "CV", "Satellites for each drop", "Status", "Reason"]);
    let row = |i: usize| {
        let mut cells: Vec<Cell> = map
            .keys
            .iter()
            .zip(&shown)
            .map(|(k, (_, si))| Cell::number(k.values[i], words::number(k.values[i] / si, 3)))
            .collect();
        cells.push(Cell::text(Mode::word_of(map.mode[i])));
        cells.push(Cell::maybe(Some(map.diameter[i]), words::length));
        cells.push(Cell::maybe(Some(map.cv[i]), words::percent));
        cells.push(Cell::maybe(Some(map.satellites[i]), |n| if n == 0.0 { "0".into() } else { words::number(n, 2) }));
        cells.push(Cell::text(map.status[i].word()));
        cells.push(Cell::text(map.reason[i].clone()));
        cells
    };
    let cells: Vec<Vec<Cell>> = (0..map.rows().min(ROWS_MAX)).map(row).collect();
    let table = sortable(&format!("{} cells; press a heading to sort", map.rows()), &headings, &cells);
    let more = map.rows().saturating_sub(ROWS_MAX);
    if more > 0 { table + &p(&format!("{more} more cells are in the map's file.")) } else { table }
}
