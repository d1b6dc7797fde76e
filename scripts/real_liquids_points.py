#!/usr/bin/env python3
"""Draws points of real liquids and computes them apart from the program: growth rates by a determinant, neck times by a method of lines.

    pip install numpy scipy mpmath
    python3 scripts/real_liquids_points.py growth > tests/data/real_liquids/drawn_growth.csv
    python3 scripts/real_liquids_points.py surfactant|carreau|polymer > tests/data/real_liquids/drawn_KIND.csv

Points are drawn from what laboratories use (ranges in `draw`, seeds fixed), and none is left out but threads that the surfactant makes stable.
Units: length R, time sqrt(rho R^3/gamma); Oh of the whole viscosity at rest; b the solvent's share of it.

Growth (full axisymmetric theory, own derivation): inside r < 1 a potential and a rotational part, u_r = -(k/s) P I1(kr) + B I1(lr),
u_z/i = -(k/s) P I0(kr) + (l/k) B I0(lr), l^2 = k^2 + s/Oh(s); at r = 1 the two stress balances with s g = -(i k u_z + u_r) - (k^2/Pe) g; the
determinant in (P, B) vanishes at s. 40 digits (mpmath).

Necks: the one-dimensional equations with the whole axial force of a section,
    a_t + (a u)_z = 0,  a (u_t + u u_z) = (gamma F + a Sigma)_z,  F = (a^2 (1 + a''/2))/(a + a'^2/4)^(3/2),
    Sigma = 3 Oh m(sqrt(3)|u_z|) u_z + G f (C - B);  C = X/a^2, B = Y a, DX/Dt = -(f X - a^2)/De, DY/Dt = -(f Y - 1/a)/De;
    (Gamma h S)_t + (Gamma h S u)_z = ((h/S) Gamma_z)_z/Pe,
start h = 1 + 0.01 cos kz at rest. Cells of equal length that do not move, method of lines, backward differentiation of variable order (SciPy);
two meshes, extrapolated as second order; `error` is what the extrapolation changed.
"""

import os
import sys

import numpy as np


def draw(kind, count=8):
    """Points of one kind: ranges of microfluidic jets and taps, and of the surfactants and polymers used there."""
    r = np.random.default_rng({"growth": 20261, "surfactant": 20262, "carreau": 20263, "polymer": 20264}[kind])
    log = lambda low, high: float(np.exp(r.uniform(np.log(low), np.log(high))))
    points = []
    while len(points) < count:
        p = {"kR": float(r.uniform(0.3, 0.9)), "Oh": log(0.03, 3.0)}
        if kind == "surfactant":
            p |= {"Pe": log(1e2, 1e5), "x": float(r.uniform(0.1, 0.7)) if r.random() < 0.5 else None, "E": log(0.02, 0.5)}
            if p["E"] > 1 - p["kR"] ** 2:
                continue
        elif kind == "carreau":
            p |= {"n": float(r.uniform(0.3, 0.95)), "lambda": log(0.1, 100.0)}
        else:
            p |= {"b": float(r.uniform(0.1, 0.95)), "De": log(0.1, 20.0), "L2": log(100.0, 1e5) if r.random() < 0.5 else None}
        points.append({key: value if value is None else float(f"{value:.4g}") for key, value in p.items()})
    return points


