//! Energy that goes into the liquid and out of it, summed over a run by cause.
//!
//! Equation: E(t) - E(0) = integral of (inlet + outflow + outer liquid + viscosities) dt + cuts + regrids + what stays open; each
//! step is closed by the trapezoid between its last stage and that of the step before.
//! Symbols: E kinetic, surface and potential energy of all bodies and of what left the list, as it was when it left.
//! Source: [`crate::thread::power`], [`crate::thread::energy`].

use crate::thread::energy::Energy;
use crate::thread::power::Powers;
use crate::thread::step::StepReport;

/// Sums, scaled.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Ledger {
    /// Energy at the start.
    pub start: Energy,
    /// Work on the liquid so far, by cause.
    pub work: Powers,
    /// Sum of the absolute powers (gravity's too) over time: the energy turned over.
    pub turnover: f64,
    /// Energy that cuts, closed caps and joints brought.
    pub cuts: Energy,
    /// Energy that new meshes brought.
    pub regrids: Energy,
    /// Energy of what left the list.
    pub handed: Energy,
}

/// The budget at an instant, scaled: the forms' changes, and what made them.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Balance {
    /// Change since the start, of what is there and what was handed over.
    pub change: Energy,
    /// Work by cause, and what cuts and regrids brought.
    pub work: Powers,
    pub cuts: f64,
    pub regrids: f64,
    /// What stays open over the energy turned over.
    pub open: f64,
}

/// What is open of what was turned over; all of it where a sum is no number.
fn share(open: f64, scale: f64) -> f64 {
    match (open / scale).abs() {
        share if share.is_finite() => share,
        _ if scale == 0.0 => 0.0,
        _ => 1.0,
    }
}

impl Ledger {
    /// A ledger that opens with this energy.
    pub fn starting(energy: Energy) -> Ledger {
        Ledger { start: energy, ..Ledger::default() }
    }

    /// Book a step and the new mesh after it.
    pub fn step(&mut self, dt: f64, report: &StepReport) {
        let [start, end] = &report.powers;
        self.work = self.work + (*start + *end) * (0.5 * dt);
        self.turnover += 0.5 * dt * (start.turned_over() + end.turned_over());
        self.regrids = self.regrids + report.regrid;
    }

    /// Keep the energy of what leaves the list.
    pub fn hand_over(&mut self, energy: Energy) {
        self.handed = self.handed + energy;
    }

    /// The budget, given the energy that is still there; `copies` is 2 for a half wave.
    pub fn balance(&self, there: Energy, copies: f64) -> Balance {
        let change = there + self.handed - self.start;
        let (work, cuts, regrids) = (self.work * copies, copies * self.cuts.total(), copies * self.regrids.total());
        let scale = copies * self.turnover + change.total().abs();
        let open = change.total() - work.net() - cuts - regrids;
        Balance { change, work, cuts, regrids, open: share(open, scale) }
    }
}
