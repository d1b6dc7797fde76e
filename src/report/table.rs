//! Tables that sort at a click on their headings.

use crate::figures::drawing::escaped;

/// A cell: what is shown, and what it sorts by where that is a number.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    pub text: String,
    pub key: Option<f64>,
}

impl Cell {
    pub fn text(text: impl Into<String>) -> Cell {
        Cell { text: text.into(), key: None }
    }

    pub fn number(value: f64, text: String) -> Cell {
        Cell { text, key: value.is_finite().then_some(value) }
    }

    pub fn maybe(value: Option<f64>, text: impl Fn(f64) -> String) -> Cell {
        value.filter(|v| v.is_finite()).map_or(Cell::text("–"), |v| Cell::number(v, text(v)))
    }

    fn html(&self) -> String {
        let text = escaped(&self.text);
        match self.key {
            Some(key) => format!("<td class=\"n\" data-key=\"{key:e}\">{text}</td>"),
            None => format!("<td>{text}</td>"),
        }
    }
}

/// A table with sortable headings.
pub fn sortable(caption: &str, headings: &[&str], rows: &[Vec<Cell>]) -> String {
    let caption = escaped(caption);
    let numeric = |column: usize| rows.iter().any(|row| row.get(column).is_some_and(|c| c.key.is_some()));
    let heading = |(i, h): (usize, &&str)| {
        let class = if numeric(i) { " class=\"n\"" } else { "" };
        let h = escaped(h);
        format!("<th scope=\"col\"{class} aria-sort=\"none\"><button type=\"button\">{h}</button></th>")
    };
    let head: String = headings.iter().enumerate().map(heading).collect();
    let body: String =
        rows.iter().map(|row| format!("<tr>{}</tr>\n", row.iter().map(Cell::html).collect::<String>())).collect();
    format!(
        "<div class=\"table\" tabindex=\"0\" role=\"region\" aria-label=\"{caption}\"><table class=\"sortable\">\
         <caption>{caption}</caption><thead><tr>{head}</tr></thead>\n<tbody>\n{body}</tbody></table></div>\n"
    )
}

/// Things side by side: a heading for each, a row for each quantity.
pub fn side_by_side(caption: &str, headings: &[String], rows: &[(String, Vec<String>)]) -> String {
    let caption = escaped(caption);
    let head: String = headings.iter().map(|h| format!("<th scope=\"col\">{}</th>", escaped(h))).collect();
    let row = |(name, values): &(String, Vec<String>)| {
        let cells: String = values.iter().map(|v| format!("<td>{}</td>", escaped(v))).collect();
        format!("<tr><th scope=\"row\">{}</th>{cells}</tr>\n", escaped(name))
    };
    let body: String = rows.iter().map(row).collect();
    format!(
        "<div class=\"table\" tabindex=\"0\" role=\"region\" aria-label=\"{caption}\"><table>\
         <caption>{caption}</caption><thead><tr><td></td>{head}</tr></thead>\n<tbody>\n{body}</tbody></table></div>\n"
    )
}
