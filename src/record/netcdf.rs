//! Datasets as the CF and netCDF readers expect them: named dimensions, `units` and `long_name` on everything.
//!
//! A dimension without values of its own is a dataset without data that carries the netCDF-4 placeholder name.
//! All objects are made without time stamps and in one order, so equal runs give equal files.

use super::native::{set_attribute, set_texts};
use hdf5::types::VarLenArray;
use hdf5::{Dataset, Extent, Group, H5Type, Location, ObjectReference1};

/// Values in a chunk: 128 KiB of doubles, a good size for deflate and for partial reads.
pub(super) const CHUNK: usize = 16_384;
/// Fast deflate: higher levels gain below 3 % on smooth profiles and cost several times the time.
const DEFLATE: u8 = 1;

/// Name, unit and meaning of a dataset.
#[derive(Debug, Clone, Copy)]
pub(super) struct Meaning<'a> {
    pub name: &'a str,
    pub units: &'a str,
    pub long_name: &'a str,
}

pub(super) const fn meaning<'a>(name: &'a str, units: &'a str, long_name: &'a str) -> Meaning<'a> {
    Meaning { name, units, long_name }
}

/// A text attribute, of fixed length.
pub(super) fn text(at: &Location, name: &str, value: &str) -> hdf5::Result<()> {
    set_attribute(at, name, value)
}

/// A number as an attribute.
pub(super) fn number<T: H5Type>(at: &Location, name: &str, value: T) -> hdf5::Result<()> {
    at.new_attr::<T>().create(name)?.write_scalar(&value)
}

/// A short list of numbers as an attribute.
pub(super) fn numbers<T: H5Type>(at: &Location, name: &str, values: &[T]) -> hdf5::Result<()> {
    at.new_attr_builder().with_data(values).create(name).map(drop)
}

fn describe(data: &Dataset, what: Meaning<'_>) -> hdf5::Result<()> {
    text(data, "long_name", what.long_name)?;
    text(data, "units", what.units)
}

/// A named dimension of `len` without values of its own.
pub(super) fn dimension(group: &Group, what: Meaning<'_>, len: usize) -> hdf5::Result<()> {
    let scale = group.new_dataset_builder().empty::<f32>().shape(len).obj_track_times(false).create(what.name)?;
    set_attribute(&scale, "CLASS", "DIMENSION_SCALE")?;
    set_attribute(&scale, "NAME", &format!("This is a netCDF dimension but not a netCDF variable. {len:10}"))?;
    describe(&scale, what)
}

/// Turns a written dataset into the scale of the dimension of its own name.
pub(super) fn make_scale(data: &Dataset, name: &str) -> hdf5::Result<()> {
    set_attribute(data, "CLASS", "DIMENSION_SCALE")?;
    set_attribute(data, "NAME", name)
}

/// Ties the one axis of `data` to the dimension `scale` of the same group.
pub(super) fn along(group: &Group, data: &Dataset, scale: &str) -> hdf5::Result<()> {
    let axis = VarLenArray::from_slice(&[group.reference::<ObjectReference1>(scale)?]);
    data.new_attr_builder().with_data(&[axis]).create("DIMENSION_LIST").map(drop)
}

/// A dataset that grows by whole chunks, so that its bytes do not depend on how its values arrived.
pub(super) struct Growing<T: H5Type + Copy> {
    data: Dataset,
    waiting: Vec<T>,
    written: usize,
}

impl<T: H5Type + Copy> Growing<T> {
    pub(super) fn new(group: &Group, what: Meaning<'_>) -> hdf5::Result<Self> {
        let data = group
            .new_dataset::<T>()
            .shape(Extent::resizable(0))
            .chunk(CHUNK)
            .shuffle()
            .deflate(DEFLATE)
            .obj_track_times(false)
            .create(what.name)?;
        describe(&data, what)?;
        Ok(Growing { data, waiting: Vec::with_capacity(CHUNK), written: 0 })
    }

    pub(super) fn extend(&mut self, values: &[T]) -> hdf5::Result<()> {
        let mut rest = values;
        while !rest.is_empty() {
            let n = rest.len().min(CHUNK - self.waiting.len());
            self.waiting.extend_from_slice(&rest[..n]);
            rest = &rest[n..];
            if self.waiting.len() == CHUNK {
                self.write_waiting()?;
            }
        }
        Ok(())
    }

    fn write_waiting(&mut self) -> hdf5::Result<()> {
        let end = self.written + self.waiting.len();
        self.data.resize(end)?;
        self.data.write_slice(&self.waiting, self.written..end)?;
        self.written = end;
        self.waiting.clear();
        Ok(())
    }

    /// Writes what waits; the dataset and its length.
    pub(super) fn finish(mut self) -> hdf5::Result<(Dataset, usize)> {
        if !self.waiting.is_empty() {
            self.write_waiting()?;
        }
        Ok((self.data, self.written))
    }
}

/// A whole column along a dimension that exists already.
pub(super) fn column<T: H5Type + Copy>(
    group: &Group,
    scale: &str,
    what: Meaning<'_>,
    values: &[T],
) -> hdf5::Result<Dataset> {
    let mut growing = Growing::new(group, what)?;
    growing.extend(values)?;
    let (data, _) = growing.finish()?;
    along(group, &data, scale)?;
    Ok(data)
}

/// A column of texts, all of the length of the longest.
pub(super) fn texts<S: AsRef<str>>(group: &Group, scale: &str, what: Meaning<'_>, values: &[S]) -> hdf5::Result<()> {
    let words: Vec<&str> = values.iter().map(AsRef::as_ref).collect();
    set_texts(group, what.name, &words, false)?;
    let data = group.dataset(what.name)?;
    text(&data, "long_name", what.long_name)?;
    along(group, &data, scale)
}

/// One text as a dataset.
pub(super) fn document(group: &Group, what: Meaning<'_>, value: &str) -> hdf5::Result<()> {
    set_texts(group, what.name, &[value], true)?;
    let data = group.dataset(what.name)?;
    text(&data, "long_name", what.long_name)
}

/// JSON in one text, in ASCII (other letters escaped as RFC 8259 has it), so that every reader takes it.
pub(super) fn json(group: &Group, what: Meaning<'_>, value: &str) -> hdf5::Result<()> {
    let mut plain = String::with_capacity(value.len());
    for letter in value.chars() {
        if letter.is_ascii() {
            plain.push(letter);
        } else {
            let mut units = [0; 2];
            letter.encode_utf16(&mut units).iter().for_each(|unit| plain.push_str(&format!("\\u{unit:04x}")));
        }
    }
    document(group, what, &plain)
}

/// A flag column (0, 1, ...) with the CF words for its values.
pub(super) fn flags(group: &Group, scale: &str, what: Meaning<'_>, meanings: &str, values: &[i8]) -> hdf5::Result<()> {
    let data = column(group, scale, what, values)?;
    name_flags(&data, meanings)
}

/// CF words for the values 0, 1, ...
pub(super) fn name_flags(data: &Dataset, meanings: &str) -> hdf5::Result<()> {
    let values: Vec<i8> = (0..meanings.split_whitespace().count() as i8).collect();
    numbers(data, "flag_values", &values)?;
    text(data, "flag_meanings", meanings)
}

/// A subgroup without time stamps.
pub(super) fn subgroup(file: &Group, name: &str) -> hdf5::Result<Group> {
    file.create_group_builder().obj_track_times(false).create(name)
}
