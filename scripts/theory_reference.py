#!/usr/bin/env python3
"""Arbitrary-precision reference values for `src/theory`, at parameters that no other table of the project has.

Written from the boundary conditions and the textbook relations themselves, not from the rearranged forms that the Rust code
uses; 60 digits (mpmath). Rewrites the tables in validation/off_table/:

    pip install mpmath
    python3 scripts/theory_reference.py
"""
import random
from pathlib import Path

from mpmath import besseli, besselk, log, lu_solve, matrix, mp, mpf, nstr, pi, quad, sqrt

mp.dps = 60
HERE = Path(__file__).resolve().parent.parent / "validation" / "off_table"
SOURCE = "own computation, mpmath, 60 digits, scripts/theory_reference.py"


def jet_residual(oh, x, w):
    """Rayleigh 1892, in the form of Chandrasekhar 1961 ch. XII: l^2 = k^2 + w/nu, units rho, gamma, R."""
    l2 = x * x + w / oh
    l = sqrt(l2)
    i0, i1 = besseli(0, x), besseli(1, x)
    slope_x, slope_l = i0 - i1 / x, besseli(0, l) - besseli(1, l) / l
    bracket = slope_x - 2 * x * l / (l2 + x * x) * i1 / besseli(1, l) * slope_l
    left = w * w + 2 * oh * x * x / i0 * bracket * w
    return left - x * (1 - x * x) * i1 / i0 * (l2 - x * x) / (l2 + x * x)


def jet_growth(oh, x):
    """Bisection in ln w between bounds that hold the growing root (the relation also has the trivial root w = 0)."""
    low, high = mpf(10) ** -12 * x * x * (1 - x * x) / (1 + oh), mpf(1)
    f = lambda w: jet_residual(oh, x, w)
    sign = f(high) > 0
    assert (f(low) > 0) != sign
    for _ in range(170):
        middle = sqrt(low * high)
        if (f(middle) > 0) == sign:
            high = middle
        else:
            low = middle
    return sqrt(low * high)


def solution(kind, k, r):
    """u_r, u_z and stresses over the viscosity of an elementary Stokes solution (r I0, r K0 kept as they are)."""
    x = k * r
    if kind == "I1":
        i0, i1 = besseli(0, x), besseli(1, x)
        return i1, -i0, -2 * k * i1, 2 * (k * i0 - i1 / r)
    if kind == "rI0":
        i0, i1 = besseli(0, x), besseli(1, x)
        u, w = r * i0, -r * i1 - 2 * i0 / k
        return u, w, -x * i0 - 2 * i1 - k * u, -2 * i0 + 2 * (i0 + x * i1)
    k0, k1 = besselk(0, x), besselk(1, x)
    if kind == "K1":
        return k1, k0, -2 * k * k1, -2 * (k * k0 + k1 / r)
    u, w = r * k0, r * k1 - 2 * k0 / k
    return u, w, 2 * k1 - 2 * x * k0, -2 * k0 + 2 * (k0 - x * k1)


def stokes_growth(ratio, confinement, k):
    """Six conditions for a thread of radius 1 in a tube of radius 1/confinement; growth in gamma/(mu_o h)."""
    kinds = ["I1", "rI0", "K1", "rK0", "I1", "rI0"]
    rows = matrix(6, 6)
    for j, kind in enumerate(kinds):
        u, w, shear, normal = solution(kind, k, mpf(1))
        sign, viscosity = (1, ratio) if j < 2 else (-1, 1)
        rows[0, j], rows[1, j] = sign * u, sign * w
        rows[2, j], rows[3, j] = sign * viscosity * shear, sign * viscosity * normal
        if j >= 2:
            u, w, _, _ = solution(kind, k, 1 / confinement)
            rows[4, j], rows[5, j] = u, w
    scale = [1 / max(abs(rows[i, j]) for i in range(6)) for j in range(6)]
    for i in range(6):
        for j in range(6):
            rows[i, j] *= scale[j]
    unknown = lu_solve(rows, matrix([0, 0, 0, 1 - k * k, 0, 0]))
    return sum(unknown[j] * scale[j] * solution(kinds[j], k, mpf(1))[0] for j in range(2))


