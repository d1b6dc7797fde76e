"""Traction of the outer liquid on the interface, hence the axial force through any cross-section of the drop.

With the velocity on the interface known, the outer liquid's own representation is an equation of the first kind for its
traction f_o on the interface and the strength q on the fixed boundaries:

    G_S f_o + G_F q = u_inf + D_S u - u/2  on the interface,   = u_inf + D_S u - u_wall  on the fixed boundaries.

It leaves f_o open by a constant pressure on the closed surface interface + tip + plug. The pressure that the same
representation gives inside that surface must vanish, which settles it. Steady force balance of the part of the drop
ahead of a cross-section: F = integral of f_o.z over it, the pull that the outer liquid exerts and that the tension and
the inner stress of the neck must carry (outer pressure is counted from zero at the tip's plane in the undisturbed flow).
"""

import numpy as np

from .elements import influence, unit_gauss
from .kernels import axis_pressure
from .flow import background


def _on_gauss(el, values, per=8):
    """Points, normals, weights (dt times ds/dt) and interpolated nodal values at Gauss points of every element."""
    x, w = unit_gauss(per)
    p = np.vander(x, 6, increasing=True)
    d = np.zeros_like(p)
    d[:, 1:] = p[:, :-1] * np.arange(1, 6)
    z, r, zt, rt = el.zc @ p.T, el.rc @ p.T, el.zc @ d.T, el.rc @ d.T
    s = np.hypot(zt, rt)
    shp = np.einsum("emk,qk->emq", el.shp, p[:, :4])
    vz = np.einsum("emq,em->eq", shp, values[0::2][el.sten] * el.sgn[:, :, 0])
    vr = np.einsum("emq,em->eq", shp, values[1::2][el.sten] * el.sgn[:, :, 1])
    return z, r, -rt / s, zt / s, w[None, :] * (s if el.metric else np.ones_like(s)), vz, vr


def _pressure(z0, el, f, u=None):
    """Pressure at (z0, 0) from single layer -f and double layer u on one boundary."""
    z, r, nz, nr, w, fz, fr = _on_gauss(el, f)
    uz = ur = np.zeros_like(z)
    if u is not None:
        *_, uz, ur = _on_gauss(el, u)
    total = 0.0
    for a in zip(z.ravel(), r.ravel(), nz.ravel(), nr.ravel(), fz.ravel(), fr.ravel(), uz.ravel(), ur.ravel(), w.ravel()):
        if a[1] > 0:
            total += a[8] * axis_pressure(z0, *a[:8])
    return total / (8 * np.pi)


def outer_traction(fixed, surf, u, u_body=None):
    """Traction (interleaved z, r) of the outer liquid at the interface's nodes. fixed may be None (a free drop)."""
    n = surf.n
    es = surf.elements()
    gss, dss = influence(es, es, True)
    null = np.empty(2 * n)
    null[0::2], null[1::2] = surf.nz, surf.nr
    top = dss @ u - 0.5 * u
    if fixed is None:
        a, rhs, ds = gss, top, null
    else:
        case = fixed.case
        top[0::2] += background(case, surf.z, surf.r)
        gsf, _ = influence((surf.z, surf.r), fixed.el, False)
        gfs, dfs = influence((fixed.el.tz, fixed.el.tr), es, True)
        a = np.block([[gss, gsf], [gfs, fixed.g]])
        rhs = np.concatenate([top, fixed.rhs_outer + dfs @ u])
        ds = np.concatenate([null, fixed.null])
    m = len(rhs)
    full = np.zeros((m + 1, m + 1))
    full[:m, :m] = a
    full[:m, m] = ds
    full[m, :m] = ds
    right = np.concatenate([rhs, [0.0]])
    for i in (0, n - 1):
        if surf.axis[i]:
            full[2 * i + 1] = 0.0
            full[2 * i + 1, 2 * i + 1] = 1.0
            right[2 * i + 1] = 0.0
    x = np.linalg.solve(full, right)[:m]
    f = x[: 2 * n]
    z0 = surf.z[np.argmax(surf.r)] if surf.left == "axis" or surf.r.max() > 1.01 else 0.5 * surf.z[-1]
    p = _pressure(z0, es, f, u)
    if fixed is not None:
        p += _pressure(z0, fixed.el, x[2 * n:])
        if case.wall > 0:
            p += -4 * case.ca / case.wall**2 * z0
    return f - p * null


def force_ahead(surf, f):
    """Axial force of the outer liquid on the part ahead of each node (last node: zero)."""
    z, r, _, _, w, fz, _ = _on_gauss(surf.elements(), f)
    per = np.sum(2 * np.pi * r * fz * w, axis=1)
    return np.concatenate([np.cumsum(per[::-1])[::-1], [0.0]])
