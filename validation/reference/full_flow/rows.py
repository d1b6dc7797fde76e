"""Rows with inertia: their cases, how one is made, and the table.

    python -m full_flow.rows list
    python -m full_flow.rows inertia-4 --out DIR [--level 2]    make rows in DIR (level 2: R/2.7, 3: R/5.3, 4: R/10.7);
        [--downstream 60]   tube behind the tip, R: longer for a jet that leaves 18 R unbroken (it replaces that run)
    python -m full_flow.rows collect --out DIR                  write results/inertia.csv
"""

import csv
import json
import math
import pathlib

from stokes_bem.devices import RESULTS, draw

from .coflow import coflow
from .solve import options, run

# La_o, Ca, q, viscosity ratio, tip's outside radius
CASES = (
    (50.0, 0.1, 1.0, 1.0, 1.5), (10.0, 0.1, 1.0, 1.0, 1.5), (10.0, 0.2, 0.5, 1.0, 1.5), (1.0, 0.1, 1.0, 1.0, 1.5),
    (50.0, 0.1, 1.0, 1.0, 3.0), (50.0, 0.1, 0.3, 1.0, 1.5), (200.0, 0.1, 0.5, 1.0, 1.5), (50.0, 0.2, 0.5, 1.0, 1.5),
    (50.0, 0.1, 0.5, 0.3, 1.5), (50.0, 0.1, 0.5, 3.0, 1.5), (500.0, 0.05, 0.5, 1.0, 1.5), (10.0, 0.1, 0.3, 1.0, 1.5),
)


def table():
    rows = {f"inertia-{i + 1}": case for i, case in enumerate(CASES)}
    for group in ("blind-inertia", "blind-jet"):
        rows.update({f"{group}-{i + 1}": (*case, 1.5) for i, case in enumerate(draw(group))})
    return rows


def make(name, level, folder, clock, downstream):
    laplace, ca, q, ratio, outer = table()[name]
    at = pathlib.Path(folder) / f"{name}_{level}"
    first = run(str(at), coflow(laplace, ca, q, ratio, outer=outer, level=level, downstream=downstream), clock=clock)
    (at / "result.json").write_text(json.dumps(first))
    return first


def diameter(first):
    return (6 * first["volume"] / math.pi) ** (1 / 3) / 2 if first else float("nan")


HEAD = (
    "# own computation: axisymmetric Navier-Stokes of both liquids by a general flow solver, see ../README.md; first drops; density ratio 1,\n"
    "# tube R_w = 10.5 R, tip's outside radius `outer` R; d over the tip's bore diameter; the value is that of the finest mesh made,\n"
    "# *_coarse that of the next (cells a radius R given); error: their difference, empty with one mesh\n"
)


def collect(folder):
    lines = []
    for name, (laplace, ca, q, ratio, outer) in table().items():
        made = []
        for level in (4, 3, 2):
            kept = pathlib.Path(folder) / f"{name}_{level}" / "result.json"
            first = json.loads(kept.read_text()) if kept.exists() else None
            if first:
                made.append((2**level / 1.5, diameter(first)))
        if made:
            (cells, d), (coarse, d_coarse) = made[0], made[1] if len(made) > 1 else (float("nan"),) * 2
            lines.append([name, laplace, ca, q, ratio, outer, *(f"{x:.4g}" for x in (d, cells, d_coarse, coarse, abs(d - d_coarse)))])
    with open(RESULTS / "inertia.csv", "w", newline="") as out:
        out.write(HEAD)
        w = csv.writer(out, lineterminator="\n")
        w.writerow(["row", "laplace_outer", "capillary", "inner_share", "viscosity_ratio", "outer", "d_over_D", "cells_per_R",
                    "d_over_D_coarse", "cells_per_R_coarse", "d_over_D_error"])
        w.writerows(lines)
    print(len(lines), "rows")


def main():
    a = options(__doc__, "row names, 'list' or 'collect'", 3, downstream=18.0)
    if a.what == ["list"]:
        for name, case in table().items():
            print(name, case)
    elif a.what == ["collect"]:
        collect(a.out)
    else:
        for name in a.what:
            first = make(name, a.level, a.out, a.clock, a.downstream)
            print(name, a.level, first, diameter(first), flush=True)


if __name__ == "__main__":
    main()
