//! The boundary-element solver of `confirm` against theory, the reference program in Python and full Navier-Stokes rows.

use crate::framework::table::Table;
use crate::framework::{Row, Status, Topic, holds, relative, source, whole_table};
use slenderjet::stokes::bodies::{growing, held, relaxed, relaxing, settling as settling_speed, sphere};
use slenderjet::stokes::channel::{Channel, Orifice};
use slenderjet::stokes::device::{Device, Panels, long_tip};
use slenderjet::stokes::flow::Fixed;
use slenderjet::stokes::growth::{Resolution, grow};
use slenderjet::theory::stokes_thread::StokesThread;
use slenderjet::thread::closures::ends::{Wake, elongated, round_end, sampled_at};
use std::f64::consts::PI;

pub fn topic() -> Topic {
    let mut rows = Vec::new();
    rows.extend(growth());
    rows.extend(settling());
    rows.extend(relaxation());
    rows.extend(steps());
    rows.extend(closures());
    rows.extend(committed());
    rows.extend(navier_stokes());
    rows.extend(unseen());
    Topic {
        folder: "confirm",
        section: 'B',
        title: "The full equations without inertia (`confirm`)",
        rows,
        figure: None,
    }
}

/// A body's motion; the solver meets no singular case here.
fn of(value: Option<f64>) -> f64 {
    value.unwrap_or(f64::NAN)
}

fn speed(ratio: f64, wall: Option<f64>, n: usize) -> f64 {
    of(settling_speed(ratio, wall, n))
}

/// Hadamard 1911, Rybczynski 1911; in a tube times the wall factor of Haberman & Sayre 1958; the order of the error.
fn settling() -> Vec<Row> {
    let open = source("Hadamard (1911); Rybczynski (1911)", Status::Theory);
    let tube = source("Haberman & Sayre (1958), approximate wall factor", Status::Recalled);
    let exact = |ratio: f64| 2.0 / 3.0 * (1.0 + ratio) / (2.0 + 3.0 * ratio);
    let mut rows: Vec<Row> = [0.01, 1.0, 100.0]
        .iter()
        .map(|l| {
            relative(
                format!("`confirm`: speed of a settling drop, viscosity ratio {l}, 33 nodes"),
                &open,
                exact(*l),
                speed(*l, None, 33),
                2e-4,
            )
        })
        .collect();
    for (k, ratio, bound) in [(0.1, 1.0, 5e-3), (0.2, 1.0, 5e-3), (0.2, 10.0, 5e-3)] {
        let s = ratio / (1.0 + ratio);
        let r = 1.0 - s;
        let (k3, k5, k6): (f64, f64, f64) = (f64::powi(k, 3), f64::powi(k, 5), f64::powi(k, 6));
        let above = 1.0 + 2.2757 * k5 * (r - s) / (2.0 * r + 3.0 * s);
        let below = 1.0 - 0.7017 * k * (2.0 * r + 3.0 * s) + 2.0865 * k3 * s + 0.5689 * k5 * (2.0 * r - 3.0 * s)
            - 0.72603 * k6 * (r - s);
        let ours = speed(ratio, Some(1.0 / k), 33) / exact(ratio);
        rows.push(relative(
            format!("`confirm`: speed in a tube over that in the open, sphere/tube {k}, viscosity ratio {ratio}"),
            &tube,
            below / above,
            ours,
            bound,
        ));
    }
    let error = |n: usize| (speed(1.0, None, n) / exact(1.0) - 1.0).abs();
    let order = (error(17) / error(33)).log2();
    rows.push(holds(
        "`confirm`: order of that speed's error, 17 to 33 nodes",
        &open,
        "3.5 or more",
        &format!("{order:.1}"),
        order > 3.5,
    ));
    rows
}

