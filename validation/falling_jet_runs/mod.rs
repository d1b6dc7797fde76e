use crate::framework::plot::{Plot, line, linear};
use crate::framework::{Row, Status, Topic, relative, source, whole_table};
use crate::solver::{RADIUS, nozzle, run, unit_of_time};
use slenderjet::case::{Accuracy, Stop};
use slenderjet::theory::falling_jet::FallingJet;

/// Viscous and heavy: tension counts for less than 0.1 % here.
const OH: f64 = 100.0;
const BOND: f64 = 100.0;

pub fn topic() -> Topic {
    let clarke = source("Clarke 1966, Mathematika 13, 51; 1968, J. Fluid Mech. 31, 481", Status::Theory);
    let length = (9.0 * OH * OH / BOND).cbrt();
    let velocity = (3.0 * OH * BOND).cbrt();
    let jet = FallingJet::new(0.5).expect("a jet");
    let weber = (0.5 * velocity).powi(2);
    // Time for the front to be well past the place that is read.
    let stop = Stop::Until(9.0 * length / velocity * unit_of_time());
    let mut case = nozzle(OH, BOND, weber, stop);
    case.run.frames = 12;
    case.run.accuracy = Accuracy::Coarse;
    let (_, film) = run(&case);
    let body =
        film.last().and_then(|frame| frame.bodies.iter().find(|body| body.attached)).cloned().unwrap_or_default();
    let points: Vec<_> = body.z.iter().zip(&body.h).map(|(z, h)| (z / RADIUS / length, h / RADIUS)).collect();
    let at = |z: f64| {
        let after = points.partition_point(|p| p.0 < z).clamp(1, points.len() - 1);
        let (a, b) = (points[after - 1], points[after]);
        a.1 + (b.1 - a.1) * (z - a.0) / (b.0 - a.0)
    };
    let radius = |z: &f64| relative(format!("radius at z = {z}, u(0) = 0.5"), &clarke, jet.radius(*z), at(*z), 0.01);
    let mut rows: Vec<Row> = [0.5, 1.0, 2.0].iter().map(radius).collect();
    // Three places may be lucky ones: every node from the nozzle to z = 3 is judged too.
    let every: Vec<_> = points.iter().filter(|p| p.0 <= 3.0).map(|p| (jet.radius(p.0), p.1)).collect();
    rows.push(whole_table("radius at every node up to z = 3", &clarke, &every, 0.01));
    Topic {
        folder: "falling_jet_runs",
        section: 'B',
        title: "Falling viscous jet",
        rows,
        figure: Some(Plot {
            x: linear("distance below the nozzle, (9ν²/g)^1/3"),
            y: linear("radius over that at the nozzle"),
            series: vec![
                line("run", points.iter().copied().filter(|p| p.0 < 4.0).collect()),
                line("Clarke", (0..80).map(|i| 0.05 * f64::from(i)).map(|z| (z, jet.radius(z))).collect()),
            ],
        }),
    }
}
