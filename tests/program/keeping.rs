//! Nothing is lost: what lies at an output's name stays unless it is the command's own, whatever the command, the disk, the signal.

use assert_cmd::Command;
use predicates::prelude::*;
use predicates::str::{contains, is_empty};
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// A dripping nozzle in a gas with an invented liquid, coarse so that it is quick.
const TAP: &str = r#"title = "Invented tap for a test"
layout = "pendant"
[inner]
viscosity = "23.9 mPa.s"
density = "1000 kg/m3"
flow = "122 mL/h"
[interface]
tension = "40 mN/m"
[device]
tip_bore = "2.856 mm"
[gravity]
along = "down"
[run]
drops = 2
accuracy = "coarse"
frames = 60
"#;

struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    fn new() -> Bench {
        let bench = Bench { folder: tempfile::tempdir().unwrap() };
        fs::write(bench.path("tap.toml"), TAP).unwrap();
        bench
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn read(&self, name: &str) -> Vec<u8> {
        fs::read(self.path(name)).unwrap()
    }

    /// A command line as typed, words parted by spaces.
    fn ask(&self, line: &str) -> Command {
        let mut command = Command::cargo_bin("slenderjet").unwrap();
        command.current_dir(self.folder.path()).env("COLUMNS", "200").args(line.split(' '));
        command
    }

    fn shell(&self, line: &str) -> Command {
        let program = assert_cmd::cargo::cargo_bin("slenderjet");
        let mut command = Command::new("bash");
        command
            .current_dir(self.folder.path())
            .args(["-c", &line.replace("slenderjet", &program.display().to_string())]);
        command
    }
}

