"""Swell of a thick thread behind its tip: what the parabola of the bore does while it evens out.

    python -m stokes_bem.swell FILE

A thread 300 times as viscous as a slow outer liquid, Ca of the inner liquid 9.9 (mean velocity): capillarity is weak, the outer liquid
hardly resists. FILE gets the thread's radius at some places when its front is 4 R away, at two resolutions.
"""

import argparse
import csv
import dataclasses

import numpy as np

from .dripping import run
from .flow import Case

CASE = Case(ca=0.001, q=33.0, lam=300.0, wall=0.0, tube=20.0)
FRONT = 4.0
PLACES = (0.25, 0.5, 0.75, 1.0, 1.5, 2.0)


class _Reached(Exception):
    """The front is where the radii are read."""


def radii(finer, seconds=3000.0):
    """Front, and the radius at every place, with interface, rim and tip `finer` times as fine."""
    case = dataclasses.replace(
        CASE, c=CASE.c / finer, h_rim=CASE.h_rim / finer, tube_nodes=round(CASE.tube_nodes * finer)
    )
    found = []

    def observe(_time, surface, _fixed, _line):
        if surface.z[-1] >= FRONT:
            ahead = np.argsort(surface.z)
            found.append((surface.z[-1], np.interp(PLACES, surface.z[ahead], surface.r[ahead])))
            raise _Reached

    try:
        out, _, _ = run(case, observe=observe, wall_clock=seconds)
    except _Reached:
        return found[0]
    raise RuntimeError(f"no thread of {FRONT} R: {out['status']}")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("file")
    file = parser.parse_args().file
    (front, coarse), (fine_front, fine) = radii(1.0), radii(1.5)
    with open(file, "w", newline="") as out:
        out.write("# own computation: Stokes flow behind a tip (validation/reference/stokes_bem/swell.py), viscosity ratio 300, Ca_i 9.9;\n")
        out.write(f"# lengths in R; fronts at {front:.3f} and {fine_front:.3f} (1.5 times as fine)\n")
        lines = csv.writer(out, lineterminator="\n")
        lines.writerow(["z", "h", "h_coarser"])
        lines.writerows([f"{z:.2f}", f"{f:.4f}", f"{c:.4f}"] for z, f, c in zip(PLACES, fine, coarse))


if __name__ == "__main__":
    main()
