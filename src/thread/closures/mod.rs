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

use crate::math::Pinned as _;
use std::f64::consts::PI;

/// Confinement y = x^2 above which the closures are held constant, so that a trial step never divides by zero (x = 0.995).
const CONFINEMENT_LIMIT: f64 = 0.990025;

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

/// The closures at one place, with derivatives: `_a` with respect to a = h^2, `_wall` to R_w, at fixed h_ref and Q_T.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Local {
    /// Velocity towards which the outer liquid pulls the thread, m/s (zero without a wall: liquid at rest).
    pub u_eq: f64,
    pub u_eq_a: f64,
    pub u_eq_wall: f64,
    /// Drag coefficient d (force per unit length = pi mu_o d (u_eq - u)).
    pub drag: f64,
    pub drag_a: f64,
    pub drag_wall: f64,
    /// Coefficient of the outer normal stress.
    pub c_e: f64,
    pub c_e_a: f64,
    pub c_e_wall: f64,
    /// Velocity of the outer liquid against which the thread's radius changes, u_r = alpha u + beta (see [`extension`]).
    pub slip_alpha: f64,
    pub slip_alpha_a: f64,
    pub slip_alpha_wall: f64,
    /// m/s; proportional to the total flow, as u_eq is.
    pub slip_beta: f64,
    pub slip_beta_a: f64,
    pub slip_beta_wall: f64,
    /// Velocity of the surface itself, u_s = alpha u + beta (see [`core_annular`]).
    pub surface_alpha: f64,
    pub surface_alpha_a: f64,
    pub surface_alpha_wall: f64,
    pub surface_beta: f64,
    pub surface_beta_a: f64,
    pub surface_beta_wall: f64,
}

/// How far the outer liquid that a thread shears reaches: y_e = h^2/R_e^2, its logarithm, and its derivatives by a = h^2 and by the wall's
/// radius.
#[derive(Debug, Clone, Copy, Default)]
pub struct Sheared {
    pub y: f64,
    pub ln_y: f64,
    pub y_a: f64,
    pub y_wall: f64,
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
    pub fn shear_flow(&self, a: f64, reference_radius: f64, wall: Option<f64>, (u, stream): (f64, f64)) -> [f64; 3] {
        let (sheared, _) = drag::sheared_radius_squared(self.reach * reference_radius, wall);
        let y_e = (a / sheared).min(CONFINEMENT_LIMIT);
        let ln_y = y_e.logarithm();
        let Some(wall) = wall else {
            let (c, _) = core_annular::slip_flow_unbounded(ln_y, self.viscosity_ratio);
            return [c * u, 0.0, sheared];
        };
        let square = wall * wall;
        let y = (a / square).min(CONFINEMENT_LIMIT);
        let axis = stream * 2.0 / PI * self.total_flow / square;
        let slip = u - axis * core_annular::equilibrium(y, self.inverse_ratio).mean;
        let (c, g) = core_annular::slip_flow(y_e, ln_y, self.viscosity_ratio);
        let base = axis / (1.0 + y * y * (self.inverse_ratio - 1.0));
        [c * slip, 2.0 * (base / square + g * slip / sheared), sheared]
    }

    /// The closures for a thread of cross-section pi `a`; `reference_radius` is the envelope radius h_ref >= h;
    /// without `wall` the liquid is unbounded and at rest.
    #[inline(always)]
    pub fn local(&self, a: f64, reference_radius: f64, wall: Option<f64>) -> Local {
        self.at(a, wall, &self.sheared(a, reference_radius, wall, false))
    }

    /// The same where the thread is its own envelope, h_ref = h: `_a` is then the derivative along both.
    #[inline(always)]
    pub fn alone(&self, a: f64, wall: Option<f64>) -> Local {
        self.at(a, wall, &self.sheared(a, a.max(0.0).sqrt(), wall, true))
    }

    /// What is sheared about a thread of cross-section pi `a`, as in [`Outer::local`], and where `alone` as in [`Outer::alone`].
    #[inline(always)]
    pub fn sheared(&self, a: f64, reference_radius: f64, wall: Option<f64>, alone: bool) -> Sheared {
        let (sheared, sheared_wall) = drag::sheared_radius_squared(self.reach * reference_radius, wall);
        let free = if a < CONFINEMENT_LIMIT * sheared { 1.0 } else { 0.0 };
        let y = (a / sheared).min(CONFINEMENT_LIMIT);
        // R_e^2 is of second degree in R_w and h_ref together
        let sheared_a = if alone { (sheared - 0.5 * wall.unwrap_or(0.0) * sheared_wall) / a } else { 0.0 };
        Sheared {
            y,
            ln_y: y.logarithm(),
            y_a: free * (1.0 - y * sheared_a) / sheared,
            y_wall: -free * y * sheared_wall / sheared,
        }
    }

