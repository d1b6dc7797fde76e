//! The record file: what is written comes back, bit for bit; what was harmed is refused in words.
//! The runs in here are invented (see `common`); tests with real runs are in `record_runs.rs`.

use crate::common;
use common::{case, frame, frames, outcome};
use slenderjet::outcome::{Frame, Stopped};
use slenderjet::record::{self, RecordError, Recorder, Start, table};
use slenderjet::simulate::Checkpoint;
use std::fs;
use std::path::{Path, PathBuf};

fn scratch() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("run.h5");
    (folder, path)
}

fn names_in(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

fn written(frames: &[Frame]) -> (tempfile::TempDir, PathBuf) {
    let (folder, path) = scratch();
    record::write(&path, &case(), &outcome(), frames).unwrap();
    (folder, path)
}

/// Where HDF5's bytes end and the seal begins.
fn sealed_from(bytes: &[u8]) -> usize {
    let mark = b"\nslenderjet seal";
    bytes.windows(mark.len()).rposition(|w| w == mark).unwrap()
}

fn state(n: usize) -> Checkpoint {
    Checkpoint { reals: (0..n).map(|i| (i as f64).sqrt()).collect(), counts: vec![n as u64, u64::MAX] }
}

#[test]
fn what_is_written_comes_back_bit_for_bit() {
    let all = frames(700);
    let (folder, path) = written(&all);
    let back = record::read(&path).unwrap();
    let wrote = outcome();
    assert_eq!(back.case_text, case().text);
    assert_eq!(back.summary, wrote.summary);
    assert_eq!(back.frames, all);
    assert_eq!(back.pinch_offs, wrote.pinch_offs);
    assert_eq!(back.necks, wrote.necks);
    assert_eq!(back.counts, wrote.counts);
    assert_eq!(record::read_summary(&path).unwrap(), wrote.summary);
    assert_eq!(names_in(folder.path()), ["run.h5"]);
}

#[test]
fn a_run_without_snapshots_or_drops_is_a_record_too() {
    let (_folder, path) = scratch();
    let mut nothing = outcome();
    nothing.summary.drops.clear();
    nothing.pinch_offs.clear();
    nothing.necks.clear();
    record::write(&path, &case(), &nothing, &[]).unwrap();
    let back = record::read(&path).unwrap();
    assert!(back.frames.is_empty() && back.summary.drops.is_empty());
}

/// Two runs that differ in provenance alone differ in nothing but those bytes and the checksum at the end.
#[test]
fn equal_runs_give_equal_bytes_apart_from_provenance() {
    let (_a_folder, a_path) = written(&frames(300));
    let (_b_folder, b_path) = scratch();
    let mut later = outcome();
    later.summary.provenance.started = "2027-12-31T23:59:59Z".into();
    later.summary.provenance.command = "slenderjet run other/case.toml -o run.h5 -q".into();
    later.summary.provenance.host_threads = 64;
    later.summary.cost.wall_s = 99.0;
    record::write(&b_path, &case(), &later, &frames(300)).unwrap();
    let (a, b) = (fs::read(&a_path).unwrap(), fs::read(&b_path).unwrap());
    assert_eq!(a.len(), b.len());
    let differ: Vec<usize> = (0..a.len()).filter(|&i| a[i] != b[i]).collect();
    let seal = sealed_from(&a);
    let inside: Vec<usize> = differ.iter().copied().filter(|&i| i < seal).collect();
    let (first, last) = (inside[0], inside[inside.len() - 1]);
    // HDF5 may lay the attributes of one group in two blocks with others between.
    assert!(last - first < 8192, "differences spread over {first}..{last} of {}", a.len());
    let words = String::from_utf8_lossy(&a[first.saturating_sub(2048)..last]).into_owned();
    assert!(words.contains("2026-01-01T00:00:00Z"), "the differing bytes are not the provenance");
}

/// However the snapshots arrived, in one go or in parts with an interruption, the record is the same.
#[test]
fn parts_and_resume_give_the_same_bytes_as_one_go() {
    let all = frames(900);
    let (_whole_folder, whole) = written(&all);
    let (folder, path) = scratch();
    let mut recorder = Recorder::begin(&path, &case()).unwrap();
    for f in &all[..400] {
        recorder.frame(f.clone()).unwrap();
    }
    recorder.checkpoint(&state(5)).unwrap();
    recorder.frame(all[400].clone()).unwrap();
    let mut stopped = outcome();
    stopped.summary.stopped = Stopped::Interrupted;
    recorder.finish(&case(), &stopped).unwrap();
    assert_eq!(names_in(folder.path()), ["run.h5"], "no litter after an interruption");
    assert_eq!(record::read(&path).unwrap().frames.len(), 401);

    let Start::Resumed { mut recorder, state: back, .. } = Recorder::resume(&path, &case()).unwrap() else {
        panic!("an interrupted record must be resumable")
    };
    assert_eq!(back, state(5));
    for (i, f) in all[400..].iter().enumerate() {
        recorder.frame(f.clone()).unwrap();
        if i % 100 == 0 {
            std::thread::sleep(std::time::Duration::from_millis(410));
            recorder.checkpoint(&state(i)).unwrap();
        }
    }
    assert!(names_in(&folder.path().join("run.h5.parts")).len() > 3, "parts are written while the run goes on");
    recorder.finish(&case(), &outcome()).unwrap();
    assert_eq!(fs::read(&path).unwrap(), fs::read(&whole).unwrap());
    assert_eq!(names_in(folder.path()), ["run.h5"]);
    assert!(matches!(Recorder::resume(&path, &case()).unwrap(), Start::Complete(_)));
    assert_eq!(names_in(folder.path()), ["run.h5"]);
}

#[test]
fn a_run_interrupted_before_its_first_state_starts_afresh() {
    let (_folder, path) = scratch();
    let mut stopped = outcome();
    stopped.summary.stopped = Stopped::Interrupted;
    Recorder::begin(&path, &case()).unwrap().finish(&case(), &stopped).unwrap();
    assert!(matches!(Recorder::resume(&path, &case()).unwrap(), Start::Beginning(_)));
}

/// A budget that was used up is gone on from as an interruption is; what the device itself ended is complete.
#[test]
fn a_run_that_used_up_its_budget_can_be_gone_on_with() {
    let ends = [Stopped::StepBudget, Stopped::TimeBudget, Stopped::Plug, Stopped::DropsReached];
    for (end, goes_on) in ends.into_iter().zip([true, true, false, false]) {
        let (_folder, path) = scratch();
        let mut recorder = Recorder::begin(&path, &case()).unwrap();
        recorder.frame(frame(0)).unwrap();
        recorder.checkpoint(&state(5)).unwrap();
        let mut ended = outcome();
        ended.summary.stopped = end;
        recorder.finish(&case(), &ended).unwrap();
        match Recorder::resume(&path, &case()).unwrap() {
            Start::Resumed { state: back, .. } => assert!(goes_on && back == state(5), "{end}"),
            Start::Complete(_) => assert!(!goes_on, "{end}"),
            Start::Beginning(_) => panic!("{end}: nothing was kept"),
        }
    }
}

fn killed_after_two_parts(path: &Path) {
    let mut recorder = Recorder::begin(path, &case()).unwrap();
    for n in 0..2 {
        (0..50).for_each(|i| recorder.frame(frame(50 * n + i)).unwrap());
        std::thread::sleep(std::time::Duration::from_millis(410));
        recorder.checkpoint(&state(50 * (n + 1))).unwrap();
    }
}

#[test]
fn a_damaged_part_ends_the_row_and_the_run_goes_on_before_it() {
    let (folder, path) = scratch();
    killed_after_two_parts(&path);
    let part = folder.path().join("run.h5.parts/00001.h5");
    let mut bytes = fs::read(&part).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 4;
    fs::write(&part, bytes).unwrap();
    let Start::Resumed { state: back, remarks, .. } = Recorder::resume(&path, &case()).unwrap() else {
        panic!("the first part is whole")
    };
    assert_eq!(back, state(50));
    assert!(remarks[0].contains("damaged"), "{remarks:?}");
    assert!(!part.exists());
}

#[test]
fn an_unfinished_run_is_neither_overwritten_nor_mixed_with_another_case() {
    let (_folder, path) = scratch();
    killed_after_two_parts(&path);
    let refused = Recorder::begin(&path, &case()).unwrap_err();
    assert!(refused.is_input() && refused.to_string().contains("--resume"), "{refused}");
    let mut other = case();
    other.tension *= 1.0 + f64::EPSILON;
    let refused = Recorder::resume(&path, &other).unwrap_err();
    assert!(refused.to_string().contains("another case: `interface.tension` is"), "{refused}");
    let renamed = slenderjet::case::Case { title: "Another title".into(), text: "# a comment\n".into(), ..case() };
    assert!(
        matches!(Recorder::resume(&path, &renamed).unwrap(), Start::Resumed { .. }),
        "no number follows from a title"
    );
    assert!(matches!(Recorder::resume(&path, &case()).unwrap(), Start::Resumed { .. }));
}

#[test]
fn a_record_that_is_being_written_is_locked() {
    let (_folder, path) = scratch();
    let _first = Recorder::begin(&path, &case()).unwrap();
    for refused in [Recorder::begin(&path, &case()).map(drop), Recorder::resume(&path, &case()).map(drop)] {
        let refused = refused.unwrap_err();
        assert!(refused.is_input() && refused.to_string().contains("another run is writing"), "{refused}");
    }
}

#[test]
fn a_record_that_another_program_writes_to_is_left_alone() {
    let (_folder, path) = written(&frames(3));
    let held = fs::File::open(&path).unwrap();
    held.lock().unwrap();
    let refused = Recorder::begin(&path, &case()).unwrap_err();
    assert!(refused.to_string().contains("open for writing"), "{refused}");
}

#[test]
fn what_is_not_a_record_is_not_replaced() {
    let (folder, path) = scratch();
    for (name, bytes) in
        [("notes.txt", b"flow 120".as_slice()), ("empty.h5", b""), ("cut.h5", b"\x89HDF\r\n\x1a\n\0\0")]
    {
        let file = folder.path().join(name);
        fs::write(&file, bytes).unwrap();
        let refused = Recorder::begin(&file, &case()).unwrap_err();
        assert!(refused.is_input() && refused.to_string().contains("will not be replaced"), "{refused}");
        assert_eq!(fs::read(&file).unwrap(), bytes);
    }
    let refused = Recorder::begin(folder.path(), &case()).unwrap_err();
    assert!(refused.to_string().contains("is a folder"), "{refused}");
    let refused = Recorder::begin(&folder.path().join("none/run.h5"), &case()).unwrap_err();
    assert!(refused.to_string().contains("there is no folder"), "{refused}");
    assert!(!path.exists());
}

#[test]
fn a_truncated_record_is_refused_at_every_length() {
    let (folder, path) = written(&frames(20));
    let bytes = fs::read(&path).unwrap();
    let cut = folder.path().join("cut.h5");
    let body = sealed_from(&bytes);
    for len in (0..body).step_by(97) {
        fs::write(&cut, &bytes[..len]).unwrap();
        let error = record::read(&cut).unwrap_err();
        assert!(error.is_input(), "{len}: {error}");
        assert!(error.to_string().contains("cut.h5"), "{error}");
    }
}

#[test]
fn a_flipped_bit_is_found_wherever_it_is() {
    let (folder, path) = written(&frames(5));
    let bytes = fs::read(&path).unwrap();
    let flipped = folder.path().join("flipped.h5");
    let seal = sealed_from(&bytes);
    for at in (0..seal).step_by(211) {
        let mut harmed = bytes.clone();
        harmed[at] ^= 1 << (at % 8);
        fs::write(&flipped, &harmed).unwrap();
        let error = record::read(&flipped).unwrap_err();
        let right = if at < 8 { "does not begin as" } else { "do not match the checksum" };
        assert!(error.to_string().contains(right), "{at}: {error}");
    }
}

#[test]
fn foreign_and_future_files_are_named_for_what_they_are() {
    let (folder, path) = scratch();
    let foreign = folder.path().join("foreign.h5");
    let other = hdf5::File::create(&foreign).unwrap();
    other.new_dataset_builder().with_data(&[1.0, 2.0]).create("temperature").unwrap();
    other.close().unwrap();
    let error = record::read(&foreign).unwrap_err();
    assert!(matches!(error, RecordError::Foreign { .. }), "{error}");
    let refused = Recorder::begin(&foreign, &case()).unwrap_err();
    assert!(refused.to_string().contains("will not be replaced"), "{refused}");

    let future = small_table("slenderjet-run-4");
    table::write(&path, &future).unwrap();
    let error = record::read(&path).unwrap_err();
    assert!(matches!(error, RecordError::Future { .. }), "{error}");
    assert!(error.to_string().contains("slenderjet-run-4"), "{error}");
    table::write(&path, &small_table("slenderjet-map-1")).unwrap();
    assert!(matches!(record::read(&path).unwrap_err(), RecordError::Foreign { .. }));
    table::write(&path, &small_table("slenderjet-run-3")).unwrap();
    let error = record::read(&path).unwrap_err();
    assert!(error.to_string().contains("missing"), "a record without its groups: {error}");
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(64))]

    /// Random bytes, with or without the beginning of an HDF5 file, are refused in words.
    #[test]
    fn random_bytes_are_refused(mut bytes in proptest::collection::vec(proptest::prelude::any::<u8>(), 0..4096), hdf5_like: bool) {
        if hdf5_like && bytes.len() >= 8 {
            bytes[..8].copy_from_slice(b"\x89HDF\r\n\x1a\n");
        }
        let (_folder, path) = scratch();
        fs::write(&path, &bytes).unwrap();
        proptest::prop_assert!(record::read(&path).unwrap_err().is_input());
        proptest::prop_assert!(table::read(&path, "slenderjet-map-1").unwrap_err().is_input());
    }

    /// Any snapshots come back bit for bit, whatever the numbers of bodies and nodes.
    #[test]
    fn any_snapshots_come_back(counts in proptest::collection::vec(proptest::collection::vec(0_usize..60, 0..5), 0..40), bits: u64) {
        let mut value = bits | 1;
        let mut next = move || {
            value = value.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            Some(f64::from_bits(value)).filter(|v| v.is_finite()).unwrap_or(0.5)
        };
        let mut wrote = Vec::new();
        for (i, bodies) in counts.iter().enumerate() {
            let bodies = bodies.iter().map(|&n| {
                let mut list = || (0..n).map(|_| next()).collect();
                slenderjet::outcome::BodyFrame { attached: n % 2 == 0, z: list(), h: list(), u: list() }
            });
            wrote.push(Frame { time: i as f64, bodies: bodies.collect(), ..Frame::default() });
        }
        let (_folder, path) = written(&wrote);
        proptest::prop_assert_eq!(record::read(&path).unwrap().frames, wrote);
    }
}