/// Rallison 1984: decay of a small deformation.
fn relaxation() -> Vec<Row> {
    let from = source("Rallison (1984), small deformations", Status::Recalled);
    let rate = |ratio: f64| 40.0 * (1.0 + ratio) / ((2.0 * ratio + 3.0) * (19.0 * ratio + 16.0));
    let ours = |ratio: f64| of(relaxing(ratio, 1e-4, 33));
    [0.1, 1.0, 10.0]
        .iter()
        .map(|l| {
            relative(
                format!("`confirm`: decay rate of a deformed drop, viscosity ratio {l}"),
                &from,
                rate(*l),
                ours(*l),
                2e-3,
            )
        })
        .collect()
}

/// Tomotika 1935; the numbers solve his four boundary conditions at 40 digits (`validation/reference`). In a tube: the six conditions.
fn growth() -> Vec<Row> {
    let from = source("Tomotika (1935), boundary conditions solved at 40 digits", Status::Theory);
    let open = [(0.1, 0.6, 0.10797493660813), (1.0, 0.4, 0.030764371718225), (10.0, 0.6, 0.0085049410863032)];
    let rate = |ratio: f64, k: f64, wall: Option<f64>, n: usize| of(growing(ratio, k, wall, n));
    let mut rows: Vec<Row> = open
        .iter()
        .map(|(ratio, k, exact)| {
            let what = format!(
                "`confirm`: growth rate of a wave on a thread, viscosity ratio {ratio}, kR {k} (over gamma/(mu_o R))"
            );
            relative(what, &from, *exact, rate(*ratio, *k, None, 25), 1e-4)
        })
        .collect();
    let order = (rate(0.1, 0.6, None, 13) / open[0].2 - 1.0).abs() / (rate(0.1, 0.6, None, 25) / open[0].2 - 1.0).abs();
    let order = order.log2();
    let text = format!("{order:.1}");
    rows.push(holds("`confirm`: order of that rate's error, 13 to 25 nodes", &from, "3.5 or more", &text, order > 3.5));
    let tube = source("two liquids in a tube, six conditions (`theory::stokes_thread`)", Status::Theory);
    for wall in [1.5, 2.0, 4.0] {
        for viscosity_ratio in [0.1, 1.0, 10.0] {
            let exact = StokesThread { viscosity_ratio, wall: Some(wall) }.growth(0.6);
            let what = format!(
                "`confirm`: growth rate of a wave on a thread in a tube, R_w {wall} R, viscosity ratio {viscosity_ratio}, kR 0.6"
            );
            rows.push(relative(what, &tube, exact, rate(viscosity_ratio, 0.6, Some(wall), 25), 1e-4));
        }
    }
    rows
}

/// The very steps that a run takes, over one decay time of a deformed drop: volume without correction, order in time.
fn steps() -> Vec<Row> {
    let (from, n) = (source("conservation", Status::Theory), 25);
    let after = |eps: f64, count: usize| relaxed(1.0, eps, n, count);
    let kept = after(0.02, 40).map(|s| s.volume_from(0) / sphere(n, 0.02).volume_from(0));
    let pole = |count: usize| of(after(0.2, count).map(|s| s.z[n - 1]));
    let order = ((pole(4) - pole(8)) / (pole(8) - pole(16))).abs().log2();
    let second = source("extrapolated Euler steps are of second order", Status::Theory);
    vec![
        relative("`confirm`: volume after 40 steps, not corrected, over that before", &from, 1.0, of(kept), 1e-6),
        holds("`confirm`: order of the steps, 4 to 16", &second, "1.7 or more", &format!("{order:.1}"), order > 1.7),
    ]
}

