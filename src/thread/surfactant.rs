//! Equation of state and free energy of a surface with surfactant.
//!
//! Equation: g(Gamma) = 1 - E (Gamma - 1) (linear), g = 1 + f ln((1 - y Gamma)/r) (Langmuir); the free energy F(A, N) of a surface of
//! area A that holds N = Gamma A has dF/dA = g at fixed N and dF/dN = mu. For a surfactant that stays on the surface Gamma is in
//! Gamma_0, g = 1 there: r = 1 - y, f = E (1 - y)/y, mu = E ln Gamma or f y ln(Gamma (1 - y)/(1 - y Gamma)). For a dissolved one Gamma
//! is in Gamma_inf, g = 1 on the clean surface: y = r = 1, f = R T Gamma_inf/gamma, and F counts what the surfactant has left in the
//! liquid, F = A + f A [t ln t + (1 - t) ln(1 - t) - t ln kappa] with t = Gamma: mu = f ln c_s vanishes at equilibrium, so that adsorption
//! only ever loses energy.
//! Symbols: g tension over the case's, y packing, kappa = K c_b, c_s concentration beside the surface over the bulk's.
//! Source: Langmuir-Szyszkowski equation of state and its free energy, textbook (recalled); dF/dA and dF/dN are tested against differences.
//! Holds for: one surfactant, Gamma below the closest packing; above it the tension stays where it was and the run says so.

use super::adsorption::Exchange;
use super::body::Body;
use super::laden::areas;
use crate::math::Pinned as _;
use std::f64::consts::PI;

/// How tension falls with the amount.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum State {
    Linear {
        /// E.
        elasticity: f64,
    },
    Langmuir {
        /// f.
        factor: f64,
        /// y.
        packing: f64,
        /// r: what is free of the surface where g is 1.
        free: f64,
    },
}

/// A surfactant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surfactant {
    pub state: State,
    /// Diffusivity along the surface, 1/Pe.
    pub diffusivity: f64,
    /// Exchange with the liquid that it is dissolved in; `None`: it stays on the surface.
    pub exchange: Option<Exchange>,
}

/// A surface with surfactant in one cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Monolayer {
    /// Gamma.
    pub amount: f64,
    /// g.
    pub tension: f64,
    /// dg/dGamma.
    pub slope: f64,
}

/// Tension over the case's below which a surface counts as packed: the layer would buckle or leave it.
pub const PACKED: f64 = 0.02;
/// Share of the closest packing that counts as packed.
const FULL: f64 = 0.999;

impl Surfactant {
    /// One that stays on the surface: elasticity E and coverage y (0: linear) at Gamma_0.
    pub fn insoluble(elasticity: f64, coverage: f64, diffusivity: f64) -> Surfactant {
        let y = coverage;
        let state = if y > 0.0 {
            State::Langmuir { factor: elasticity * (1.0 - y) / y, packing: y, free: 1.0 - y }
        } else {
            State::Linear { elasticity }
        };
        Surfactant { state, diffusivity, exchange: None }
    }

    /// A dissolved one; `factor` is R T Gamma_inf over the clean tension.
    pub fn dissolved(factor: f64, exchange: Exchange) -> Surfactant {
        let state = State::Langmuir { factor, packing: 1.0, free: 1.0 };
        Surfactant { state, diffusivity: 0.0, exchange: Some(exchange) }
    }

    /// Gamma on the surface that enters at a nozzle: Gamma_0 of one that stays on the surface; none of a dissolved one.
    pub fn entering(&self) -> f64 {
        if self.exchange.is_some() { 0.0 } else { 1.0 }
    }

    fn is_inert(&self) -> bool {
        matches!(self.state, State::Linear { elasticity: 0.0 } | State::Langmuir { factor: 0.0, .. })
    }

