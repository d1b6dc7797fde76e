use crate::framework::{Status, Topic, source};
use crate::full_equations::{Compared, group, inertial, judged};

pub fn topic() -> Topic {
    let from = source(
        "own runs of a general flow solver, both liquids' Navier-Stokes equations, validation/reference/results/inertia.csv",
        Status::FirstPrinciples,
    );
    let mut rows: Vec<_> = inertial().iter().map(|row| judged(row, &from, 0.1)).collect();
    let (blind, known): (Vec<&Compared>, Vec<_>) = inertial().iter().partition(|row| row.blind());
    // the first four were in view when the closure of the jet that crosses a drop was chosen, these were drawn after it
    let (after, in_view): (Vec<&Compared>, Vec<_>) =
        blind.into_iter().partition(|row| row.name.starts_with("blind-jet"));
    rows.extend(group("rows but the drawn", &from, &known));
    rows.extend(group("drawn rows, in view when the jet that crosses a drop was chosen", &from, &in_view));
    rows.extend(group("rows drawn blindly after it", &from, &after));
    Topic { folder: "coflow_inertia", section: 'C', title: "First drop of a co-flow with inertia", rows, figure: None }
}
