//! How a command's answer is laid out for people: sections of facts, tables, wrapped paragraphs.
//!
//! Colours are ANSI codes that `anstream` removes where the output is no terminal or `NO_COLOR` is set.

use crate::units::{self, Kind};
use anstyle::{AnsiColor, Style};
use comfy_table::{CellAlignment, Table, presets};
use textwrap::core::display_width;
use textwrap::{Options, WordSplitter};

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

/// Breaks a text at spaces into lines of at most `width` letters; a longer word stays whole.
fn wrap(text: &str, width: usize) -> Vec<String> {
    wrap_behind("", "", text, width)
}

/// Stands for the space between a number and its unit while lines are broken, since no line ends there.
const NO_BREAK: char = '\u{a0}';

/// A paragraph whose numbers hold on to their units.
fn held_together(line: &str) -> String {
    let mut out = String::with_capacity(line.len());
    let mut after_number = false;
    for word in line.split_whitespace() {
        if !out.is_empty() {
            out.push(if after_number && is_unit(word) { NO_BREAK } else { ' ' });
        }
        out.push_str(word);
        after_number = word.ends_with(|c: char| c.is_ascii_digit());
    }
    out
}

/// Whether a word, but for the signs after it, is a unit or stands for one: `uL`, `mPa.s`, `/s`, `%`.
fn is_unit(word: &str) -> bool {
    let bare = word.trim_end_matches([',', '.', ';', ':', ')']);
    let per_second = bare.strip_prefix('/').unwrap_or(bare);
    bare == "%" || !bare.is_empty() && Kind::all().any(|kind| units::unit(per_second, kind).is_ok())
}

/// The same with `first` in front of the first line and `rest` in front of the others.
/// Control characters are dropped: a title must not move the cursor.
fn wrap_behind(first: &str, rest: &str, text: &str, width: usize) -> Vec<String> {
    if text.trim().is_empty() {
        return Vec::new();
    }
    let paragraphs = text.lines().map(held_together);
    let clean: Vec<String> = paragraphs.map(|line| line.replace(char::is_control, "")).collect();
    let options = Options::new(width).initial_indent(first).subsequent_indent(rest);
    let options = options.break_words(false).word_splitter(WordSplitter::NoHyphenation);
    let clean = clean.join("\n");
    textwrap::wrap(&clean, options).into_iter().map(|line| line.replace(NO_BREAK, " ")).collect()
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
        let at = usual.max(display_width(label) + 4);
        self.hanging(FAINT, label, at, &wrap(value, self.width.saturating_sub(at).max(14)));
    }

    /// A label and, from column `at` on, the lines of its value.
    fn hanging(&mut self, style: Style, label: &str, at: usize, lines: &[String]) {
        for (i, line) in lines.iter().enumerate() {
            let left = if i == 0 { format!("  {label}") } else { String::new() };
            let gap = " ".repeat(at.saturating_sub(display_width(&left)).max(1));
            self.line(&format!("{style}{left}{style:#}{gap}{line}"));
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
                while display_width(last) + CUT.len() > room {
                    last.truncate(last.rfind(' ').unwrap_or(0));
                }
                last.push_str(CUT);
            }
        }
        self.hanging(STRONG, label, BRIEF_AT, &told);
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
        wrap_behind(first, rest, text, self.width).iter().for_each(|line| self.line(line));
    }

    /// Columns under headings; numbers belong to the right, so every column but the first is flush right. Where the columns do not fit
    /// the page they come closer, and where that is not enough each row is a list of its own.
    pub fn table<S: AsRef<str>>(&mut self, head: &[&str], rows: &[Vec<S>]) {
        let lines = |gap: u16| -> Vec<String> {
            let mut table = Table::new();
            table.load_style(presets::NOTHING).set_header(head);
            table.add_rows(rows.iter().map(|row| row.iter().map(AsRef::as_ref)));
            for (i, column) in table.column_iter_mut().enumerate() {
                column.set_padding((if i == 0 { 2 } else { gap }, 0));
                column.set_cell_alignment(if i == 0 { CellAlignment::Left } else { CellAlignment::Right });
            }
            table.lines().collect()
        };
        let fits = |lines: &Vec<String>| lines.iter().all(|line| display_width(line) <= self.width);
        let Some(lines) = [2, 1].map(lines).into_iter().find(fits) else { return self.lists(head, rows) };
        for (i, line) in lines.iter().enumerate() {
            let style = if i == 0 { FAINT } else { Style::new() };
            self.line(&format!("{style}{}{style:#}", line.trim_end()));
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
            assert!(text.lines().all(|l| display_width(l) <= width), "{width}\n{text}");
            assert_eq!(text.matches("pinches").count(), 25, "no word is lost");
        }
    }

    #[test]
    fn no_line_ends_between_a_number_and_its_unit() {
        let text = "10 uL of air, 12.03 MPa (120.3 bar); 0.89 mPa.s +- 3.5 %, 6.5 /s and 4 more drops";
        for width in 8..60 {
            let lines = wrap(text, width);
            for pair in lines.windows(2) {
                let (last, first) = (pair[0].rsplit(' ').next(), pair[1].split(' ').next());
                let number = last.is_some_and(|word| word.ends_with(|c: char| c.is_ascii_digit()));
                assert!(!number || first == Some("more"), "{width}: {lines:#?}");
            }
            assert_eq!(lines.join(" "), text);
        }
    }

    #[test]
    fn a_title_cannot_move_the_cursor() {
        assert_eq!(wrap("drops\u{1b}[2J of\u{7} oil", 40), ["drops[2J of oil"]);
    }

    #[test]
    fn wide_letters_count_as_they_are_shown() {
        let mut page = Page::with_width(40);
        page.title(&"液滴的大小 ".repeat(12));
        page.table(&["liquid", "d"], &[vec!["液滴", "82 µm"], vec!["oil", "7 µm"]]);
        let text = plain(page);
        assert!(text.lines().all(|l| display_width(l) <= 40), "{text}");
        assert!(text.ends_with("  liquid      d\n  液滴    82 µm\n  oil      7 µm\n"), "{text}");
    }

    #[test]
    fn a_table_that_does_not_fit_becomes_lists_and_loses_nothing() {
        let rows = [vec!["sunflower oil", "25 degC", "919", "51.19"], vec!["water", "25 degC", "997", "0.89"]];
        for width in [40, 36, 29] {
            let mut page = Page::with_width(width);
            page.table(&["liquid", "at", "kg/m3", "mPa.s"], &rows);
            let text = plain(page);
            assert!(text.lines().all(|l| display_width(l) <= width), "{width}\n{text}");
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
