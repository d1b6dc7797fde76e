//! The page that a referee reads, made from the rows.

use super::{Topic, Verdict};
use slenderjet::thread::closures::fitted;
use std::fmt::Write;

const SECTIONS: [(char, &str, &str); 4] = [
    (
        'A',
        "Theory evaluated by our own code",
        "Exact relations recomputed by `src/theory` against tables made apart from this program.",
    ),
    ('B', "The solver against theory", "What the time-dependent solver does where the answer is known."),
    (
        'C',
        "The solver against an independent one",
        "The same equations solved by general-purpose integrators with another discretisation.",
    ),
    (
        'D',
        "Measurements and facts of the trade",
        "Where the slender model meets the world. Repeat runs of a real device differ by 2.5 to 6 % in size, so nothing here is judged tighter than that.",
    ),
];

/// What the rows add up to, written by hand (numbers as in the rows).
const TRUST: &str = include_str!("../trust.md");

/// The whole page as Markdown.
pub fn page(topics: &[Topic]) -> String {
    let mut out = String::from(
        "# Validation\n\nWritten by the suite itself (`cargo test --release --test validation`); do not edit. A test fails when this page is not what \
         the suite produces; `SLENDERJET_BLESS=1` rewrites it. Each topic has a folder with its reference data, the reason for \
         its tolerances and a figure.\n\nStatus of a reference: *theory* (exact, recomputed), *published* (read), *published, \
         recalled* (from memory), *independent solver*, *first principles* (full equations, own boundary elements), *common \
         practice, no source*. Differences below a hundredth of the tolerance are printed as that bound.\n\n",
    );
    let rows = || topics.iter().flat_map(|topic| topic.rows.iter());
    let count = |verdict| rows().filter(|row| row.verdict == verdict).count();
    let _ = writeln!(
        out,
        "**{} rows: {} pass, {} fail, {} reported without a tolerance.**\n",
        rows().count(),
        count(Verdict::Pass),
        count(Verdict::Fail),
        count(Verdict::Report)
    );
    out.push_str(TRUST);
    failures(&mut out, topics);
    numbers(&mut out);
    for (letter, title, lead) in SECTIONS {
        let members: Vec<_> = topics.iter().filter(|topic| topic.section == letter).collect();
        if !members.is_empty() {
            let _ = writeln!(out, "## {letter}. {title}\n\n{lead}\n");
            members.iter().for_each(|topic| section(&mut out, topic));
        }
    }
    out
}

fn failures(out: &mut String, topics: &[Topic]) {
    let failing =
        || topics.iter().flat_map(|t| t.rows.iter().map(move |r| (t, r))).filter(|(_, r)| r.verdict == Verdict::Fail);
    if failing().next().is_none() {
        return;
    }
    out.push_str("## What fails, and why\n\n");
    for (topic, row) in failing() {
        let why = row.remark.as_deref().unwrap_or("reason not found yet");
        let _ = writeln!(out, "- [{}]({}): {} ({}): {why}", topic.title, topic.folder, row.quantity, row.difference);
    }
    out.push('\n');
}

/// The closures' fitted numbers.
fn numbers(out: &mut String) {
    let list = fitted::all();
    let _ = writeln!(
        out,
        "## The numbers that were fitted\n\nThe equations without an outer liquid hold none. With one there are {}, fitted to linear \
         theory and to forces on drops held still, none to the size of a drop (symbols: `src/thread/closures`, \
         `docs/equations.md`). Choices that are no fit stand beside them in the code.\n\n\
         | closure | number | fitted to | range |\n| --- | --- | --- | --- |",
        list.len()
    );
    for (closure, number) in &list {
        let _ = writeln!(out, "| {closure} | {} | {} | {} |", number.from, number.fitted_to, number.range);
    }
    out.push('\n');
}

fn section(out: &mut String, topic: &Topic) {
    let _ = writeln!(out, "### [{}]({})\n", topic.title, topic.folder);
    out.push_str("| quantity | reference | source | status | ours | difference | tolerance | verdict |\n");
    out.push_str("| --- | --- | --- | --- | --- | --- | --- | --- |\n");
    for row in &topic.rows {
        let verdict = match row.verdict {
            Verdict::Pass => "pass",
            Verdict::Fail => "**FAIL**",
            Verdict::Report => "report",
        };
        let _ = writeln!(
            out,
            "| {} | {} | {} | {} | {} | {} | {} | {verdict} |",
            row.quantity,
            row.reference,
            row.source,
            row.status.words(),
            row.ours,
            row.difference,
            row.tolerance
        );
    }
    out.push('\n');
    for row in &topic.rows {
        if let Some(remark) = &row.remark {
            let _ = writeln!(out, "*{}*: {remark}\n", row.quantity);
        }
    }
    if topic.figure.is_some() {
        let _ = writeln!(out, "![{}]({}/figure.svg)\n", topic.title, topic.folder);
    }
}
