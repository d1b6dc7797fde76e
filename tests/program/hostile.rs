//! Hostile input for every reader: refused in words, with bounded memory and time, never by a panic.

use assert_cmd::cargo::cargo_bin;
use proptest::prelude::*;
use slenderjet::case::parse;
use std::fs::{self, File};
use std::io::{Seek, SeekFrom, Write};
use std::path::Path;
use std::process::{Command, Output};
use std::time::{Duration, Instant};

/// Address space of a command under test, kB: three times what the program needs for nothing.
const MEMORY_KB: u64 = 600_000;
/// Longest that a refusal may take: a gigabyte has to be read once where a checksum stands at its end.
const PATIENCE: Duration = Duration::from_secs(60);
const GIGABYTE: u64 = 1 << 30;

/// Runs the program in `folder` with little memory.
fn poor(folder: &Path, arguments: &str) -> Output {
    let began = Instant::now();
    let line = format!("ulimit -v {MEMORY_KB}; exec '{}' {arguments}", cargo_bin("slenderjet").display());
    let done = Command::new("bash").current_dir(folder).args(["-c", &line]).output().expect("bash");
    assert!(began.elapsed() < PATIENCE, "{arguments}: {:?}", began.elapsed());
    done
}

/// Exit 2 with a short word on stderr and nothing on stdout.
fn refused(folder: &Path, arguments: &str) -> String {
    let done = poor(folder, arguments);
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_eq!(done.status.code(), Some(2), "{arguments}: {said}");
    assert!(done.stdout.is_empty() && !said.is_empty() && said.len() < 20_000, "{arguments}: {} bytes", said.len());
    assert!(!said.contains("panicked"), "{said}");
    said
}

/// A gigabyte without a line end, that begins and ends with the given bytes (the middle is a hole, read as zeros).
fn gigabyte(path: &Path, first: &[u8], last: &[u8]) {
    let mut file = File::create(path).expect("made");
    file.write_all(first).expect("written");
    file.set_len(GIGABYTE).expect("sparse");
    file.seek(SeekFrom::End(-(last.len() as i64))).expect("there");
    file.write_all(last).expect("written");
}

#[test]
fn a_gigabyte_in_one_line_is_refused_by_every_reader() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    gigabyte(&at("case.toml"), b"title = \"", b"\"");
    for command in ["check case.toml", "run case.toml", "growth case.toml", "aim case.toml --diameter '80 um'"] {
        assert!(refused(folder.path(), command).contains("1 MB"), "{command}");
    }
    gigabyte(&at("readings.csv"), b"drop,diameter_um\n1,", b"9");
    refused(folder.path(), "spread readings.csv");
    gigabyte(&at("header.csv"), b"drop,", b"m");
    refused(folder.path(), "spread header.csv");
    // not HDF5; HDF5 by its first bytes; ours by its last bytes too
    let seal = format!("\nslenderjet seal, sha256 of all bytes before: {}\n", "0".repeat(64));
    for (name, first, last) in [
        ("plain.h5", &b"flow"[..], &b"9"[..]),
        ("hdf.h5", b"\x89HDF\r\n\x1a\n", b"9"),
        ("sealed.h5", b"\x89HDF\r\n\x1a\n", seal.as_bytes()),
    ] {
        gigabyte(&at(name), first, last);
        for command in [
            format!("report {name} -o page.html"),
            format!("figure strip {name} -o strip.svg"),
            format!("map merge {name} -o all.h5"),
            format!("map missing {name}"),
            format!("spread --against {name} readings.csv"),
        ] {
            refused(folder.path(), &command);
        }
    }
    gigabyte(&at("growth.json"), b"{\"wavenumber\": [", b"]}");
    refused(folder.path(), "figure growth growth.json -o growth.svg");
    assert!(!at("page.html").exists() && !at("strip.svg").exists() && !at("all.h5").exists());
}

