//! Real runs and their records: the same case gives the same bytes, and so does a run that was interrupted or killed.

use slenderjet::case::*;
use slenderjet::outcome::{Frame, Outcome, Stopped};
use slenderjet::record::{self, Recorder, Start};
use slenderjet::simulate::{Checkpoint, Next, Observer, Progress, simulate};
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// A dripping nozzle in a gas: Oh 0.1, Bo 0.5 (invented liquid, ours), some drops, some snapshots.
fn dripping(drops: u32) -> Case {
    let (radius, density, tension) = (0.7e-3_f64, 1000.0_f64, 0.04_f64);
    let gravity = 0.5 * tension / (density * radius * radius);
    let speed = (1e-3 * tension / (density * radius)).sqrt();
    let inner = Stream {
        liquid: None,
        viscosity: 0.1 * (density * tension * radius).sqrt(),
        density,
        flow: std::f64::consts::PI * radius * radius * speed,
    };
    let mut case = Case::bare("Invented for a test", Layout::Pendant, inner, tension, 2.0 * radius);
    case.gravity = gravity;
    case.forcing = Forcing { noise: 0.002, seed: 7, ..Forcing::default() };
    case.run = RunControl { stop: Stop::Drops(drops), accuracy: Accuracy::Coarse, frames: 60 };
    case.text = "an invented case\n".into();
    case
}

struct Watch {
    recorder: Recorder,
    checkpoints: usize,
    /// Ask for the end after this many states.
    end_after: usize,
    /// Leave enough time between states for a part each.
    slowly: bool,
}

impl Observer for Watch {
    fn frame(&mut self, frame: &Frame) {
        self.recorder.frame(frame.clone()).unwrap();
    }
    fn interval(&mut self, interval: f64) {
        self.recorder.interval(interval);
    }
    fn progress(&mut self, _at: &Progress) -> Next {
        if self.checkpoints >= self.end_after { Next::Interrupt } else { Next::Continue }
    }
    fn checkpoint(&mut self, state: &Checkpoint, _so_far: &dyn Fn() -> Outcome) {
        if self.slowly {
            std::thread::sleep(Duration::from_millis(30));
        }
        self.recorder.checkpoint(state).unwrap();
        self.checkpoints += 1;
    }
}

/// Starts or resumes; true when the record is complete.
fn record_run(case: &Case, target: &Path, resume: bool, end_after: usize, slowly: bool) -> bool {
    let (recorder, state) = if resume {
        match Recorder::resume(target, case).unwrap() {
            Start::Beginning(recorder) => (recorder, None),
            Start::Resumed { recorder, state, .. } => (recorder, Some(state)),
            Start::Complete(_) => return true,
        }
    } else {
        (Recorder::begin(target, case).unwrap(), None)
    };
    let mut watch = Watch { recorder, checkpoints: 0, end_after, slowly };
    let outcome = simulate(case, state.as_ref(), &mut watch).unwrap();
    let complete = outcome.summary.stopped != Stopped::Interrupted;
    watch.recorder.finish(case, &outcome).unwrap();
    complete
}

fn unbroken(case: &Case) -> (tempfile::TempDir, Vec<u8>) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("run.h5");
    assert!(record_run(case, &path, false, usize::MAX, false));
    let back = record::read(&path).unwrap();
    assert_eq!(back.summary.stopped, Stopped::DropsReached);
    assert!(back.summary.drops.len() >= 4 && back.frames.len() > 20, "too short a run to prove anything");
    (folder, fs::read(&path).unwrap())
}

#[test]
fn the_same_case_gives_the_same_bytes() {
    let (_a, a) = unbroken(&dripping(5));
    let (_b, b) = unbroken(&dripping(5));
    assert!(a == b, "two runs of one case differ");
}

#[test]
fn a_run_interrupted_anywhere_and_resumed_gives_the_same_bytes() {
    let case = dripping(5);
    let (_folder, whole) = unbroken(&case);
    for every in [1, 7, 30] {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("run.h5");
        let mut sessions = 1;
        let mut complete = record_run(&case, &path, false, every, false);
        while !complete && sessions < 400 {
            sessions += 1;
            assert_eq!(record::read(&path).unwrap().summary.stopped, Stopped::Interrupted);
            complete = record_run(&case, &path, true, every, false);
        }
        assert!(complete && sessions >= 2, "{sessions} sessions");
        assert!(fs::read(&path).unwrap() == whole, "interrupted every {every} states, {sessions} sessions");
    }
}

/// How many times the writer is killed; a long test run raises it.
const KILLS: u64 = 15;

/// The test runs itself again as the writer and kills it (SIGKILL) at instants from a seeded generator.
#[test]
#[cfg(unix)]
fn a_run_killed_at_any_instant_and_resumed_gives_the_same_bytes() {
    let case = dripping(5);
    if let Some(target) = std::env::var_os("KILLED_RUN_TARGET") {
        record_run(&case, Path::new(&target), true, usize::MAX, true);
        return;
    }
    let (_folder, whole) = unbroken(&case);
    let kills = std::env::var("SLENDERJET_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(KILLS);
    let (mut killed, mut bits, mut rounds) = (0, 0x9E37_79B9_7F4A_7C15_u64, 0);
    while killed < kills {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("run.h5");
        rounds += 1;
        loop {
            bits = bits.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let patience = Duration::from_millis(60 + (bits >> 33) % 1100);
            if writer_ended_within(&path, patience) {
                break;
            }
            killed += 1;
            assert_parts_are_whole(folder.path());
        }
        assert!(fs::read(&path).unwrap() == whole, "round {rounds} after {killed} kills");
        let left: Vec<_> = fs::read_dir(folder.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
        assert_eq!(left, ["run.h5"], "litter");
    }
    println!("{killed} kills in {rounds} runs");
}

#[cfg(unix)]
fn writer_ended_within(target: &Path, patience: Duration) -> bool {
    let mut writer = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "record_runs::a_run_killed_at_any_instant_and_resumed_gives_the_same_bytes"])
        .env("KILLED_RUN_TARGET", target)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let began = Instant::now();
    while began.elapsed() < patience {
        if let Some(status) = writer.try_wait().unwrap() {
            assert!(status.success(), "the writer failed by itself");
            return true;
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    writer.kill().unwrap();
    writer.wait().unwrap();
    false
}

/// Whatever a kill leaves under a final name opens.
#[cfg(unix)]
fn assert_parts_are_whole(folder: &Path) {
    let Ok(parts) = fs::read_dir(folder.join("run.h5.parts")) else { return };
    for part in parts.map(|e| e.unwrap().path()).filter(|p| p.extension().is_some_and(|e| e == "h5")) {
        let file = hdf5::File::open(&part).unwrap();
        assert!(file.dataset("time").unwrap().size() > 0, "{}", part.display());
        assert!(file.dataset("checkpoint/reals").unwrap().size() > 0, "{}", part.display());
    }
}