def spread(low, high, pick):
    """Log-uniform, three digits: the value in the table is the value used."""
    exponent = log(low, 10) + (log(high, 10) - log(low, 10)) * mpf(pick.random())
    return mpf(nstr(mpf(10) ** exponent, 3))


def jets(pick):
    corners = [(oh, x) for oh in ("1e-4", "1e-2", "1", "1e3") for x in ("1e-3", "0.5", "0.99")]
    points = [(mpf(a), mpf(b)) for a, b in corners]
    points += [(spread(1e-4, 1e3, pick), mpf(f"{pick.uniform(0.001, 0.99):.3g}")) for _ in range(60)]
    lines = [f"# viscous jet: growth rate in sqrt(gamma/(rho R^3)); {SOURCE}; relation: Rayleigh 1892, Chandrasekhar 1961", "oh,x,growth"]
    lines += [f"{nstr(oh, 6)},{nstr(x, 6)},{nstr(jet_growth(oh, x), 16)}" for oh, x in points]
    (HERE / "viscous_jet.csv").write_text("\n".join(lines) + "\n")


def threads(pick):
    points = [(mpf(a), mpf(b), mpf(c)) for a in ("1e-3", "1", "1e3") for b in ("1e-3", "0.5", "0.95") for c in ("1e-3", "0.5", "0.99")]
    points += [
        (spread(1e-3, 1e3, pick), spread(1e-3, 0.95, pick), mpf(f"{pick.uniform(0.001, 0.99):.3g}")) for _ in range(60)
    ]
    lines = [f"# two-liquid Stokes thread in a tube: growth in gamma/(mu_o h), x = h/R_w, k over h; {SOURCE}; six boundary conditions", "ratio,x,k,growth"]
    lines += [f"{nstr(r, 6)},{nstr(x, 6)},{nstr(k, 6)},{nstr(stokes_growth(r, x, k), 16)}" for r, x, k in points]
    (HERE / "stokes_thread.csv").write_text("\n".join(lines) + "\n")


def bessel():
    lines = [f"# l I0(l)/I1(l) and its slope with respect to l^2; {SOURCE}", "l,ratio,slope"]
    f = lambda s: sqrt(s) * besseli(0, sqrt(s)) / besseli(1, sqrt(s))
    for l in ("1e-3", "0.1", "0.5", "1", "3", "10", "58", "300", "2000"):
        s = mpf(l) ** 2
        step = s * mpf(10) ** -20
        slope = (f(s + step) - f(s - step)) / (2 * step)
        lines.append(f"{l},{nstr(f(s), 17)},{nstr(slope, 17)}")
    (HERE / "bessel_ratio.csv").write_text("\n".join(lines) + "\n")


def core_annular():
    lines = [f"# outer flow Q_o mu_o/(G R_w^4) of core-annular flow in narrow gaps; {SOURCE}; quadrature of the velocity", "x,weight,outer_flow"]
    for x, weight in ((mpf(a), mpf(b)) for a in ("0.9", "0.99", "0.999", "0.9999") for b in ("-1.6", "0", "0.7")):
        velocity = lambda r: (1 - r * r) / 4 - weight * x * x / 2 * log(r)
        flow = quad(lambda r: 2 * pi * r * velocity(r), [x, 1])
        lines.append(f"{nstr(x, 6)},{nstr(weight, 6)},{nstr(flow, 16)}")
    (HERE / "core_annular.csv").write_text("\n".join(lines) + "\n")


if __name__ == "__main__":
    HERE.mkdir(parents=True, exist_ok=True)
    bessel()
    core_annular()
    jets(random.Random(1))
    threads(random.Random(2))
