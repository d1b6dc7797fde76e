"""Checks of the code against theory; writes results/verification_*.csv and fails if one misses its bound.

    python -m stokes_bem.verify [--quick]
"""

import argparse
import csv
import pathlib

import numpy as np

from . import kernels, walls
from .channel import Orifice
from .dripping import neck, neck_exact, run, start
from .elements import _fill, influence
from .flow import Case, Fixed, background, move, system
from .force import _pressure, force_ahead, outer_traction
from .surface import Surface, remesh

REPORT = []


def note(topic, quantity, ours, reference, bound, source, absolute=False):
    """Keep one line of the report; the verdict is computed, never given."""
    diff = ours - reference if absolute else ours / reference - 1
    ours = float(ours)
    REPORT.append((topic, quantity, ours, reference, diff, bound, "pass" if abs(diff) <= bound else "MISS", source))
    print(REPORT[-1], flush=True)


def sphere(n, stretch=1.0):
    """A sphere, or a spheroid of the same volume."""
    a = np.linspace(0, np.pi, n)
    return Surface(-stretch * np.cos(a), np.sin(a) / np.sqrt(stretch), "axis", "axis")


def ring_kernels():
    """Both ring kernels against 4000-point quadrature of the defining integrals."""
    rng = np.random.default_rng(1)
    worst = 0.0
    for _ in range(200):
        z0, z = rng.uniform(-1, 1, 2)
        r0, r = rng.uniform(0, 2) * rng.choice([1, 0.01]), rng.uniform(0.01, 2)
        a = rng.uniform(0, 2 * np.pi)
        nz, nr = np.cos(a), np.sin(a)
        out = np.zeros(8)
        kernels.ring(z0, r0, z, r, nz, nr, True, out)
        p = 2 * np.pi * (np.arange(4000) + 0.5) / 4000
        x = np.stack([z - z0 + 0 * p, r * np.cos(p) - r0, r * np.sin(p)])
        d = np.sqrt((x**2).sum(0))
        xe = x[1] * np.cos(p) + x[2] * np.sin(p)
        g = -6 * (nz * x[0] + nr * xe) / d**5
        ref = [1 / d + x[0] ** 2 / d**3, x[0] * xe / d**3, x[1] * x[0] / d**3, np.cos(p) / d + x[1] * xe / d**3,
               g * x[0] ** 2, g * x[0] * xe, g * x[1] * x[0], g * x[1] * xe]
        ref = np.array([v.mean() * 2 * np.pi * r for v in ref])
        worst = max(worst, float((abs(out - ref) / abs(ref).max()).max()))
    note("ring kernels", "largest relative error of 200 pairs", worst, 0.0, 1e-9, "direct quadrature of the definition", True)


def drag():
    """Settling speed of a spherical drop, and the drag recovered from the outer traction alone."""
    for lam in (0.1, 1.0, 10.0):
        for n in (16, 32):
            s = sphere(n)
            e = s.elements()
            g, d = influence(e, e, True)
            nrm = np.empty(2 * n)
            nrm[0::2], nrm[1::2] = s.nz, s.nr
            u = np.linalg.solve((1 + lam) / 2 * np.eye(2 * n) - (1 - lam) * d, -g @ (nrm * np.repeat(-s.z, 2)))
            un = u[0::2] * s.nz + u[1::2] * s.nr
            speed = float(un @ s.nz / (s.nz @ s.nz))
            exact = (2 / 3) * (1 + lam) / (2 + 3 * lam)
            note("drop drag", f"speed, ratio {lam:g}, {n} nodes", speed, exact, 1e-3 if n == 16 else 3e-5,
                 "Hadamard 1911, Rybczynski 1911")
            if n == 16 and lam != 1.0:
                continue
            f = force_ahead(s, outer_traction(None, s, u))[0]
            note("outer traction", f"drag from it, ratio {lam:g}, {n} nodes", -f, 4 * np.pi / 3, 1e-3 if n == 16 else 1e-4,
                 "equals the weight less buoyancy")