/// Every command that writes, over everything that a folder of a laboratory holds.
#[test]
fn no_command_writes_over_what_is_not_its_own() {
    let bench = Bench::new();
    bench.ask("run tap.toml -o run.h5 -q").assert().success();
    fs::write(bench.path("other.toml"), TAP.replace("40 mN/m", "41 mN/m")).unwrap();
    bench.ask("run other.toml -o other.h5 -q").assert().success();
    bench.ask("map tap.toml --vary inner.flow=110..120mL/h/2 --drops 1 -o map.h5 -q").assert().success();
    bench.ask("figure strip run.h5 -o strip.svg -q").assert().success();
    fs::write(bench.path("measured.csv"), "drop,diameter_um\n1,50\n1,51\n2,50\n2,52\n3,50\n3,51\n").unwrap();
    let writers = [
        "example coflow -o",
        "run tap.toml -o",
        "map tap.toml --vary inner.flow=110..120mL/h/3 --drops 1 -o",
        "map tap.toml --vary inner.flow=110..120mL/h/2 --drops 1 --csv",
        "aim tap.toml --diameter 5mm --no-margins -o",
        "figure strip run.h5 --data numbers.csv -o",
        "figure strip run.h5 -o new.svg --data",
        "report run.h5 -o",
        "map merge map.h5 -o",
        "spread measured.csv -o",
    ];
    for name in ["other.toml", "other.h5", "map.h5", "strip.svg", "measured.csv"] {
        let before = bench.read(name);
        for writer in writers {
            let own = [
                ("map merge map.h5 -o", "map.h5"),
                ("figure strip run.h5 --data numbers.csv -o", "strip.svg"),
                ("spread measured.csv -o", "strip.svg"),
            ];
            if own.contains(&(writer, name)) {
                continue;
            }
            let command = bench.ask(&format!("{writer} {name}")).output().unwrap();
            let said = String::from_utf8_lossy(&command.stderr).into_owned();
            assert_eq!(command.status.code(), Some(2), "{writer} {name}: {said}");
            // a figure's or a page's name tells its format, and that is told first
            let names_a_way = said.contains("--force") || said.contains("ends in .");
            assert!(names_a_way, "{writer} {name}: {said}");
            assert!(bench.read(name) == before, "{writer} changed {name}");
        }
    }
    let left: Vec<_> = fs::read_dir(bench.folder.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert!(!left.iter().any(|name| name.to_string_lossy().ends_with(".tmp")), "{left:?}");
}

#[test]
fn what_is_the_commands_own_is_written_again_and_the_rest_with_force() {
    let bench = Bench::new();
    for line in [
        "run tap.toml -o run.h5 -q",
        "run tap.toml --drops 1 -o run.h5 -q",
        "figure strip run.h5 -o strip.svg --data strip.csv -q",
        "figure neck run.h5 -o strip.svg -q",
        "figure strip run.h5 -o strip.pdf --data strip.csv -q",
        "figure neck run.h5 -o strip.pdf -q",
        "figure strip run.h5 -o strip.png -q",
        "figure neck run.h5 -o strip.png -q",
        "report run.h5 -o page.html -q",
        "report run.h5 -o page.html -q",
        "man -o man1 -q",
        "man -o man1 -q",
    ] {
        bench.ask(line).assert().success();
    }
    fs::write(bench.path("tap.toml"), TAP.replace("40 mN/m", "41 mN/m")).unwrap();
    let other = contains("record of another case: `interface.tension` is 40 mN/m there and 41 mN/m here")
        .and(contains("--force"));
    bench.ask("run tap.toml -o run.h5 -q").assert().code(2).stderr(other);
    // a wholly other case: a few keys in the words of the case file, not all of them in ours
    bench.ask("example coflow -o coflow.toml -q").assert().success();
    let words = contains(" more); move it away").and(contains("{").not()).and(contains("Unbounded").not());
    bench.ask("run coflow.toml -o run.h5 -q").assert().code(2).stderr(words);
    bench.ask("run tap.toml -o run.h5 -q --force").assert().success();
    bench.ask("run tap.toml -o strip.csv -q --force").assert().success();
    assert!(bench.read("strip.csv").starts_with(b"\x89HDF"));
}

#[test]
#[cfg(unix)]
fn links_are_not_followed_and_devices_not_replaced() {
    let bench = Bench::new();
    bench.ask("run tap.toml -o run.h5 -q").assert().success();
    let thesis = bench.path("thesis");
    fs::write(&thesis, "mine").unwrap();
    for (name, line) in [
        ("link.h5", "run tap.toml -q -o link.h5"),
        ("link.svg", "figure strip run.h5 -q -o link.svg"),
        ("link.html", "report run.h5 -q -o link.html"),
        ("link.csv", "map tap.toml --vary inner.flow=110..120mL/h/2 --drops 1 -q -o link.csv"),
        ("link.toml", "example tap -q -o link.toml"),
    ] {
        std::os::unix::fs::symlink(&thesis, bench.path(name)).unwrap();
        bench.ask(line).assert().code(2).stderr(contains("symbolic link"));
        assert_eq!(bench.read("thesis"), b"mine", "{line}");
    }
    std::os::unix::fs::symlink(&thesis, bench.path("new.h5.rows")).unwrap();
    bench.ask("map tap.toml --vary inner.flow=110..120mL/h/2 --drops 1 -q -o new.h5").assert().code(2);
    assert_eq!(bench.read("thesis"), b"mine");
    bench.ask("run tap.toml -q -o /dev/null --force").assert().code(2).stderr(contains("device"));
    bench.ask("example tap -q -o /dev/null --force").assert().code(2).stderr(contains("device"));
}

#[test]
#[cfg(unix)]
fn the_umask_decides_who_may_read() {
    use std::os::unix::fs::PermissionsExt;
    let bench = Bench::new();
    for (mask, mode) in [("077", 0o600), ("022", 0o644)] {
        let lines = "slenderjet run tap.toml -q -o r.h5 && slenderjet figure strip r.h5 -q -o r.svg --data r.csv && \
                     slenderjet figure strip r.h5 -q -o r.pdf && slenderjet figure strip r.h5 -q -o r.png && \
                     slenderjet report r.h5 -q -o r.html && slenderjet example tap -q -o r.toml";
        bench.shell(&format!("umask {mask}; {lines}")).assert().success();
        for ending in ["h5", "svg", "csv", "pdf", "png", "html", "toml"] {
            let path = bench.path(&format!("r.{ending}"));
            assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, mode, "{ending} with umask {mask}");
            fs::remove_file(path).unwrap();
        }
    }
}

/// A file size limit stands for a full disk: what was there stays whole.
#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_leaves_every_output_as_it_was() {
    let bench = Bench::new();
    bench.ask("run tap.toml -o run.h5 -q").assert().success();
    bench.ask("figure strip run.h5 -o strip.png -q").assert().success();
    bench.ask("report run.h5 -o page.html -q").assert().success();
    fs::write(bench.path("case.toml"), "mine").unwrap();
    let names = || {
        let mut all: Vec<_> = fs::read_dir(bench.folder.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
        all.sort();
        all
    };
    let before = names();
    for (name, line) in [
        ("strip.png", "slenderjet figure strip run.h5 -o strip.png"),
        ("page.html", "slenderjet report run.h5 -o page.html"),
        ("case.toml", "slenderjet example coflow -o case.toml --force"),
    ] {
        let kept = bench.read(name);
        bench.shell(&format!("trap '' XFSZ; ulimit -f 0; {line}")).assert().code(1).stderr(contains("cannot write it"));
        assert!(bench.read(name) == kept, "{name}");
        assert_eq!(names(), before, "litter");
    }
}

