use crate::framework::table::Table;
use crate::framework::{Row, Source, Status, Topic, relative, source, whole_table};
use crate::full_equations::{Compared, devices, group, judged};
use slenderjet::thread::closures::ends::{Wake, elongated, round_end, sampled_at};

/// Drag on drops held behind blunt tips: thin ones are met within 4 % (rms), see the closure.
const HELD: f64 = 0.1;
/// Largest difference of the stream on the axis: the law's error behind thin tips, and a fourth of it.
const STREAM: f64 = 0.045;

/// Drops held behind tips: outside radius of the tip, that of the tube, gap, radius (all over R), aspect, viscosity ratio, drag.
pub fn held_drops() -> Vec<[f64; 7]> {
    Table::read("tests/data/first_principles/held_drop_blunt_tip.csv").columns([
        "outer_over_R",
        "wall_over_R",
        "gap_over_R",
        "radius_over_R",
        "aspect",
        "viscosity_ratio",
        "drag_over_6_pi_mu_R_U",
    ])
}

/// Root mean square of the closure's differences from the held drops of one outside radius.
fn held(outer: f64) -> f64 {
    let table = held_drops();
    // a drop smaller than the face that it is held at is in nobody's way: no run comes off with it
    let rows: Vec<_> = table.into_iter().filter(|row| row[0] == outer && row[3] >= row[0]).collect();
    let square = rows.iter().map(|[outer, wall, gap, radius, aspect, ratio, drag]| {
        let far = gap + 2.0 * radius * aspect;
        let end = round_end(*radius, Some(*wall), *ratio, 1.0);
        let place = sampled_at((*gap, far), *radius, *aspect, wall / outer, *ratio);
        let stream = end.drift * Wake::new(*outer, *wall).at(place).0;
        let ours = end.drag / 3.0 * elongated(*aspect, radius / wall, *ratio) * radius * stream;
        (ours / drag - 1.0).powi(2)
    });
    (square.sum::<f64>() / rows.len() as f64).sqrt()
}

fn closures(from: &Source) -> Vec<Row> {
    let mut rows: Vec<Row> = [1.0, 1.5, 2.0, 3.0]
        .map(|outer| {
            let name = format!(
                "drag on drops held behind a tip of outside radius {outer} R: 1 + root mean square of the differences"
            );
            relative(name, from, 1.0, 1.0 + held(outer), HELD)
        })
        .into();
    let table = Table::read("tests/data/first_principles/stream_behind_blunt_tip.csv").columns([
        "outer_over_R",
        "wall_over_R",
        "z_over_R",
        "velocity_over_U",
    ]);
    let pairs: Vec<_> =
        table.iter().map(|[outer, wall, z, u]| (1.0, 1.0 + Wake::new(*outer, *wall).at(*z).0 - u)).collect();
    rows.push(whole_table(
        "stream on the axis behind blunt tips, share of the far one: 1 + difference",
        from,
        &pairs,
        STREAM,
    ));
    rows
}

pub fn topic() -> Topic {
    let from = source("own boundary elements, validation/reference/results/devices.csv", Status::FirstPrinciples);
    let held = source("own boundary elements, validation/reference/stokes_bem/held.py", Status::FirstPrinciples);
    let all: Vec<&Compared> = devices().iter().filter(|row| row.blunt).collect();
    let mut rows: Vec<_> = all.iter().map(|row| judged(row, &from, 0.1)).collect();
    let (blind, known): (Vec<&Compared>, Vec<_>) = all.iter().partition(|row| row.blind());
    rows.extend(group("rows but the drawn", &from, &known));
    rows.extend(group("rows drawn blindly, opened last", &from, &blind));
    rows.extend(closures(&held));
    Topic {
        folder: "blunt_tip",
        section: 'C',
        title: "First drop at a blunt tip against the full equations",
        rows,
        figure: None,
    }
}
