use super::{Failure, Output};

#[derive(Debug, clap::Args)]
pub struct Args {}

/// Run the command.
pub fn run(_args: &Args, _how: &Output) -> Result<(), Failure> {
    Err(Failure::Unfinished("this command is not connected yet".into()))
}
