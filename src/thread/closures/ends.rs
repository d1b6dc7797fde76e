//! Drag on a rounded end, and the wake behind the tip.
//!
//! Equation: a drop of radius r at rest in a stream feels `6 pi mu_o r HR K1 V`; spread over its length 2r this is a drag
//! coefficient `E = 3 HR K1` on the velocity V at which the drop would drift freely; `HR = (2/3 + lambda)/(1 + lambda)`,
//! `K1 = N1 [1 + (0.6 + 3.2 s) k^9]/D`, `V = S U0 N2/N1`, with s = lambda/(1 + lambda), r = 1 - s, k = r/R_w and
//! `N1 = 1 + 2.2757 k^5 (r - s)/(2r + 3s)`, `N2 = 1 - 2s k^2/(2r + 3s) + 0.60651 k^5 (r - s)/(2r + 3s)`,
//! `D = 1 - 0.7017 k (2r + 3s) + 2.0865 k^3 s + 0.5689 k^5 (2r - 3s) - 0.72603 k^6 (r - s)`.
//! On a body the end's force is spread as h^2 (so are the tractions on a sphere in Stokes flow: uniform force per volume).
//! Wake (share of the far axis velocity at distance z behind a tip of radius R):
//! `S = 1 - (1 + zeta/b)^(-1/3) exp(-4.466 zeta/R_w)`, `zeta = sqrt(z^2 + e^2) - e`, b = 0.455 R, e = 1.815 R/(1 + 3.4 (R/R_w)^4).
//! A thread takes S where it is; a drop of radius b and aspect phi takes S at [`sampled_at`] and [`elongated`] times the drag.
//!
//! Symbols: r drop radius (m), R_w wall radius (m), lambda = mu_i/mu_o, U0 axis velocity far from the tip (m/s).
//!
//! Source: Hadamard 1911 (C. R. Acad. Sci. 152, 1735), Rybczynski 1911; N1, N2, D: Haberman & Sayre 1958 (David Taylor
//! Model Basin report 1143), recalled from memory, confirmed by our own boundary-element table to 1 % for k <= 0.5; the factor
//! with k^9 is fitted to that table up to k = 0.8. Wake: our own boundary-element table of the stream behind a plugged
//! thin-walled tube (`validation/reference/behind_tip.py`). Elongation and place: our own table of the drag on spheres and
//! spheroids of five viscosity ratios held in a tube, alone and behind a tip (`validation/reference/stokes_bem/held.py`).
//! Three numbers of S are fitted to the stream, ten to the drag of held drops, none to the size of any drop or to its history.
//! A blunt tip has the wake of a thin one of its outside radius: R in S and in [`sampled_at`]'s L is the outside radius (our own tables of
//! stream and held drops behind tips of outside radius 1 to 3 bores, validation topic blunt_tip; fitted to them is the 3.4 in e alone).
//!
//! Holds for: no inertia outside, 1.5 R < R_w < 500 R, k < 0.8, viscosity ratio 0.1 to 10, aspect up to 2.5. Stream within
//! 0.036; drag on a held drop at gaps of 0.1 R and 0.3 R within 19 % (4.0 % rms over 960; low for stiff drops in a wide tube),
//! alone within 10 %. Slender drag integrated over a sphere gives only 0.4 of the exact drag: the size of a dripping drop
//! hangs on this closure.

use super::fitted::Fitted;
use crate::device::hole::DECAY;
use crate::math::{Pinned as _, cube_root_in_line, exponential_in_line};
use multiversion::multiversion;

/// Hadamard-Rybczynski factor: 2/3 for a bubble, 1 for a rigid sphere.
pub fn hadamard_rybczynski(viscosity_ratio: f64) -> f64 {
    (2.0 / 3.0 + viscosity_ratio) / (1.0 + viscosity_ratio)
}

const IN_A_TUBE: Fitted = Fitted {
    value: 0.6,
    from: "0.6 in K1",
    fitted_to: "drag of fluid spheres in a tube (own boundary elements)",
    range: "k up to 0.8, viscosity ratio 0.1 to 10",
};
/// What a close wall adds to K1: of any sphere, and more of a rigid one.
pub const NEAR_WALL: [Fitted; 2] = [IN_A_TUBE, Fitted { value: 3.2, from: "3.2 in K1", ..IN_A_TUBE }];

/// Confinement above which the wall factors are held: the table ends, and drops there are plugs.
const WALL_FACTOR_LIMIT: f64 = 0.8;

