//! Dissipation of a liquid at rest on the glass, between a surface and the glass, by rays.
//!
//! Equation: between the surface X(s) and the glass G(s) lie the rays x = X + tau (G - X),
//!   tau = (e^(L xi) - 1)/(e^L - 1),   L = ln(1 + |G - X|/b),   xi from 0 to 1;
//! the stream function (u_z = psi_r/r, u_r = -psi_z/r) is
//!   psi = f_0 psi_0(s) + f_1 psi_1(s) + sum_j b_j c_j(s),
//!   f_0 = (1 - xi)^2 (1 + 2 xi),   f_1 = xi (1 - xi)^2,   b_j = xi^2 (1 - xi)^2 P_j(2 xi - 1)
//! with cubic splines in s that are 0 at their ends, and
//!   2 int e:e dV = int [4 (E + H/2)^2 + 3 H^2 + S^2] dV,
//!   E = u_z,z = psi_zr/r,  H = u_r/r = -psi_z/r^2,  S = u_z,r + u_r,z = (psi_rr - psi_r/r - psi_zz)/r
//! is a quadratic form in the splines' coefficients, least over the c_j (`least`). The z of a ray of bend k goes with
//! tau + k (tau^2 - tau).
//! Symbols: lengths in R, s the number of the ray, b the scale of the surface, P_j Legendre's polynomials,
//! psi_1 = psi_xi at the surface.
//! Source: Helmholtz 1868 (least dissipation of a creeping flow with given velocities at its bounds; recalled); the
//! rays and profiles are ours. Two Gauss points an interval of s and eight of xi: within 0.2 % of the integral.
//! Holds for: a liquid about a body of revolution; from above the exact dissipation, 0.1 to 0.5 % for a surface that
//! deforms, up to 10 % for a sphere that moves (`tests`). Where rays cross the Jacobian is held at a twentieth of the
//! product of both directions, and the share of such places told.

use super::splines::{LANES, Lanes, Side, b_splines, hermite, slopes_of_lanes};
use crate::math::{Pinned, exponential_in_line};
use multiversion::multiversion;
use std::f64::consts::PI;

/// Profiles of a ray: f_0, f_1, b_0, b_1.
pub const KINDS: usize = 4;
/// Gauss-Legendre, eight points, from the middle out (Abramowitz & Stegun 1964, table 25.4; recalled).
const GAUSS: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362_0),
    (0.525_532_409_916_329_0, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_5),
    (0.960_289_856_497_536_3, 0.101_228_536_290_376_3),
];
/// Least Jacobian over the product of both directions' lengths.
const LEAST_JACOBIAN: f64 = 0.05;
/// Least L: a surface that lies on the glass.
const LEAST_LOGARITHM: f64 = 1e-4;
/// Squares of which the dissipation is the sum.
const SQUARES: usize = 3;

/// Pairs of the kinds, in a row.
pub type Block = [f64; KINDS * KINDS];

/// What a line of rays ends at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edge {
    /// The axis.
    Pole,
    /// Glass that the ray lies along.
    Wall,
    /// A plane of symmetry across the axis.
    Plane,
}

impl Edge {
    /// Parity of z and r.
    fn sides(self) -> [Side; 2] {
        match self {
            Edge::Pole => [Side::Even, Side::Odd],
            Edge::Wall => [Side::Free, Side::Free],
            Edge::Plane => [Side::Odd, Side::Even],
        }
    }

    /// Parity of the stream function.
    fn of_stream(self) -> Side {
        if self == Edge::Plane { Side::Odd } else { Side::Even }
    }
}

/// Rays from a surface to the glass.
#[derive(Debug, Clone, Default)]
pub struct Lines {
    /// z and r of their ends on the surface and on the glass.
    pub surface: [Vec<f64>; 2],
    pub glass: [Vec<f64>; 2],
    /// Scale of the surface and bend of the rays.
    pub scale: Vec<f64>,
    pub bend: Vec<f64>,
}

