//! Records a run while it goes on, so that a kill at any instant loses at most the last moments.

use super::identity::same_case;
use super::parts::{Identified, Parts};
use super::read::{Opened, checkpoint, guarded, summary};
use super::seal::Seal;
use super::write::{Rest, Resumable, whole};
use super::{RecordError, frames, run_may_replace};
use crate::case::Case;
use crate::outcome::{Frame, Outcome, SCHEMA, Stopped, Summary};
use crate::simulate::Checkpoint;
use crate::study::confirm::{Confirmed, History};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// A part is written at the latest when this many bytes of snapshots wait.
const WAITING_MAX: usize = 16 << 20;
/// A part is written at most this often ...
const INTERVAL_MIN: Duration = Duration::from_millis(400);
/// ... and, in a long run, no more often than after this share of the time so far: so their number stays small
/// (it grows with the logarithm of the time) while a kill loses at most this share.
const INTERVAL_SHARE: f64 = 0.02;

/// Where a run starts.
#[derive(Debug)]
pub enum Start {
    /// From its beginning.
    Beginning(Recorder),
    /// From a state that an earlier run left; the remarks tell what was found.
    Resumed { recorder: Recorder, state: Checkpoint, remarks: Vec<String> },
    /// There is nothing left to do: the record is complete.
    Complete(Box<Summary>),
}

/// Takes the snapshots and states of a run; [`Recorder::finish`] makes the record of them.
pub struct Recorder {
    target: PathBuf,
    parts: Option<Parts>,
    of: Identified,
    /// Parts written and the snapshots in them.
    written: u64,
    frames_written: u64,
    waiting: Vec<Frame>,
    waiting_bytes: usize,
    /// How many of the waiting snapshots came before the last state.
    covered: usize,
    last: Option<Checkpoint>,
    /// Between evenly spaced snapshots, s; of those in between none goes into the record.
    interval: Option<f64>,
    wall_before: f64,
    began: Instant,
    last_part: Instant,
}

impl std::fmt::Debug for Recorder {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Recorder").field("target", &self.target).field("written", &self.written).finish()
    }
}

impl Recorder {
    /// Starts a record from the beginning.
    ///
    /// # Errors
    /// Where the folder cannot be written, another run writes the same record, the target is anything but a record of the same
    /// case, or an unfinished run lies beside it.
    pub fn begin(target: &Path, case: &Case) -> Result<Recorder, RecordError> {
        Recorder::begin_over(target, case, false)
    }

    /// As [`Recorder::begin`], and where `force` whatever file lies at the target will be replaced when the run is done.
    ///
    /// # Errors
    /// As [`Recorder::begin`].
    pub fn begin_over(target: &Path, case: &Case, force: bool) -> Result<Recorder, RecordError> {
        run_may_replace(target, case, force)?;
        let recorder = Recorder::locked(target, case)?;
        if recorder.unfinished_beside() {
            return Err(RecordError::refused(
                target,
                "an unfinished run of this record lies in the folder of the same name with `.parts` added; \
                 go on with --resume, or remove that folder to start afresh",
            ));
        }
        recorder.clear_from(0)?;
        Ok(recorder)
    }

    /// Goes on with an unfinished run, or starts one if there is none.
    ///
    /// # Errors
    /// As [`Recorder::begin`]; and where what lies there belongs to another case.
    pub fn resume(target: &Path, case: &Case) -> Result<Start, RecordError> {
        crate::files::regular_file_at(target, false)?;
        let mut recorder = Recorder::locked(target, case)?;
        if let Some(found) = recorder.take_up_parts()? {
            return Ok(found.start(recorder));
        }
        if !target.exists() {
            return Ok(Start::Beginning(recorder));
        }
        recorder.take_up_record(case)
    }

    fn locked(target: &Path, case: &Case) -> Result<Recorder, RecordError> {
        let parts = Some(Parts::lock(target)?);
        let now = Instant::now();
        Ok(Recorder {
            target: target.into(),
            parts,
            of: Identified::new(case),
            written: 0,
            frames_written: 0,
            waiting: Vec::new(),
            waiting_bytes: 0,
            covered: 0,
            last: None,
            interval: None,
            wall_before: 0.0,
            began: now,
            last_part: now,
        })
    }

    fn parts(&self) -> Result<&Parts, RecordError> {
        self.parts.as_ref().ok_or_else(|| RecordError::refused(&self.target, "this recorder has finished"))
    }

