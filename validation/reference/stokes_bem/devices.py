"""Rows with a blunt tip or an orifice: every row's case, how one is made, and how the rows are gathered.

    python -m stokes_bem.devices list
    python -m stokes_bem.devices orifice-3 --out DIR   make a row at three resolutions, keep each run in DIR (kept ones are not remade)
    python -m stokes_bem.devices draw                  write results/blind_*_inputs.csv, the blind rows' inputs
    python -m stokes_bem.devices collect --out DIR     gather DIR into results/devices.csv and results/devices_history.csv

Orifice rows are told by Ca_h = mu_o (Q_i + Q_o)/(pi R_h^2 gamma), the flow ratio Q_i/Q_o, the viscosity ratio and lengths over the
tip's bore radius R. Blunt rows are those of `rows.py` with the tip's outside radius over R beside.
"""

import argparse
import csv
import dataclasses
import json
import pathlib

import numpy as np
from scipy.linalg import lu_solve

from .channel import Orifice
from .dripping import run
from .elements import influence
from .flow import Case, system
from .force import _pressure
from .rows import refined

RESULTS = pathlib.Path(__file__).resolve().parent.parent / "results"
TENMICRON = Orifice(standoff=1.5, radius=0.5, length=1.0, widening=3.0, collection=2.5)


def through(capillary, flow_ratio, ratio, orifice=TENMICRON, wall=4.0, outer=1.5):
    """A drop at a tip in front of an orifice."""
    total = capillary * np.pi * orifice.radius**2
    inner = total * flow_ratio / (1 + flow_ratio)
    ca = 2 * (total - inner) / (np.pi * wall**2)
    reach = orifice.exit + 10.0 * max(orifice.collection, 1.0)
    return Case(ca=ca, q=inner / (np.pi * ca), lam=ratio, wall=wall, tube=2.5 * wall, reach=reach, outer=outer, orifice=orifice)


def blunt(ca, q, ratio, wall, outer):
    """A drop at a blunt tip in a tube."""
    return Case(ca=ca, q=q, lam=ratio, wall=wall, tube=min(60.0, 5.0 + 2 * wall), reach=50.0 + 1.4 * wall, outer=outer)


def _shape(**change):
    return dataclasses.replace(TENMICRON, **change)


def _watery(outer_flow):
    """The ten-micron device as it shipped in November 2026, its outer flow times a factor: tip 20 um, 20 and 15 uL/h, 5 mN/m."""
    inner, outer = 20e-9 / 3600, outer_flow * 15e-9 / 3600
    return through(1e-3 * (inner + outer) / (np.pi * (5e-6) ** 2 * 5e-3), inner / outer, 0.8)


# Seeds and boxes of the blind rows, uniform in the logarithms, three digits. Their inputs were committed before the model was
# touched, their drops computed and compared only after. Boxes: what laboratories build (common practice, no source).
BLIND = {
    "blind-orifice": dict(seed=20261130, count=20,
                          names=("capillary_hole", "flow_ratio", "viscosity_ratio", "hole", "length_over_hole", "standoff",
                                 "collection_over_hole", "widening_over_collection", "outer"),
                          low=(0.02, 0.05, 0.1, 0.35, 0.5, 0.75, 1.2, 0.5, 1.2), high=(0.2, 1.0, 10.0, 1.5, 4.0, 3.0, 6.0, 3.0, 2.0)),
    # drawn when the annulus to the nearest glass was taken up again, before anything of it was built here
    "blind-hole": dict(seed=20261129, count=14,
                       names=("capillary_hole", "flow_ratio", "viscosity_ratio", "hole", "length_over_hole", "standoff",
                              "collection_over_hole", "widening_over_collection", "outer"),
                       low=(0.02, 0.05, 0.1, 0.35, 0.5, 0.75, 1.2, 0.5, 1.2), high=(0.2, 1.0, 10.0, 1.5, 4.0, 3.0, 6.0, 3.0, 2.0)),
    # drawn when every force was taken from the slip past the flow of one liquid, before that was built in the program
    "blind-slip": dict(seed=141828913, count=12,
                       names=("capillary_hole", "flow_ratio", "viscosity_ratio", "hole", "length_over_hole", "standoff",
                              "collection_over_hole", "widening_over_collection", "outer"),
                       low=(0.02, 0.05, 0.1, 0.35, 0.5, 0.75, 1.2, 0.5, 1.2), high=(0.2, 1.0, 10.0, 1.5, 4.0, 3.0, 6.0, 3.0, 2.0)),
    "blind-blunt": dict(seed=20261201, count=6, names=("capillary", "inner_share", "viscosity_ratio", "wall", "outer"),
                        low=(0.04, 0.1, 0.1, 6.0, 1.2), high=(0.25, 1.0, 10.0, 20.0, 3.0)),
    "blind-inertia": dict(seed=20261202, count=4, names=("laplace_outer", "capillary", "inner_share", "viscosity_ratio"),
                          low=(2.0, 0.05, 0.2, 0.3), high=(200.0, 0.2, 1.0, 3.0)),
    # drawn when the closure of the jet that crosses its drop stood: inertia and inner flow enough that the jet counts, tip's outside 1.5 R
    "blind-jet": dict(seed=20261130, count=6, names=("laplace_outer", "capillary", "inner_share", "viscosity_ratio"),
                      low=(40.0, 0.05, 0.3, 0.3), high=(300.0, 0.2, 1.0, 3.0)),
}


