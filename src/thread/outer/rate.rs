//! Rates at which a cell's section is stretched where the mean flow slips past what bounds it, and the outer normal stress on them.
//!
//! Equation: with u_b = alpha u + S beta a velocity that follows the mean one, u, in part,
//!   w = du/d + l,  l = g [(1 - alpha) (u_j + u_(j+1))/2 - S beta] a'/(a + a'^2/4)
//! over the cell between nodes j and j + 1. A stress N on such a rate dissipates pi a d N w, so that it pulls as
//!   T = pi a N on both nodes inward, and P = -d (dl/du_i) T on both nodes forward.
//! Outer normal stress: u_b = u_r, g = 1, N = mu_o c_E cos(t)^2 (w - b), cos(t)^2 = a/(a + a'^2/4).
//! Symbols: see [`super`]; g of [`super::lag`].
//! Source: the force is the slope of half the dissipation by the velocities, as it is for every linear law of Stokes flow (Lorentz' reciprocity:
//! elementary), so that what it takes from the thread is never less than nothing. Without P, and with the sides of the nodes' sections in
//! place of T (until 2026-11-30: pi a dN/dz), a stretch alpha u h_z of either sign could feed the thread. cos(t)^2 is ours: the law is that of a
//! slender thread (slopes below one), and at a pole without a drop-shaped end, where nothing resists w = 0, it would push the nose out into a
//! spike (drawn devices 20261129/10, 51, 82 and 20261130/25 ended so).
//! Holds for: see [`super`].

use super::cell::{CellTerms, Motion, NodeArea};
use super::response::ByShape;
use crate::thread::closures::Following;
use crate::thread::foot;
use std::f64::consts::PI;

/// g (u - u_b) of a cell and the share of u in it, each with its derivatives by the cell's squared radius and place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Slip {
    value: [f64; 3],
    share: [f64; 3],
}

impl Slip {
    /// Past `bound`, u_b, times g (value and slope by a); `mean` is u.
    #[inline(always)]
    pub fn new(terms: &CellTerms, bound: &Following, (g, g_a): (f64, f64), mean: f64) -> Slip {
        let (Following { alpha, beta }, (s, s_z)) = (bound, terms.wake);
        let alone = 1.0 - alpha.value;
        let slip = mean * alone - s * beta.value;
        let slip_z = -(mean * alpha.by_wall + s * beta.by_wall) * terms.flank - s_z * beta.value;
        Slip {
            value: [g * slip, g * (-mean * alpha.by_a - s * beta.by_a) + g_a * slip, g * slip_z],
            share: [g * alone, g_a * alone - g * alpha.by_a, -g * alpha.by_wall * terms.flank],
        }
    }
}

/// l and dl/du_i of a cell.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rate {
    pub value: f64,
    pub by_u: f64,
    slip: Slip,
}

/// What l and dl/du_i change by, through the slope a', the squared radius and the place.
pub(super) struct Changes {
    pub slope: [f64; 2],
    pub area: [f64; 2],
    pub place: [f64; 2],
}

impl Rate {
    #[inline(always)]
    pub fn new(slip: Slip, motion: &Motion) -> Rate {
        Rate { value: slip.value[0] * motion.flare, by_u: 0.5 * slip.share[0] * motion.flare, slip }
    }

    #[inline(always)]
    pub fn changes(&self, motion: &Motion) -> Changes {
        let Slip { value: [l, l_a, l_z], share: [u, u_a, u_z] } = self.slip;
        let (flare, [flare_slope, flare_a]) = (motion.flare, motion.flare_by());
        Changes {
            slope: [l * flare_slope, 0.5 * u * flare_slope],
            area: [l * flare_a + l_a * flare, 0.5 * (u * flare_a + u_a * flare)],
            place: [l_z * flare, 0.5 * u_z * flare],
        }
    }
}

/// Derivatives of a cell's tension or of the pull on both its nodes by a', by its squared radius, by its place, by its length at the same
/// velocities, slope and squared radius, and by f.
#[derive(Debug, Clone, Copy)]
pub(super) struct By {
    pub slope: f64,
    pub area: f64,
    pub place: f64,
    pub own: f64,
    pub foot: f64,
}

impl By {
    #[inline(always)]
    pub fn and(&self, other: &By) -> By {
        By {
            slope: self.slope + other.slope,
            area: self.area + other.area,
            place: self.place + other.place,
            own: self.own + other.own,
            foot: self.foot + other.foot,
        }
    }