#[test]
fn a_missing_file_is_bad_input() {
    let error = record::read(Path::new("nowhere/run.h5")).unwrap_err();
    assert!(error.is_input() && error.to_string().starts_with("nowhere/run.h5"), "{error}");
}

fn small_table(schema: &str) -> table::Table {
    let column = |name: &str, units: &str, values| table::Column {
        name: name.into(),
        units: units.into(),
        long_name: format!("invented {name}"),
        values,
    };
    table::Table {
        schema: schema.into(),
        title: "Invented for a test".into(),
        axis: "row".into(),
        attributes: vec![("plan".into(), "abc".into()), ("shard".into(), "1/4".into())],
        documents: vec![("case".into(), case().text)],
        columns: vec![
            column("inner_flow", "m3 s-1", table::Values::Reals(vec![1e-11, 2e-11, 4e-11])),
            column("drops", "1", table::Values::Whole(vec![20, 0, -1])),
            column("mode", "1", table::Values::Flags(vec![1, 0, 1], "dripping jetting".into())),
            column("reason", "1", table::Values::Texts(vec!["".into(), "step_budget".into(), "µ".into()])),
        ],
        provenance: outcome().summary.provenance,
        wall_s: 1.5,
    }
}

/// Without the seal (another program edited the file) the structural checks are left, and they find what matters.
#[test]
fn a_record_that_another_program_edited_is_read_with_structural_checks() {
    let (_folder, path) = written(&frames(5));
    let edit = |what: &dyn Fn(&hdf5::File)| {
        let file = hdf5::File::open_rw(&path).unwrap();
        what(&file);
        file.close().unwrap();
        record::read(&path)
    };
    let noted = edit(&|file| drop(file.new_attr::<i32>().create("my_note").unwrap()));
    assert_eq!(noted.unwrap().frames, frames(5), "a note of the user's does no harm");
    let nan = edit(&|file| file.dataset("h").unwrap().write_slice(&[f64::NAN], 3..4).unwrap());
    assert!(nan.unwrap_err().to_string().contains("not numbers"));
    let uneven = edit(&|file| {
        file.dataset("h").unwrap().write_slice(&[1e-5], 3..4).unwrap();
        file.dataset("bodies_in_frame").unwrap().write_slice(&[7], 0..1).unwrap();
    });
    assert!(uneven.unwrap_err().to_string().contains("do not add up"));
    let short = edit(&|file| file.dataset("u").unwrap().resize(4).unwrap());
    assert!(short.unwrap_err().to_string().contains("values but"));
    let huge = edit(&|file| file.dataset("u").unwrap().resize(1 << 40).unwrap());
    assert!(huge.unwrap_err().to_string().contains("more values than the file can hold"));
    let gone = edit(&|file| file.unlink("z").unwrap());
    assert!(gone.unwrap_err().to_string().contains("`/z` is missing"));
}