/// Products of the profiles' value f, first and second derivative f', f'' at each Gauss point, the first factor's kind
/// by rows.
#[derive(Debug, Clone)]
struct Profiles {
    f_f: [Block; LANES],
    f1_f: [Block; LANES],
    /// f f' + f' f.
    f_f1: [Block; LANES],
    f1_f1: [Block; LANES],
    f2_f: [Block; LANES],
    f2_f1: [Block; LANES],
    /// f' f'' + f'' f'.
    f1_f2: [Block; LANES],
    f2_f2: [Block; LANES],
    xi: Lanes,
    weight: Lanes,
}

fn profiles() -> Profiles {
    let at = |p: usize| {
        let (x, w) = if p < 4 { GAUSS[3 - p] } else { GAUSS[p - 4] };
        (0.5 * (1.0 + if p < 4 { -x } else { x }), 0.5 * w)
    };
    let (xi, weight): (Lanes, Lanes) = (std::array::from_fn(|p| at(p).0), std::array::from_fn(|p| at(p).1));
    let mut by = [[[0.0; KINDS]; LANES]; 3];
    for (p, x) in xi.into_iter().enumerate() {
        let (rest, odd) = (1.0 - x, 2.0 * x - 1.0);
        let bubble = [x * x * rest * rest, 2.0 * x - 6.0 * x * x + 4.0 * x * x * x, 2.0 - 12.0 * x + 12.0 * x * x];
        by[0][p] = [rest * rest * (1.0 + 2.0 * x), x * rest * rest, bubble[0], odd * bubble[0]];
        by[1][p] = [6.0 * (x * x - x), 1.0 - 4.0 * x + 3.0 * x * x, bubble[1], 2.0 * bubble[0] + odd * bubble[1]];
        by[2][p] = [12.0 * x - 6.0, 6.0 * x - 4.0, bubble[2], 4.0 * bubble[1] + odd * bubble[2]];
    }
    let product = |a: usize, b: usize, l: usize, x: usize| by[a][l][x / KINDS] * by[b][l][x % KINDS];
    let one = |a, b| std::array::from_fn(|l| std::array::from_fn(|x| product(a, b, l, x)));
    let both = |a, b| std::array::from_fn(|l| std::array::from_fn(|x| product(a, b, l, x) + product(b, a, l, x)));
    Profiles {
        f_f: one(0, 0),
        f1_f: one(1, 0),
        f_f1: both(0, 1),
        f1_f1: one(1, 1),
        f2_f: one(2, 0),
        f2_f1: one(2, 1),
        f1_f2: both(1, 2),
        f2_f2: one(2, 2),
        xi,
        weight,
    }
}

/// B-splines of the stream function at one place of an interval; those of an odd end are taken together.
fn stream_splines(m: usize, i: usize, t: f64, ends: [Edge; 2]) -> [[f64; 4]; 3] {
    let mut found = b_splines(m, i, t);
    for v in &mut found {
        // c_2 = 3 c_1 and c_0 = 0 make value and second derivative vanish; the second spline stands for both
        if ends[0].of_stream() == Side::Odd && i < 3 {
            v[2 - i] = 3.0 * v[2 - i] + if i < 2 { v[1 - i] } else { 0.0 };
        }
        let from_last = m - 1 - i;
        if ends[1].of_stream() == Side::Odd && from_last < 3 {
            v[1 + from_last] = 3.0 * v[1 + from_last] + if from_last < 2 { v[2 + from_last] } else { 0.0 };
        }
    }
    found
}

/// Quadratic form of the dissipation in the coefficients of the splines, by blocks: block `[i][d]` joins splines i and
/// i + d.
#[derive(Debug, Clone)]
pub struct Operator {
    profiles: Profiles,
    /// What the tables below are made for.
    made_for: Option<(usize, [Edge; 2])>,
    /// B-splines at the two Gauss points of each interval.
    splines: Vec<[[[f64; 4]; 3]; 2]>,
    /// Values of the splines at the inner rays: of the one before, the own, the one after.
    pub at_rays: Vec<[f64; 3]>,
    /// z, r each on the surface's side, by xi, by xi twice, then their slopes by s.
    fields: [Vec<Lanes>; 6],
    by_s: [Vec<Lanes>; 6],
    upper: Vec<f64>,
    pub blocks: Vec<[Block; 4]>,
    /// Share of the places where rays cross.
    pub crossed: f64,
    /// Per ray: direction at the surface, and length of what xi = 1 would be at the slope there.
    pub direction: [Vec<f64>; 2],
    pub stretch: Vec<f64>,
}

