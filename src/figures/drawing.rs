//! A page under construction: shapes and letters as SVG, in points from the top left.

use super::letters::Label;
use std::fmt::Write as _;

/// A coordinate with a hundredth of a point (3.5 um on paper), without needless zeros.
pub fn n(value: f64) -> String {
    if !value.is_finite() {
        return "0".into();
    }
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}

/// Text as XML character data; control characters that XML forbids are dropped.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' => out.push(c),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => {}
            c => out.push(c),
        }
    }
    out
}

/// How a shape looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look<'a> {
    pub fill: &'a str,
    pub stroke: &'a str,
    pub width: f64,
    pub dash: &'a str,
}

impl<'a> Look<'a> {
    pub fn filled(fill: &'a str) -> Look<'a> {
        Look { fill, stroke: "none", width: 0.0, dash: "" }
    }

    pub fn line(stroke: &'a str, width: f64) -> Look<'a> {
        Look { fill: "none", stroke, width, dash: "" }
    }

    pub fn dashed(self, dash: &'a str) -> Look<'a> {
        Look { dash, ..self }
    }

    pub fn outlined(self, stroke: &'a str, width: f64) -> Look<'a> {
        Look { stroke, width, ..self }
    }

    fn attributes(&self) -> String {
        let mut out = format!(" fill=\"{}\"", self.fill);
        if self.stroke != "none" {
            let _ = write!(out, " stroke=\"{}\" stroke-width=\"{}\"", self.stroke, n(self.width));
        }
        if !self.dash.is_empty() {
            let _ = write!(out, " stroke-dasharray=\"{}\"", self.dash);
        }
        out
    }
}

/// Where a text stands relative to its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

/// Size, colour, weight of letters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Type<'a> {
    pub size: f64,
    pub colour: &'a str,
    pub bold: bool,
    pub anchor: Anchor,
}

impl<'a> Type<'a> {
    pub fn new(size: f64, colour: &'a str, anchor: Anchor) -> Type<'a> {
        Type { size, colour, bold: false, anchor }
    }

    pub fn bold(self) -> Type<'a> {
        Type { bold: true, ..self }
    }
}

/// A rectangle, from the top left.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Area {
    pub x: f64,
    pub y: f64,
    pub width: f64,
    pub height: f64,
}

/// Shapes drawn so far.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Drawing {
    body: String,
    /// Prefix of the ids in it, so that several drawings live in one page.
    prefix: String,
    clips: usize,
}

impl Drawing {
    /// An empty drawing whose ids start with `prefix`.
    pub fn new(prefix: &str) -> Drawing {
        Drawing { prefix: prefix.into(), ..Drawing::default() }
    }

    /// The SVG elements.
    pub fn body(&self) -> &str {
        &self.body
    }

    pub fn path(&mut self, d: &str, look: Look<'_>) {
        if !d.is_empty() {
            let _ = writeln!(self.body, "<path d=\"{d}\"{}/>", look.attributes());
        }
    }

    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), look: Look<'_>) {
        self.path(&format!("M{} {}L{} {}", n(from.0), n(from.1), n(to.0), n(to.1)), look);
    }

    pub fn polyline(&mut self, points: &[(f64, f64)], look: Look<'_>) {
        self.path(&trace(points, false), look);
    }

    pub fn rect(&mut self, area: Area, look: Look<'_>) {
        let (x, y, w, h) = (n(area.x), n(area.y), n(area.width), n(area.height));
        let _ = writeln!(self.body, "<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\"{}/>", look.attributes());
    }

    pub fn circle(&mut self, at: (f64, f64), radius: f64, look: Look<'_>) {
        let (x, y, r) = (n(at.0), n(at.1), n(radius));
        let _ = writeln!(self.body, "<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\"{}/>", look.attributes());
    }

    pub fn text(&mut self, at: (f64, f64), label: &Label, how: Type<'_>) {
        self.letters(&format!("x=\"{}\" y=\"{}\"", n(at.0), n(at.1)), label, how);
    }

    /// Text that reads from bottom to top.
    pub fn text_upward(&mut self, at: (f64, f64), label: &Label, how: Type<'_>) {
        self.letters(&format!("transform=\"translate({} {}) rotate(-90)\"", n(at.0), n(at.1)), label, how);
    }

    fn letters(&mut self, place: &str, label: &Label, how: Type<'_>) {
        let anchor = match how.anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let weight = if how.bold { " font-weight=\"600\"" } else { "" };
        let (size, colour, spans) = (n(how.size), how.colour, label.spans(how.size));
        let _ =
            writeln!(self.body, "<text {place} font-size=\"{size}\" fill=\"{colour}\"{weight}{anchor}>{spans}</text>");
    }

    /// Everything that `draw` adds is cut off outside `area`.
    pub fn clipped(&mut self, area: Area, draw: impl FnOnce(&mut Drawing)) {
        self.clips += 1;
        let id = format!("{}clip{}", self.prefix, self.clips);
        let (x, y, w, h) = (n(area.x), n(area.y), n(area.width), n(area.height));
        let rect = format!("<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\"/>");
        let _ = writeln!(self.body, "<clipPath id=\"{id}\">{rect}</clipPath>\n<g clip-path=\"url(#{id})\">");
        draw(self);
        self.body.push_str("</g>\n");
    }

    /// The whole drawing larger by a factor, lines and letters too.
    pub fn scaled(self, factor: f64) -> Drawing {
        let body = format!("<g transform=\"scale({factor:.6})\">\n{}</g>\n", self.body);
        Drawing { body, ..self }
    }

    /// Another drawing with its top left at a point.
    pub fn place(&mut self, other: &Drawing, x: f64, y: f64) {
        let _ = writeln!(self.body, "<g transform=\"translate({} {})\">\n{}</g>", n(x), n(y), other.body);
    }
}

/// A path through points, `Z` at its end if closed. Points that fall on the one before are left out.
pub fn trace(points: &[(f64, f64)], closed: bool) -> String {
    let mut d = String::with_capacity(12 * points.len());
    let mut before = (String::new(), String::new());
    for (i, &(x, y)) in points.iter().enumerate() {
        let here = (n(x), n(y));
        if i > 0 && here == before {
            continue;
        }
        let _ = write!(d, "{}{} {}", if i == 0 { 'M' } else { 'L' }, here.0, here.1);
        before = here;
    }
    if closed && !d.is_empty() {
        d.push('Z');
    }
    d
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coordinates_are_short_and_never_broken() {
        assert_eq!([n(1.0), n(-0.001), n(12.3456), n(f64::NAN), n(100.0)], ["1", "0", "12.35", "0", "100"]);
    }

    #[test]
    fn what_xml_forbids_does_not_get_out() {
        assert_eq!(escaped("a<b>&\"'\u{0}\u{1b}\u{ffff}\n"), "a&lt;b&gt;&amp;&quot;&#39;\n");
    }

    #[test]
    fn ids_of_two_drawings_differ() {
        let mut a = Drawing::new("a-");
        a.clipped(Area::default(), |_| {});
        a.clipped(Area::default(), |_| {});
        assert!(a.body().contains("id=\"a-clip1\"") && a.body().contains("url(#a-clip2)"));
    }

    #[test]
    fn equal_neighbours_are_drawn_once() {
        assert_eq!(trace(&[(0.0, 0.0), (0.001, 0.0), (2.0, 1.5)], true), "M0 0L2 1.5Z");
    }
}
