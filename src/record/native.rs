//! The one file with `unsafe` code: two calls of the HDF5 library that its safe wrapper does not offer.
//!
//! Why a NUL-terminated attribute: readers recognise a dimension scale by the attributes CLASS and NAME, and they ask for NUL-terminated
//! strings (HDF5 Dimension Scale Specification, The HDF Group, section "Dimension scales: attributes").
//! The safe wrapper writes NUL-padded ones only, which h5py refuses to take for scales.
//!
//! Why an image: the library must not write to the disk itself, because a full disk leaves it in a state that it does
//! not survive (an assertion in its debug build). It composes the file in memory, and we write the bytes.

#![allow(unsafe_code)]

use hdf5::{File, Location};
use hdf5_sys::h5a::{H5Aclose, H5Acreate2, H5Awrite};
use hdf5_sys::h5f::H5Fget_file_image;
use hdf5_sys::h5p::H5P_DEFAULT;
use hdf5_sys::h5s::{H5S_class_t, H5Sclose, H5Screate};
use hdf5_sys::h5t::{H5T_C_S1, H5T_str_t, H5Tclose, H5Tcopy, H5Tset_size, H5Tset_strpad};
use std::ffi::CString;

/// Writes `value` as a NUL-terminated scalar string attribute `name` of `at`.
pub(super) fn set_attribute(at: &Location, name: &str, value: &str) -> hdf5::Result<()> {
    let name = CString::new(name).map_err(|e| hdf5::Error::from(e.to_string()))?;
    let value = CString::new(value).map_err(|e| hdf5::Error::from(e.to_string()))?;
    hdf5::sync::sync(|| {
        // SAFETY: every call gets live identifiers made here or held by `at`; `value` outlives the write and its
        // size, with the NUL, is the size of the type; the library lock is held by `sync` for the whole block.
        let done = unsafe {
            let kind = H5Tcopy(*H5T_C_S1);
            let sized = H5Tset_size(kind, value.as_bytes_with_nul().len());
            let padded = H5Tset_strpad(kind, H5T_str_t::H5T_STR_NULLTERM);
            let space = H5Screate(H5S_class_t::H5S_SCALAR);
            let attribute = H5Acreate2(at.id(), name.as_ptr(), kind, space, H5P_DEFAULT, H5P_DEFAULT);
            let written = H5Awrite(attribute, kind, value.as_ptr().cast());
            H5Aclose(attribute);
            H5Sclose(space);
            H5Tclose(kind);
            sized >= 0 && padded >= 0 && attribute >= 0 && written >= 0
        };
        if done { Ok(()) } else { Err("the string attribute of a dimension scale could not be written".into()) }
    })
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