/// Wall factor K1 of a fluid sphere moving along the axis of a tube, and the velocity at which it drifts freely
/// in Poiseuille flow over the axis velocity; k = r/R_w.
pub fn sphere_in_tube(confinement: f64, viscosity_ratio: f64) -> (f64, f64) {
    let k = confinement.min(WALL_FACTOR_LIMIT);
    let s = viscosity_ratio / (1.0 + viscosity_ratio);
    let r = 1.0 - s;
    let (k2, k3) = (k * k, k * k * k);
    let (k5, k6) = (k2 * k3, k3 * k3);
    let mobile = 1.0 / (2.0 * r + 3.0 * s);
    let n1 = 1.0 + 2.2757 * k5 * (r - s) * mobile;
    let n2 = 1.0 - 2.0 * s * k2 * mobile + 0.60651 * k5 * (r - s) * mobile;
    let d = 1.0 - 0.7017 * k * (2.0 * r + 3.0 * s) + 2.0865 * k3 * s + 0.5689 * k5 * (2.0 * r - 3.0 * s)
        - 0.72603 * k6 * (r - s);
    (n1 / d * (1.0 + (NEAR_WALL[0].value + NEAR_WALL[1].value * s) * k6 * k3), n2 / n1)
}

/// Drag of a sphere over that without inertia, at Reynolds number `reynolds` (diameter, speed relative to the stream): rigid
/// (Schiller & Naumann 1933, Z. Ver. Deutsch. Ing. 77, 318, to 5 % up to 800) and with a freely mobile surface (Mei, Klausner &
/// Lawrence 1994, Phys. Fluids 6, 418: limits 1 + Re/8 and 3); both recalled. Runs do not use it: it tells what they leave out.
pub fn inertial(reynolds: f64) -> (f64, f64) {
    let re = reynolds.max(f64::MIN_POSITIVE);
    (1.0 + 0.15 * re.power(0.687), 1.0 + 1.0 / (8.0 / re + 0.5 * (1.0 + 3.315 / re.sqrt())))
}

/// A rounded end as the outer liquid sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoundEnd {
    /// Drag coefficient E (same meaning as d).
    pub drag: f64,
    /// Velocity at which it would drift freely, over the axis velocity there.
    pub drift: f64,
}

/// The rounded end of largest radius `radius`; `share` is the part of the free-drop drag that acts on it (1: all of it).
pub fn round_end(radius: f64, wall: Option<f64>, viscosity_ratio: f64, share: f64) -> RoundEnd {
    let (wall_factor, drift) = wall.map_or((1.0, 1.0), |wall| sphere_in_tube(radius / wall, viscosity_ratio));
    RoundEnd { drag: share * 3.0 * hadamard_rybczynski(viscosity_ratio) * wall_factor, drift }
}

const HELD: Fitted = Fitted {
    value: 1.05,
    from: "1.05 in c",
    fitted_to: "drag on spheres and spheroids held behind a thin tip (own boundary elements)",
    range: "R_w 3 to 500 tip radii, viscosity ratio 0.1 to 10, aspect up to 2.5",
};
/// The numbers of [`sampled_at`], in the order of its formula.
pub const FELT: [Fitted; 5] = [
    HELD,
    Fitted { value: 0.21, from: "0.21 L in c", ..HELD },
    Fitted { value: 0.24, from: "0.24 s in c", ..HELD },
    Fitted { value: 0.27, from: "0.27 L s in c", ..HELD },
    Fitted { value: 0.27, from: "0.27 (phi - 1)", ..HELD },
];

/// Where a drop held behind a tip feels the stream: its drag is that in the stream which is on the axis at
/// `near + c b (1 + 0.27 (phi - 1))`, `c = 1.05 + 0.21 L + (0.24 + 0.27 L) s`, L = ln(R_w/2R), at most at its far pole.
/// Lengths in any unit, `wall` in outside radii of the tip: `near` and `far` its poles, b its radius. A mobile surface feels more of the slow liquid near the
/// tip (s small), a narrow wall ends the slow stretch before the far pole is reached (L small).
pub fn sampled_at((near, far): (f64, f64), radius: f64, aspect: f64, wall: f64, viscosity_ratio: f64) -> f64 {
    let s = viscosity_ratio / (1.0 + viscosity_ratio);
    let wide = (0.5 * wall.clamp(FELT_RANGE.0, FELT_RANGE.1)).logarithm();
    let [at, at_wide, stiff, stiff_wide, long] = FELT.map(|number| number.value);
    let radii = at + at_wide * wide + (stiff + stiff_wide * wide) * s;
    (near + radii * radius * (1.0 + long * (aspect - 1.0))).min(far)
}

const SPHEROIDS: Fitted = Fitted {
    value: -0.14,
    from: "-0.14 in e",
    fitted_to: "drag on spheroids held in a tube (own boundary elements)",
    range: "k up to 0.8, viscosity ratio 0.1 to 10, aspect up to 2.5",
};
/// The numbers of [`elongated`], in the order of its formula.
pub const LONGER: [Fitted; 5] = [
    SPHEROIDS,
    Fitted { value: 1.20, from: "1.20 s in e", ..SPHEROIDS },
    Fitted { value: -0.92, from: "-0.92 s^2 in e", ..SPHEROIDS },
    Fitted { value: 0.45, from: "0.45 k in e", ..SPHEROIDS },
    Fitted { value: 0.55, from: "0.55 s k in e", ..SPHEROIDS },
];