/// A journal of rows beside a map that is one endless line is not read into memory, and thrown away only when told to.
#[test]
fn an_endless_line_in_a_maps_journal_does_not_fill_the_memory() {
    let folder = tempfile::tempdir().expect("a folder");
    let example = poor(folder.path(), "example segment -o case.toml");
    assert!(example.status.success());
    gigabyte(&folder.path().join("map.h5.rows"), b"{\"schema\": \"", b"\"}");
    let command = "map case.toml --vary 'thread.wavenumber=0.5..0.8/2' -o map.h5 --threads 1 -q";
    refused(folder.path(), command);
    let done = poor(folder.path(), &format!("{command} --force"));
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    assert!(folder.path().join("map.h5").exists() && !folder.path().join("map.h5.rows").exists());
}

#[test]
fn deep_nesting_and_huge_numbers_are_refused_in_words() {
    let folder = tempfile::tempdir().expect("a folder");
    let deep = |open: &str, close: &str| format!("title = {}{}\n", open.repeat(100_000), close.repeat(100_000));
    let tables = format!("[{}]\nx = 1\n", vec!["a"; 100_000].join("."));
    let brackets =
        format!("layout = \"pendant\"\n[inner]\nflow = \"{}1 mL/h{}\"\n", "(".repeat(50_000), ")".repeat(50_000));
    let mut texts = vec![deep("[", "]"), deep("{a=", "}"), tables, brackets];
    for number in ["1e999999999", "-1e308", "1e-400", "nan", "inf", "0x1p9", "9999999999999999999999", "1e308e308"] {
        for key in ["flow", "viscosity", "density"] {
            texts.push(format!("layout = \"pendant\"\n[inner]\n{key} = \"{number} mL/h\"\n"));
        }
        texts.push(format!("layout = \"segment\"\n[run]\ndrops = {number}\n"));
    }
    for text in texts {
        fs::write(folder.path().join("case.toml"), &text).expect("written");
        let begins: String = text.chars().take(40).collect();
        let said = refused(folder.path(), "check case.toml");
        assert!(said.contains("case.toml"), "{begins}: {said}");
    }
    let json = format!("{{\"wavenumber\": {}{}}}", "[".repeat(200_000), "]".repeat(200_000));
    fs::write(folder.path().join("growth.json"), json).expect("written");
    refused(folder.path(), "figure growth growth.json -o growth.svg");
    fs::write(folder.path().join("readings.csv"), "drop,diameter_um\n1,1e999\n2,nan\n3,-5\n4,\n").expect("written");
    let said = refused(folder.path(), "spread readings.csv");
    assert!(said.contains('2') && said.contains('5'), "all problems with their lines: {said}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// Any text at all is a case or a list of problems.
    #[test]
    fn any_text_is_judged(text in ".{0,400}") {
        if let Err(problems) = parse(&text, "any") {
            prop_assert!(problems.to_string().contains("any"));
        }
    }

    /// An example with some of its bytes exchanged is a case or a list of problems.
    #[test]
    fn a_scrambled_example_is_judged(
        number in 0_usize..6,
        swaps in proptest::collection::vec((any::<proptest::sample::Index>(), any::<u8>()), 1..8),
    ) {
        let mut bytes = slenderjet::case::examples::EXAMPLES[number].text.as_bytes().to_vec();
        for (at, byte) in swaps {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        let text = String::from_utf8_lossy(&bytes).into_owned();
        match parse(&text, "scrambled") {
            Ok(case) => prop_assert!(case.tension > 0.0 && case.inner.density > 0.0),
            Err(problems) => prop_assert!(!problems.to_string().is_empty()),
        }
    }

    /// Any bytes are a table of readings or a list of problems.
    #[test]
    fn any_bytes_are_judged_as_readings(mut bytes in proptest::collection::vec(any::<u8>(), 0..2000), headed: bool) {
        if headed {
            let mut whole = b"drop,diameter_um\n".to_vec();
            whole.append(&mut bytes);
            bytes = whole;
        }
        if let Err(errors) = slenderjet::study::spread::readings::read(&bytes[..], &Default::default()) {
            prop_assert!(!errors.problems.is_empty() && !errors.to_string().is_empty());
        }
    }
}
