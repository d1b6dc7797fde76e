use crate::framework::{Status, Topic, source};
use crate::full_equations::{Compared, group, inertial, judged};

pub fn topic() -> Topic {
    let from = source(
        "own runs of a general flow solver, both liquids' Navier-Stokes equations, validation/reference/results/inertia.csv",
        Status::FirstPrinciples,
    );
    let mut rows: Vec<_> = inertial().iter().map(|row| judged(row, &from, 0.1)).collect();
    let (blind, known): (Vec<&Compared>, Vec<_>) = inertial().iter().partition(|row| row.blind());
    rows.extend(group("rows but the drawn", &from, &known));
    rows.extend(group("rows drawn blindly, opened last", &from, &blind));
    Topic { folder: "coflow_inertia", section: 'C', title: "First drop of a co-flow with inertia", rows, figure: None }
}