    fn clear_from(&self, first: u64) -> Result<(), RecordError> {
        self.parts()?.remove_from(first)
    }

    /// Parts that a finished record of the same run does not make superfluous.
    fn unfinished_beside(&self) -> bool {
        let Some(parts) = self.parts.as_ref().filter(|parts| parts.present() > 0) else { return false };
        let of_parts = guarded(&parts.path(0), |path| Opened::file(path)?.0.text_attribute("identity"));
        let of_record = guarded(&self.target, |path| {
            let (record, _) = Opened::file(path)?;
            Ok((record.text_attribute("identity")?, !record.has("checkpoint")))
        });
        !matches!((of_parts, of_record), (Ok(a), Ok((b, true))) if a == b)
    }

    /// Takes up the parts as far as they are whole; a damaged one ends the row.
    fn take_up_parts(&mut self) -> Result<Option<Found>, RecordError> {
        let parts = self.parts()?;
        let (mut kept, mut frames, mut last, mut remarks) = (0, 0, None, Vec::new());
        for index in 0..parts.present() {
            match parts.inspect(index, &self.of) {
                Ok(part) => {
                    (kept, frames) = (index + 1, part.frames);
                    last = Some(part);
                }
                Err(error @ RecordError::Refused { .. }) => return Err(error),
                Err(error) => {
                    remarks.push(format!("{error}; going on from the part before it"));
                    break;
                }
            }
        }
        parts.remove_from(kept)?;
        let Some(part) = last else { return Ok(None) };
        (self.written, self.frames_written) = (kept, frames);
        self.wall_before = part.wall_s;
        self.last = Some(part.state.clone());
        remarks.push(format!("resumed after {frames} recorded snapshots"));
        Ok(Some(Found { state: part.state, remarks }))
    }

    /// Takes up an interrupted record: its snapshots become the first part.
    fn take_up_record(mut self, case: &Case) -> Result<Start, RecordError> {
        let (record, seal) = Opened::file(&self.target)?;
        if seal == Seal::Absent {
            return Err(record.damaged("its checksum is missing (edited by another program?), so it cannot be resumed"));
        }
        record.expect_schema(SCHEMA)?;
        if record.text_attribute("identity")? != self.of.identity {
            let there = super::read::case(&record)?;
            let keys = self.of.unlike(&serde_json::to_string(&super::identity::like(&there)).unwrap_or_default());
            let (what, way_out) = if same_case(&there, case) { ANOTHER_END } else { ANOTHER_CASE };
            return Err(RecordError::refused(&self.target, format!("{what}: {keys}. {way_out}")));
        }
        let so_far = summary(&record)?;
        if !record.has("checkpoint") {
            if so_far.stopped == Stopped::Interrupted {
                // Stopped before its first state: there is nothing to go on from but the beginning.
                return Ok(Start::Beginning(self));
            }
            self.discard()?;
            return Ok(Start::Complete(Box::new(so_far)));
        }
        let (state, before) = checkpoint(&record.group("checkpoint")?)?;
        let mut frames = frames::read(&record)?;
        if before as usize > frames.len() {
            return Err(record.damaged("its checkpoint counts more snapshots than there are"));
        }
        frames.truncate(before as usize);
        self.wall_before = so_far.cost.wall_s;
        for frame in frames {
            self.frame(frame)?;
        }
        self.covered = self.waiting.len();
        self.last = Some(state.clone());
        self.write_part()?;
        let remarks = vec![format!("resumed after {before} recorded snapshots")];
        Ok(Found { state, remarks }.start(self))
    }

    /// Seconds that earlier runs of this record took.
    pub fn wall_before(&self) -> f64 {
        self.wall_before
    }

    /// Takes one snapshot.
    ///
    /// # Errors
    /// Never at present; kept so that a later layout may write here.
    pub fn frame(&mut self, frame: Frame) -> Result<(), RecordError> {
        self.waiting_bytes += frame.bodies.iter().map(|b| 24 * b.z.len() + 96).sum::<usize>() + 32;
        self.waiting.push(frame);
        Ok(())
    }

    /// From now on evenly spaced snapshots are so many seconds apart, those taken before too.
    pub fn interval(&mut self, interval: f64) {
        self.interval = Some(interval);
    }

