"""How a viscous thread resists stretching where it is steep: Stokes flow in dumbbells of one liquid in (nearly) nothing.

    python -m stokes_bem.steep_foot FILE

Capillarity alone drives the flow, so that the axial force through every cross-section is nothing: what the surface pulls with,
T = pi h^2 (1 + (h h')' )/(1 + h'^2)^(3/2) (over h), is what stretching resists with, 3 mu pi h^2 f u_z, and f = -T/(3 mu pi h^2 u_z) with u
the flow through the section over its area. Shapes: level curves of two poles at +-c, |r - c|^(-2k) + |r + c|^(-2k), neck radius r0.
"""

import csv
import sys

import numpy as np
from scipy.interpolate import make_interp_spline
from scipy.optimize import brentq

from .elements import influence
from .surface import Surface, remesh

RATIO = 300.0
SHAPES = ((1.1, 1.0, 0.3), (1.1, 2.0, 0.3), (1.1, 2.0, 0.1), (1.1, 4.0, 0.2), (2.0, 0.5, 0.3))
PLACES = (0.0, 0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0)


def dumbbell(c, k, r0, n=400):
    """The level curve whose neck has radius r0, from rays through the middle of the neck."""
    level = lambda z, r: ((z - c) ** 2 + r * r) ** -k + ((z + c) ** 2 + r * r) ** -k
    at_neck, angles, reach = level(0, r0), np.linspace(0, np.pi, n), []
    for angle in angles:
        on_ray = lambda s: level(s * np.cos(angle), s * np.sin(angle)) - at_neck
        s = np.geomspace(4 * c + 4, 0.5 * r0, 4000)
        first = np.argmax(on_ray(s) > 0)
        reach.append(brentq(on_ray, s[first], s[first - 1], xtol=1e-14))
    reach = np.array(reach)
    r = reach * np.sin(angles)
    r[0] = r[-1] = 0.0
    return Surface(-reach * np.cos(angles), r, "axis", "axis")


def normal_velocity(s, lam):
    """Of a free drop lam times as viscous as what is around it, which has viscosity 1."""
    n, e = s.n, s.elements()
    g, d = influence(e, e, True)
    a = (1 + lam) / 2 * np.eye(2 * n) - (1 - lam) * d
    w, row, out = s.flux_weights(), np.empty(2 * n), np.empty(2 * n)
    row[0::2], row[1::2], out[0::2], out[1::2] = w * s.nz, w * s.nr, s.nz, s.nr
    a += 5 * lam / w.sum() * np.outer(out, row)  # the flux through a closed surface is none
    f = -g @ s.traction()
    for i in (0, n - 1):
        a[2 * i + 1] = 0.0
        a[2 * i + 1, 2 * i + 1] = 1.0
        f[2 * i + 1] = 0.0
    u = np.linalg.lstsq(a, f, rcond=1e-13)[0]
    return u[0::2] * s.nz + u[1::2] * s.nr


def factor(s, lam=RATIO):
    """z, h, h', h h'' and f along a drop."""
    n = s.n
    whole = lambda q, sign: np.concatenate([sign * q[:0:-1], q, sign * q[-2::-1]])
    i = np.arange(1 - n, 2 * n - 1)
    z, r, v = (make_interp_spline(i, whole(q, sign), k=5) for q, sign in ((s.z, 1), (s.r, -1), (normal_velocity(s, lam), 1)))
    x = np.linspace(0, n - 1, 200 * (n - 1) + 1)
    rate = 2 * np.pi * r(x) * np.hypot(z(x, 1), r(x, 1)) * v(x)
    through = -np.concatenate([[0], np.cumsum(0.5 * (rate[1:] + rate[:-1]) * np.diff(x))])
    keep = (r(x) > 1e-3) & (z(x, 1) > 1e-6)
    x, through = x[keep], through[keep]
    h, slope = r(x), r(x, 1) / z(x, 1)
    bend = (r(x, 2) * z(x, 1) - r(x, 1) * z(x, 2)) / z(x, 1) ** 3
    stretch = np.gradient(through / (np.pi * h * h), z(x))
    root = np.sqrt(1 + slope**2)
    pull = np.pi * h / root + np.pi * h * h * bend / root**3
    return z(x), h, slope, h * bend, -pull / (3 * lam * np.pi * h * h * stretch)


def main(path):
    with open(path, "w", newline="") as file:
        file.write("# own computation: Stokes flow in dumbbells (validation/reference/stokes_bem/steep_foot.py), viscosity ratio 300\n")
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["c", "k", "neck", "z", "h", "slope", "h_times_second_derivative", "factor"])
        for c, k, r0 in SHAPES:
            z, *values = factor(remesh(dumbbell(c, k, r0), 0.12, 0.1, 0.15))
            for place in PLACES:
                j = np.argmin(abs(z - place))
                out.writerow([c, k, r0, place, *(f"{q[j]:.5g}" for q in values)])


if __name__ == "__main__":
    main(sys.argv[1])
