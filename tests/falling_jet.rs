//! A falling viscous jet against theory: the thread thins without a neck, so nothing but gravity and viscosity shapes it.
//!
//! Source: Clarke 1966, Mathematika 13, 51; 1968, J. Fluid Mech. 31, 481 (steady jet, inertia, gravity and Trouton viscosity,
//! no tension; Oh = Bo = 100 makes tension count for less than 0.1 %). Status: theory. Tolerance 1 %: the design's row.

use slenderjet::case::{Accuracy, Bore, Case, Device, Forcing, Layout, Model, RunControl, Stop, Stream, Wetting};
use slenderjet::outcome::Frame;
use slenderjet::simulate::{Observer, simulate};
use slenderjet::theory::falling_jet::FallingJet;
use std::f64::consts::PI;

const OHNESORGE: f64 = 100.0;
const BOND: f64 = 100.0;
const START: f64 = 0.5;

/// Keeps the last instant.
#[derive(Default)]
struct Last(Frame);

impl Observer for Last {
    fn frame(&mut self, frame: &Frame) {
        self.0 = frame.clone();
    }
}

/// Scaled units: radius, density and tension are one.
fn case(until: f64, velocity: f64) -> Case {
    Case {
        title: "falling jet".into(),
        layout: Layout::Pendant,
        inner: Stream { liquid: None, viscosity: OHNESORGE, density: 1.0, flow: PI * velocity },
        outer: None,
        tension: 1.0,
        device: Device {
            bore: Bore::Unbounded,
            round_outer: None,
            tip_bore: 2.0,
            tip_outer: None,
            wetting: Wetting::TipBore,
            orifice: None,
        },
        segment: None,
        gravity: BOND,
        forcing: Forcing::default(),
        model: Model::default(),
        run: RunControl { stop: Stop::Until(until), accuracy: Accuracy::Coarse, frames: 12 },
        typed: Vec::new(),
        text: String::new(),
    }
}

#[test]
fn theory_radius_of_a_falling_viscous_jet() {
    let (length, velocity) = ((9.0 * OHNESORGE * OHNESORGE / BOND).cbrt(), (3.0 * OHNESORGE * BOND).cbrt());
    let jet = FallingJet::new(START).expect("a jet");
    let mut last = Last::default();
    simulate(&case(9.0 * length / velocity, START * velocity), None, &mut last).expect("a run");
    let body = last.0.bodies.iter().find(|body| body.attached).expect("a thread");
    for z in [0.5, 1.0, 2.0] {
        let after = body.z.partition_point(|x| *x < z * length).clamp(1, body.z.len() - 1);
        let (lo, hi) = (after - 1, after);
        let share = (z * length - body.z[lo]) / (body.z[hi] - body.z[lo]);
        let ours = body.h[lo] + share * (body.h[hi] - body.h[lo]);
        let error = ours / jet.radius(z) - 1.0;
        assert!(error.abs() < 0.01, "z = {z}: {:+.3} %", 100.0 * error);
    }
}
