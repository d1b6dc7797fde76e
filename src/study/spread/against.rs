//! Measured beside predicted.

use super::Spread;
use crate::outcome::{Mode, Size, SizeCause, Summary};
use serde::Serialize;

/// The predicted drops of a run beside the measured ones.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Against {
    pub title: String,
    pub mode: Mode,
    pub mean_diameter_m: Option<f64>,
    pub cv: Option<f64>,
    pub cv_interval95: Option<[f64; 2]>,
    pub rate_per_s: Option<f64>,
    pub satellites_per_primary: Option<f64>,
    /// Predicted error bar of the diameter, relative, where the run was `fine`.
    pub error_bar_relative: Option<f64>,
    /// Measured mean over predicted mean, less one.
    pub diameter_difference: Option<f64>,
    pub statement: String,
}

/// Lay a run beside measured drops.
pub fn against(measured: &Spread, run: &Summary) -> Against {
    let difference = run.primary.mean_diameter_m.map(|d| measured.mean_m / d - 1.0);
    Against {
        title: run.title.clone(),
        mode: run.mode,
        mean_diameter_m: run.primary.mean_diameter_m,
        cv: run.primary.cv,
        cv_interval95: run.primary.cv_interval95,
        rate_per_s: run.primary.rate_per_s,
        satellites_per_primary: run.satellites.per_primary,
        error_bar_relative: run.error_bar.as_ref().map(|bar| bar.diameter_relative),
        diameter_difference: difference,
        statement: statement(measured, run, difference),
    }
}

fn statement(measured: &Spread, run: &Summary, difference: Option<f64>) -> String {
    let Some(difference) = difference else {
        return "the run gave no settled primary drop to compare with".into();
    };
    let larger = if difference >= 0.0 { "larger" } else { "smaller" };
    let interval = measured.mean_interval95_with_scale_m.or(measured.mean_interval95_m);
    let sampling = interval.map_or(f64::INFINITY, |[low, high]| 0.5 * (high - low) / measured.mean_m);
    let numerical = run.error_bar.as_ref().map_or(0.0, |bar| bar.diameter_relative.abs());
    let known = sampling + numerical;
    // One standard deviation; a difference up to two of them is no evidence against the setting.
    let verdict = match run.primary.model_error_relative {
        _ if difference.abs() <= known => {
            "within the sampling error of the measured mean and the run's numerical error".to_string()
        }
        _ if run.size.low_m.is_some() => by_interval(measured, &run.size, known),
        Some(model) if difference.abs() <= known + 2.0 * model => format!(
            "more than sampling and numerical error explain, but within twice the model's own error of {:.1} %",
            100.0 * model
        ),
        Some(model) => format!(
            "more than sampling, numerical error and twice the model's own error of {:.1} % explain: scale, tension or tip differ",
            100.0 * model
        ),
        None => {
            "more than sampling and numerical error explain: scale, tension, tip or the model itself differ".to_string()
        }
    };
    let bound = "which is a lower bound (pumps and glass are not in it)";
    let spread = match (measured.cv_true, run.primary.cv) {
        (Some(_), Some(p)) if measured.distinguishable != Some(true) => {
            let upper = measured.cv_true_interval95.map_or(f64::NAN, |[_, upper]| upper);
            format!(
                "; the true CV cannot be told from the error of reading (below {:.2} %), {:.2} % is predicted, {bound}",
                100.0 * upper,
                100.0 * p
            )
        }
        (Some(m), Some(p)) => format!("; true CV {:.2} % against {:.2} % predicted, {bound}", 100.0 * m, 100.0 * p),
        _ => String::new(),
    };
    format!("measured drops are {:.1} % {larger} than predicted, {verdict}{spread}", 100.0 * difference.abs())
}

