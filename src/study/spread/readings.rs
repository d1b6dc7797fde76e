//! A table of readings, row by row, with bounded memory: one row a reading, columns `diameter [um]`, `drop`, `image`.
//!
//! The diameter's unit is in its column's name (`diameter [um]` or `diameter_um`, any length; `px` needs a scale). Without a column
//! `drop` each row is a drop of its own: a plain list. A list without a header needs its unit from elsewhere. Comma, semicolon and
//! tab separate; with semicolon or tab a decimal comma is understood. Lines that start with `#` and blank lines are skipped, other
//! columns are ignored and named. All problems come back together.
//!
//! Longer tables than memory should hold are thinned by drop: each time there are too many readings, every other drop goes, by a hash of
//! its label (of its row number in a list), with all its readings. What is left is a sample that nothing about the drops decided, the
//! same whatever the order of the rows.

use super::{DropReadings, Reading};
use crate::study::csv::{Row, Rows, TableErrors};
use crate::units::{self, Kind, quoted};
use std::collections::HashMap;
use std::io::Read;

/// Most readings kept: a day of 20 a second; memory stays below about 300 MB.
pub const READINGS_MAX: usize = 2_000_000;
/// Fewest drops that are thinned: fewer with so many readings are another kind of table.
const DROPS_MIN: usize = 1000;
/// Problems told in one go.
const PROBLEMS_MAX: usize = 20;
/// Diameters outside this range are a wrong unit, m.
const PLAUSIBLE: [f64; 2] = [1e-8, 0.1];

pub use crate::study::csv::Problem;

/// Readings grouped by drop, in order of first appearance.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    pub drops: Vec<DropReadings>,
    /// Name of the diameter's column.
    pub column: String,
    /// Distinct labels in the column `image`, where there is one.
    pub images: Option<usize>,
    /// Columns that were not used.
    pub ignored: Vec<String>,
    /// True without a column `drop`: each row was taken for a drop of its own.
    pub list: bool,
    /// Readings in the file.
    pub readings: usize,
    /// One of so many drops was kept: 1 where all were.
    pub one_of: usize,
}

/// What is known of the table from elsewhere.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Hints {
    /// Size of a pixel, m, for diameters in pixels.
    pub pixel: Option<f64>,
    /// What diameters in a unit of length are multiplied by.
    pub factor: Option<f64>,
    /// Unit of a list without a header.
    pub unit: Option<String>,
}

/// Read a table.
pub fn read(input: impl Read, hints: &Hints) -> Result<Table, TableErrors> {
    read_at_most(input, hints, READINGS_MAX)
}

fn read_at_most(input: impl Read, hints: &Hints, most: usize) -> Result<Table, TableErrors> {
    let mut rows = Rows::open(input)?;
    let header = match rows.next()? {
        Some(header) => header,
        None => return Err(TableErrors::new(0, "the file is empty; its first row must be `drop,diameter [um]`")),
    };
    let mut table = Gathered::default();
    let mut problems = Vec::new();
    let columns = match bare(&header, rows.decimal_comma) {
        false => Columns::find(&header, hints)?,
        true => {
            let columns = Columns::of_list(&header, hints)?;
            match columns.reading(&header, rows.decimal_comma) {
                Ok(found) => table.add(found, header.line),
                Err(problem) => problems.push(problem),
            }
            columns
        }
    };
    loop {
        match rows.next() {
            Ok(Some(row)) => match columns.reading(&row, rows.decimal_comma) {
                Ok(found) => {
                    table.add(found, row.line);
                    if table.kept > most && !table.thin() {
                        let what = format!("more than {most} readings of {} drops; split the file", table.drops.len());
                        problems.push(Problem::new(row.line, what));
                        break;
                    }
                }
                Err(problem) => problems.push(problem),
            },
            Ok(None) => break,
            Err(mut more) => {
                problems.append(&mut more.problems);
                break;
            }
        }
        if problems.len() >= PROBLEMS_MAX {
            problems.push(Problem::new(0, format!("only the first {PROBLEMS_MAX} problems are shown")));
            break;
        }
    }
    if problems.is_empty() && table.count == 0 {
        problems.push(Problem::new(0, "there is a header but no reading below it"));
    }
    if problems.is_empty() { Ok(table.finish(columns)) } else { Err(problems.into()) }
}

/// Whether a first row is a reading and no header.
fn bare(row: &Row, decimal_comma: bool) -> bool {
    let number = |text: &String| {
        let text = text.trim();
        if decimal_comma { text.replace(',', ".").parse::<f64>() } else { text.parse::<f64>() }.is_ok()
    };
    row.fields.iter().any(number)
}