/// An edited record must not bring the bytes of another file into what is made of it.
#[test]
fn a_record_that_leads_to_another_file_is_refused() {
    type Edit<'a> = (&'a str, &'a dyn Fn(&hdf5::File, &Path));
    let edits: [Edit<'_>; 3] = [
        ("keeps its values in another file", &|file, secret| {
            file.unlink("h").unwrap();
            let len = file.dataset("z").unwrap().size();
            let plan =
                hdf5::plist::DatasetCreate::build().external(secret.to_str().unwrap(), 0, 8 * len).finish().unwrap();
            file.new_dataset_builder().set_create_plist(&plan).empty::<f64>().shape(len).create("h").unwrap();
        }),
        ("is a link to another file", &|file, secret| {
            file.unlink("neck").unwrap();
            file.link_external(secret.to_str().unwrap(), "neck", "neck").unwrap();
        }),
        ("is a soft link", &|file, _| {
            file.group("drops").unwrap().unlink("volume").unwrap();
            file.group("drops").unwrap().link_soft("/drops/diameter", "volume").unwrap();
        }),
    ];
    for (said, edit) in edits {
        let (folder, path) = written(&frames(5));
        let secret = folder.path().join("secret.bin");
        fs::write(&secret, vec![0x3f_u8; 1 << 20]).unwrap();
        let file = hdf5::File::open_rw(&path).unwrap();
        edit(&file, &secret);
        file.close().unwrap();
        let error = record::read(&path).unwrap_err();
        assert!(error.is_input() && error.to_string().contains(said), "{said}: {error}");
        let error = record::read_summary(&path).unwrap_err();
        assert!(error.to_string().contains(said), "{said}: {error}");
    }
}

