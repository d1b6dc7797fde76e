//! The boundary-element solver of `confirm` against theory, the reference program in Python and full Navier-Stokes rows.

use crate::framework::table::Table;
use crate::framework::{Row, Status, Topic, holds, relative, source, whole_table};
use nalgebra::{DMatrix, DVector};
use slenderjet::stokes::channel::{Channel, Orifice};
use slenderjet::stokes::device::{Device, Panels, long_tip};
use slenderjet::stokes::differences::End;
use slenderjet::stokes::flow::{Fixed, Undisturbed, Walls, reduced};
use slenderjet::stokes::glass::Builder;
use slenderjet::stokes::growth::{Resolution, grow};
use slenderjet::stokes::interface::Interface;
use slenderjet::stokes::layer::{Home, Targets, layers};
use std::f64::consts::PI;
use std::slice;

pub fn topic() -> Topic {
    let mut rows = Vec::new();
    rows.extend(growth());
    rows.extend(settling());
    rows.extend(relaxation());
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

/// A sphere, or the drop r = 1 + eps P_2(cos theta).
fn sphere(n: usize, eps: f64) -> Interface {
    let angle = |i: usize| PI * i as f64 / (n as f64 - 1.0);
    let radius = |i: usize| 1.0 + eps * (3.0 * angle(i).cos().powi(2) - 1.0) / 2.0;
    let z = (0..n).map(|i| -radius(i) * angle(i).cos()).collect();
    let r = (0..n).map(|i| if i == 0 || i + 1 == n { 0.0 } else { radius(i) * angle(i).sin() }).collect();
    Interface::new(z, r, (End::Axis, End::Axis))
}

/// Liquid alone, or in a tube of this radius.
fn still(ratio: f64, wall: Option<f64>) -> Fixed {
    let mut b = Builder::default();
    let end = wall.map_or(0, |wall| Channel::tube(wall).build(&mut b, -6.0 * wall, 6.0 * wall, Panels(1.0)));
    Fixed::new(Walls {
        boundary: b.done(),
        plug: 0,
        bore: 1.0,
        end,
        end_radius: wall.unwrap_or(1.0),
        undisturbed: Undisturbed::Rest,
        inner_flow: 0.0,
        total_flow: 0.0,
        ratio,
    })
    .expect("walls that can be solved")
}

/// Settling speed of a sphere over a^2 (rho_i - rho_o) g/mu_o.
fn speed(ratio: f64, wall: Option<f64>, n: usize) -> f64 {
    let s = sphere(n, 0.0);
    let u = reduced(&still(ratio, wall), slice::from_ref(&s), 1.0)
        .normal_velocity(slice::from_ref(&s), 0.0)
        .expect("regular")
        .remove(0);
    let (top, below) = (0..n).fold((0.0, 0.0), |(a, b), i| (a + u[i] * s.normal[i].0, b + s.normal[i].0.powi(2)));
    top / below
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
    let (eps, n) = (1e-4, 33);
    let ours = |ratio: f64| {
        let s = sphere(n, eps);
        let u = reduced(&still(ratio, None), slice::from_ref(&s), 0.0)
            .normal_velocity(slice::from_ref(&s), 0.0)
            .expect("regular")
            .remove(0);
        let angle = |i: usize| PI * i as f64 / (n as f64 - 1.0);
        let (top, below) = (0..n).fold((0.0, 0.0), |(a, b), i| {
            let p = (3.0 * angle(i).cos().powi(2) - 1.0) / 2.0;
            (a + u[i] * p * angle(i).sin(), b + p * p * angle(i).sin())
        });
        -top / below / eps
    };
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

/// Growth rate of a wave on a thread: half a wave meshed between planes of symmetry, twelve images on either side.
fn rate_of_growth(ratio: f64, k: f64, n: usize) -> f64 {
    let (eps, half) = (1e-4, PI / k);
    let z: Vec<f64> = (0..n).map(|i| half * i as f64 / (n as f64 - 1.0)).collect();
    let r = z.iter().map(|z| (1.0 - eps * eps / 2.0f64).sqrt() + eps * (k * z).cos()).collect();
    let s = Interface::new(z, r, (End::Plane, End::Plane));
    let own = s.boundary();
    let (mut g, mut d) = layers(own.targets(), &own, true);
    for m in -12..=12i32 {
        for mirror in [false, true] {
            if m == 0 && !mirror {
                continue;
            }
            let shift = 2.0 * half * f64::from(m);
            let at: Vec<f64> = s.z.iter().map(|z| if mirror { shift - z } else { z - shift }).collect();
            let home: Vec<Home> = (0..n)
                .map(|i| match (mirror, m, i) {
                    (true, 0, 0) => [None, Some((0, 0.0))],
                    (true, 1, i) if i + 1 == n => [Some((n - 2, 1.0)), None],
                    _ => [None, None],
                })
                .collect();
            let (mut image, mut double) = layers(Targets { z: &at, r: &s.r, home: Some(&home) }, &own, true);
            if mirror {
                for i in 0..n {
                    image.row_mut(2 * i).scale_mut(-1.0);
                    double.row_mut(2 * i).scale_mut(-1.0);
                }
            }
            g += image;
            d += double;
        }
    }
    let f = DVector::from_fn(2 * n, |row, _| {
        let i = row / 2;
        (s.curvature(i) - 1.0) * if row % 2 == 0 { s.normal[i].0 } else { s.normal[i].1 }
    });
    let a = DMatrix::identity(2 * n, 2 * n) * (0.5 * (1.0 + ratio)) - d * (1.0 - ratio);
    let u = a.lu().solve(&(-g * f)).expect("regular");
    let (mut top, mut below) = (0.0, 0.0);
    for i in 0..n {
        let un = u[2 * i] * s.normal[i].0 + u[2 * i + 1] * s.normal[i].1;
        let c = (k * s.z[i]).cos() * if i == 0 || i + 1 == n { 0.5 } else { 1.0 };
        top += un * c;
        below += c * (k * s.z[i]).cos();
    }
    top / below / eps
}

/// Tomotika 1935; the numbers solve his four boundary conditions at 40 digits (`validation/reference`).
fn growth() -> Vec<Row> {
    let from = source("Tomotika (1935), boundary conditions solved at 40 digits", Status::Theory);
    [(0.1, 0.6, 0.10797493660813), (1.0, 0.4, 0.030764371718225), (10.0, 0.6, 0.0085049410863032)]
        .iter()
        .map(|(ratio, k, exact)| {
            let what = format!(
                "`confirm`: growth rate of a wave on a thread, viscosity ratio {ratio}, kR {k} (over gamma/(mu_o R))"
            );
            relative(what, &from, *exact, rate_of_growth(*ratio, *k, 25), 1e-4)
        })
        .collect()
}

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
    let again = AGAIN;
    let inputs = rows_of("validation/confirm/unseen_inputs.csv", columns, &again);
    let reference = rows_of("validation/confirm/unseen_reference.csv", ["d_over_D", "z_neck_over_D"], &again);
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
        rows.push(relative(format!("`confirm`: unseen case {name}: d/D"), &from, known[0], ours, 0.02));
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
    whole_table(
        "`confirm`: first drops of all unseen cases computed so far (kept table, 2026-11-28): d/D",
        &from,
        &pairs,
        0.02,
    )
}

/// The unseen cases that cost least.
const AGAIN: [&str; 3] = ["coflow-2", "coflow-9", "orifice-10"];
