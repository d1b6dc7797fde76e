//! Ready case files, in a scenario of our own with invented data.

/// A ready case file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Example {
    pub name: &'static str,
    /// What it shows, in a line.
    pub about: &'static str,
    /// The file.
    pub text: &'static str,
}

/// All of them.
pub const EXAMPLES: [Example; 8] = [
    Example {
        name: "coflow",
        about: "oil drops from a tapered tip in a square capillary, both liquids running the same way",
        text: include_str!("examples/coflow.toml"),
    },
    Example {
        name: "counterflow",
        about: "oil focused through a collection orifice by water from the other end",
        text: include_str!("examples/counterflow.toml"),
    },
    Example { name: "tap", about: "water dripping from a tap under gravity", text: include_str!("examples/tap.toml") },
    Example { name: "segment", about: "one wave on a thread at rest", text: include_str!("examples/segment.toml") },
    Example { name: "jet", about: "a jet in air, driven by its pump", text: include_str!("examples/jet.toml") },
    Example {
        name: "tenmicron",
        about: "a 12 um collection orifice: 20-30 um drops, about a thousand a second",
        text: include_str!("examples/tenmicron.toml"),
    },
    Example {
        name: "surfactant",
        about: "oil drops that come off before the soap in the water has come to rest on them",
        text: include_str!("examples/surfactant.toml"),
    },
    Example {
        name: "polymer",
        about: "drops of a polymer solution whose threads leave no satellites",
        text: include_str!("examples/polymer.toml"),
    },
];

/// An example by its name.
pub fn find(name: &str) -> Option<&'static Example> {
    EXAMPLES.iter().find(|e| e.name == name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::parse;

    #[test]
    fn every_example_is_a_case_and_says_that_it_is_invented() {
        for example in EXAMPLES {
            let case = parse(example.text, example.name).unwrap_or_else(|e| panic!("{e}"));
            assert!(
                case.title.contains("(invented)") && example.text.starts_with("# Invented data"),
                "{}",
                example.name
            );
        }
    }
}