    /// By lengths and volumes of the cells before, here and after.
    #[inline(always)]
    pub fn shape(
        &self,
        (d, a): (f64, f64),
        nodes: (&NodeArea, &NodeArea),
        motion: &Motion,
        steep: &foot::OfCell,
    ) -> ByShape {
        let inv_d = 1.0 / d;
        let slope = self.slope * inv_d;
        let through = |left: [f64; 2], right: [f64; 2], own: f64, foot: [f64; 3]| {
            [
                self.foot * foot[0] - slope * left[0],
                self.foot * foot[1] + slope * (right[0] - left[1]) + own,
                self.foot * foot[2] + slope * right[1],
            ]
        };
        let length = self.own - slope * motion.slope - self.area * a * inv_d;
        ByShape {
            length: through(nodes.0.by_length, nodes.1.by_length, length, steep.by_length),
            volume: through(nodes.0.by_volume, nodes.1.by_volume, self.area * inv_d / PI, steep.by_volume),
            place: self.place,
        }
    }
}

/// The outer liquid's normal stress on one cell.
#[derive(Debug, Clone, Copy)]
pub(super) struct Normal {
    /// pi mu_o c_E a cos(t)^2.
    stiffness: f64,
    /// w - b.
    pub beyond: f64,
    rate: Rate,
    d: f64,
}

impl Normal {
    #[inline(always)]
    pub fn new(terms: &CellTerms, mu: f64, (d, a): (f64, f64), motion: &Motion) -> Normal {
        let rate = Rate::new(Slip::new(terms, &terms.local.near, (1.0, 0.0), motion.mean), motion);
        let beyond = motion.stretch + rate.value - terms.stretch.rate;
        Normal { stiffness: PI * mu * terms.local.c_e.value * a * motion.slender()[0], beyond, rate, d }
    }

    /// The cell's tension and the pull on both its nodes.
    #[inline(always)]
    pub fn forces(&self) -> [f64; 2] {
        let tension = self.stiffness * self.beyond;
        [tension, -self.d * self.rate.by_u * tension]
    }

    /// Derivatives of the forces on the two nodes by the two velocities: lower by lower, lower by upper, ...
    #[inline(always)]
    pub fn by_velocity(&self) -> [f64; 4] {
        let inv_d = 1.0 / self.d;
        let (lower, upper) = (self.rate.by_u - inv_d, self.rate.by_u + inv_d);
        let stiff = -self.d * self.stiffness;
        [stiff * lower * lower, stiff * lower * upper, stiff * lower * upper, stiff * upper * upper]
    }

    /// Derivatives of tension and pull by the shape.
    #[inline(always)]
    pub fn by_shape(&self, terms: &CellTerms, mu: f64, a: f64, motion: &Motion) -> [By; 2] {
        let (c_e, b, changes) = (&terms.local.c_e, &terms.stretch, self.rate.changes(motion));
        let tension = self.stiffness * self.beyond;
        let [slender, slender_slope, slender_a] = motion.slender();
        let stiffer_slope = PI * mu * c_e.value * a * slender_slope;
        let stiffer_a = PI * mu * ((c_e.value + a * c_e.by_a) * slender + c_e.value * a * slender_a);
        let stiffer_z = PI * mu * a * c_e.by_wall * terms.flank * slender;
        let of_tension = By {
            slope: self.stiffness * changes.slope[0] + stiffer_slope * self.beyond,
            area: self.stiffness * (changes.area[0] - b.by_a) + stiffer_a * self.beyond,
            place: self.stiffness * (changes.place[0] - b.by_z) + stiffer_z * self.beyond,
            own: -self.stiffness * motion.stretch / self.d,
            foot: 0.0,
        };
        let (d, by_u) = (self.d, self.rate.by_u);
        let pull = |of_tension: f64, by: f64| -d * (by_u * of_tension + by * tension);
        let of_pull = By {
            slope: pull(of_tension.slope, changes.slope[1]),
            area: pull(of_tension.area, changes.area[1]),
            place: pull(of_tension.place, changes.place[1]),
            own: pull(of_tension.own, 0.0) - by_u * tension,
            foot: 0.0,
        };
        [of_tension, of_pull]
    }
}
