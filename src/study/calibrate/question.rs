//! Which keys are found from the measured drops, where the user may leave that open.

use super::{CalibrateError, Parameter, Question, SCALE, parameter};
use crate::case::{Case, keys};
use crate::study::measured::Measured;

/// Keys that are freed where they have a tolerance.
const USUAL: [&str; 3] = ["interface.tension", "device.tip_bore", "device.orifice_bore"];

impl Question {
    /// Frees the keys named, or those of tension, tip bore and orifice bore that have a tolerance (else the tension), and the scale
    /// `(true over read diameter, its relative tolerance)` where it is uncertain.
    ///
    /// # Errors
    /// A key that is no number above zero, that the table varies, or that is named twice; a free scale without tolerance.
    pub fn new(
        case: &Case,
        table: &Measured,
        free: &[String],
        scale: Option<(f64, f64)>,
        model_error: Option<f64>,
    ) -> Result<Question, CalibrateError> {
        let uncertain = scale.filter(|(_, tolerance)| *tolerance > 0.0);
        let mut names: Vec<String> = free.iter().map(|key| key.trim().to_owned()).collect();
        if names.is_empty() {
            let told = |key: &&&str| parameter(case, key).is_some_and(|p| p.told);
            names = USUAL.iter().filter(told).map(|key| (*key).to_owned()).collect();
            names.extend(uncertain.map(|_| SCALE.to_owned()));
            if names.is_empty() {
                names.push(USUAL[0].to_owned());
            }
        }
        let free = names
            .iter()
            .map(|name| freed(name, uncertain, case, table))
            .collect::<Result<Vec<Parameter>, CalibrateError>>()?;
        if let Some(twice) = (1..free.len()).find(|i| free[..*i].iter().any(|f| f.key == free[*i].key)) {
            return Err(CalibrateError::FreedTwice { key: free[twice].key.clone() });
        }
        Ok(Question { free, model_error, scale: scale.map_or(1.0, |(factor, _)| factor) })
    }
}

fn freed(name: &str, scale: Option<(f64, f64)>, case: &Case, table: &Measured) -> Result<Parameter, CalibrateError> {
    if name == SCALE {
        let (value, tolerance) = scale.ok_or(CalibrateError::ScaleWithoutTolerance)?;
        return Ok(Parameter { key: SCALE.into(), value, sd: tolerance / 3f64.sqrt(), told: true });
    }
    if table.keys().contains(&name) {
        return Err(CalibrateError::FreeAndColumn { key: name.to_owned() });
    }
    parameter(case, name).ok_or_else(|| {
        let near = keys::nearest(name, Some(case.layout.kind())).filter(|near| *near != name);
        CalibrateError::NoNumber { key: name.to_owned(), nearest: near }
    })
}
