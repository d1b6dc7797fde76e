//! `report`: one self-contained page from a record, a map, or several records.

use super::{output, source};
use super::{Failure, Output};
use crate::figures::{FigureError, Source};
use crate::record::full::Full;
use crate::study::confirm::of_summary;
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Record of a run, a map, or the records of several runs to compare
    #[arg(required = true, value_name = "RUN.h5")]
    sources: Vec<PathBuf>,
    /// Page to write
    #[arg(short, long, value_name = "REPORT.html")]
    output: PathBuf,
    /// The full equations' drop to set beside the run's (`slenderjet confirm CASE -o FULL.h5`); that of `slenderjet run --confirm`
    /// lies in the record itself
    #[arg(long, value_name = "FULL.h5")]
    confirmed: Option<PathBuf>,
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
    let mut sources: Vec<Source> = args.sources.iter().map(|p| source::load(p, how)).collect::<Result<_, _>>()?;
    if let Some(path) = &args.confirmed {
        let [Source::Run(run)] = sources.as_mut_slice() else {
            return Err(Failure::Input("--confirmed sets a drop beside one run; name the record of one".into()));
        };
        let full = crate::record::full::read(path)?;
        // against this very run's first drop
        let told = full.told.beside(of_summary(&run.summary));
        run.full = Some(Full { told, outlines: full.outlines });
    }
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
