//! Labels: a little markup for the notation of papers, set with the bundled faces.
//!
//! `*h*` is italic, `_{min}` a subscript, `^{-3}` a superscript (a hyphen in a script becomes a true minus). A user's own
//! text never passes through the markup: [`Label::plain`].

use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider as _};

/// Family name of the bundled faces; always quoted in SVG, for unquoted names can make text vanish.
pub const FAMILY: &str = "Slenderjet Sans";
/// What a viewer without the faces falls back to.
pub const FALLBACK: &str = "'Slenderjet Sans', 'Helvetica Neue', Arial, sans-serif";

/// Upright, italic and half-bold face for PDF and PNG.
pub const FACES: [&[u8]; 3] =
    [include_bytes!("fonts/regular.ttf"), include_bytes!("fonts/italic.ttf"), include_bytes!("fonts/semibold.ttf")];
/// The same three for browsers: weight, style, bytes.
pub const WEB_FACES: [(u16, &str, &[u8]); 3] = [
    (400, "normal", include_bytes!("fonts/regular.woff2")),
    (400, "italic", include_bytes!("fonts/italic.woff2")),
    (600, "normal", include_bytes!("fonts/semibold.woff2")),
];

const SCRIPT_SIZE: f64 = 0.72;
/// No letter on a page is smaller, points: what journals ask for at print size.
const LEAST_SIZE: f64 = 6.0;
const SUB_DROP: f64 = 0.22;
const SUP_RISE: f64 = 0.36;

/// Size of a script beside letters of `size`.
fn script(size: f64) -> f64 {
    (SCRIPT_SIZE * size).max(LEAST_SIZE.min(size))
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Height {
    Line,
    Sub,
    Sup,
}

#[derive(Debug, Clone, PartialEq)]
struct Run {
    text: String,
    height: Height,
    italic: bool,
}

/// A piece of text ready to be set.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Label {
    runs: Vec<Run>,
}

impl Label {
    /// Text as it is.
    pub fn plain(text: impl Into<String>) -> Label {
        let text: String = text.into().chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        Label { runs: vec![Run { text, height: Height::Line, italic: false }] }
    }

    /// Text of our own with markup.
    pub fn marked(text: &str) -> Label {
        let mut label = Label::default();
        let (mut height, mut italic, mut open) = (Height::Line, false, String::new());
        let mut letters = text.chars().peekable();
        while let Some(c) = letters.next() {
            match c {
                '*' => {
                    label.close(&mut open, height, italic);
                    italic = !italic;
                }
                '_' | '^' if letters.peek() == Some(&'{') => {
                    letters.next();
                    label.close(&mut open, height, italic);
                    height = if c == '_' { Height::Sub } else { Height::Sup };
                }
                '}' if height != Height::Line => {
                    label.close(&mut open, height, italic);
                    height = Height::Line;
                }
                '-' if height != Height::Line => open.push('\u{2212}'),
                _ => open.push(c),
            }
        }
        label.close(&mut open, height, italic);
        label
    }

    fn close(&mut self, open: &mut String, height: Height, italic: bool) {
        if !open.is_empty() {
            self.runs.push(Run { text: std::mem::take(open), height, italic });
        }
    }

    /// The letters without their heights.
    pub fn text(&self) -> String {
        self.runs.iter().map(|r| r.text.as_str()).collect()
    }

    /// Width when set at `size` (both in points).
    pub fn width(&self, size: f64, bold: bool) -> f64 {
        let of = |r: &Run| {
            let scale = if r.height == Height::Line { 1.0 } else { script(size) / size };
            scale
                * advance(
                    &r.text,
                    if r.italic {
                        1
                    } else if bold {
                        2
                    } else {
                        0
                    },
                )
        };
        size * self.runs.iter().map(of).sum::<f64>()
    }