def haberman_sayre(lam, k):
    """Wall factor of a spherical drop on the axis of a tube, both at rest far away (Haberman & Sayre 1958, recalled)."""
    num = 1 + 2.2757 * (1 - lam) / (2 + 3 * lam) * k**5
    den = (1 - 0.7017 * (2 + 3 * lam) / (1 + lam) * k + 2.0865 * lam / (1 + lam) * k**3
           + 0.5689 * (2 - 3 * lam) / (1 + lam) * k**5 - 0.72603 * (1 - lam) / (1 + lam) * k**6)
    return num / den


def drag_in_tube():
    """Speed of a spherical drop on the axis of a tube under a body force; ends closed, so the drop displaces liquid."""
    for lam in (0.1, 1.0, 10.0):
        for k in (0.2, 0.4, 0.6):
            n = 32
            s = sphere(n)
            e = s.elements()
            rw = 1 / k
            can = walls.join([
                walls.wall(rw, -4 * rw, 4 * rw, 0.12 * rw, 200), walls.disk(4 * rw, rw, 8, -1)])
            gss, dss = influence(e, e, True)
            gsf, _ = influence((s.z, s.r), can, False)
            gfs, dfs = influence((can.tz, can.tr), e, True)
            gff, _ = influence(can, can, False)
            nrm = np.empty(2 * n)
            nrm[0::2], nrm[1::2] = s.nz, s.nr
            f = nrm * np.repeat(-s.z, 2)
            inv = np.linalg.solve(gff, np.column_stack([gfs, dfs]))
            geff = gss - gsf @ inv[:, : 2 * n]
            deff = dss - gsf @ inv[:, 2 * n:]
            u = np.linalg.solve((1 + lam) / 2 * np.eye(2 * n) - (1 - lam) * deff, -geff @ f)
            un = u[0::2] * s.nz + u[1::2] * s.nr
            w = s.flux_weights()
            speed = float((w * un) @ s.z / s.volume())  # volume mean of the axial velocity
            ratio = (2 / 3) * (1 + lam) / (2 + 3 * lam) / speed
            note("drop drag in a tube", f"wall factor, ratio {lam:g}, d/D_tube {k:g}", ratio, haberman_sayre(lam, k),
                 {0.2: 0.003, 0.4: 0.01, 0.6: 0.06}[k],
                 "Haberman & Sayre 1958 (recalled; approximate, errs by percents above 0.5)")


def relaxation():
    """Decay rate of a slightly stretched drop, by time stepping (volume not corrected, so its drift is seen too)."""
    for lam in (0.1, 1.0, 10.0):
        n, eps = 25, 0.005  # odd, so that a node sits on the equator
        a = np.linspace(0, np.pi, n)
        radius = 1 + eps * (3 * np.cos(a) ** 2 - 1) / 2
        s = Surface(-radius * np.cos(a), radius * np.sin(a), "axis", "axis")
        rate = 40 * (1 + lam) / ((2 * lam + 3) * (19 * lam + 16))
        v0 = s.volume()
        deform = lambda q: (np.ptp(q.z) - 2 * q.r.max()) / (np.ptp(q.z) + 2 * q.r.max())
        d0 = deform(s)
        steps, dt = 20, 1.0 / rate / 20
        for _ in range(steps):
            sy = _free(s, lam)
            full = move(s, sy(dt), dt)
            half = move(s, sy(dt / 2), dt / 2)
            two = move(half, _free(half, lam)(dt / 2), dt / 2)
            s = Surface(2 * two.z - full.z, 2 * two.r - full.r, "axis", "axis")
        note("relaxing drop", f"decay rate, ratio {lam:g}", float(np.log(d0 / deform(s))), 1.0, 0.01,
             "Rallison 1984; 40(1+l)/((2l+3)(19l+16)) gamma/(mu_o a), exact for small deformation (recalled)")
        note("relaxing drop", f"volume after one decay time, ratio {lam:g}", s.volume(), v0, 1e-4, "conservation")


