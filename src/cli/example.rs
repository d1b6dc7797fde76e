//! `example`: ready case files.

use super::text::Page;
use super::{Failure, Output, print, print_answer, print_page};
use crate::case::examples::{EXAMPLES, Example, find};
use crate::case::keys::{KEYS, LAYOUTS, Takes, left_out};
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Which example; without it the list is shown
    name: Option<String>,
    /// File to write; without it the case goes to stdout. An existing file is not overwritten
    #[arg(short, long, value_name = "FILE", requires = "name")]
    output: Option<PathBuf>,
    /// List every key of a case file: what it takes, from where to where, for which layouts
    #[arg(long, conflicts_with_all = ["name", "output"])]
    keys: bool,
}

#[derive(serde::Serialize, schemars::JsonSchema)]
pub struct Listed {
    name: &'static str,
    about: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    text: Option<&'static str>,
}

/// All examples.
#[derive(serde::Serialize, schemars::JsonSchema)]
pub struct List {
    examples: Vec<Listed>,
}

/// All keys of a case file.
#[derive(serde::Serialize, schemars::JsonSchema)]
pub struct Keys {
    keys: Vec<KeyTold>,
}

/// An example that was written to a file.
#[derive(serde::Serialize, schemars::JsonSchema)]
pub struct Placed {
    name: &'static str,
    file: String,
}

/// Lists or writes examples.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    if args.keys {
        return keys(how);
    }
    let Some(name) = &args.name else { return list(how) };
    let example = find(name).ok_or_else(|| unknown(name))?;
    match &args.output {
        Some(path) if !super::output::is_stdout(path) => write(example, path, how),
        _ if how.json => print_answer(&Listed { name: example.name, about: example.about, text: Some(example.text) }),
        _ => print(example.text),
    }
}

fn list(how: &Output) -> Result<(), Failure> {
    if how.json {
        let list: Vec<Listed> =
            EXAMPLES.iter().map(|e| Listed { name: e.name, about: e.about, text: None }).collect();
        return print_answer(&List { examples: list });
    }
    let mut page = Page::new();
    page.title("Ready case files (invented data)");
    EXAMPLES.iter().for_each(|e| page.fact(e.name, e.about));
    page.heading("Next");
    page.paragraph("slenderjet example coflow -o coflow.toml");
    page.paragraph("slenderjet example --keys    (everything that a case file may say)");
    print_page(page)
}

#[derive(serde::Serialize, schemars::JsonSchema)]
pub struct KeyTold {
    key: &'static str,
    takes: String,
    layouts: Vec<&'static str>,
    about: &'static str,
    left_out: &'static str,
    example: &'static str,
}

fn keys(how: &Output) -> Result<(), Failure> {
    let told = KEYS.iter().map(|key| KeyTold {
        key: key.name,
        takes: takes(&key.takes),
        layouts: key.layouts(),
        about: key.about,
        left_out: left_out(key.name),
        example: key.example,
    });
    if how.json {
        return print_answer(&Keys { keys: told.collect() });
    }
    let mut page = Page::new();
    page.title("Keys of a case file");
    let mut section = "";
    for key in told {
        let (own, name) = key.key.split_once('.').unwrap_or(("", key.key));
        if own != section {
            page.heading(&format!("[{own}]"));
            section = own;
        }
        let everywhere = key.layouts.len() == LAYOUTS.len();
        let layouts = if everywhere { String::new() } else { format!("; {}", key.layouts.join(", ")) };
        let otherwise = if key.left_out.is_empty() { String::new() } else { format!("; left out: {}", key.left_out) };
        page.fact(name, &format!("{}; {}{layouts}{otherwise}", key.about, key.takes));
    }
    page.heading("Quantities");
    page.paragraph(
        "A number with its unit in quotes: \"150 uL/h\", \"52 mPa.s\" (also cP, cSt where the density is known), \"7.5 mN/m \
         +- 30 %\" (the spread is for `run --uncertain`). A bare number only where there is no dimension.",
    );
    print_page(page)
}

fn takes(takes: &Takes) -> String {
    match takes {
        Takes::Text => "text".into(),
        Takes::Word(words) => words.join(" | "),
        Takes::Whole(least, most) => format!("whole number, {least} to {most}"),
        Takes::Quantity(_, least, most) => format!("{least} to {most}"),
    }
}

fn unknown(name: &str) -> Failure {
    let names: Vec<&str> = EXAMPLES.iter().map(|e| e.name).collect();
    let near = crate::case::keys::nearest_word(name, &names);
    let hint = near.map_or(String::new(), |n| format!(" (did you mean `{n}`?)"));
    Failure::Input(format!("there is no example `{}`; there are {}{hint}", crate::units::quoted(name), names.join(", ")))
}

fn write(example: &Example, path: &Path, how: &Output) -> Result<(), Failure> {
    // The README's first command may be run again: the same file twice is no conflict.
    super::output::write(path, example.text.as_bytes(), how)?;
    how.remark(&format!("{} written; try `slenderjet check {0}`", path.display()));
    if how.json { print_answer(&Placed { name: example.name, file: path.display().to_string() }) } else { Ok(()) }
}
