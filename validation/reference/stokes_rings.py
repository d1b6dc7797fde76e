"""Axisymmetric Stokes flow by rings of point forces: kernels and quadrature for boundary elements.

Equation: u(x) = u_inf(x) + 1/(8 pi mu) * integral of G(x, x') q(x') dS', integrated over the azimuth in closed form
(complete elliptic integrals). Source: elementary (Stokeslet); azimuthal integrals of cos^n / rho^m.
Used only to make reference tables; not part of the program.
"""

import numpy as np
from scipy.special import ellipe, ellipkm1

GAUSS = {n: np.polynomial.legendre.leggauss(n) for n in (4, 6, 8)}


def rings(z, s, zs, ss):
    """Velocity (zz, zr, rz, rr) at (z, s) by unit ring densities at (zs, ss), times 8 pi mu; per unit azimuth-length 1."""
    dz = z - zs
    a2 = dz * dz + (s + ss) ** 2
    a = np.sqrt(a2)
    k2 = 4.0 * s * ss / a2
    m1 = (dz * dz + (s - ss) ** 2) / a2
    k2 = np.maximum(k2, 1e-14)
    K, E = ellipkm1(m1), ellipe(1.0 - m1)
    i10 = 4.0 * K / a
    s0 = E / m1
    far = k2 < 1e-4
    k2s = np.where(far, 1.0, k2)
    c1 = np.where(far, np.pi / 4 * (1 + 0.375 * k2), (K - E) / k2s)
    s1 = np.where(far, np.pi / 4 * (1 + 1.125 * k2), (s0 - K) / k2s)
    s2 = np.where(far, 3 * np.pi / 16 * (1 + 1.25 * k2), (s0 - 2 * K + E) / k2s**2)
    i11 = 4.0 / a * (2.0 * c1 - K)
    a3 = a2 * a
    i30 = 4.0 / a3 * s0
    i31 = 4.0 / a3 * (2.0 * s1 - s0)
    i32 = 4.0 / a3 * (4.0 * s2 - 4.0 * s1 + s0)
    zz = i10 + dz * dz * i30
    zr = dz * (s * i31 - ss * i30)
    rz = dz * (s * i30 - ss * i31)
    rr = i11 + (s * s + ss * ss) * i31 - s * ss * (i30 + i32)
    return zz, zr, rz, rr


class Curve:
    """Straight or circular elements: ends (z, s) of each in parameter t, point(t) maps to the meridian plane."""

    def __init__(self, point, t):
        self.point, self.t = point, np.asarray(t)
        self.mid = 0.5 * (self.t[1:] + self.t[:-1])
        self.z, self.s = point(self.mid)
        h = 1e-6 * (self.t[1:] - self.t[:-1])
        zp, sp = point(self.mid + h)
        zm, sm = point(self.mid - h)
        length = np.hypot(zp - zm, sp - sm)
        self.tz, self.ts = (zp - zm) / length, (sp - sm) / length
        self.nz, self.ns = -self.ts, self.tz

    def __len__(self):
        return len(self.mid)

    def nodes(self, j, t0=None):
        """Gauss nodes and weights (dl * s) on element j, graded towards t0 (field point) if it lies near."""
        a, b = self.t[j], self.t[j + 1]
        if t0 is None:
            pieces = [(a, b)]
        else:
            t0 = min(max(t0, a), b)
            pieces = []
            for end in (a, b):
                d = end - t0
                if abs(d) < 1e-14 * abs(b - a):
                    continue
                f = np.concatenate([[0.0], 0.15 ** np.arange(9, -1, -1.0)])
                pieces += [(t0 + d * f[i], t0 + d * f[i + 1]) for i in range(10)]
        x, w = GAUSS[8 if t0 is not None else 6]
        ts, ws = [], []
        for p, q in pieces:
            ts.append(0.5 * (p + q) + 0.5 * (q - p) * x)
            ws.append(0.5 * abs(q - p) * w)
        ts, ws = np.concatenate(ts), np.concatenate(ws)
        h = 1e-6 * (b - a)
        z, s = self.point(ts)
        zp, sp = self.point(ts + h)
        zm, sm = self.point(ts - h)
        return z, s, ws * np.hypot(zp - zm, sp - sm) / (2 * h) * s, ts


def matrix(curve, zf, sf, own=None):
    """Influence (field, element) of constant densities: arrays zz, zr, rz, rr. `own`: field i is the middle of element own[i]."""
    n, m = len(zf), len(curve)
    out = np.zeros((4, n, m))
    for j in range(m):
        zg, sg, w, _ = curve.nodes(j)
        k = rings(zf[:, None], sf[:, None], zg[None, :], sg[None, :])
        out[:, :, j] = [np.sum(kk * w, axis=1) for kk in k]
        size = w.sum() / max(curve.s[j], 1e-12)
        near = np.where(np.hypot(zf - curve.z[j], sf - curve.s[j]) < 3.0 * size)[0]
        for i in near:
            # nearest parameter by sampling
            tt = np.linspace(curve.t[j], curve.t[j + 1], 41)
            zt, st = curve.point(tt)
            best = tt[np.argmin(np.hypot(zt - zf[i], st - sf[i]))]
            zg, sg, w, _ = curve.nodes(j, best)
            k = rings(zf[i], sf[i], zg, sg)
            out[:, i, j] = [np.sum(kk * w) for kk in k]
    return out
