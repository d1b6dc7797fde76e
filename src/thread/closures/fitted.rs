//! The numbers of the closures that no theory gives, each with what it was fitted to and where that holds.
//!
//! Equation: none of its own; `from` names the place of each in the equation at the top of its closure's file.
//! Symbols: those of that file.
//! Source: `fitted_to`. Numbers that theory or a publication gives (8 of Poiseuille flow, the coefficients of Haberman & Sayre 1958)
//! are no fit and stand in their formulas.
//! Holds for: `range`.

use super::{drag, ends, extension, inertia};

/// One number of a closure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fitted {
    pub value: f64,
    /// What it is in its equation.
    pub from: &'static str,
    /// The data that chose it.
    pub fitted_to: &'static str,
    /// Where these data lie.
    pub range: &'static str,
}

/// All of them, closure by closure.
pub fn all() -> Vec<(&'static str, Fitted)> {
    let of = |closure: &'static str, list: &[Fitted]| list.iter().map(|f| (closure, *f)).collect::<Vec<_>>();
    [
        of("drag", &[drag::REACH, drag::REACH_RATIO]),
        of("normal stress", &[extension::WALL_SHARE, extension::RATIO_HALF, extension::BASE_SHARE]),
        of("inertia of the outer liquid", &[inertia::ADDED_MASS_FLOOR]),
        of("wall about a drop", &ends::NEAR_WALL),
        of("wake behind the tip", &[ends::WAKE_CORE, ends::WAKE_MOUTH, ends::WAKE_WIDE]),
        of("where a held drop feels the stream", &ends::FELT),
        of("drag of a long drop", &ends::LONGER),
    ]
    .concat()
}

#[cfg(test)]
mod tests {
    use super::all;

    // The count is said in the docs of the equations; a number more wants its reason there.
    #[test]
    fn every_fitted_number_says_where_it_comes_from() {
        let list = all();
        assert_eq!(list.len(), 21);
        for (closure, number) in &list {
            assert!(number.value.is_finite() && number.value != 0.0, "{closure}: {number:?}");
            // the page prints the equation's number: it must be the one that is used
            let digits = number.value.abs().to_string();
            assert!(number.from.contains(&digits), "{closure}: {digits} in {}", number.from);
            assert!([number.from, number.fitted_to, number.range].iter().all(|words| words.len() > 2), "{number:?}");
        }
    }
}
