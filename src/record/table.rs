//! A table as HDF5: named columns with units along one dimension, for the results of maps and their shards.

use super::netcdf::{column, dimension, document, flags, meaning, subgroup, text, texts};
use super::read::{Opened, guarded};
use super::{RecordError, provenance, replace};
use crate::files;
use crate::outcome::Provenance;
use std::path::Path;

/// The values of a column.
#[derive(Debug, Clone, PartialEq)]
pub enum Values {
    /// Real numbers; NaN for a missing one.
    Reals(Vec<f64>),
    /// Whole numbers.
    Whole(Vec<i64>),
    /// Texts.
    Texts(Vec<String>),
    /// Words of a short list, as numbers: each value's place in the list, words without blanks.
    Flags(Vec<i8>, String),
}

impl Values {
    /// Number of rows.
    pub fn len(&self) -> usize {
        match self {
            Values::Reals(v) => v.len(),
            Values::Whole(v) => v.len(),
            Values::Texts(v) => v.len(),
            Values::Flags(v, _) => v.len(),
        }
    }

    /// True without rows.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// A column: its name, its unit in UDUNITS words (`m s-1`, `1` for none), its meaning, its values.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    pub name: String,
    pub units: String,
    pub long_name: String,
    pub values: Values,
}

/// A table and the texts that belong to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Layout and its version, for example `slenderjet-map-1`.
    pub schema: String,
    pub title: String,
    /// Name of the one dimension, for example `row`.
    pub axis: String,
    /// Short texts: plan hash, seed, shard.
    pub attributes: Vec<(String, String)>,
    /// Long texts: the case as typed.
    pub documents: Vec<(String, String)>,
    pub columns: Vec<Column>,
    pub provenance: Provenance,
    /// Wall-clock time, s; kept with the provenance.
    pub wall_s: f64,
}

impl Table {
    /// The column of that name.
    pub fn column(&self, name: &str) -> Option<&Column> {
        self.columns.iter().find(|c| c.name == name)
    }
}

/// Writes a table to a temporary file beside `target` and renames it into place.
///
/// # Errors
/// Where the folder cannot be written, the disk is full, or the columns have unequal lengths.
pub fn write(target: &Path, table: &Table) -> Result<(), RecordError> {
    write_with(target, table, |_| Ok(()))
}

/// The same, with more behind the table.
pub(super) fn write_with(
    target: &Path,
    table: &Table,
    more: impl Fn(&hdf5::File) -> hdf5::Result<()>,
) -> Result<(), RecordError> {
    let rows = table.columns.first().map_or(0, |c| c.values.len());
    if let Some(odd) = table.columns.iter().find(|c| c.values.len() != rows) {
        let reason = format!("column `{}` has {} rows, not {rows}", odd.name, odd.values.len());
        return Err(RecordError::Unwritable { path: target.into(), reason });
    }
    let refused = |cause: hdf5::Error| RecordError::hdf5(target, "compose it", cause);
    replace::hdf5_file(target, &files::folder_of(target), |file| {
        fill(file, table, rows).and_then(|()| more(file)).map_err(refused)
    })
}

fn fill(file: &hdf5::File, table: &Table, rows: usize) -> hdf5::Result<()> {
    text(file, "Conventions", "CF-1.11")?;
    text(file, "title", &table.title)?;
    text(file, "schema", &table.schema)?;
    text(file, "axis", &table.axis)?;
    text(file, "columns", &table.columns.iter().map(|c| c.name.as_str()).collect::<Vec<_>>().join(" "))?;
    dimension(file, meaning(&table.axis, "1", "rows of the table"), rows)?;
    for c in &table.columns {
        let what = meaning(&c.name, &c.units, &c.long_name);
        match &c.values {
            Values::Reals(values) => drop(column(file, &table.axis, what, values)?),
            Values::Whole(values) => drop(column(file, &table.axis, what, values)?),
            Values::Texts(values) => texts(file, &table.axis, what, values)?,
            Values::Flags(values, meanings) => flags(file, &table.axis, what, meanings, values)?,
        }
    }
    let attributes = subgroup(file, "about")?;
    table.attributes.iter().try_for_each(|(name, value)| text(&attributes, name, value))?;
    let documents = subgroup(file, "documents")?;
    for (name, value) in &table.documents {
        document(&documents, meaning(name, "1", name), value)?;
    }
    provenance::write(&subgroup(file, "provenance")?, &table.provenance, table.wall_s)
}

/// Reads a table of the layout `schema`.
///
/// # Errors
/// Where the file is missing, not a table of ours, damaged, or of a later layout.
pub fn read(path: &Path, schema: &'static str) -> Result<Table, RecordError> {
    guarded(path, move |path| read_whole(path, schema))
}

fn read_whole(path: &Path, schema: &'static str) -> Result<Table, RecordError> {
    let (file, _) = Opened::file(path)?;
    file.expect_schema(schema)?;
    let names = file.text_attribute("columns")?;
    let columns: Vec<Column> =
        names.split_whitespace().map(|name| read_column(&file, name)).collect::<Result<_, _>>()?;
    let lengths: Vec<(&str, usize)> = columns.iter().map(|c| (c.name.as_str(), c.values.len())).collect();
    file.same_length(&lengths)?;
    let (about, documents) = (file.group("about")?, file.group("documents")?);
    let (provenance, wall_s) = provenance::read(&file.group("provenance")?)?;
    Ok(Table {
        schema: schema.into(),
        title: file.text_attribute("title")?,
        axis: file.text_attribute("axis")?,
        attributes: about.each_attribute(|name| about.text_attribute(name))?,
        documents: documents.each_member(|name| documents.document(name))?,
        columns,
        provenance,
        wall_s,
    })
}

fn read_column(file: &Opened, name: &str) -> Result<Column, RecordError> {
    let values = match file.kind(name)? {
        super::read::Kind::Real => Values::Reals(file.reals(name)?),
        super::read::Kind::Whole => match file.dataset_attribute(name, "flag_meanings") {
            Ok(meanings) => {
                let known = meanings.split_whitespace().count();
                let place = |v: i64| i8::try_from(v).ok().filter(|v| (0..known as i64).contains(&i64::from(*v)));
                let values = file.whole_numbers(name)?.into_iter().map(place).collect::<Option<Vec<i8>>>();
                Values::Flags(values.ok_or_else(|| file.damaged(format!("`{name}` holds no such flag")))?, meanings)
            }
            Err(_) => Values::Whole(file.whole_numbers(name)?),
        },
        super::read::Kind::Text => Values::Texts(file.texts(name)?),
    };
    Ok(Column {
        name: name.into(),
        // texts have none
        units: file.dataset_attribute(name, "units").unwrap_or_else(|_| "1".into()),
        long_name: file.dataset_attribute(name, "long_name")?,
        values,
    })
}
