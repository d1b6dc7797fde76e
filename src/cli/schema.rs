//! `schema`: the JSON Schema of what a command prints with `--json`, made from the very types that are printed.

use super::text::Page;
use super::{Failure, Output, aim, calibrate, check, example, export, figure, map, print_answer, print_json, print_page, report, run};
use crate::liquids::told::Known;
use crate::study::compare::Comparison;
use crate::study::spread::Spread;
use crate::study::{crossings, growth};
use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde_json::{Value, json};

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Which command; without it all are listed
    command: Option<String>,
}

/// An answer under a name of its own.
pub trait Answer: serde::Serialize + JsonSchema {
    /// The value of its key `schema`.
    const SCHEMA: &'static str;
}

/// Gives answers their names and lists them: the command, the name, the type, when it is told.
macro_rules! answers {
    (named: $($command:literal $name:literal $type:ty, $when:literal;)* own: $($own_command:literal $own_name:expr, $own_type:ty, $own_when:literal;)*) => {
        $(impl Answer for $type {
            const SCHEMA: &'static str = $name;
        })*

        /// All answers, by command.
        fn answers() -> Vec<Entry> {
            let mut all = vec![
                $(Entry { command: $command, schema: <$type as Answer>::SCHEMA, when: $when, make: SchemaGenerator::subschema_for::<$type> },)*
                $(Entry { command: $own_command, schema: $own_name, when: $own_when, make: SchemaGenerator::subschema_for::<$own_type> },)*
            ];
            all.sort_by_key(|entry| (entry.command, entry.schema));
            all
        }
    };
}

answers! {
    named:
    "aim" "slenderjet-aim-1" aim::Told<'_>, "flows for one glass";
    "aim" "slenderjet-aim-choose-1" aim::DesignsTold<'_>, "with --choose";
    "calibrate" "slenderjet-calibrate-1" calibrate::Told<'_>, "";
    "check" "slenderjet-check-refused-1" check::Refused, "where the case is not well posed (exit 2)";
    "compare" "slenderjet-compare-1" Comparison, "";
    "example" "slenderjet-example-1" example::Listed, "one example";
    "example" "slenderjet-example-list-1" example::List, "without a name";
    "example" "slenderjet-example-keys-1" example::Keys, "with --keys";
    "example" "slenderjet-example-file-1" example::Placed, "with -o";
    "export" "slenderjet-export-1" export::Exported, "";
    "figure" "slenderjet-figure-1" figure::Drawn, "";
    "growth" "slenderjet-growth-1" growth::Growth, "";
    "liquids" "slenderjet-liquids-1" Known, "";
    "map" "slenderjet-map-missing-1" map::shards::Missing, "map missing";
    "margins" "slenderjet-margins-1" crossings::Told, "";
    "report" "slenderjet-report-1" report::Written, "";
    "schema" "slenderjet-schema-1" List, "without a command";
    "spread" "slenderjet-spread-1" Spread, "";
    own:
    "check" check::SCHEMA, check::Checked, "";
    "confirm" crate::study::confirm::SCHEMA, crate::study::confirm::Confirmed, "";
    "map" crate::study::map::SCHEMA, map::page::Told<'_>, "also map merge";
    "run" crate::outcome::SCHEMA, run::Told<'_>, "";
}

/// An answer of a command.
struct Entry {
    command: &'static str,
    schema: &'static str,
    when: &'static str,
    make: fn(&mut SchemaGenerator) -> Schema,
}

/// All schemas; the keys of `schema --json`.
#[derive(serde::Serialize, JsonSchema)]
pub struct List {
    schemas: Vec<Listed>,
}

/// One of them.
#[derive(serde::Serialize, JsonSchema)]
struct Listed {
    command: &'static str,
    /// The value of the answer's key `schema`.
    schema: &'static str,
    /// When the command tells this one.
    when: &'static str,
}

/// Prints the schema of a command, or lists all.
///
/// # Errors
/// A command that prints no JSON of its own.
pub fn run(args: &Args, how: &Output) -> Result<(), Failure> {
    let all = answers();
    let Some(command) = &args.command else { return list(&all, how) };
    let own: Vec<&Entry> = all.iter().filter(|entry| entry.command == command.as_str()).collect();
    if own.is_empty() {
        let mut names: Vec<&str> = all.iter().map(|entry| entry.command).collect();
        names.dedup();
        let near = crate::case::keys::nearest_word(command, &names).map_or(String::new(), |n| format!(" (did you mean `{n}`?)"));
        let named = crate::units::quoted(command);
        return Err(Failure::Input(format!("`{named}` is no command that answers in JSON; these do: {}{near}", names.join(", "))));
    }
    print_json(&schema(command, &own))
}

fn list(all: &[Entry], how: &Output) -> Result<(), Failure> {
    if how.json {
        let told = |e: &Entry| Listed { command: e.command, schema: e.schema, when: e.when };
        return print_answer(&List { schemas: all.iter().map(told).collect() });
    }
    let mut page = Page::new();
    page.title("Answers of --json");
    for e in all {
        let when = if e.when.is_empty() { String::new() } else { format!(" ({})", e.when) };
        page.fact(e.command, &format!("{}{when}", e.schema));
    }
    page.paragraph("slenderjet schema COMMAND prints one as JSON Schema (draft 2020-12). New keys may come; those there stay.");
    print_page(page)
}

/// One schema for all that a command tells.
fn schema(command: &str, entries: &[&Entry]) -> Value {
    let mut generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let mut answers: Vec<Value> = entries.iter().map(|entry| answer(entry, &mut generator)).collect();
    let mut whole = if answers.len() == 1 { answers.remove(0) } else { json!({ "oneOf": answers }) };
    whole["$schema"] = json!("https://json-schema.org/draft/2020-12/schema");
    whole["title"] = json!(format!("slenderjet {command} --json"));
    whole["$defs"] = json!(generator.take_definitions(true));
    in_json_words(&mut whole);
    whole
}

/// Descriptions come from the comments of our types; what these call `None` is `null` here, and their links lead nowhere.
fn in_json_words(schema: &mut Value) {
    match schema {
        Value::Object(parts) => parts.iter_mut().for_each(|(name, part)| match part {
            Value::String(text) if name == "description" => *text = without_links(text).replace("`None`", "`null`"),
            part => in_json_words(part),
        }),
        Value::Array(parts) => parts.iter_mut().for_each(in_json_words),
        _ => {}
    }
}

/// ``[`Summary::model_error`]`` as `` `model_error` ``.
fn without_links(text: &str) -> String {
    let mut parts = text.split("[`");
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        match part.split_once("`]") {
            Some((name, rest)) => {
                let name = name.rsplit("::").next().unwrap_or(name);
                out.push_str(&format!("`{name}`{rest}"));
            }
            None => out.push_str(&format!("[`{part}")),
        }
    }
    out
}

/// The type's schema and the two keys that name it.
fn answer(entry: &Entry, generator: &mut SchemaGenerator) -> Value {
    let mut schema = (entry.make)(generator).to_value();
    if !entry.when.is_empty() {
        schema["$comment"] = json!(entry.when);
    }
    schema["type"] = json!("object");
    schema["properties"] = json!({
        "schema": { "const": entry.schema, "description": "Layout of this object." },
        "version": { "type": "string", "description": "Version of the program." },
    });
    schema["required"] = json!(["schema", "version"]);
    schema
}