def growth():
    """Eight points with a surfactant and eight with a polymer."""
    import mpmath as mp

    mp.mp.dps = 40
    r = np.random.default_rng(20261)
    log = lambda low, high: float(f"{np.exp(r.uniform(np.log(low), np.log(high))):.4g}")
    print("# Growth rates of jets at drawn points; scripts/real_liquids_points.py growth")
    print("Oh,E,Pe,De,b,kR,s")
    for k in range(16):
        laden = k < 8
        oh, x = log(0.005, 30.0), float(f"{r.uniform(0.1, 0.95):.4g}")
        e, pe = (log(0.02, 2.0), log(10.0, 1e6)) if laden else (0.0, 1e9)
        de, b = (0.0, 1.0) if laden else (log(0.05, 50.0), float(f"{r.uniform(0.05, 0.95):.4g}"))

        def determinant(s):
            own = mp.mpf(oh) * (b + (1 - mp.mpf(b)) / (1 + de * s))
            kk = mp.mpf(x)
            l = mp.sqrt(kk * kk + s / own)
            i0, i1, j0, j1 = mp.besseli(0, kk), mp.besseli(1, kk), mp.besseli(0, l), mp.besseli(1, l)
            # (P, B) columns, at r = 1; u_z = i w
            ur, w = (-kk / s * i1, j1), (-kk / s * i0, l / kk * j0)
            # dw/dr, du_r/dr
            dw = (-kk * kk / s * i1, l * l / kk * j1)
            dur = (-kk / s * (kk * i0 - i1), l * j0 - j1)
            # pressure of P: p = P I0; g = -(i k u_z + u_r)/(s + k^2/Pe) = (k w - u_r)/(s + k^2/Pe)
            g = [(kk * wi - ui) / (s + kk * kk / pe) for wi, ui in zip(w, ur)]
            eta = [ui / s for ui in ur]
            p = (i0, mp.mpf(0))
            tangential = [own * (kk * ui + dwi) + kk * e * gi for ui, dwi, gi in zip(ur, dw, g)]
            normal = [pi - 2 * own * di + e * gi + (1 - kk * kk) * ei for pi, di, gi, ei in zip(p, dur, g, eta)]
            return tangential[0] * normal[1] - tangential[1] * normal[0]

        # the largest real root: from above, where no wave grows, down to the first change of sign
        grid = [mp.mpf(0.6) * mp.mpf(0.985) ** i for i in range(900)]
        values = [determinant(s) for s in grid]
        at = next(i for i in range(len(grid) - 1) if mp.sign(values[i]) != mp.sign(values[i + 1]))
        s = mp.findroot(determinant, (grid[at + 1], grid[at]), solver="anderson", tol=1e-50, maxsteps=200)
        print(f"{oh:g},{e:g},{'inf' if not laden else f'{pe:g}'},{de:g},{b:g},{x:g},{mp.nstr(s, 15)}", flush=True)


