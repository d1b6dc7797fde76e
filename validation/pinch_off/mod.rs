use crate::framework::plot::{Plot, line, log};
use crate::framework::{Status, Topic, absolute, relative, report, source};
use crate::solver::{half_wave, numerics, slope, step_until, still};
use slenderjet::pinch_off::neck::thinnest;
use slenderjet::theory::{pinch_laws, universal_pinch};

/// Neck radius against time of a breaking wave, down to `last`.
fn neck(ohnesorge: f64, x: f64, last: f64) -> Vec<(f64, f64)> {
    let mut body = half_wave(x, 0.05, 120);
    let numerics = numerics(0.05, 3e-5, ohnesorge, 0.2 * last, 2.0 / x);
    let mut history = Vec::new();
    step_until(&still(ohnesorge, 0.0), &numerics, &mut body, f64::MAX, 60_000, |body| {
        let Some(neck) = thinnest(body) else { return false };
        history.push((body.time, neck.radius));
        neck.radius < last
    });
    history
}

/// -dh/dt over gamma/mu where the neck is between `from` and `to`.
fn speed(history: &[(f64, f64)], ohnesorge: f64, from: f64, to: f64) -> f64 {
    let tail: Vec<_> = history.iter().copied().filter(|p| p.1 <= from && p.1 >= to).collect();
    -slope(&tail) * ohnesorge
}

/// Exponent n and prefactor of h ~ (t0 - t)^n in a range of h, t0 the end of the history.
pub fn power(history: &[(f64, f64)], from: f64, to: f64) -> (f64, f64) {
    let end = history.last().map_or(f64::NAN, |p| p.0);
    let range = history.iter().filter(|p| p.1 <= from && p.1 >= to);
    let points: Vec<_> = range.map(|(t, h)| ((end - t).ln(), h.ln())).collect();
    let shares: Vec<_> = points.iter().map(|(t, h)| (h - 2.0 / 3.0 * t).exp()).collect();
    (slope(&points), shares.iter().sum::<f64>() / shares.len() as f64)
}

pub fn topic() -> Topic {
    let ((stokes, universal), thin) =
        rayon::join(|| rayon::join(|| neck(100.0, 0.5, 3e-4), || neck(1.0, 0.5, 2e-5)), || neck(0.002, 0.7, 4e-3));
    let papageorgiou = source("Papageorgiou 1995, Phys. Fluids 7, 1529", Status::Theory);
    let eggers = source("Eggers 1993, Phys. Rev. Lett. 71, 3458", Status::Theory);
    let keller = source("Keller & Miksis 1983, SIAM J. Appl. Math. 43, 268", Status::Theory);
    let constant = universal_pinch::universal().map_or(f64::NAN, |u| u.speed);
    let (exponent, prefactor) = power(&thin, 0.1, 0.03);
    let full = source("full inviscid problem, about 0.7 (Keller & Miksis 1983 and later, recalled)", Status::Recalled);
    // One point for every few percent of the radius is enough to draw.
    let thinned = |history: &[(f64, f64)], oh: f64, law: f64| {
        // Pinch-off itself: the last neck, thinning on at the law's speed.
        let end = history.last().map_or(0.0, |p| p.0 + p.1 * oh / law);
        let mut kept: Vec<(f64, f64)> = Vec::new();
        for (t, h) in history {
            if kept.last().is_none_or(|k| *h < 0.95 * k.1) && end > *t {
                kept.push(((end - t) / oh.max(1e-9), *h));
            }
        }
        kept
    };
    Topic {
        folder: "pinch_off",
        section: 'B',
        title: "How the neck shrinks",
        rows: vec![
            relative(
                "neck speed over γ/μ, Oh = 100, h from 0.01 to 0.0005",
                &papageorgiou,
                pinch_laws::stokes_speed(),
                speed(&stokes, 100.0, 1e-2, 5e-4),
                0.03,
            ),
            relative(
                "neck speed over γ/μ, Oh = 1, h from 0.0004 to 0.00003",
                &eggers,
                constant,
                speed(&universal, 1.0, 4e-4, 3e-5),
                0.05,
            ),
            absolute("exponent of a thin liquid, Oh = 0.002, h from 0.1 to 0.03", &keller, pinch_laws::THIN_EXPONENT, exponent, 0.03),
            report("prefactor there, h/(γτ²/ρ)^1/3", &full, 0.7, prefactor).remark(
                "below h = 0.02 the neck of the one-dimensional model slows down and hastens again before it reaches the \
                 viscous law, far above its viscous length: the approach is not monotonic",
            ),
        ],
        figure: Some(Plot {
            x: log("time to pinch-off, μR/γ"),
            y: log("neck radius over R"),
            series: vec![
                line("Oh = 100", thinned(&stokes, 100.0, pinch_laws::stokes_speed())),
                line("Oh = 1", thinned(&universal, 1.0, constant)),
                line("0.0709 γ/μ", vec![(1e-3, 7.09e-5), (3.0, 0.2127)]),
                line("0.0304 γ/μ", vec![(1e-3, 3.04e-5), (3.0, 0.0912)]),
            ],
        }),
    }
}
