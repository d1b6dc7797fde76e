"""A thread of two fields without inertia: the mean velocity u of its sections and the velocity of its surface.

Units R, gamma, mu_o; lam the inner viscosity. In a section the velocity is a parabola, u + q (2 r^2/a - 1), so that the surface's is u + q. All
viscous forces are the slopes of one dissipation (`balance` has q = (alpha - 1) u of a straight annulus instead):

    inner   lam pi int { P^2/2 + 2 P S/3 + S^2/4 + a (3 w^2 + K B^2/3) } dz,   w = u' - q a'/a,  B = 2 q' - 2 q a'/a,
            P = 4 q - a (u'' - q'')/2,  S = -a (B' - B a'/a)/4
    outer   int { pi D(u + q, u) + pi c_E a w^2 } dz, in the slip past the flow of one liquid

w is the mean and w - B/2 + B r^2/a the local rate of stretching, P r/a + S r^3/a^2 the rate of shear with the radial velocity's part: the
dissipation of that parabola to second order in the slope. It is exact for a sphere that deforms affinely (3 lam E^2 a volume) and for Hill's
flow in one that moves (6; elementary, `python -m slender.two`). K: other profiles than the parabola relax B. K = 13/16 makes slow flow in a
cone whose surface is at rest exact to second order (1 + 11/6 tan^2 of Poiseuille's dissipation; elementary); nothing is fitted.
D: slow flow of an annulus whose inner side moves at u + q and that takes back the flow pi a u. Its outer side is the nearest glass,
h + s E phi/sin(phi): s the distance, phi the angle between surface and glass, E^2 = 4/p (`src/device/hole.rs`: 4/3 before a hole, 1 in it: a
plate's edge is the nearest glass, but the plate draws back from it, Sampson's flow), or the tip's face. D is multiplied with what
slow flow in a wedge of the angle phi has of lubrication's: pressure phi^3 cos(phi)/(3 (sin phi - phi cos phi)) where liquid passes and
phi^2 sin^2(phi)/(3 (phi^2 - sin^2 phi)) where a side moves, shear phi^2 sin(phi)/(3 (sin phi - phi cos phi)) and
phi (phi - sin phi cos phi)/(2 (phi^2 - sin^2 phi)) (elementary), pressure along the surface (1/cos of its angle).
Where it falls short: blunt ends. A sphere that deforms in a liquid at rest spends 4.5 E^2 a volume there, D and c_E 1.9.
Of the inner liquid the stream's shear stress is passed on whole, of its stretch 2 lam/(1 + lam) (as in `src/thread/outer`).
"""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix, diags
from scipy.sparse.linalg import spsolve

from .balance import MOST, PI, reached, tension, tension_by_length, wedge
from .stream import DECAY, PLANE, ramp

RELAXED = 13 / 16  # K


@dataclass(frozen=True)
class Two:
    edge: bool = True  # E
    face: bool = True  # the tip's face as glass


def annulus(y):
    """D = k11 s^2 + 2 k12 s u + k22 u^2, s the surface's velocity; flow G (r^2 - 1)/4 + C ln r in the radius of the glass."""
    ln, b = -0.5 * np.log(y), 1 - y
    m11, m12, m21, m22 = -b / 4, -ln, -b * b / 16, -b / 4 + y * ln / 2
    det = m11 * m22 - m12 * m21
    g_s, c_s, g_u, c_u = m22 / det, -m21 / det, 0.5 * y * m12 / det, -0.5 * y * m11 / det
    return -2 * (g_s * y / 2 + c_s), -(g_u * y / 2 + c_u) + 0.5 * y * g_s, y * g_u


