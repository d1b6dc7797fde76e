//! Answers of a study's runs in the order in which they came: a study that was stopped goes on from here.
//!
//! One JSON object a line; the first names the schema. A study asks the same cases again when it is started again, so an answer is
//! found by a hash of all that it depends on: the case with its run settings, how long the run may go on, and the build. An answer is one
//! write of one line: a kill leaves at most a torn last line, which is cut off. Files of several processes are joined by writing one
//! behind the other.

use super::RecordError;
use crate::case::Case;
use crate::files;
use crate::outcome::Summary;
use serde::{Deserialize, Serialize};
use std::collections::HashMap;
use std::fs::File;
use std::io::{BufRead, BufReader, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::Mutex;

const HEAD: &[u8] = b"{\"schema\":\"slenderjet-answers-1\"}\n";
/// Longest line that is looked at, bytes: a run of some thousand drops.
const LINE_MAX: u64 = 16 << 20;

#[derive(Debug, Serialize, Deserialize)]
struct Line {
    key: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    summary: Option<Box<Summary>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    why: Option<String>,
}

/// What a case was answered.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    Given(Box<Summary>),
    /// Why there is none, in words.
    Refused(String),
}

/// A file of answers.
#[derive(Debug)]
pub struct Answers {
    path: PathBuf,
    file: Mutex<File>,
    known: HashMap<String, Answer>,
}

/// The name under which the answer of a case is kept; `length` says how long its run may go on.
pub fn key(case: &Case, length: &str) -> String {
    let (version, build) = (env!("CARGO_PKG_VERSION"), super::build::numbers());
    super::sha256_hex(format!("{version}\n{build}\n{length}\n{case:?}").as_bytes())
}

impl Answers {
    /// Opens or begins a file, and reads what it holds.
    ///
    /// # Errors
    /// Where the folder cannot be written, another process keeps its answers there, or it is another file.
    pub fn open(path: &Path) -> Result<Answers, RecordError> {
        let io = |action| move |cause| RecordError::io(path, action, cause);
        let mut file = files::open_beside(path).map_err(io(files::IN_FOLDER))?;
        if !files::lock(&file) {
            return Err(RecordError::refused(path, "another process keeps its answers there just now"));
        }
        let Some((known, good)) = read(&file).map_err(io("read it"))? else {
            return Err(RecordError::refused(path, "it holds no answers of this program; name another file"));
        };
        file.set_len(good).map_err(io("write it"))?;
        file.seek(SeekFrom::End(0)).map_err(io("write it"))?;
        if good == 0 {
            file.write_all(HEAD).map_err(io("write it"))?;
        }
        Ok(Answers { path: path.to_owned(), file: Mutex::new(file), known })
    }

    /// How many answers there were at the start.
    pub fn len(&self) -> usize {
        self.known.len()
    }

    pub fn is_empty(&self) -> bool {
        self.known.is_empty()
    }

    pub fn get(&self, key: &str) -> Option<&Answer> {
        self.known.get(key)
    }

    /// Keeps an answer.
    ///
    /// # Errors
    /// Where the disk is full or gone.
    pub fn keep(&self, key: String, answer: &Answer) -> Result<(), RecordError> {
        let line = match answer.clone() {
            Answer::Given(summary) => Line { key, summary: Some(summary), why: None },
            Answer::Refused(why) => Line { key, summary: None, why: Some(why) },
        };
        let written = serde_json::to_vec(&line).map_err(std::io::Error::from).and_then(|mut bytes| {
            bytes.push(b'\n');
            let mut file = self.file.lock().map_err(|_| std::io::Error::other("a thread that was writing failed"))?;
            file.write_all(&bytes)
        });
        written.map_err(|cause| RecordError::io(&self.path, "write it", cause))
    }
}

/// Answers of whole lines and the length of what is good; `None` where it is another file.
fn read(file: &File) -> std::io::Result<Option<(HashMap<String, Answer>, u64)>> {
    let mut lines = BufReader::new(file);
    let (mut text, mut good, mut known) = (Vec::new(), 0_u64, HashMap::new());
    loop {
        text.clear();
        let length = lines.by_ref().take(LINE_MAX).read_until(b'\n', &mut text)? as u64;
        if good == 0 && text != HEAD {
            // A torn head lost nothing.
            return Ok(HEAD.starts_with(&text).then_some((known, 0)));
        }
        if length == 0 || text.last() != Some(&b'\n') {
            return Ok(Some((known, good)));
        }
        // Heads stand in the middle where files were joined.
        if text != HEAD {
            let Ok(Line { key, summary, why }) = serde_json::from_slice::<Line>(&text) else {
                return Ok(Some((known, good)));
            };
            match (summary, why) {
                (Some(summary), _) => drop(known.insert(key, Answer::Given(summary))),
                (None, Some(why)) => drop(known.insert(key, Answer::Refused(why))),
                (None, None) => return Ok(Some((known, good))),
            }
        }
        good += length;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{Accuracy, Stop, examples, parse};
    use crate::simulate::{Silent, simulate};

    fn case() -> Case {
        let mut case =
            parse(examples::find("segment").expect("an example").text, "segment").unwrap_or_else(|e| panic!("{e}"));
        case.run.accuracy = Accuracy::Coarse;
        case
    }

    #[test]
    fn answers_come_back_to_the_last_bit_and_a_torn_line_is_cut_off() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("answers.jsonl");
        let found = simulate(&case(), None, &mut Silent).expect("a run").summary;
        let (found, refused) = (Answer::Given(Box::new(found)), |why: &str| Answer::Refused(why.into()));
        let answers = Answers::open(&path).expect("a file");
        answers.keep("a".into(), &found).expect("kept");
        answers.keep("b".into(), &refused("no thread")).expect("kept");
        assert!(Answers::open(&path).is_err(), "held by this process");
        drop(answers);
        let whole = std::fs::read(&path).expect("there");
        let again = Answers::open(&path).expect("a file");
        assert_eq!((again.len(), again.get("a"), again.get("b")), (2, Some(&found), Some(&refused("no thread"))));
        drop(again);
        std::fs::write(&path, &whole[..whole.len() - 3]).expect("torn");
        let torn = Answers::open(&path).expect("a file");
        assert_eq!((torn.len(), torn.get("b")), (1, None));
        torn.keep("c".into(), &refused("later")).expect("kept");
        drop(torn);
        // Joined files read as one.
        let joined = [std::fs::read(&path).expect("there"), whole].concat();
        std::fs::write(&path, joined).expect("joined");
        assert_eq!(Answers::open(&path).expect("a file").len(), 3);
    }

    #[test]
    fn nothing_else_is_taken_for_answers() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("thesis.txt");
        for text in ["mine\n", "mine", "{\"schema\":\"slenderjet-map-rows-2\"}\n"] {
            std::fs::write(&path, text).expect("written");
            assert!(Answers::open(&path).is_err(), "{text}");
            assert_eq!(std::fs::read_to_string(&path).expect("there"), text);
        }
    }

    #[test]
    fn an_answer_belongs_to_its_case_its_settings_and_its_length() {
        let own = key(&case(), "Whole");
        assert_eq!(own, key(&case(), "Whole"));
        assert_ne!(own, key(&case(), "UntilAlike"));
        let mut other = case();
        other.run.stop = Stop::Drops(7);
        assert_ne!(own, key(&other, "Whole"));
        assert_ne!(own, key(&Case { tension: 1.01 * case().tension, ..case() }, "Whole"));
    }
}
