"""The table: every row's case, how one row is made, and how the rows are gathered.

    python -m stokes_bem.rows 7                 make row 7 at both resolutions and print it
    python -m stokes_bem.rows 1-10 --out DIR    make rows and keep each run in DIR (what is there is not made again)
    python -m stokes_bem.rows collect --out DIR   gather DIR into results/*.csv
"""

import argparse
import csv
import dataclasses
import json
import pathlib

import numpy as np

from .dripping import run
from .flow import Case, system
from .force import _on_gauss, force_ahead, outer_traction
from .surface import remesh

WIDE = 57.75
ROOT = 0.25  # the force on the whole drop is taken this far from the rim, where the edge's singular stress is not resolved


def _at(surf, values, z):
    """Value at the first crossing of the plane z, linear between nodes."""
    i = max(int(np.argmax(surf.z >= z)), 1)
    t = (z - surf.z[i - 1]) / (surf.z[i] - surf.z[i - 1])
    return float(values[i - 1] + t * (values[i] - values[i - 1]))


def _wide(ca, q, lam, reach=130.0):
    return Case(ca=ca, q=q, lam=lam, wall=WIDE, tube=60.0, reach=reach)


def _open(ca, q, lam):
    return Case(ca=ca, q=q, lam=lam, wall=0.0, tube=20.0)


def _tube(ca, q, lam, wall):
    return Case(ca=ca, q=q, lam=lam, wall=wall, tube=5.0 + 2 * wall, reach=25.0 + 1.2 * wall + (15.0 if lam > 3 else 0.0))


def _drawn(ca, q, lam, wall):
    return Case(ca=ca, q=q, lam=lam, wall=wall, tube=min(60.0, 5.0 + 2 * wall), reach=50.0 + 1.4 * wall)


# Boxes of the drawn rows: Ca, q, viscosity ratio, R_w/R. At the tightest corner the drop still leaves a quarter of the tube.
# The second box is there because the first draw, as it fell, has no liquid much thicker than the outer one.
DRAWN = (
    dict(seed=20261125, count=12, low=(0.03, 0.05, 0.1, 4.0), high=(0.3, 0.5, 10.0, WIDE)),
    dict(seed=20261126, count=4, low=(0.03, 0.05, 1.5, 4.0), high=(0.15, 0.5, 10.0, WIDE)),
)
# A second test, drawn before its closure was looked for: the first box again, and the corner in which the closure before
# it did worst, drops about as large as their tip in a narrow tube (rows 28 and 80).
DRAWN_AGAIN = (
    dict(seed=20261127, count=10, low=(0.03, 0.05, 0.1, 4.0), high=(0.3, 0.5, 10.0, WIDE)),
    dict(seed=20261128, count=6, low=(0.1, 0.05, 0.1, 3.0), high=(0.3, 0.5, 10.0, 6.0)),
)
# A third, of thick liquids that enter fast: drawn after a term for the relaxing parabola of the inflow was tried on the rows above, and before it
# ran on these.
DRAWN_FAST = (dict(seed=20261129, count=6, low=(0.05, 0.1, 2.0, 4.0), high=(0.2, 1.0, 10.0, WIDE)),)


def drawn(seed, count, low, high):
    """Cases drawn blindly, uniform in the logarithms, three digits: what no closure was ever looked at against."""
    random = np.random.default_rng(seed)
    low, high = np.log(low), np.log(high)
    return [tuple(float(f"{x:.3g}") for x in np.exp(random.uniform(low, high))) for _ in range(count)]


