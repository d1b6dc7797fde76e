//! What a reader of the answer should know about these readings.

use super::components::Components;
use super::{DropReadings, Known};
use crate::study::quantiles;

/// The lens effect, in every answer: the table does not say how the drops were pictured.
const LENS: &str = "a round wall is a lens: in a round bore seen from air a drop looks wider across the bore by the ratio of \
                    refractive indices (1.33 to 1.47), not along it; measure along the axis, or use a square bore or a matched bath";
const BIAS: &str = "an edge that is always put too far out (or a wrong scale) shifts the mean and shows in no spread";

/// Notes on the primary drops' readings.
pub fn notes(primary: &[DropReadings], parts: &Components, known: &Known) -> Vec<String> {
    let mut notes = vec![LENS.to_string(), BIAS.to_string()];
    notes.extend(match (known.rate, known.flow) {
        (Some(_), None) => Some("a rate alone closes no balance of volume: give --flow too".to_owned()),
        (None, Some(_)) => Some("a flow alone closes no balance of volume: give --rate too".to_owned()),
        _ => None,
    });
    notes.extend(known.scale_tolerance.map(|tolerance| {
        format!(
            "the scale's tolerance of {:.2} % shifts all drops together: it widens the mean, not the spread",
            100.0 * tolerance
        )
    }));
    notes.extend(rounding(parts, known));
    notes.extend(images(primary));
    notes.extend(tails(primary));
    if known.reading_sd.is_some() && parts.readings > parts.drops {
        let repeats = Components::of(primary, None).measurement.map_or(0.0, f64::sqrt);
        notes.push(format!(
            "the error of a reading was given, so the repeats were not used for it; they scatter by {:.3} um",
            1e6 * repeats
        ));
    }
    let longer = parts.measurement.map_or(0.0, |variance| 3.0 * variance / parts.mean.powi(2));
    if longer > 0.01 && parts.readings == parts.drops {
        notes.push(format!("the error of a reading lengthens D[4,3] by about {:.1} %", 100.0 * longer));
    }
    notes
}

fn rounding(parts: &Components, known: &Known) -> Option<String> {
    let sd = parts.measurement?.sqrt();
    if sd == 0.0 && known.reading_sd.is_none() {
        return Some(
            "repeat readings never differ: were they copied, or rounded to whole pixels? Their error is then unknown"
                .into(),
        );
    }
    let pixel = known.pixel?;
    (sd < pixel / 12f64.sqrt() && known.reading_sd.is_none()).then(|| {
        format!(
            "repeat readings scatter by less than whole pixels allow ({:.3} um, pixel over sqrt 12): they are probably not \
             independent, and the true spread is then overstated",
            1e6 * pixel / 12f64.sqrt()
        )
    })
}

fn images(primary: &[DropReadings]) -> Option<String> {
    let of = |drop: &DropReadings| {
        let first = drop.readings[0].image?;
        drop.readings.iter().all(|r| r.image == Some(first)).then_some(first)
    };
    primary[0].readings[0].image?;
    let homes: Vec<Option<u32>> = primary.iter().map(of).collect();
    if homes.iter().any(Option::is_none) {
        return None;
    }
    let mut text = "each drop was read in one picture only: repeats share its focus and lighting, so the error of a reading is a lower \
                    bound and the true spread an upper one"
        .to_string();
    if let Some(chance) = between_images(primary, &homes).filter(|chance| *chance < 0.01) {
        text +=
            &format!("; drops differ more between pictures than within (p = {chance:.1e}): focus, or the drops drift");
    }
    Some(text)
}

/// Chance of the scatter between pictures if pictures made no difference: one-way F test on the drops' means.
fn between_images(primary: &[DropReadings], homes: &[Option<u32>]) -> Option<f64> {
    let mut groups: std::collections::BTreeMap<u32, Vec<f64>> = std::collections::BTreeMap::new();
    for (drop, home) in primary.iter().zip(homes) {
        groups.entry((*home)?).or_default().push(drop.mean());
    }
    let (k, n) = (groups.len(), primary.len());
    if k < 2 || n <= k {
        return None;
    }
    let as_drops: Vec<DropReadings> = groups.values().map(|means| DropReadings::from_diameters("", means)).collect();
    let found = Components::of(&as_drops, None);
    let (between, within) = (found.between?, found.measurement?);
    (within > 0.0).then(|| quantiles::f_ratio_above(between / within, (k - 1) as f64, (n - k) as f64))
}

/// The interval supposes a normal law: say so where the drops' kurtosis speaks against it.
fn tails(primary: &[DropReadings]) -> Option<String> {
    let n = primary.len() as f64;
    let means: Vec<f64> = primary.iter().map(DropReadings::mean).collect();
    let centre = means.iter().sum::<f64>() / n;
    let moment = |p: i32| means.iter().map(|m| (m - centre).powi(p)).sum::<f64>() / n;
    let excess = moment(4) / moment(2).powi(2) - 3.0;
    // Three standard errors of the kurtosis of a normal sample, sqrt(24/n).
    (primary.len() >= 20 && excess > 3.0 * (24.0 / n).sqrt()).then(|| {
        format!("the drops have heavier tails than a normal law (excess kurtosis {excess:.1}): the interval is then too short")
    })
}