def _around(device, form, middle, a):
    """Radius of the glass for the drag and for c_E, distance for the film, and the wedge's factor."""
    h, wall = np.sqrt(a), device.wall(middle)[0]
    if device.orifice is None:
        return wall, wall, wall, np.ones(len(a))
    gap, along = device.glass(middle, h)
    own = np.arctan2(0.5 * np.gradient(a, middle) / h, 1.0)
    phi = np.clip(np.abs(own - along), 1e-3, 2.5)
    outside = ramp(-DECAY * ((middle - device.orifice.standoff) / device.orifice.radius - PLANE))[1] if form.edge else 0.0
    far = np.minimum(h + gap * phi / np.sin(phi) * np.sqrt(4 / (4 - outside)), device.channel)
    way, near = wedge(a, far, phi, own, device.ratio), far
    if form.face:
        to_tip = np.where(h < device.tip, middle, np.hypot(middle, h - device.tip))
        open_ = np.clip(0.5 * PI - own, 1e-3, 2.5)
        near = np.minimum(far, h + to_tip * open_ / np.sin(open_))
    return near, far, h + gap, way


def solve(device, z, v, form=Two(), dt=0.0, surface=1.0, stream=1.0, known=None):
    """Mean velocities of the nodes and their squared radii, as `balance.solve`. `known` (a dict with both fields at "x", interleaved) is
    given the power that each part spends there, and both fields found at "found"."""
    lam, n = device.ratio, len(v)
    d, middle = np.diff(z), 0.5 * (z[1:] + z[:-1])
    a = v / (PI * d)
    node = np.concatenate([[1.0], (a[:-1] * d[1:] + a[1:] * d[:-1]) / (d[1:] + d[:-1]), [0.0]])
    flare = np.diff(node) / d / a
    near, far, film_at, way = _around(device, form, middle, a)
    c_far = np.minimum(a / far**2, MOST)
    c_e = 1 + 5.9 / (1 + lam / 0.3) * c_far / (1 - c_far)
    k11, k12, k22 = annulus(reached(a, d, near, lam))
    at = np.maximum(node, 1e-3 * a[-1])
    f = np.clip(device.share(z, at), 1e-12, 1 - 1e-9)
    f_a = (device.share(z, at * (1 + 1e-4)) - device.share(z, at * (1 - 1e-4))) / (2e-4 * at)
    lost, entry = device.lost(z), device.inner / PI
    mean = device.total * f / (PI * at) * (1 - lost * (1 - f))
    x0 = np.empty(2 * (n + 1))
    x0[0::2], x0[1::2] = mean, device.total * f_a / PI * (1 - lost * (1 - 2 * f)) - mean
    x0[-1] = 0.0

    size = 2 * (n + 1)
    j, k = np.arange(n), np.arange(1, n)
    u, q = lambda i: 2 * i, lambda i: 2 * i + 1

    def rows(count, *entries):
        row, column, value = (np.concatenate([np.broadcast_to(e[m], e[1].shape) for e in entries]) for m in range(3))
        return csr_matrix((value, (row, column)), shape=(count, size))

    def square(m, weight, other=None):
        return m.T @ diags(weight) @ (m if other is None else other)

    span = 0.5 * (d[1:] + d[:-1])
    w = rows(n, (j, u(j + 1), 1 / d), (j, u(j), -1 / d), (j, q(j), -0.5 * flare), (j, q(j + 1), -0.5 * flare))
    b = rows(n, (j, q(j + 1), 2 / d - flare), (j, q(j), -2 / d - flare))
    bent = rows(n - 1, *((k - 1, field(k + m), sign * c) for field, sign in ((u, 1), (q, -1)) for m, c in
                         ((1, 1 / span / d[1:]), (0, -1 / span * (1 / d[1:] + 1 / d[:-1])), (-1, 1 / span / d[:-1]))))
    p = rows(n - 1, (k - 1, q(k), 4.0)) - 0.5 * diags(node[k]) @ bent
    mean_flare = 0.5 * (flare[1:] + flare[:-1])
    s = -0.25 * diags(node[k]) @ (diags(1 / span) @ (b[1:] - b[:-1]) - diags(0.5 * mean_flare) @ (b[1:] + b[:-1]))
    both = square(p, PI * span, s) / 3
    shear = 0.5 * square(p, PI * span) + both + both.T + 0.25 * square(s, PI * span)
    shear = shear + square(rows(1, (np.zeros(1, int), np.array([1]), 1.0)), np.array([4 * PI * d[0]]))
    stretch = square(w, 3 * PI * a * d) + RELAXED * square(b, PI * a * d / 3)
    drag, half = csr_matrix((size, size)), 0.5 * PI * d * way
    for i in (j, j + 1):
        of_u, of_s = rows(n, (j, u(i), 1.0)), rows(n, (j, u(i), 1.0), (j, q(i), 1.0))
        mixed = square(of_s, half * k12, of_u)
        drag = drag + square(of_s, half * k11) + mixed + mixed.T + square(of_u, half * k22)
    normal = square(w, PI * c_e * a * d)
    if known is not None:
        x = known["x"]
        known.update({name: x @ (m @ x) for name, m in (("shear", lam * shear), ("stretch", lam * stretch), ("drag", drag), ("normal", normal))})

    outer = drag + normal
    matrix = lam * (shear + stretch) + outer
    right = stream * (outer @ x0 + shear @ x0 + 2 * lam / (1 + lam) * (stretch @ x0))
    pull = surface * tension(d, v)
    pressed = np.clip((a / film_at**2 - 0.81) / 0.19, 0, 0.999)
    film = surface * pressed**2 / (1 - pressed) / film_at
    right[0:-2:2] += pull
    right[2::2] -= pull
    right[2:-2:2] += PI * node[k] * (film[:-1] - film[1:])
    if dt > 0:
        by = surface * dt * tension_by_length(d, v)
        entries = []
        for row, sign in ((j, 1), (j + 1, -1)):
            for m in (-1, 0, 1):
                cell = np.arange(max(0, -m), n - max(0, m))
                entries += [(2 * row[cell], u(cell + m + 1), -sign * by[m + 1, cell]), (2 * row[cell], u(cell + m), sign * by[m + 1, cell])]
        matrix = matrix + rows(size, *entries)
    x = np.zeros(size)
    x[0], x[1] = stream * entry, -stream * entry  # Poiseuille's flow leaves the tip; at the pole q vanishes
    free = np.arange(2, size - 1)
    x[free] = spsolve(matrix.tocsr()[free][:, free].tocsc(), (right - matrix @ x)[free])
    if known is not None:
        known["found"] = x
    return x[0::2], node


