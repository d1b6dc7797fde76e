"""Shapes of the reference beside the thread's balance, and runs of the thread.

    python -m slender.shapes keep orifice-24 device-1 --out DIR      run rows of `stokes_bem.devices` and keep their interfaces and velocities
    python -m slender.shapes flows orifice-24 --out DIR --slip --glass   the thread's flow at each kept shape less the reference's, % of both
    python -m slender.shapes run orifice-24 device-1 --slip --glass      first drop of the thread alone beside the reference's
    python -m slender.shapes parts device-1 --out DIR --two    at each kept shape the flow that the surface alone drives, the reference's and the thread's
    python -m slender.shapes follow device-1 --out DIR --two --past 0.2   the thread from the kept shape whose front is so far past the hole's plane (over R_h)

Forms: --slip, --glass, --wedge, --dissipation (`balance`), or --two (`two`, with the stream of `bare`).

`flows` prints 0.4, 0.6, 0.8 and 1 of the standoff, the hole's end, half-way from there to the front, and the neck's rate over the reference's.
"""

import argparse
import csv
import functools
import json
import pathlib
import sys
import time

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from stokes_bem.devices import RESULTS, at_level, table
from stokes_bem.dripping import run as reference_run
from stokes_bem.flow import Fixed, system
from stokes_bem.surface import Surface

from . import balance, two
from .bare import Bare
from .stream import Device


def case_named(name):
    if not name.startswith("unseen-"):
        return table()[name]
    sys.path.insert(0, str(RESULTS.parent.parent / "confirm"))
    import unseen

    return unseen.case_of(*unseen.inputs()[name.removeprefix("unseen-")])


def references():
    """{name: row} of the drops that the reference made."""
    rows, confirm = {}, RESULTS.parent.parent / "confirm"
    for path, prefix in ((RESULTS / "devices.csv", ""), (RESULTS / "blind_slip_reference.csv", ""), (confirm / "unseen_reference.csv", "unseen-")):
        with open(path) as file:
            rows |= {prefix + row["row"]: row for row in csv.DictReader(line for line in file if not line.startswith("#"))}
    return rows


def keep(name, folder, level, clock):
    rows, mark = [], None

    def look(t, surf, fixed, history):
        nonlocal mark
        _, z_neck, r_neck, _, front, _ = history
        key = (np.log(surf.volume()), np.log(r_neck) if np.isfinite(r_neck) else 0.0, front)
        if mark is not None and all(abs(a - b) < c for a, b, c in zip(key, mark, (0.1, 0.12, 0.25))):
            return
        mark = key
        u, _ = system(fixed, surf).velocity(0.0)
        normal = u[0::2] * surf.nz + u[1::2] * surf.nr
        rows.append(dict(t=t, z=surf.z.tolist(), r=surf.r.tolist(), normal=normal.tolist(), z_neck=z_neck, r_neck=r_neck))

    out, _, _ = reference_run(at_level(case_named(name), level), observe=look, wall_clock=clock)
    (folder / f"{name}.json").write_text(json.dumps(dict(out=out, rows=rows), default=float))
    print(name, out["status"], out.get("d_over_D"), len(rows), "shapes", flush=True)


def sections(row):
    """Places, radii, volume before and flow out through the surface before, fine along the arc."""
    z, r, normal = (np.array(row[k]) for k in ("z", "r", "normal"))
    arc = np.append(0.0, np.cumsum(np.hypot(np.diff(z), np.diff(r))))
    fine = np.unique(np.concatenate([np.linspace(a, b, 9) for a, b in zip(arc[:-1], arc[1:])]))
    zs, rs = CubicSpline(arc, z)(fine), np.maximum(CubicSpline(arc, r)(fine), 0.0)
    out = CubicSpline(arc, 2 * np.pi * r * normal).antiderivative()(fine)
    volume = np.append(0.0, np.cumsum(np.pi / 3 * (rs[1:] ** 2 + rs[1:] * rs[:-1] + rs[:-1] ** 2) * np.diff(zs)))
    forward = np.append(True, np.diff(np.maximum.accumulate(zs)) > 0)
    return zs[forward], rs[forward], volume[forward], out[forward]


