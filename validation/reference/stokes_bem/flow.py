"""The instantaneous Stokes problem: interface (moving) and fixed boundaries, with the interface's stiff part implicit.

With mu_o = 1, lambda = mu_i/mu_o, the outer representation plus lambda times the inner one gives at a node x0

    c u(x0) = u_inf(x0) - G_S df - G_F q + (1 - lambda) D_S u - lambda D_plug u_plug,

G, D the single and double layers over 8 pi, df = (kappa) n the known jump of traction on the interface (tension 1), q
the unknown single-layer strength on the fixed boundaries; c = (1 + lambda)/2 on the interface, lambda/2 on the plug
(outer side at rest, inner side Poiseuille), and u = 0 on the tip and the outer wall. On the far end disk of a tube
u = Poiseuille flow of both fluxes, so that the rest of the tube carries no disturbance flux.
"""

from dataclasses import dataclass

import numpy as np
import scipy.linalg as sla

from . import walls
from .channel import Orifice, Outline
from .elements import Elements, influence
from .surface import Surface


@dataclass(frozen=True)
class Case:
    """One run. ca: mu_o U/gamma with U the undisturbed axis velocity of the outer flux fed upstream."""

    ca: float
    q: float
    lam: float
    wall: float = 0.0  # outer radius over tip radius; 0: unbounded
    tube: float = 60.0  # length of the tip upstream, tip radii
    tube_nodes: int = 20
    plug: float = 3.0  # where the inner Poiseuille flow is imposed, tip radii upstream
    c: float = 0.3  # interface spacing over the smaller radius of curvature
    h_rim: float = 0.1
    tol: float = 1e-3
    r_end: float = 0.03
    reach: float = 0.0  # end of the tube downstream; 0: chosen
    outer: float = 1.0  # outside of the tip over its bore; 1: no wall thickness
    orifice: Orifice | None = None  # at the end of the channel of radius `wall`
    gap: float = 0.7  # interface spacing over the distance to the orifice's wall ...
    film: float = 0.015  # ... which counts as at least this


def background(case, z, r):
    """Undisturbed velocity (z component) at radius r."""
    if case.wall > 0:
        return case.ca * (1 - (r / case.wall) ** 2)
    return case.ca * np.ones_like(r)


class Fixed:
    """Fixed boundaries of a case, their influence matrix factored once."""

    def __init__(self, case):
        self.case = case
        k = case.tube_nodes / 20.0
        near = 2.0 / case.tube_nodes
        n = lambda x: max(5, int(round(x * k)))
        self.plug = walls.disk(-case.plug, 1.0, n(7), 1)
        self.inner_nodes = n(18)
        parts = [self.plug, walls.tube_inner(case.plug, self.inner_nodes)]
        if case.outer > 1:
            near_rim = max(3.0, 1.5 * case.outer)
            parts += [walls.face(1.0, case.outer, n(8 + 4 * (case.outer - 1))),
                      walls.tube_inner(near_rim, n(18), case.outer),
                      walls.tube_outer(near_rim, case.tube, 4 * near, n(16), case.outer)]
        else:
            parts.append(walls.tube_outer(case.plug, case.tube, 4 * near, n(16)))
        down, up = case.reach, case.tube + 1.0 * case.wall
        self.outline = None
        if case.orifice is not None:
            self.outline = Outline(case.orifice.corners(case.wall, down))
            self.end = walls.disk(down, case.orifice.collection, n(6), -1)
            parts += [*case.orifice.parts(case.wall, up, down, n), self.end]
        elif case.wall > 0:
            parts.append(walls.wall(case.wall, -up, down, min(0.18 * case.wall, 3.0) / k, n(55 if case.wall < 15 else 28)))
            self.end = walls.disk(down, case.wall, n(6), -1)
            parts.append(self.end)
        else:
            self.end = None
        self.el = walls.join(parts)
        nf, np_ = self.el.n, self.plug.n
        self.g = influence(self.el, self.el, False)[0]
        self.lu = sla.lu_factor(self.g)
        q_mean = case.ca * case.q
        self.flux = np.pi * q_mean
        # Known double layer of the plug's inner side.
        pr = self.plug.tr
        self.up = np.zeros(2 * np_)
        self.up[0::2] = 2 * q_mean * (1 - pr**2)
        # Density nodes carry density ds; the double layer wants u ds/dt.
        t = 0.5
        st = np.hypot(*(sum(m * c[:, m] * t ** (m - 1) for m in range(1, 6)) for c in (self.plug.zc, self.plug.rc)))
        self.up_ds = self.up * np.repeat(st, 2)
        d_ff = influence(self._on_plug(), self.plug, True)[1]
        rhs = -case.lam * (d_ff @ self.up_ds)
        rhs[0::2] += background(case, self.el.tz, self.el.tr)
        rhs[: 2 * np_] -= 0.5 * case.lam * self.up
        if self.end is not None:
            e = slice(2 * (nf - self.end.n), 2 * nf, 2)
            radius = case.wall if case.orifice is None else case.orifice.collection
            total = self.flux + 0.5 * np.pi * case.wall**2 * case.ca
            rhs[e] -= 2 * total / (np.pi * radius**2) * (1 - (self.end.tr / radius) ** 2)
        self.rhs = rhs
        # Unit normal out of the inner liquid as a density (times ds/dt): the null vector of constant pressure.
        e2 = self.el
        zt = sum(m * e2.zc[:, m] * t ** (m - 1) for m in range(1, 6))
        rt = sum(m * e2.rc[:, m] * t ** (m - 1) for m in range(1, 6))
        self.null = np.zeros(2 * nf)
        n_in = np_ + self.inner_nodes
        self.null[0 : 2 * n_in : 2], self.null[1 : 2 * n_in : 2] = -rt[:n_in], zt[:n_in]
        # The outer liquid alone (for its traction): no double layer of the plug, whose outer side is at rest.
        self.rhs_outer = np.zeros(2 * nf)
        self.rhs_outer[0::2] = background(case, self.el.tz, self.el.tr)
        if self.end is not None:
            self.rhs_outer[e] = rhs[e] + case.lam * (d_ff @ self.up_ds)[e]

    def spacing(self, z, r):
        """Greatest distance of interface nodes that the film between interface and orifice allows."""
        if self.outline is None:
            return np.full(np.shape(z), np.inf)
        return self.case.gap * np.maximum(self.outline.distance(z, r), self.case.film)

    def _on_plug(self):
        """All fixed nodes as targets of the plug's elements, the plug's own first and singular."""
        e = self.el
        n = self.plug.n
        selfe = -np.ones((e.n, 2), np.int64)
        selfe[:n] = self.plug.selfe
        return Elements(e.zc, e.rc, e.sten, e.sgn, e.shp, 0, e.tz, e.tr, selfe, e.selft)


