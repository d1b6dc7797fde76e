//! What the pumps of a case deliver, scaled: pulsation, noise, steps of a motor and ramps of either flow.
//!
//! Equation: see [`crate::thread::inflow`]; of the outer flow the thread feels the total flow Q_T = Q_i + Q_o, mean over a step.
//!
//! Holds for: an outer stream that follows its pump at once (its profile settles within R_w^2 rho/mu_o, and what is between pump and
//! tip is stiff). Pulsation, noise and steps of the inner flow are left out of Q_T, of which they are a small part; a ramp of it is
//! not.

use super::setup::Scales;
use crate::case::Case;
use crate::thread::inflow::{Inflow, Ramp};
use crate::thread::stream::Stream;
use std::f64::consts::PI;

/// The seed of the outer flow's noise is another one, so that the two do not go together.
const OTHER_SEED: u64 = 0x5DEE_CE66_D5EE_D001;

fn ramp(case: &Case, from: f64, to: Option<f64>, scales: &Scales) -> Option<Ramp> {
    let ramp = case.forcing.ramp?;
    let scaled = |t: f64| t / scales.time;
    Some(Ramp {
        to: to? / from,
        start: scaled(ramp.start),
        over: scaled(ramp.over),
        hold: scaled(ramp.hold),
        back: ramp.back.map(scaled),
    })
}

/// The inner flow; noise lies in `band`.
pub(super) fn inner(case: &Case, steady: Inflow, scales: &Scales, band: [f64; 2]) -> Inflow {
    let f = &case.forcing;
    let goal = f.ramp.and_then(|r| r.inner);
    steady
        .with_modulation(f.amplitude, f.frequency * scales.time)
        .with_noise(f.noise, f.seed, band[0], band[1])
        .with_ramp(ramp(case, case.inner.flow, goal, scales))
        .with_steps(f.step / scales.volume(), f.step_share)
}

/// The outer stream where it changes; `None` where it is steady.
pub(super) fn stream(case: &Case, flow: f64, inner: &Inflow, scales: &Scales, band: [f64; 2]) -> Option<Stream> {
    let outer = outer(case, flow, scales, band);
    let inner = Inflow::steady(inner.mean()).with_ramp(inner.ramp().copied());
    let driven = flow > 0.0 && !(outer.is_steady() && inner.is_steady());
    driven.then_some(Stream { inner, outer })
}

fn outer(case: &Case, flow: f64, scales: &Scales, band: [f64; 2]) -> Inflow {
    let f = &case.forcing;
    let goal = f.ramp.and_then(|r| r.outer);
    let scaled = flow / (scales.length * scales.length * scales.velocity());
    Inflow::steady(scaled / PI)
        .with_modulation(f.outer.amplitude, f.outer.frequency * scales.time)
        .with_noise(f.outer.noise, f.seed ^ OTHER_SEED, band[0], band[1])
        .with_ramp(ramp(case, flow, goal, scales))
        .with_steps(f.outer.step / scales.volume(), f.step_share)
}

/// Inner and outer flow over time as the pumps deliver them, without their noise: pi times the velocity is the flow in m3/s at a time
/// in s.
pub fn delivered(case: &Case) -> (Inflow, Option<Inflow>) {
    let mut smooth = case.clone();
    (smooth.forcing.noise, smooth.forcing.outer.noise) = (0.0, 0.0);
    let si = Scales { length: 1.0, time: 1.0, tension: 1.0 };
    let steady = Inflow::steady(case.inner.flow / PI);
    let flow = case.outer.as_ref().map(|o| o.flow).filter(|flow| *flow > 0.0);
    (inner(&smooth, steady, &si, [0.0; 2]), flow.map(|flow| outer(&smooth, flow, &si, [0.0; 2])))
}

/// The case at the far end of its ramp.
pub(super) fn goal(case: &Case) -> Option<Case> {
    let ramp = case.forcing.ramp?;
    let mut goal = case.clone();
    goal.inner.flow = ramp.inner.unwrap_or(goal.inner.flow);
    if let (Some(outer), Some(flow)) = (goal.outer.as_mut(), ramp.outer) {
        outer.flow = flow;
    }
    Some(goal)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{examples, parse_with};
    use approx::assert_relative_eq;

    fn case(changes: &[&str]) -> Case {
        let changes: Vec<String> = changes.iter().map(|c| (*c).to_owned()).collect();
        let text = examples::find("coflow").expect("an example").text;
        parse_with(text, "coflow", &changes).unwrap_or_else(|e| panic!("{e}"))
    }

    #[test]
    fn steady_pumps_leave_the_stream_alone() {
        let case = case(&["forcing.noise=0.5 %", "forcing.amplitude=2 %", "forcing.frequency=400 Hz"]);
        let scales = Scales { length: 1.0, time: 1.0, tension: 1.0 };
        let steady = Inflow::steady(case.inner.flow / PI);
        let flow = case.outer.as_ref().expect("co-flow").flow;
        assert_eq!(stream(&case, flow, &inner(&case, steady, &scales, [1.0, 2.0]), &scales, [1.0, 2.0]), None);
    }

    // A trapezium: 20 ms at the first flow, 100 ms up to twice it, 50 ms there.
    #[test]
    fn theory_a_ramp_of_both_flows_delivers_its_area() {
        let case = case(&[
            "inner.flow=100 uL/h",
            "outer.flow=6 mL/h",
            "ramp.inner=200 uL/h",
            "ramp.outer=12 mL/h",
            "ramp.start=20 ms",
            "ramp.over=100 ms",
        ]);
        let (inner, outer) = delivered(&case);
        for (stream, flow) in [(inner, 1e-7 / 3600.0), (outer.expect("an outer flow"), 6e-6 / 3600.0)] {
            assert_relative_eq!(stream.volume(0.0, 0.17), flow * (0.02 + 0.15 + 0.1), max_relative = 1e-12);
        }
    }

    #[test]
    fn the_two_pumps_do_not_make_the_same_noise() {
        let case = case(&["forcing.noise=0.5 %", "forcing.outer_noise=0.5 %", "forcing.seed=3"]);
        let scales = Scales { length: 1.0, time: 1.0, tension: 1.0 };
        let band = [1.0, 5.0];
        let own = inner(&case, Inflow::steady(1.0), &scales, band);
        let other = outer(&case, PI, &scales, band);
        let n = 4000;
        let (a, b): (Vec<f64>, Vec<f64>) =
            (0..n).map(|i| 0.01 * f64::from(i)).map(|t| (own.velocity(t) - 1.0, other.velocity(t) - 1.0)).unzip();
        let dot = |x: &[f64], y: &[f64]| x.iter().zip(y).map(|(x, y)| x * y).sum::<f64>();
        assert!(dot(&a, &b).abs() < 0.3 * dot(&a, &a), "{} of {}", dot(&a, &b), dot(&a, &a));
        assert_relative_eq!(dot(&b, &b) / dot(&a, &a), 1.0, max_relative = 0.1);
    }
}