def _free(s, lam):
    n = s.n
    e = s.elements()
    g, d = influence(e, e, abs(lam - 1) > 1e-9)
    a = (1 + lam) / 2 * np.eye(2 * n) - ((1 - lam) * d if abs(lam - 1) > 1e-9 else 0)
    op = g @ s.traction_operator()
    f = g @ s.traction()

    def velocity(dt):
        m = a.copy()
        m[:, 0::2] += dt * op * s.nz
        m[:, 1::2] += dt * op * s.nr
        rhs = -f
        for i in (0, n - 1):
            m[2 * i + 1] = 0
            m[2 * i + 1, 2 * i + 1] = 1
            rhs[2 * i + 1] = 0
        # A free drop may drift as a whole and, at zero flux, breathe: pin both out by least squares.
        u = np.linalg.lstsq(m, rhs, rcond=1e-12)[0]
        return u[0::2] * s.nz + u[1::2] * s.nr

    return velocity


def thread_growth(k, lam, n, images=12, eps=1e-4):
    """Growth rate of a periodic thread, half a wavelength meshed, `images` periods each side summed."""
    length = np.pi / k
    z = np.linspace(0, length, n)
    s = Surface(z, np.sqrt(1 - eps**2 / 2) + eps * np.cos(k * z), "plane", "plane")
    e = s.elements()
    g, d = influence(e, e, True)
    for m in range(-images, images + 1):
        for mirror in (False, True):
            if m == 0 and not mirror:
                continue
            tz = 2 * length * m - s.z if mirror else s.z - 2 * length * m
            selfe, selft = -np.ones((n, 2), np.int64), np.zeros((n, 2))
            if mirror and m == 0:
                selfe[0, 0] = 0
            if mirror and m == 1:
                selfe[n - 1, 0], selft[n - 1, 0] = n - 2, 1.0
            gi, di = np.zeros((2 * n, 2 * n)), np.zeros((2 * n, 2 * n))
            _fill(tz, s.r, selfe, selft, *e.args(), True, gi, di)
            if mirror:
                gi[0::2] *= -1
                di[0::2] *= -1
            g += gi / (8 * np.pi)
            d += di / (8 * np.pi)
    u = np.linalg.solve((1 + lam) / 2 * np.eye(2 * n) - (1 - lam) * d, -g @ s.traction(1.0))
    un = u[0::2] * s.nz + u[1::2] * s.nr
    w = np.ones(n)
    w[0] = w[-1] = 0.5
    c = np.cos(k * z)
    return float((un * c * w).sum() / (c * c * w).sum() / eps)


# Tomotika 1935, inertialess thread in an unbounded liquid: (ratio, kR, growth in gamma/(mu_o R)).
TOMOTIKA = (
    (0.1, 0.2, 0.035406345361675), (0.1, 0.4, 0.089824937162431), (0.1, 0.6, 0.10797493660813),
    (0.1, 0.8, 0.073956385548214), (1, 0.2, 0.014610109196219), (1, 0.4, 0.030764371718225),
    (1, 0.6, 0.03523305692091), (1, 0.8, 0.024771609941166), (10, 0.2, 0.0074554233455344),
    (10, 0.4, 0.0097829190293198), (10, 0.6, 0.0085049410863032), (10, 0.8, 0.0050784726309188),
)


def tomotika():
    for lam, k, exact in TOMOTIKA:
        for n, bound in ((13, 1e-3), (25, 5e-5)):
            note("thread in unbounded liquid", f"growth, ratio {lam:g}, kR {k:g}, {n} nodes a half wave",
                 thread_growth(k, lam, n), exact, bound, "Tomotika 1935, from the 4x4 boundary conditions at 40 digits")


