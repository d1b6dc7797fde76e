//! The one file with `unsafe` code: calls of the HDF5 library that its safe wrapper does not offer.
//!
//! Why texts of a fixed length that only the file knows: netCDF's own texts are such, and Octave reads no others.
//! The safe wrapper wants the length when the program is compiled.
//!
//! Why a NUL-terminated attribute: readers recognise a dimension scale by the attributes CLASS and NAME, and they ask for NUL-terminated
//! strings (HDF5 Dimension Scale Specification, The HDF Group, section "Dimension scales: attributes").
//! The safe wrapper writes NUL-padded ones only, which h5py refuses to take for scales.
//!
//! Why an image: the library must not write to the disk itself, because a full disk leaves it in a state that it does
//! not survive (an assertion in its debug build). It composes the file in memory, and we write the bytes.

#![allow(unsafe_code)]

use hdf5::{Dataset, File, Group, Location};
use hdf5_sys::h5a::{H5Aclose, H5Acreate2, H5Aget_space, H5Aget_type, H5Aopen, H5Aread, H5Awrite};
use hdf5_sys::h5d::{H5Dclose, H5Dcreate2, H5Dget_space, H5Dget_type, H5Dread, H5Dwrite};
use hdf5_sys::h5f::H5Fget_file_image;
use hdf5_sys::h5i::hid_t;
use hdf5_sys::h5p::{H5P_CLS_DATASET_CREATE, H5P_DEFAULT, H5Pclose, H5Pcreate, H5Pset_obj_track_times};
use hdf5_sys::h5s::{H5S_ALL, H5S_class_t, H5Sclose, H5Screate, H5Screate_simple, H5Sget_simple_extent_npoints};
use hdf5_sys::h5t::{
    H5T_C_S1, H5T_class_t, H5T_cset_t, H5T_str_t, H5Tclose, H5Tcopy, H5Tget_class, H5Tget_size, H5Tis_variable_str,
    H5Tset_cset, H5Tset_size, H5Tset_strpad,
};
use std::ffi::CString;

/// No text of ours is longer, whatever a file says.
const TEXT_MAX: usize = 256 << 20;

/// A type of texts of `size` bytes.
///
/// # Safety
/// The library lock must be held.
unsafe fn text_type(size: usize, cset: H5T_cset_t) -> hid_t {
    // SAFETY: the caller holds the lock; the copy is a live identifier, its size is at least one.
    unsafe {
        let kind = H5Tcopy(*H5T_C_S1);
        H5Tset_size(kind, size.max(1));
        H5Tset_strpad(kind, H5T_str_t::H5T_STR_NULLTERM);
        H5Tset_cset(kind, cset);
        kind
    }
}

/// ASCII wherever it holds: Octave asks for that, and the library converts neither into the other.
fn charset(bytes: &[u8]) -> H5T_cset_t {
    if bytes.is_ascii() { H5T_cset_t::H5T_CSET_ASCII } else { H5T_cset_t::H5T_CSET_UTF8 }
}

fn c_string(text: &str) -> hdf5::Result<CString> {
    CString::new(text).map_err(|e| hdf5::Error::from(e.to_string()))
}

/// Writes `value` as a NUL-terminated scalar string attribute `name` of `at`.
pub(super) fn set_attribute(at: &Location, name: &str, value: &str) -> hdf5::Result<()> {
    let name = c_string(name)?;
    let value = c_string(&value.replace('\0', "\u{FFFD}"))?;
    let cset = charset(value.as_bytes());
    hdf5::sync::sync(|| {
        // SAFETY: every call gets live identifiers made here or held by `at`; `value` outlives the write and its
        // size, with the NUL, is the size of the type; the library lock is held by `sync` for the whole block.
        let done = unsafe {
            let kind = text_type(value.as_bytes_with_nul().len(), cset);
            let space = H5Screate(H5S_class_t::H5S_SCALAR);
            let attribute = H5Acreate2(at.id(), name.as_ptr(), kind, space, H5P_DEFAULT, H5P_DEFAULT);
            let written = H5Awrite(attribute, kind, value.as_ptr().cast());
            H5Aclose(attribute);
            H5Sclose(space);
            H5Tclose(kind);
            attribute >= 0 && written >= 0
        };
        if done { Ok(()) } else { Err("a text attribute could not be written".into()) }
    })
}

