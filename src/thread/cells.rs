//! Cell parabolas and the tension that capillarity puts into a cell.
//!
//! Equation: in each cell a(x) = c0 + c1 x + c2 x^2 (x from the middle) has the right mean over the cell and its two
//! neighbours, on any mesh:
//!   a_R - a = c1 x_R + c2 q_R,  a_L - a = -c1 x_L + c2 q_L,  x_R = (d + d_R)/2,  q_R = x_R^2 + (d_R^2 - d^2)/12,
//! an end being a neighbour of width 0 with a known value (0 at a tip, 1 at the nozzle). The capillary tension is
//!   T = pi a^2 (1 + a''/2) / (a + a'^2/4)^(3/2),
//! whose derivative along z is the force of full curvature: pi h on a cylinder, zero on any sphere.
//! Symbols: a = h^2 (R^2), d cell length (R), T (gamma R).
//! Source: the identity A dK/dz = -dT/dz is exact for full curvature; used for thread dynamics by Eggers & Dupont 1994
//! (J. Fluid Mech. 262, 205) in another form; the parabola is a standard finite-volume reconstruction.
//! Holds for: any mesh of positive cells; second order.

use std::f64::consts::PI;

/// A cell with its two neighbours.
#[derive(Debug, Clone, Copy)]
pub struct Triple {
    pub dl: f64,
    pub d: f64,
    pub dr: f64,
    pub al: f64,
    pub a: f64,
    pub ar: f64,
}

/// Coefficients of the parabola and the geometry they came from.
#[derive(Debug, Clone, Copy)]
pub struct Parabola {
    pub c0: f64,
    pub c1: f64,
    pub c2: f64,
    xl: f64,
    xr: f64,
    ql: f64,
    qr: f64,
    inv_det: f64,
}

/// Partial derivatives of the parabola's coefficients with respect to the lengths of the three cells (volumes kept), or to
/// their volumes (lengths kept).
#[derive(Debug, Clone, Copy, Default)]
pub struct Partials {
    pub c0: [f64; 3],
    pub c1: [f64; 3],
    pub c2: [f64; 3],
}

impl Triple {
    /// Cell `j` of lists of lengths and squared radii that have a ghost at each end.
    #[inline(always)]
    pub fn around(d: &[f64], a: &[f64], j: usize) -> Triple {
        let (d, a) = (&d[j..j + 3], &a[j..j + 3]);
        Triple { dl: d[0], d: d[1], dr: d[2], al: a[0], a: a[1], ar: a[2] }
    }

    /// The parabola through the three means.
    #[inline(always)]
    pub fn parabola(&self) -> Parabola {
        let Triple { dl, d, dr, al, a, ar } = *self;
        let (xl, xr) = (0.5 * (d + dl), 0.5 * (d + dr));
        let d2 = d * d;
        let (ql, qr) = (xl * xl + (dl * dl - d2) * (1.0 / 12.0), xr * xr + (dr * dr - d2) * (1.0 / 12.0));
        let inv_det = 1.0 / (xr * ql + xl * qr);
        let (rise_l, rise_r) = (al - a, ar - a);
        let c1 = (rise_r * ql - rise_l * qr) * inv_det;
        let c2 = (rise_r * xl + rise_l * xr) * inv_det;
        Parabola { c0: a - c2 * d2 * (1.0 / 12.0), c1, c2, xl, xr, ql, qr, inv_det }
    }

    /// Capillary tension at the middle of the cell, as [`Parabola::tension`] of [`Triple::parabola`] but with one division:
    /// everything is multiplied by the determinant D, T = pi (D c0)^2 (D + D c2)/e^(3/2) with e = D (D c0) + (D c1)^2/4.
    #[inline(always)]
    pub fn tension(&self) -> f64 {
        let Triple { dl, d, dr, al, a, ar } = *self;
        let (xl, xr) = (0.5 * (d + dl), 0.5 * (d + dr));
        let d2 = d * d;
        let (ql, qr) = (xl * xl + (dl * dl - d2) * (1.0 / 12.0), xr * xr + (dr * dr - d2) * (1.0 / 12.0));
        let det = xr * ql + xl * qr;
        let (rise_l, rise_r) = (al - a, ar - a);
        let c1 = rise_r * ql - rise_l * qr;
        let c2 = rise_r * xl + rise_l * xr;
        let c0 = a * det - c2 * d2 * (1.0 / 12.0);
        let e = c0 * det + 0.25 * c1 * c1;
        PI * c0 * c0 * (det + c2) / (e * e.sqrt())
    }

