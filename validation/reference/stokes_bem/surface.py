"""The interface: a quintic spline in node index, its curvature, the operator that linearises it, and its mesh.

Ends are 'axis' (the meridian meets the axis at a right angle: z even, r odd on reflection) or 'free' (the pinned rim).
The tangent runs from node 0 to the last, the normal n = (-r_s, z_s) points out of the drop when z grows along it.
"""

from functools import lru_cache

import numpy as np
from scipy.interpolate import make_interp_spline

from .elements import Elements, hermite, stencils, unit_gauss


@lru_cache(maxsize=256)
def _derivatives(n, left, right, parity):
    """Matrices of d/dxi and d2/dxi2 at the nodes for a function of the given parity (+1, -1) at the ends to be mirrored."""
    nl = n - 1 if left != "free" else 0
    nr = n - 1 if right != "free" else 0
    ext = np.zeros((nl + n + nr, n))
    for row in range(nl + n + nr):
        j = row - nl
        if j < 0:
            ext[row, -j] = parity
        elif j >= n:
            ext[row, 2 * (n - 1) - j] = parity
        else:
            ext[row, j] = 1.0
    if parity < 0:
        if left != "free":
            ext[nl] = 0.0
        if right != "free":
            ext[nl + n - 1] = 0.0
    x = np.arange(-nl, n + nr, dtype=float)
    s = make_interp_spline(x, ext, k=5)
    at = np.arange(n, dtype=float)
    return s(at, 1), s(at, 2)


class Surface:
    """Meridian curve through the nodes (z, r)."""

    def __init__(self, z, r, left="free", right="axis"):
        self.z = np.array(z, float)
        self.r = np.array(r, float)
        self.left, self.right = left, right
        n = len(self.z)
        if left == "plane":
            # Symmetry planes at both ends: z is odd about each end, r even. The linear part is taken out first.
            base = np.linspace(self.z[0], self.z[-1], n)
            o1, o2 = _derivatives(n, left, right, -1)
            e1, e2 = _derivatives(n, left, right, 1)
            self.z1 = o1 @ (self.z - base) + (self.z[-1] - self.z[0]) / (n - 1)
            self.z2 = o2 @ (self.z - base)
            self.r1, self.r2 = e1 @ self.r, e2 @ self.r
            self.even = (e1, e2)
        else:
            e1, e2 = _derivatives(n, left, right, 1)
            o1, o2 = _derivatives(n, left, right, -1)
            self.z1, self.z2 = e1 @ self.z, e2 @ self.z
            self.r1, self.r2 = o1 @ self.r, o2 @ self.r
            self.even = (e1, e2)
        self.s1 = np.hypot(self.z1, self.r1)
        self.tz, self.tr = self.z1 / self.s1, self.r1 / self.s1
        self.nz, self.nr = -self.tr, self.tz
        self.k1 = (self.r1 * self.z2 - self.z1 * self.r2) / self.s1**3
        self.axis = np.zeros(n, bool)
        if left == "axis":
            self.axis[0] = True
        if right == "axis":
            self.axis[-1] = True
        safe = np.where(self.axis, 1.0, self.r)
        self.k2 = np.where(self.axis, self.k1, self.nr / safe)
        self.kappa = self.k1 + self.k2

    @property
    def n(self):
        return len(self.z)

    def elements(self):
        n = self.n
        zc = hermite(self.z, self.z1, self.z2)
        rc = hermite(self.r, self.r1, self.r2)
        sten, sgn, shp = stencils(n - 1, n, 0, self.left, self.right)
        selfe = np.stack([np.arange(-1, n - 1), np.where(np.arange(n) < n - 1, np.arange(n), -1)], axis=1)
        selft = np.stack([np.ones(n), np.zeros(n)], axis=1)
        return Elements(zc, rc, sten, sgn, shp, 1, self.z, self.r, selfe.astype(np.int64), selft)

    def traction(self, k0=0.0):
        """Jump of traction (outer less inner, unit tension) at the nodes, interleaved (z, r)."""
        f = np.empty(2 * self.n)
        f[0::2] = (self.kappa - k0) * self.nz
        f[1::2] = (self.kappa - k0) * self.nr
        return f

    def traction_operator(self, k0=0.0):
        """Matrix from a small normal displacement of the nodes to the change of the traction jump.

        d kappa = -(eta_ss + (r_s/r) eta_s) - (k1^2 + k2^2) eta;  d n = -eta_s t;  d(dS) = kappa eta dS.
        A constant curvature k0 is taken out of the traction first: k0 n drives no flow on any closed surface, moved or
        not, so leaving it in would put an error into the linearisation (kernels frozen) that it does not have.
        """
        e1, e2 = self.even
        i1 = 1.0 / self.s1
        ds = i1[:, None] * e1
        s2 = (self.z1 * self.z2 + self.r1 * self.r2) / self.s1
        dss = (i1**2)[:, None] * e2 - (s2 * i1**3)[:, None] * e1
        safe = np.where(self.axis, 1.0, self.r)
        lap = np.where(self.axis[:, None], 2.0 * dss, dss + (self.tr / safe)[:, None] * ds)
        dk = -lap - np.diag(self.k1**2 + self.k2**2)
        op = np.empty((2 * self.n, self.n))
        k = (self.kappa - k0)[:, None]
        dk = dk + np.diag((self.kappa - k0) * self.kappa)
        op[0::2] = self.nz[:, None] * dk - k * self.tz[:, None] * ds
        op[1::2] = self.nr[:, None] * dk - k * self.tr[:, None] * ds
        return op

    def fine(self, per=8):
        """Points, slopes and weights (d xi) of a Gauss rule on every element, for integrals along the curve."""
        x, w = unit_gauss(per)
        p = np.vander(x, 6, increasing=True)
        d = np.zeros_like(p)
        d[:, 1:] = p[:, :-1] * np.arange(1, 6)
        zc = hermite(self.z, self.z1, self.z2)
        rc = hermite(self.r, self.r1, self.r2)
        return zc @ p.T, rc @ p.T, zc @ d.T, rc @ d.T, np.broadcast_to(w, (self.n - 1, per))

    def flux_weights(self):
        """Weights of a nodal normal velocity in the flux through the curve, by the density's own interpolation."""
        _, r, zt, rt, w = self.fine()
        x = unit_gauss(8)[0]
        sten, sgn, shp = stencils(self.n - 1, self.n, 0, self.left, self.right)
        phi = np.einsum("emk,qk->emq", shp, np.vander(x, 4, increasing=True))
        each = np.einsum("emq,eq->em", phi, 2 * np.pi * r * np.hypot(zt, rt) * w)
        out = np.zeros(self.n)
        np.add.at(out, sten, each)
        return out

    def volume(self, start=0):
        """Volume between the plane of node `start` and the end of the curve."""
        _, r, zt, _, w = self.fine()
        return float(np.sum((np.pi * r**2 * zt * w)[start:]))

    def area(self):
        _, r, zt, rt, w = self.fine()
        return float(np.sum(2 * np.pi * r * np.hypot(zt, rt) * w))

    def arc(self):
        """Arc length at the nodes."""
        _, _, zt, rt, w = self.fine()
        return np.concatenate([[0.0], np.cumsum(np.sum(np.hypot(zt, rt) * w, axis=1))])


