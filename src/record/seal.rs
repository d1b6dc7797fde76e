//! The seal: the last line of a finished file, a checksum of all bytes before it.
//!
//! HDF5 ignores what follows its own end, so any reader opens a sealed file. We check the seal before we hand a file
//! to the HDF5 library: a truncated or bit-flipped record is found out for certain, and never by a crash in there.
//! A program that edits the file cuts the seal off; such a file is read with structural checks alone.

use super::RecordError;
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

const MARK: &[u8] = b"\nslenderjet seal, sha256 of all bytes before: ";
const SIGNATURE: &[u8] = b"\x89HDF\r\n\x1a\n";
const LEN: usize = MARK.len() + 64 + 1;

/// What the seal says about a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Seal {
    /// The bytes are the ones that were written.
    Whole,
    /// No seal: edited by another program, or not ours.
    Absent,
}

pub(super) fn hex(digest: &[u8]) -> String {
    digest.iter().map(|b| format!("{b:02x}")).collect()
}

/// SHA-256 of `bytes` as 64 hexadecimal digits.
pub fn sha256_hex(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

fn digest_of(file: &mut File, len: u64) -> std::io::Result<String> {
    file.seek(SeekFrom::Start(0))?;
    let mut left = file.take(len);
    let mut hash = Sha256::new();
    let mut block = vec![0_u8; 1 << 20];
    loop {
        let n = left.read(&mut block)?;
        if n == 0 {
            return Ok(hex(&hash.finalize()));
        }
        hash.update(&block[..n]);
    }
}

/// Appends the seal to the bytes of a finished file.
pub(super) fn append(bytes: &mut Vec<u8>) {
    let digest = sha256_hex(bytes);
    bytes.extend_from_slice(MARK);
    bytes.extend_from_slice(digest.as_bytes());
    bytes.push(b'\n');
}

/// Whether a seal is there at all, true or not.
pub fn is_present(path: &Path) -> bool {
    let look = || -> std::io::Result<bool> {
        let mut file = File::open(path)?;
        let mut tail = [0_u8; LEN];
        file.seek(SeekFrom::End(-(LEN as i64)))?;
        file.read_exact(&mut tail)?;
        Ok(tail.starts_with(MARK))
    };
    look().unwrap_or(false)
}

/// Looks at signature and seal before anyone parses the file.
pub(super) fn check(path: &Path) -> Result<Seal, RecordError> {
    let io = |cause| RecordError::io(path, "read it", cause);
    let mut file = File::open(path).map_err(io)?;
    let about = file.metadata().map_err(io)?;
    if !about.is_file() {
        return Err(RecordError::foreign(path, "it is not a regular file"));
    }
    if about.len() < SIGNATURE.len() as u64 {
        return Err(RecordError::foreign(path, format!("{} bytes long, too short for an HDF5 file", about.len())));
    }
    let mut head = [0_u8; 8];
    file.read_exact(&mut head).map_err(io)?;
    if head != SIGNATURE {
        return Err(RecordError::foreign(path, "it does not begin as an HDF5 file does"));
    }
    if about.len() < (SIGNATURE.len() + LEN) as u64 {
        return Ok(Seal::Absent);
    }
    let body = about.len() - LEN as u64;
    let mut tail = [0_u8; LEN];
    file.seek(SeekFrom::Start(body)).map_err(io)?;
    file.read_exact(&mut tail).map_err(io)?;
    let Some(kept) = tail.strip_prefix(MARK) else { return Ok(Seal::Absent) };
    let found = digest_of(&mut file, body).map_err(io)?;
    if kept.strip_suffix(b"\n") == Some(found.as_bytes()) {
        Ok(Seal::Whole)
    } else {
        Err(RecordError::damaged(path, "its bytes do not match the checksum in its last line"))
    }
}
