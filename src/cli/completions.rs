use super::{Failure, Output, definition};
use clap_complete::Shell;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Which shell
    shell: Shell,
}

/// Writes the completions of one shell to stdout.
pub fn run(args: &Args, _how: &Output) -> Result<(), Failure> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut definition(), "slenderjet", &mut script);
    super::print(&String::from_utf8_lossy(&script))
}
