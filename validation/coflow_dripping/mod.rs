use crate::framework::plot::{Plot, linear, symbols};
use crate::framework::table::Table;
use crate::framework::{Row, Status, Topic, relative, report, source};
use slenderjet::case::{Accuracy, Bore, Case, Device, Forcing, Layout, Model, RunControl, Stop, Stream, Wetting};
use slenderjet::simulate::{Silent, simulate};
use std::f64::consts::PI;

/// A co-flow in which nothing has inertia to speak of: R = 10 um, mu_o = 1 Pa s, gamma = 5 mN/m (La_o = 5e-5).
/// `capillary` is mu_o U_axis/gamma of the outer stream fed upstream, `share` the inner mean velocity over that axis velocity.
pub fn coflow(capillary: f64, share: f64, ratio: f64, wall: f64, stop: Stop) -> Case {
    let (radius, viscosity, tension) = (10e-6, 1.0, 5e-3);
    let axis = capillary * tension / viscosity;
    let stream = |viscosity, flow| Stream { liquid: None, viscosity, density: 1000.0, flow };
    Case {
        title: "first drop in a co-flow".into(),
        layout: Layout::Coflow,
        inner: stream(ratio * viscosity, share * axis * PI * radius * radius),
        outer: Some(stream(viscosity, 0.5 * axis * PI * (wall * radius).powi(2))),
        tension,
        device: Device {
            bore: Bore::Round(2.0 * wall * radius),
            round_outer: None,
            tip_bore: 2.0 * radius,
            tip_outer: None,
            wetting: Wetting::TipBore,
            orifice: None,
        },
        segment: None,
        gravity: 0.0,
        forcing: Forcing::default(),
        model: Model::default(),
        run: RunControl { stop, accuracy: Accuracy::Standard, frames: 2 },
        typed: Vec::new(),
        text: String::new(),
    }
}

/// Rows of the reference table that are judged here.
const ROWS: [u32; 49] = [
    1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31, 33, 35, 48, 49, 50, 51,
    52, 53, 54, 55, 56, 57, 58, 59, 60, 61, 62, 63, 68, 69, 70, 74, 75, 76,
];

/// Diameter of what lies beyond the first neck over the tip's, and the neck's place over the tip's diameter.
fn first_drop(case: &Case) -> Option<(f64, f64)> {
    let outcome = simulate(case, None, &mut Silent).ok()?;
    let pinch = outcome.summary.first_pinch?;
    let tip = case.device.tip_bore;
    Some(((6.0 * pinch.volume_m3 / PI).cbrt() / tip, pinch.position_m / tip))
}

pub fn topic() -> Topic {
    let from = source("own boundary elements, validation/reference/results/coflow.csv", Status::FirstPrinciples);
    let columns = ["row", "ca", "q", "viscosity_ratio", "wall_over_R", "d_over_D", "z_neck_over_D"];
    let table = Table::read("validation/reference/results/coflow.csv").columns(columns);
    let mut rows = Vec::new();
    let mut points = [Vec::new(), Vec::new(), Vec::new()];
    let (mut squares, mut count) = (0.0, 0.0);
    for [row, ca, q, ratio, wall, d, z] in table {
        if !ROWS.iter().any(|known| f64::from(*known) == row) || !d.is_finite() {
            continue;
        }
        let (ours, neck) = first_drop(&coflow(ca, q, ratio, wall, Stop::Drops(1))).unwrap_or((f64::NAN, f64::NAN));
        let name = format!("row {row}: Ca {ca}, q {q:.3}, ratio {ratio}, wall {wall} R: d/D");
        rows.push(relative(name, &from, d, ours, 0.1).remark_if_failing(wall));
        if row == 2.0 || row == 33.0 || row == 51.0 {
            rows.push(report(format!("row {row}: neck at z/D"), &from, z, neck));
        }
        points[if ratio > 5.0 { 2 } else { usize::from(ratio < 0.5) }].push((d, ours));
        squares += (ours / d - 1.0) * (ours / d - 1.0);
        count += 1.0;
    }
    rows.push(relative("1 + root mean square of the differences", &from, 1.0, 1.0 + f64::sqrt(squares / count), 0.1));
    let [equal, thin, thick] = points;
    Topic {
        folder: "coflow_dripping",
        section: 'C',
        title: "First drop of a co-flow against the full equations",
        rows,
        figure: Some(Plot {
            x: linear("d/D, boundary elements"),
            y: linear("d/D, this program"),
            series: vec![
                symbols("viscosity ratio 1", equal),
                symbols("viscosity ratio 0.1", thin),
                symbols("viscosity ratio 10", thick),
            ],
        }),
    }
}

/// The one reason that is known for a row out of tolerance.
trait Reason {
    fn remark_if_failing(self, wall: f64) -> Self;
}

impl Reason for Row {
    fn remark_if_failing(self, wall: f64) -> Row {
        if self.verdict == crate::framework::Verdict::Pass {
            return self;
        }
        self.remark(format!(
            "the drop is no larger than the tip and the wall is {wall} tip radii away: the sheltered stream is least well known there"
        ))
    }
}
