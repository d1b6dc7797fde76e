//! Rows of a map in the order in which they came, kept while it is filled: a killed map goes on from here.
//!
//! One JSON object a line, the first one naming the plan and the shard. A row is one write of one line, so a kill leaves at most
//! a torn last line, which is cut off. The file is locked while a map is filled and removed when its table is in place.

use super::RecordError;
use crate::study::map::{Plan, Row, Shard};
use serde::{Deserialize, Serialize};
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{BufRead, BufReader, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// Longest line that is looked at, bytes.
const LINE_MAX: u64 = 1 << 16;

#[derive(Debug, Serialize, Deserialize, PartialEq)]
struct Head {
    schema: String,
    plan_hash: String,
    shard: String,
}

/// The journal of one map or shard.
#[derive(Debug)]
pub struct Journal {
    path: PathBuf,
    file: File,
}

/// `MAP.h5.rows` beside `MAP.h5`.
pub fn path_beside(target: &Path) -> PathBuf {
    let mut name = target.as_os_str().to_owned();
    name.push(".rows");
    PathBuf::from(name)
}

impl Journal {
    /// Opens the journal beside `target` and hands over the rows that it holds already; those of another plan are thrown away
    /// (told by the flag).
    ///
    /// # Errors
    /// Where the folder cannot be written, or another process is filling the same map.
    pub fn open(
        target: &Path,
        plan: &Plan,
        plan_hash: &str,
        shard: Shard,
    ) -> Result<(Journal, Vec<Row>, bool), RecordError> {
        let path = path_beside(target);
        let io = |action| move |cause| RecordError::io(target, action, cause);
        let open = OpenOptions::new().read(true).write(true).create(true).truncate(false).open(&path);
        let file = open.map_err(io("write in its folder"))?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                return Err(RecordError::refused(target, "another process is filling this map just now"));
            }
            // A file system without locks: go on without one.
            Err(TryLockError::Error(_)) => {}
        }
        let head =
            Head { schema: "slenderjet-map-rows-2".into(), plan_hash: plan_hash.into(), shard: shard.to_string() };
        let mut journal = Journal { path, file };
        let (rows, good, foreign) = journal.read(&head, plan, shard).map_err(io("read it"))?;
        journal.file.set_len(good).map_err(io("write it"))?;
        journal.file.seek(SeekFrom::End(0)).map_err(io("write it"))?;
        if good == 0 {
            journal.line(&head).map_err(io("write it"))?;
        }
        Ok((journal, rows, foreign))
    }

    /// Rows of whole lines, the length of what is good, and whether it was another map's.
    fn read(&mut self, head: &Head, plan: &Plan, shard: Shard) -> std::io::Result<(Vec<Row>, u64, bool)> {
        let mut lines = BufReader::new(&self.file);
        let (mut text, mut good, mut rows) = (Vec::new(), 0_u64, Vec::new());
        let mut seen = vec![false; plan.len()];
        loop {
            text.clear();
            // a row is a few hundred bytes: a longer line is none of ours, and must not fill the memory
            let length = lines.by_ref().take(LINE_MAX).read_until(b'\n', &mut text)?;
            if length == 0 || text.last() != Some(&b'\n') {
                return Ok((rows, good, false));
            }
            if good == 0 {
                if serde_json::from_slice::<Head>(&text).ok().as_ref() != Some(head) {
                    return Ok((Vec::new(), 0, true));
                }
            } else {
                let row = serde_json::from_slice::<Row>(&text).ok();
                let ours = |r: &Row| {
                    r.index < plan.len()
                        && r.index % shard.of == shard.index - 1
                        && plan.values(r.index) == r.values
                        && !seen[r.index]
                };
                let Some(row) = row.filter(ours) else { return Ok((rows, good, false)) };
                seen[row.index] = true;
                rows.push(row);
            }
            good += length as u64;
        }
    }

    fn line<T: Serialize>(&mut self, what: &T) -> std::io::Result<()> {
        let mut bytes = serde_json::to_vec(what)?;
        bytes.push(b'\n');
        self.file.write_all(&bytes)
    }

    /// Keeps a row.
    ///
    /// # Errors
    /// Where the disk is full or gone.
    pub fn append(&mut self, row: &Row) -> Result<(), RecordError> {
        self.line(row).map_err(|cause| RecordError::io(&self.path, "write it", cause))
    }

    /// Removes the journal, once its table is in place.
    ///
    /// # Errors
    /// Where the folder cannot be written.
    pub fn remove(self) -> Result<(), RecordError> {
        std::fs::remove_file(&self.path).map_err(|cause| RecordError::io(&self.path, "remove it", cause))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::map::{Axis, Spacing};

    fn plan() -> Plan {
        Plan::new(vec![Axis::between("inner.flow", "m3/s", [1e-11, 7e-11], 9, Spacing::Log).expect("possible")])
            .expect("one")
    }

    fn row(index: usize) -> Row {
        let mut row = Row::failed(index, plan().values(index), "invented, with \"quotes\"\nand a line");
        row.cv = Some(0.1 + 1e-17 * index as f64);
        row
    }

    fn open(target: &Path, hash: &str) -> (Journal, Vec<Row>, bool) {
        Journal::open(target, &plan(), hash, Shard::WHOLE).expect("a journal")
    }

    #[test]
    fn rows_come_back_to_the_last_bit_and_a_torn_line_is_cut_off() {
        let folder = tempfile::tempdir().expect("a folder");
        let target = folder.path().join("map.h5");
        let (mut journal, rows, foreign) = open(&target, "a");
        assert!(rows.is_empty() && !foreign);
        for index in [3, 0, 7] {
            journal.append(&row(index)).expect("kept");
        }
        drop(journal);
        let path = path_beside(&target);
        let whole = std::fs::read(&path).expect("there");
        for torn in [whole.len() - 1, whole.len() - 20] {
            std::fs::write(&path, &whole[..torn]).expect("torn");
            let (mut journal, rows, _) = open(&target, "a");
            assert_eq!(rows, [row(3), row(0)]);
            journal.append(&row(5)).expect("kept");
            drop(journal);
            assert_eq!(open(&target, "a").1, [row(3), row(0), row(5)]);
        }
        let (journal, ..) = open(&target, "a");
        journal.remove().expect("gone");
        assert!(!path.exists());
    }

    #[test]
    fn rows_of_another_plan_are_told_and_thrown_away() {
        let folder = tempfile::tempdir().expect("a folder");
        let target = folder.path().join("map.h5");
        let (mut journal, ..) = open(&target, "a");
        journal.append(&row(1)).expect("kept");
        drop(journal);
        let (_journal, rows, foreign) = open(&target, "b");
        assert!(rows.is_empty() && foreign);
    }

    #[test]
    fn two_processes_do_not_fill_one_map() {
        let folder = tempfile::tempdir().expect("a folder");
        let target = folder.path().join("map.h5");
        let _held = open(&target, "a");
        let second = Journal::open(&target, &plan(), "a", Shard::WHOLE);
        assert!(second.is_err_and(|e| e.to_string().contains("another process")));
    }

    #[test]
    fn rubbish_is_never_taken_for_rows() {
        let folder = tempfile::tempdir().expect("a folder");
        let target = folder.path().join("map.h5");
        drop(open(&target, "a"));
        let path = path_beside(&target);
        let mut text = std::fs::read(&path).expect("there");
        let mut wrong = row(2);
        wrong.values = vec![1.0];
        text.extend(serde_json::to_vec(&wrong).expect("json"));
        text.extend(b"\n{}\n\xff\xfe\n");
        std::fs::write(&path, text).expect("written");
        assert!(open(&target, "a").1.is_empty());
    }
}