/// What the thread model's closures of drag and wake leave against this solver, computed now: drops held behind tips, the stream there.
/// Rows of `held_drop_blunt_tip.csv`, made in Python, judge the solver itself.
fn closures() -> Vec<Row> {
    let from = source("`confirm`'s own solver, computed at each run (`src/stokes/bodies.rs`)", Status::FirstPrinciples);
    let python =
        source("own boundary elements in Python (`validation/reference/stokes_bem/held.py`)", Status::FirstPrinciples);
    let table = crate::blunt_tip::held_drops();
    let (mut rows, mut ours_and_theirs, mut streams) = (Vec::new(), Vec::new(), Vec::new());
    for outer in [1.0, 1.5, 2.0, 3.0] {
        let (mut square, mut many) = (0.0, 0.0);
        // the wake's law holds for tips of a third of the tube and less
        for wall in [6.0, 10.5, 20.0].into_iter().filter(|wall| *wall >= 3.0 * outer) {
            let bare = Device {
                inner_flow: 0.0,
                outer_flow: PI * wall * wall / 2.0,
                ..device(1.0, 0.0, 1.0, wall, outer, None)
            };
            let Some(fixed) = Fixed::new(bare.walls(45.0 + 2.0 * wall, Panels(1.0))) else { continue };
            let z = [0.5, 1.0, 2.0, 3.0, 5.0, 8.0, 12.0, 20.0];
            let u = fixed.bare(&z, &[0.0; 8]);
            streams.extend((0..8).map(|i| (1.0, 1.0 + Wake::new(outer, wall).at(z[i]).0 - u[2 * i])));
            // a drop smaller than the face that it is held at is in nobody's way: no run comes off with it
            let asked = |v: &&[f64; 7]| {
                v[0] == outer && v[1] == wall && v[2] == 0.1 && v[3] >= outer && [1.7, 3.2].contains(&v[3])
            };
            for [_, _, gap, radius, aspect, ratio, theirs] in table.iter().filter(asked) {
                let drag = of(held(&fixed, *ratio, gap + radius * aspect, (*radius, radius * aspect), 25));
                ours_and_theirs.push((*theirs, drag));
                let end = round_end(*radius, Some(wall), *ratio, 1.0);
                let place = sampled_at((*gap, gap + 2.0 * radius * aspect), *radius, *aspect, wall / outer, *ratio);
                let stream = end.drift * Wake::new(outer, wall).at(place).0;
                let closure = end.drag / 3.0 * elongated(*aspect, radius / wall, *ratio) * radius * stream;
                (square, many) = (square + (closure / drag - 1.0).powi(2), many + 1.0);
            }
        }
        let what = format!(
            "closure of the drag on drops held behind a tip of outside radius {outer} R, {many} drops: 1 + root mean square"
        );
        rows.push(relative(what, &from, 1.0, 1.0 + f64::sqrt(square / many), HELD));
    }
    let what = "closure of the stream on the axis behind tips, share of the far one: 1 + difference";
    rows.push(whole_table(what, &from, &streams, STREAM));
    rows.push(whole_table("`confirm`'s own solver: drag on those held drops", &python, &ours_and_theirs, 5e-3));
    rows
}

/// Bounds of the closures as `validation/blunt_tip` has them.
const HELD: f64 = 0.1;
const STREAM: f64 = 0.045;

/// A device as the reference program's tables tell it; lengths in R.
fn device(capillary: f64, share: f64, ratio: f64, wall: f64, outside: f64, orifice: Option<Orifice>) -> Device {
    Device {
        ratio,
        bond: 0.0,
        inner_flow: PI * capillary * share,
        outer_flow: PI * wall * wall * capillary / 2.0,
        stream: 0.0,
        channel: Some(orifice.map_or_else(|| Channel::tube(wall), |o| Channel::with_orifice(wall, o))),
        bore: 1.0,
        outside,
        tip_length: long_tip(Some(wall)),
    }
}

/// First drop's diameter and neck over the tip's diameter.
fn first_drop(device: &Device) -> [f64; 2] {
    let pinch = grow(device, &Resolution::BASE, &mut |_| true).pinch;
    pinch.map_or([f64::NAN; 2], |p| [(6.0 * p.volume / PI).cbrt() / 2.0, p.z / 2.0])
}