/// `diameter [um]`, `diameter (um)` or `diameter_um`: the unit, if the column is one of diameters.
fn unit_of(name: &str) -> Option<&str> {
    let rest = name.strip_prefix("diameter")?;
    let inside = |open: char, close: char| rest.trim().strip_prefix(open).and_then(|r| r.strip_suffix(close));
    let unit = inside('[', ']').or_else(|| inside('(', ')')).or_else(|| rest.strip_prefix('_'))?;
    Some(unit.trim()).filter(|unit| !unit.is_empty())
}

/// Metres of one of these units.
fn metres_of(unit: &str, hints: &Hints) -> Result<f64, String> {
    if ["px", "pixel", "pixels"].contains(&unit) {
        let lacking = "diameters in pixels need the size of a pixel: --scale \"0.5 um/px\"";
        return hints.pixel.ok_or_else(|| lacking.to_owned());
    }
    if hints.pixel.is_some() {
        return Err(format!(
            "a size of a pixel is for diameters in px, the table has {}; a factor is --scale \"1 +- 2 %\"",
            quoted(unit)
        ));
    }
    let found = units::unit(unit, Kind::Length).map_err(|e| e.to_string())?;
    Ok(found.difference(1.0) * hints.factor.unwrap_or(1.0))
}

/// Where the columns are.
struct Columns {
    /// `None` in a list.
    drop: Option<usize>,
    diameter: usize,
    image: Option<usize>,
    name: String,
    metres: f64,
    count: usize,
    ignored: Vec<String>,
}

impl Columns {
    fn find(header: &Row, hints: &Hints) -> Result<Columns, TableErrors> {
        let line = header.line;
        let names: Vec<String> = header.fields.iter().map(|f| f.trim().to_owned()).collect();
        let lower: Vec<String> = names.iter().map(|name| name.to_lowercase()).collect();
        let mut problems = Vec::new();
        for (i, name) in lower.iter().enumerate() {
            if !name.is_empty() && lower[..i].contains(name) {
                problems.push(Problem::new(line, format!("column `{}` is there twice", quoted(name))));
            }
        }
        let at = |wanted: &str| lower.iter().position(|name| name == wanted);
        // Prefixes of units are told apart by their case (`mm`, `Mm`), the word before them is not.
        let unit = |i: usize| {
            let cut = names[i].get(.."diameter".len()).filter(|word| word.eq_ignore_ascii_case("diameter"))?;
            unit_of(&format!("diameter{}", &names[i][cut.len()..])).map(str::to_owned)
        };
        let found: Vec<(usize, String)> = (0..names.len()).filter_map(|i| Some((i, unit(i)?))).collect();
        if found.len() > 1 {
            problems.push(Problem::new(line, "more than one column of diameters; keep one"));
        }
        if found.is_empty() {
            let near = lower.iter().find(|name| name.starts_with("diam") || *name == "d");
            let hint = near.map_or(String::new(), |name| format!(" (`{}` does not say its unit)", quoted(name)));
            let all = "`diameter [um]`, `diameter [mm]` or `diameter [px]`";
            problems.push(Problem::new(line, format!("no column of diameters{hint}; name it {all}")));
        }
        let metres = found.first().map_or(Ok(f64::NAN), |(_, unit)| metres_of(unit, hints));
        match (metres, found.first(), problems.is_empty()) {
            (Ok(metres), Some((diameter, _)), true) => {
                let (drop, image) = (at("drop"), at("image"));
                let used = |i: &usize| [Some(*diameter), drop, image].contains(&Some(*i));
                let ignored = (0..names.len()).filter(|i| !used(i)).map(|i| quoted(&names[i])).collect();
                let name = names[*diameter].clone();
                Ok(Columns { drop, diameter: *diameter, image, name, metres, count: names.len(), ignored })
            }
            (metres, found, _) => {
                let name = found.map_or("", |(i, _)| names[*i].as_str());
                problems.extend(metres.err().map(|e| Problem::new(line, format!("column `{}`: {e}", quoted(name)))));
                Err(problems.into())
            }
        }
    }

    /// A list of bare diameters.
    fn of_list(first: &Row, hints: &Hints) -> Result<Columns, TableErrors> {
        let refuse = |text: String| TableErrors::new(first.line, text);
        if first.fields.len() > 1 {
            let what = "the first row has numbers and no names; name the columns, for example `drop,diameter [um]`";
            return Err(refuse(what.into()));
        }
        let unit = hints.unit.as_ref().ok_or_else(|| {
            refuse(
                "a list without a header does not say its unit; begin it with `diameter [um]`, or say --unit um".into(),
            )
        })?;
        let metres = metres_of(unit, hints).map_err(refuse)?;
        let name = format!("diameter [{unit}]");
        Ok(Columns { drop: None, diameter: 0, image: None, name, metres, count: 1, ignored: Vec::new() })
    }

