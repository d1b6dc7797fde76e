//! Rows of a map in the order in which they came, kept while it is filled: a killed map goes on from here.
//!
//! One JSON object a line, the first one naming the plan and the shard. A row is one write of one line, so a kill leaves at most
//! a torn last line, which is cut off. The file is locked while a map is filled and removed when its table is in place.

use super::RecordError;
use crate::files::{self, FileError};
use crate::study::map::{Plan, Row, Shard};
use serde::{Deserialize, Serialize};
use std::fs::File;
use std::io::{BufRead, BufReader, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// How every journal begins.
const HEAD: &[u8] = b"{\"schema\":\"slenderjet-map-rows-";

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
    /// Opens the journal beside `target` and hands over the rows that it holds already. What is not the rows of this plan is
    /// thrown away only where `force`.
    ///
    /// # Errors
    /// Where the folder cannot be written, another process is filling the same map, or something else has the journal's name.
    pub fn open(
        target: &Path,
        plan: &Plan,
        plan_hash: &str,
        shard: Shard,
        force: bool,
    ) -> Result<(Journal, Vec<Row>), RecordError> {
        let path = path_beside(target);
        let io = |action| move |cause| RecordError::io(target, action, cause);
        let file = files::open_beside(&path).map_err(|cause| RecordError::io(&path, files::IN_FOLDER, cause))?;
        if !files::lock(&file) {
            return Err(RecordError::refused(target, "another process is filling this map just now"));
        }
        let head =
            Head { schema: "slenderjet-map-rows-2".into(), plan_hash: plan_hash.into(), shard: shard.to_string() };
        let mut journal = Journal { path, file };
        let (rows, good, foreign) = journal.read(&head, plan, shard).map_err(io("read it"))?;
        if foreign && !force {
            let reason = "it holds what was computed of another map, or is another file";
            return Err(FileError::Exists { path: journal.path, reason: reason.into() }.into());
        }
        journal.file.set_len(good).map_err(io("write it"))?;
        journal.file.seek(SeekFrom::End(0)).map_err(io("write it"))?;
        if good == 0 {
            journal.line(&head).map_err(io("write it"))?;
        }
        Ok((journal, rows))
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
                // a head that is torn lost no row; one that never was is another file
                let torn_head = text.starts_with(HEAD) || HEAD.starts_with(&text);
                return Ok((rows, good, good == 0 && !torn_head));
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

    fn open(target: &Path, hash: &str) -> (Journal, Vec<Row>) {
        Journal::open(target, &plan(), hash, Shard::WHOLE, false).expect("a journal")
    }

    #[test]
    fn rows_come_back_to_the_last_bit_and_a_torn_line_is_cut_off() {
        let folder = tempfile::tempdir().expect("a folder");
        let target = folder.path().join("map.h5");
        let (mut journal, rows) = open(&target, "a");
        assert!(rows.is_empty());
        for index in [3, 0, 7] {
            journal.append(&row(index)).expect("kept");
        }
        drop(journal);
        let path = path_beside(&target);
        let whole = std::fs::read(&path).expect("there");
        for torn in [whole.len() - 1, whole.len() - 20] {
            std::fs::write(&path, &whole[..torn]).expect("torn");
            let (mut journal, rows) = open(&target, "a");
            assert_eq!(rows, [row(3), row(0)]);
            journal.append(&row(5)).expect("kept");
            drop(journal);
            assert_eq!(open(&target, "a").1, [row(3), row(0), row(5)]);
        }
        let (journal, _) = open(&target, "a");
        journal.remove().expect("gone");
        assert!(!path.exists());
    }

    #[test]
    fn rows_of_another_plan_are_kept_unless_forced() {
        let folder = tempfile::tempdir().expect("a folder");
        let target = folder.path().join("map.h5");
        let (mut journal, _) = open(&target, "a");
        journal.append(&row(1)).expect("kept");
        drop(journal);
        let path = path_beside(&target);
        let kept = std::fs::read(&path).expect("there");
        let refused = Journal::open(&target, &plan(), "b", Shard::WHOLE, false).expect_err("another plan's");
        assert!(refused.is_input() && refused.to_string().contains("--force"), "{refused}");
        assert_eq!(std::fs::read(&path).expect("there"), kept);
        let (_journal, rows) = Journal::open(&target, &plan(), "b", Shard::WHOLE, true).expect("forced");
        assert!(rows.is_empty());
    }

    #[test]
    fn two_processes_do_not_fill_one_map() {
        let folder = tempfile::tempdir().expect("a folder");
        let target = folder.path().join("map.h5");
        let _held = open(&target, "a");
        let second = Journal::open(&target, &plan(), "a", Shard::WHOLE, false);
        assert!(second.is_err_and(|e| e.to_string().contains("another process")));
    }

    /// A link or a text of somebody under the journal's name is neither followed nor cut off.
    #[test]
    #[cfg(unix)]
    fn nothing_else_is_taken_for_a_journal() {
        let folder = tempfile::tempdir().expect("a folder");
        let (target, thesis) = (folder.path().join("map.h5"), folder.path().join("thesis.txt"));
        let path = path_beside(&target);
        for text in ["mine\n", "mine", "a longer text of mine without any end of its line"] {
            std::fs::write(&path, text).expect("written");
            assert!(Journal::open(&target, &plan(), "a", Shard::WHOLE, false).is_err(), "{text}");
            assert_eq!(std::fs::read_to_string(&path).expect("there"), text);
        }
        std::fs::write(&thesis, "mine\n").expect("written");
        std::fs::remove_file(&path).expect("gone");
        std::os::unix::fs::symlink(&thesis, &path).expect("a link");
        assert!(Journal::open(&target, &plan(), "a", Shard::WHOLE, true).is_err());
        assert_eq!(std::fs::read_to_string(&thesis).expect("there"), "mine\n");
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
