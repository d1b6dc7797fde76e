//! The Slurm recipe against a real Slurm of one node (Debian packages slurm-wlm and munge), started here without systemd.
//!
//! Where the packages are missing the test says so and passes; `SLENDERJET_REQUIRE_SLURM=1` makes that a failure.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::time::{Duration, Instant};

const NEEDED: [&str; 6] = ["munged", "slurmctld", "slurmd", "sbatch", "sinfo", "scontrol"];
const VARY: [&str; 4] = ["--vary", "inner.flow=2..20 mL/min/4log", "--vary", "interface.tension=40..72 mN/m/3"];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Daemons live in sbin, which is not on everyone's path.
fn path() -> String {
    format!("{}:/usr/sbin:/sbin", std::env::var("PATH").unwrap_or_default())
}

fn missing_programs() -> Vec<&'static str> {
    let paths = path();
    let there = |name: &str| paths.split(':').any(|folder| Path::new(folder).join(name).is_file());
    NEEDED.into_iter().filter(|name| !there(name)).collect()
}

/// The one-node cluster; stopped when dropped, whatever the test does.
struct Cluster {
    folder: tempfile::TempDir,
    conf: String,
}

impl Cluster {
    fn start() -> Cluster {
        let folder = tempfile::Builder::new().prefix("sj").tempdir().expect("a folder");
        let mut cluster = Cluster { folder, conf: String::new() };
        let out = cluster.script("start");
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        cluster.conf = String::from_utf8_lossy(&out.stdout).trim().to_string();
        cluster
    }

    /// Output goes through files: the daemons that the script leaves behind would hold a pipe open.
    fn script(&self, verb: &str) -> Output {
        let (told, wrong) = (self.folder.path().join("told"), self.folder.path().join("wrong"));
        let create = |path: &Path| std::fs::File::create(path).expect("a file");
        let status = Command::new(root().join("tests/slurm/one_node.sh"))
            .arg(verb)
            .arg(self.folder.path())
            .env("PATH", path())
            .stdout(create(&told))
            .stderr(create(&wrong))
            .status()
            .expect("bash");
        let read = |path: &Path| std::fs::read(path).unwrap_or_default();
        Output { status, stdout: read(&told), stderr: read(&wrong) }
    }

    fn command(&self, program: impl AsRef<std::ffi::OsStr>, at: &Path) -> Command {
        let mut command = Command::new(program);
        command.current_dir(at).env("PATH", path()).env("SLURM_CONF", &self.conf);
        command.env("SLENDERJET", assert_cmd::cargo::cargo_bin("slenderjet")).env_remove("SLURM_CPUS_PER_TASK");
        command
    }

    /// The recipe for a map of three shards.
    fn submit(&self, at: &Path) -> String {
        let mut recipe = self.command(root().join("scripts/slurm_map.sh"), at);
        recipe.args(["-n", "3", "-o", "map.h5", "tap.toml", "--drops", "3"]).args(VARY);
        let out = recipe.output().expect("bash");
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8_lossy(&out.stdout).to_string()
    }

    /// Waits until the queue is empty.
    fn drained(&self, at: &Path) {
        let began = Instant::now();
        while began.elapsed() < Duration::from_secs(300) {
            let mut queue = self.command("timeout", at);
            let out = queue.args(["20", "squeue", "--noheader"]).output().expect("squeue");
            if out.status.success() && out.stdout.is_empty() {
                return;
            }
            std::thread::sleep(Duration::from_millis(500));
        }
        panic!("jobs are still in the queue after five minutes");
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        self.script("stop");
    }
}

fn logs(at: &Path) -> String {
    let entries = std::fs::read_dir(at).expect("a folder").filter_map(Result::ok).map(|e| e.path());
    let logs = entries.filter(|p| p.extension().is_some_and(|e| e == "log"));
    logs.map(|p| format!("{}:\n{}\n", p.display(), std::fs::read_to_string(&p).unwrap_or_default())).collect()
}

#[test]
fn job_array_computes_what_is_missing_and_merges_to_the_bytes_of_one_run() {
    let missing = missing_programs();
    if !missing.is_empty() {
        assert!(std::env::var_os("SLENDERJET_REQUIRE_SLURM").is_none(), "{missing:?} must be here");
        eprintln!("skipped: {missing:?} not installed (apt-get install --no-install-recommends slurm-wlm munge)");
        return;
    }
    let work = tempfile::tempdir().expect("a folder");
    let at = work.path();
    let slenderjet = |args: &[&str]| {
        let mut command = assert_cmd::Command::cargo_bin("slenderjet").expect("the program");
        command.current_dir(at).args(args).assert().success();
    };
    slenderjet(&["example", "tap", "-o", "tap.toml", "-q"]);
    let mut whole = vec!["map", "tap.toml", "--drops", "3", "-o", "whole.h5", "-q"];
    whole.extend(VARY);
    slenderjet(&whole);
    let cluster = Cluster::start();
    let bytes = |name: &str| std::fs::read(at.join(name)).unwrap_or_else(|e| panic!("{name}: {e}\n{}", logs(at)));

    let told = cluster.submit(at);
    assert!(told.contains("shards 1-3 of 3"), "{told}");
    cluster.drained(at);
    assert!(bytes("map.h5") == bytes("whole.h5"), "merged and whole differ\n{}", logs(at));

    // A shard is lost and the map with it: only that one is computed again.
    for name in ["map.h5", "map.2-of-3.h5"] {
        std::fs::remove_file(at.join(name)).expect("removed");
    }
    let before = std::fs::metadata(at.join("map.1-of-3.h5")).and_then(|m| m.modified()).expect("there");
    let told = cluster.submit(at);
    assert!(told.contains("shards 2 of 3"), "{told}");
    cluster.drained(at);
    assert!(bytes("map.h5") == bytes("whole.h5"), "merged and whole differ\n{}", logs(at));
    let after = std::fs::metadata(at.join("map.1-of-3.h5")).and_then(|m| m.modified()).expect("there");
    assert_eq!(before, after, "a whole shard was computed again");
    assert!(cluster.submit(at).contains("no shard is missing"));
    cluster.drained(at);
}
