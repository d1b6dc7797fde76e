//! `export`: the snapshots of a run as surfaces over time, for viewers of fields.

use super::source;
use super::{Failure, Output};
use crate::figures::Source;
use crate::record::{export_may_replace, vtkhdf};
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Record of a run
    #[arg(value_name = "RUN.h5")]
    source: PathBuf,
    /// File to write: VTKHDF, which ParaView and other readers built on VTK open
    #[arg(short, long, value_name = "RUN.vtkhdf")]
    output: PathBuf,
    /// Sides of the surface around the axis
    #[arg(long, value_name = "N", default_value_t = 24, value_parser = clap::value_parser!(u16).range(3..=360))]
    sides: u16,
}

/// What was written; the keys of `export --json`.
#[derive(serde::Serialize, schemars::JsonSchema)]
pub struct Exported {
    files: Vec<String>,
    /// Times in the file, each with its surfaces.
    steps: usize,
}

/// Writes the surfaces.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    let ending = args.output.extension().map(|e| e.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
    if ending != "vtkhdf" && ending != "hdf" {
        return Err(Failure::Input(format!("{}: an export ends in .vtkhdf", args.output.display())));
    }
    export_may_replace(&args.output, how.force)?;
    let run = match source::load(&args.source, how)? {
        Source::Run(run) => run,
        other => {
            let text = format!("{}: {} holds no snapshots; give the record of a run", args.source.display(), other.what());
            return Err(Failure::Input(text));
        }
    };
    vtkhdf::write(&args.output, &run, usize::from(args.sides))?;
    if how.json {
        let file = args.output.display().to_string();
        return super::print_answer(&Exported { files: vec![file], steps: run.frames.len() });
    }
    how.remark(&format!("written to {}: {} time steps", args.output.display(), run.frames.len()));
    Ok(())
}
