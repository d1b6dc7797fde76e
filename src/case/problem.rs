//! What is wrong with a case file: as plain data, and drawn with a caret under the place.

use crate::units::quoted;
use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use serde::Serialize;
use std::ops::Range;

/// Of which kind a problem is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Code {
    /// The text is no TOML, or an argument no `KEY=VALUE`.
    Syntax,
    /// No case, or none of this layout, has such a key.
    UnknownKey,
    /// A key that is needed is not there.
    MissingKey,
    /// A number, text or table where another of them belongs.
    WrongType,
    /// No quantity of the right dimension.
    BadQuantity,
    /// A value that no device or liquid has.
    OutOfRange,
    /// A word that the key does not take.
    UnknownWord,
    /// A liquid that is not in the table, or not at that temperature.
    UnknownLiquid,
    /// Two keys that cannot both be meant.
    Contradiction,
    /// The file cannot be read.
    Unreadable,
}

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Problem {
    /// Stable word for scripts.
    pub code: Code,
    /// Line in the file, from 1; 0 where there is no line.
    pub line: usize,
    /// Column in characters, from 1; 0 where there is no line.
    pub column: usize,
    /// Dotted key, for example `inner.flow`; empty where the problem belongs to no key.
    pub key: String,
    /// What was found.
    pub found: String,
    /// What would be right.
    pub right: String,
    /// The nearest thing that would do, if one is near.
    pub nearest: Option<String>,
    /// Bytes of the file that it is about.
    #[serde(skip)]
    pub span: Range<usize>,
}

/// Everything that is wrong with a case file.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct CaseErrors {
    /// The file's name as given.
    pub file: String,
    /// In order of their places; the first `PROBLEMS_MAX` of them.
    pub problems: Vec<Problem>,
    /// How many more there are.
    pub omitted: usize,
    /// The file, for drawing; arguments stand behind it, one a line.
    #[serde(skip)]
    text: String,
    /// Where they begin.
    #[serde(skip)]
    arguments: Option<usize>,
}

/// Problems kept; a file with more is no case file.
pub const PROBLEMS_MAX: usize = 100;
/// Problems drawn.
const DRAWN_MAX: usize = 40;
/// Longer advice than this stands below the line, not behind the caret.
const LABEL_MAX: usize = 84;
/// Characters of a line that are shown about a place.
const LINE_SHOWN: usize = 96;
/// The option that keys are set with, named where one of them is wrong.
const ARGUMENT: &str = "--set";

impl CaseErrors {
    /// Problems of a file, put in order and given their lines.
    pub fn new(file: &str, text: &str, problems: Vec<Problem>) -> CaseErrors {
        CaseErrors::placed(file, text, problems, None)
    }

    /// Problems of a file and of `KEY=VALUE` arguments, which stand in `text` behind it from byte `from` on. A problem of an
    /// argument has no line.
    pub fn with_arguments(file: &str, text: &str, problems: Vec<Problem>, from: usize) -> CaseErrors {
        CaseErrors::placed(file, text, problems, Some(from))
    }

    fn placed(file: &str, text: &str, mut problems: Vec<Problem>, arguments: Option<usize>) -> CaseErrors {
        problems.sort_by_key(|p| (p.span.start, p.span.end));
        let omitted = problems.len().saturating_sub(PROBLEMS_MAX);
        problems.truncate(PROBLEMS_MAX);
        for problem in problems.iter_mut().filter(|p| arguments.is_none_or(|from| p.span.start < from)) {
            (problem.line, problem.column) = place(text, problem.span.start);
        }
        CaseErrors { file: file.to_owned(), problems, omitted, text: text.to_owned(), arguments }
    }

    /// A file that could not be read at all.
    pub fn unreadable(file: &str, found: String, right: &str) -> CaseErrors {
        let problem = Problem {
            code: Code::Unreadable,
            line: 0,
            column: 0,
            key: String::new(),
            found,
            right: right.to_owned(),
            nearest: None,
            span: 0..0,
        };
        CaseErrors { file: file.to_owned(), problems: vec![problem], omitted: 0, text: String::new(), arguments: None }
    }

    /// The problems in one line, for a table.
    pub fn in_one_line(&self) -> String {
        let one = |p: &Problem| {
            let key = if p.key.is_empty() { String::new() } else { format!("{}: ", p.key) };
            format!("{key}{}; {}", p.found, p.right)
        };
        self.problems.iter().map(one).collect::<Vec<_>>().join(" | ").replace('\n', " ")
    }