    fn reading(&self, row: &Row, decimal_comma: bool) -> Result<Found, Problem> {
        let wrong = |text: String| Err(Problem::new(row.line, text));
        if row.fields.len() != self.count {
            let hint = if row.fields.len() > self.count {
                " (a decimal comma? write 61.8, or separate by semicolons)"
            } else {
                ""
            };
            return wrong(format!("{} fields where the header has {}{hint}", row.fields.len(), self.count));
        }
        let drop = self.drop.map_or("", |drop| row.fields[drop].trim());
        if drop.is_empty() && self.drop.is_some() {
            return wrong("no label in column `drop`".into());
        }
        let typed = row.fields[self.diameter].trim();
        let text = if decimal_comma { typed.replace(',', ".") } else { typed.to_string() };
        let value = match text.parse::<f64>() {
            Ok(value) if value.is_finite() => value,
            _ if typed.is_empty() => return wrong(format!("no number in column `{}`", self.name)),
            _ => return wrong(format!("`{}` in column `{}` is not a number", quoted(typed), self.name)),
        };
        if value <= 0.0 {
            return wrong(format!("diameter {} in column `{}` is not above zero", quoted(typed), self.name));
        }
        let diameter = value * self.metres;
        if !(PLAUSIBLE[0]..=PLAUSIBLE[1]).contains(&diameter) {
            return wrong(format!(
                "diameter {} in column `{}` is {diameter:.1e} m: is the unit right?",
                quoted(typed),
                self.name
            ));
        }
        let image = self.image.map(|i| row.fields[i].trim().to_string());
        Ok(Found { label: self.drop.map(|_| drop.to_string()), diameter, image })
    }
}

/// A row's reading.
struct Found {
    /// `None` in a list, where each row is a drop.
    label: Option<String>,
    diameter: f64,
    image: Option<String>,
}

#[derive(Default)]
struct Gathered {
    drops: Vec<DropReadings>,
    by_label: HashMap<String, usize>,
    images: HashMap<String, u32>,
    /// Readings seen, and those of drops that were kept.
    count: usize,
    kept: usize,
    /// Every other drop went so many times.
    halvings: u32,
}

/// A hash of a label (FNV-1a, public domain, and the finish of splitmix64), the same everywhere.
fn hash(label: &str) -> u64 {
    let mixed = label.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3));
    let z = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

impl Gathered {
    fn keeps(&self, label: &str) -> bool {
        self.halvings == 0 || hash(label).trailing_zeros() >= self.halvings
    }

    /// Lets every other drop go; false where too few are left for that.
    fn thin(&mut self) -> bool {
        if self.drops.len() < DROPS_MIN {
            return false;
        }
        self.halvings += 1;
        let halvings = self.halvings;
        self.drops.retain(|drop| hash(&drop.name).trailing_zeros() >= halvings);
        self.kept = self.drops.iter().map(|drop| drop.readings.len()).sum();
        if !self.by_label.is_empty() {
            self.by_label = self.drops.iter().enumerate().map(|(i, drop)| (drop.name.clone(), i)).collect();
        }
        true
    }

    fn add(&mut self, Found { label, diameter, image }: Found, line: u64) {
        self.count += 1;
        let row;
        let name = match &label {
            Some(label) => label,
            None => {
                row = self.count.to_string();
                &row
            }
        };
        if !self.keeps(name) {
            return;
        }
        self.kept += 1;
        let next = self.images.len() as u32;
        let image = image.map(|name| *self.images.entry(name).or_insert(next));
        let Some(label) = label else {
            let name = self.count.to_string();
            self.drops.push(DropReadings { name, readings: vec![Reading { diameter, line, image }] });
            return;
        };
        let at = *self.by_label.entry(label.clone()).or_insert_with(|| {
            self.drops.push(DropReadings { name: label, readings: Vec::new() });
            self.drops.len() - 1
        });
        self.drops[at].readings.push(Reading { diameter, line, image });
    }

    fn finish(self, columns: Columns) -> Table {
        let images = columns.image.map(|_| self.images.len());
        Table {
            drops: self.drops,
            column: columns.name,
            images,
            ignored: columns.ignored,
            list: columns.drop.is_none(),
            readings: self.count,
            one_of: 1 << self.halvings,
        }
    }
}

#[cfg(test)]
mod tests;