#[test]
fn a_table_comes_back() {
    let (_folder, path) = scratch();
    let wrote = small_table("slenderjet-map-1");
    table::write(&path, &wrote).unwrap();
    assert_eq!(table::read(&path, "slenderjet-map-1").unwrap(), wrote);
    let mut uneven = wrote;
    uneven.columns[1].values = table::Values::Whole(vec![1]);
    assert!(table::write(&path, &uneven).unwrap_err().to_string().contains("rows"));
}

#[test]
fn a_folder_that_cannot_be_written_is_named() {
    // Root may write to read-only folders, so this one is of a kind where nobody may.
    let target = Path::new("/proc/run.h5");
    if !Path::new("/proc/self").exists() {
        return;
    }
    for error in [
        Recorder::begin(target, &case()).map(drop).unwrap_err(),
        record::write(target, &case(), &outcome(), &[]).unwrap_err(),
    ] {
        assert!(error.is_input(), "{error}");
        assert!(error.to_string().contains("cannot write in its folder"), "{error}");
    }
}

/// A file size limit stands for a full disk: writes fail in the middle of a file in the same way.
/// The test runs itself again under the limit, in the role of the writer.
#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_leaves_what_was_there() {
    if let Some(folder) = std::env::var_os("FULL_DISK_FOLDER") {
        return write_under_the_limit(Path::new(&folder));
    }
    let (folder, path) = written(&frames(3));
    let before = fs::read(&path).unwrap();
    let this = std::env::current_exe().unwrap();
    let limited = format!(
        "trap '' XFSZ; ulimit -f 256; exec '{}' --exact record::a_full_disk_leaves_what_was_there --nocapture",
        this.display()
    );
    let done = std::process::Command::new("bash")
        .args(["-c", &limited])
        .env("FULL_DISK_FOLDER", folder.path())
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&done.stdout).into_owned() + &String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "{said}");
    for what in ["part: ", "record: "] {
        let line = said.lines().find(|l| l.starts_with(what)).unwrap_or_else(|| panic!("no `{what}` in {said}"));
        assert!(line.contains("cannot write it") && line.contains("too large"), "{line}");
    }
    assert_eq!(fs::read(&path).unwrap(), before, "the old record is untouched");
    assert_eq!(names_in(folder.path()), ["run.h5"], "no litter");
}

