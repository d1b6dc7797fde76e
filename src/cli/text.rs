//! How a command's answer is laid out for people: sections of facts, tables, wrapped paragraphs.
//!
//! Colours are ANSI codes that `anstream` removes where the output is no terminal or `NO_COLOR` is set.

use anstyle::{AnsiColor, Style};
use std::fmt::Write as _;

/// Text is never wider than this: long lines are hard to read.
const WIDTH_MAX: usize = 100;
/// Where nobody says how wide the output is (a file, a pipe).
const WIDTH_USUAL: usize = 80;
/// Column in which the values of facts begin.
const VALUES_AT: usize = 26;
/// The same on a narrow screen, and from which width on a screen is none.
const VALUES_AT_NARROW: usize = 16;
const NARROW: usize = 64;
/// Ends a line that was cut short.
const CUT: &str = " ...";
/// Column of the values of an answer.
const BRIEF_AT: usize = 13;

const STRONG: Style = Style::new().bold();
const FAINT: Style = Style::new().dimmed();
const CAREFUL: Style = AnsiColor::Yellow.on_default().bold();
const WRONG: Style = AnsiColor::Red.on_default().bold();

/// Width of the terminal, or of `COLUMNS`, or the usual one.
pub fn terminal_width() -> usize {
    let told = std::env::var("COLUMNS").ok().and_then(|c| c.parse().ok());
    let seen = || terminal_size::terminal_size().map(|(width, _)| usize::from(width.0));
    told.or_else(seen).unwrap_or(WIDTH_USUAL).clamp(40, WIDTH_MAX)
}

/// Characters that a text takes on the screen, for the letters we use (no wide or combining ones).
fn shown(text: &str) -> usize {
    text.chars().count()
}

/// Breaks a text at spaces into lines of at most `width` characters; a longer word stays whole.
/// Control characters are dropped: a title must not move the cursor.
pub fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    for paragraph in text.lines() {
        let mut line = String::new();
        for word in paragraph.split_whitespace() {
            if !line.is_empty() && shown(&line) + 1 + shown(word) > width {
                lines.push(std::mem::take(&mut line));
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.extend(word.chars().filter(|c| !c.is_control()));
        }
        lines.push(line);
    }
    lines
}

/// An answer under construction.
#[derive(Debug, Clone)]
pub struct Page {
    width: usize,
    text: String,
}

impl Default for Page {
    fn default() -> Self {
        Page::new()
    }
}

impl Page {
    /// An empty page as wide as the terminal.
    pub fn new() -> Page {
        Page::with_width(terminal_width())
    }

    /// An empty page of a given width.
    pub fn with_width(width: usize) -> Page {
        Page { width, text: String::new() }
    }

    /// Whether only narrow tables fit.
    pub fn is_narrow(&self) -> bool {
        self.width < NARROW
    }

    fn line(&mut self, text: &str) {
        self.text.push_str(text.trim_end());
        self.text.push('\n');
    }

    /// The first line: what this is about.
    pub fn title(&mut self, text: &str) {
        for line in wrap(text, self.width) {
            self.line(&format!("{STRONG}{line}{STRONG:#}"));
        }
    }

    /// The first line of a case's answer: its title, where it has one, and its layout.
    pub fn titled(&mut self, title: &str, layout: &str) {
        self.title(&if title.trim().is_empty() { layout.to_owned() } else { format!("{title} ({layout})") });
    }

    /// A section begins.
    pub fn heading(&mut self, text: &str) {
        if !self.text.is_empty() {
            self.line("");
        }
        for line in wrap(text, self.width) {
            self.line(&format!("{STRONG}{line}{STRONG:#}"));
        }
    }

    /// A label and its value, wrapped under itself.
    pub fn fact(&mut self, label: &str, value: &str) {
        let usual = if self.width < NARROW { VALUES_AT_NARROW } else { VALUES_AT };
        let at = if shown(label) + 4 > usual { shown(label) + 4 } else { usual };
        for (i, line) in wrap(value, self.width.saturating_sub(at).max(14)).iter().enumerate() {
            let left = if i == 0 { format!("  {label}") } else { String::new() };
            let gap = " ".repeat(at - shown(&left));
            self.line(&format!("{FAINT}{left}{FAINT:#}{gap}{line}"));
        }
    }

    /// Lines that the value of an answer takes here.
    pub fn brief_lines(&self, value: &str) -> usize {
        wrap(value, self.width.saturating_sub(BRIEF_AT)).len()
    }

    /// Whether the screen is as wide as usual.
    pub fn is_usual(&self) -> bool {
        self.width >= WIDTH_USUAL
    }

    /// A line of an answer: a short label and its value, cut short (` ...`) after so many lines.
    pub fn brief(&mut self, label: &str, value: &str, lines: usize) {
        let room = self.width.saturating_sub(BRIEF_AT);
        let mut told = wrap(value, room);
        if told.len() > lines {
            told.truncate(lines);
            if let Some(last) = told.last_mut() {
                while shown(last) + CUT.len() > room {
                    last.truncate(last.rfind(' ').unwrap_or(0));
                }
                last.push_str(CUT);
            }
        }
        for (i, line) in told.iter().enumerate() {
            let left = if i == 0 { format!("  {label}") } else { String::new() };
            let gap = " ".repeat(BRIEF_AT.saturating_sub(shown(&left)).max(1));
            self.line(&format!("{STRONG}{left}{STRONG:#}{gap}{line}"));
        }
    }

    /// A label and its value, if there is one.
    pub fn fact_if(&mut self, label: &str, value: Option<String>) {
        if let Some(value) = value {
            self.fact(label, &value);
        }
    }

    /// Running text.
    pub fn paragraph(&mut self, text: &str) {
        self.indented("  ", "  ", text);
    }