class System:
    """Reduced interface problem a u = beff - geff (f + dt F' u_n), reusable for several dt.

    """

    FLUX_WEIGHT = 5.0

    def __init__(self, surf, a, geff, beff, flux):
        self.surf, self.a, self.geff, self.beff = surf, a.copy(), geff, beff.copy()
        # The flux through the interface has the small eigenvalue lambda: discretisation errors in it would grow as
        # 1/lambda. Adding weight * n (flux of u - Q)/area, zero for the exact solution, moves that eigenvalue.
        w = surf.flux_weights()
        row = np.empty(2 * surf.n)
        row[0::2], row[1::2] = w * surf.nz, w * surf.nr
        nrm = np.empty(2 * surf.n)
        nrm[0::2], nrm[1::2] = surf.nz, surf.nr
        k = self.FLUX_WEIGHT / w.sum()
        self.a += k * np.outer(nrm, row)
        self.beff += k * flux * nrm
        self.f = surf.traction()
        self.gop = geff @ surf.traction_operator(float(w @ surf.kappa / w.sum()))

    def velocity(self, dt):
        s = self.surf
        n = s.n
        m = self.a.copy()
        if dt > 0:
            m[:, 0::2] += dt * self.gop * s.nz[None, :]
            m[:, 1::2] += dt * self.gop * s.nr[None, :]
        rhs = self.beff - self.geff @ self.f
        if s.left == "free":
            m[:2] = 0.0
            m[0, 0] = m[1, 1] = 1.0
            rhs[:2] = 0.0
        for i, on in ((0, s.axis[0]), (n - 1, s.axis[-1])):
            if on:
                m[2 * i + 1] = 0.0
                m[2 * i + 1, 2 * i + 1] = 1.0
                rhs[2 * i + 1] = 0.0
        u = np.linalg.solve(m, rhs)
        return u, u[0::2] * s.nz + u[1::2] * s.nr


def system(fixed, surf):
    """Assemble the reduced interface problem."""
    case = fixed.case
    lam = case.lam
    n = surf.n
    double = abs(lam - 1) > 1e-12
    es = surf.elements()
    gss, dss = influence(es, es, double)
    gsf, _ = influence((surf.z, surf.r), fixed.el, False)
    gfs, dfs = influence((fixed.el.tz, fixed.el.tr), es, double)
    _, dsp = influence((surf.z, surf.r), fixed.plug, True)
    b = -lam * (dsp @ fixed.up_ds)
    b[0::2] += background(case, surf.z, surf.r)
    right = [gfs, fixed.rhs[:, None]] + ([dfs] if double else [])
    inv = sla.lu_solve(fixed.lu, np.concatenate(right, axis=1))
    geff = gss - gsf @ inv[:, : 2 * n]
    beff = b - gsf @ inv[:, 2 * n]
    a = 0.5 * (1 + lam) * np.eye(2 * n)
    if double:
        a -= (1 - lam) * (dss - gsf @ inv[:, 2 * n + 1 :])
    return System(surf, a, geff, beff, fixed.flux)


def move(surf, un, dt):
    """Nodes moved along their normals."""
    return Surface(surf.z + dt * un * surf.nz, surf.r + dt * un * surf.nr, surf.left, surf.right)