impl Default for Operator {
    fn default() -> Operator {
        Operator {
            profiles: profiles(),
            made_for: None,
            splines: Vec::new(),
            at_rays: Vec::new(),
            fields: Default::default(),
            by_s: Default::default(),
            upper: Vec::new(),
            blocks: Vec::new(),
            crossed: 0.0,
            direction: Default::default(),
            stretch: Vec::new(),
        }
    }
}

impl Operator {
    fn prepare(&mut self, m: usize, ends: [Edge; 2]) {
        if self.made_for == Some((m, ends)) {
            return;
        }
        self.made_for = Some((m, ends));
        let gauss = [0.5 - 0.5 / 3.0f64.sqrt(), 0.5 + 0.5 / 3.0f64.sqrt()];
        self.splines.clear();
        self.splines.extend((0..m).map(|i| gauss.map(|t| stream_splines(m, i, t, ends))));
        self.at_rays.clear();
        self.at_rays.extend((1..m).map(|i| {
            let [a, b, c, _] = stream_splines(m, i, 0.0, ends)[0];
            [a, b, c]
        }));
        for field in self.fields.iter_mut().chain(&mut self.by_s) {
            field.resize(m + 1, [0.0; LANES]);
        }
        self.upper.resize(m + 1, 0.0);
        self.blocks.resize(m - 1, [[0.0; KINDS * KINDS]; 4]);
        self.stretch.resize(m + 1, 0.0);
        self.direction.iter_mut().for_each(|d| d.resize(m + 1, 0.0));
    }

    /// The form of `lines`; `m` intervals between the rays, 8 at least.
    pub fn form(&mut self, lines: &Lines, ends: [Edge; 2]) {
        let m = lines.scale.len() - 1;
        self.prepare(m, ends);
        for i in 0..=m {
            self.lay(i, lines);
        }
        for (c, (first, last)) in ends[0].sides().into_iter().zip(ends[1].sides()).enumerate() {
            for (y, s) in self.fields.iter().zip(&mut self.by_s).skip(3 * c).take(3) {
                slopes(y, first, last, s, &mut self.upper);
            }
        }
        for block in &mut self.blocks {
            *block = [[0.0; KINDS * KINDS]; 4];
        }
        let mut crossed = 0;
        let at = [0.5 - 0.5 / 3.0f64.sqrt(), 0.5 + 0.5 / 3.0f64.sqrt()].map(hermite);
        for i in 0..m {
            let mut cell = [[0.0; KINDS * KINDS]; 10];
            let data: [[&Lanes; 4]; 6] = std::array::from_fn(|k| {
                let (y, s) = (&self.fields[k], &self.by_s[k]);
                [&y[i], &s[i], &y[i + 1], &s[i + 1]]
            });
            for (hermite, splines) in at.iter().zip(&self.splines[i]) {
                crossed += point(&self.profiles, data, hermite, splines, &mut cell);
            }
            let mut pair = 0;
            for j in 0..4 {
                for k in j..4 {
                    // splines i + j and i + k of m + 3, of which two at either end are not free
                    if i + j >= 2 && i + k <= m {
                        let into = &mut self.blocks[i + j - 2][k - j];
                        into.iter_mut().zip(&cell[pair]).for_each(|(a, b)| *a += b);
                    }
                    pair += 1;
                }
            }
        }
        self.crossed = f64::from(crossed) / (2 * m * LANES) as f64;
    }