def table():
    """(number, set, case) of every row; numbers never change, new rows are appended."""
    rows = []

    def add(name, make, *cases):
        for c in cases:
            rows.append((len(rows) + 1, name, make(*c)))

    add("wide", _wide, (0.3, 1 / 30, 1), (0.15, 1 / 15, 1), (0.05, 0.2, 1), (0.15, 2 / 3, 1), (0.05, 2, 1), (0.2, 0.05, 1),
        (0.1, 0.1, 1), (0.1, 1, 1), (0.2, 0.5, 1), (0.3, 1 / 3, 1))
    add("open", _open, (0.3, 0.05, 1), (0.15, 0.05, 1), (0.3, 0.02, 1), (0.15, 0.02, 1), (0.3, 0.1, 1), (0.15, 0.1, 1))
    add("wide", _wide, (0.05, 0.05, 1), (0.05, 0.5, 1), (0.1, 0.3, 1), (0.2, 0.2, 1), (0.5, 0.05, 1), (0.5, 0.2, 1))
    add("tube", _tube, (0.05, 0.1, 1, 8), (0.05, 0.1, 1, 5), (0.1, 0.1, 1, 4), (0.1, 0.1, 1, 6), (0.1, 0.1, 1, 10),
        (0.2, 0.1, 1, 3), (0.2, 0.1, 1, 5), (0.1, 0.5, 1, 6), (0.05, 0.5, 1, 8))
    for lam in (10, 0.1):
        add("wide", _wide, *[(ca, q, lam) for ca, q in ((0.05, 0.1), (0.1, 0.1), (0.15, 0.1), (0.2, 0.1), (0.3, 0.05),
                                                      (0.05, 0.5), (0.1, 0.5), (0.2, 0.5), (0.3, 0.3), (0.5, 0.05))])
        add("tube", _tube, *[(ca, q, lam, w) for ca, q, w in ((0.05, 0.1, 8), (0.1, 0.1, 5), (0.1, 0.1, 10),
                                                             (0.2, 0.1, 4), (0.1, 0.5, 6), (0.05, 0.1, 5))])
    add("open", _open, (0.1, 0.1, 10), (0.3, 0.05, 10), (0.1, 0.1, 0.1), (0.3, 0.05, 0.1))
    for lam in (1, 10, 0.1):
        add("tube", _tube, (0.05, 0.1, lam, 3), (0.02, 0.2, lam, 4), (0.02, 0.2, lam, 2.5))
    add("drawn", _drawn, *(case for box in DRAWN + DRAWN_AGAIN + DRAWN_FAST for case in drawn(**box)))
    return rows


def refined(case):
    """The finer resolution in space and time that the value comes from; the base run gives its error bar."""
    return dataclasses.replace(case, c=0.2, h_rim=0.06, tube_nodes=30, tol=4e-4)


class ForceHistory:
    """Axial force, speed and place of the drop, sampled when its volume or its neck has changed by a few percent."""

    NAMES = ("time", "z_end", "r_max", "z_neck", "r_neck", "volume_ahead", "z_centre_ahead", "speed_ahead", "force_ahead",
             "volume_total", "force_root")

    def __init__(self):
        self.rows = []
        self.mark = None

    def __call__(self, t, surf, fixed, h):
        _, zn, rn, va, z_end, r_max = h
        v = surf.volume()
        key = (np.log(v), np.log(rn) if np.isfinite(rn) else 0.0, z_end)
        if self.mark is not None:
            a, b, c = (abs(x - y) for x, y in zip(key, self.mark))
            if a < 0.12 and b < 0.2 and c < 0.6:
                return
        self.mark = key
        case = fixed.case
        if surf.n < 60:
            # The fill needs few nodes for its motion, but the traction near the rim wants more.
            surf = remesh(surf, min(case.c, 0.15), min(case.h_rim, 0.04), 1e9)
        u, un = system(fixed, surf).velocity(0.0)
        fa = force_ahead(surf, outer_traction(fixed, surf, u))
        z, r, _, _, w, n0, _ = _on_gauss(surf.elements(), np.repeat(un, 2))
        flux = 2 * np.pi * r * w * n0
        if np.isfinite(zn):
            ahead = (np.arange(surf.n - 1) >= np.argmin(np.hypot(surf.z - zn, surf.r - rn)))[:, None]
            f = _at(surf, fa, max(zn, ROOT))
        else:
            ahead = np.ones((surf.n - 1, 1), bool)
            zn, rn, va, f = 0.0, 1.0, v, _at(surf, fa, ROOT)
        speed = float(np.sum((flux * (z - zn))[ahead[:, 0]])) / va
        gz, gr, gzt, _, gw = surf.fine()
        zc = float(np.sum((np.pi * gr**2 * gzt * gz * gw)[ahead[:, 0]])) / float(
            np.sum((np.pi * gr**2 * gzt * gw)[ahead[:, 0]]))
        self.rows.append((t, z_end, r_max, zn, rn, va, zc, speed, f, v, _at(surf, fa, ROOT)))


RESULT = ("d_over_D", "z_neck_over_D", "t_pinch", "z_end_over_D", "pinch_speed")


def make(number, level, clock):
    """Run one row at one level ('base' or 'refined'): a dictionary that can be kept as JSON."""
    case = table()[number - 1][2]
    hist = ForceHistory()
    out, _, _ = run(refined(case) if level == "refined" else case, observe=hist, wall_clock=clock)
    return dict(row=number, level=level, out=out, history=[list(h) for h in hist.rows])


