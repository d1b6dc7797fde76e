//! A table of readings, row by row, with bounded memory: one row a reading, columns `drop,diameter_um[,image]`.
//!
//! The diameter's unit is in its column's name (`_um`, `_mm`, `_px`; pixels need a scale). Comma, semicolon and tab separate;
//! with semicolon or tab a decimal comma is understood. Lines that start with `#` and blank lines are skipped, other columns
//! are ignored and named. All problems come back together.

use super::{DropReadings, Reading};
use crate::units::quoted;
use std::collections::HashMap;
use std::io::{BufRead, BufReader, Read};

/// Longest row, bytes: a label, a number and a comment fit; a file without line ends does not.
const ROW_MAX: usize = 16 * 1024;
const COLUMNS_MAX: usize = 256;
/// Most readings: a day of 20 a second; memory stays below about 200 MB.
pub const READINGS_MAX: usize = 2_000_000;
/// Problems told in one go.
const PROBLEMS_MAX: usize = 20;
/// Diameters outside this range are a wrong unit, m.
const PLAUSIBLE: [f64; 2] = [1e-8, 0.1];

/// Readings grouped by drop, in order of first appearance.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    pub drops: Vec<DropReadings>,
    /// Name of the diameter's column.
    pub column: &'static str,
    /// Distinct labels in the column `image`, where there is one.
    pub images: Option<usize>,
    /// Columns that were not used.
    pub ignored: Vec<String>,
}

/// Something wrong with the table, and where.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// Line in the file, from 1; zero where it is the whole file.
    pub line: u64,
    pub text: String,
}

impl Problem {
    fn new(line: u64, text: impl Into<String>) -> Problem {
        Problem { line, text: text.into() }
    }
}

const UNITS: [(&str, f64); 3] = [("diameter_um", 1e-6), ("diameter_mm", 1e-3), ("diameter_px", f64::NAN)];

