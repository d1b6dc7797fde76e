//! Linear theory of the model itself: how fast a small perturbation on a uniform moving thread grows.
//!
//! Equation (sigma = s + i k U, lengths in h; perturbation exp(s t + i k z)):
//! `M sigma^2 + (d + e k^2) sigma = k^2 (1 - k^2)/2 - (i k/2) [d u1 - 2 k^2 (c_E (U - U_r) + 3 lambda g (U - U_s))]`.
//! In a passive gas (units h = gamma = rho_i = 1): M = 1 (+ k^2/8 with radial inertia), d = 0, e = 3 Oh, bracket zero.
//! In an outer liquid (units h = gamma = mu_o = 1): `M = r_i (1 + k^2/8) + r_o max(x^2/(1 - x^2), 0.26)`, `e = 3 lambda + c_E`.
//!
//! Symbols: k wavenumber times h, U thread velocity, U_r = 0.9 U_s (U_s interface velocity), u1 = h du_eq/dh, r = rho gamma h/mu_o^2 (Laplace
//! numbers), lambda = mu_i/mu_o, Oh = mu_i/sqrt(rho_i gamma h), d and c_E as in [`crate::thread::closures`].
//!
//! Source: linearised thread equations (own derivation). In a gas: Eggers & Dupont 1994, J. Fluid Mech. 262, 205, and
//! Weber 1931, Z. angew. Math. Mech. 11, 136. Checked against exact two-layer Stokes theory and against
//! Leib & Goldstein 1986, Phys. Fluids 29, 952 (tables in the tests).
//!
//! Holds for: a thread of uniform radius. Errors against exact theory: fastest growth within 8.4 % (two liquids, no inertia),
//! 14 % (two inertial liquids up to r = 1000); 2.98 % too fast in a gas at Oh = 0 without radial inertia, 0.1 % with it.

pub mod saddle;

#[cfg(test)]
mod tests;

use crate::thread::closures::inertia::BoundaryLayer;
use crate::thread::closures::{Outer, core_annular, extension, inertia};
use crate::thread::foot;
use nalgebra::Complex;

/// Coefficients of the relation above: everything the growth of a perturbation depends on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Relation {
    /// M at k = 0.
    pub mass: f64,
    /// What M gains per k^2 (radial inertia).
    pub radial: f64,
    /// d.
    pub drag: f64,
    /// e.
    pub stretch: f64,
    /// d u1/2.
    pub shear: f64,
    /// c_E (U - U_r) + 3 lambda g (U - U_s).
    pub slip: f64,
    /// U.
    pub velocity: f64,
}

/// Liquids about a thread of radius h: ratio and Laplace numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoLiquids {
    /// lambda = mu_i/mu_o.
    pub viscosity_ratio: f64,
    /// r_i = rho_i gamma h/mu_o^2.
    pub laplace_inner: f64,
    /// r_o = rho_o gamma h/mu_o^2.
    pub laplace_outer: f64,
}

/// The fastest mode.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fastest {
    /// Wavenumber times h.
    pub wavenumber: f64,
    /// Growth rate in units of the relation.
    pub rate: f64,
}

impl Relation {
    /// Thread in a passive gas; units h = gamma = rho_i = 1, so `velocity` is sqrt(We).
    pub fn passive(ohnesorge: f64, velocity: f64, radial_inertia: bool) -> Relation {
        let radial = if radial_inertia { 0.125 } else { 0.0 };
        Relation { mass: 1.0, radial, drag: 0.0, stretch: 3.0 * ohnesorge, shear: 0.0, slip: 0.0, velocity }
    }

    /// Thread at the axis of a tube in which both liquids run side by side; units h = gamma = mu_o = 1.
    /// `x` = h/R_w; `axis` = mu_o U0/gamma, the capillary number of the total flow on the axis of the empty tube (zero: at rest).
    pub fn confined(liquids: TwoLiquids, x: f64, axis: f64) -> Relation {
        let inverse = 1.0 / liquids.viscosity_ratio;
        let y = x * x;
        let flow = core_annular::equilibrium(y, inverse);
        let (c_e, _) = extension::coefficient(y, extension::wall_share(liquids.viscosity_ratio));
        let closures = liquids.outer().local(1.0, None, Some(1.0 / x));
        let ohnesorge = liquids.viscosity_ratio / liquids.laplace_inner.max(f64::MIN_POSITIVE).sqrt();
        let lag = 3.0 * liquids.viscosity_ratio * foot::evened(ohnesorge, 1.0).0;
        Relation {
            mass: liquids.laplace_inner + liquids.laplace_outer * inertia::added_mass(y),
            radial: liquids.laplace_inner / 8.0,
            drag: closures.drag.value,
            stretch: 3.0 * liquids.viscosity_ratio + c_e,
            shear: closures.drag.value * y * axis * flow.mean_y,
            slip: axis
                * (c_e * (flow.mean - extension::BASE_SHARE.value * flow.interface)
                    + lag * (flow.mean - flow.interface)),
            velocity: axis * flow.mean,
        }
    }