def summary(number, base, fine):
    """One line of the table from the kept runs of a row; without a refined run the error stays empty (nan)."""
    number, name, case = table()[number - 1]
    good = fine is not None and fine["out"]["status"] == "pinched" and base is not None
    best = fine if good else base
    # Once the neck is thin the liquid behind it has a pressure of its own, which the traction's equation no longer fixes.
    out, history = best["out"], [h[:10] + [h[10] if h[4] > 0.3 else float("nan")] for h in best["history"]]
    row = dict(row=number, set=name, ca=case.ca, q=case.q, viscosity_ratio=float(case.lam), wall_over_R=float(case.wall),
               tip_length_over_R=case.tube, status=out["status"], resolution=best["level"])
    for k in RESULT:
        row[k] = out.get(k, float("nan"))
        row[k + "_error"] = abs(out[k] - base["out"].get(k, float("nan"))) if good else float("nan")
    row["x_drop"] = row["d_over_D"] / case.wall if case.wall else 0.0
    row["mode"] = "" if out["status"] != "pinched" else ("jet" if row["z_neck_over_D"] > 5 else "drip")
    row["volume_drift"] = out["volume_corrected"]
    last = history[-1] if history else [float("nan")] * 11
    row["r_neck_last"], row["force_last"], row["z_end_last"] = last[4], last[8], last[1]
    row["force_root_greatest"] = max((h[10] for h in history if h[4] > 0.3), default=float("nan"))
    row["processor_seconds"] = base["out"]["seconds"] + (fine["out"]["seconds"] if good else 0.0)
    return row, [dict(zip(("row",) + ForceHistory.NAMES, [number] + h)) for h in history]


def _numbers(text):
    out = []
    for part in text.split(","):
        a, _, b = part.partition("-")
        out += range(int(a), int(b or a) + 1)
    return out


def _format(v):
    return f"{v:.6g}" if isinstance(v, float) else str(v)


def _load(folder, number, level):
    f = pathlib.Path(folder) / f"row_{number:03d}_{level}.json"
    return json.loads(f.read_text()) if f.exists() else None


def collect(folder, target):
    """Gather the kept runs into two tables."""
    made = []
    for number, _, _ in table():
        base, fine = _load(folder, number, "base"), _load(folder, number, "refined")
        if base is not None:
            made.append(summary(number, base, fine))
    target.mkdir(exist_ok=True)
    for name, records, head in (
        ("coflow.csv", [m[0] for m in made], HEAD_ROWS),
        ("coflow_force.csv", [h for m in made for h in m[1]], HEAD_FORCE),
    ):
        with open(target / name, "w", newline="") as out:
            out.write(head)
            w = csv.writer(out, lineterminator="\n")
            w.writerow(list(records[0]))
            w.writerows([[_format(v) for v in r.values()] for r in records])
    print(len(made), "rows")


HEAD_ROWS = (
    "# own computation: axisymmetric two-liquid Stokes flow by boundary elements, see ../README.md; lengths in tip radii R\n"
    "# or diameters D as named, time in mu_o R/gamma, force in gamma R; ca = mu_o U_axis/gamma of the outer flow fed upstream;\n"
    "# q = mean inner velocity in the tip over U_axis; *_error = change from the base to the refined resolution\n"
)
HEAD_FORCE = (
    "# own computation: histories of the rows of coflow.csv (same number); R, mu_o R/gamma, gamma R; 'ahead' = ahead of the neck,\n"
    "# of the tip (z = 0, r = 1) while there is no neck; speed = volume mean of the axial velocity; force = pull of the outer liquid\n"
)


def main():
    p = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    p.add_argument("what", help="row numbers such as 3 or 1-4,9; 'list'; 'collect'")
    p.add_argument("--out", help="folder that keeps each run made")
    p.add_argument("--clock", type=float, default=600.0, help="processor seconds allowed for a run")
    p.add_argument("--level", choices=("base", "refined", "both"), default="both")
    a = p.parse_args()
    if a.what == "list":
        for n, name, c in table():
            print(n, name, f"ca={c.ca:.4g} q={c.q:.4g} lam={c.lam:g} wall={c.wall:g} tip={c.tube:g}")
        return
    if a.what == "collect":
        collect(a.out, pathlib.Path(__file__).resolve().parent.parent / "results")
        return
    for n in _numbers(a.what):
        done = {}
        for level in ("base", "refined"):
            if a.level not in (level, "both"):
                continue
            kept = pathlib.Path(a.out) / f"row_{n:03d}_{level}.json" if a.out else None
            if kept is not None and kept.exists():
                continue
            done[level] = make(n, level, a.clock)
            if kept is not None:
                kept.parent.mkdir(parents=True, exist_ok=True)
                kept.write_text(json.dumps(done[level], default=float))
            print(n, level, {k: _format(v) for k, v in done[level]["out"].items()}, flush=True)
        if "base" in done and a.level == "both":
            print({k: _format(v) for k, v in summary(n, done["base"], done.get("refined"))[0].items()}, flush=True)


if __name__ == "__main__":
    main()