    /// An entry of a list.
    pub fn item(&mut self, text: &str) {
        self.indented("  - ", "    ", text);
    }

    /// A limit that this case exceeds: its code and the number that says so.
    pub fn warning(&mut self, code: &str, text: &str) {
        self.indented(&format!("  {CAREFUL}{code}{CAREFUL:#}: "), "    ", text);
    }

    fn indented(&mut self, first: &str, rest: &str, text: &str) {
        let bare = anstream::adapter::strip_str(first).to_string();
        let wrapped = wrap(&format!("{}{text}", ".".repeat(shown(bare.trim_start()))), self.width - rest.len());
        for (i, line) in wrapped.iter().enumerate() {
            let line = if i == 0 { line.get(shown(bare.trim_start())..).unwrap_or("") } else { line };
            self.line(&format!("{}{line}", if i == 0 { first } else { rest }));
        }
    }

    /// Columns under headings; numbers belong to the right, so every column but the first is flush right. Where the columns do not fit
    /// the page they come closer, and where that is not enough each row is a list of its own.
    pub fn table<S: AsRef<str>>(&mut self, head: &[&str], rows: &[Vec<S>]) {
        let cell = |row: &Vec<S>, i: usize| row.get(i).map_or(String::new(), |c| c.as_ref().to_owned());
        let widths: Vec<usize> = (0..head.len())
            .map(|i| rows.iter().map(|row| shown(&cell(row, i))).chain([shown(head[i])]).max().unwrap_or(0))
            .collect();
        let letters: usize = widths.iter().sum();
        let gap = if 2 * widths.len() + letters > self.width { " " } else { "  " };
        if 1 + widths.len() + letters > self.width {
            return self.lists(head, rows);
        }
        let join = |cells: &[String]| {
            let mut line = String::from("  ");
            for (i, (text, width)) in cells.iter().zip(&widths).enumerate() {
                let pad = " ".repeat(width - shown(text));
                let _ = if i == 0 { write!(line, "{text}{pad}") } else { write!(line, "{gap}{pad}{text}") };
            }
            line
        };
        let head: Vec<String> = head.iter().map(|h| (*h).to_owned()).collect();
        self.line(&format!("{FAINT}{}{FAINT:#}", join(&head)));
        for row in rows {
            let cells: Vec<String> = (0..head.len()).map(|i| cell(row, i)).collect();
            self.line(&join(&cells));
        }
    }

    /// The rows of a table that is too wide: the first cell, and under it the others with their headings.
    fn lists<S: AsRef<str>>(&mut self, head: &[&str], rows: &[Vec<S>]) {
        for row in rows {
            let mut cells = row.iter().map(AsRef::as_ref).zip(head).filter(|(cell, _)| !cell.is_empty());
            let Some((first, _)) = cells.next() else { continue };
            self.indented("  ", "  ", first);
            let others: Vec<String> = cells.map(|(cell, name)| format!("{name} {cell}")).collect();
            self.indented("    ", "    ", &others.join("; "));
        }
    }

    /// The page as text with its colour codes.
    pub fn into_text(self) -> String {
        self.text
    }
}

/// `error: ...` in front of a message.
pub fn as_error(text: &str) -> String {
    if anstream::adapter::strip_str(text).to_string().trim_start().starts_with("error") {
        text.to_owned()
    } else {
        format!("{WRONG}error{WRONG:#}: {text}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain(page: Page) -> String {
        anstream::adapter::strip_str(&page.into_text()).to_string()
    }

    #[test]
    fn no_line_is_wider_than_the_page() {
        let long = "a thread of oil pinches off where its neck is thinnest and drains ".repeat(5);
        for width in [40, 57, 80, 100] {
            let mut page = Page::with_width(width);
            page.title(&long);
            page.fact("label", &long);
            page.warning("some_code", &long);
            page.item(&long);
            page.paragraph(&long);
            let text = plain(page);
            assert!(text.lines().all(|l| shown(l) <= width), "{width}\n{text}");
            assert_eq!(text.matches("pinches").count(), 25, "no word is lost");
        }
    }

    #[test]
    fn a_title_cannot_move_the_cursor() {
        assert_eq!(wrap("drops\u{1b}[2J of\u{7} oil", 40), ["drops[2J of oil"]);
    }

    #[test]
    fn a_table_that_does_not_fit_becomes_lists_and_loses_nothing() {
        let rows = [vec!["sunflower oil", "25 degC", "919", "51.19"], vec!["water", "25 degC", "997", "0.89"]];
        for width in [40, 36, 29] {
            let mut page = Page::with_width(width);
            page.table(&["liquid", "at", "kg/m3", "mPa.s"], &rows);
            let text = plain(page);
            assert!(text.lines().all(|l| shown(l) <= width), "{width}\n{text}");
            assert!(rows.iter().flatten().all(|cell| text.contains(cell)) && text.contains("mPa.s"), "{text}");
            assert_eq!(text.lines().count(), if width > 30 { 3 } else { 6 }, "{width}\n{text}");
        }
    }

    #[test]
    fn a_case_without_a_title_is_told_by_its_layout() {
        for (title, told) in [("Drops", "Drops (coflow)\n"), (" ", "coflow\n")] {
            let mut page = Page::with_width(80);
            page.titled(title, "coflow");
            assert_eq!(plain(page), told);
        }
    }

    #[test]
    fn columns_line_up() {
        let mut page = Page::with_width(80);
        page.table(&["layout", "d"], &[vec!["coflow", "82 µm"], vec!["counterflow", "7 µm"]]);
        assert_eq!(plain(page), "  layout           d\n  coflow       82 µm\n  counterflow   7 µm\n");
    }
}
