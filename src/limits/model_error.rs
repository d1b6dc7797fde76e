//! How far the model itself is from the full equations where this case lies: the error that no refinement takes away.
//!
//! Equation: e^2 = (sum w r^2 + e0^2)/(sum w + 1) over the rows of the first-principles table, r the model's difference of the
//! first drop's diameter there, w the row's nearness, e0 the rms of all rows (one row's worth of what is known anywhere).
//! Beyond the table e grows by the distance to the nearest row over [`INSIDE`] and is a lower bound.
//!
//! Symbols: e relative, one standard deviation; w and the distance in kernel lengths, see [`super::reference`].
//!
//! Source: common practice, no source (local mean square with a normal kernel); how often it holds is counted by leaving each
//! row out, on the validation page.
//!
//! Holds for: first drops of a dripping co-flow, for which the table was made; settled ones differ by what is left on the tip.

use super::figure;
use super::reference::{Place, Row, rows};
use crate::case::{Case, Layout, Model};
use crate::groups::groups;
use crate::outcome::{Mode, ModelError};

/// Distance to the nearest row up to which a case counts as inside the table (no row of it is alone by more).
pub const INSIDE: f64 = 1.5;
/// Laplace number of the outer liquid and Bond number (size) above which the table, which has neither, is not the same case.
const LAPLACE: f64 = 1.0;
const BOND: f64 = 0.01;

/// What the rows say at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Near {
    /// e.
    pub error: f64,
    /// Distance to the nearest row, kernel lengths.
    pub distance: f64,
    /// Its number.
    pub nearest: u32,
    /// Mean relative difference of the neck's place.
    pub neck: f64,
}

/// The error at `place` told by `known` rows; `None` without any.
pub fn near(place: &Place, known: impl Iterator<Item = Row>) -> Option<Near> {
    let (mut count, mut all, mut weight, mut square, mut neck) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let (mut distance, mut nearest) = (f64::INFINITY, 0);
    for row in known {
        let (w, apart) = (place.nearness(&row.place), place.distance(&row.place));
        count += 1.0;
        all += row.difference * row.difference;
        weight += w;
        square += w * row.difference * row.difference;
        neck += w * row.neck_difference;
        if apart < distance {
            (distance, nearest) = (apart, row.number);
        }
    }
    let base = all / count;
    let beyond = (distance / INSIDE).max(1.0);
    let error = beyond * ((square + base) / (weight + 1.0)).sqrt();
    (count > 0.0 && distance.is_finite()).then_some(Near { error, distance, nearest, neck: neck / weight })
}

/// The model's own error of the mean diameter of a case that runs in `mode`.
pub fn model_error(case: &Case, mode: Mode) -> ModelError {
    let silent = |how: &str| ModelError { relative: None, at_least: false, how: how.into() };
    match case.layout {
        Layout::Coflow => {}
        Layout::Counterflow => {
            return silent("unknown: nothing outside the model was computed or measured for drops behind an orifice");
        }
        Layout::Pendant | Layout::Segment => {
            return silent("unknown: no outside number for this size is in the validation suite");
        }
    }
    if mode == Mode::Jetting {
        return silent("unknown: the reference has first drops of dripping only, none of a jet's");
    }
    if case.model.end_drag != Model::default().end_drag {
        return silent("unknown: the reference was compared with end_drag = 1 only");
    }
    let Some((place, near)) = Place::of(case).and_then(|p| Some((p, near(&p, rows())?))) else {
        return silent("unknown: the reference has cases with both streams in a tube only");
    };
    let mut beyond = without_reference(case);
    if near.distance > INSIDE {
        beyond.insert(
            0,
            format!("its nearest row ({}) lies {} kernel lengths away", near.nearest, figure(near.distance)),
        );
    }
    let where_ = format!(
        "Ca {}, viscosity ratio {}, inner over outer velocity {}, wall {} tip radii away",
        figure(place.capillary),
        figure(place.viscosity_ratio),
        figure(place.inner_share),
        figure(place.wall)
    );
    let how = if beyond.is_empty() {
        format!(
            "rms difference from our own first-principles table near {where_}; two cases in three lie within it; first drops, nothing \
             measured"
        )
    } else {
        format!("outside the table's range: unknown, at least this; {} ({where_})", beyond.join("; "))
    };
    ModelError { relative: Some(near.error), at_least: !beyond.is_empty(), how }
}

