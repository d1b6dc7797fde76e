use crate::framework::plot::{Plot, line, linear};
use crate::framework::{Source, Status, Topic, absolute, holds, relative, source};
use crate::solver::{half_wave, numerics, step_until, still};
use slenderjet::theory::pendant;
use slenderjet::thread::body::{Body, End};

fn fastest(body: &Body) -> f64 {
    body.u.iter().fold(0.0, |a: f64, u| a.max(u.abs()))
}

/// A sphere on a mesh that grows by a quarter from cell to cell and back.
fn sphere() -> Body {
    let cells = 30;
    let weight = |i: usize| 1.25f64.powi((i as i32 - cells / 2).abs());
    let total: f64 = (0..cells as usize).map(weight).sum();
    let mut z = vec![-1.0];
    for i in 0..cells as usize {
        z.push(z[i] + 2.0 * weight(i) / total);
    }
    Body::from_profile(z, End::Tip, End::Tip, |z| (1.0 - z * z).max(0.0), |_| 0.0)
}

/// Speed after two capillary times, largest on the way.
fn drift(mut body: Body, ohnesorge: f64) -> f64 {
    let numerics = numerics(0.05, 1e-4, ohnesorge, 1e-2, 6.0);
    let mut largest = 0.0;
    step_until(&still(ohnesorge, 0.0), &numerics, &mut body, 2.0, 2000, |body| {
        largest = fastest(body).max(largest);
        false
    });
    largest
}

/// A Young-Laplace drop, hung from the nozzle at z = 0 with its apex at the free end.
fn hung(drop: &pendant::Pendant, cells: usize) -> Body {
    let outline = drop.profile();
    let height = drop.height;
    let area = |z: f64| {
        let up = height - z;
        let after = outline.partition_point(|p| p.1 < up).clamp(1, outline.len() - 1);
        let ((r0, z0), (r1, z1)) = (outline[after - 1], outline[after]);
        // h^2 is smooth in z, also at the apex.
        r0 * r0 + (r1 * r1 - r0 * r0) * (up - z0) / (z1 - z0)
    };
    let z = (0..=cells).map(|i| height * i as f64 / cells as f64).collect();
    Body::from_profile(z, End::Nozzle, End::Tip, area, |_| 0.0)
}

/// Rest shape of a drop of given volume by relaxing with a viscous liquid; None if it falls.
fn relaxed(bond: f64, volume: f64) -> Option<Body> {
    let limit = pendant::greatest(bond).expect("a greatest volume");
    // Beyond the greatest volume: the largest static shape, stretched sideways to the wanted volume.
    let start = pendant::of_volume(bond, volume.min(0.999 * limit.volume)).expect("a static drop");
    let mut body = hung(&start, 150);
    let scale = volume / body.volume();
    body.v.iter_mut().for_each(|v| *v *= scale);
    let numerics = numerics(0.04, 1e-4, 0.5, 1e-2, 6.0);
    let mut fell = false;
    step_until(&still(0.5, bond), &numerics, &mut body, 400.0, 60_000, |body| {
        fell = body.length() > 1.2 * limit.height;
        fell
    });
    (!fell).then_some(body)
}

fn shape_rows(from: &Source, rows: &mut Vec<crate::framework::Row>, curves: &mut Vec<crate::framework::plot::Series>) {
    for (bond, share) in [(0.1, 0.75), (0.5, 0.9)] {
        let limit = pendant::greatest(bond).expect("a greatest volume");
        let drop = pendant::of_volume(bond, share * limit.volume).expect("a static drop");
        let rest = relaxed(bond, drop.volume);
        let (height, widest) = rest.as_ref().map_or((f64::NAN, f64::NAN), |body| (body.length(), body.radius_max()));
        let name = format!("Bo = {bond}, {:.0} % of the greatest volume", 100.0 * share);
        rows.push(relative(format!("height, {name}"), from, drop.height, height, 1e-3));
        rows.push(relative(format!("widest radius, {name}"), from, drop.radius_max, widest, 1e-3));
        if let Some(body) = rest {
            let ours = body.z.iter().zip(body.node_radii()).map(|(z, h)| (h, -z)).collect();
            let theory = drop.profile().iter().map(|(r, z)| (*r, z - drop.height)).collect();
            curves.push(line(format!("run, Bo = {bond}"), ours));
            curves.push(line(format!("Young-Laplace, Bo = {bond}"), theory));
        }
        let below = relaxed(bond, 0.98 * limit.volume).is_some();
        let above = relaxed(bond, 1.02 * limit.volume).is_none();
        let said = format!(
            "{} at 98 %, {} at 102 %",
            if below { "hangs" } else { "falls" },
            if above { "falls" } else { "hangs" }
        );
        let quantity = format!("greatest volume, Bo = {bond}");
        rows.push(holds(quantity, from, "hangs at 98 %, falls at 102 %", &said, below && above));
    }
}

pub fn topic() -> Topic {
    let from = source("equilibrium; a tolerance of 1e-8 capillary velocities", Status::Theory);
    let mut rows = vec![
        absolute("a free sphere on an uneven mesh, fastest node", &from, 0.0, drift(sphere(), 0.01), 1e-8),
        absolute(
            "an unperturbed cylinder, kR = 1.5, fastest node",
            &from,
            0.0,
            drift(half_wave(1.5, 0.0, 40), 0.01),
            1e-8,
        ),
    ];
    let mut series = Vec::new();
    shape_rows(&source("Young-Laplace; Padday & Pitt 1973", Status::Theory), &mut rows, &mut series);
    Topic {
        folder: "rest",
        section: 'B',
        title: "What should stay at rest",
        rows,
        figure: Some(Plot { x: linear("radius over nozzle radius"), y: linear("height over nozzle radius"), series }),
    }
}