    /// Amount above which the surface is packed.
    fn packed_at(&self) -> f64 {
        match self.state {
            State::Linear { elasticity } => 1.0 + (1.0 - PACKED) / elasticity,
            State::Langmuir { factor, packing, free } => {
                ((1.0 - free * ((PACKED - 1.0) / factor).exponential()) / packing).min(FULL / packing)
            }
        }
    }

    /// The equation of state; beyond packing the tension stays where it was.
    #[inline(always)]
    pub fn monolayer(&self, amount: f64) -> Monolayer {
        if self.is_inert() {
            return Monolayer { amount, tension: 1.0, slope: 0.0 };
        }
        let most = self.packed_at();
        let (held, slope_share) = if amount > most { (most, 0.0) } else { (amount, 1.0) };
        let (tension, slope) = match self.state {
            State::Linear { elasticity } => (1.0 - elasticity * (held - 1.0), -elasticity),
            State::Langmuir { factor, packing, free } => {
                let left = 1.0 - packing * held;
                (1.0 + factor * (left / free).logarithm(), -factor * packing / left)
            }
        };
        Monolayer { amount, tension, slope: slope * slope_share }
    }

    /// Whether a surface that holds this amount is packed.
    pub fn is_packed(&self, amount: f64) -> bool {
        !self.is_inert() && amount > self.packed_at()
    }

    /// F of a surface of area `area` that holds `held`. Of a surfactant that stays on the surface it is counted from the same
    /// amount spread at Gamma_0.
    pub fn energy(&self, area: f64, held: f64) -> f64 {
        if self.is_inert() {
            return area;
        }
        if held <= 0.0 {
            return area * self.monolayer(0.0).tension;
        }
        let amount = held / area;
        match (self.state, self.exchange) {
            (State::Langmuir { factor, .. }, Some(exchange)) => {
                let (t, left) = (amount.min(FULL), (1.0 - amount).max(1.0 - FULL));
                area + factor * area * (t * (t / exchange.affinity).logarithm() + left * left.logarithm())
            }
            (State::Langmuir { factor, packing: y, free }, None) => {
                // integral of ln(1 - y N/A) dA = A ln(1 - y Gamma) - y N [ln(A - y N) - ln N], constants dropped
                let left = (1.0 - y * amount).max(1e-12);
                let per_amount = left.logarithm() - y * amount * (left / amount).logarithm();
                let at_one = (1.0 - y) * free.logarithm();
                area + factor * (area * per_amount - held * at_one - (area - held) * free.logarithm())
            }
            // integral of 1 + E - E N/A dA from A = N
            (State::Linear { elasticity: e }, _) => {
                held + (1.0 + e) * (area - held) - e * held * (area / held).logarithm()
            }
        }
    }

    /// mu = dF/dN at fixed area, of a surfactant that stays on the surface (0 for a dissolved one, of which none enters).
    pub fn potential(&self, amount: f64) -> f64 {
        match (self.state, self.exchange) {
            _ if self.is_inert() || amount <= 0.0 => 0.0,
            (_, Some(_)) => 0.0,
            (State::Linear { elasticity }, None) => elasticity * amount.logarithm(),
            (State::Langmuir { factor, packing: y, free }, None) => {
                factor * y * (amount * free / (1.0 - y * amount).max(1e-12)).logarithm()
            }
        }
    }
}