/// What the case has that the table has not, each with its number.
fn without_reference(case: &Case) -> Vec<String> {
    let (g, mut found) = (groups(case), Vec::new());
    if let Some(laplace) = super::outer_laplace(case).filter(|la| *la > LAPLACE) {
        found.push(format!(
            "the table has no inertia, here La = {} (limit {LAPLACE}) in the outer liquid",
            figure(laplace)
        ));
    }
    if g.bond.abs() > BOND {
        found.push(format!("the table has no gravity, here Bo = {} (limit {BOND})", figure(g.bond)));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{examples, parse};
    use approx::assert_relative_eq;

    fn example(name: &str) -> Case {
        parse(examples::find(name).expect("an example").text, name).unwrap_or_else(|e| panic!("{e}"))
    }

    fn row(number: u32, place: Place, difference: f64) -> Row {
        Row { number, place, diameter: 2.0, neck: 2.0, difference, neck_difference: -0.2 }
    }

    const HERE: Place = Place { capillary: 0.1, inner_share: 0.1, viscosity_ratio: 1.0, wall: 10.0 };

    // One row at the place itself: (r^2 + r^2)/2; a far row has no weight there, only in the mean of all.
    #[test]
    fn theory_local_mean_square_by_hand() {
        let one = [row(1, HERE, 0.04)];
        assert_relative_eq!(near(&HERE, one.into_iter()).expect("a row").error, 0.04, max_relative = 1e-12);
        let two = [row(1, HERE, 0.04), row(2, Place { capillary: 1e6, ..HERE }, 0.2)];
        let told = near(&HERE, two.into_iter()).expect("rows");
        let base: f64 = 0.5 * (0.04f64.powi(2) + 0.2f64.powi(2));
        assert_relative_eq!(told.error, (0.5 * (0.04f64.powi(2) + base)).sqrt(), max_relative = 1e-9);
        assert_eq!((told.nearest, told.distance), (1, 0.0));
        assert_eq!(near(&HERE, std::iter::empty()), None);
    }

    #[test]
    fn beyond_the_table_the_error_grows_with_the_distance() {
        let one = [row(1, HERE, 0.04)];
        // 16 times Ca is four kernel lengths
        let told = near(&Place { capillary: 1.6, ..HERE }, one.into_iter()).expect("a row");
        assert_relative_eq!(told.distance, 4.0, max_relative = 1e-12);
        assert_relative_eq!(told.error, 0.04 * 4.0 / INSIDE, max_relative = 1e-3);
    }

    #[test]
    fn no_row_of_the_table_is_outside_it() {
        for this in rows() {
            let told = near(&this.place, rows().filter(|r| r.number != this.number)).expect("rows");
            assert!(told.distance <= INSIDE, "row {}: {}", this.number, told.distance);
        }
    }

    #[test]
    fn an_error_is_told_where_there_is_evidence_and_nowhere_else() {
        let coflow = example("coflow");
        let inside = model_error(&coflow, Mode::Dripping);
        assert!(inside.relative.is_some_and(|e| (0.01..0.12).contains(&e)) && !inside.at_least, "{inside:?}");
        assert_eq!(model_error(&coflow, Mode::Jetting).relative, None);
        for name in ["counterflow", "tap", "jet", "segment"] {
            assert_eq!(model_error(&example(name), Mode::Dripping).relative, None, "{name}");
        }
        let other = coflow.with_text("model.end_drag", "0.5").expect("a case");
        assert_eq!(model_error(&other, Mode::Dripping).relative, None);
        for (key, value) in
            [("outer.viscosity", "1 mPa.s"), ("inner.viscosity", "500 Pa.s"), ("outer.flow", "900 mL/h")]
        {
            let told = model_error(&coflow.with_text(key, value).expect("a case"), Mode::Dripping);
            assert!(told.at_least && told.how.contains("unknown, at least"), "{key} = {value}: {told:?}");
        }
    }
}
