mod coflow;

use crate::framework::{Row, Status, Topic, relative, report, source};
use slenderjet::case::{Accuracy, Stop, examples, parse};
use slenderjet::simulate::{Silent, simulate};

/// The goal for rows that were not in view.
const TOLERANCE: f64 = 0.1;

/// Three drops of a device by the full equations without inertia.
struct Sequence {
    what: &'static str,
    /// Inner flow of the example `counterflow`.
    inner: &'static str,
    /// Diameter, um, and when they come off, ms.
    drops: [[f64; 2]; 3],
    until: f64,
    /// Why the last drop is missed, if it is.
    cause: Option<&'static str>,
}

/// `slenderjet confirm counterflow.toml --drops 3`, one resolution, 2026-12-01 and (twice the inner flow) 2026-11-30.
const SEQUENCES: [Sequence; 2] = [
    Sequence {
        what: "example `counterflow`",
        inner: "0.05 mL/h",
        drops: [[74.38, 20.8], [74.38, 36.33], [74.38, 51.86]],
        until: 56e-3,
        cause: None,
    },
    Sequence {
        what: "the same at twice its inner flow",
        inner: "0.1 mL/h",
        drops: [[79.28, 15.26], [72.7, 25.46], [105.1, 53.97]],
        until: 75e-3,
        cause: Some("fed through the hole by a thread of 28 R: the drop is let go too late"),
    },
];

/// Drops of at least this diameter, um, are compared; what is smaller is a satellite in both.
const DROPS_FROM: f64 = 50.0;

/// Those drops here, as many of them as come off.
fn computed(sequence: &Sequence) -> Vec<[f64; 2]> {
    let Some(example) = examples::find("counterflow") else { return Vec::new() };
    let case =
        parse(example.text, "counterflow.toml").ok().and_then(|case| case.with_text("inner.flow", sequence.inner).ok());
    let Some(mut case) = case else { return Vec::new() };
    case.run.accuracy = Accuracy::Coarse;
    case.run.stop = Stop::Until(sequence.until);
    simulate(&case, None, &mut Silent).map_or(Vec::new(), |outcome| {
        let drops = outcome.summary.drops.iter().map(|drop| [1e6 * drop.diameter_m, 1e3 * drop.time_s]);
        drops.filter(|[diameter, _]| *diameter > DROPS_FROM).collect()
    })
}

pub fn topic() -> Topic {
    let from =
        source("own boundary elements, `slenderjet confirm counterflow.toml --drops 3`", Status::FirstPrinciples);
    let mut rows: Vec<Row> = Vec::new();
    for sequence in &SEQUENCES {
        let ours = computed(sequence);
        for (k, [diameter, time]) in sequence.drops.into_iter().enumerate() {
            let [found, at] = ours.get(k).copied().unwrap_or([f64::NAN; 2]);
            let name = format!("{}, drop {}: diameter, um", sequence.what, k + 1);
            let judged = relative(name, &from, diameter, found, TOLERANCE);
            rows.push(match sequence.cause.filter(|_| k + 1 == sequence.drops.len()) {
                Some(cause) => judged.remark(cause),
                None => judged,
            });
            rows.push(report(format!("{}, drop {}: comes off at, ms", sequence.what, k + 1), &from, time, at));
        }
    }
    rows.extend(coflow::rows());
    Topic { folder: "two_fields", section: 'C', title: "Drops by two fields", figure: None, rows }
}