def mesh_density(surface, c, h_rim, h_max, grow=0.25, spacing=None):
    """Wanted spacing at the nodes: c over the curvature, h_rim at the rim, at most `spacing`(z, r) (films), growing no
    faster than `grow` a length."""
    s = surface.arc()
    # A thread's own radius may be resolved more coarsely: what grows on it is several radii long.
    kmax = np.maximum(np.abs(surface.k1), 0.6 * np.abs(surface.k2))
    # Near the rim the corner makes the curvature local to the mesh; the rim's own spacing rules there.
    h = np.minimum(c / np.maximum(kmax, 1e-9), h_max)
    if spacing is not None:
        h = np.minimum(h, spacing(surface.z, surface.r))
    if surface.left == "free":
        h[:3] = np.maximum(h[:3], h_rim)
        h = np.minimum(h, h_rim + grow * s)
    h = np.min(h[None, :] + grow * np.abs(s[:, None] - s[None, :]), axis=1)
    return s, h


def needs_remesh(surface, c, h_rim, h_max, slack=0.25, spacing=None):
    """Whether some element is longer or shorter than wanted by more than `slack` of it."""
    s, h = mesh_density(surface, c, h_rim, h_max, spacing=spacing)
    ratio = np.diff(s) / (0.5 * (h[1:] + h[:-1]))
    return bool(np.max(ratio) > 1 + slack or np.min(ratio) < (1 - slack) * min(1.0, np.median(ratio)))


def remesh(surface, c, h_rim, h_max, keep=None, spacing=None):
    """Move the nodes along the curve to the wanted spacing; the number of nodes follows from it."""
    s, h = mesh_density(surface, c, h_rim, h_max, spacing=spacing)
    q = np.concatenate([[0.0], np.cumsum(np.diff(s) * 0.5 * (1 / h[1:] + 1 / h[:-1]))])
    n = max(12, int(np.ceil(q[-1])) + 1)
    if keep is not None and keep - 4 <= n <= keep:
        n = keep
    # Smooth the index as a function of arc length: a few passes on log-spacing at fixed ends.
    fine_s = np.linspace(0, 1, 8 * n)
    lg = np.interp(fine_s * q[-1], q, np.log(h))
    width = 8
    for _ in range(12):
        pad = np.pad(lg, width // 2, mode="edge")
        lg = np.convolve(pad, np.ones(width + 1) / (width + 1), mode="valid")
    step = np.exp(lg)
    sf = np.concatenate([[0.0], np.cumsum(0.5 * (step[1:] + step[:-1]))])
    sf *= s[-1] / sf[-1]
    target = np.interp(np.linspace(0, 1, n), fine_s, sf)
    # Arc length to spline parameter by Newton on the tabulated monotone map.
    xi = np.arange(surface.n, dtype=float)
    s_of = make_interp_spline(xi, s, k=5)
    x = np.interp(target, s, xi)
    for _ in range(4):
        x = np.clip(x - (s_of(x) - target) / np.maximum(s_of(x, 1), 1e-12), 0, surface.n - 1)
    x[0], x[-1] = 0.0, surface.n - 1.0
    e = np.minimum(x.astype(int), surface.n - 2)
    t = x - e
    p = np.vander(t, 6, increasing=True)
    z = np.sum(hermite(surface.z, surface.z1, surface.z2)[e] * p, axis=1)
    r = np.sum(hermite(surface.r, surface.r1, surface.r2)[e] * p, axis=1)
    if surface.right == "axis":
        r[-1] = 0.0
    if surface.left == "axis":
        r[0] = 0.0
    else:
        z[0], r[0] = surface.z[0], surface.r[0]
    return Surface(z, r, surface.left, surface.right)
