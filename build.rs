//! Tells the program what it was built from: a hash of the sources that a run's numbers follow from, the commit, compiler, platform.
//! Also says early what is missing where HDF5 has to be built.

use std::path::{Path, PathBuf};
use std::process::Command;

/// Folders and files of `src` from which no number of a run follows.
const APART: [&str; 6] = ["cli", "figures", "report", "record", "main.rs", "lib.rs"];

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    println!("cargo:rerun-if-changed=Cargo.toml");
    println!("cargo:rerun-if-changed=src");
    println!("cargo:rerun-if-env-changed=SLENDERJET_COMMIT");
    let told = |name: &str, value: &str| println!("cargo:rustc-env=SLENDERJET_{name}={value}");
    told("SOURCES", &format!("{:016x}", sources()));
    told("COMMIT", &std::env::var("SLENDERJET_COMMIT").ok().or_else(commit).unwrap_or_else(|| "unknown".into()));
    let compiler = std::env::var("RUSTC").ok().and_then(|rustc| answer(Command::new(rustc).arg("-V")));
    told("COMPILER", &compiler.unwrap_or_else(|| "unknown".into()));
    told("PLATFORM", &std::env::var("TARGET").unwrap_or_else(|_| "unknown".into()));
    warn_without_cmake();
}

/// HDF5 comes as source. Without CMake its build ends in a page of text; this line stands above it.
fn warn_without_cmake() {
    println!("cargo:rerun-if-env-changed=CMAKE");
    let cmake = std::env::var("CMAKE").unwrap_or_else(|_| "cmake".into());
    if std::env::var_os("CARGO_FEATURE_RECORD").is_some() && answer(Command::new(&cmake).arg("--version")).is_none() {
        println!(
            "cargo:warning=HDF5 is built from source with CMake 3.26 or newer, and `{cmake}` is not there: install it (for example \
             `python3 -m venv .venv && .venv/bin/pip install cmake && export CMAKE=$PWD/.venv/bin/cmake`)"
        );
    }
}

fn answer(command: &mut Command) -> Option<String> {
    let done = command.output().ok().filter(|done| done.status.success())?;
    Some(String::from_utf8_lossy(&done.stdout).lines().next()?.trim().to_owned())
}

/// The commit, with a `+` where the sources differ from it.
fn commit() -> Option<String> {
    let commit = answer(Command::new("git").args(["rev-parse", "--short=12", "HEAD"]))?;
    let clean =
        Command::new("git").args(["diff", "--quiet", "HEAD", "--", "src", "Cargo.toml", "Cargo.lock"]).status().ok()?;
    Some(if clean.success() { commit } else { format!("{commit}+") })
}

/// FNV-1a (64 bits) over names and texts, in the order of names.
fn sources() -> u64 {
    let mut files = vec![PathBuf::from("Cargo.toml")];
    list(Path::new("src"), &mut files);
    files.sort();
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    for path in files {
        let text = std::fs::read(&path).unwrap_or_default();
        // The same tree gives the same hash on a machine that writes other slashes and line ends.
        let name = path.to_string_lossy().replace('\\', "/");
        for byte in name.bytes().chain(text.into_iter().filter(|byte| *byte != b'\r')) {
            hash = (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }
    hash
}

fn list(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        let apart = folder == Path::new("src") && APART.iter().any(|name| path.ends_with(name));
        match (apart, path.is_dir()) {
            (true, _) => {}
            (false, true) => list(&path, into),
            (false, false) => into.extend(path.extension().is_some_and(|e| e == "rs").then_some(path)),
        }
    }
}
