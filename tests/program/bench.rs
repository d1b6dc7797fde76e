//! The program on a folder of its own, as the tests of this folder call it.

use assert_cmd::Command;
use serde_json::Value;
use std::path::Path;

/// The program, started in `folder`, with as many threads as the machine has.
pub fn slenderjet(folder: &Path) -> Command {
    let mut command = Command::cargo_bin("slenderjet").expect("the program");
    command.current_dir(folder).env_remove("SLURM_CPUS_PER_TASK");
    command
}

/// A folder with the example of a dripping tap, which is quick.
pub fn with_tap() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    slenderjet(folder.path()).args(["example", "tap", "-o", "tap.toml", "-q"]).assert().success();
    folder
}

/// The JSON object of a command that succeeds.
pub fn json(folder: &Path, args: &[&str]) -> Value {
    let out = slenderjet(folder).args(args).args(["--json", "-q"]).output().expect("an answer");
    assert!(out.status.success(), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    crate::common::follows_schema(args[0], &out.stdout);
    serde_json::from_slice(&out.stdout).expect("one object")
}