class Thread:
    """Half a wave between two mirrors: per cell a, velocity of the right face, and what the liquid carries."""

    def __init__(self, kind, p, cells):
        self.kind, self.p, self.n = kind, p, cells
        k, eps = p["kR"], 0.01
        self.d = np.pi / k / cells
        z = np.linspace(0, np.pi / k, cells + 1)
        whole = z * (1 + eps**2 / 2) + 2 * eps * np.sin(k * z) / k + eps**2 * np.sin(2 * k * z) / (4 * k)
        self.fields = {"surfactant": 3, "carreau": 2, "polymer": 4}[kind]
        self.start = np.zeros(self.fields * cells)
        a = np.diff(whole) / self.d
        self.start[0 :: self.fields] = a
        if kind == "surfactant":
            self.start[2 :: self.fields] = self.girth(a)[0]
        if kind == "polymer":
            self.start[2 :: self.fields], self.start[3 :: self.fields] = 2 * np.log(a), -np.log(a)

    def girth(self, a):
        """h S, and the parabola's slope and bend."""
        wide = np.concatenate(([a[0]], a, [a[-1]]))
        slope, bend = (wide[2:] - wide[:-2]) / (2 * self.d), (wide[2:] - 2 * a + wide[:-2]) / self.d**2
        middle = a - bend * self.d**2 / 24
        return np.sqrt(middle + slope**2 / 4), middle, slope, bend

    def slopes(self, _, y):
        f, d, p = self.fields, self.d, self.p
        a, u = y[0::f], np.concatenate(([0.0], y[1::f]))
        u[-1] = 0.0
        hs, middle, slope, bend = self.girth(a)
        rate = np.diff(u) / d
        out = np.zeros_like(y)
        face = np.concatenate(([a[0]], 0.5 * (a[:-1] + a[1:]), [a[-1]]))
        out[0::f] = -np.diff(face * u) / d
        pull = middle**2 * (1 + bend / 2) / hs**3
        stress = 3 * p["Oh"] * rate
        mean = lambda q: 0.5 * (q[:-1] + q[1:])
        if self.kind == "surfactant":
            own = y[2::f]
            gamma = own / hs
            e, x = p["E"], p["x"]
            # E is the elasticity at Gamma = 1 of either equation of state
            tension = 1 - e * (gamma - 1) if x is None else 1 + e * (1 - x) / x * np.log((1 - x * gamma) / (1 - x))
            pull = pull * tension
            flux = np.zeros(self.n + 1)
            flux[1:-1] = mean(own) * u[1:-1] - mean(middle / hs) * np.diff(gamma) / d / p["Pe"]
            out[2::f] = -np.diff(flux) / d
        elif self.kind == "carreau":
            stress = stress * (1 + 3 * (p["lambda"] * rate) ** 2) ** ((p["n"] - 1) / 2)
        else:
            lx, ly = y[2::f], y[3::f]
            c, b = np.exp(lx) / a**2, np.exp(ly) * a
            limit = p["L2"]
            spring = 1.0 if limit is None else (limit - 3) / (limit - c - 2 * b)
            stress = p["b"] * stress + (1 - p["b"]) * p["Oh"] / p["De"] * spring * (c - b)
            for k, log, rest in ((2, lx, 1 / c), (3, ly, 1 / b)):
                wide = np.concatenate(([log[0]], log, [log[-1]]))
                carried = 0.5 * (u[:-1] * np.diff(wide)[:-1] + u[1:] * np.diff(wide)[1:]) / d
                out[k::f] = -carried - (spring - rest) / p["De"]
        force = pull + a * stress
        advect = u[1:-1] * (u[2:] - u[:-2]) / (2 * d)
        out[1 :: f][: self.n - 1] = np.diff(force) / (face[1:-1] * d) - advect
        return out

    def neck(self, y):
        a = y[0 :: self.fields]
        wide = np.concatenate((a, [a[-1]]))
        j = int(np.argmin(a))
        m = a[j]
        if 0 < j:
            l, m, r = wide[j - 1 : j + 2]
            # between cell means: the parabola's own least value
            slope, bend = (r - l) / 2, l - 2 * m + r
            m = m - bend / 24 - (slope**2 / (2 * bend) if bend > 0 else 0.0)
        return np.sqrt(max(m, 1e-12))

    def pattern(self):
        from scipy.sparse import diags

        f, n = self.fields, self.n
        reach = 3 * f
        return diags([np.ones(f * n - abs(k)) for k in range(-reach, reach + 1)], range(-reach, reach + 1), format="csc")


def times(kind, p, cells, marks):
    from scipy.integrate import solve_ivp

    thread = Thread(kind, p, cells)

    def event(level):
        miss = lambda _, y: thread.neck(y) - level
        miss.direction = -1
        return miss

    events = [event(mark) for mark in marks]
    events[-1].terminal = True
    run = solve_ivp(
        thread.slopes, (0, 5000), thread.start, method="BDF", rtol=1e-7, atol=1e-10, jac_sparsity=thread.pattern(), events=events
    )
    return [float(t[0]) if t.size else float("nan") for t in run.t_events]


def necks(kind):
    marks = [0.5, 0.1, 0.05]
    meshes = (int(os.environ.get("CELLS", 800)), 2 * int(os.environ.get("CELLS", 800)))
    keys = {"surfactant": ["E", "x", "Pe"], "carreau": ["n", "lambda"], "polymer": ["b", "De", "L2"]}[kind]
    print(f"# Neck times at drawn points; scripts/real_liquids_points.py {kind}")
    print(",".join(["kR", "Oh", *keys, "h_min", "t", "error"]))
    told = lambda value: "" if value is None else f"{value:g}"
    for p in draw(kind):
        coarse, fine = (times(kind, p, cells, marks) for cells in meshes)
        for mark, low, high in zip(marks, coarse, fine):
            own = [told(p["kR"]), told(p["Oh"]), *(told(p[key]) for key in keys)]
            print(",".join([*own, f"{mark:g}", f"{high + (high - low) / 3:.6f}", f"{abs(high - low) / 3:.1e}"]), flush=True)


if __name__ == "__main__":
    if len(sys.argv) != 2 or sys.argv[1] not in ("growth", "surfactant", "carreau", "polymer"):
        raise SystemExit(__doc__)
    growth() if sys.argv[1] == "growth" else necks(sys.argv[1])
