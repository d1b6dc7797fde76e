"""Boundaries that do not move: the thin-walled tip and its plug, the outer wall and its far end."""

import numpy as np

from .elements import Elements, hermite, stencils


def curve(f, n):
    """Elements on a smooth parametric curve f(xi), 0 <= xi <= 1, unknown (density times ds/dt) at the middle of each.

    f returns (z, r, dz, dr, d2z, d2r) with respect to xi. Where the parametrisation is quadratic at an end, an edge
    singularity like 1/sqrt(distance) becomes smooth in the unknown.
    """
    xi = np.linspace(0.0, 1.0, n + 1)
    h = 1.0 / n
    z, r, dz, dr, d2z, d2r = f(xi)
    zc = hermite(z, dz * h, d2z * h * h)
    rc = hermite(r, dr * h, d2r * h * h)
    sten, sgn, shp = stencils(n, n, 0.5, "free", "free")
    t = 0.5 ** np.arange(6)
    selfe = np.stack([np.arange(n), -np.ones(n)], axis=1).astype(np.int64)
    selft = np.full((n, 2), 0.5)
    return Elements(zc, rc, sten, sgn, shp, 0, zc @ t, rc @ t, selfe, selft)


def join(parts):
    """One boundary out of several; densities do not cross from one to the next."""
    node, el = 0, 0
    sten, selfe = [], []
    for p in parts:
        sten.append(p.sten + node)
        selfe.append(np.where(p.selfe >= 0, p.selfe + el, -1))
        node += p.n
        el += len(p.zc)
    cat = lambda name: np.concatenate([getattr(p, name) for p in parts])
    return Elements(
        cat("zc"), cat("rc"), np.concatenate(sten), cat("sgn"), cat("shp"), parts[0].metric,
        cat("tz"), cat("tr"), np.concatenate(selfe), cat("selft"),
    )


def tube_inner(length, n, radius=1.0):
    """Cylinder from -length to the rim at 0, nodes crowding quadratically at the rim: the tip's bore, or its outside."""

    def f(x):
        y = 1.0 - x
        o = np.ones_like(x)
        # -length (0.35 y^2 + 0.65 y^2 (2 - y) ...) keeps the spacing at the plug moderate: z = -length y^2 (3 - y)/2.
        return (-length * y**2 * (3 - y) / 2, radius * o, length * (6 * y - 3 * y**2) / 2, 0 * o,
                -length * (6 - 6 * y) / 2, 0 * o)

    return curve(f, n)


def tube_outer(inner, length, first, n, radius=1.0):
    """The rest of the tip, from -length to -inner, spacing growing geometrically away from there."""
    span = length - inner
    lo, hi = 1e-6, 60.0
    for _ in range(200):
        b = 0.5 * (lo + hi)
        if span * np.expm1(b / n) / np.expm1(b) > first:
            lo = b
        else:
            hi = b

    def f(x):
        y = 1.0 - x
        e = np.exp(b * y) * span / np.expm1(b)
        o = np.ones_like(x)
        return (-inner - (e - span / np.expm1(b)), radius * o, b * e, 0 * o, -b * b * e, 0 * o)

    return curve(f, n)


def disk(z, radius, n, outward):
    """Flat disk; outward +1 runs from axis to edge (normal along -z), -1 the other way; quadratic crowding at the edge."""

    def f(x):
        y = x if outward > 0 else 1.0 - x
        s = 1.0 if outward > 0 else -1.0
        o = np.ones_like(x)
        return (z * o, radius * (1 - (1 - y) ** 2), 0 * o, s * radius * 2 * (1 - y), 0 * o, -2 * radius * o)

    return curve(f, n)


def wall(radius, z_up, z_down, near, n_max):
    """Outer cylinder from z_up to z_down: spacing `near` throughout if n_max allows, else growing away from the tip.

    The growing map is z = a sinh(b (xi - xi0)) with a b / n = near at the tip's plane.
    """
    total = z_down - z_up
    n = int(np.ceil(total / near))
    if n <= n_max:
        return curve(lambda x: (z_up + total * x, radius + 0 * x, total + 0 * x, 0 * x, 0 * x, 0 * x), n)
    n = n_max
    lo, hi = 1e-3, 60.0
    for _ in range(200):
        b = 0.5 * (lo + hi)
        a = near * n / b
        if np.arcsinh(-z_up / a) + np.arcsinh(z_down / a) > b:
            lo = b
        else:
            hi = b
    x0, x1 = np.arcsinh(-z_up / a), np.arcsinh(z_down / a)
    k = x0 + x1

    def f(x):
        y = k * x - x0
        o = np.ones_like(x)
        return (a * np.sinh(y), radius * o, a * k * np.cosh(y), 0 * o, a * k * k * np.sinh(y), 0 * o)

    return curve(f, n)


def face(inner, outer, n):
    """The tip's face: a flat ring at z = 0 from the bore's rim to the outer corner, quadratic crowding at both."""
    return segment((0.0, inner), (0.0, outer), n)


def segment(start, end, n, crowd=(True, True)):
    """Straight piece between two points (z, r), nodes crowding quadratically at the ends asked for."""
    (z0, r0), (z1, r1) = start, end

    def f(x):
        o = np.ones_like(x)
        if all(crowd):
            g, g1, g2 = x**2 * (3 - 2 * x), 6 * x * (1 - x), 6 - 12 * x
        elif crowd[0]:
            g, g1, g2 = x**2, 2 * x, 2 * o
        elif crowd[1]:
            g, g1, g2 = 1 - (1 - x) ** 2, 2 * (1 - x), -2 * o
        else:
            g, g1, g2 = x, o, 0 * o
        dz, dr = z1 - z0, r1 - r0
        return z0 + dz * g, r0 + dr * g, dz * g1, dr * g1, dz * g2, dr * g2

    return curve(f, n)


def rounded(z, r, radius, n):
    """Quarter circle about (z, r) from the plate's face (z - radius, r) to the hole's wall (z, r - radius)."""
    a = 0.5 * np.pi

    def f(x):
        c, s = np.cos(a * x), np.sin(a * x)
        return (z - radius * c, r - radius * s, radius * a * s, -radius * a * c, radius * a * a * c, radius * a * a * s)

    return curve(f, n)