#[cfg(target_os = "linux")]
fn write_under_the_limit(folder: &Path) {
    let many: Vec<Frame> = (0..3000).map(frame).map(roughened).collect();
    let mut recorder = Recorder::begin(&folder.join("run.h5"), &case()).unwrap();
    many.iter().for_each(|f| recorder.frame(f.clone()).unwrap());
    std::thread::sleep(std::time::Duration::from_millis(410));
    println!("\npart: {}", recorder.checkpoint(&state(3)).unwrap_err());
    drop(recorder);
    let error = record::write(&folder.join("run.h5"), &case(), &outcome(), &many).unwrap_err();
    println!("record: {error}");
}

/// Profiles that deflate badly, so that the file grows past the limit.
#[cfg(target_os = "linux")]
fn roughened(mut frame: Frame) -> Frame {
    let mut bits = frame.time.to_bits() | 1;
    for value in frame.bodies.iter_mut().flat_map(|b| b.h.iter_mut()) {
        bits = bits.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        *value *= 1.0 + (bits >> 12) as f64 / (1_u64 << 52) as f64;
    }
    frame
}

/// General readers: h5py and xarray with both engines, from the interpreter named in `SLENDERJET_PYTHON`
/// (or `.venv/bin/python`), if they are installed there.
#[test]
fn reference_readers_open_the_record_and_show_units() {
    let (folder, path) = written(&frames(60));
    read_with_python(&path);
    let empty = folder.path().join("empty.h5");
    let mut nothing = outcome();
    nothing.summary.drops.clear();
    nothing.pinch_offs.clear();
    nothing.necks.clear();
    record::write(&empty, &case(), &nothing, &frames(1)).unwrap();
    read_with_python(&empty);
}

