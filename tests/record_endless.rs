//! A damaged file on which the HDF5 library (2.2.0) goes round in a circle for ever. Alone in its program: the circle
//! never gives the library's lock back.

mod common;

use slenderjet::record;
use std::fs;
use std::time::{Duration, Instant};

fn number(bytes: &[u8], at: usize) -> usize {
    usize::try_from(u64::from_le_bytes(bytes[at..at + 8].try_into().unwrap())).unwrap()
}

/// Gives the free space of the first global heap the size zero (HDF5 File Format Specification 3.0, III.E: a heap is
/// `GCOL`, version, its size at byte 8, objects from byte 16 on; an object is index, count, its size at byte 8, data
/// padded to 8 bytes; index 0 is the free space).
fn without_end(mut bytes: Vec<u8>) -> Vec<u8> {
    let heap = bytes.windows(4).position(|w| w == b"GCOL").unwrap();
    let end = heap + number(&bytes, heap + 8);
    let mut object = heap + 16;
    while object < end && bytes[object..object + 2] != [0, 0] {
        object += 16 + number(&bytes, object + 8).next_multiple_of(8);
    }
    bytes[object + 8..object + 16].fill(0);
    bytes
}

#[test]
fn a_file_on_which_the_library_comes_to_no_end_is_refused_in_time() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("run.h5");
    record::write(&path, &common::case(), &common::outcome(), &common::frames(5)).unwrap();
    let whole = fs::read(&path).unwrap();

    fs::write(&path, without_end(whole.clone())).unwrap();
    let began = Instant::now();
    let refused = record::read(&path).unwrap_err();
    assert!(refused.to_string().contains("do not match the checksum"), "{refused}");
    assert!(began.elapsed() < Duration::from_secs(5));

    let mark = b"\nslenderjet seal";
    let seal = whole.windows(mark.len()).rposition(|w| w == mark).unwrap();
    fs::write(&path, without_end(whole[..seal].to_vec())).unwrap();
    // texts have a fixed length since layout 2, so that nothing read lies in the heap that has no end
    let sound = folder.path().join("sound.h5");
    fs::write(&sound, &whole).unwrap();
    assert_eq!(record::read(&path).unwrap().summary, record::read(&sound).unwrap().summary);
    assert!(began.elapsed() < Duration::from_secs(60));
}
