use super::{Failure, Output, definition};
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Folder for the pages of all commands; without it the main page goes to stdout
    #[arg(short, long, value_name = "FOLDER")]
    output: Option<PathBuf>,
}

/// Writes manual pages.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    match &args.output {
        None => {
            let mut page = Vec::new();
            let rendered = clap_mangen::Man::new(definition()).render(&mut page);
            rendered.map_err(|e| Failure::Unfinished(format!("cannot make the page: {e}")))?;
            super::print(&String::from_utf8_lossy(&page))
        }
        Some(folder) => {
            let cannot = |e: std::io::Error| Failure::Input(format!("{}: cannot write there: {e}", folder.display()));
            std::fs::create_dir_all(folder).map_err(cannot)?;
            let mut root = definition();
            root.build();
            let pages = std::iter::once(root.clone()).chain(root.get_subcommands().filter(|c| c.get_name() != "help").cloned());
            for command in pages {
                let name = command.get_display_name().unwrap_or_else(|| command.get_name()).to_owned();
                let mut page = Vec::new();
                clap_mangen::Man::new(command).render(&mut page).map_err(cannot)?;
                super::output::write(&folder.join(format!("{name}.1")), &page, how)?;
            }
            how.remark(&format!("manual pages written to {}", folder.display()));
            Ok(())
        }
    }
}
