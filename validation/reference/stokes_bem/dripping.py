"""Growth of a drop on the tip until it pinches: time stepping, mesh, bookkeeping.

Each step is the linearly implicit Euler step taken once with dt and twice with dt/2; extrapolation makes it of second
order, the difference of the two gives the step's error. After each step the volume is brought back to its exact value
V0 + Q t by one uniform normal displacement; the sum of the corrections is kept as a measure of error.
"""

import time

import numpy as np

from .elements import hermite, unit_gauss
from .flow import Fixed, move, system
from .surface import Surface, needs_remesh, remesh

TOUCH = 1e-3  # a film at the orifice thinner than this many tip radii is not followed


def start(case):
    """Hemisphere on the tip."""
    a = np.linspace(0, np.pi / 2, 30)
    s = Surface(np.sin(a), np.cos(a), "free", "axis")
    return remesh(s, case.c, case.h_rim, 0.5)


def neck(surf):
    """Index of the smallest neck, or None: a local minimum of r with a wider part ahead of it, away from the rim."""
    r = surf.r
    best = None
    ahead = np.maximum.accumulate(r[::-1])[::-1]
    for i in range(1, surf.n - 3):
        if r[i] <= r[i - 1] and r[i] < r[i + 1] and ahead[i] > 1.02 * r[i]:
            if best is None or r[i] < r[best]:
                best = i
    return best


def neck_exact(surf, i):
    """Position, radius and volume ahead of the neck, on the spline (r_xi = 0 near node i)."""
    x = float(i)
    zc, rc = hermite(surf.z, surf.z1, surf.z2), hermite(surf.r, surf.r1, surf.r2)
    for _ in range(20):
        e = int(min(max(np.floor(x), 0), surf.n - 2))
        t = x - e
        d1 = sum(m * rc[e, m] * t ** (m - 1) for m in range(1, 6))
        d2 = sum(m * (m - 1) * rc[e, m] * t ** (m - 2) for m in range(2, 6))
        if d2 <= 0:
            break
        step = np.clip(-d1 / d2, -0.5, 0.5)
        x += step
        if abs(step) < 1e-10:
            break
    x = min(max(x, i - 1.0), i + 1.0)
    e = int(min(max(np.floor(x), 0), surf.n - 2))
    t = x - e
    p = t ** np.arange(6)
    g, w = unit_gauss(8)
    tt = t * g
    pp = np.vander(tt, 6, increasing=True)
    dz = sum(m * zc[e, m] * tt ** (m - 1) for m in range(1, 6))
    part = np.sum(np.pi * (pp @ rc[e]) ** 2 * dz * w) * t
    return zc[e] @ p, rc[e] @ p, surf.volume(e) - part


def run(case, observe=None, max_steps=20000, wall_clock=900.0, log=None):
    """Run to pinch-off. Returns a dictionary of results and the history [t, z_neck, r_neck, v_ahead, z_end, r_max]."""
    fixed = Fixed(case)
    surf = start(case)
    v0 = surf.volume()
    t = 0.0
    dt = 0.02
    history = []
    corrected = 0.0
    began = time.process_time()
    nodes = surf.n
    status = "steps"
    sys_now = None
    steps = rejected = 0
    while steps < max_steps:
        if steps % 16 == 0 and time.process_time() - began > wall_clock:
            status = "clock"
            break
        if sys_now is None:
            sys_now = system(fixed, surf)
        _, un = sys_now.velocity(dt)
        full = move(surf, un, dt)
        _, uh = sys_now.velocity(dt / 2)
        half = move(surf, uh, dt / 2)
        ok = np.all(half.r[:-1] > 0) and np.all(full.r[:-1] > 0)
        err = np.inf
        if ok:
            _, u2 = system(fixed, half).velocity(dt / 2)
            two = move(half, u2, dt / 2)
            i = neck(surf)
            scale = surf.r.max() if i is None else np.minimum(1.0, np.maximum(surf.r, surf.r[i]))
            diff = np.hypot(two.z - full.z, two.r - full.r) / scale
            err = float(np.max(diff))
            z = 2 * two.z - full.z
            r = 2 * two.r - full.r
            ok = np.all(r[:-1] > 0)
        if not ok or err > 2.5 * case.tol:
            dt *= 0.5 if not np.isfinite(err) else max(0.3, 0.8 * np.sqrt(case.tol / err))
            rejected += 1
            if dt < 1e-7:
                status = "step underflow"
                break
            continue
        r[-1] = 0.0
        t += dt
        steps += 1
        surf = Surface(z, r, "free", "axis")
        dv = v0 + fixed.flux * t - surf.volume()
        corrected += dv
        area = surf.area()
        eta = np.full(surf.n, dv / area)
        eta[0] = 0.0
        surf = move(surf, eta, 1.0)
        if needs_remesh(surf, case.c, case.h_rim, 1.0e9, spacing=fixed.spacing):
            surf = remesh(surf, case.c, case.h_rim, 1.0e9, nodes, fixed.spacing)
        nodes = surf.n
        sys_now = None
        dt *= min(1.6, max(0.5, 0.85 * np.sqrt(case.tol / max(err, 1e-12))))
        i = neck(surf)
        if i is not None:
            zn, rn, va = neck_exact(surf, i)
        else:
            zn, rn, va = np.nan, np.nan, np.nan
        history.append((t, zn, rn, va, surf.z[-1], surf.r.max()))
        if observe is not None:
            observe(t, surf, fixed, history[-1])
        if log and steps % log == 0:
            print(f"{steps} t={t:.4g} dt={dt:.3g} n={surf.n} V={surf.volume():.4g} neck={rn:.4g}@{zn:.4g} "
                  f"zend={surf.z[-1]:.4g} rmax={surf.r.max():.4g} err={err:.2g} {time.process_time()-began:.1f}s", flush=True)
        if i is not None and rn < case.r_end:
            status = "pinched"
            break
        if surf.z[-1] > 200:
            status = "long"
            break
        if fixed.outline is not None:
            if fixed.outline.distance(surf.z, surf.r).min() < TOUCH:
                status = "touches the wall"
                break
        elif case.wall > 0 and surf.r.max() > 0.97 * case.wall:
            status = "fills the tube"
            break
        if case.wall > 0 and surf.z[-1] > case.reach - 1.2 * (case.orifice.collection if case.orifice else case.wall):
            status = "reached the end"
            break
    out = dict(status=status, t=t, steps=steps, rejected=rejected, nodes=surf.n, seconds=time.process_time() - began,
               volume=surf.volume(), volume_corrected=corrected / surf.volume())
    if status == "pinched":
        out.update(at_pinch(np.array(history)))
    return out, np.array(history), surf


def at_pinch(history):
    """Values at r_neck = 0 by a straight line in r_neck through the last stretch (it halves there)."""
    last = history[-1]
    h = history[np.isfinite(history[:, 2])]
    h = h[h[:, 2] < 2.2 * last[2]]
    if len(h) < 4:
        h = history[-4:]
    fit = lambda y: np.polyval(np.polyfit(h[:, 2], y, 1), 0.0)
    speed = -np.polyfit(h[:, 0], h[:, 2], 1)[0]
    return dict(d_over_D=(6 * fit(h[:, 3]) / np.pi) ** (1 / 3) / 2, z_neck_over_D=fit(h[:, 1]) / 2,
                t_pinch=fit(h[:, 0]), z_neck_last_over_D=last[1] / 2, r_neck=last[2], pinch_speed=speed,
                z_end_over_D=fit(h[:, 4]) / 2, d_max_over_D=2 * last[5] / 2)
