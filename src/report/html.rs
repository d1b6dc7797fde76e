//! The frame of a page and small pieces of it.

use crate::figures::beside::Over;
use crate::figures::drawing::escaped;
use crate::figures::export::font_faces;
use crate::figures::palette;
use crate::figures::{Figure, Kind, Source, Wish, draw};
use std::fmt::Write as _;

const STYLE: &str = include_str!("page/style.css");
const MOVIE: &str = include_str!("page/movie.js");
const CONTROLS: &str = include_str!("page/controls.js");
const TABLES: &str = include_str!("page/tables.js");

/// Nothing from outside, ever.
const POLICY: &str =
    "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; font-src data:; img-src data:";

/// A page under construction.
#[derive(Debug, Default)]
pub struct Page {
    title: String,
    body: String,
    sections: Vec<(String, String)>,
}

impl Page {
    pub fn new(title: &str) -> Page {
        Page { title: title.into(), ..Page::default() }
    }

    /// A section with a heading that the list of contents names.
    pub fn section(&mut self, id: &str, heading: &str, contents: &str) {
        self.sections.push((id.into(), heading.into()));
        let heading = escaped(heading);
        let _ = writeln!(
            self.body,
            "<section id=\"{id}\" aria-labelledby=\"{id}-h\">\n<h2 id=\"{id}-h\">{heading}</h2>\n{contents}\n</section>"
        );
    }

    /// The whole document.
    pub fn finish(self, lead: &str) -> String {
        let title = escaped(&self.title);
        let items = self.sections.iter().map(|(id, h)| format!("<li><a href=\"#{id}\">{}</a></li>", escaped(h)));
        let contents: String = items.collect();
        // All three faces: the page itself uses them too.
        let faces = font_faces("font-weight=\"600\" font-style=\"italic\"");
        format!(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta http-equiv=\"Content-Security-Policy\" content=\"{POLICY}\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
             <meta name=\"color-scheme\" content=\"light dark\">\n\
             <meta name=\"generator\" content=\"slenderjet {}\">\n<link rel=\"icon\" href=\"data:,\">\n\
             <title>{title}</title>\n<style>\n{faces}{STYLE}{}</style>\n</head>\n<body>\n\
             <a class=\"skip\" href=\"#main\">Skip to the content</a>\n\
             <header>\n<h1>{title}</h1>\n{lead}\n<nav aria-label=\"Contents\"><ul>{contents}</ul></nav>\n</header>\n\
             <main id=\"main\">\n{}</main>\n\
             <footer><p>Simulated by a one-dimensional model, not measured. Written by slenderjet {}.</p></footer>\n\
             <script>\n{MOVIE}{CONTROLS}{TABLES}</script>\n</body>\n</html>\n",
            env!("CARGO_PKG_VERSION"),
            scale(),
            self.body,
            env!("CARGO_PKG_VERSION"),
        )
    }
}

/// A sentence, what stands between backticks in it as code.
fn prose(text: &str) -> String {
    let parts: Vec<&str> = text.split('`').collect();
    if parts.len().is_multiple_of(2) {
        return escaped(text);
    }
    let part = |(i, part): (usize, &&str)| {
        if i.is_multiple_of(2) { escaped(part) } else { format!("<code>{}</code>", escaped(part)) }
    };
    parts.iter().enumerate().map(part).collect()
}

/// A paragraph.
pub fn p(text: &str) -> String {
    format!("<p>{}</p>\n", prose(text))
}

/// A list of facts: name and value.
pub fn facts(rows: &[(&str, String)]) -> String {
    let row =
        |(name, value): &(&str, String)| format!("<div><dt>{}</dt><dd>{}</dd></div>", escaped(name), escaped(value));
    format!("<dl class=\"facts\">{}</dl>\n", rows.iter().map(row).collect::<String>())
}

/// A list of sentences.
pub fn list(class: &str, items: impl Iterator<Item = String>) -> String {
    let items: String = items.map(|i| format!("<li>{}</li>\n", prose(&i))).collect();
    format!("<ul class=\"{class}\">\n{items}</ul>\n")
}

/// Text as typed.
pub fn pre(text: &str, label: &str) -> String {
    format!("<pre tabindex=\"0\" role=\"region\" aria-label=\"{}\">{}</pre>\n", escaped(label), escaped(text))
}

/// A figure with its caption; what cannot be drawn says why instead.
pub fn figure(kind: Kind, sources: &[Source], command: &str, caption: &str) -> String {
    figure_with(kind, sources, Wish { command: command.into(), beside: Over::Nothing, ..Wish::default() }, caption)
}

/// The same as wished.
pub fn figure_with(kind: Kind, sources: &[Source], wish: Wish, caption: &str) -> String {
    match draw(&[kind], sources, &wish) {
        Ok(figure) => drawn(kind, &figure, caption),
        Err(reason) => {
            format!("<p class=\"quiet\">{}: {}</p>\n", escaped(kind.meaning()), escaped(&reason.to_string()))
        }
    }
}