    /// The inner liquid's share of what resists shear at the surface, with its derivatives by a and by the wall's radius.
    #[inline(always)]
    pub fn shear_share(&self, wall: Option<f64>, sheared: &Sheared) -> [f64; 3] {
        let (y, ln_y, ratio) = (sheared.y, sheared.ln_y, self.viscosity_ratio);
        let (share, share_y) = match wall {
            Some(_) => core_annular::sheared_share(y, ln_y, ratio),
            None => core_annular::following_unbounded(y, ln_y, ratio),
        };
        [share, share_y * sheared.y_a, share_y * sheared.y_wall]
    }

    /// The closures where what is sheared is known.
    #[inline(always)]
    pub fn at(&self, a: f64, wall: Option<f64>, sheared: &Sheared) -> Local {
        let Sheared { y: y_e, ln_y, y_a: y_e_a, y_wall: y_e_wall } = *sheared;

        let (drag, drag_y) = drag::coefficient(y_e, ln_y, self.inverse_ratio);
        let (mut drag, mut drag_a, mut drag_wall) = (drag, drag_y * y_e_a, drag_y * y_e_wall);
        if let Some(layer) = &self.boundary_layer {
            let limit = layer.drag(a);
            drag_wall = inertia::join((drag, drag_wall), (limit.0, 0.0)).1;
            (drag, drag_a) = inertia::join((drag, drag_a), limit);
        }
        let Some(wall) = wall else {
            let following = core_annular::following_unbounded(y_e, ln_y, self.viscosity_ratio);
            let (alpha, alpha_y) = extension::carried(following, y_e, ln_y);
            return Local {
                drag,
                drag_a,
                drag_wall,
                slip_alpha: alpha,
                slip_alpha_a: alpha_y * y_e_a,
                surface_alpha: following.0,
                surface_alpha_a: following.1 * y_e_a,
                ..Local::AT_REST
            };
        };

        let inverse_wall = 1.0 / wall;
        let inverse_area = inverse_wall * inverse_wall;
        let free = if a < CONFINEMENT_LIMIT * wall * wall { 1.0 } else { 0.0 };
        let y = (a * inverse_area).min(CONFINEMENT_LIMIT);
        let (y_a, y_wall) = (free * inverse_area, -2.0 * free * y * inverse_wall);
        let axis = 2.0 / PI * self.total_flow * inverse_area;
        let flow = core_annular::equilibrium(y, self.inverse_ratio);
        let (u_eq, u_eq_a) = (axis * flow.mean, axis * flow.mean_y * y_a);
        let u_eq_wall = axis * (flow.mean_y * y_wall - 2.0 * flow.mean * inverse_wall);
        let following = core_annular::following(y_e, ln_y, self.viscosity_ratio);
        let (alpha, alpha_y) = extension::carried(following, y_e, ln_y);
        let share = extension::BASE_SHARE.value;
        let (alpha_a, alpha_wall) = (alpha_y * y_e_a, alpha_y * y_e_wall);
        let (whole, whole_a, whole_wall) = (following.0, following.1 * y_e_a, following.1 * y_e_wall);
        let (surface, surface_a) = (axis * flow.interface, axis * flow.interface_y * y_a);
        let surface_wall = axis * (flow.interface_y * y_wall - 2.0 * flow.interface * inverse_wall);
        let (c_e, c_e_y) = extension::coefficient(y, self.wall_share);
        Local {
            u_eq,
            u_eq_a,
            u_eq_wall,
            drag,
            drag_a,
            drag_wall,
            c_e,
            c_e_a: c_e_y * y_a,
            c_e_wall: c_e_y * y_wall,
            slip_alpha: alpha,
            slip_alpha_a: alpha_a,
            slip_alpha_wall: alpha_wall,
            slip_beta: share * surface - alpha * u_eq,
            slip_beta_a: share * surface_a - alpha_a * u_eq - alpha * u_eq_a,
            slip_beta_wall: share * surface_wall - alpha_wall * u_eq - alpha * u_eq_wall,
            surface_alpha: whole,
            surface_alpha_a: whole_a,
            surface_alpha_wall: whole_wall,
            surface_beta: surface - whole * u_eq,
            surface_beta_a: surface_a - whole_a * u_eq - whole * u_eq_a,
            surface_beta_wall: surface_wall - whole_wall * u_eq - whole * u_eq_wall,
        }
    }
}

impl Local {
    /// Unbounded liquid at rest, before drag and slip are filled in: c_E = 1, everything else zero.
    const AT_REST: Local = Local {
        u_eq: 0.0,
        u_eq_a: 0.0,
        u_eq_wall: 0.0,
        drag: 0.0,
        drag_a: 0.0,
        drag_wall: 0.0,
        c_e: 1.0,
        c_e_a: 0.0,
        c_e_wall: 0.0,
        slip_alpha: 0.0,
        slip_alpha_a: 0.0,
        slip_alpha_wall: 0.0,
        slip_beta: 0.0,
        slip_beta_a: 0.0,
        slip_beta_wall: 0.0,
        surface_alpha: 0.0,
        surface_alpha_a: 0.0,
        surface_alpha_wall: 0.0,
        surface_beta: 0.0,
        surface_beta_a: 0.0,
        surface_beta_wall: 0.0,
    };
}
