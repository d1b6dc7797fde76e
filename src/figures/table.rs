//! The numbers behind a panel, as plotted, in SI.

/// Values of a column.
#[derive(Debug, Clone, PartialEq)]
pub enum Cells {
    Reals(Vec<f64>),
    Whole(Vec<i64>),
    Texts(Vec<String>),
}

impl Cells {
    fn len(&self) -> usize {
        match self {
            Cells::Reals(v) => v.len(),
            Cells::Whole(v) => v.len(),
            Cells::Texts(v) => v.len(),
        }
    }

    fn cell(&self, row: usize) -> String {
        match self {
            Cells::Reals(v) => v.get(row).filter(|v| v.is_finite()).map_or(String::new(), |v| shortest(*v)),
            Cells::Whole(v) => v.get(row).map_or(String::new(), i64::to_string),
            Cells::Texts(v) => v.get(row).map_or(String::new(), |t| quoted(t)),
        }
    }
}

/// Digits enough to come back as the same number, with an exponent where that is shorter to read.
fn shortest(value: f64) -> String {
    let size = value.abs();
    if value == 0.0 || (1e-4..1e7).contains(&size) { format!("{value}") } else { format!("{value:e}") }
}

/// RFC 4180, and never something that a spreadsheet takes for a formula.
fn quoted(text: &str) -> String {
    let guarded = if text.starts_with(['=', '+', '-', '@', '\t', '\r']) { format!("'{text}") } else { text.into() };
    if guarded.contains([',', '"', '\n', '\r']) { format!("\"{}\"", guarded.replace('"', "\"\"")) } else { guarded }
}

/// Named columns of equal length; names carry SI units (`time_s`, `radius_m`).
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Numbers {
    pub columns: Vec<(String, Cells)>,
}

impl Numbers {
    pub fn new() -> Numbers {
        Numbers::default()
    }

    pub fn with(mut self, name: &str, cells: Cells) -> Numbers {
        self.columns.push((name.into(), cells));
        self
    }

    pub fn rows(&self) -> usize {
        self.columns.iter().map(|(_, c)| c.len()).max().unwrap_or(0)
    }

    /// The real numbers of a column.
    pub fn reals(&self, name: &str) -> Option<&[f64]> {
        self.columns.iter().find(|(n, _)| n == name).and_then(|(_, c)| match c {
            Cells::Reals(v) => Some(v.as_slice()),
            _ => None,
        })
    }

    /// As comma-separated values with one line of names; an empty cell for a missing number.
    pub fn csv(&self) -> String {
        let mut out = self.columns.iter().map(|(n, _)| quoted(n)).collect::<Vec<_>>().join(",") + "\n";
        for row in 0..self.rows() {
            out += &(self.columns.iter().map(|(_, c)| c.cell(row)).collect::<Vec<_>>().join(",") + "\n");
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn csv_gives_the_same_numbers_back_and_no_formulas() {
        let value = 0.1 + 0.2;
        let numbers = Numbers::new()
            .with("time_s", Cells::Reals(vec![value, f64::NAN, 1.5e-9]))
            .with("what", Cells::Texts(vec!["a,\"b\"".into(), "=1+1".into(), "plain".into()]));
        let csv = numbers.csv();
        assert_eq!(csv, "time_s,what\n0.30000000000000004,\"a,\"\"b\"\"\"\n,'=1+1\n1.5e-9,plain\n");
        assert_eq!(csv.lines().nth(1).unwrap().split(',').next().unwrap().parse::<f64>().unwrap(), value);
    }
}