class _Alone:
    """Nothing about a body: for `main`."""

    orifice, ratio, channel, tip, total, inner = None, 1.0, 1e4, 1.0, 0.0, 0.0

    def wall(self, z):
        return np.full_like(z, 1e4), 0 * z

    def share(self, z, a):
        return 0 * a

    def lost(self, z):
        return 0 * z


def main():
    z = np.linspace(0, 1, 401)
    v = PI * np.diff(z - z**3 / 3)
    for name, u, q, inner, outer in (("deforms", z, 0 * z, 3.0, "4.5"), ("moves", 0 * z, z**2 - 1, 6.0, "-")):
        known = dict(x=np.column_stack([u, q]).ravel())
        solve(_Alone(), z, v, known=known)
        part = {k: known[k] / (2 * PI / 3) for k in ("shear", "stretch", "drag", "normal")}
        print(f"half a sphere that {name}: inner {part['shear'] + part['stretch']:.3f} (exact {inner}), outer {part['drag'] + part['normal']:.3f} (exact {outer})")
    # a cone whose surface is at rest, z from its apex: all in powers of z, so that the fields' derivatives are known
    z, slope = 1.0, 1e-3
    a, u, flare = (slope * z) ** 2, z**-2, 2 / z
    q, q1, q2, u2 = -u, 2 * z**-3, -6 * z**-4, 6 * z**-4
    b, b1 = 2 * q1 - 2 * q * flare, 8 * -3 * z**-4
    p, s = 4 * q - a * (u2 - q2) / 2, -a * (b1 - b * flare) / 4
    spent = p * p / 2 + 2 * p * s / 3 + s * s / 4 + a * RELAXED * b * b / 3
    print(f"a cone whose surface is at rest: 1 + {(spent / (8 * u * u) - 1) / slope**2:.4f} tan^2 of Poiseuille's dissipation (exact {11 / 6:.4f})")


if __name__ == "__main__":
    main()
