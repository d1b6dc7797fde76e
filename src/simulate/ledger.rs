//! Energy that goes into the liquid and out of it, summed over a run.
//!
//! Equation: E(t) - E(0) = integral of (inlet + outer - inner viscosity - artificial viscosity) dt; trapezoidal between steps.
//! What is handed over (a drop that leaves the list) stays counted as it was then.

use crate::thread::body::Body;
use crate::thread::step::StepReport;

/// Sums, scaled.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Ledger {
    /// Energy at the start.
    pub start: f64,
    /// Net work on the liquid so far.
    pub net: f64,
    /// Sum of the absolute powers (gravity's too) over time: the energy turned over.
    pub turnover: f64,
    /// Taken out by the artificial viscosity.
    pub artificial: f64,
    /// Energy of what left the list.
    pub handed: f64,
}

impl Ledger {
    /// A ledger that opens with this energy.
    pub fn starting(energy: f64) -> Ledger {
        Ledger { start: energy, ..Ledger::default() }
    }

    /// Book a step: its power holds at its start, so the step before is closed with the trapezoid.
    pub fn step(&mut self, body: &mut Body, dt: f64, report: &StepReport) {
        let power = report.inlet + report.outer - report.dissipation - report.artificial;
        let [before, length] = body.ledger;
        self.net += 0.5 * (before + power) * length;
        self.turnover +=
            (report.inlet.abs() + report.outer.abs() + report.gravity.abs() + report.dissipation + report.artificial)
                * dt;
        self.artificial += report.artificial * dt;
        body.ledger = [power, dt];
    }

    /// Close the last step of a body that is about to change.
    pub fn close(&mut self, body: &Body) {
        self.net += body.ledger[0] * body.ledger[1];
    }

    /// Keep the energy of what leaves the list.
    pub fn hand_over(&mut self, energy: f64) {
        self.handed += energy;
    }

    /// Residual over the energy turned over, given the energy that is still there; `copies` is 2 for a half wave.
    pub fn residual(&self, now: f64, open: f64, copies: f64) -> f64 {
        let change = now + self.handed - self.start;
        let work = copies * (self.net + open);
        let scale = copies * self.turnover + change.abs();
        if scale > 0.0 { ((change - work) / scale).abs() } else { 0.0 }
    }
}