    /// Derivatives of the parabola with respect to (d_L, d, d_R); an end's width does not move. `inverse` holds
    /// 1/d_L, 1/d, 1/d_R, and 0 for a width of 0.
    #[inline(always)]
    pub fn partials(&self, p: &Parabola, inverse: [f64; 3]) -> Partials {
        let Triple { dl, d, dr, al, a, ar } = *self;
        let e2_l = -al * inverse[0] + 0.5 * p.c1 - p.c2 * (p.xl + dl * (1.0 / 6.0));
        let e1_r = -ar * inverse[2] - 0.5 * p.c1 - p.c2 * (p.xr + dr * (1.0 / 6.0));
        let own = a * inverse[1];
        let e1_c = own - 0.5 * p.c1 - p.c2 * (p.xr - d * (1.0 / 6.0));
        let e2_c = own + 0.5 * p.c1 - p.c2 * (p.xl - d * (1.0 / 6.0));
        let solve = |e1: f64, e2: f64| ((e1 * p.ql - e2 * p.qr) * p.inv_det, (e1 * p.xl + e2 * p.xr) * p.inv_det);
        let ((l1, l2), (m1, m2), (r1, r2)) = (solve(0.0, e2_l), solve(e1_c, e2_c), solve(e1_r, 0.0));
        let w = d * d * (1.0 / 12.0);
        Partials { c0: [-w * l2, -own - w * m2 - p.c2 * d * (1.0 / 6.0), -w * r2], c1: [l1, m1, r1], c2: [l2, m2, r2] }
    }

    /// Derivatives of the parabola with respect to (v_L, v, v_R), all lengths kept: a = v/(pi d). `inverse` as before.
    #[inline(always)]
    pub fn partials_by_volume(&self, p: &Parabola, inverse: [f64; 3]) -> Partials {
        let [left, own, right] = inverse.map(|inverse| inverse * (1.0 / PI));
        let solve = |e1: f64, e2: f64| ((e1 * p.ql - e2 * p.qr) * p.inv_det, (e1 * p.xl + e2 * p.xr) * p.inv_det);
        let ((l1, l2), (m1, m2), (r1, r2)) = (solve(0.0, left), solve(-own, -own), solve(right, 0.0));
        let w = self.d * self.d * (1.0 / 12.0);
        Partials { c0: [-w * l2, own - w * m2, -w * r2], c1: [l1, m1, r1], c2: [l2, m2, r2] }
    }
}

impl Parabola {
    /// c0, c1 and c2.
    #[inline(always)]
    pub fn coefficients(&self) -> [f64; 3] {
        [self.c0, self.c1, self.c2]
    }

    /// a at `x` from the middle of the cell.
    pub fn at(&self, x: f64) -> f64 {
        self.c0 + x * (self.c1 + x * self.c2)
    }

    /// Capillary tension at the middle of the cell.
    #[inline(always)]
    pub fn tension(&self) -> f64 {
        let e = self.c0 + 0.25 * self.c1 * self.c1;
        PI * self.c0 * self.c0 * (1.0 + self.c2) / (e * e.sqrt())
    }

    /// Capillary tension and its derivatives with respect to (c0, c1, c2).
    #[inline(always)]
    pub fn tension_and_gradient(&self) -> (f64, [f64; 3]) {
        let e = self.c0 + 0.25 * self.c1 * self.c1;
        let inv_e = 1.0 / e;
        let k = PI * self.c0 * inv_e * inv_e * e.sqrt();
        let t = k * self.c0 * (1.0 + self.c2);
        let common = 1.5 * t * inv_e;
        (t, [2.0 * k * (1.0 + self.c2) - common, -common * 0.5 * self.c1, k * self.c0])
    }

