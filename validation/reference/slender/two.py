"""A thread of two fields without inertia, the mean velocity u of its sections and the velocity of its surface, in an outer liquid by rays (`rays`).

Units R, gamma, mu_o; lam the inner viscosity. In a section the velocity is a parabola, u + q (2 r^2/a - 1), so that the surface's is u + q. All
viscous forces are the slopes of one dissipation (`balance` has q = (alpha - 1) u of a straight annulus instead):

    inner   lam pi int { P^2/2 + 2 P S/3 + S^2/4 + a (3 w^2 + K B^2/3) } dz,   w = u' - q a'/a,  B = 2 q' - 2 q a'/a,
            P = 4 q - a (u'' - q'')/2,  S = -a (B' - B a'/a)/4
    outer   least dissipation of a liquid whose stream function on the surface is a u/2 and whose velocity there is (u + q, -h w/2),
            in the slip past the flow of one liquid

w is the mean and w - B/2 + B r^2/a the local rate of stretching, P r/a + S r^3/a^2 the rate of shear with the radial velocity's part: the
dissipation of that parabola to second order in the slope. It is exact for a sphere that deforms affinely (3 lam E^2 a volume) and for Hill's
flow in one that moves (6; elementary, `python -m slender.two`). K: other profiles than the parabola relax B. K = 13/16 makes slow flow in a
cone whose surface is at rest exact to second order (1 + 11/6 tan^2 of Poiseuille's dissipation; elementary); nothing is fitted.
The stream pulls at the surface with its own traction, whose work on the inner liquid is that of the stream's strain within the thread at the outer
viscosity, whatever the inner one is (Gauss' theorem).
"""

from dataclasses import dataclass

import numpy as np

from .balance import PI, tension, tension_by_length
from .rays import about

RELAXED = 13 / 16  # K


@dataclass(frozen=True)
class Two:
    free: int = 2  # free profiles along a ray
    fine: float = 0.7  # how densely the rays stand


def inner(z, node, a):
    """Matrices of the inner dissipation, of shear and of stretch, in (u, q) of the nodes, interleaved; lam not in it."""
    n, d = len(a), np.diff(z)
    flare, span = np.diff(node) / d / a, 0.5 * (d[1:] + d[:-1])
    w, b = np.zeros((n, 2, 2)), np.zeros((n, 2, 2))  # cell, node, field
    w[:, 0, 0], w[:, 1, 0] = -1 / d, 1 / d
    w[:, :, 1] = -0.5 * flare[:, None]
    b[:, 0, 1], b[:, 1, 1] = -2 / d - flare, 2 / d - flare
    bent = np.stack([1 / d[:-1], -1 / d[1:] - 1 / d[:-1], 1 / d[1:]], 1) / span[:, None]
    p, s = np.zeros((n - 1, 3, 2)), np.zeros((n - 1, 3, 2))  # inner node, node, field
    p[:, :, 0], p[:, :, 1] = -0.5 * node[1:-1, None] * bent, 0.5 * node[1:-1, None] * bent
    p[:, 1, 1] += 4
    mean, by = 0.25 * (flare[1:] + flare[:-1]), -0.25 * node[1:-1]
    s[:, :2] += (by * (-1 / span - mean))[:, None, None] * b[:-1]
    s[:, 1:] += (by * (1 / span - mean))[:, None, None] * b[1:]
    shear, stretch = np.zeros((2 * n + 2, 2 * n + 2)), np.zeros((2 * n + 2, 2 * n + 2))
    for matrix, rows, weight in ((shear, p + 2 / 3 * s, 0.5 * PI * span), (shear, s, PI * span / 36),
                                 (stretch, w, 3 * PI * a * d), (stretch, b, RELAXED * PI * a * d / 3)):
        rows = (rows * np.sqrt(weight)[:, None, None]).reshape(len(rows), -1)
        at = 2 * np.arange(len(rows))
        for i in range(rows.shape[1]):
            for j in range(rows.shape[1]):
                matrix[at + i, at + j] += rows[:, i] * rows[:, j]
    shear[1, 1] += 4 * PI * d[0]
    return shear, stretch


def solve(device, z, v, form=Two(), dt=0.0, surface=1.0, stream=1.0, known=None):
    """Mean velocities of the nodes and their squared radii, as `balance.solve`; for several `dt` a list of velocities. `known` (a dict with both
    fields at "x", interleaved) is given the power that each part spends there, both fields found at "found", and the share of places where
    rays cross."""
    lam, n = device.ratio, len(v)
    d = np.diff(z)
    a = v / (PI * d)
    node = np.concatenate([[1.0], (a[:-1] * d[1:] + a[1:] * d[:-1]) / (d[1:] + d[:-1]), [0.0]])
    at = np.maximum(node, 1e-3 * a[-1])
    f = np.clip(device.share(z, at), 1e-12, 1 - 1e-9)
    f_a = (device.share(z, at * (1 + 1e-4)) - device.share(z, at * (1 - 1e-4))) / (2e-4 * at)
    lost, entry = device.lost(z), device.inner / PI
    mean = device.total * f / (PI * at) * (1 - lost * (1 - f))
    x0 = np.empty(2 * (n + 1))
    x0[0::2], x0[1::2] = mean, device.total * f_a / PI * (1 - lost * (1 - 2 * f)) - mean
    x0[-1] = 0.0

    shear, stretch = inner(z, node, a)
    outer, crossed = about(device, z, node, form.free, form.fine)
    if known is not None:
        x = known["x"]
        known.update(shear=lam * x @ shear @ x, stretch=lam * x @ stretch @ x, outer=x @ outer @ x, crossed=crossed)
    matrix = lam * (shear + stretch) + outer
    right = stream * ((outer + shear + stretch) @ x0)
    pull = surface * tension(d, v)
    right[0:-2:2] += pull
    right[2::2] -= pull
    x = np.zeros(2 * (n + 1))
    x[0], x[1] = stream * entry, -stream * entry  # Poiseuille's flow leaves the tip; at the pole q vanishes
    by = surface * tension_by_length(d, v) if np.any(np.greater(dt, 0)) else np.zeros((3, n))
    found = []
    for step in np.atleast_1d(dt):
        stiff, j = matrix.copy(), np.arange(n)
        for row, sign in ((j, step), (j + 1, -step)):
            for m in (-1, 0, 1):
                cell = np.arange(max(0, -m), n - max(0, m))
                stiff[2 * row[cell], 2 * (cell + m + 1)] -= sign * by[m + 1, cell]
                stiff[2 * row[cell], 2 * (cell + m)] += sign * by[m + 1, cell]
        at = x.copy()
        at[2:-1] = np.linalg.solve(stiff[2:-1, 2:-1], (right - stiff @ x)[2:-1])
        found.append(at)
    if known is not None:
        known["found"] = found[0]
    return ([x[0::2] for x in found] if np.ndim(dt) else found[0][0::2]), node


def main():
    z = np.linspace(0, 1, 401)
    a = np.diff(z - z**3 / 3) / np.diff(z)
    node = 1 - z**2
    for name, u, q, exact in (("deforms", z, 0 * z, 3.0), ("moves", 0 * z, z**2 - 1, 6.0)):
        x = np.column_stack([u, q]).ravel()
        print(f"half a sphere that {name}: inner {sum(x @ m @ x for m in inner(z, node, a)) / (2 * PI / 3):.3f} (exact {exact})")
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