def stream():
    """Flow round the bare tip in a tube: flux at five stations, and the annulus far upstream."""
    case = Case(ca=1.0, q=1e-9, lam=1.0, wall=57.75, tube=240.0, reach=130.0, tube_nodes=40)
    fx = Fixed(case)
    q = np.linalg.solve(fx.g, fx.rhs)
    x, w = np.polynomial.legendre.leggauss(60)
    for zz in (-200.0, -30.0, 5.0, 100.0):
        lo = 1.0 if zz < 0 else 0.0
        r = 0.5 * (case.wall - lo) * (x + 1) + lo
        g, _ = influence((zz + 0 * r, r), fx.el, False)
        v = background(case, zz, r) - (g @ q)[0::2]
        note("stream round the tip", f"flux through z = {zz:g} R", float((v * r * w).sum() * (case.wall - lo) / 2),
             case.wall**2 / 4, 2e-4, "conservation")
    k = 1 / case.wall
    r = np.array([2.0, 5.0, 20.0, 50.0])
    g, _ = influence((-120.0 + 0 * r, r), fx.el, False)
    v = background(case, 0, r) - (g @ q)[0::2]
    exact = 1 - (r * k) ** 2 + (1 - k * k) * np.log(r * k) / np.log(case.wall)
    exact *= 0.5 / ((1 - k**4 - (1 - k * k) ** 2 / np.log(case.wall)) / 2)
    for a, b, c in zip(r, v, exact):
        note("stream round the tip", f"annulus velocity at r = {a:g} R, z = -120 R", float(b), float(c), 0.01,
             "exact annular flow, two R_w from either end of the tip")


def _flow_at(fx, z, low, high, count=60):
    """Velocities and weights r dr of the flow without a drop across the ring low < r < high at z."""
    q = np.linalg.solve(fx.g, fx.rhs)
    x, w = np.polynomial.legendre.leggauss(count)
    r = 0.5 * (high - low) * (x + 1) + low
    g, _ = influence((z + 0 * r, r), fx.el, False)
    return r, background(fx.case, z, r) - (g @ q)[0::2], 0.5 * w * (high - low) * r


def _axis_pressure(fx, z):
    """Pressure on the axis at z of the flow without a drop."""
    q = np.linalg.solve(fx.g, fx.rhs)
    return _pressure(z, fx.el, q) - 4 * fx.case.ca / fx.case.wall**2 * z


def device_flow():
    """Flow round a blunt tip and through an orifice without a drop: flux, known profiles, known pressure drops."""
    blunt = Fixed(Case(ca=1.0, q=1e-9, lam=1.0, wall=10.5, tube=40.0, reach=64.7, outer=2.0, tube_nodes=30))
    for z in (-20.0, -5.0, 3.0, 30.0):
        _, v, w = _flow_at(blunt, z, 2.0 if z < 0 else 0.0, 10.5)
        note("blunt tip", f"flux through z = {z:g} R", float(2 * v @ w), 10.5**2 / 2, 2e-3, "conservation")
    r, v, _ = _flow_at(blunt, -20.0, 2.0, 10.5)
    ring = (10.5**2 - 4.0) / np.log(10.5 / 2.0)
    exact = 10.5**2 - r**2 + ring * np.log(r / 10.5)
    exact *= 10.5**2 / 4 / (0.25 * (10.5**4 - 16.0 - (10.5**2 - 4.0) * ring))
    note("blunt tip", "annulus velocity at its middle, z = -20 R", float(np.interp(6.25, r, v)), float(np.interp(6.25, r, exact)),
         5e-3, "exact annular flow")
    hole = Orifice(standoff=1.5, radius=0.5, length=4.0, widening=0.0, collection=4.0, edge=0.05)
    fx = Fixed(Case(ca=1.0, q=1e-9, lam=1.0, wall=4.0, tube=10.0, reach=40.0, outer=1.5, orifice=hole, tube_nodes=30))
    flux = 0.5 * np.pi * 16.0
    for z, low, high in ((-6.0, 1.5, 4.0), (1.0, 0.0, 4.0), (2.5, 0.0, 0.5), (3.5, 0.0, 0.5), (15.0, 0.0, 4.0)):
        _, v, w = _flow_at(fx, z, low, high)
        note("orifice", f"flux through z = {z:g} R", float(2 * np.pi * v @ w), flux, 5e-3, "conservation")
    r, v, _ = _flow_at(fx, 3.5, 0.0, 0.5)
    note("orifice", "axis velocity in the middle of a hole eight radii long", float(v[0]), 2 * flux / (np.pi * 0.25) * (1 - (r[0] / 0.5) ** 2),
         5e-3, "Poiseuille flow")
    note("orifice", "pressure gradient there", _axis_pressure(fx, 3.2) - _axis_pressure(fx, 3.8), 0.6 * 8 * flux / (np.pi * 0.5**4),
         1e-2, "Poiseuille flow")
    known = flux / 0.5**3 * (1.5 + 8 * 2.0 / (np.pi * 0.5)) + 8 * flux * 9.5 / (np.pi * 4.0**4)
    note("orifice", "pressure from the middle of the hole to nine radii behind it", _axis_pressure(fx, 3.5) - _axis_pressure(fx, 15.0),
         known, 2e-2, "half of Sampson 1891 and Poiseuille flow, added as by Dagan, Weinbaum & Pfeffer 1982 (recalled, to 1 %)")


