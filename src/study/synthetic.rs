//! Invented cases and answers for the tests of this folder: quick, and nothing physical about them.

use crate::case::*;
use crate::outcome::*;

/// An invented orifice.
pub const ORIFICE: Orifice =
    Orifice { bore: 60e-6, length: 1e-4, standoff: 9e-5, collection_bore: 6e-5, collection_length: 0.0 };

/// An invented co-flow case.
pub fn case() -> Case {
    let stream = |viscosity, flow| Stream { liquid: None, viscosity, density: 1000.0, flow };
    let mut case = Case::bare("invented", Layout::Coflow, stream(0.05, 4e-11), 7e-3, 30e-6);
    case.outer = Some(stream(0.01, 2e-9));
    case.device =
        Device { bore: Bore::Square(1.05e-3), round_outer: Some(1e-3), tip_outer: Some(45e-6), ..case.device };
    case.run = RunControl { stop: Stop::Drops(8), accuracy: Accuracy::Coarse, frames: 2 };
    case
}

/// An invented answer.
pub fn outcome(case: &Case, mode: Mode, diameter: Option<f64>, satellites: f64) -> Outcome {
    let rate = diameter.map(|d| case.inner.flow / (std::f64::consts::PI / 6.0 * d.powi(3)));
    let summary = Summary {
        schema: SCHEMA.into(),
        version: env!("CARGO_PKG_VERSION").into(),
        title: case.title.clone(),
        layout: case.layout.name().into(),
        groups: Groups {
            ohnesorge: 1.0,
            bond: 0.0,
            weber_inner: 0.0,
            capillary_outer: None,
            reynolds_inner: 0.0,
            reynolds_outer: None,
            viscosity_ratio: None,
            flow_ratio: None,
            density_ratio: None,
            at_rate: None,
        },
        mode,
        mode_evidence: "invented".into(),
        established: Established { is: diameter.is_some(), ..Established::default() },
        size: Size::default(),
        assumed: Vec::new(),
        linear_estimate: None,
        first_pinch: None,
        drops: Vec::new(),
        primary: Primary {
            count: 8,
            mean_diameter_m: diameter,
            model_error_relative: diameter.map(|_| 0.05),
            cv: diameter.map(|_| 0.001),
            cv_interval95: None,
            rate_per_s: rate,
            settled_after: Some(2),
        },
        satellites: Satellites {
            per_primary: diameter.map(|_| satellites),
            volume_fraction: diameter.map(|_| 0.01 * satellites),
            mean_diameter_m: None,
            classes: Vec::new(),
        },
        jet: None,
        necks: None,
        pressure: Pressure::default(),
        error_bar: None,
        surface: None,
        moved: None,
        model_error: ModelError { relative: Some(0.05), at_least: false, how: "invented".into() },
        conservation: Conservation::default(),
        budget: Default::default(),
        cost: Cost::default(),
        warnings: Vec::new(),
        cautions: Vec::new(),
        stopped: Stopped::DropsReached,
        end: None,
        provenance: Provenance::default(),
    };
    Outcome { summary, pinch_offs: Vec::new(), necks: Vec::new(), counts: SolverCounts::default() }
}
