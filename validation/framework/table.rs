//! Reference tables: comma-separated, first a source line that starts with `#`, then the names of the columns.

use std::path::PathBuf;

/// A table of numbers (anything that is no number reads as NaN).
pub struct Table {
    names: Vec<String>,
    rows: Vec<Vec<f64>>,
}

/// Path of a file below the project's folder.
pub fn path(relative: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(relative)
}

impl Table {
    /// Reads a table below the project's folder.
    pub fn read(relative: &str) -> Table {
        let text = std::fs::read_to_string(path(relative)).unwrap_or_else(|error| panic!("{relative}: {error}"));
        assert!(text.starts_with('#'), "{relative}: a table must open with its source line");
        let mut lines = text.lines().filter(|line| !line.starts_with('#') && !line.trim().is_empty());
        let names = lines.next().expect("names of columns").split(',').map(str::to_string).collect();
        let rows = lines.map(|line| line.split(',').map(|cell| cell.parse().unwrap_or(f64::NAN)).collect()).collect();
        Table { names, rows }
    }

    /// The named columns of every row.
    pub fn columns<const N: usize>(&self, names: [&str; N]) -> Vec<[f64; N]> {
        let places = names.map(|name| {
            self.names.iter().position(|known| known == name).unwrap_or_else(|| panic!("no column {name}"))
        });
        self.rows.iter().map(|row| places.map(|place| row[place])).collect()
    }
}
