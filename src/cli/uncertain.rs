//! `run --uncertain N`: what the tolerances of the inputs make of the answer.

use super::quantity::{length, number, percent, rate};
use super::studies::{Bench, Keeping};
use super::text::Page;
use super::{Failure, Output, map};
use crate::case::Case;
use crate::study::aim::DROPS;
use crate::study::evaluate::{Counted, Length, quick};
use crate::study::uncertain::{Band, Uncertain, inputs, propagate};

/// Propagates the tolerances of a case through `points` coarse runs, whose answers are kept where that is asked for.
///
/// # Errors
/// Where no quantity has a tolerance, or the user stopped it.
pub fn ask(case: &Case, points: u32, keeping: &Keeping, how: &Output) -> Result<Uncertain, Failure> {
    let inputs = inputs(case);
    let bench = Bench::new(how, Some(u64::from(points))).keeping(keeping, how)?;
    let base = quick(case, DROPS);
    let make = |values: &[f64]| {
        let set = |case: Case, (input, value): (&crate::study::uncertain::Input, &f64)| case.with(&input.key, *value);
        let made = inputs.iter().zip(values).try_fold(base.clone(), set);
        made.map_err(map::contradicted)
    };
    let answer = |case: &Case, length: Length| bench.answer(case, length);
    let found = propagate(&inputs, points, &make, &Counted::new(&answer), map::threads(None), &|| ());
    bench.close(found)
}

/// The answer as text.
pub fn page(u: &Uncertain) -> Page {
    let mut page = Page::new();
    page.heading("With the tolerances of the inputs");
    page.paragraph(&u.statement);
    let band =
        |b: Band, show: fn(f64) -> String| format!("{} (90 %: {} to {})", show(b.median), show(b.low), show(b.high));
    page.fact_if("mean diameter", u.diameter_m.map(|b| band(b, length)));
    page.fact_if("CV (a lower bound)", u.cv.map(|b| band(b, percent)));
    page.fact_if("primary drops", u.rate_per_s.map(|b| band(b, rate)));
    page.fact_if("satellites a drop", u.satellites_per_primary.map(|b| band(b, number)));
    page.fact_if("their share of volume", u.satellite_volume_fraction.map(|b| band(b, percent)));
    page.fact("runs", &format!("{} coarse ones of {DROPS} drops, {} without an answer", u.runs, u.failed));
    u.reasons.iter().for_each(|why| page.item(why));
    let rows: Vec<Vec<String>> = u
        .influences
        .iter()
        .map(|i| {
            let input = u.inputs.iter().find(|input| input.key == i.key);
            vec![
                i.key.clone(),
                input.map_or(String::new(), |input| percent(input.tolerance)),
                if i.significant { percent((100.0 * i.share).round() / 100.0) } else { "-".into() },
                format!("{:+.1} +- {:.1} %", 100.0 * i.effect, 100.0 * i.effect_error95),
            ]
        })
        .collect();
    page.table(&["input", "tolerance", "share", "diameter, low to high"], &rows);
    if rows.is_empty() {
        page.paragraph(&format!("Too few runs to tell inputs apart: {} or more are needed.", u.inputs.len() + 3));
    } else {
        page.paragraph("+- is the half width of a 95 % interval; - is not told from none. A tolerance is a half width too, every value within it alike.");
    }
    page
}
