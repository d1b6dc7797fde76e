//! The suite's own small frame: rows beside an outside number, topics, the page, the figures.

pub mod page;
pub mod plot;
pub mod table;

use plot::Plot;

/// Where a reference number comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(dead_code)]
pub enum Status {
    /// Exact, recomputed.
    Theory,
    /// Read in the source.
    Published,
    /// From memory of the source.
    Recalled,
    /// Another solver of the same equations.
    IndependentSolver,
    /// A computation of the full equations without the slender approximation.
    FirstPrinciples,
    /// What everybody says; no source.
    CommonPractice,
}

impl Status {
    pub fn words(self) -> &'static str {
        match self {
            Status::Theory => "theory",
            Status::Published => "published",
            Status::Recalled => "published, recalled",
            Status::IndependentSolver => "independent solver",
            Status::FirstPrinciples => "first principles",
            Status::CommonPractice => "common practice, no source",
        }
    }
}

/// What the suite says of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    Pass,
    Fail,
    /// Stated without a tolerance: a known limit, or a reference too weak to judge by.
    Report,
}

/// One claim beside its outside number, as the page prints it.
#[derive(Debug, Clone)]
pub struct Row {
    pub quantity: String,
    pub reference: String,
    pub source: String,
    pub status: Status,
    pub ours: String,
    pub difference: String,
    pub tolerance: String,
    pub verdict: Verdict,
    /// Why it fails, or what the reader should know; printed below the table.
    pub remark: Option<String>,
}

/// A folder of the suite.
pub struct Topic {
    pub folder: &'static str,
    /// A, B, C or D of the page.
    pub section: char,
    pub title: &'static str,
    pub rows: Vec<Row>,
    pub figure: Option<Plot>,
}

/// Source line and status that several rows share.
#[derive(Debug, Clone)]
pub struct Source {
    pub text: String,
    pub status: Status,
}

/// A source.
pub fn source(text: impl Into<String>, status: Status) -> Source {
    Source { text: text.into(), status }
}

/// Difference over the reference, judged against `tolerance` (relative).
pub fn relative(quantity: impl Into<String>, from: &Source, reference: f64, ours: f64, tolerance: f64) -> Row {
    let difference = (ours - reference) / reference.abs();
    row(
        quantity,
        from,
        digits(reference, tolerance),
        digits(ours, tolerance),
        signed_share(difference, tolerance),
        share(tolerance),
        verdict(difference.abs() <= tolerance),
    )
}

/// Difference as it is, judged against `tolerance`.
pub fn absolute(quantity: impl Into<String>, from: &Source, reference: f64, ours: f64, tolerance: f64) -> Row {
    let difference = ours - reference;
    row(
        quantity,
        from,
        digits_to(reference, tolerance),
        digits_to(ours, tolerance),
        if difference.abs() < 0.01 * tolerance { "0".into() } else { format!("{difference:+.1e}") },
        format!("{tolerance}"),
        verdict(difference.abs() <= tolerance),
    )
}

/// A whole table: the largest relative difference over pairs (reference, ours).
pub fn whole_table(quantity: impl Into<String>, from: &Source, pairs: &[(f64, f64)], tolerance: f64) -> Row {
    assert!(!pairs.is_empty(), "an empty table proves nothing");
    // A NaN anywhere must fail, so it is not left to max().
    let worst = pairs.iter().map(|(reference, ours)| ((ours - reference) / reference).abs());
    let worst = worst.fold(0.0, |a: f64, b| if a.is_nan() || b.is_nan() { f64::NAN } else { a.max(b) });
    row(
        quantity,
        from,
        format!("{} values", pairs.len()),
        "all".into(),
        format!("largest {}", share_floored(worst, tolerance)),
        share(tolerance),
        verdict(worst <= tolerance),
    )
}