    fn stays(&self, frame: &Frame) -> bool {
        self.interval.is_none_or(|interval| frame.stays(interval))
    }

    /// Takes the state that follows the snapshots so far, and writes a part when it is time.
    ///
    /// # Errors
    /// Where the part cannot be written (a full disk); what was written before stays.
    pub fn checkpoint(&mut self, state: &Checkpoint) -> Result<(), RecordError> {
        self.covered = self.waiting.len();
        self.last = Some(state.clone());
        let interval = INTERVAL_MIN.max(self.began.elapsed().mul_f64(INTERVAL_SHARE));
        if self.last_part.elapsed() >= interval || self.waiting_bytes >= WAITING_MAX {
            self.write_part()?;
        }
        Ok(())
    }

    fn write_part(&mut self) -> Result<(), RecordError> {
        let Some(state) = &self.last else { return Ok(()) };
        let frames = self.frames_written + self.covered as u64;
        let wall_s = self.wall_before + self.began.elapsed().as_secs_f64();
        let covered = &self.waiting[..self.covered];
        self.parts()?.write(self.written, &self.of, wall_s, covered, Resumable { state, frames })?;
        self.written += 1;
        self.frames_written = frames;
        self.waiting.drain(..self.covered);
        self.covered = 0;
        self.waiting_bytes = 0;
        self.last_part = Instant::now();
        Ok(())
    }

    /// Merges parts and waiting snapshots into the record and removes the parts.
    ///
    /// An interrupted run keeps its last state in the record, so that it can be gone on with.
    ///
    /// # Errors
    /// Where the record cannot be written; the parts stay, and `--resume` takes them up.
    pub fn finish(self, case: &Case, outcome: &Outcome) -> Result<(), RecordError> {
        self.finish_with(case, outcome, None)
    }

    /// The same with what the full equations say of the run.
    ///
    /// # Errors
    /// As [`Recorder::finish`].
    pub fn finish_with(
        mut self,
        case: &Case,
        outcome: &Outcome,
        full: Option<(&Confirmed, &History)>,
    ) -> Result<(), RecordError> {
        self.save_for_resume_if_large()?;
        let parts = self.parts()?;
        let resumable = match &self.last {
            Some(state) if outcome.summary.stopped.can_go_on() => Some(Resumable { state, frames: self.stay()? }),
            _ => None,
        };
        whole(&self.target, &parts.folder, case, outcome, Rest { resumable, full }, |to| {
            for index in 0..self.written {
                parts.frames(index, &self.of)?.iter().filter(|frame| self.stays(frame)).try_for_each(&mut *to)?;
            }
            self.waiting.iter().filter(|frame| self.stays(frame)).try_for_each(to)
        })?;
        self.discard()
    }

    /// How many of the snapshots before the last state go into the record.
    fn stay(&self) -> Result<u64, RecordError> {
        let mut count = self.waiting[..self.covered].iter().filter(|frame| self.stays(frame)).count();
        for index in 0..self.written {
            count += self.parts()?.frames(index, &self.of)?.iter().filter(|frame| self.stays(frame)).count();
        }
        Ok(count as u64)
    }

    /// A long run that cannot be merged (full disk) must not lose what waits in memory.
    fn save_for_resume_if_large(&mut self) -> Result<(), RecordError> {
        if self.written > 0 && self.covered > 0 { self.write_part() } else { Ok(()) }
    }

    fn discard(&mut self) -> Result<(), RecordError> {
        self.parts.take().map_or(Ok(()), Parts::remove)
    }
}

impl Drop for Recorder {
    /// Without a part there is nothing to go on from: leave no litter.
    fn drop(&mut self) {
        if let Some(parts) = self.parts.take() {
            // An error here has no one to go to, and costs an empty folder at worst.
            let _ = parts.remove_if_empty();
        }
    }
}

const ANOTHER_CASE: (&str, &str) =
    ("holds a run of another case", "Run without --resume and with --force to replace it, or use another name");
const ANOTHER_END: (&str, &str) = (
    "holds a run of this case with another end",
    "A longer run is not the shorter one continued: its snapshots are spread over the whole of it. \
     Run without --resume to replace it, or use another name",
);

struct Found {
    state: Checkpoint,
    remarks: Vec<String>,
}

impl Found {
    fn start(self, recorder: Recorder) -> Start {
        Start::Resumed { recorder, state: self.state, remarks: self.remarks }
    }
}
