"""The page's points (Ca_o, We_i) = (0.01, We) of the border between dripping and jetting, by the full equations.

    python -m full_flow.border 3 --out kept [--level 4]    water from a 50 um tip into 10 mPa s in a bore of 1 mm, 40 mN/m
    python -m full_flow.border cut 3 239 12.56 --out kept  go on from its state at time 239, without what lies beyond 12.56 R
    python -m full_flow.border collect --out kept          write results/border.csv and results/border_jet.csv

La_o = 10, viscosity ratio 0.1, density ratio 1, tube R_w = 20 R, both from `validation/jetting/mod.rs`; We on the tip's bore diameter. The tip
is 2 R thick outside (boxes of 2 R; the page's 1.1 R: the program's mode is the same with either); finest cell 2/2^level R.
"""

import csv
import math
import pathlib
import re

import numpy as np

from stokes_bem.devices import RESULTS

from .coflow import coflow
from .solve import go_on, options, run

LAPLACE, CAPILLARY, RATIO, BOX = 10.0, 0.01, 0.1, 2.0
WATCH = """  OutputSimulation { step = 0.5 } snap-%g.txt { format = text variables = T,U,V,P }
  OutputSimulation { step = 0.5 } restart-%g.gfs { }
"""
CUT = "  Init {{ start = {time} step = 1e9 }} {{ T = (x > {place} ? 0. : T) }}\n"


def text(weber, level):
    u = math.sqrt(weber / 2)
    share = u / (CAPILLARY * math.sqrt(LAPLACE))
    return coflow(LAPLACE, CAPILLARY, share, RATIO, outer=2.0, level=level, downstream=60.0, box=BOX, wall=20.0, upstream=-6.0,
                  resolve=0.06 * u, more=WATCH)


def cut(old, new, time, place, clock):
    """Go on from a kept state with what lies beyond a place taken for outer liquid."""
    state = (old / f"restart-{time:g}.gfs").read_bytes()
    at = state.index(b"  GfsAdaptFunction")
    go_on(str(new), state[:at] + CUT.format(time=time, place=place).encode() + state[at:], clock)


def snapshots(folder):
    found = []
    for path in folder.glob("snap-*.txt"):
        found.append((float(re.search(r"-([0-9.e+]+)\.txt$", path.name)[1]), path))
    return sorted(found)


def cells(path):
    """Place, radius, cell size, fraction, velocity along and pressure of every cell."""
    with open(path) as lines:
        names = [word.split(":")[1] for word in lines.readline().split() if ":" in word]
    data = np.loadtxt(path, usecols=range(len(names)), ndmin=2)
    size = np.full(len(data), np.nan)
    for level in range(7):
        h = BOX / 2**level
        fits = (np.abs(data[:, 0] / h % 1 - 0.5) < 1e-3) & (np.abs(data[:, 1] / h % 1 - 0.5) < 1e-3)
        size[fits & np.isnan(size)] = h
    column = lambda name: data[:, names.index(name)]
    return data[:, 0], data[:, 1], size, column("T"), column("U"), column("P")


def shape(path):
    """Squared radii of the slices of the inner liquid, and their width."""
    x, y, size, fraction, *_ = cells(path)
    h = np.nanmin(size)
    area = np.zeros(int(round(60 / h)))
    for x, y, s, f in zip(x, y, size, fraction):
        if f > 0 and x > 0:
            first = int(round((x - s / 2) / h))
            area[first:first + int(round(s / h))] += 2 * f * y * s
    return area, h


def attached(path):
    """Length, volume, least radius between the tip and the widest place, its place, and the largest radius, of what hangs on the tip."""
    area, h = shape(path)
    thin = area < 0.0064
    end = int(np.argmax(thin)) if thin.any() else len(area)
    area = area[:end]
    widest = int(np.argmax(area))
    neck = int(np.argmin(area[:widest + 1]))
    return end * h, math.pi * area.sum() * h, math.sqrt(area[neck]), (neck + 0.5) * h, math.sqrt(area[widest])


def fluxes(path, place):
    """Squared radius, volume and momentum flux of the inner liquid, and its mean pressure, at a place."""
    x, y, size, fraction, u, p = cells(path)
    at = (np.abs(x - place) <= size / 2 + 1e-9) & (fraction > 0)
    weight = 2 * math.pi * y[at] * size[at] * fraction[at]
    area = weight.sum()
    return area / math.pi, weight @ u[at], weight @ u[at] ** 2, weight @ p[at] / area


HEAD = (
    "# own computation: axisymmetric Navier-Stokes of both liquids by a general flow solver, see ../README.md; water from a 50 um tip into 10 mPa s\n"
    "# in a bore of 1 mm, Ca_o 0.01; lengths in R, times in sqrt(rho R^3/gamma), velocities, fluxes and pressures to match; "
)


def collect(folder):
    hanging, jets = [], []
    for at in sorted(pathlib.Path(folder).glob("border_*")):
        parts = at.name.split("_")
        weber, level, kind = parts[1], int(parts[2]), parts[3] if len(parts) > 3 else "first"
        for time, path in snapshots(at):
            if time % 20 == 0:
                length, volume, neck, place, widest = attached(path)
                stands = 0.5 * (length - 2 * (0.75 * volume / math.pi) ** (1 / 3))
                numbers = (time, length, volume, stands, neck, place, widest)
                hanging.append([weber, 2**level // 2, kind, *(f"{x:.4g}" for x in numbers)])
            if kind == "first" and level == 4 and time in (40, 160):
                length = attached(path)[0]
                for place in np.arange(0.0625, length - 0.5, 1.0):
                    area, volume, momentum, pressure = fluxes(path, place)
                    numbers = (time, place, math.sqrt(area), volume, momentum, momentum * math.pi * area / volume**2, pressure)
                    jets.append([weber, *(f"{x:.4g}" for x in numbers)])
    for name, what, columns, lines in (
        ("border.csv", "what hangs on the tip", ["weber", "cells_per_R", "run", "time", "length", "volume", "stands_out_D", "neck", "neck_at", "widest"], hanging),
        ("border_jet.csv", "fluxes of the inner liquid along it", ["weber", "time", "place", "radius", "volume_flux", "momentum_flux",
                                                                 "mean_square_over_square_of_mean", "pressure"], jets),
    ):
        with open(RESULTS / name, "w", newline="") as out:
            out.write(HEAD + what + "\n")
            w = csv.writer(out, lineterminator="\n")
            w.writerow(columns)
            w.writerows(lines)
        print(name, len(lines), "rows")


def main():
    a = options(__doc__, "Weber number; 'cut' with Weber number, time and place; or 'collect'", 4)
    out = pathlib.Path(a.out)
    if a.what[0] == "collect":
        collect(out)
    elif a.what[0] == "cut":
        weber, time, place = a.what[1:]
        old = out / f"border_{weber}_{a.level}"
        cut(old, out / f"{old.name}_cut", float(time), float(place), a.clock)
    else:
        run(str(out / f"border_{a.what[0]}_{a.level}"), text(float(a.what[0]), a.level), drops=99, clock=a.clock)


if __name__ == "__main__":
    main()