    /// Places of ray `i`, at the Gauss points.
    fn lay(&mut self, i: usize, lines: &Lines) {
        let surface = [lines.surface[0][i], lines.surface[1][i]];
        let far = [lines.glass[0][i] - surface[0], lines.glass[1][i] - surface[1]];
        let away = (far[0] * far[0] + far[1] * far[1]).sqrt();
        let log = (away / lines.scale[i]).logarithm_of_one_more().max(LEAST_LOGARITHM);
        let bend = lines.bend[i];
        let below = 1.0 / log.exponential_less_one();
        for (l, xi) in self.profiles.xi.iter().enumerate() {
            let grown = exponential_in_line(log * xi);
            let (t, t1, t2) = ((grown - 1.0) * below, grown * below * log, grown * below * log * log);
            let curved = 1.0 + bend * (2.0 * t - 1.0);
            self.fields[0][i][l] = surface[0] + (t + bend * (t * t - t)) * far[0];
            self.fields[1][i][l] = t1 * curved * far[0];
            self.fields[2][i][l] = (t2 * curved + 2.0 * bend * t1 * t1) * far[0];
            self.fields[3][i][l] = surface[1] + t * far[1];
            self.fields[4][i][l] = t1 * far[1];
            self.fields[5][i][l] = t2 * far[1];
        }
        let ray = [far[0] * (1.0 - bend), far[1]];
        let length = (ray[0] * ray[0] + ray[1] * ray[1]).sqrt().max(f64::MIN_POSITIVE);
        (self.direction[0][i], self.direction[1][i]) = (ray[0] / length, ray[1] / length);
        self.stretch[i] = length * log * below;
    }
}

/// Add the blocks of all points by their weights.
#[inline(always)]
fn add_sum(weights: &Lanes, blocks: &[Block; LANES], sum: &mut Block) {
    let mut total = *sum;
    for l in 0..LANES {
        for x in 0..KINDS * KINDS {
            total[x] += weights[l] * blocks[l][x];
        }
    }
    *sum = total;
}

#[multiversion(targets("x86_64+avx2"))]
fn slopes(y: &[Lanes], first: Side, last: Side, s: &mut [Lanes], upper: &mut [f64]) {
    slopes_of_lanes(y, first, last, s, upper);
}