def draw(name):
    box = BLIND[name]
    random = np.random.default_rng(box["seed"])
    low, high = np.log(box["low"]), np.log(box["high"])
    return [tuple(float(f"{x:.3g}") for x in np.exp(random.uniform(low, high))) for _ in range(box["count"])]


def _drawn_orifice(capillary, flow_ratio, ratio, hole, length, standoff, collection, widening, outer):
    shape = Orifice(standoff, hole, length * hole, widening * collection * hole, collection * hole, 0.1 * hole)
    return through(capillary, flow_ratio, ratio, shape, max(4.0, 3.0 * hole), outer)


def table():
    """{name: case}; names never change, new rows are appended."""
    rows = {}

    def add(group, *cases):
        for case in cases:
            rows[f"{group}-{sum(k.rsplit('-', 1)[0] == group for k in rows) + 1}"] = case

    add("device", *(_watery(x) for x in (3.0, 1.5, 1.0, 0.8)))
    add("orifice", *(through(ca, ratio, 1.0) for ca in (0.1, 0.03, 0.3) for ratio in (0.2, 0.7, 0.05)))
    add("orifice", *(through(ca, ratio, lam) for lam in (0.1, 10.0, 0.3, 3.0) for ca, ratio in ((0.1, 0.2), (0.04, 0.5))))
    add("orifice", *(through(0.06, 0.3, 1.0, _shape(**s)) for s in (
        dict(), dict(radius=1.0, standoff=2.0, length=2.0, edge=0.1), dict(radius=0.3, length=0.6, edge=0.03),
        dict(length=0.4), dict(length=3.0), dict(standoff=0.7), dict(standoff=3.0), dict(widening=0.0, collection=0.5),
        dict(widening=1.0, collection=1.0), dict(widening=6.0), dict(widening=0.6, collection=2.5), dict(radius=1.5, standoff=2.5, length=3.0, widening=6.0, collection=4.5, edge=0.1))))
    add("blunt", *(blunt(ca, q, 1.0, 10.5, outer) for outer in (1.5, 2.0, 3.0) for ca, q in ((0.1, 1.0), (0.1, 0.2), (0.2, 0.5))))
    add("blunt", *(blunt(0.1, 0.3, lam, wall, outer) for lam, wall, outer in (
        (0.1, 10.5, 1.5), (0.1, 10.5, 3.0), (10.0, 10.5, 1.5), (10.0, 10.5, 3.0), (1.0, 6.0, 2.0), (1.0, 57.75, 2.0),
        (1.0, 57.75, 1.5), (0.3, 20.0, 1.5), (3.0, 20.0, 2.0))))
    # the shipped example `tenmicron` as it stands since this table: 20 and 22 uL/h
    inner, outer = 20e-9 / 3600, 22e-9 / 3600
    add("example", through(1e-3 * (inner + outer) / (np.pi * (6e-6) ** 2 * 5e-3), inner / outer, 0.8,
                           _shape(radius=0.6, length=1.2, standoff=1.8, edge=0.06)))
    add("blind-orifice", *(_drawn_orifice(*x) for x in draw("blind-orifice")))
    add("blind-blunt", *(blunt(*x) for x in draw("blind-blunt")))
    add("blind-hole", *(_drawn_orifice(*x) for x in draw("blind-hole")))
    add("blind-slip", *(_drawn_orifice(*x) for x in draw("blind-slip")))
    return rows


