use crate::framework::plot::{Plot, linear, symbols};
use crate::framework::{Status, Topic, report, source};
use crate::full_equations::{Compared, by_closures, devices, group, inertial, judged};
use slenderjet::limits::model_error::told;
use slenderjet::limits::reference::devices::{DEVICE_KERNEL, Device};

/// What the orifice's topic judges by.
const TOLERANCE: f64 = 0.1;

/// Rows in view while the form of two fields was chosen, and how their rays and cells stand behind a tip: they do not judge it and tell no
/// error.
const IN_VIEW: [&str; 10] = [
    "device-1",
    "orifice-10",
    "orifice-14",
    "orifice-20",
    "orifice-21",
    "orifice-24",
    "blind-orifice-6",
    "blind-orifice-11",
    "blind-hole-6",
    "blind-hole-13",
];

/// The same for closures: the ends and the stretch in front of and behind a hole; the last four when the ends' room was moved.
const IN_VIEW_OF_CLOSURES: [&str; 12] = [
    "device-1",
    "orifice-1",
    "orifice-10",
    "orifice-14",
    "orifice-19",
    "orifice-21",
    "orifice-24",
    "orifice-25",
    "unseen-orifice-4",
    "unseen-orifice-5",
    "unseen-orifice-6",
    "blind-orifice-12",
];

fn guided(row: &Compared) -> bool {
    IN_VIEW.contains(&row.name.as_str())
}

/// Lines of the compiled-in table.
fn lines<'a>(rows: &'a [Compared], in_view: &'a [&str]) -> impl Iterator<Item = String> + 'a {
    // a row in which no drop comes off here has no difference: the page counts it as failing
    let telling = move |row: &&Compared| row.ours.is_finite() && !in_view.contains(&row.name.as_str());
    rows.iter().filter(telling).filter_map(|row| {
        let Device { capillary, flow_ratio, viscosity_ratio, hole } = row.device?;
        let line = [capillary, flow_ratio, viscosity_ratio, hole].map(|x| format!("{x:?}")).join(", ");
        Some(format!("    [{line}, {:.4}],\n", row.difference()))
    })
}

/// The compiled-in differences: orifice rows that guided nothing, and rows with inertia that drip here.
pub fn compiled_in() -> String {
    let mut text = String::from(
        "//! Rows of the full equations (no number is fitted to one; which were in view: see the parent module), and the model's differences\n\
         //! from them. Orifice, by two fields and by closures: Ca in the hole, flow ratio,\n\
         //! viscosity ratio, hole's radius over the tip's, difference of d. Inertia: La_o, Ca, q, viscosity ratio, difference of d.\n\
         //! Written by `SLENDERJET_BLESS=1 cargo test --release --test validation`. Not for editing by hand.\n\n\
         pub(super) const DEVICES: &[[f64; 5]] = &[\n",
    );
    text.extend(lines(devices(), &IN_VIEW));
    text += "];\n\npub(super) const BY_CLOSURES: &[[f64; 5]] = &[\n";
    text.extend(lines(by_closures(), &IN_VIEW_OF_CLOSURES));
    text += "];\n\npub(super) const INERTIAL: &[[f64; 5]] = &[\n";
    // the error is told of drops at the tip: a jet's is judged on the page alone
    for row in inertial().iter().filter(|row| row.ours.is_finite() && !row.jets()) {
        if let Some(i) = row.inertial {
            let line = [i.laplace, i.capillary, i.inner_share, i.viscosity_ratio].map(|x| format!("{x:?}")).join(", ");
            text += &format!("    [{line}, {:.4}],\n", row.difference());
        }
    }
    text + "];\n"
}

/// How often a row, left out, lies within the error told from the others.
fn coverage(rows: &[&Compared]) -> f64 {
    let lines: Vec<_> = rows
        .iter()
        .filter(|r| r.ours.is_finite())
        .filter_map(|r| Some((r.device?.logarithms(), r.difference())))
        .collect();
    let inside = (0..lines.len()).filter(|i| {
        let others = lines.iter().enumerate().filter(|(j, _)| j != i).map(|(_, line)| *line);
        told(lines[*i].0, DEVICE_KERNEL, others).is_some_and(|t| lines[*i].1.abs() <= t.error)
    });
    inside.count() as f64 / lines.len() as f64
}

pub fn topic() -> Topic {
    let from = source("own boundary elements, validation/reference/results/devices.csv", Status::FirstPrinciples);
    let all: Vec<&Compared> = devices().iter().filter(|row| !row.blunt).collect();
    let mut rows: Vec<_> = all.iter().map(|row| judged(row, &from, TOLERANCE)).collect();
    let (guiding, judging): (Vec<&Compared>, Vec<_>) = all.iter().partition(|row| guided(row));
    let (blind, known): (Vec<&Compared>, Vec<_>) = judging.iter().partition(|row| row.blind());
    rows.extend(group("rows in view of the form", &from, &guiding));
    rows.extend(group("rows that judge, but the drawn", &from, &known));
    rows.extend(group("rows drawn blindly, opened last", &from, &blind));
    let closures: Vec<&Compared> = by_closures().iter().filter(|row| row.blind()).collect();
    rows.extend(group("rows drawn blindly by closures (some in view of them)", &from, &closures));
    rows.push(report(
        "rows left out that lie within the model error told from the others (0.68 in a normal law)",
        &from,
        0.68,
        coverage(&judging),
    ));
    let points = |rows: &[&Compared]| {
        let drops = rows.iter().filter(|row| row.ours.is_finite());
        drops.map(|row| (row.diameter, row.ours)).collect::<Vec<_>>()
    };
    Topic {
        folder: "orifice",
        section: 'C',
        title: "First drop through an orifice against the full equations",
        figure: Some(Plot {
            x: linear("d/D, boundary elements"),
            y: linear("d/D, this program"),
            series: vec![
                symbols("in view", points(&guiding)),
                symbols("judge", points(&known)),
                symbols("drawn blindly", points(&blind)),
            ],
        }),
        rows,
    }
}