fn read_with_python(path: &Path) {
    let Some(python) = common::python_with("h5py, xarray, h5netcdf, netCDF4") else { return };
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/scripts/read_record.py");
    let done = std::process::Command::new(python).arg(script).arg(path).output().unwrap();
    println!("{}", String::from_utf8_lossy(&done.stdout));
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
}

/// An export, by its specification and, where VTK is installed, by its own reader: times, radii and the volume inside closed bodies are
/// those of the record.
#[test]
fn vtk_reads_an_export() {
    let folder = tempfile::tempdir().unwrap();
    let (record, export) = (folder.path().join("run.h5"), folder.path().join("run.vtkhdf"));
    let sphere = |centre: f64, r: f64| {
        let angle = |k: usize| std::f64::consts::PI * k as f64 / 40.0;
        slenderjet::outcome::BodyFrame {
            attached: false,
            z: (0..=40).map(|k| centre - r * angle(k).cos()).collect(),
            h: (0..=40).map(|k| if k % 40 == 0 { 0.0 } else { r * angle(k).sin() }).collect(),
            u: vec![0.1; 41],
        }
    };
    let mut all = frames(12);
    for (i, frame) in all.iter_mut().enumerate() {
        frame.bodies.push(sphere(5e-3 + 1e-4 * i as f64, 2e-5));
    }
    record::write(&record, &case(), &outcome(), &all).unwrap();
    slenderjet::record::vtkhdf::write(&export, &record::read(&record).unwrap(), 24).unwrap();
    let vtk = || common::python_with_or("vtkmodules.vtkIOHDF, h5py", "SLENDERJET_REQUIRE_VTK");
    let Some(python) = vtk().or_else(|| common::python_with("h5py")) else { return };
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/scripts/read_vtkhdf.py");
    let done = std::process::Command::new(python).arg(script).arg(&export).arg(&record).output().unwrap();
    println!("{}", String::from_utf8_lossy(&done.stdout));
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
}