/// Inside a range.
#[allow(dead_code)]
pub fn within(quantity: impl Into<String>, from: &Source, range: [f64; 2], ours: f64) -> Row {
    let [low, high] = range;
    let inside = ours >= low && ours <= high;
    row(
        quantity,
        from,
        format!("{} to {}", brief(low), brief(high)),
        brief(ours),
        if inside { "inside".into() } else { "outside".into() },
        "the range".into(),
        verdict(inside),
    )
}

/// A statement that holds or does not.
#[allow(dead_code)]
pub fn holds(quantity: impl Into<String>, from: &Source, expected: &str, ours: &str, is_true: bool) -> Row {
    let difference = if is_true { "agrees" } else { "does not agree" };
    row(quantity, from, expected.into(), ours.into(), difference.into(), "sign".into(), verdict(is_true))
}

/// Stated without a tolerance.
#[allow(dead_code)]
pub fn report(quantity: impl Into<String>, from: &Source, reference: f64, ours: f64) -> Row {
    let difference = (ours - reference) / reference.abs();
    row(quantity, from, brief(reference), brief(ours), signed_share(difference, 0.01), "report".into(), Verdict::Report)
}

impl Row {
    /// Tells the known cause of a failure; of a row that passes it says nothing.
    pub fn failing_for(self, cause: &str) -> Row {
        if self.verdict == Verdict::Fail { self.remark(cause) } else { self }
    }

    /// Adds what the reader should know.
    #[allow(dead_code)]
    pub fn remark(mut self, text: impl Into<String>) -> Row {
        self.remark = Some(text.into());
        self
    }
}

#[allow(clippy::too_many_arguments)]
fn row(
    quantity: impl Into<String>,
    from: &Source,
    reference: String,
    ours: String,
    difference: String,
    tolerance: String,
    verdict: Verdict,
) -> Row {
    let (source, status) = (from.text.clone(), from.status);
    Row { quantity: quantity.into(), reference, source, status, ours, difference, tolerance, verdict, remark: None }
}

fn verdict(pass: bool) -> Verdict {
    if pass { Verdict::Pass } else { Verdict::Fail }
}

/// A number with as many digits as its tolerance is worth, and one more.
fn digits(value: f64, tolerance: f64) -> String {
    let wanted = (1.0 - tolerance.log10()).ceil().clamp(3.0, 12.0) as i32;
    significant(value, wanted)
}

fn digits_to(value: f64, tolerance: f64) -> String {
    format!("{:.*}", (1.0 - tolerance.log10()).ceil().clamp(0.0, 12.0) as usize, value)
}

/// Four significant digits.
pub fn brief(value: f64) -> String {
    significant(value, 4)
}

fn significant(value: f64, wanted: i32) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    let magnitude = value.abs().log10().floor() as i32;
    if (-4..6).contains(&magnitude) {
        format!("{value:.*}", (wanted - 1 - magnitude).max(0) as usize)
    } else {
        format!("{value:.*e}", (wanted - 1) as usize)
    }
}

/// A share in percent, or as a power of ten where it is tiny.
pub fn share(value: f64) -> String {
    if value >= 1e-4 { format!("{} %", trimmed(100.0 * value)) } else { format!("{value:.0e}") }
}

/// Differences far below the tolerance are round-off that depends on the machine: not printed.
fn share_floored(value: f64, tolerance: f64) -> String {
    if value < 0.01 * tolerance {
        return format!("below {}", share(0.01 * tolerance));
    }
    if value >= 1e-4 { format!("{} %", trimmed(100.0 * value)) } else { format!("{value:.1e}") }
}

fn signed_share(value: f64, tolerance: f64) -> String {
    if value.abs() < 0.01 * tolerance {
        return share_floored(value.abs(), tolerance);
    }
    let sign = if value < 0.0 { "-" } else { "+" };
    format!("{sign}{}", share_floored(value.abs(), tolerance))
}

fn trimmed(value: f64) -> String {
    let text = if value >= 10.0 { format!("{value:.0}") } else { significant(value, 2) };
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').into() } else { text }
}
