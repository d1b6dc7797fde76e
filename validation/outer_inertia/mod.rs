use crate::framework::plot::{Plot, line, linear};
use crate::framework::{Status, Topic, relative, report, source, within};
use crate::pinch_off::power;
use crate::solver::{half_wave, numerics, spheroid, step_until, wobble_frequency};
use slenderjet::pinch_off::neck::thinnest;
use slenderjet::theory::drop_oscillation::frequency_in_liquid;
use slenderjet::thread::force::Physics;
use slenderjet::thread::inflow::Inflow;
use slenderjet::thread::outer::OuterField;
use slenderjet::thread::outer::profile::Wall;

const NECK: &str = "half a decade is all that the model has here: below h = 0.02 its neck slows down, as it does in a gas (topic How the \
    neck shrinks, where the same fit gives 0.68), and the pinch time that the fit hangs on is taken from there; an added mass \
    fitted to waves does not change with the neck's slope as that of a real cone does";
const WOBBLE: &str = "the slender model alone is 22 % fast in a gas; the added mass of a rigid motion (1/2) stands in for that of the \
    mode (2/3)";

/// Two thin liquids: Ohnesorge number of the inner one, equal viscosities, density ratio.
fn physics(ohnesorge: f64, density_ratio: f64, bond: f64) -> Physics {
    let mut field = OuterField::new(ohnesorge, 1.0, density_ratio, Wall::Unbounded, 0.0);
    field.wake = false;
    let artificial = Physics::artificial_for(ohnesorge);
    Physics {
        ohnesorge,
        bond,
        artificial,
        inflow: Inflow::steady(0.0),
        outer: Some(field),
        rheology: None,
        parabolic: false,
    }
}

/// Acceleration of a drop let go in a liquid at rest, over the net weight's on the drop alone.
fn start(density_ratio: f64) -> f64 {
    let mut body = spheroid(1.0, 60);
    let time = 0.02;
    let bond = 0.1;
    step_until(
        &physics(1e-5, density_ratio, bond),
        &numerics(0.05, 1e-6, 1e-5, 1e-2, 6.0),
        &mut body,
        time,
        4000,
        |_| false,
    );
    body.momentum() / body.volume() / body.time / bond
}

/// Frequency of mode 2 of a drop in a liquid of its own density, from the times at which its length passes 2.
fn wobble() -> f64 {
    wobble_frequency(&physics(1e-4, 1.0, 0.0), &numerics(0.04, 1e-5, 1e-4, 1e-2, 6.0), 9.0)
}

/// Neck of a breaking wave.
fn neck(density_ratio: f64) -> Vec<(f64, f64)> {
    const OH: f64 = 0.002;
    let mut body = half_wave(0.7, 0.05, 120);
    let mut history = Vec::new();
    let numerics = numerics(0.05, 3e-5, OH, 8e-4, 2.0 / 0.7);
    step_until(&physics(OH, density_ratio, 0.0), &numerics, &mut body, 60.0, 60_000, |body| {
        let Some(neck) = thinnest(body) else { return false };
        history.push((body.time, neck.radius));
        neck.radius < 4e-3
    });
    history
}

pub fn topic() -> Topic {
    let added = source("added mass of a sphere, half the displaced liquid (Lamb 1932, art. 92)", Status::Theory);
    let lamb = source("Lamb 1932, art. 275: w^2 = 24/(3 + 2 rho_o/rho_i)", Status::Theory);
    let similar = source("inertia and tension alone: h ~ (t0 - t)^(2/3) whatever the density ratio", Status::Theory);
    let mut rows: Vec<_> = [0.5, 1.0, 1.5]
        .iter()
        .map(|r| {
            relative(
                format!("start of a drop let go, rho_o/rho_i = {r}, over its net weight's"),
                &added,
                1.0 / (1.0 + 0.5 * r),
                start(*r),
                0.05,
            )
        })
        .collect();
    let exact = frequency_in_liquid(2, 1.0);
    rows.push(
        report("frequency of mode 2 of a drop in a liquid of its density", &lamb, exact, wobble()).remark(WOBBLE),
    );
    let (alone, within_liquid) = rayon::join(|| neck(0.0), || neck(1.0));
    let (exponent, _) = power(&within_liquid, 0.1, 0.03);
    rows.push(
        within(
            "exponent of the neck between thin liquids of equal density, h from 0.1 to 0.03",
            &similar,
            [0.637, 0.697],
            exponent,
        )
        .remark(NECK),
    );
    let to_pinch = |history: &[(f64, f64)]| {
        let end = history.last().map_or(0.0, |p| p.0);
        history.iter().map(|(t, h)| (end - t, *h)).filter(|p| p.0 < 3.0).collect::<Vec<_>>()
    };
    Topic {
        folder: "outer_inertia",
        section: 'B',
        title: "Inertia of the outer liquid in large motions",
        rows,
        figure: Some(Plot {
            x: linear("time to the last neck, (ρR³/γ)^1/2"),
            y: linear("neck radius over R"),
            series: vec![line("no outer inertia", to_pinch(&alone)), line("equal densities", to_pinch(&within_liquid))],
        }),
    }
}