    /// Contents of an SVG `text` element at `size`.
    pub fn spans(&self, size: f64) -> String {
        let mut out = String::new();
        let mut level = 0.0;
        for run in &self.runs {
            let wanted = match run.height {
                Height::Line => 0.0,
                Height::Sub => SUB_DROP * size,
                Height::Sup => -SUP_RISE * size,
            };
            let mut how = String::new();
            if wanted != level {
                how.push_str(&format!(" dy=\"{}\"", super::drawing::n(wanted - level)));
                level = wanted;
            }
            if run.height != Height::Line {
                how.push_str(&format!(" font-size=\"{}\"", super::drawing::n(script(size))));
            }
            if run.italic {
                how.push_str(" font-style=\"italic\"");
            }
            let text = super::drawing::escaped(&run.text);
            if how.is_empty() { out.push_str(&text) } else { out.push_str(&format!("<tspan{how}>{text}</tspan>")) }
        }
        out
    }
}

/// Advance width of a text in ems; half an em for a letter that the faces lack.
fn advance(text: &str, face: usize) -> f64 {
    let Ok(face) = FontRef::new(FACES[face]) else { return 0.5 * text.chars().count() as f64 };
    let (size, place) = (Size::unscaled(), LocationRef::default());
    let (letters, widths) = (face.charmap(), face.glyph_metrics(size, place));
    let em = f64::from(face.metrics(size, place).units_per_em);
    let of = |c: char| letters.map(c).and_then(|g| widths.advance_width(g)).map_or(0.5, |a| f64::from(a) / em);
    text.chars().map(of).sum()
}

/// A number as papers write it: true minus, no exponent letters.
pub fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let zero = text.chars().all(|c| !c.is_ascii_digit() || c == '0');
    if zero { text.trim_start_matches('-').to_owned() } else { text.replace('-', "\u{2212}") }
}

/// A number with so many significant digits, in markup: `1.5`, `0.02`, `3 × 10^{-5}`.
pub fn significant(value: f64, digits: usize) -> String {
    if value == 0.0 || !value.is_finite() {
        return if value == 0.0 { "0".into() } else { "\u{2013}".into() };
    }
    let rounded: f64 = format!("{value:.*e}", digits.saturating_sub(1)).parse().unwrap_or(value);
    let power = rounded.abs().log10().floor() as i32;
    if (-3..5).contains(&power) {
        return number(rounded, (digits as i32 - 1 - power).max(0) as usize);
    }
    let mantissa = number(rounded / 10f64.powi(power), digits.saturating_sub(1));
    format!("{mantissa} × 10^{{{power}}}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_becomes_spans_that_come_back_to_the_line() {
        let spans = Label::marked("*h*_{min} (10^{-3} m)").spans(10.0);
        assert_eq!(
            spans,
            "<tspan font-style=\"italic\">h</tspan><tspan dy=\"2.2\" font-size=\"7.2\">min</tspan>\
             <tspan dy=\"-2.2\"> (10</tspan><tspan dy=\"-3.6\" font-size=\"7.2\">\u{2212}3</tspan><tspan dy=\"3.6\"> m)</tspan>"
        );
    }

    #[test]
    fn a_users_text_is_neither_markup_nor_tags() {
        let label = Label::plain("*a*_{b} <script>&\u{7}");
        assert_eq!(label.spans(10.0), "*a*_{b} &lt;script&gt;&amp; ");
    }

    #[test]
    fn every_letter_we_use_is_in_every_face() {
        for face in FACES {
            let letters = FontRef::new(face).unwrap().charmap();
            for c in "0123456789\u{2212}×µγρτλ≈±°→↓–…²³ \u{2009}aZäßéñ".chars() {
                assert!(letters.map(c).is_some(), "{c:?}");
            }
        }
    }

    #[test]
    fn numbers_as_papers_write_them() {
        assert_eq!(number(-0.0001, 2), "0.00");
        assert_eq!(number(-1.5, 1), "\u{2212}1.5");
        assert_eq!(significant(0.01234, 2), "0.012");
        assert_eq!(significant(123_456.0, 2), "1.2 × 10^{5}");
        assert_eq!(significant(9.99e-5, 2), "1.0 × 10^{-4}");
        assert_eq!(significant(42.0, 3), "42.0");
        assert_eq!(significant(f64::NAN, 3), "–");
    }
}