def cells(zs, rs, volume, c=0.1):
    radius, nodes, end = PchipInterpolator(zs, rs), [0.0], zs[-1]
    while nodes[-1] < end:
        h = max(float(radius(min(nodes[-1] + 0.02, end))), 0.03)
        nodes.append(nodes[-1] + min(c * h, max(0.25 * (end - nodes[-1]), 0.01)))
    keep_last = end - nodes[-2] > 0.3 * (nodes[-2] - nodes[-3])
    nodes = np.array((nodes[:-1] if keep_last else nodes[:-2]) + [end])
    return nodes, np.diff(PchipInterpolator(zs, volume)(nodes))


def kept(folder, name):
    return json.loads((folder / f"{name}.json").read_text())["rows"]


def flows(name, folder, device, solve):
    o = device.orifice
    for row in kept(folder, name):
        zs, rs, volume, out = sections(row)
        z, v = cells(zs, rs, volume)
        u, node = solve(device, z, v)
        flow, known = np.pi * node * u, device.inner - np.interp(z, zs, out)
        end = o.standoff + o.length
        places = [x * o.standoff for x in (0.4, 0.6, 0.8, 1.0)] + [end, 0.5 * (end + z[-1])]
        miss = [f"{100 * np.interp(p, z, flow - known) / device.total:6.1f}" if p < z[-1] - 0.05 else "   -  " for p in places]
        rate = ""
        if np.isfinite(row["r_neck"]):
            j = np.searchsorted(z, row["z_neck"])
            lo, hi = max(j - 2, 0), min(j + 1, len(z) - 1)
            rate = f"neck {row['r_neck'] / o.radius:.2f} of the hole, rate {(flow[hi] - flow[lo]) / (known[hi] - known[lo]):.2f}"
        print(f"t {row['t']:8.2f} front {z[-1]:5.2f}", *miss, rate)


def parts(name, folder, device, solve, level):
    """What the surface alone drives: at a given shape a flow is that of the stream and that of the surface, in both."""
    fixed = Fixed(at_level(case_named(name), level))
    for row in kept(folder, name):
        alone = system(fixed, Surface(np.array(row["z"]), np.array(row["r"]), "free", "axis"))
        alone.beff = 0 * alone.beff
        zs, rs, volume, out = sections(dict(row, normal=alone.velocity(0.0)[1]))
        z, v = cells(zs, rs, volume)
        u, node = solve(device, z, v, stream=0.0)
        places = np.linspace(0.15, 0.95, 11) * z[-1]
        print(f"t {row['t']:8.2f} place    ", *(f"{x:6.2f}" for x in places))
        for who, flow in (("reference", -np.interp(z, zs, out)), ("thread   ", np.pi * node * u)):
            print(" " * 10, who, *(f"{100 * x / device.total:6.1f}" for x in np.interp(places, z, flow)))


def remesh(z, v, c):
    """Laid anew where a cell has become too long, or many too short; volume kept."""
    d, middle = np.diff(z), 0.5 * (z[1:] + z[:-1])
    left = z[-1] - middle
    size = np.minimum(c * np.maximum(np.sqrt(v / (np.pi * d)), 0.02), c * np.sqrt(left) + 0.004)
    for j in range(1, len(d)):
        size[j] = min(size[j], size[j - 1] + 0.25 * (middle[j] - middle[j - 1]))
    for j in range(len(d) - 2, -1, -1):
        size[j] = min(size[j], size[j + 1] + 0.25 * (middle[j + 1] - middle[j]))
    if (d < 2 * size).all() and (d > 0.35 * size).sum() >= len(d) - 2:
        return z, v
    count = np.append(0.0, np.cumsum(d / size))
    new = np.interp(np.linspace(0, count[-1], int(round(count[-1])) + 1), count, z)
    return new, np.diff(PchipInterpolator(z, np.append(0.0, np.cumsum(v)))(new))


