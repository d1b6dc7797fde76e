//! Where a figure comes from, in words for its metadata.

use super::drawing::escaped;
use crate::outcome::Provenance;

/// A file that a figure was drawn from.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Origin {
    pub title: String,
    pub case_sha256: String,
    pub version: String,
    pub command: String,
}

impl Origin {
    pub fn new(title: &str, provenance: &Provenance) -> Origin {
        Origin {
            title: title.into(),
            case_sha256: provenance.case_sha256.clone(),
            version: provenance.version.clone(),
            command: provenance.command.clone(),
        }
    }

    fn sentence(&self) -> String {
        let Origin { title, case_sha256, version, command } = self;
        let command = if command.is_empty() { String::new() } else { format!(", command: {command}") };
        format!("\"{title}\": case sha256 {case_sha256}, slenderjet {version}{command}")
    }
}

/// The metadata of a figure.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct About {
    /// What is shown, in a line.
    pub title: String,
    /// Command that drew it.
    pub command: String,
    pub origins: Vec<Origin>,
    /// What was left out, how snapshots were chosen, which laws are drawn.
    pub notes: Vec<String>,
}

impl About {
    /// The program that drew it.
    pub fn program() -> String {
        format!("slenderjet {}", env!("CARGO_PKG_VERSION"))
    }

    /// All of it as sentences.
    pub fn description(&self) -> String {
        let mut lines = vec!["Simulated by a one-dimensional long-wave model, not measured.".to_owned()];
        lines.extend(self.origins.iter().map(Origin::sentence));
        lines.extend(self.notes.iter().cloned());
        if !self.command.is_empty() {
            lines.push(format!("Drawn by {}, command: {}", About::program(), self.command));
        }
        lines.join("\n")
    }

    /// Hashes of all cases.
    pub fn hashes(&self) -> String {
        self.origins.iter().map(|o| o.case_sha256.as_str()).collect::<Vec<_>>().join(" ")
    }

    /// SVG's `title`, `desc` and `metadata` (Dublin Core, as RDF).
    pub fn svg(&self) -> String {
        let (title, text) = (escaped(&self.title), escaped(&self.description()));
        let hashes: String = self
            .origins
            .iter()
            .map(|o| format!("<dc:identifier>sha256:{}</dc:identifier>", escaped(&o.case_sha256)))
            .collect();
        format!(
            "<title>{title}</title>\n<desc>{text}</desc>\n<metadata>\
             <rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\">\
             <rdf:Description rdf:about=\"\"><dc:title>{title}</dc:title><dc:creator>{}</dc:creator>{hashes}\
             <dc:description>{text}</dc:description></rdf:Description></rdf:RDF></metadata>\n",
            About::program()
        )
    }
}
