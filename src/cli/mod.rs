//! One file per command: arguments, printing and exit codes live here only.

use clap::{CommandFactory, Parser, Subcommand};
use std::io::{IsTerminal, Write};
use std::process::ExitCode;

pub mod answer;
pub mod case_file;
pub mod clock;
pub mod in_memory;
pub mod output;
pub mod points;
pub mod progress;
pub mod quantity;
pub mod signals;
pub mod source;
pub mod studies;
pub mod summary;
pub mod text;
pub mod trial;
pub mod uncertain;

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
    #[command(after_help = "Example:\n  slenderjet example coflow -o coflow.toml")]
    Example => example,
    /// Is this case well posed? Groups, pressures, expected mode, cautions; at most a few coarse drops simulated
    #[command(after_help = "Example:\n  slenderjet check coflow.toml")]
    Check => check,
    /// Simulate: pinch-off times, drops, satellites, mode, spread
    #[command(after_help = "Example:\n  slenderjet run coflow.toml -o run.h5\n\n\
        Ctrl-C closes the record properly; the same command with --resume goes on from there.")]
    Run => run,
    /// Where does it drip, jet, make satellites? Keys varied, or a table of cases
    #[command(after_help = "Example:\n  slenderjet map coflow.toml --vary 'inner.flow=50..500 uL/h/8log' \
        --vary 'outer.flow=2..20 mL/h/8log' -o map.h5")]
    Map => map,
    /// The same case by the full two-liquid equations without inertia: how far off is this model here?
    #[command(after_help = "Example:\n  slenderjet confirm coflow.toml")]
    Confirm => confirm,
    /// Which flow rates give this drop?
    #[command(after_help = "Example:\n  slenderjet aim coflow.toml --diameter '80 um' -o aimed.toml\n  \
        slenderjet aim coflow.toml --diameter '80 um' --choose 'device.tip_bore=10..40 um/10 um'")]
    Aim => aim,
    /// How far from the mode's border, and how far may each input drift?
    #[command(after_help = "Example:\n  slenderjet margins coflow.toml")]
    Margins => margins,
    /// Which tension, tip or scale explains measured drops, and what is predicted now?
    #[command(after_help = "Example:\n  slenderjet calibrate coflow.toml measured.csv --free interface.tension --scale '1 +- 2 %' \
        -o corrected.toml")]
    Calibrate => calibrate,
    /// The same liquids in several layouts, side by side
    #[command(after_help = "Example:\n  slenderjet compare coflow.toml counterflow.toml")]
    Compare => compare,
    /// Growth rate against wavenumber: this model and exact theory
    #[command(after_help = "Example:\n  slenderjet growth jet.toml --at 0.5,0.7")]
    Growth => growth,
    /// How uniform are measured drops really?
    #[command(after_help = "Example:\n  slenderjet spread measured.csv --against run.h5")]
    Spread => spread,
    /// Paper figures from a record
    #[command(after_help = "Example:\n  slenderjet figure strip run.h5 -o strip.pdf\n  \
        slenderjet figure --panels strip,neck run.h5 -o figure.pdf\n  \
        slenderjet figure strip:a.h5 strip:b.h5 map:map.h5 -o three.pdf\n  \
        slenderjet figure map map.h5 --axes groups --points mine.csv -o map.pdf\n  \
        slenderjet calibrate coflow.toml measured.csv --json > found.json\n  \
        slenderjet figure calibrated found.json -o rows.pdf")]
    Figure => figure,
    /// One self-contained page from a record
    #[command(after_help = "Example:\n  slenderjet report run.h5 -o report.html")]
    Report => report,
    /// The snapshots of a run as surfaces over time in VTKHDF, for ParaView and other viewers of fields
    #[command(after_help = "Example:\n  slenderjet export run.h5 -o run.vtkhdf")]
    Export => export,
    /// Built-in liquid and interface properties
    #[command(after_help = "Example:\n  slenderjet liquids water --at '25 degC'")]
    Liquids => liquids,
    /// The JSON Schema of what a command prints with --json
    #[command(after_help = "Example:\n  slenderjet schema run > run.schema.json")]
    Schema => schema,
    /// Write shell completions to stdout
    #[command(hide = true, after_help = "Example:\n  slenderjet completions bash > slenderjet.bash")]
    Completions => completions,
    /// Write manual pages
    #[command(hide = true, after_help = "Example:\n  slenderjet man -o man1")]
    Man => man,
}

/// Heading of the options that every command has.
const EVERY: &str = "Options of every command";

/// How a command should speak.
#[derive(Debug, Clone, Copy, Default, clap::Args)]
pub struct Output {
    /// One JSON object on stdout and nothing else
    #[arg(long, global = true, help_heading = EVERY)]
    pub json: bool,
    /// Only errors
    #[arg(short, long, global = true, help_heading = EVERY)]
    pub quiet: bool,
    /// More detail (repeat for more)
    #[arg(short, long, global = true, help_heading = EVERY, action = clap::ArgAction::Count)]
    pub verbose: u8,
    /// Write over whatever file has the name of an output (else only over the command's own earlier output of the same kind)
    #[arg(long, global = true, help_heading = EVERY)]
    pub force: bool,
}

impl Output {
    /// A remark on stderr, unless only errors are wanted.
    pub fn remark(&self, text: &str) {
        if !self.quiet {
            complain(text);
        }
    }

