"""Curved boundary elements and their integration against the ring kernels.

An element is a quintic polynomial (z(t), r(t)), 0 <= t <= 1. The density on it is a cubic through the four nearest
nodes. `metric` = 1 integrates density ds, 0 integrates density dt (then the unknown is traction times ds/dt, which
stays smooth where the traction has the inverse-root singularity of a sharp edge and the nodes crowd quadratically).
"""

import math
from functools import lru_cache

import numpy as np
from numba import njit

from .kernels import ring


@lru_cache(maxsize=None)
def unit_gauss(n):
    """Gauss-Legendre points and weights on 0..1."""
    x, w = np.polynomial.legendre.leggauss(n)
    return 0.5 * (x + 1.0), 0.5 * w


def _graded(n, power):
    """Gauss points after t = w^power, which takes the sting out of a logarithm at t = 0."""
    x, w = unit_gauss(n)
    return x**power, w * power * x ** (power - 1)


XV, WV = unit_gauss(2)
XF, WF = unit_gauss(3)
XM, WM = unit_gauss(4)
XN, WN = unit_gauss(6)
XS, WS = _graded(10, 4)


class Elements:
    """Plain arrays that describe one boundary: geometry, density stencils, and where each node sits."""

    def __init__(self, zc, rc, sten, sgn, shp, metric, tz, tr, selfe, selft):
        self.zc, self.rc = zc, rc
        self.sten, self.sgn, self.shp = sten, sgn, shp
        self.metric = metric
        self.tz, self.tr = tz, tr
        self.selfe, self.selft = selfe, selft

    @property
    def n(self):
        return len(self.tz)

    def args(self):
        return self.zc, self.rc, self.sten, self.sgn, self.shp, self.metric


# Quintic Hermite: values, first and second derivatives at both ends -> monomial coefficients.
_H = np.linalg.inv(
    np.array(
        [
            [1.0, 0, 0, 0, 0, 0],
            [0, 1.0, 0, 0, 0, 0],
            [0, 0, 2.0, 0, 0, 0],
            [1.0, 1, 1, 1, 1, 1],
            [0, 1.0, 2, 3, 4, 5],
            [0, 0, 2.0, 6, 12, 20],
        ]
    )
)


def hermite(x, d1, d2):
    """Monomial coefficients (elements x 6) of the quintic pieces between consecutive nodes."""
    data = np.stack([x[:-1], d1[:-1], d2[:-1], x[1:], d1[1:], d2[1:]])
    return np.ascontiguousarray((_H @ data).T)


@lru_cache(maxsize=None)
def lagrange_cubic(pos):
    """Monomial coefficients in t of the four cubic Lagrange polynomials through the positions `pos`."""
    return np.linalg.inv(np.vander(np.asarray(pos, float), 4, increasing=True)).T


@lru_cache(maxsize=512)
def stencils(n_el, n_node, offset, left, right):
    """Density stencils: node j sits at parameter j + offset; ends marked 'axis' or 'plane' are mirrored, 'free' are not.

    On reflection at the axis the axial part is even and the radial odd; at a symmetry plane the other way round.
    """
    sten = np.zeros((n_el, 4), np.int64)
    sgn = np.ones((n_el, 4, 2))
    shp = np.zeros((n_el, 4, 4))
    for e in range(n_el):
        first = math.floor(e + 0.5 - offset) - 1
        if left == "free":
            first = max(first, 0)
        if right == "free":
            first = min(first, n_node - 4)
        shp[e] = lagrange_cubic(tuple(first + m + offset - e for m in range(4)))
        for m in range(4):
            j = first + m
            kind = None
            if j < 0:
                j, kind = -j, left
            elif j > n_node - 1:
                j, kind = 2 * (n_node - 1) - j, right
            if kind == "axis":
                sgn[e, m, 1] = -1.0
            elif kind == "plane":
                sgn[e, m, 0] = -1.0
            sten[e, m] = j
    return sten, sgn, shp


@njit(cache=True)
def _point(zc, rc, t):
    z = ((((zc[5] * t + zc[4]) * t + zc[3]) * t + zc[2]) * t + zc[1]) * t + zc[0]
    r = ((((rc[5] * t + rc[4]) * t + rc[3]) * t + rc[2]) * t + rc[1]) * t + rc[0]
    return z, r


@njit(cache=True)
def _slope(c, t):
    return (((5.0 * c[5] * t + 4.0 * c[4]) * t + 3.0 * c[3]) * t + 2.0 * c[2]) * t + c[1]


