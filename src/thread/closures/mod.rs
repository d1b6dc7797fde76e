//! What the outer liquid does to the thread, as functions of thread radius, wall radius and liquids.
//!
//! Equation: force on the thread per unit volume = mu_o d (u_eq - u)/h^2 + d/dz(mu_o c_E w),
//! w = u_z + 2 (u - u_r) h_z/h; each factor has its own file with its source: [`core_annular`] (u_eq), [`drag`] (d),
//! [`extension`] (c_E, u_r), [`inertia`] (added mass, boundary layer), [`ends`] (rounded ends, wake behind the tip),
//! [`wall`] (film).
//!
//! Symbols: a = h^2 (m2), R_w wall radius (m), h_ref envelope of the thread (m), lambda = mu_i/mu_o, Q_T = Q_i + Q_o (m3/s).
//!
//! Source: see the files.
//!
//! Holds for: slopes of thread and wall below one; x = h/R_w below 0.98.
//!
//! Every function is pure and knows no units: SI or dimensionless, as long as they agree.

pub mod core_annular;
pub mod drag;
pub mod ends;
pub mod extension;
pub mod fitted;
pub mod inertia;
pub mod wall;

#[cfg(test)]
mod tests;

use crate::math::{Pinned as _, logarithm_in_line};
use std::f64::consts::PI;
use std::ops::Mul;

/// Share y = x^2 of the tube's section above which the closures are held constant, so that a trial step never divides by zero (x = 0.995).
const SHARE_LIMIT: f64 = 0.990025;

/// The outer liquid, with everything that does not change along the thread worked out once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outer {
    /// lambda = mu_i/mu_o.
    pub viscosity_ratio: f64,
    /// mu_o, Pa s.
    pub viscosity: f64,
    /// Q_T = Q_i + Q_o, m3/s; it may be changed from step to step.
    pub total_flow: f64,
    /// Set where inertia of the outer liquid matters.
    pub boundary_layer: Option<inertia::BoundaryLayer>,
    inverse_ratio: f64,
    reach: f64,
    wall_share: f64,
}

/// A value with its derivatives by a = h^2 and by the wall's radius, at fixed Q_T.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Dual {
    pub value: f64,
    pub by_a: f64,
    pub by_wall: f64,
}

impl Dual {
    /// f(x) from f and df/dx there.
    #[inline(always)]
    fn through((value, slope): (f64, f64), x: &Dual) -> Dual {
        Dual { value, by_a: slope * x.by_a, by_wall: slope * x.by_wall }
    }

    /// This less p q.
    #[inline(always)]
    fn less(self, p: Dual, q: Dual) -> Dual {
        Dual {
            value: self.value - p.value * q.value,
            by_a: self.by_a - p.by_a * q.value - p.value * q.by_a,
            by_wall: self.by_wall - p.by_wall * q.value - p.value * q.by_wall,
        }
    }
}

impl Mul<Dual> for f64 {
    type Output = Dual;
    #[inline(always)]
    fn mul(self, x: Dual) -> Dual {
        Dual { value: self * x.value, by_a: self * x.by_a, by_wall: self * x.by_wall }
    }
}

/// A velocity that follows the thread's mean velocity u: alpha u + beta, beta in proportion to the total flow.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Following {
    pub alpha: Dual,
    pub beta: Dual,
}

/// The closures at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Local {
    /// Velocity towards which the outer liquid pulls the thread, m/s (zero without a wall: liquid at rest).
    pub u_eq: Dual,
    /// Drag coefficient d (force per unit length = pi mu_o d (u_eq - u)).
    pub drag: Dual,
    /// Coefficient of the outer normal stress.
    pub c_e: Dual,
    /// u_r, velocity of the outer liquid against which the thread's radius changes (see [`extension`]).
    pub near: Following,
    /// u_s, velocity of the surface itself (see [`core_annular`]).
    pub surface: Following,
}

/// How far the outer liquid that a thread shears reaches: y_e = h^2/R_e^2 and its logarithm.
#[derive(Debug, Clone, Copy, Default)]
pub struct Sheared {
    pub y: Dual,
    pub ln_y: f64,
}

impl Outer {
    /// An outer liquid of viscosity `viscosity` about an inner one `viscosity_ratio` times as viscous.
    pub fn new(viscosity_ratio: f64, viscosity: f64, total_flow: f64) -> Self {
        Outer {
            viscosity_ratio,
            viscosity,
            total_flow,
            boundary_layer: None,
            inverse_ratio: 1.0 / viscosity_ratio,
            reach: drag::reach(viscosity_ratio),
            wall_share: extension::wall_share(viscosity_ratio),
        }
    }

    /// The same liquids with the outer viscosity times `drag` in what shears it and times `stress` in what stretches it.
    pub fn thinned(&self, drag: f64, stress: f64) -> Self {
        let ratio = self.viscosity_ratio / drag;
        let boundary_layer = self
            .boundary_layer
            .map(|layer| inertia::BoundaryLayer { outer_viscosity: drag * layer.outer_viscosity, ..layer });
        let wall_share = extension::wall_share(self.viscosity_ratio / stress);
        Outer { boundary_layer, wall_share, ..Outer::new(ratio, drag * self.viscosity, self.total_flow) }
    }