def run(device, solve, until, start=None, c=0.12, strain=0.1, clock=60.0):
    """First drop: d/D, neck/D and time, from `start` (t, z, v): linearly implicit Euler steps of the nodes, once with dt and twice with its half,
    extrapolated; `strain` the most that a cell is stretched in a step, a fifth of it the most that both may differ."""
    entry, began = device.inner / np.pi, time.process_time()
    length = 1.0 if device.orifice is None or device.orifice.standoff >= 1.05 else 0.9 * device.orifice.standoff
    x = np.linspace(0, 1, 41)
    t, z, v = start or (0.0, length * x, np.diff(np.pi * length * (x - x**3 / 3)))
    z, v = remesh(z, v, c)
    dt, least = 0.02, np.inf

    def moved(z, v, u, dt):
        return z + dt * np.append(0.0, u[1:]), np.append(v[0] + np.pi * entry * dt, v[1:])

    while t < until and time.process_time() - began < clock:
        (whole, half), _ = solve(device, z, v, dt=(dt, 0.5 * dt))
        most = np.abs(np.diff(whole) / np.diff(z)).max() * dt
        if most > 1.3 * strain:
            dt *= 0.5
            continue
        once, _ = moved(z, v, whole, dt)
        twice, volumes = moved(z, v, half, 0.5 * dt)
        twice, volumes = moved(twice, volumes, solve(device, twice, volumes, dt=0.5 * dt)[0], 0.5 * dt)
        apart = np.abs(np.diff(once - twice) / np.diff(z)).max()
        if apart > 0.2 * strain:
            dt *= 0.5
            continue
        z, v, t = 2 * twice - once, volumes, t + dt
        dt *= 1.25 if most < 0.5 * strain and apart < 0.08 * strain else 0.8 if most > strain else 1.0
        z, v = remesh(z, v, c)
        h = np.sqrt(v / (np.pi * np.diff(z)))
        wider = np.maximum.accumulate(h[::-1])[::-1]
        necks = [i for i in range(2, len(h) - 4) if h[i - 1] >= h[i] < h[i + 1] and wider[i] > 1.05 * h[i] and h[i] < 0.9]
        k = min(necks, key=lambda i: h[i], default=None)
        if k is not None:
            least = min(least, h[k])
            if h[k] < 0.03:
                return (6 * v[k:].sum() / np.pi) ** (1 / 3) / 2, 0.25 * (z[k] + z[k + 1]), t, least
        if z[-1] > device.reach:
            break
    return np.nan, np.nan, t, least


def main():
    p = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    p.add_argument("what", choices=("keep", "flows", "parts", "run", "follow"))
    p.add_argument("names", nargs="+")
    p.add_argument("--out", type=pathlib.Path, default=pathlib.Path("shapes"))
    p.add_argument("--level", default="quick")
    p.add_argument("--clock", type=float, default=300.0, help="processor seconds")
    p.add_argument("--past", type=float, default=0.2)
    for form in ("slip", "glass", "wedge", "dissipation", "two"):
        p.add_argument(f"--{form}", action="store_true")
    a = p.parse_args()
    a.out.mkdir(parents=True, exist_ok=True)
    form = two.Two() if a.two else balance.Form(a.slip, a.glass, a.wedge, a.dissipation)
    solve = functools.partial((two if a.two else balance).solve, form=form)
    known = references()
    for name in a.names:
        if a.what == "keep":
            keep(name, a.out, a.level, a.clock)
            continue
        device = (Bare if a.two else Device)(case_named(name))
        if a.what == "flows":
            flows(name, a.out, device, solve)
        elif a.what == "parts":
            parts(name, a.out, device, solve, a.level)
        else:
            row, start = known.get(name, {}), None
            if a.what == "follow":
                wanted = device.orifice.standoff + a.past * device.orifice.radius
                shape = min(kept(a.out, name), key=lambda one: abs(max(one["z"]) - wanted))
                start = (shape["t"], *cells(*sections(shape)[:3]))
            until, true = (float(row.get(k) or "nan") for k in ("t_pinch", "d_over_D"))
            d, neck, t, least = run(device, solve, 2 * until if until > 0 else np.inf, start, clock=a.clock)
            print(f"{name} d/D {d:.3f} ({100 * (d / true - 1):+.1f} %) neck/D {neck:.2f} t {t:.0f} least neck {least:.3f}; reference",
                  *(row.get(k, "-") for k in ("d_over_D", "z_neck_over_D", "t_pinch")), flush=True)


if __name__ == "__main__":
    main()