/// What the prediction's own interval says of a difference: glass and scale are named only where everything that the program leaves
/// out has a number.
fn by_interval(measured: &Spread, size: &Size, known: f64) -> String {
    let (low, high) = (size.low_m.unwrap_or(0.0), size.high_m.unwrap_or(f64::INFINITY));
    let apart = known.min(1.0) * measured.mean_m;
    let most = size.share.iter().filter(|c| c.relative.is_some()).max_by(|a, b| {
        let of = |c: &SizeCause| c.relative.unwrap_or(0.0).abs();
        of(a).total_cmp(&of(b))
    });
    let most = most.map_or(String::new(), |c| format!(", most of it {}", c.cause));
    let interval = format!("the prediction's 90 % interval ({:.1} to {:.1} um{most})", 1e6 * low, 1e6 * high);
    if (low - apart..=high + apart).contains(&measured.mean_m) {
        return format!("within {interval}");
    }
    let unknown: Vec<&str> = size.share.iter().filter(|c| c.relative.is_none()).map(|c| c.cause.as_str()).collect();
    match unknown.is_empty() && !size.at_least {
        true => format!("outside of {interval}: scale, tension or tip differ"),
        false => format!(
            "outside of {interval}, which leaves out what has no number ({}): that alone may explain it",
            match unknown[..] {
                [] => "the model outside of its reference".to_string(),
                _ => unknown.join(", "),
            }
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outcome::Mode;
    use crate::study::spread::{DropReadings, Known, analyse};
    use crate::study::synthetic;

    // Invented: drops that differ by less than their readings do.
    #[test]
    fn a_spread_that_cannot_be_told_is_not_laid_beside_a_predicted_one() {
        let drop = |i: u32| {
            let d = 100e-6 + 0.02e-6 * f64::from(i % 3);
            DropReadings::from_diameters(i.to_string(), &[d - 0.3e-6, d, d + 0.3e-6])
        };
        let measured = analyse(&(0..12).map(drop).collect::<Vec<_>>(), &Known::default());
        assert_eq!(measured.distinguishable, Some(false));
        let run = synthetic::outcome(&synthetic::case(), Mode::Dripping, Some(100e-6), 0.0).summary;
        let said = against(&measured, &run).statement;
        assert!(said.contains("cannot be told") && !said.contains("true CV 0"), "{said}");
    }

    // Invented: drops of 100 um known to 0.1 %, a run that says 97 um.
    #[test]
    fn the_models_own_error_is_heard() {
        let drop = |i: u32| {
            let d = 100e-6 + 0.1e-6 * f64::from(i % 3);
            DropReadings::from_diameters(i.to_string(), &[d, d + 0.02e-6])
        };
        let measured = analyse(&(0..12).map(drop).collect::<Vec<_>>(), &Known::default());
        let mut run = synthetic::outcome(&synthetic::case(), Mode::Dripping, Some(97e-6), 0.0).summary;
        let mut said = |error: Option<f64>| {
            run.primary.model_error_relative = error;
            against(&measured, &run).statement
        };
        assert!(said(Some(0.05)).contains("within twice the model's own error of 5.0 %"));
        assert!(said(Some(0.005)).contains("scale, tension or tip differ"));
        assert!(said(None).contains("or the model itself differ"));
        run.size = Size { low_m: Some(90e-6), high_m: Some(104e-6), ..Size::default() };
        assert!(against(&measured, &run).statement.contains("within the prediction's 90 % interval"));
        run.size.high_m = Some(99e-6);
        assert!(against(&measured, &run).statement.contains("scale, tension or tip differ"));
        // glass is not blamed for what the program leaves out
        run.size.share = vec![SizeCause { cause: "drop_inertia".into(), relative: None }];
        let told = against(&measured, &run).statement;
        assert!(told.contains("drop_inertia") && !told.contains("tip differ"), "{told}");
        run.primary.mean_diameter_m = Some(measured.mean_m);
        assert!(against(&measured, &run).statement.contains("within the sampling error"));
    }
}