/// Read a table. `scale` is the size of a pixel, m.
pub fn read(input: impl Read, scale: Option<f64>) -> Result<Table, Vec<Problem>> {
    let mut rows = Rows::open(input)?;
    let header = match rows.next()? {
        Some(header) => header,
        None => return Err(vec![Problem::new(0, "the file is empty; its first row must be `drop,diameter_um`")]),
    };
    let columns = Columns::find(&header, scale)?;
    let mut table = Gathered::default();
    let mut problems = Vec::new();
    loop {
        match rows.next() {
            Ok(Some(row)) => match columns.reading(&row, rows.decimal_comma) {
                Ok(found) if table.count < READINGS_MAX => table.add(found, row.line),
                Ok(_) => {
                    problems.push(Problem::new(row.line, format!("more than {READINGS_MAX} readings; split the file")));
                    break;
                }
                Err(problem) => problems.push(problem),
            },
            Ok(None) => break,
            Err(mut more) => {
                problems.append(&mut more);
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
    if problems.is_empty() { Ok(table.finish(columns)) } else { Err(problems) }
}

/// Where the columns are.
struct Columns {
    drop: usize,
    diameter: usize,
    image: Option<usize>,
    name: &'static str,
    metres: f64,
    count: usize,
    ignored: Vec<String>,
}

impl Columns {
    fn find(header: &Row, scale: Option<f64>) -> Result<Columns, Vec<Problem>> {
        let line = header.line;
        let names: Vec<String> = header.fields.iter().map(|f| f.trim().to_lowercase()).collect();
        let mut problems = Vec::new();
        for (i, name) in names.iter().enumerate() {
            if !name.is_empty() && names[..i].contains(name) {
                problems.push(Problem::new(line, format!("column `{}` is there twice", quoted(name))));
            }
        }
        let at = |wanted: &str| names.iter().position(|name| name == wanted);
        let found: Vec<(usize, &'static str, f64)> =
            UNITS.iter().filter_map(|(name, metres)| at(name).map(|i| (i, *name, *metres))).collect();
        if found.len() > 1 {
            problems.push(Problem::new(line, "more than one column of diameters; keep one"));
        }
        if found.is_empty() {
            let near = names.iter().find(|name| name.starts_with("diam") || *name == "d");
            let hint = near.map_or(String::new(), |name| format!(" (`{}` does not say its unit)", quoted(name)));
            let all = "diameter_um, diameter_mm or diameter_px";
            problems.push(Problem::new(line, format!("no column of diameters{hint}; name it {all}")));
        }
        if at("drop").is_none() {
            let what = "no column `drop`; give each drop a label, the same label for each of its readings";
            problems.push(Problem::new(line, what));
        }
        let pixels = found.first().is_some_and(|(_, name, _)| *name == "diameter_px");
        if pixels && scale.is_none() {
            problems.push(Problem::new(line, "diameters in pixels need the size of a pixel: --scale \"0.5 um/px\""));
        }
        if !pixels && scale.is_some() && !found.is_empty() {
            problems.push(Problem::new(line, format!("--scale is for diameter_px, the table has {}", found[0].1)));
        }
        match (at("drop"), found.first(), problems.is_empty()) {
            (Some(drop), Some(&(diameter, name, metres)), true) => {
                let image = at("image");
                let used = |i: &usize| *i == drop || *i == diameter || Some(*i) == image;
                let ignored = (0..names.len()).filter(|i| !used(i)).map(|i| quoted(&names[i])).collect();
                let metres = if pixels { scale.unwrap_or(metres) } else { metres };
                Ok(Columns { drop, diameter, image, name, metres, count: names.len(), ignored })
            }
            _ => Err(problems),
        }
    }

    fn reading(&self, row: &Row, decimal_comma: bool) -> Result<(String, f64, Option<String>), Problem> {
        let wrong = |text: String| Err(Problem::new(row.line, text));
        if row.fields.len() != self.count {
            let hint = if row.fields.len() > self.count {
                " (a decimal comma? write 61.8, or separate by semicolons)"
            } else {
                ""
            };
            return wrong(format!("{} fields where the header has {}{hint}", row.fields.len(), self.count));
        }
        let drop = row.fields[self.drop].trim();
        if drop.is_empty() {
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
        Ok((drop.to_string(), diameter, self.image.map(|i| row.fields[i].trim().to_string())))
    }
}

#[derive(Default)]
struct Gathered {
    drops: Vec<DropReadings>,
    by_label: HashMap<String, usize>,
    images: HashMap<String, u32>,
    count: usize,
}

impl Gathered {
    fn add(&mut self, (label, diameter, image): (String, f64, Option<String>), line: u64) {
        let next = self.images.len() as u32;
        let image = image.map(|name| *self.images.entry(name).or_insert(next));
        let at = *self.by_label.entry(label.clone()).or_insert_with(|| {
            self.drops.push(DropReadings { name: label, readings: Vec::new() });
            self.drops.len() - 1
        });
        self.drops[at].readings.push(Reading { diameter, line, image });
        self.count += 1;
    }

    fn finish(self, columns: Columns) -> Table {
        let images = columns.image.map(|_| self.images.len());
        Table { drops: self.drops, column: columns.name, images, ignored: columns.ignored }
    }
}

/// One record of the file.
struct Row {
    line: u64,
    fields: Vec<String>,
}

/// Records of a CSV file through fixed buffers.
struct Rows<R> {
    input: BufReader<R>,
    parser: csv_core::Reader,
    bytes: Vec<u8>,
    ends: Vec<usize>,
    decimal_comma: bool,
}

impl<R: Read> Rows<R> {
    fn open(input: R) -> Result<Rows<R>, Vec<Problem>> {
        let mut input = BufReader::with_capacity(ROW_MAX, input);
        let start = input.fill_buf().map_err(unreadable)?;
        if start.starts_with(&[0xff, 0xfe])
            || start.starts_with(&[0xfe, 0xff])
            || start.iter().take(64).any(|b| *b == 0)
        {
            let what = "this is not plain text (UTF-16 or a workbook?); save it as CSV, UTF-8";
            return Err(vec![Problem::new(0, what)]);
        }
        let mark = if start.starts_with(b"\xef\xbb\xbf") { 3 } else { 0 };
        let header = start[mark..].split(|b| *b == b'\n').find(|line| !line.starts_with(b"#")).unwrap_or(&[]);
        let count = |separator: u8| header.iter().filter(|b| **b == separator).count();
        let separator = [b';', b'\t'].into_iter().find(|s| count(*s) > count(b',')).unwrap_or(b',');
        input.consume(mark);
        let parser = csv_core::ReaderBuilder::new().delimiter(separator).comment(Some(b'#')).build();
        Ok(Rows {
            input,
            parser,
            bytes: vec![0; ROW_MAX],
            ends: vec![0; COLUMNS_MAX],
            decimal_comma: separator != b',',
        })
    }

    fn next(&mut self) -> Result<Option<Row>, Vec<Problem>> {
        use csv_core::ReadRecordResult as Found;
        let (mut length, mut count) = (0, 0);
        loop {
            let input = self.input.fill_buf().map_err(unreadable)?;
            let (found, read, written, ended) =
                self.parser.read_record(input, &mut self.bytes[length..], &mut self.ends[count..]);
            let line_ended = read > 0 && input[read - 1] == b'\n';
            self.input.consume(read);
            (length, count) = (length + written, count + ended);
            match found {
                Found::InputEmpty => {}
                Found::OutputFull => return Err(self.too_much(format!("a row longer than {ROW_MAX} bytes"))),
                Found::OutputEndsFull => return Err(self.too_much(format!("more than {COLUMNS_MAX} columns"))),
                Found::Record => return Ok(Some(self.row(count, self.parser.line() - u64::from(line_ended)))),
                Found::End => return Ok(None),
            }
        }
    }

    fn row(&self, count: usize, line: u64) -> Row {
        let mut start = 0;
        let mut field = |end: &usize| {
            let text = String::from_utf8_lossy(&self.bytes[start..*end]).into_owned();
            start = *end;
            text
        };
        Row { line, fields: self.ends[..count].iter().map(&mut field).collect() }
    }

    fn too_much(&self, what: String) -> Vec<Problem> {
        vec![Problem::new(self.parser.line(), format!("{what}: is this the right file, and are its quotes closed?"))]
    }
}

fn unreadable(error: std::io::Error) -> Vec<Problem> {
    vec![Problem::new(0, format!("cannot be read: {error}"))]
}

#[cfg(test)]
mod tests;
