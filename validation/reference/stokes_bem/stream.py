"""Velocity behind the bare tip (no drop, no inner flow): the stream that a drop meets. Writes results/stream_behind_tip.csv."""

import csv
import pathlib

import numpy as np

from .elements import influence
from .flow import Case, Fixed, background

CASES = ((0.0, 20.0), (57.75, 60.0), (10.0, 25.0), (8.0, 21.0), (6.0, 17.0), (5.0, 15.0), (4.0, 13.0), (3.0, 11.0))


def main():
    target = pathlib.Path(__file__).resolve().parent.parent / "results"
    target.mkdir(exist_ok=True)
    with open(target / "stream_behind_tip.csv", "w", newline="") as out:
        out.write("# own computation: axial velocity over the undisturbed axis velocity U behind the bare tip, equal viscosities,\n"
                  "# no inner flow; wall 0: unbounded; z from the tip's plane, r from the axis, both in R\n")
        w = csv.writer(out, lineterminator="\n")
        w.writerow(["wall_over_R", "tip_length_over_R", "z_over_R", "r_over_R", "velocity_over_U", "undisturbed_over_U"])
        z = np.array([0.25, 0.5, 1, 1.5, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 30])
        for wall, tip in CASES:
            case = Case(ca=1.0, q=1e-9, lam=1.0, wall=wall, tube=tip, tube_nodes=40,
                        reach=130.0 if wall > 50 else 45.0 + 2 * wall)
            fx = Fixed(case)
            q = np.linalg.solve(fx.g, fx.rhs)
            for r in (0.0, 1.0, 2.0, 3.0, 5.0):
                if wall and r >= wall:
                    continue
                g, _ = influence((z, r + 0 * z), fx.el, False)
                base = background(case, z, r + 0 * z)
                for a, b, c in zip(z, base - (g @ q)[0::2], base):
                    w.writerow([wall, tip, f"{a:g}", r, f"{b:.5f}", f"{c:.5f}"])


if __name__ == "__main__":
    main()
