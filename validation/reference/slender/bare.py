"""The flow of one liquid through a device, from boundary elements: what `stream.Device.share` says in closed form, with the tip's own flow.

The closed form slips along the rim, where a thread of two fields does not.
"""

import dataclasses

import numpy as np
from scipy.interpolate import RectBivariateSpline
from scipy.linalg import lu_solve

from stokes_bem.elements import influence
from stokes_bem.flow import Fixed, background

from .stream import Device

ACROSS, FINE = 41, 4  # radii that are kept of each section, steps of the integral between them


class Bare(Device):
    """A case whose flow within a circle is a table in z and the circle's area."""

    def __init__(self, case):
        super().__init__(case)
        fixed, o = Fixed(dataclasses.replace(case, lam=1.0)), case.orifice
        q, end = lu_solve(fixed.lu, fixed.rhs), o.standoff + o.length
        near, far = max(o.standoff - 0.4, 0.05), end + 0.4
        z = np.unique(np.concatenate([np.linspace(0.03, near, 25), np.linspace(near, far, 45), np.linspace(far, end + o.widening + 6, 45)]))
        part, within = np.linspace(0, 1, ACROSS), np.zeros((len(z), ACROSS))
        for i, top in enumerate(self._greatest(z)):
            r = np.maximum(np.linspace(0, top, (ACROSS - 1) * FINE + 1), 1e-6)
            at = (np.full_like(r, z[i]), r)
            u = background(fixed.case, *at) - (influence(at, fixed.el, False)[0] @ q)[0::2] - (influence(at, fixed.plug, True)[1] @ fixed.up_ds)[0::2]
            ring = np.pi * np.diff(r) * (u[1:] * r[1:] + u[:-1] * r[:-1])
            within[i] = np.append(0.0, np.cumsum(ring))[::FINE] / self.total
        by_area = within[:, 1:] / part[1:] ** 2
        by_area = np.column_stack([2 * by_area[:, 0] - by_area[:, 1], by_area])
        self._ends, self._table = (z[0], z[-1]), RectBivariateSpline(z, part**2, by_area)

    def _greatest(self, z):
        """Radius up to which the table goes."""
        o = self.orifice
        return np.where(z < o.standoff, np.minimum(1.8, 0.995 * o.radius + 1.5 * np.maximum(o.standoff - z, 0.0)), 0.995 * self.bore(z))

    def share(self, z, a):
        z = np.clip(z, *self._ends)
        area = np.clip(a / self._greatest(z) ** 2, 0.0, 1.0)
        return np.clip(self._table.ev(z, area) * area, 0.0, 1.0)

    def lost(self, z):
        return 0 * z