/// Surfactant spreads along the surface over one step (implicit, amounts kept): dN/dt = D 2 pi (h/S) dGamma/dz at the nodes.
pub(super) fn diffuse(diffusivity: f64, body: &mut Body, dt: f64) {
    let n = body.cells();
    let Some(area) = areas(body).filter(|_| n > 1) else { return };
    let conductance: Vec<f64> = (1..n)
        .map(|i| {
            let (dl, dr) = (body.z[i] - body.z[i - 1], body.z[i + 1] - body.z[i]);
            let (al, ar) = (body.area(i - 1), body.area(i));
            let (a, gap) = ((al * dr + ar * dl) / (dl + dr), 0.5 * (dl + dr));
            let half_slope = 0.5 * (ar - al) / gap;
            // h/S = a/sqrt(a + (a'/2)^2)
            dt * diffusivity * 2.0 * PI * a / (a + half_slope * half_slope).sqrt() / gap
        })
        .collect();
    // tridiagonal in Gamma: area Gamma - div(conductance grad Gamma) = N
    let mut up = vec![0.0; n];
    let mut gamma = vec![0.0; n];
    for j in 0..n {
        let before = if j > 0 { conductance[j - 1] } else { 0.0 };
        let after = if j + 1 < n { conductance[j] } else { 0.0 };
        let (known, taken) = if j > 0 { (before * gamma[j - 1], before * up[j - 1]) } else { (0.0, 0.0) };
        let pivot = area[j] + before + after - taken;
        up[j] = after / pivot;
        gamma[j] = (body.load.amount[j] + known) / pivot;
    }
    for j in (0..n - 1).rev() {
        gamma[j] += up[j] * gamma[j + 1];
    }
    // by the fluxes, so that what leaves one cell enters the next
    for (j, conductance) in conductance.iter().enumerate() {
        let flux = conductance * (gamma[j] - gamma[j + 1]);
        body.load.amount[j] -= flux;
        body.load.amount[j + 1] += flux;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    // dF/dA = g, dF/dN = mu, and the same elasticity E at Gamma_0 for both equations of state.
    #[test]
    fn theory_tension_is_the_slope_of_the_surface_energy() {
        for coverage in [0.0, 0.3, 0.5] {
            let layer = Surfactant::insoluble(0.2, coverage, 0.0);
            assert_relative_eq!(layer.monolayer(1.0).tension, 1.0, max_relative = 1e-14);
            assert_relative_eq!(layer.monolayer(1.0).slope, -0.2, max_relative = 1e-13);
            assert_relative_eq!(layer.energy(2.5, 2.5), 2.5, max_relative = 1e-13);
            for area in [0.8, 1.0, 3.0] {
                let slope = (layer.energy(area + 1e-6, 1.0) - layer.energy(area - 1e-6, 1.0)) / 2e-6;
                assert_relative_eq!(slope, layer.monolayer(1.0 / area).tension, max_relative = 1e-8);
                let more = (layer.energy(area, 1.0 + 1e-6) - layer.energy(area, 1.0 - 1e-6)) / 2e-6;
                assert_relative_eq!(more, layer.potential(1.0 / area), max_relative = 1e-7, epsilon = 1e-9);
            }
        }
        let stiff = Surfactant::insoluble(0.5, 0.3, 0.0);
        assert!(!stiff.is_packed(1.5) && stiff.is_packed(3.2));
        assert!(stiff.monolayer(50.0).tension >= 0.5 * PACKED);
    }

    // The same of a dissolved surfactant; its energy at fixed area is least where the surface is at equilibrium with the liquid.
    #[test]
    fn theory_a_dissolved_surfactant_has_its_least_energy_at_equilibrium() {
        let layer = Surfactant::dissolved(0.15, Exchange::new(3.0, 8.0, 1e-3, false, 1.0));
        assert_eq!(layer.energy(2.0, 0.0), 2.0);
        for held in [0.01, 0.3, 0.8] {
            let slope = (layer.energy(1.0 + 1e-6, held) - layer.energy(1.0 - 1e-6, held)) / 2e-6;
            assert_relative_eq!(slope, layer.monolayer(held).tension, max_relative = 1e-8);
            assert_relative_eq!(layer.monolayer(held).tension, 1.0 + 0.15 * (1.0 - held).ln(), max_relative = 1e-13);
        }
        let full = 8.0 / 9.0;
        let at = |x: f64| layer.energy(1.0, x * full);
        assert!(at(1.0) < at(0.99) && at(1.0) < at(1.01));
    }
}
