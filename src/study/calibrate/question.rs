//! Which keys are found from the measured drops, where the user may leave that open.

use super::{Parameter, Question, SCALE, parameter};
use crate::case::{Case, keys};
use crate::study::measured::Measured;

/// Keys that are freed where they have a tolerance.
const USUAL: [&str; 3] = ["interface.tension", "device.tip_bore", "device.orifice_bore"];

impl Question {
    /// Frees the keys named, or those of tension, tip bore and orifice bore that have a tolerance (else the tension), and the scale
    /// `(true over read diameter, its relative tolerance)` where it is uncertain.
    ///
    /// # Errors
    /// In words: a key that is no number above zero, that the table varies, or that is named twice; a free scale without tolerance.
    pub fn new(
        case: &Case,
        table: &Measured,
        free: &[String],
        scale: Option<(f64, f64)>,
        model_error: Option<f64>,
    ) -> Result<Question, String> {
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
        let free =
            names.iter().map(|name| freed(name, uncertain, case, table)).collect::<Result<Vec<Parameter>, String>>()?;
        if let Some(twice) = (1..free.len()).find(|i| free[..*i].iter().any(|f| f.key == free[*i].key)) {
            return Err(format!("`{}` is freed twice", free[twice].key));
        }
        Ok(Question { free, model_error, scale: scale.map_or(1.0, |(factor, _)| factor) })
    }
}

fn freed(name: &str, scale: Option<(f64, f64)>, case: &Case, table: &Measured) -> Result<Parameter, String> {
    if name == SCALE {
        let (value, tolerance) = scale.ok_or("a free scale needs its uncertainty: --scale '1 +- 2 %'")?;
        return Ok(Parameter { key: SCALE.into(), value, sd: tolerance / 3f64.sqrt(), told: true });
    }
    if table.keys().contains(&name) {
        return Err(format!("`{name}` is free and a column of the table: it is one or the other"));
    }
    parameter(case, name).ok_or_else(|| {
        let near = keys::nearest(name, Some(case.layout)).filter(|near| *near != name);
        let hint = near.map_or(String::new(), |near| format!("; did you mean `{near}`?"));
        format!("`{name}` is no number above zero in this case{hint}")
    })
}