/// Makes a dataset of texts, all of the length of the longest: a list, or one alone.
pub(super) fn set_texts(group: &Group, name: &str, values: &[&str], alone: bool) -> hdf5::Result<()> {
    let longest = values.iter().map(|v| v.len()).max().unwrap_or(0) + 1;
    let mut bytes = vec![0_u8; longest * values.len().max(1)];
    for (room, value) in bytes.chunks_exact_mut(longest).zip(values) {
        let text = value.replace('\0', " ");
        room[..text.len()].copy_from_slice(text.as_bytes());
    }
    let name = c_string(name)?;
    let cset = charset(&bytes);
    hdf5::sync::sync(|| {
        // SAFETY: as above; `bytes` holds as many texts of the type's size as the space has places, and at least one.
        let done = unsafe {
            let kind = text_type(longest, cset);
            let len = values.len() as u64;
            let space = if alone {
                H5Screate(H5S_class_t::H5S_SCALAR)
            } else {
                H5Screate_simple(1, &raw const len, std::ptr::null())
            };
            let how = H5Pcreate(*H5P_CLS_DATASET_CREATE);
            H5Pset_obj_track_times(how, 0);
            let data = H5Dcreate2(group.id(), name.as_ptr(), kind, space, H5P_DEFAULT, how, H5P_DEFAULT);
            let written = H5Dwrite(data, kind, H5S_ALL, H5S_ALL, H5P_DEFAULT, bytes.as_ptr().cast());
            H5Dclose(data);
            H5Pclose(how);
            H5Sclose(space);
            H5Tclose(kind);
            data >= 0 && written >= 0
        };
        if done { Ok(()) } else { Err("a list of texts could not be written".into()) }
    })
}

/// The texts of an attribute of `at`, cut at their first NUL; `None` where it holds none of fixed length.
pub(super) fn attribute_text(at: &Location, name: &str) -> Option<Vec<u8>> {
    let name = c_string(name).ok()?;
    hdf5::sync::sync(|| {
        // SAFETY: identifiers are checked before use and closed after; the buffer has the size of the type, which is
        // a text of fixed length, times the one value that a scalar space holds.
        unsafe {
            let attribute = H5Aopen(at.id(), name.as_ptr(), H5P_DEFAULT);
            if attribute < 0 {
                return None;
            }
            let (kind, space) = (H5Aget_type(attribute), H5Aget_space(attribute));
            let found = texts_of(kind, space, |buffer| H5Aread(attribute, kind, buffer.cast()) >= 0);
            H5Sclose(space);
            H5Tclose(kind);
            H5Aclose(attribute);
            found.filter(|list| list.len() == 1)?.pop()
        }
    })
}

/// The texts of a dataset, cut at their first NUL; `None` where it holds none of fixed length.
pub(super) fn dataset_texts(data: &Dataset) -> Option<Vec<Vec<u8>>> {
    hdf5::sync::sync(|| {
        // SAFETY: as above, for as many values as the space has places.
        unsafe {
            let (kind, space) = (H5Dget_type(data.id()), H5Dget_space(data.id()));
            let found = texts_of(kind, space, |buffer| {
                H5Dread(data.id(), kind, H5S_ALL, H5S_ALL, H5P_DEFAULT, buffer.cast()) >= 0
            });
            H5Sclose(space);
            H5Tclose(kind);
            found
        }
    })
}

/// Reads texts of fixed length through `read`, which fills a buffer.
///
/// # Safety
/// `kind` and `space` must be live, and `read` must write no more than their size.
unsafe fn texts_of(kind: hid_t, space: hid_t, read: impl FnOnce(*mut u8) -> bool) -> Option<Vec<Vec<u8>>> {
    // SAFETY: live identifiers, see above.
    let (fixed, size, places) = unsafe {
        let fixed = H5Tget_class(kind) == H5T_class_t::H5T_STRING && H5Tis_variable_str(kind) == 0;
        (fixed, H5Tget_size(kind), H5Sget_simple_extent_npoints(space))
    };
    let len = usize::try_from(places).ok()?.checked_mul(size).filter(|len| *len <= TEXT_MAX)?;
    if !fixed || size == 0 {
        return None;
    }
    let mut bytes = vec![0_u8; len];
    if len > 0 && !read(bytes.as_mut_ptr()) {
        return None;
    }
    let cut = |room: &[u8]| room.iter().position(|b| *b == 0).map_or(room.to_vec(), |end| room[..end].to_vec());
    Some(bytes.chunks_exact(size).map(cut).collect())
}

/// The bytes of an open file that lives in memory.
pub(super) fn image(file: &File) -> hdf5::Result<Vec<u8>> {
    file.flush()?;
    hdf5::sync::sync(|| {
        // SAFETY: the first call writes nothing (null buffer, length zero) and tells the size; the second gets a live
        // buffer of that length; the library lock is held for both, so the file cannot grow in between.
        let image = unsafe {
            let len = usize::try_from(H5Fget_file_image(file.id(), std::ptr::null_mut(), 0)).unwrap_or(0);
            let mut image = vec![0_u8; len];
            let copied = H5Fget_file_image(file.id(), image.as_mut_ptr().cast(), len);
            (usize::try_from(copied) == Ok(len) && len > 0).then_some(image)
        };
        image.ok_or_else(|| "the image of the file could not be taken".into())
    })
}