#[test]
fn a_dash_is_standard_output_where_the_output_is_text() {
    let bench = Bench::new();
    bench.ask("run tap.toml -o run.h5 -q").assert().success();
    bench.ask("example tap -o -").assert().success().stdout(contains("layout = \"pendant\""));
    let map = "map tap.toml --vary inner.flow=110..120mL/h/2 --drops 1";
    let table = bench.ask(&format!("{map} -o -")).assert().success().get_output().stdout.clone();
    let table = String::from_utf8(table).unwrap();
    assert!(table.starts_with("inner.flow,mode,") && table.lines().count() == 3, "{table}");
    bench.ask("figure strip run.h5 -o -").assert().success().stdout(predicates::str::starts_with("<svg "));
    bench.ask("report run.h5 -o -").assert().success().stdout(predicates::str::starts_with("<!DOCTYPE html>"));
    bench.ask("run tap.toml -o -").assert().code(2).stdout(is_empty()).stderr(contains("is no text"));
    bench.ask(&format!("{map} -o - --json")).assert().code(2).stdout(is_empty());
    assert!(!bench.path("-").exists());
}

fn started(bench: &Bench, program: &[&str], drops: &str) -> std::process::Child {
    let mut command = std::process::Command::new(program[0]);
    command.args(&program[1..]);
    let binary = assert_cmd::cargo::cargo_bin("slenderjet");
    let words = ["run", "tap.toml", "-o", "run.h5", "--drops", drops];
    let pipe = std::process::Stdio::piped;
    let child = command.arg(binary).args(words).current_dir(bench.folder.path()).stdout(pipe()).stderr(pipe()).spawn();
    wait_for(&bench.path("run.h5.parts/00000.h5"));
    child.unwrap()
}