@njit(cache=True)
def _add(z0, r0, a, b, xs, ws, flip, zc, rc, sten, sgn, shp, metric, double, i, g, d, k):
    """Add the rule (xs, ws) on the piece [a, b] of one element; `flip` runs the rule from b to a."""
    for q in range(xs.shape[0]):
        t = b - (b - a) * xs[q] if flip else a + (b - a) * xs[q]
        z, r = _point(zc, rc, t)
        # on a tiny element the graded rule may fall on the target within round-off: its weight is as small
        if r <= 0.0 or abs(z - z0) + abs(r - r0) < 1e-13:
            continue
        zt = _slope(zc, t)
        rt = _slope(rc, t)
        s = math.sqrt(zt * zt + rt * rt)
        ring(z0, r0, z, r, -rt / s, zt / s, double, k)
        w = ws[q] * (b - a)
        if metric:
            w *= s
        for m in range(4):
            p = w * (((shp[m, 3] * t + shp[m, 2]) * t + shp[m, 1]) * t + shp[m, 0])
            j = sten[m]
            pz = p * sgn[m, 0]
            pr = p * sgn[m, 1]
            g[2 * i, 2 * j] += pz * k[0]
            g[2 * i, 2 * j + 1] += pr * k[1]
            g[2 * i + 1, 2 * j] += pz * k[2]
            g[2 * i + 1, 2 * j + 1] += pr * k[3]
            if double:
                d[2 * i, 2 * j] += pz * k[4]
                d[2 * i, 2 * j + 1] += pr * k[5]
                d[2 * i + 1, 2 * j] += pz * k[6]
                d[2 * i + 1, 2 * j + 1] += pr * k[7]


@njit(cache=True)
def _fill(tz, tr, selfe, selft, zc, rc, sten, sgn, shp, metric, double, g, d):
    k = np.zeros(8)
    lo = np.zeros(64)
    hi = np.zeros(64)
    for i in range(tz.shape[0]):
        z0 = tz[i]
        r0 = tr[i]
        for e in range(zc.shape[0]):
            t0 = -1.0
            if selfe[i, 0] == e:
                t0 = selft[i, 0]
            elif selfe[i, 1] == e:
                t0 = selft[i, 1]
            if t0 >= 0.0:
                if t0 > 0.0:
                    _add(z0, r0, 0.0, t0, XS, WS, True, zc[e], rc[e], sten[e], sgn[e], shp[e], metric, double, i, g, d, k)
                if t0 < 1.0:
                    _add(z0, r0, t0, 1.0, XS, WS, False, zc[e], rc[e], sten[e], sgn[e], shp[e], metric, double, i, g, d, k)
                continue
            n = 1
            lo[0] = 0.0
            hi[0] = 1.0
            while n > 0:
                n -= 1
                a = lo[n]
                b = hi[n]
                za, ra = _point(zc[e], rc[e], a)
                zb, rb = _point(zc[e], rc[e], b)
                zm, rm = _point(zc[e], rc[e], 0.5 * (a + b))
                length = math.hypot(zm - za, rm - ra) + math.hypot(zb - zm, rb - rm)
                dist = min(math.hypot(za - z0, ra - r0), math.hypot(zb - z0, rb - r0), math.hypot(zm - z0, rm - r0))
                if dist < 0.8 * length and b - a > 1e-6 and n < 60:
                    lo[n] = a
                    hi[n] = 0.5 * (a + b)
                    lo[n + 1] = 0.5 * (a + b)
                    hi[n + 1] = b
                    n += 2
                elif dist > 16.0 * length:
                    _add(z0, r0, a, b, XV, WV, False, zc[e], rc[e], sten[e], sgn[e], shp[e], metric, double, i, g, d, k)
                elif dist > 6.0 * length:
                    _add(z0, r0, a, b, XF, WF, False, zc[e], rc[e], sten[e], sgn[e], shp[e], metric, double, i, g, d, k)
                elif dist > 3.0 * length:
                    _add(z0, r0, a, b, XM, WM, False, zc[e], rc[e], sten[e], sgn[e], shp[e], metric, double, i, g, d, k)
                else:
                    _add(z0, r0, a, b, XN, WN, False, zc[e], rc[e], sten[e], sgn[e], shp[e], metric, double, i, g, d, k)


def influence(targets, source, double):
    """Matrices (2 targets x 2 source nodes) of the single and double layer, both divided by 8 pi.

    `targets` is an Elements (its nodes are the targets; the same object as `source` means singular integrals) or a pair
    of coordinate arrays away from the source.
    """
    if isinstance(targets, Elements):
        tz, tr = targets.tz, targets.tr
    else:
        tz, tr = targets
    if targets is source:
        selfe, selft = source.selfe, source.selft
    else:
        selfe = -np.ones((len(tz), 2), np.int64)
        selft = np.zeros((len(tz), 2))
    g = np.zeros((2 * len(tz), 2 * source.n))
    d = np.zeros_like(g) if double else np.zeros((1, 1))
    _fill(tz, tr, selfe, selft, *source.args(), double, g, d)
    g /= 8.0 * np.pi
    if double:
        d /= 8.0 * np.pi
    return g, d