def refinement():
    """One case at several resolutions in space and time; one against explicit stepping without volume correction."""
    base = dict(ca=0.3, q=1 / 30, lam=1.0, wall=57.75, reach=130.0)
    fine = run(Case(**base, c=0.16, h_rim=0.05, tube_nodes=30, tol=2.5e-4))[0]["d_over_D"]
    for change in ({}, dict(c=0.2), dict(h_rim=0.05), dict(tube_nodes=30), dict(tol=2.5e-4), dict(plug=5.0),
                   dict(r_end=0.015)):
        out = run(Case(**{**base, **change}))[0]
        note("refinement", "d/D, base " + ", ".join(f"{k} {v:g}" for k, v in change.items()), out["d_over_D"], fine, 0.003,
             "same case: c 0.16, h_rim 0.05, 30 tip nodes, tol 2.5e-4")
    note("pinch-off", "neck speed, equal viscosities, r 0.03 to 0.015 R", out["pinch_speed"], 0.0335, 0.1,
         "Lister & Stone 1998, Cohen et al. 1999 (recalled), in gamma/mu; reached slowly")
    fast = dict(ca=0.3, q=1 / 3, lam=1.0, wall=57.75, reach=130.0)
    note("explicit stepping", "d/D, midpoint rule, no volume correction", explicit(Case(**fast, h_rim=0.15)),
         run(Case(**fast))[0]["d_over_D"], 0.005, "the implicit scheme, same case")


def explicit(case):
    fx = Fixed(case)
    s = start(case)
    n = s.n
    for _ in range(40000):
        i = neck(s)
        dt = 0.5 * np.diff(s.arc()).min()
        if i is not None:
            dt = min(dt, 0.3 * s.r[i])
        m = move(s, system(fx, s).velocity(0)[1], dt / 2)
        u = system(fx, m).velocity(0)[1]
        r = s.r + dt * u * m.nr
        r[-1] = 0.0
        s = remesh(Surface(s.z + dt * u * m.nz, r), case.c, case.h_rim, 1e9, n)
        n = s.n
        i = neck(s)
        if i is not None:
            _, rn, va = neck_exact(s, i)
            if rn < 0.05:
                return (6 * va / np.pi) ** (1 / 3) / 2
    return float("nan")


def keep(name):
    """Write the report so far to results/NAME and start a new one; returns the numbers passed and missed."""
    target = pathlib.Path(__file__).resolve().parent.parent / "results"
    target.mkdir(exist_ok=True)
    with open(target / name, "w", newline="") as out:
        w = csv.writer(out, lineterminator="\n")
        w.writerow(["topic", "quantity", "ours", "reference", "difference", "bound", "verdict", "source"])
        w.writerows([[f"{v:.6g}" if isinstance(v, float) else v for v in row] for row in REPORT])
    missed = sum(r[6] != "pass" for r in REPORT)
    passed = len(REPORT) - missed
    REPORT.clear()
    return passed, missed


def main():
    p = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    p.add_argument("--quick", action="store_true", help="leave out the runs to pinch-off")
    a = p.parse_args()
    for check in (ring_kernels, drag, drag_in_tube, relaxation, tomotika, stream, device_flow):
        check()
    passed, missed = keep("verification_theory.csv")
    if not a.quick:
        refinement()
        more = keep("verification_runs.csv")
        passed, missed = passed + more[0], missed + more[1]
    print(f"{passed} passed, {missed} failed")
    raise SystemExit(1 if missed else 0)


if __name__ == "__main__":
    main()