/// The named rows of a table with these columns.
fn rows_of<const N: usize>(file: &str, columns: [&str; N], wanted: &[&str]) -> Vec<(String, [f64; N])> {
    let text = std::fs::read_to_string(crate::framework::table::path(file)).expect("a table");
    let names = text
        .lines()
        .filter(|l| !l.starts_with('#'))
        .skip(1)
        .map(|l| l.split(',').next().unwrap_or_default().to_owned());
    let all: Vec<_> =
        names.zip(Table::read(file).columns(columns)).filter(|(name, _)| wanted.contains(&name.as_str())).collect();
    assert_eq!(all.len(), wanted.len(), "{file}: rows {wanted:?}");
    all
}

const SHAPE: [&str; 11] = [
    "capillary",
    "inner_share",
    "viscosity_ratio",
    "wall",
    "outer",
    "standoff",
    "radius",
    "length",
    "widening",
    "collection",
    "edge",
];

fn orifice(v: &[f64]) -> Option<Orifice> {
    let [plane, radius, length, widening, collection, edge] = *v else { return None };
    (radius > 0.0).then_some(Orifice { plane, radius, length, widening, collection, edge })
}

/// Committed rows of the reference program in Python: another language, other elements, other kernels' code, same equations.
fn committed() -> Vec<Row> {
    let from = source("own boundary elements in Python (`validation/reference`)", Status::FirstPrinciples);
    let mut rows = Vec::new();
    let file = "validation/reference/results/coflow.csv";
    let columns = ["ca", "q", "viscosity_ratio", "wall_over_R", "d_over_D", "z_neck_over_D"];
    for (name, [ca, q, ratio, wall, d, neck]) in rows_of(file, columns, &["29", "62"]) {
        let [ours, our_neck] = first_drop(&device(ca, q, ratio, wall, 1.0, None));
        let what = format!(
            "`confirm`: first drop in a tube, row {name}: Ca {ca}, q {q}, viscosity ratio {ratio}, R_w {wall} R"
        );
        rows.push(relative(format!("{what}: d/D"), &from, d, ours, 0.01));
        rows.push(relative(format!("{what}: neck/D"), &from, neck, our_neck, 0.02));
    }
    let file = "validation/reference/results/devices.csv";
    let columns: [&str; 13] =
        std::array::from_fn(|i| *SHAPE.get(i).unwrap_or(&["d_over_D", "z_neck_over_D"][i.saturating_sub(11)]));
    for (name, v) in rows_of(file, columns, &["device-1", "orifice-10", "orifice-21"]) {
        let [ours, our_neck] = first_drop(&device(v[0], v[1], v[2], v[3], v[4], orifice(&v[5..11])));
        let what = format!("`confirm`: first drop through an orifice, row {name}");
        rows.push(relative(format!("{what}: d/D"), &from, v[11], ours, 0.01));
        rows.push(relative(format!("{what}: neck/D"), &from, v[12], our_neck, 0.02));
    }
    rows
}

/// Full Navier-Stokes rows of low Reynolds number, by a general flow solver.
fn navier_stokes() -> Vec<Row> {
    let from = source(
        "full Navier-Stokes by a general flow solver (`validation/reference`), own computation",
        Status::FirstPrinciples,
    );
    let file = "validation/reference/results/inertia.csv";
    let known = rows_of(
        file,
        ["laplace_outer", "capillary", "inner_share", "viscosity_ratio", "outer", "d_over_D"],
        &["inertia-2", "inertia-4"],
    );
    // without inertia both rows are one case
    let (_, [_, ca, q, ratio, outside, _]) = known[0];
    let [ours, _] = first_drop(&device(ca, q, ratio, 10.5, outside, None));
    let mut rows: Vec<Row> = known
        .iter()
        .map(|(name, v)| {
            assert_eq!([v[1], v[2], v[3], v[4]], [ca, q, ratio, outside], "one case");
            relative(
                format!("`confirm`: first drop in a tube, {name} (La {}, Re {:.1}): d/D", v[0], v[0] * ca),
                &from,
                v[5],
                ours,
                0.02,
            )
        })
        .collect();
    // tip 20/30 um, hole 10 um, three times the outer flow of the device: 13.5 um
    let file = "validation/reference/results/devices.csv";
    let (_, v) = rows_of(file, SHAPE, &["device-1"])[0].clone();
    let [through, _] = first_drop(&device(v[0], v[1], v[2], v[3], v[4], orifice(&v[5..11])));
    rows.push(relative(
        "`confirm`: first drop through an orifice, La 50, Re 1.4 in the hole: d/D",
        &from,
        13.5 / 20.0,
        through,
        0.02,
    ));
    rows
}

