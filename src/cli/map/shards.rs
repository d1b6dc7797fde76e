//! Shards of a map: which are missing, and joining them.

use super::{file, tell, write_csv};
use crate::cli::{Failure, Output, print, print_answer};
use crate::record::{self, RecordError};
use crate::study::map::{Map, merge, shard};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Work with shards
#[derive(Debug, clap::Subcommand)]
pub enum Command {
    /// Print the shards that are missing, as 2,5,8-11 (nothing if none)
    #[command(after_help = "Example:\n  slenderjet map missing map.h5 --of 12\n\n\
        Looks for map.1-of-12.h5, map.2-of-12.h5, ... beside map.h5; or name the shards themselves.\n\
        A shard that is damaged or incomplete counts as missing.")]
    Missing {
        /// The map that the shards will make, or the shards that are there
        #[arg(required = true, value_name = "MAP.h5")]
        files: Vec<PathBuf>,
        /// How many shards there should be (else as the shards that are there say)
        #[arg(long, value_name = "N")]
        of: Option<usize>,
    },
    /// Join shards into the map; refuses shards that are missing, incomplete, doubled or of another plan
    #[command(after_help = "Example:\n  slenderjet map merge map.*-of-12.h5 -o map.h5")]
    Merge {
        #[arg(required = true, value_name = "SHARD.h5")]
        shards: Vec<PathBuf>,
        /// Map to write (HDF5)
        #[arg(short, long, value_name = "MAP.h5")]
        output: PathBuf,
        /// The table as CSV too
        #[arg(long, value_name = "FILE.csv")]
        csv: Option<PathBuf>,
    },
}

/// Shards that are not there; the keys of `map missing --json`.
#[derive(serde::Serialize, schemars::JsonSchema)]
pub struct Missing {
    /// Into how many the map is divided.
    shards: usize,
    /// Their numbers, from 1.
    missing: Vec<usize>,
    /// The same as ranges, for the array of a queue.
    list: String,
    complete: bool,
}

/// Answers `map missing` or `map merge`.
pub fn run(command: &Command, how: &Output) -> Result<(), Failure> {
    match command {
        Command::Missing { files, of } => missing(files, *of, how),
        Command::Merge { shards, output, csv } => {
            let maps: Result<Vec<Map>, RecordError> = shards.iter().map(|path| file::read(path)).collect();
            let whole = merge(maps?).map_err(Failure::input)?;
            record::map_may_replace(output, &whole, how.force)?;
            file::write(output, &whole)?;
            csv.iter().try_for_each(|path| write_csv(path, &whole, how))?;
            how.remark(&format!("{} shards joined into {}", shards.len(), output.display()));
            tell(&whole, None, how)
        }
    }
}

/// Shards that are there and whole, and into how many the map is divided.
struct Seen {
    of: usize,
    there: BTreeSet<usize>,
}

fn missing(files: &[PathBuf], of: Option<usize>, how: &Output) -> Result<(), Failure> {
    let seen = look(files, of, how)?;
    let missing: Vec<usize> = (1..=seen.of).filter(|index| !seen.there.contains(index)).collect();
    let list = shard::list(&missing);
    if how.json {
        return print_answer(&Missing { shards: seen.of, complete: missing.is_empty(), missing, list });
    }
    if missing.is_empty() { Ok(()) } else { print(&format!("{list}\n")) }
}

fn look(files: &[PathBuf], of: Option<usize>, how: &Output) -> Result<Seen, Failure> {
    let mut named: Vec<(PathBuf, Option<usize>)> = Vec::new();
    for path in files {
        let beside = beside(path)?;
        match beside.is_empty() && path.exists() {
            true => named.push((path.clone(), None)),
            false => named.extend(beside.into_iter().map(|(path, of)| (path, Some(of)))),
        }
    }
    let mut divided: BTreeSet<usize> = of.into_iter().collect();
    if of.is_none() {
        divided.extend(named.iter().filter_map(|(_, of)| *of));
    }
    let (mut there, mut hash) = (BTreeSet::new(), None);
    for (path, _) in named.iter().filter(|(_, named)| of.is_none() || named.is_none() || *named == of) {
        let map = match file::read(path) {
            Ok(map) => map,
            Err(error) => {
                how.remark(&format!("counted as missing: {error}"));
                continue;
            }
        };
        if of.is_none() {
            divided.insert(map.shard.of);
        }
        let same_plan = *hash.get_or_insert_with(|| map.plan_hash.clone()) == map.plan_hash;
        if !same_plan || divided.len() > 1 || !divided.contains(&map.shard.of) {
            return Err(Failure::Input(format!("{}: its shard {} belongs to another map than the others", path.display(), map.shard)));
        }
        if map.holes().is_empty() {
            there.insert(map.shard.index);
        } else {
            how.remark(&format!("counted as missing: {} lacks some of its cells", path.display()));
        }
    }
    match divided.into_iter().next() {
        Some(of) if of > 0 => Ok(Seen { of, there }),
        _ => Err(Failure::Input("no shard is there yet, so tell how many there should be: --of N".into())),
    }
}

/// Files `STEM.I-of-N.h5` beside `STEM.h5`, with their N.
fn beside(target: &Path) -> Result<Vec<(PathBuf, usize)>, Failure> {
    let folder = match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let Some(stem) = target.file_stem().map(|s| s.to_string_lossy().into_owned()) else { return Ok(Vec::new()) };
    let listed = std::fs::read_dir(folder);
    let listed = listed.map_err(|e| Failure::Input(format!("{}: cannot be read: {e}", folder.display())))?;
    let mut found: Vec<(PathBuf, usize)> = listed
        .filter_map(Result::ok)
        .filter_map(|entry| {
            let name = entry.file_name().to_string_lossy().into_owned();
            let middle = name.strip_prefix(&stem)?.strip_prefix('.')?.strip_suffix(".h5")?;
            let (index, of) = middle.split_once("-of-")?;
            index.parse::<usize>().ok()?;
            Some((entry.path(), of.parse().ok()?))
        })
        .collect();
    found.sort();
    Ok(found)
}
