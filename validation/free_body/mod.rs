use crate::framework::plot::{Plot, line, linear};
use crate::framework::{Status, Topic, relative, report, source};
use crate::solver::{numerics, step_until, still, wobble_frequency};
use slenderjet::theory::drop_oscillation;
use slenderjet::thread::body::{Body, End};

/// A filament of radius 1 with round ends: mean speed of the middle of its right bulge from time 5 to 10, and the way of its
/// tip. The middle lies between the tip, which lags because the bulge grows, and the place behind it where h is 1 again.
fn retraction(ohnesorge: f64) -> (f64, Vec<(f64, f64)>) {
    let half = 30.0;
    let cells = 600;
    let z = (0..=cells).map(|i| half * (2.0 * i as f64 / cells as f64 - 1.0)).collect();
    let area = |z: f64| {
        let beyond = z.abs() - (half - 1.0);
        if beyond > 0.0 { (1.0 - beyond * beyond).max(0.0) } else { 1.0 }
    };
    let mut body = Body::from_profile(z, End::Tip, End::Tip, area, |_| 0.0);
    let numerics = numerics(0.08, 1e-4, ohnesorge, 1e-2, 6.0);
    let mut path = Vec::new();
    let mut middles = Vec::new();
    step_until(&still(ohnesorge, 0.0), &numerics, &mut body, 10.0, 20_000, |body| {
        let n = body.cells();
        path.push((body.time, half - body.z[n]));
        let crest = (n / 2..n).max_by(|&a, &b| body.area(a).total_cmp(&body.area(b))).unwrap_or(n - 1);
        let joint = (0..crest).rev().find(|&j| body.area(j) < 1.0).unwrap_or(0);
        middles.push((body.time, half - 0.5 * (body.z[n] + body.z[joint])));
        false
    });
    let at = |t: f64| middles.iter().find(|p| p.0 >= t).copied().unwrap_or((f64::NAN, f64::NAN));
    let (from, to) = (at(5.0), at(10.0));
    ((to.1 - from.1) / (to.0 - from.0), path)
}

/// Frequency of mode 2 of a drop alone.
fn oscillation(ohnesorge: f64) -> f64 {
    wobble_frequency(&still(ohnesorge, 0.0), &numerics(0.04, 1e-5, ohnesorge, 1e-2, 6.0), 8.0)
}

pub fn topic() -> Topic {
    let momentum = source("momentum of a cylinder's end: sqrt(γ/(ρR)), not the sheet's sqrt(2γ/(ρh))", Status::Theory);
    let lamb = source("Rayleigh 1879; Lamb 1932, art. 275", Status::Theory);
    let ((speed, path), frequency) = rayon::join(|| retraction(0.1), || oscillation(0.001));
    Topic {
        folder: "free_body",
        section: 'B',
        title: "Free ends and free drops",
        rows: vec![
            relative("speed of a retracting end (middle of its bulge), Oh = 0.1, from 5 to 10 capillary times", &momentum, 1.0, speed, 0.03),
            report("frequency of mode 2 of a free drop", &lamb, drop_oscillation::frequency(2), frequency).remark(
                "a slender model has no room for the radial motion of a round drop; it oscillates too fast by about a fifth, so \
                 the wobble of detached drops is qualitative",
            ),
        ],
        figure: Some(Plot {
            x: linear("time, (ρR³/γ)^1/2"),
            y: linear("distance the end has come, R"),
            series: vec![
                line("run", path.iter().step_by(5).copied().collect()),
                line("slope of (γ/(ρR))^1/2", vec![(4.0, 2.5), (9.0, 7.5)]),
            ],
        }),
    }
}
