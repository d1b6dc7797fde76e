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


def tube_inner(length, n):
    """Tip from the plug at -length to the rim at 0, radius 1, nodes crowding quadratically at the rim."""

    def f(x):
        y = 1.0 - x
        o = np.ones_like(x)
        # -length (0.35 y^2 + 0.65 y^2 (2 - y) ...) keeps the spacing at the plug moderate: z = -length y^2 (3 - y)/2.
        return (-length * y**2 * (3 - y) / 2, o, length * (6 * y - 3 * y**2) / 2, 0 * o,
                -length * (6 - 6 * y) / 2, 0 * o)

    return curve(f, n)


def tube_outer(inner, length, first, n):
    """The rest of the tip, from -length to -inner, spacing growing geometrically away from the plug."""
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
        return (-inner - (e - span / np.expm1(b)), o, b * e, 0 * o, -b * b * e, 0 * o)

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
