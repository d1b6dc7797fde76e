//! The one file with `unsafe` code: a NUL-terminated string attribute.
//!
//! Why: readers recognise a dimension scale by the attributes CLASS and NAME, and they ask for NUL-terminated
//! strings (HDF5 Dimension Scale Specification, The HDF Group, section "Dimension scales: attributes").
//! The safe wrapper writes NUL-padded ones only, which h5py refuses to take for scales. Nothing else needs it.

use hdf5::Location;
use hdf5_sys::h5a::{H5Aclose, H5Acreate2, H5Awrite};
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
