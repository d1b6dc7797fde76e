//! What the glass and the guide for pressure allow, on paper.
//!
//! Equation: a drop may fill 0.9 of the width of the tube that takes it away; the inlet pressures are those of
//! [`crate::case::glass::Pressures`], which grow with the flow.
//!
//! Source: the share is the program's own limit for a drop that is no plug (`limits`, warning `plug`); pressures as there.
//!
//! Holds for: bounds of a search only.

use crate::case::glass::Pressures;
use crate::case::{Bore, Case};

/// Share of a tube that a drop may fill without being a plug.
const FILLED: f64 = 0.9;
/// Halvings in ln(flow): to 1e-4 of three decades both ways.
const HALVINGS: usize = 18;

/// The largest drop that is no plug where drops leave, m, and the place in words.
pub fn widest(case: &Case) -> Option<(f64, String)> {
    case.outer.as_ref().filter(|o| o.flow > 0.0)?;
    let (width, place) = match (case.layout.orifice(), case.device.bore) {
        (Some(orifice), _) => (orifice.collection_bore, "collection tube"),
        (None, Bore::Square(side)) => (side, "square bore"),
        (None, Bore::Round(diameter)) => (diameter, "round bore"),
        (None, Bore::Unbounded) => return None,
    };
    Some((FILLED * width, format!("the {place} of {:.0} um", 1e6 * width)))
}

/// The larger of the inlet pressures, Pa.
pub(super) fn highest(case: &Case) -> f64 {
    let of = Pressures::of(case);
    of.map_or(0.0, |p| p.inner.total.max(p.outer.map_or(0.0, |o| o.total)))
}

/// Flow between `start` and the larger of `range` at which an inlet reaches `guide`; `None` where none does, or where one is above
/// it at `start` already (then the pressure is no matter of how far a search may go).
pub fn flow_at_pressure(start: f64, range: [f64; 2], guide: f64, case: &dyn Fn(f64) -> Case) -> Option<f64> {
    let over = |flow: f64| highest(&case(flow)) > guide;
    if over(start) || !over(range[1]) {
        return None;
    }
    let (mut low, mut high) = (start.ln(), range[1].ln());
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if over(middle.exp()) { high = middle } else { low = middle }
    }
    Some(low.exp())
}

/// What the wish would take by the law of the runs so far, in words.
pub fn needed(flow: f64, guide: Option<f64>, case: &Case) -> String {
    let pressure = highest(case);
    let against = match guide {
        Some(guide) if pressure > guide => {
            format!(", {:.1} times the guide of {:.2} bar", pressure / guide, guide / 1e5)
        }
        Some(guide) => format!(" (guide {:.2} bar)", guide / 1e5),
        None => String::new(),
    };
    format!(
        "; by the law of these runs, followed past them, it would take an outer flow of some {} mL/h, with {} bar at an inlet{against}",
        two_digits(3.6e9 * flow),
        two_digits(pressure / 1e5)
    )
}

fn two_digits(value: f64) -> String {
    let decimals = (1.0 - value.abs().log10().floor()).clamp(0.0, 9.0);
    format!("{value:.*}", if decimals.is_finite() { decimals as usize } else { 0 })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::synthetic;

    #[test]
    fn the_flow_at_the_guide_is_where_the_pressure_reaches_it() {
        let case = |flow: f64| {
            let mut case = synthetic::case();
            case.outer.as_mut().expect("co-flow").flow = flow;
            case
        };
        let guide = 2.0 * highest(&case(1e-6));
        let flow = flow_at_pressure(1e-9, [1e-12, 1e-3], guide, &case).expect("reached");
        assert!((highest(&case(flow)) / guide - 1.0).abs() < 1e-3, "{flow}");
        assert_eq!(flow_at_pressure(1e-9, [1e-12, 1e-6], guide, &case), None, "not reached");
        assert_eq!(flow_at_pressure(1e-5, [1e-12, 1e-3], guide, &case), None, "above it at the start");
        assert!(needed(1e-3, Some(guide), &case(1e-3)).contains("times the guide"));
    }

    #[test]
    fn nine_tenths_of_the_bore_are_the_largest_drop() {
        let (most, place) = widest(&synthetic::case()).expect("a bore");
        assert!((most / (0.9 * 1.05e-3) - 1.0).abs() < 1e-12 && place.contains("1050 um"), "{place}");
    }
}