    /// Outer flow v' = C/r - k r about a thread of mean velocity `u` in the share `stream` of its stream, from its surface to where its
    /// shear ends: (C, k, that radius squared).
    pub fn shear_flow(&self, a: f64, envelope: Option<f64>, wall: Option<f64>, (u, stream): (f64, f64)) -> [f64; 3] {
        let (sheared, _) = drag::sheared_radius_squared(self.reach * envelope.unwrap_or(a.max(0.0).sqrt()), wall);
        let y_e = (a / sheared).min(SHARE_LIMIT);
        let ln_y = y_e.logarithm();
        let Some(wall) = wall else {
            let (c, _) = core_annular::slip_flow_unbounded(ln_y, self.viscosity_ratio);
            return [c * u, 0.0, sheared];
        };
        let square = wall * wall;
        let y = (a / square).min(SHARE_LIMIT);
        let axis = stream * 2.0 / PI * self.total_flow / square;
        let slip = u - axis * core_annular::equilibrium(y, self.inverse_ratio).mean;
        let (c, g) = core_annular::slip_flow(y_e, ln_y, self.viscosity_ratio);
        let base = axis / (1.0 + y * y * (self.inverse_ratio - 1.0));
        [c * slip, 2.0 * (base / square + g * slip / sheared), sheared]
    }

    /// The closures for a thread of cross-section pi `a`. `envelope` is the radius h_ref > h of a neighbour that is seen instead, held in
    /// the derivatives; without one the thread is its own, h_ref = h. Without `wall` the liquid is unbounded and at rest.
    #[inline(always)]
    pub fn local(&self, a: f64, envelope: Option<f64>, wall: Option<f64>) -> Local {
        self.at::<true>(a, wall, &self.sheared(a, envelope, wall))
    }

    /// What is sheared about a thread, as in [`Outer::local`].
    #[inline(always)]
    pub fn sheared(&self, a: f64, envelope: Option<f64>, wall: Option<f64>) -> Sheared {
        let h_ref = envelope.unwrap_or(a.max(0.0).sqrt());
        let (sheared, sheared_wall) = drag::sheared_radius_squared(self.reach * h_ref, wall);
        // R_e^2 is of second degree in R_w and h_ref together
        let sheared_a = match envelope {
            Some(_) => 0.0,
            None => (sheared - 0.5 * wall.unwrap_or(0.0) * sheared_wall) / a,
        };
        let free = if a < SHARE_LIMIT * sheared { 1.0 } else { 0.0 };
        let y = (a / sheared).min(SHARE_LIMIT);
        let y = Dual {
            value: y,
            by_a: free * (1.0 - y * sheared_a) / sheared,
            by_wall: -free * y * sheared_wall / sheared,
        };
        Sheared { y, ln_y: logarithm_in_line(y.value) }
    }

    /// The inner liquid's share of what resists shear at the surface.
    #[inline(always)]
    pub fn shear_share(&self, wall: Option<f64>, Sheared { y, ln_y }: &Sheared) -> Dual {
        let share = match wall {
            Some(_) => core_annular::sheared_share(y.value, *ln_y, self.viscosity_ratio),
            None => core_annular::following_unbounded(y.value, *ln_y, self.viscosity_ratio),
        };
        Dual::through(share, y)
    }

    /// The closures where what is sheared is known; only with `NARROW` may the gap be so ([`drag::is_narrow`]).
    #[inline(always)]
    pub fn at<const NARROW: bool>(&self, a: f64, wall: Option<f64>, Sheared { y: y_e, ln_y }: &Sheared) -> Local {
        let mut drag = Dual::through(drag::coefficient::<NARROW>(y_e.value, *ln_y, self.inverse_ratio), y_e);
        if let Some(layer) = &self.boundary_layer {
            drag = inertia::join(drag, layer.drag(a));
        }
        let following = match wall {
            Some(_) => core_annular::following(y_e.value, *ln_y, self.viscosity_ratio),
            None => core_annular::following_unbounded(y_e.value, *ln_y, self.viscosity_ratio),
        };
        let whole = Dual::through(following, y_e);
        let carried = Dual::through(extension::carried(following, y_e.value, *ln_y), y_e);
        let Some(wall) = wall else {
            let at_rest = |alpha| Following { alpha, ..Following::default() };
            let c_e = Dual { value: 1.0, ..Dual::default() };
            return Local { u_eq: Dual::default(), drag, c_e, near: at_rest(carried), surface: at_rest(whole) };
        };

        let inverse_wall = 1.0 / wall;
        let inverse_area = inverse_wall * inverse_wall;
        let free = if a < SHARE_LIMIT * wall * wall { 1.0 } else { 0.0 };
        let y = (a * inverse_area).min(SHARE_LIMIT);
        let y = Dual { value: y, by_a: free * inverse_area, by_wall: -2.0 * free * y * inverse_wall };
        let axis = 2.0 / PI * self.total_flow * inverse_area;
        let flow = core_annular::equilibrium(y.value, self.inverse_ratio);
        // U0 f(y), U0 as R_w^-2
        let velocity = |f: f64, f_y: f64| Dual {
            value: axis * f,
            by_a: axis * f_y * y.by_a,
            by_wall: axis * (f_y * y.by_wall - 2.0 * f * inverse_wall),
        };
        let (u_eq, interface) = (velocity(flow.mean, flow.mean_y), velocity(flow.interface, flow.interface_y));
        let near = (extension::BASE_SHARE.value * interface).less(carried, u_eq);
        Local {
            u_eq,
            drag,
            c_e: Dual::through(extension::coefficient(y.value, self.wall_share), &y),
            near: Following { alpha: carried, beta: near },
            surface: Following { alpha: whole, beta: interface.less(whole, u_eq) },
        }
    }
}