    /// The problems as text, with ANSI colours if wanted.
    pub fn rendered(&self, colour: bool) -> String {
        let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
        let mut parts: Vec<String> = self.problems.iter().take(DRAWN_MAX).map(|p| self.draw(p, &renderer)).collect();
        let more = self.problems.len().saturating_sub(DRAWN_MAX) + self.omitted;
        if more > 0 {
            parts.push(format!("... and {more} more"));
        }
        parts.join("\n\n")
    }

    fn draw(&self, problem: &Problem, renderer: &Renderer) -> String {
        let title = title(problem);
        let help = problem.nearest.as_ref().map(|nearest| format!("did you mean `{}`?", quoted(nearest)));
        let argument = self.arguments.is_some_and(|from| problem.span.start >= from);
        if problem.line == 0 && !argument {
            let group = Level::ERROR.primary_title(format!("{}: {title}", quoted(&self.file)));
            return renderer.render(&[group.element(Level::HELP.message(problem.right.clone()))]);
        }
        let (line, span) = window(&self.text, &problem.span);
        let below = problem.right.chars().count() > LABEL_MAX;
        let path = match argument {
            true => ARGUMENT.to_owned(),
            false => format!("{}:{}:{}", quoted(&self.file), problem.line, problem.column),
        };
        let snippet = Snippet::source(line).path(path.clone()).line_start(problem.line.max(1)).annotation(
            AnnotationKind::Primary.span(span).label(if below { String::new() } else { problem.right.clone() }),
        );
        let mut group = Level::ERROR.primary_title(title).element(snippet);
        if below {
            group = group.element(Level::NOTE.message(problem.right.clone()));
        }
        if let Some(help) = help {
            group = group.element(Level::HELP.message(help));
        }
        let drawn = renderer.render(&[group]);
        // The renderer adds the place within what it was shown; ours is already in the path.
        drop_second_place(&drawn, &path)
    }
}

impl std::fmt::Display for CaseErrors {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.rendered(false))
    }
}

impl std::error::Error for CaseErrors {}

/// Verbs with which `found` may go on from the key.
const VERBS: [&str; 8] = ["is ", "and ", "has ", "stands ", "changes ", "makes ", "cannot ", "belongs "];

fn title(problem: &Problem) -> String {
    let key = quoted(&problem.key);
    match problem.found.as_str() {
        found if key.is_empty() => found.to_owned(),
        found if VERBS.iter().any(|v| found.starts_with(v)) => format!("`{key}` {found}"),
        found => format!("`{key}`: {found}"),
    }
}

/// Line and column (from 1, in characters) of a byte.
fn place(text: &str, at: usize) -> (usize, usize) {
    let before = text.get(..at).unwrap_or(text);
    let line_start = before.rfind('\n').map_or(0, |i| i + 1);
    (before.matches('\n').count() + 1, before[line_start..].chars().count() + 1)
}

/// The line about a span, cut to what fits a screen, and the span within it.
fn window(text: &str, span: &Range<usize>) -> (String, Range<usize>) {
    let start = span.start.min(text.len());
    let from = text[..start].rfind('\n').map_or(0, |i| i + 1);
    let to = text[start..].find('\n').map_or(text.len(), |i| start + i);
    let (mut left, mut right) = (from, to);
    if to - from > 2 * LINE_SHOWN {
        left = boundary(text, start.saturating_sub(LINE_SHOWN / 2).max(from));
        right = boundary(text, (start + LINE_SHOWN).min(to));
    }
    let clean = |part: &str| part.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect::<String>();
    let end = boundary(text, span.end.clamp(start, right));
    let before = clean(&text[left..start]);
    let inside = clean(&text[start..end]);
    let after = clean(text[end..right].trim_end_matches('\r'));
    let place = before.len()..before.len() + inside.len();
    (format!("{before}{inside}{after}"), place)
}

/// The character boundary at or before a byte.
fn boundary(text: &str, mut at: usize) -> usize {
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// Removes the `:line:column` that the renderer appends to a path that has one.
fn drop_second_place(drawn: &str, path: &str) -> String {
    let mut out = Vec::new();
    for line in drawn.lines() {
        let cut = line.find(path).map(|at| at + path.len()).filter(|end| line[*end..].starts_with(':'));
        match cut {
            Some(end) => {
                let rest = line[end..].trim_start_matches(|c: char| c == ':' || c.is_ascii_digit());
                out.push(format!("{}{rest}", &line[..end]));
            }
            None => out.push(line.to_owned()),
        }
    }
    out.join("\n")
}