LEVELS = ("refined", "base", "quick")


def at_level(case, level):
    """The case at one of three resolutions in space and time; the change from one to the next is the error bar."""
    if level == "refined":
        return dataclasses.replace(refined(case), gap=case.gap * 2 / 3)
    return case if level == "base" else dataclasses.replace(case, c=0.4, tol=4e-3, tube_nodes=16, gap=1.0)


def _radius_at(surf, z):
    """Radius of the interface where it first crosses the plane z; 0 where it does not reach it."""
    ahead = np.flatnonzero(surf.z >= z)
    if len(ahead) == 0 or ahead[0] == 0:
        return 0.0
    i = ahead[0]
    t = (z - surf.z[i - 1]) / (surf.z[i] - surf.z[i - 1])
    return float(surf.r[i - 1] + t * (surf.r[i] - surf.r[i - 1]))


class History:
    """Front, neck, radius in the middle of the hole and inner pressure at the tip, sampled as they change."""

    NAMES = ("time", "z_front", "r_max", "z_neck", "r_neck", "volume_ahead", "volume", "r_hole", "pressure_tip", "least_gap")

    def __init__(self):
        self.rows, self.mark = [], None

    def __call__(self, t, surf, fixed, h):
        _, zn, rn, va, z_end, r_max = h
        key = (np.log(surf.volume()), np.log(rn) if np.isfinite(rn) else 0.0, z_end)
        if self.mark is not None and all(abs(a - b) < c for a, b, c in zip(key, self.mark, (0.1, 0.2, 0.4))):
            return
        self.mark, case = key, fixed.case
        u, _ = system(fixed, surf).velocity(0.0)
        o = case.orifice
        gap = float(fixed.outline.distance(surf.z, surf.r).min()) if o else case.wall - r_max
        self.rows.append((t, z_end, r_max, zn, rn, va, surf.volume(),
                          _radius_at(surf, o.standoff + 0.5 * o.length) if o else 0.0, pressure_at_tip(fixed, surf, u), gap))


def pressure_at_tip(fixed, surf, u):
    """Pressure of the inner liquid on the axis in the tip's plane over that at the far end of the tube.

    Both from the representation of `flow.py`, whose pressure field is the outer liquid's outside and the inner one's inside.
    """
    case = fixed.case
    es = surf.elements()
    double = abs(case.lam - 1) > 1e-12
    # the strengths on the fixed boundaries follow from the interface's velocity
    gfs, dfs = influence((fixed.el.tz, fixed.el.tr), es, double)
    f = surf.traction()
    rhs = fixed.rhs - gfs @ f + ((1 - case.lam) * (dfs @ u) if double else 0.0)
    q = lu_solve(fixed.lu, rhs)
    far = case.reach - 2.0 * (case.orifice.collection if case.orifice else case.wall)

    def at(z):
        p = _pressure(z, es, f, (1 - case.lam) * u if double else None) + _pressure(z, fixed.el, q)
        p -= case.lam * _pressure(z, fixed.plug, 0.0 * fixed.up_ds, fixed.up_ds)
        return p - 4 * case.ca / case.wall**2 * z

    return float(at(0.0) - at(far))


RESULT = ("d_over_D", "z_neck_over_D", "t_pinch", "z_end_over_D")


def make(name, level, clock):
    """Run one row at one level."""
    case = table()[name]
    hist = History()
    out, _, _ = run(at_level(case, level), observe=hist, wall_clock=clock)
    return dict(row=name, level=level, out=out, history=[list(map(float, h)) for h in hist.rows])