    /// Thread in an unbounded liquid that moves along with it at `capillary` = mu_o U/gamma.
    pub fn unconfined(liquids: TwoLiquids, capillary: f64) -> Relation {
        let closures = liquids.outer().local(1.0, None, None);
        Relation {
            mass: liquids.laplace_inner + liquids.laplace_outer * inertia::ADDED_MASS_FLOOR.value,
            radial: liquids.laplace_inner / 8.0,
            drag: closures.drag.value,
            stretch: 3.0 * liquids.viscosity_ratio + 1.0,
            shear: 0.0,
            slip: 0.0,
            velocity: capillary,
        }
    }

    /// The same thread with every velocity multiplied by `factor`.
    pub fn faster(self, factor: f64) -> Relation {
        Relation { shear: self.shear * factor, slip: self.slip * factor, velocity: self.velocity * factor, ..self }
    }

    /// Complex growth rate sigma = s + i k U (seen from the thread) of the faster root at wavenumber k.
    pub fn sigma(&self, k: Complex<f64>) -> Complex<f64> {
        let [mass, damping, drive] = [self.mass_at(k)[0], self.damping_at(k)[0], self.drive_at(k)[0]];
        // Rationalised root: exact also without any inertia.
        let root = (damping * damping + mass * drive * 4.0).sqrt();
        let root = if (root * damping.conj()).re < 0.0 { -root } else { root };
        drive * 2.0 / (damping + root)
    }

    /// Growth rate of a sinusoidal perturbation of real wavenumber k, in units of the relation.
    pub fn growth(&self, k: f64) -> f64 {
        self.sigma(Complex::new(k, 0.0)).re
    }

    /// The wavenumber that grows fastest, found to 1e-10 by golden section on the hump between k = 0 and 1.
    pub fn fastest(&self) -> Fastest {
        const SECTIONS: usize = 400;
        const GOLDEN: f64 = 0.618_033_988_749_894_9;
        let at = |i: usize| i as f64 / SECTIONS as f64;
        let start = (1..SECTIONS).max_by(|&a, &b| self.growth(at(a)).total_cmp(&self.growth(at(b)))).unwrap_or(1);
        let (mut low, mut high) = (at(start - 1), at(start + 1));
        for _ in 0..60 {
            let (left, right) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
            if self.growth(left) > self.growth(right) { high = right } else { low = left }
        }
        let wavenumber = 0.5 * (low + high);
        Fastest { wavenumber, rate: self.growth(wavenumber) }
    }

    /// M and its first two derivatives with respect to k.
    fn mass_at(&self, k: Complex<f64>) -> [Complex<f64>; 3] {
        [k * k * self.radial + self.mass, k * (2.0 * self.radial), Complex::from(2.0 * self.radial)]
    }

    /// d + e k^2 and its first two derivatives.
    fn damping_at(&self, k: Complex<f64>) -> [Complex<f64>; 3] {
        [k * k * self.stretch + self.drag, k * (2.0 * self.stretch), Complex::from(2.0 * self.stretch)]
    }

    /// Right-hand side and its first two derivatives.
    fn drive_at(&self, k: Complex<f64>) -> [Complex<f64>; 3] {
        let (k2, i) = (k * k, Complex::<f64>::i());
        [
            k2 * (-k2 + 1.0) * 0.5 - i * k * (-k2 * self.slip + self.shear),
            k - k2 * k * 2.0 - i * (-k2 * (3.0 * self.slip) + self.shear),
            -k2 * 6.0 + 1.0 + i * k * (6.0 * self.slip),
        ]
    }
}

impl TwoLiquids {
    /// Closures in units h = gamma = mu_o = 1, with the boundary layer where there is inertia.
    fn outer(&self) -> Outer {
        let mut outer = Outer::new(self.viscosity_ratio, 1.0, 0.0);
        outer.boundary_layer = (self.laplace_outer > 0.0).then_some(BoundaryLayer {
            inner_density: self.laplace_inner,
            outer_density: self.laplace_outer,
            inner_viscosity: self.viscosity_ratio,
            outer_viscosity: 1.0,
            tension: 1.0,
        });
        outer
    }
}