/// Adds the squares at one place of s, all points of its ray, to the pairs of the four splines there; how many of the
/// points rays cross at.
#[multiversion(targets("x86_64+avx2"))]
fn point(
    profiles: &Profiles,
    data: [[&Lanes; 4]; 6],
    hermite: &[[f64; 4]; 3],
    splines: &[[f64; 4]; 3],
    cell: &mut [Block; 10],
) -> u32 {
    // places and their derivatives by s and xi
    let along = |k: usize, derivative: usize| -> Lanes {
        let ([a, b, c, d], [ca, cb, cc, cd]) = (data[k], hermite[derivative]);
        let mut out = [0.0; LANES];
        for l in 0..LANES {
            out[l] = ca * a[l] + cb * b[l] + cc * c[l] + cd * d[l];
        }
        out
    };
    let (z_s, z_ss, z_x, z_sx, z_xx) = (along(0, 1), along(0, 2), along(1, 0), along(1, 1), along(2, 0));
    let (r, r_s, r_ss) = (along(3, 0), along(3, 1), along(3, 2));
    let (r_x, r_sx, r_xx) = (along(4, 0), along(4, 1), along(5, 0));
    let surface_s = (z_s[0] * z_s[0] + r_s[0] * r_s[0]).sqrt();
    // squares as combinations of psi's derivatives by s, xi, s s, s xi, xi xi
    let mut of = [[[0.0; LANES]; 5]; SQUARES];
    let mut held = [0.0; LANES];
    for l in 0..LANES {
        let least = LEAST_JACOBIAN * surface_s * (z_x[l] * z_x[l] + r_x[l] * r_x[l]).sqrt();
        let found = z_s[l] * r_x[l] - z_x[l] * r_s[l];
        held[l] = if found < least { 1.0 } else { 0.0 };
        let jacobian = if found < least { least } else { found };
        let (below, inverse) = (1.0 / jacobian, 1.0 / r[l]);
        let (s_z, s_r, x_z, x_r) = (r_x[l] * below, -z_x[l] * below, -r_s[l] * below, z_s[l] * below);
        let root = (PI * r[l] * jacobian * profiles.weight[l]).sqrt();
        // psi_ab = (ss, sx, xx) of psi's second less what the places' second derivatives bring
        let second = |ss: f64, sx: f64, xx: f64| {
            let by_z = ss * z_ss[l] + sx * z_sx[l] + xx * z_xx[l];
            let by_r = ss * r_ss[l] + sx * r_sx[l] + xx * r_xx[l];
            [-by_z * s_z - by_r * s_r, -by_z * x_z - by_r * x_r, ss, sx, xx]
        };
        let zr = second(s_z * s_r, s_z * x_r + x_z * s_r, x_z * x_r);
        // psi_rr - psi_zz at once
        let both = second(s_r * s_r - s_z * s_z, 2.0 * (s_r * x_r - s_z * x_z), x_r * x_r - x_z * x_z);
        let (scaled, hoop) = (root * inverse, -root * inverse * inverse);
        let (d_z, d_r) = ([s_z, x_z, 0.0, 0.0, 0.0], [s_r, x_r, 0.0, 0.0, 0.0]);
        for k in 0..5 {
            of[0][k][l] = 2.0 * scaled * zr[k] + hoop * d_z[k];
            of[1][k][l] = ROOT_3 * hoop * d_z[k];
            of[2][k][l] = scaled * (both[k] - inverse * d_r[k]);
        }
    }
    // products of those combinations, summed over the squares
    let square = |a: usize, b: usize| {
        let mut out = [0.0; LANES];
        for of in &of {
            for l in 0..LANES {
                out[l] += of[a][l] * of[b][l];
            }
        }
        out
    };
    // sums over the ray of pairs of kinds, by the splines' derivative and derivative: the value goes with psi's by xi
    // and xi xi, the first derivative with those by s and s xi, the second with that by s s
    let p = profiles;
    let mut sums = [[[0.0; KINDS * KINDS]; 3]; 3];
    add_sum(&square(1, 1), &p.f1_f1, &mut sums[0][0]);
    add_sum(&square(1, 4), &p.f1_f2, &mut sums[0][0]);
    add_sum(&square(4, 4), &p.f2_f2, &mut sums[0][0]);
    add_sum(&square(1, 0), &p.f1_f, &mut sums[0][1]);
    add_sum(&square(1, 3), &p.f1_f1, &mut sums[0][1]);
    add_sum(&square(4, 0), &p.f2_f, &mut sums[0][1]);
    add_sum(&square(4, 3), &p.f2_f1, &mut sums[0][1]);
    add_sum(&square(1, 2), &p.f1_f, &mut sums[0][2]);
    add_sum(&square(4, 2), &p.f2_f, &mut sums[0][2]);
    add_sum(&square(0, 0), &p.f_f, &mut sums[1][1]);
    add_sum(&square(0, 3), &p.f_f1, &mut sums[1][1]);
    add_sum(&square(3, 3), &p.f1_f1, &mut sums[1][1]);
    add_sum(&square(0, 2), &p.f_f, &mut sums[1][2]);
    add_sum(&square(3, 2), &p.f1_f, &mut sums[1][2]);
    add_sum(&square(2, 2), &p.f_f, &mut sums[2][2]);
    for (d, e) in [(0, 1), (0, 2), (1, 2)] {
        let sum = sums[d][e];
        for p in 0..KINDS {
            for q in 0..KINDS {
                sums[e][d][q * KINDS + p] = sum[p * KINDS + q];
            }
        }
    }
    let mut pair = 0;
    for j in 0..4 {
        let mut half = [[0.0; KINDS * KINDS]; 3];
        for (e, half) in half.iter_mut().enumerate() {
            let [v, d, dd] = [splines[0][j], splines[1][j], splines[2][j]];
            let [by_v, by_d, by_dd] = [&sums[0][e], &sums[1][e], &sums[2][e]];
            for x in 0..KINDS * KINDS {
                half[x] = v * by_v[x] + d * by_d[x] + dd * by_dd[x];
            }
        }
        for ((v, d), dd) in splines[0].iter().zip(&splines[1]).zip(&splines[2]).skip(j) {
            for x in 0..KINDS * KINDS {
                cell[pair][x] += v * half[0][x] + d * half[1][x] + dd * half[2][x];
            }
            pair += 1;
        }
    }
    held.iter().sum::<f64>() as u32
}

const ROOT_3: f64 = 1.732_050_807_568_877_2;