fn drawn(kind: Kind, figure: &Figure, caption: &str) -> String {
    let svg =
        figure.inline_svg().replacen("<svg ", &format!("<svg role=\"img\" aria-label=\"{}\" ", escaped(caption)), 1);
    // The browser would show the long metadata as a tool tip.
    let svg = themed(&without(&without(&svg, "title"), "desc"));
    let notes: String =
        figure.about.notes.iter().map(|n| format!(" {}", escaped(&super::words::sentence(n)))).collect();
    format!(
        "<figure class=\"{}\"><div class=\"sheet\" tabindex=\"0\">{svg}</div>\
         <p class=\"scrolls\">Wider than this screen: the figure scrolls sideways.</p>\
         <figcaption>{}<small>{notes}</small></figcaption></figure>\n",
        kind.name(),
        escaped(caption)
    )
}

/// Colours of figures that follow the page's light or dark scheme; so does the scale of radii, see [`scale`].
const THEMED: [(&str, &str); 13] = [
    (palette::INK, "--ink"),
    (palette::SLATE, "--figure-quiet"),
    (palette::MIST, "--figure-guide"),
    (palette::PAPER, "--sheet"),
    (palette::OIL, "--oil"),
    (palette::GLASS, "--glass"),
    (palette::GLASS_EDGE, "--edge"),
    (palette::SERIES[0], "--first"),
    (palette::SERIES[2], "--third"),
    (palette::SERIES[4], "--fifth"),
    (palette::GROUND_DRIPPING, "--drips"),
    (palette::GROUND_JETTING, "--jets"),
    (palette::BAND, "--band"),
];

/// A drawing in the colours of the page around it.
fn themed(svg: &str) -> String {
    let svg = THEMED.iter().fold(svg.to_owned(), |svg, (colour, name)| {
        svg.replace(&format!("=\"{colour}\""), &format!("=\"var({name})\""))
    });
    (0..=palette::STEPS).fold(svg, |svg, i| {
        let colour = palette::ramp(i as f64 / palette::STEPS as f64);
        svg.replace(&format!("=\"{colour}\""), &format!("=\"var(--radius-{i})\""))
    })
}

/// The scale of radii on a light page, on a dark one and on paper.
fn scale() -> String {
    let steps = |of: fn(f64) -> String| -> String {
        (0..=palette::STEPS).map(|i| format!("--radius-{i}:{};", of(i as f64 / palette::STEPS as f64))).collect()
    };
    let (light, dark) = (steps(palette::ramp), steps(palette::ramp_dark));
    format!(
        ":root{{{light}}}\n@media (prefers-color-scheme: dark) {{:root{{{dark}}}}}\n@media print {{:root{{{light}}}}}\n"
    )
}

/// Without the first element of that name.
fn without(svg: &str, element: &str) -> String {
    let (open, close) = (format!("<{element}>"), format!("</{element}>"));
    match (svg.find(&open), svg.find(&close)) {
        (Some(a), Some(b)) if a < b => format!("{}{}", &svg[..a], &svg[b + close.len()..]),
        _ => svg.to_owned(),
    }
}

/// JSON that can stand inside a `script` element.
pub fn script_json(value: &serde_json::Value) -> String {
    value.to_string().replace('<', "\\u003c").replace('>', "\\u003e").replace('&', "\\u0026")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn json_cannot_leave_its_script() {
        let text = script_json(&serde_json::json!({ "t": "</script><!--&" }));
        assert!(!text.contains('<') && !text.contains('&'));
        assert_eq!(serde_json::from_str::<serde_json::Value>(&text).unwrap()["t"], "</script><!--&");
    }

    #[test]
    fn every_themed_colour_is_defined_for_light_dark_and_print() {
        for (_, name) in THEMED {
            assert_eq!(STYLE.matches(&format!("{name}: #")).count(), 3, "{name}");
        }
        assert_eq!(
            themed("<a fill=\"#18212f\" d=\"#18212f\u{2212}\"/>"),
            "<a fill=\"var(--ink)\" d=\"#18212f\u{2212}\"/>"
        );
    }

    /// The scale of radii is told three times, and every step of it that a drawing uses is one of these.
    #[test]
    fn the_scale_of_radii_follows_the_scheme() {
        let told = scale();
        for i in 0..=palette::STEPS {
            assert_eq!(told.matches(&format!("--radius-{i}:#")).count(), 3, "{i}");
        }
        assert_eq!(themed(&format!("<path fill=\"{}\"/>", palette::ramp(1.0))), "<path fill=\"var(--radius-24)\"/>");
        // thick stands out from the page on either ground
        assert!(palette::ramp(0.0).as_str() > "#f" && palette::ramp_dark(0.0).as_str() < "#2");
        assert!(palette::ramp(1.0).as_str() < "#2" && palette::ramp_dark(1.0).as_str() > "#f");
    }

    #[test]
    fn a_users_title_is_text() {
        let mut page = Page::new("<script>alert(1)</script>");
        page.section("a", "<b>", &p("<i>"));
        let html = page.finish("");
        assert!(!html.contains("<script>alert") && html.contains("&lt;script&gt;alert(1)"));
        assert!(html.contains("&lt;b&gt;") && html.contains("<p>&lt;i&gt;</p>"));
    }
}