/// Cases drawn blindly and computed by both programs (`unseen.py`); a few of them again at each run, all in the folder's README.
fn unseen() -> Vec<Row> {
    let from = source(
        "own boundary elements in Python, inputs drawn blindly (`validation/confirm/unseen.py`)",
        Status::FirstPrinciples,
    );
    let columns = [
        "capillary",
        "flow_ratio",
        "viscosity_ratio",
        "wall",
        "outer",
        "standoff",
        "radius",
        "length",
        "widening",
        "collection",
        "edge",
    ];
    let all = std::env::var_os("SLENDERJET_UNSEEN").is_some();
    let path = crate::framework::table::path("validation/confirm/unseen_reference.csv");
    let text = std::fs::read_to_string(path).expect("a table");
    // without a drop in the reference there is nothing to compare
    let with_drop = text.lines().filter(|line| line.contains(",pinched,"));
    let names: Vec<&str> = with_drop.filter_map(|line| line.split(',').next()).collect();
    let again: &[&str] = if all { &names } else { &AGAIN };
    let inputs = rows_of("validation/confirm/unseen_inputs.csv", columns, again);
    let reference = rows_of("validation/confirm/unseen_reference.csv", ["d_over_D", "z_neck_over_D"], again);
    let mut kept = String::new();
    let mut rows = Vec::new();
    for (name, v) in inputs {
        let known =
            reference.iter().find(|(other, _)| *other == name).map(|(_, known)| *known).expect("the same names");
        let [ca, q, ratio, wall, outside] = [v[0], v[1], v[2], v[3], v[4]];
        let shape = orifice(&v[5..]);
        let drop = match &shape {
            Some(o) => {
                let total = ca * PI * o.radius * o.radius;
                let inner = total * q / (1.0 + q);
                let axis = 2.0 * (total - inner) / (PI * wall * wall);
                device(axis, inner / (PI * axis), ratio, wall, outside, shape)
            }
            None => device(ca, q, ratio, wall, outside, None),
        };
        let [ours, _] = first_drop(&drop);
        kept += &format!("{name},{:.6},{ours:.6}\n", known[0]);
        rows.push(relative(format!("`confirm`: unseen case {name}: d/D"), &from, known[0], ours, 0.02));
    }
    if all {
        let head = "# own computations: reference program (unseen_reference.csv) and the solver of `confirm` at `standard`; d/D of the\n\
                    # first drop; written by SLENDERJET_UNSEEN=1 SLENDERJET_TOPIC=confirm cargo test --release --test validation\n\
                    row,reference,confirm\n";
        let path = crate::framework::table::path("validation/confirm/unseen_both.csv");
        std::fs::write(path, format!("{head}{kept}")).expect("written");
    }
    rows.push(whole());
    rows
}

/// The whole table as it was computed by both programs: every case in which the reference has a drop; one without ours fails.
fn whole() -> Row {
    let from = source(
        "own boundary elements in Python, inputs drawn blindly (`validation/confirm/unseen.py`)",
        Status::FirstPrinciples,
    );
    let table = Table::read("validation/confirm/unseen_both.csv").columns(["reference", "confirm"]);
    let pairs: Vec<(f64, f64)> =
        table.iter().filter(|[theirs, _]| theirs.is_finite()).map(|[theirs, ours]| (*theirs, *ours)).collect();
    whole_table("`confirm`: first drops of all unseen cases computed so far (kept table): d/D", &from, &pairs, 0.02)
}

/// The unseen cases that cost least.
const AGAIN: [&str; 3] = ["coflow-2", "coflow-9", "orifice-10"];