    /// A detail on stderr, if details are wanted.
    pub fn detail(&self, text: &str) {
        if self.verbose > 0 {
            complain(text);
        }
    }

    /// Whether a progress bar has someone to look at it.
    pub fn shows_progress(&self) -> bool {
        !self.quiet && std::io::stderr().is_terminal()
    }
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
    /// Bad input, in the error's own words.
    pub fn input(error: impl std::fmt::Display) -> Failure {
        Failure::Input(error.to_string())
    }

    /// A computation that could not finish, in the error's own words.
    pub fn unfinished(error: impl std::fmt::Display) -> Failure {
        Failure::Unfinished(error.to_string())
    }

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

impl From<crate::record::RecordError> for Failure {
    fn from(error: crate::record::RecordError) -> Self {
        if error.is_input() { Failure::Input(error.to_string()) } else { Failure::Unfinished(error.to_string()) }
    }
}

impl From<crate::files::FileError> for Failure {
    fn from(error: crate::files::FileError) -> Self {
        if error.is_input() { Failure::Input(error.to_string()) } else { Failure::Unfinished(error.to_string()) }
    }
}

/// Writes a line to stderr; where nobody is left to read it (the terminal is gone), that is no reason to stop.
fn complain(text: &str) {
    let _ = writeln!(anstream::stderr().lock(), "{text}");
}

/// Writes text to stdout, without its colours where stdout is no terminal or `NO_COLOR` is set.
///
/// # Errors
/// Where stdout cannot be written, for example on a full disk.
pub fn print(text: &str) -> Result<(), Failure> {
    let mut out = anstream::stdout().lock();
    let written = out.write_all(text.as_bytes()).and_then(|()| out.flush());
    written.map_err(|e| Failure::Unfinished(format!("cannot write to stdout: {e}")))
}

/// Prints a page of text.
///
/// # Errors
/// As [`print()`].
pub fn print_page(page: text::Page) -> Result<(), Failure> {
    print(&page.into_text())
}

/// An answer under the name of its schema.
#[derive(serde::Serialize)]
struct Named<'a, T> {
    schema: &'static str,
    version: &'static str,
    #[serde(flatten)]
    answer: &'a T,
}

/// Prints an answer that does not name its schema itself.
pub fn print_answer<T: schema::Answer>(answer: &T) -> Result<(), Failure> {
    print(&answer_text(answer)?)
}

/// What [`print_answer`] prints.
///
/// # Errors
/// Where it cannot be written as JSON.
pub fn answer_text<T: schema::Answer>(answer: &T) -> Result<String, Failure> {
    json(&Named { schema: T::SCHEMA, version: env!("CARGO_PKG_VERSION"), answer })
}

/// Prints one JSON object; what is no number becomes `null`.
///
/// # Errors
/// As [`print()`].
pub fn print_json<T: serde::Serialize>(value: &T) -> Result<(), Failure> {
    print(&json(value)?)
}

fn json<T: serde::Serialize>(value: &T) -> Result<String, Failure> {
    let text = serde_json::to_string_pretty(value);
    let text = text.map_err(|e| Failure::Unfinished(format!("cannot be written as JSON: {e}")))?;
    Ok(format!("{text}\n"))
}

#[derive(Debug, Parser)]
#[command(name = "slenderjet", version, about, arg_required_else_help = true)]
#[command(
    after_help = "Start here:\n  slenderjet example coflow -o coflow.toml\n  slenderjet run coflow.toml -o run.h5\n\n\
    Exit codes: 0 done; 1 could not finish (what was computed is kept); 2 bad usage or input; 130 interrupted."
)]
struct Root {
    #[command(flatten)]
    how: Output,
    #[command(subcommand)]
    command: Command,
}

/// The command line as clap knows it, for completions and manual pages.
fn definition() -> clap::Command {
    Root::command()
}

/// Entry point of the binary.
pub fn main() -> ExitCode {
    signals::end_on_closed_pipe();
    let root = match Root::try_parse() {
        Ok(root) => root,
        Err(error) => return usage(&error),
    };
    match root.command.run(&root.how) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            complain(&text::as_error(failure.text()));
            ExitCode::from(failure.code())
        }
    }
}

/// Help, the version, or what is wrong with the words typed.
fn usage(error: &clap::Error) -> ExitCode {
    use clap::error::{ContextKind, ContextValue, ErrorKind};
    let word = match error.get(ContextKind::InvalidArg) {
        Some(ContextValue::String(word)) if error.kind() == ErrorKind::UnknownArgument => word.as_str(),
        _ => "",
    };
    let typed = std::env::args().find(|a| {
        word.len() > 1 && a.starts_with(word) && a[1..].starts_with(|c: char| c.is_ascii_digit() || c == '.')
    });
    if let Some(typed) = typed {
        let typed = crate::units::quoted(&typed);
        complain(&text::as_error(&format!(
            "`{typed}` was taken for an option: a value with a minus is written with `=`, for example --until={typed}; most quantities \
             must be above zero"
        )));
        return ExitCode::from(2);
    }
    // Where stdout or stderr cannot be written there is nobody to tell.
    let _ = error.print();
    ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(2))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_command_line_is_consistent_and_every_command_has_an_example() {
        let mut root = definition();
        root.clone().debug_assert();
        for command in root.get_subcommands_mut() {
            let help = command.render_long_help().to_string();
            assert!(help.contains("Example:"), "{} has no example", command.get_name());
        }
    }
}