    /// Mean curvature K = 1/(h S) - h''/S^3 at `x`, from the parabola: regular at a round tip.
    pub fn curvature(&self, x: f64) -> f64 {
        let a = self.at(x);
        let slope = self.c1 + 2.0 * self.c2 * x;
        let e = a + 0.25 * slope * slope;
        (e + 0.25 * slope * slope - a * self.c2) / (e * e.sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn means(edges: [f64; 4], antiderivative: impl Fn(f64) -> f64) -> Triple {
        let m = |i: usize| (antiderivative(edges[i + 1]) - antiderivative(edges[i])) / (edges[i + 1] - edges[i]);
        Triple { dl: edges[1] - edges[0], d: edges[2] - edges[1], dr: edges[3] - edges[2], al: m(0), a: m(1), ar: m(2) }
    }

    #[test]
    fn theory_any_sphere_has_no_tension_and_twice_its_curvature_on_any_mesh() {
        for edges in [[0.1, 0.3, 0.35, 0.9], [0.0, 1e-3, 0.2, 0.21]] {
            // a = 2 r z - z^2 with r = 1.3
            let p = means(edges, |z| 1.3 * z * z - z * z * z / 3.0).parabola();
            assert!(p.tension().abs() < 1e-11);
            assert!(means(edges, |z| 1.3 * z * z - z * z * z / 3.0).tension().abs() < 1e-11);
            assert_relative_eq!(p.curvature(0.0), 2.0 / 1.3, max_relative = 1e-10);
        }
    }

    #[test]
    fn theory_a_cylinder_pulls_with_pi_h() {
        let cylinder = Triple { dl: 0.2, d: 0.1, dr: 0.4, al: 0.25, a: 0.25, ar: 0.25 };
        assert_relative_eq!(cylinder.tension(), PI * 0.5, max_relative = 1e-14);
        let p = cylinder.parabola();
        assert_relative_eq!(p.tension(), PI * 0.5, max_relative = 1e-14);
        assert_relative_eq!(p.curvature(0.02), 2.0, max_relative = 1e-14);
    }

    #[test]
    fn derivatives_agree_with_differences() {
        let base = Triple { dl: 0.2, d: 0.15, dr: 0.3, al: 0.9, a: 0.7, ar: 0.8 };
        let value = |s: [f64; 3]| {
            let t = Triple {
                dl: base.dl * s[0],
                d: base.d * s[1],
                dr: base.dr * s[2],
                al: base.al / s[0],
                a: base.a / s[1],
                ar: base.ar / s[2],
            };
            t.parabola().tension()
        };
        let p = base.parabola();
        let partials = base.partials(&p, [1.0 / base.dl, 1.0 / base.d, 1.0 / base.dr]);
        assert_relative_eq!(base.tension(), p.tension(), max_relative = 1e-13);
        let (_, g) = p.tension_and_gradient();
        for (k, length) in [base.dl, base.d, base.dr].into_iter().enumerate() {
            let eps = 1e-6;
            let (mut up, mut down) = ([1.0; 3], [1.0; 3]);
            up[k] += eps;
            down[k] -= eps;
            let numeric = (value(up) - value(down)) / (2.0 * eps * length);
            let exact = g[0] * partials.c0[k] + g[1] * partials.c1[k] + g[2] * partials.c2[k];
            assert_relative_eq!(exact, numeric, max_relative = 1e-7);
            let by_volume = base.partials_by_volume(&p, [1.0 / base.dl, 1.0 / base.d, 1.0 / base.dr]);
            let area = |by: f64| {
                let grown = |i: usize, a: f64, d: f64| if i == k { a + by / (PI * d) } else { a };
                let t = Triple {
                    al: grown(0, base.al, base.dl),
                    a: grown(1, base.a, base.d),
                    ar: grown(2, base.ar, base.dr),
                    ..base
                };
                t.tension()
            };
            let exact = g[0] * by_volume.c0[k] + g[1] * by_volume.c1[k] + g[2] * by_volume.c2[k];
            assert_relative_eq!(exact, (area(1e-6) - area(-1e-6)) / 2e-6, max_relative = 1e-6);
        }
    }
}
