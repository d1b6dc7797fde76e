//! One file per command: arguments, printing and exit codes live here only.

use clap::{Parser, Subcommand};
use std::process::ExitCode;

macro_rules! commands {
    ($($(#[$doc:meta])* $variant:ident => $module:ident),* $(,)?) => {
        $(pub mod $module;)*

        #[derive(Debug, Subcommand)]
        enum Command {
            $($(#[$doc])* $variant($module::Args),)*
        }

        impl Command {
            fn run(&self, how: &Output) -> Result<(), Failure> {
                match self { $(Command::$variant(args) => $module::run(args, how),)* }
            }
        }
    };
}

commands! {
    /// List or write ready case files
    Example => example,
    /// Is this case well posed? Groups, pressures, expected mode, cautions; no simulation
    Check => check,
    /// Simulate: pinch-off times, drops, satellites, mode, spread
    Run => run,
    /// Where does it drip, jet, make satellites? One or two keys varied
    Map => map,
    /// Which flow rates give this drop?
    Aim => aim,
    /// The same liquids in several layouts, side by side
    Compare => compare,
    /// Growth rate against wavenumber: this model and exact theory
    Growth => growth,
    /// How uniform are measured drops really?
    Spread => spread,
    /// Paper figures from a record
    Figure => figure,
    /// One self-contained page from a record
    Report => report,
    /// Built-in liquid and interface properties
    Liquids => liquids,
}

/// How a command should speak.
#[derive(Debug, Clone, Copy, clap::Args)]
pub struct Output {
    /// One JSON object on stdout and nothing else
    #[arg(long, global = true)]
    pub json: bool,
    /// Only errors
    #[arg(short, long, global = true)]
    pub quiet: bool,
    /// More detail (repeat for more)
    #[arg(short, long, global = true, action = clap::ArgAction::Count)]
    pub verbose: u8,
}

/// Why a command ended without doing what was asked; decides the exit code.
#[derive(Debug)]
pub enum Failure {
    /// Exit 1: the computation could not finish; what was computed is kept.
    Unfinished(String),
    /// Exit 2: bad usage or bad input. The text is complete and ready to print.
    Input(String),
    /// Exit 130: interrupted by the user.
    Interrupted(String),
}

impl Failure {
    fn code(&self) -> u8 {
        match self {
            Failure::Unfinished(_) => 1,
            Failure::Input(_) => 2,
            Failure::Interrupted(_) => 130,
        }
    }

    fn text(&self) -> &str {
        match self {
            Failure::Unfinished(t) | Failure::Input(t) | Failure::Interrupted(t) => t,
        }
    }
}

#[derive(Debug, Parser)]
#[command(name = "slenderjet", version, about, arg_required_else_help = true)]
struct Root {
    #[command(flatten)]
    how: Output,
    #[command(subcommand)]
    command: Command,
}

/// Entry point of the binary.
pub fn main() -> ExitCode {
    let root = Root::parse();
    match root.command.run(&root.how) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            anstream::eprintln!("{}", failure.text());
            ExitCode::from(failure.code())
        }
    }
}
