//! A map as figures and reports need it, out of the table that `slenderjet map` writes.

use crate::figures::FigureError;
use crate::figures::about::Origin;
use crate::record::table::{Column, Table, Values};

/// A varied quantity.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MapKey {
    /// Key in the case file, `inner.flow`.
    pub key: String,
    /// UDUNITS words of its SI unit, `m3 s-1`.
    pub units: String,
    /// SI value in each row.
    pub values: Vec<f64>,
}

/// Rows of a map; a missing number is NaN.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MapTable {
    pub title: String,
    pub keys: Vec<MapKey>,
    pub mode: Vec<String>,
    pub diameter: Vec<f64>,
    pub satellites: Vec<f64>,
    pub status: Vec<String>,
    /// Outer capillary and inner Weber number of each row, where the table tells them.
    pub groups: Option<(Vec<f64>, Vec<f64>)>,
    /// The case as typed, where the table holds it.
    pub case_text: Option<String>,
    pub origin: Origin,
}

/// Column that ends the varied keys.
const FIRST_ANSWER: &str = "mode";

impl MapTable {
    /// Takes a written map apart.
    ///
    /// # Errors
    /// Where a column that every map has is missing.
    pub fn from_table(table: &Table) -> Result<MapTable, FigureError> {
        let missing = |name: &str| FigureError::Nothing(format!("this map has no column `{name}`"));
        let end = table.columns.iter().position(|c| c.name == FIRST_ANSWER).ok_or_else(|| missing(FIRST_ANSWER))?;
        let keys: Vec<MapKey> = table.columns[..end].iter().filter_map(key).collect();
        if keys.is_empty() || keys[0].values.is_empty() {
            return Err(FigureError::Nothing("this map has no rows to draw".into()));
        }
        let reals = |name: &str| table.column(name).and_then(numbers);
        let texts = |name: &str| match table.column(name).map(|c| &c.values) {
            Some(Values::Texts(v)) => Ok(v.clone()),
            _ => Err(missing(name)),
        };
        let groups = reals("capillary_outer").zip(reals("weber_inner"));
        let document = |name: &str| table.documents.iter().find(|(n, _)| n == name).map(|(_, text)| text.clone());
        Ok(MapTable {
            title: table.title.clone(),
            mode: texts(FIRST_ANSWER)?,
            diameter: reals("mean_diameter_m")
                .or_else(|| reals("mean_diameter"))
                .ok_or_else(|| missing("mean_diameter_m"))?,
            satellites: reals("satellites_per_primary").ok_or_else(|| missing("satellites_per_primary"))?,
            status: texts("status")?,
            groups,
            case_text: document("case").or_else(|| document("case_text")),
            origin: Origin::new(&table.title, &table.provenance),
            keys,
        })
    }

    pub fn rows(&self) -> usize {
        self.mode.len()
    }
}

fn key(column: &Column) -> Option<MapKey> {
    let values = numbers(column)?;
    let is_index = column.name == "index" || column.name == "row" || column.name == "cell";
    (!is_index).then(|| MapKey { key: column.name.clone(), units: column.units.clone(), values })
}

fn numbers(column: &Column) -> Option<Vec<f64>> {
    match &column.values {
        Values::Reals(v) => Some(v.clone()),
        Values::Whole(v) => Some(v.iter().map(|n| *n as f64).collect()),
        Values::Texts(_) => None,
    }
}
