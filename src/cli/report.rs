//! `report`: one self-contained page from a record, a map, or several records.

use super::{output, source};
use super::{Failure, Output};
use crate::figures::{FigureError, Source};
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Record of a run, a map, or the records of several runs to compare
    #[arg(required = true, value_name = "RUN.h5")]
    sources: Vec<PathBuf>,
    /// Page to write
    #[arg(short, long, value_name = "REPORT.html")]
    output: PathBuf,
}

/// What was written; the keys of `report --json`.
#[derive(serde::Serialize, schemars::JsonSchema)]
pub struct Written {
    files: Vec<String>,
    /// Size of the page.
    bytes: usize,
}

/// Writes a page.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    let ending = args.output.extension().map(|e| e.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
    if ending != "html" && ending != "htm" && !output::is_stdout(&args.output) {
        return Err(Failure::Input(format!("{}: a report ends in .html", args.output.display())));
    }
    let sources: Vec<Source> = args.sources.iter().map(|p| source::load(p, how)).collect::<Result<_, _>>()?;
    let page = crate::report::page(&sources, &source::command_line()).map_err(|e| match e {
        FigureError::Rendering(_) => Failure::Unfinished(e.to_string()),
        _ => Failure::Input(format!("{}: {e}", args.sources[0].display())),
    })?;
    output::write(&args.output, page.as_bytes(), how)?;
    if output::is_stdout(&args.output) {
        return Ok(());
    }
    if how.json {
        return super::print_answer(&Written { files: vec![args.output.display().to_string()], bytes: page.len() });
    }
    how.remark(&format!("written to {}", args.output.display()));
    Ok(())
}
