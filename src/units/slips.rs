//! Slips of the pen that could mean two things, each told with its readings: a hint off by a thousand is worse than none.

use super::kind::Kind;
use super::{UnitError, quoted, wrong};

const QUOTES: [char; 11] =
    ['"', '\'', '\u{2018}', '\u{2019}', '\u{201a}', '\u{201c}', '\u{201d}', '\u{201e}', '«', '»', '`'];

/// A text without the quotation marks, straight or curly, that a word processor or a shell left around it.
pub fn without_quotes(text: &str) -> &str {
    text.trim().trim_matches(QUOTES)
}

/// What is wrong with a number of which only `number` was read and `rest` follows.
pub fn in_number(text: &str, number: &str, rest: &str, kind: Kind) -> Option<UnitError> {
    let said = |what: String, nearest: Option<String>| {
        let mut error = wrong(what, kind);
        error.nearest = nearest;
        Some(error)
    };
    let shown = quoted(text);
    let digits = |text: &str| text.bytes().take_while(u8::is_ascii_digit).count();
    let mut letters = rest.chars();
    let (sign, after) = (letters.next(), letters.as_str());
    match sign {
        Some(',') if digits(after) > 0 => comma(text, number, after, kind),
        // 1 210 or 1'210: a group of three behind a space or an apostrophe
        Some(' ' | '\'' | '\u{2019}' | '\u{a0}' | '\u{2009}' | '\u{202f}')
            if digits(after) == 3 && digits(number) == number.len() =>
        {
            let joined = format!("{number}{after}");
            said(format!("`{shown}` has a gap inside its number"), Some(quoted(&joined)))
        }
        // 1/2 mm
        Some('/') if digits(after) > 1 || (digits(after) == 1 && !after.starts_with('1')) => {
            let (below, unit) = after.split_at(digits(after));
            let value = number.parse::<f64>().ok()? / below.parse::<f64>().ok()?;
            said(format!("`{shown}` is a fraction"), value.is_finite().then(|| quoted(&format!("{value}{unit}"))))
        }
        // 30-40 um
        Some('-' | '\u{2013}' | '\u{2014}') if digits(after) > 0 && !number.is_empty() => {
            let (to, unit) = after.split_at(super::number_end(after));
            let (from, to) = (number.parse::<f64>().ok()?, to.parse::<f64>().ok()?);
            let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
            let unit = unit.trim();
            let nearest = (half > 0.0).then(|| quoted(&format!("{middle} {unit} +- {half} {unit}")));
            said(format!("`{shown}` is a range; write its middle and its half width"), nearest)
        }
        _ => None,
    }
}

/// A comma may part decimals or thousands; where it can be either, both readings are told.
fn comma(text: &str, number: &str, after: &str, kind: Kind) -> Option<UnitError> {
    let shown = quoted(text);
    let behind = after.bytes().take_while(u8::is_ascii_digit).count();
    let rest = &after[behind..];
    let mut error = wrong(format!("`{shown}` has a decimal comma"), kind);
    // 1,210,000 or 1,210.5: thousands for certain; 1.210,5: decimals for certain, its point parts thousands
    let grouped = behind == 3 && (rest.starts_with(',') || rest.starts_with('.'));
    let ahead = number.trim_start_matches(['+', '-']);
    let leads = (1..=3).contains(&ahead.len()) && !ahead.starts_with('0');
    if grouped {
        error.found = format!("`{shown}` has commas between thousands");
        error.nearest = Some(quoted(&text.replace(',', "")));
    } else if behind == 3 && leads && ahead.bytes().all(|b| b.is_ascii_digit()) {
        error.found = format!("`{shown}` has a comma that can part decimals or thousands");
        error.right = format!(
            "write `{}` or `{}`, whichever is meant",
            quoted(&text.replacen(',', "", 1)),
            quoted(&text.replacen(',', ".", 1))
        );
    } else if number.contains('.') {
        error.nearest = Some(quoted(&text.replace('.', "").replacen(',', ".", 1)));
    } else {
        error.nearest = Some(quoted(&text.replacen(',', ".", 1)));
    }
    Some(error)
}

/// Letters of other alphabets that look like Latin ones, and those.
const LOOK_ALIKES: [(char, char); 22] = [
    ('а', 'a'),
    ('с', 'c'),
    ('е', 'e'),
    ('о', 'o'),
    ('р', 'p'),
    ('х', 'x'),
    ('ѕ', 's'),
    ('і', 'i'),
    ('һ', 'h'),
    ('м', 'm'),
    ('к', 'k'),
    ('А', 'A'),
    ('В', 'B'),
    ('С', 'C'),
    ('Н', 'H'),
    ('К', 'K'),
    ('М', 'M'),
    ('Р', 'P'),
    ('Ѕ', 'S'),
    ('ρ', 'p'),
    ('υ', 'u'),
    ('ο', 'o'),
];

/// What is wrong with a unit some of whose letters only look like Latin ones.
pub fn in_letters(unit: &str, kind: Kind) -> Option<UnitError> {
    let latin = |c: char| LOOK_ALIKES.iter().find(|(alike, _)| *alike == c).map(|(_, latin)| *latin);
    let (odd, meant) = unit.chars().find_map(|c| Some((c, latin(c)?)))?;
    let alphabet = if ('\u{370}'..='\u{3ff}').contains(&odd) { "Greek" } else { "Cyrillic" };
    let mut error =
        wrong(format!("`{}` has the {alphabet} letter `{odd}`, which only looks like `{meant}`", quoted(unit)), kind);
    error.nearest = Some(quoted(&unit.chars().map(|c| latin(c).unwrap_or(c)).collect::<String>()));
    Some(error)
}
