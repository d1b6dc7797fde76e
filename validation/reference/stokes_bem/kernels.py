"""Free-space Stokes kernels integrated round a ring (single and double layer).

The Stokeslet G_ij = delta_ij/R + X_i X_j/R^3 and the stresslet T_ijk = -6 X_i X_j X_k/R^5, X = x - x0, are integrated
over the azimuth phi of the source ring (z, r); the target sits at (z0, r0). With v = 1 - cos(phi),
R^2 = rho^2 + b v, rho^2 = (z - z0)^2 + (r - r0)^2 and b = 2 r r0, every integral is one of

    J_mn = int_0^{2 pi} v^n / R^m dphi,     J_mn = (J_{m-2,n-1} - rho^2 J_{m,n-1}) / b,

which start from complete elliptic integrals. The powers of v (not of cos phi) keep the near-singular case free of
cancellation; for b << rho^2 the recurrence would cancel instead, and the trapezoid rule in phi, which converges
geometrically there, takes over.

Source of the boundary-integral equations: Pozrikidis 1992, Boundary Integral and Singularity Methods for Linearized
Viscous Flow, ch. 2 and 5 (recalled); the ring integrals were derived anew and are tested against direct quadrature.
"""

import math

import numpy as np
from numba import njit

_NTRAP = 8
_COS = np.cos(2.0 * np.pi * (np.arange(_NTRAP) + 0.5) / _NTRAP)


@njit(cache=True)
def elliptic(kc2):
    """K and E from the complementary parameter kc2 = 1 - k^2 by the arithmetic-geometric mean."""
    a = 1.0
    g = math.sqrt(kc2)
    s = 0.5 * (1.0 - kc2)
    p = 0.5
    for _ in range(40):
        c = 0.5 * (a - g)
        an = 0.5 * (a + g)
        g = math.sqrt(a * g)
        a = an
        p *= 2.0
        s += p * c * c
        if c < 1e-7 * a:
            break
    k = 0.5 * math.pi / a
    return k, k * (1.0 - s)


@njit(cache=True)
def ring(z0, r0, z, r, nz, nr, double, out):
    """Fill out[0:4] with the single layer (zz, zr, rz, rr; target, source) and, if asked, out[4:8] with the double layer.

    Both carry the factor r of the ring's length; the double layer is the component along n at the source.
    """
    dz = z - z0
    dr = r - r0
    rho2 = dz * dz + dr * dr
    b = 2.0 * r * r0
    ab = rho2 + 2.0 * b
    xn = dz * nz + dr * nr
    if 2.0 * b > 1e-3 * ab:
        kc2 = rho2 / ab
        ek, ee = elliptic(kc2)
        sq = math.sqrt(ab)
        j10 = 4.0 * ek / sq
        j30 = 4.0 * ee / (sq * rho2)
        j11 = (4.0 * sq * ee - rho2 * j10) / b
        j31 = (j10 - rho2 * j30) / b
        j32 = (j11 - rho2 * j31) / b
        out[0] = r * (j10 + dz * dz * j30)
        out[1] = r * dz * (dr * j30 + r0 * j31)
        out[2] = r * dz * (dr * j30 - r * j31)
        out[3] = r * (j10 - j11 + dr * dr * (j30 - j31) - r * r0 * j32)
        if double:
            k2 = 2.0 * b / ab
            j50 = 4.0 * (2.0 * (2.0 - k2) * ee - kc2 * ek) / (3.0 * rho2 * rho2 * sq)
            j51 = (j30 - rho2 * j50) / b
            j52 = (j31 - rho2 * j51) / b
            j53 = (j32 - rho2 * j52) / b
            s = r0 * nr
            f = -6.0 * r
            out[4] = f * dz * dz * (xn * j50 + s * j51)
            out[5] = f * dz * (dr * xn * j50 + (dr * s + r0 * xn) * j51 + r0 * s * j52)
            out[6] = f * dz * (dr * xn * j50 + (dr * s - r * xn) * j51 - r * s * j52)
            c0 = dr * dr
            c1 = -dr * dr
            c2 = -r * r0
            out[7] = f * (c0 * xn * j50 + (c0 * s + c1 * xn) * j51 + (c1 * s + c2 * xn) * j52 + c2 * s * j53)
        return
    for i in range(8):
        out[i] = 0.0
    w = 2.0 * math.pi * r / _NTRAP
    for i in range(_NTRAP):
        c = _COS[i]
        v = 1.0 - c
        i2 = 1.0 / (rho2 + b * v)
        i1 = math.sqrt(i2)
        i3 = i2 * i1
        xr = dr - r * v
        xe = dr + r0 * v
        out[0] += w * (i1 + dz * dz * i3)
        out[1] += w * dz * xe * i3
        out[2] += w * dz * xr * i3
        out[3] += w * (c * i1 + xr * xe * i3)
        if double:
            g = -6.0 * w * i3 * i2 * (xn + r0 * nr * v)
            out[4] += g * dz * dz
            out[5] += g * dz * xe
            out[6] += g * dz * xr
            out[7] += g * xr * xe


@njit(cache=True)
def axis_pressure(z0, z, r, nz, nr, fz, fr, uz, ur):
    """Pressure at (z0, 0), unit viscosity, times 8 pi: minus the single layer of (fz, fr) plus the double layer of u.

    Single layer: p = 2 X.f/R^3 with X from source to target; double layer: 4 (-u.n/R^3 + 3 (X.u)(X.n)/R^5).
    """
    dz = z0 - z
    r2 = dz * dz + r * r
    i3 = 1.0 / (r2 * math.sqrt(r2))
    xf = dz * fz - r * fr
    xu = dz * uz - r * ur
    xn = dz * nz - r * nr
    un = uz * nz + ur * nr
    return 2.0 * math.pi * r * (-2.0 * xf * i3 + 4.0 * (-un * i3 + 3.0 * xu * xn * i3 / r2))