/// Drag of a spheroidal drop of aspect phi over that of the sphere of its largest radius: 1 + e (phi - 1),
/// `e = -0.14 + 1.20 s - 0.92 s^2 + (0.45 + 0.55 s) k`: about 0.2 for an unconfined rigid body (the usual (4 + phi)/5), nothing for a
/// bubble, whose surface passes on no shear, and up to 0.8 in a narrow gap, where length counts for itself.
pub fn elongated(aspect: f64, confinement: f64, viscosity_ratio: f64) -> f64 {
    let s = viscosity_ratio / (1.0 + viscosity_ratio);
    let k = confinement.min(WALL_FACTOR_LIMIT);
    let [at, stiff, stiffer, narrow, stiff_narrow] = LONGER.map(|number| number.value);
    1.0 + (at + stiff * s + stiffer * s * s + (narrow + stiff_narrow * s) * k) * (aspect - 1.0)
}

/// Slender thread and rounded end together: drag coefficient and the velocity it pulls towards, with derivatives
/// with respect to the slender d and u_eq.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Joined {
    pub drag: f64,
    pub drag_d: f64,
    pub velocity: f64,
    pub velocity_d: f64,
    pub velocity_u: f64,
}

/// Mix a slender drag `d` towards `u_eq` with a rounded end's drag `end` towards `drift` (velocities in m/s): `weight` is 1
/// where the end is all there is and 0 outside it.
#[inline(always)]
pub fn mix(d: f64, u_eq: f64, end: f64, drift: f64, weight: f64) -> Joined {
    let slender = (1.0 - weight) * d;
    let drag = slender + weight * end;
    if drag <= 0.0 {
        return Joined { drag: 0.0, drag_d: 1.0 - weight, velocity: u_eq, velocity_d: 0.0, velocity_u: 1.0 };
    }
    let share = slender / drag;
    Joined {
        drag,
        drag_d: 1.0 - weight,
        velocity: drift + share * (u_eq - drift),
        velocity_d: (1.0 - weight) * (1.0 - share) / drag * (u_eq - drift),
        velocity_u: share,
    }
}

/// Lengths of the wake in tip radii.
pub const WAKE_CORE: Fitted = Fitted {
    value: 0.455,
    from: "b = 0.455 R",
    fitted_to: "stream behind a plugged thin-walled tube (own boundary elements)",
    range: "R_w 3 to 1000 tip radii",
};
pub const WAKE_MOUTH: Fitted = Fitted { value: 1.815, from: "1.815 R in e", ..WAKE_CORE };
/// Behind a wide tip the stream comes from a ring along the wall and has less far to go.
pub const WAKE_WIDE: Fitted = Fitted {
    value: 3.4,
    from: "3.4 (R/R_w)^4 in e",
    fitted_to: "stream behind blunt tips (own boundary elements)",
    range: "R_w 1.5 to 1000 tip radii",
};
/// The tables' range of R_w/R, stream and held drops; beyond it the nearest value holds.
const WAKE_RANGE: (f64, f64) = (1.5, 1000.0);
const FELT_RANGE: (f64, f64) = (3.0, 1000.0);
/// Decay above which nothing of the wake is left.
const WAKE_END: f64 = 30.0;

/// The wake behind a tip.
#[derive(Debug, Clone, Copy)]
pub struct Wake {
    /// Radius of the wall at the tip.
    pub wall: f64,
    inverse_tip: f64,
    mouth: f64,
    rate: f64,
}

impl Wake {
    /// Behind a tip of radius `tip_radius` in a tube of radius `wall`.
    pub fn new(tip_radius: f64, wall: f64) -> Wake {
        let radii = (wall / tip_radius).clamp(WAKE_RANGE.0, WAKE_RANGE.1);
        let square = radii * radii;
        let mouth = WAKE_MOUTH.value / (1.0 + WAKE_WIDE.value / (square * square));
        Wake { wall, inverse_tip: 1.0 / tip_radius, mouth, rate: DECAY / radii }
    }

    /// Share of the far axis velocity at distance z behind the tip, and its derivative with respect to z.
    #[inline(always)]
    pub fn at(&self, z: f64) -> (f64, f64) {
        let z = z * self.inverse_tip;
        let hypotenuse = (z * z + self.mouth * self.mouth).sqrt();
        let decay = self.rate * (hypotenuse - self.mouth);
        let core = WAKE_CORE.value + hypotenuse - self.mouth;
        let deficit = exponential_in_line(-decay) / cube_root_in_line(core * (1.0 / WAKE_CORE.value));
        let deficit_zeta = -deficit * (self.rate + 1.0 / (3.0 * core));
        let within = (1.0 - deficit, -deficit_zeta * z / hypotenuse * self.inverse_tip);
        if z <= 0.0 {
            (0.0, 0.0)
        } else if decay > WAKE_END {
            (1.0, 0.0)
        } else {
            within
        }
    }
}

/// The same at the middle of every cell between nodes at `z`.
#[multiversion(targets("x86_64+avx2"))]
pub fn wakes(wake: &Wake, z: &[f64], out: &mut [(f64, f64)]) {
    let n = out.len();
    let (low, high) = (&z[..n], &z[1..=n]);
    for j in 0..n {
        out[j] = wake.at(0.5 * (low[j] + high[j]));
    }
}