fn wait_for(path: &Path) {
    for _ in 0..3000 {
        if path.exists() {
            return;
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    panic!("{} did not come", path.display());
}

/// A closed terminal asks as Ctrl-C does; under `nohup` it asks nothing. Then the title and comments change, and `--resume` goes on.
#[test]
#[cfg(target_os = "linux")]
fn a_hangup_closes_the_record_and_a_new_title_does_not_stop_resume() {
    let bench = Bench::new();
    let hang_up = |id: u32| {
        assert!(std::process::Command::new("kill").args(["-HUP", &id.to_string()]).status().unwrap().success())
    };
    // the test itself may run under `nohup`
    let child = started(&bench, &["env", "--default-signal=HUP"], "400");
    hang_up(child.id());
    hang_up(child.id());
    let done = child.wait_with_output().unwrap();
    assert_eq!(done.status.code(), Some(130), "{}", String::from_utf8_lossy(&done.stderr));
    assert_eq!(
        slenderjet::record::read_summary(&bench.path("run.h5")).unwrap().stopped,
        slenderjet::outcome::Stopped::Interrupted
    );
    fs::write(
        bench.path("tap.toml"),
        TAP.replace("Invented tap", "Renamed tap").replace("[inner]", "# a comment\n[inner]"),
    )
    .unwrap();
    bench.ask("run tap.toml -o run.h5 --drops 400 --resume").assert().success().stderr(contains("resumed after"));
    let recorded = slenderjet::record::read(&bench.path("run.h5")).unwrap();
    assert!(recorded.case_text.contains("# a comment") && recorded.summary.title.starts_with("Renamed"));

    fs::remove_file(bench.path("run.h5")).unwrap();
    let child = started(&bench, &["nohup"], "400");
    hang_up(child.id());
    assert!(child.wait_with_output().unwrap().status.success(), "nohup keeps a run going");
}

/// Some file systems of clusters know no locks: a library loaded before C's own stands for one.
#[test]
#[cfg(target_os = "linux")]
fn a_run_is_recorded_where_files_cannot_be_locked() {
    let bench = Bench::new();
    let source = "#include <errno.h>\nint flock(int fd, int how) { (void)fd; (void)how; errno = ENOSYS; return -1; }\n";
    fs::write(bench.path("nolock.c"), source).unwrap();
    let made = std::process::Command::new("cc")
        .current_dir(bench.folder.path())
        .args(["-shared", "-fPIC", "-o", "nolock.so", "nolock.c"])
        .status();
    assert!(made.is_ok_and(|status| status.success()), "a C compiler is needed (HDF5 is built with it too)");
    let mut run = bench.ask("run tap.toml -o run.h5 -q");
    run.env("LD_PRELOAD", bench.path("nolock.so")).assert().success();
    let mut map = bench.ask("map tap.toml --vary inner.flow=110..120mL/h/2 --drops 1 -o map.h5 -q");
    map.env("LD_PRELOAD", bench.path("nolock.so")).assert().success();
    assert!(bench.path("run.h5").exists() && bench.path("map.h5").exists());
    // the same library without the lock: without the shim a second writer is refused (tests/program/cli_run.rs)
}

#[test]
fn what_people_type_is_understood_or_explained() {
    let bench = Bench::new();
    let wrong = [
        ("1000 kg/m3", "1,210 kg/m3", "`1210 kg/m3` or `1.210 kg/m3`"),
        ("2.856 mm", "1/2 mm", "did you mean `0.5 mm`?"),
        ("2.856 mm", "2-3 mm", "did you mean `2.5 mm +- 0.5 mm`?"),
        ("2.856 mm", "2.856 \u{43c}m", "Cyrillic"),
        ("title = \"Invented tap for a test\"", "title = \u{201c}Tap\u{201d}", "straight quotation marks"),
    ];
    for (right, typed, said) in wrong {
        fs::write(bench.path("typed.toml"), TAP.replace(right, typed)).unwrap();
        bench.ask("check typed.toml").assert().code(2).stderr(contains(said));
    }
    for (right, typed) in [("23.9 mPa.s", "23.9 mPas"), ("23.9 mPa.s", "23.9 cps"), ("122 mL/h", "122000 mcL/h")] {
        fs::write(bench.path("typed.toml"), TAP.replace(right, typed)).unwrap();
        bench.ask("check typed.toml").assert().success();
    }
    bench
        .ask("aim tap.toml --diameter -5um")
        .assert()
        .code(2)
        .stderr(contains("a value with a minus is written with `=`"));
    bench.ask("aim tap.toml --diameter=-5um").assert().code(2).stderr(contains("above zero"));
}

/// The C library picks variants of exp, pow and their like by the processor; without its fast ones (an older processor) every bit of
/// a record stays the same, `/provenance` aside.
#[test]
#[cfg(all(target_os = "linux", target_env = "gnu"))]
fn another_processor_gives_the_same_numbers() {
    let bench = Bench::new();
    bench.ask("example segment -o segment.toml -q").assert().success();
    bench.ask("example coflow -o coflow.toml -q").assert().success();
    for (case, more) in
        [("tap.toml", ""), ("segment.toml", ""), ("coflow.toml", " --drops 1 --set run.accuracy=coarse")]
    {
        let mut numbers = Vec::new();
        for (name, tunables) in [("new.h5", ""), ("old.h5", "glibc.cpu.hwcaps=-AVX2,-FMA,-FMA4,-AVX512F,-AVX")] {
            let mut run = bench.ask(&format!("run {case} -o {name} -q{more}"));
            run.env("GLIBC_TUNABLES", tunables).assert().success();
            let mut recorded = slenderjet::record::read(&bench.path(name)).unwrap();
            recorded.summary.provenance = Default::default();
            recorded.summary.cost.wall_s = 0.0;
            assert!(
                !recorded.summary.drops.is_empty() || recorded.summary.first_pinch.is_some(),
                "{case}: too short to tell"
            );
            numbers.push(recorded);
            fs::remove_file(bench.path(name)).unwrap();
        }
        assert!(numbers[0] == numbers[1], "{case}: the numbers hang on the processor");
    }
}

#[test]
fn the_record_says_what_computed_it() {
    let bench = Bench::new();
    bench.ask("run tap.toml -o run.h5 -q").assert().success();
    let from = slenderjet::record::read_summary(&bench.path("run.h5")).unwrap().provenance;
    assert!(from.compiler.starts_with("rustc ") && from.platform.contains(std::env::consts::ARCH), "{from:?}");
    let commit = from.commit.trim_end_matches('+');
    assert!(commit == "unknown" || (commit.len() == 12 && commit.bytes().all(|b| b.is_ascii_hexdigit())), "{from:?}");
}