def summary(name, made):
    """One line of the table from a row's runs, finest first: the finest that pinched, its change from the next as error."""
    case = table()[name]
    pinched = [run for run in made if run["out"]["status"] == "pinched"]
    best, both = (pinched or made)[0], len(pinched) > 1
    out, o = best["out"], case.orifice
    total = np.pi * case.ca * case.q + 0.5 * np.pi * case.wall**2 * case.ca
    row = dict(row=name, capillary=case.ca, inner_share=case.q, viscosity_ratio=float(case.lam), wall=case.wall, outer=case.outer)
    row.update({k: (getattr(o, k) if o else 0.0) for k in ("standoff", "radius", "length", "widening", "collection", "edge")})
    row["capillary_hole"] = total / (np.pi * o.radius**2) if o else 0.0
    row["flow_ratio"] = np.pi * case.ca * case.q / (total - np.pi * case.ca * case.q)
    row.update(status=out["status"], resolution=best["level"])
    for k in RESULT:
        row[k] = out.get(k, float("nan"))
        row[k + "_error"] = abs(out[k] - pinched[1]["out"][k]) if both else float("nan")
    row["volume_drift"] = out["volume_corrected"]
    row["least_gap"] = min((h[9] for h in best["history"]), default=float("nan"))
    row["pressure_least"] = min((h[8] for h in best["history"]), default=float("nan"))
    row["pressure_greatest"] = max((h[8] for h in best["history"]), default=float("nan"))
    row["processor_seconds"] = sum(run["out"]["seconds"] for run in made)
    return row, [dict(zip(("row",) + History.NAMES, [name] + h)) for h in best["history"]]


def _load(folder, name, level):
    f = pathlib.Path(folder) / f"{name}_{level}.json"
    return json.loads(f.read_text()) if f.exists() else None


def _write(name, head, records):
    with open(RESULTS / name, "w", newline="") as out:
        out.write(head)
        w = csv.writer(out, lineterminator="\n")
        w.writerow(list(records[0]))
        w.writerows([[f"{v:.6g}" if isinstance(v, float) else v for v in r.values()] for r in records])


HEAD = (
    "# own computation: axisymmetric two-liquid Stokes flow by boundary elements, see ../README.md; lengths in the tip's bore radius R or\n"
    "# diameter D as named, time mu_o R/gamma, pressure gamma/R; capillary = mu_o U/gamma, U axis velocity in the channel of radius `wall`,\n"
    "# capillary_hole on both flows' mean velocity in the hole; *_error = change from the next coarser of three resolutions (none: one only)\n"
)


def collect(folder):
    kept = {name: [run for run in (_load(folder, name, level) for level in LEVELS) if run] for name in table()}
    made = [summary(name, runs) for name, runs in kept.items() if runs]
    _write("devices.csv", HEAD, [m[0] for m in made])
    kept = [h for row, history in made for h in history
            if row["row"].startswith("device") or row["row"] in ("orifice-1", "orifice-2", "orifice-10", "orifice-12", "blunt-1", "blunt-7")]
    _write("devices_history.csv", HEAD, kept)
    print(len(made), "rows")


def main():
    p = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    p.add_argument("what", nargs="+", help="row names, 'list', 'draw' or 'collect'")
    p.add_argument("--out", help="folder that keeps each run made")
    p.add_argument("--clock", type=float, default=300.0, help="processor seconds allowed for a run")
    p.add_argument("--level", choices=(*LEVELS, "all"), default="all")
    a = p.parse_args()
    if a.what == ["list"]:
        for name, case in table().items():
            print(name, case)
    elif a.what == ["draw"]:
        for name, box in BLIND.items():
            _write(f"{name.replace('-', '_')}_inputs.csv", f"# drawn blindly, seed {box['seed']}, see stokes_bem/devices.py\n",
                   [dict(zip(("row",) + box["names"], (f"{name}-{i + 1}",) + x)) for i, x in enumerate(draw(name))])
    elif a.what == ["collect"]:
        collect(a.out)
    else:
        for name in a.what:
            for level in LEVELS[::-1]:
                kept = pathlib.Path(a.out) / f"{name}_{level}.json" if a.out else None
                if a.level not in (level, "all") or (kept is not None and kept.exists()):
                    continue
                done = make(name, level, a.clock)
                if kept is not None:
                    kept.parent.mkdir(parents=True, exist_ok=True)
                    kept.write_text(json.dumps(done, default=float))
                print(name, level, {k: v if isinstance(v, str) else f"{v:.5g}" for k, v in done["out"].items()}, flush=True)


if __name__ == "__main__":
    main()
