"""A tap in a thin gas: input for the flow solver, and every break-off of a run.

    python -m full_flow.tap 1.1 --out kept [--level 3]    the 2 mm water tap at 1.1 times the published velocity of its border
    python -m full_flow.tap collect --out kept            write results/tap.csv

Oh, Bo and We (inner mean velocity) on the bore's radius; a long needle's parabola enters in the plane of a no-slip plate, the rim is
pinned as in `coflow.py`; boxes of one radius; finest cell 1/2^level; start: a hemisphere that moves as the inflow.
"""

import argparse
import csv
import math
import pathlib

from stokes_bem.devices import RESULTS

from .coflow import PIN
from .domain import boxes
from .solve import pieces, run

ROWS = 4
# Water at 20 C from a bore of 2 mm: Oh, Bo, and We at the border by Clanet & Lasheras 1999 (formula recalled), on its radius
WATER = (0.003717, 0.13463, 0.825015)
GAS = (2e-3, 0.02)  # density and viscosity over the liquid's
NO_SLIP = "Boundary { BcDirichlet U 0 BcDirichlet V 0 }"


def tap(ohnesorge, bond, weber, level=3, length=36, end=45.0):
    """Text of the input."""
    u = math.sqrt(weber)

    def boundary(i, j, side):
        if side == "left" and j == 0:
            return (f"Boundary {{ BcDirichlet U (y < 1. ? {2 * u}*(1. - y*y) : 0.) BcDirichlet V 0 "
                    f"BcAngle T pin (y, {1 / 2**level}, T_Hby) }}")
        if side == "left":
            return NO_SLIP
        return "BoundaryOutflow" if side == "right" else "Boundary"

    n, links, text, first = boxes((0, length), ROWS, lambda i, j: True, boundary)
    fine = f"maxlevel = {level} cfactor = 2"
    return f"""{n} {links} GfsAxi GfsBox GfsGEdge {{ x = {first[0] + 0.5} }} {{
  Global {{
    #define MIX(T, a, b) (b + CLAMP (T, 0, 1)*(a - b))
    {PIN}
    static int rim (double x, double y) {{ return x < 0.3 && y > 0.8 && y < 1.2; }}
  }}
  Time {{ end = {end} }}
  Refine 1
  Refine (rim (x, y) ? {level} : 1)
  RefineSurface {level} (1. - sqrt (x*x + y*y))
  VariableTracerVOFHeight T
  VariableFiltered T1 T 1
  VariableCurvature K T Kmax
  SourceTension T 1 K
  PhysicalParams {{ alpha = 1./MIX (T1, 1., {GAS[0]}) }}
  SourceViscosity {ohnesorge}*MIX (T1, 1., {GAS[1]})
  Source U {bond}
  InitFraction T (1. - sqrt (x*x + y*y))
  Init {{}} {{ U = T*{u} }}
  ApproxProjectionParams {{ tolerance = 1e-3 nitermin = 1 erelax = 2 }}
  ProjectionParams {{ tolerance = 1e-3 nitermin = 1 erelax = 2 }}
  AdaptFunction {{ istep = 1 }} {{ cmax = 0 minlevel = 0 {fine} }} ((T > 0 && T < 1) || rim (x, y) ? 1 : 0)
  AdaptGradient {{ istep = 1 }} {{ cmax = {0.06 * u} minlevel = 0 maxlevel = {level - 1} }} U
  OutputDropletSums {{ step = 0.2 }} volume.txt {{ v = T*dL*dL*y }} T
  OutputDropletSums {{ step = 0.2 }} moment.txt {{ v = T*dL*dL*y*x }} T
}}
{text}"""


HEAD = (
    "# own computation: axisymmetric Navier-Stokes of a 2 mm water tap by a general flow solver, see ../README.md; times in\n"
    "# sqrt(rho R^3/gamma), volumes in R^3; velocity over that of the published border; number 1 is the first drop, during whose filling the\n"
    "# contact line left the rim: not to be compared\n"
)


def break_offs(folder, at_least=0.3):
    """Every loss of the attached piece that leaves a drop behind it: time, volume of that drop, volume left and its centre."""
    found, before, losses = pieces(folder), None, []
    for t in sorted(found)[:-1]:
        big = sorted((p for p in found[t] if p[0] > at_least), key=lambda p: p[1])
        if before is not None and len(big) > 1 and big[0][0] < before - 1.0:
            losses.append((t, big[1][0], *big[0]))
        before = big[0][0]
    return losses


def collect(folder):
    lines = []
    for at in sorted(pathlib.Path(folder).glob("tap_*_*")):
        _, times, level = at.name.split("_")
        for number, (t, volume, left, centre) in enumerate(break_offs(at), 1):
            lines.append([times, 2 ** int(level), number, *(f"{x:.4g}" for x in (t, volume, left, centre))])
    with open(RESULTS / "tap.csv", "w", newline="") as out:
        out.write(HEAD)
        w = csv.writer(out, lineterminator="\n")
        w.writerow(["velocity_over_published", "cells_per_R", "number", "time", "volume_of_drop", "volume_left", "centre_left"])
        w.writerows(lines)
    print(len(lines), "break-offs")


def main():
    p = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    p.add_argument("what", help="velocity over the published one, or 'collect'")
    p.add_argument("--out", default="kept_full_flow")
    p.add_argument("--level", type=int, default=3)
    p.add_argument("--clock", type=float, default=1500.0, help="processor seconds allowed for a run")
    a = p.parse_args()
    if a.what == "collect":
        collect(a.out)
    else:
        ohnesorge, bond, weber = WATER
        text = tap(ohnesorge, bond, weber * float(a.what) ** 2, level=a.level)
        run(f"{a.out}/tap_{a.what}_{a.level}", text, drops=99, clock=a.clock)


if __name__ == "__main__":
    main()
