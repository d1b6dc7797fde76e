"""Drag on liquid spheres and spheroids held in a tube, alone and behind a tip. Writes held_drop.csv.

The shape is given and at rest; its surface is mobile and carries whatever normal forces hold the shape:

    c u = u_inf - G (phi n) + (1 - lambda) D u,   u.n = 0,   c = (1 + lambda)/2,

with the fixed boundaries of `flow.py` eliminated. Unknowns: the tangential velocity and phi at every node (phi is open by a
constant, the drop's own pressure: least squares takes the least). Drag = integral of phi n_z, since the inner liquid adds none.

    python -m stokes_bem.held FOLDER blunt   writes held_drop_blunt_tip.csv and stream_behind_blunt_tip.csv
    python -m stokes_bem.held FOLDER     writes held_drop.csv (some minutes), checks spheres far from a tip against Haberman & Sayre
"""

import sys

import numpy as np
import scipy.linalg as sla

from .elements import influence
from .flow import Case, Fixed, background
from .force import _on_gauss
from .surface import Surface

RATIOS = (0.1, 0.3, 1.0, 3.0, 10.0)
NODES = 41


def behind(wall, outer=1.0):
    """Boundaries of a tube with a tip that ends at z = 0, its outside `outer` times its bore."""
    return Fixed(Case(ca=1.0, q=1e-9, lam=1.0, wall=wall, tube=min(60.0, 5.0 + 2 * wall),
                      reach=130.0 if wall > 50 else 45.0 + 2 * wall, outer=outer))


def alone(wall):
    """The same, long enough for a drop five tube radii behind the tip, which feels nothing of it there."""
    return Fixed(Case(ca=1.0, q=1e-9, lam=1.0, wall=wall, tube=5.0, reach=45.0 + 14.0 * wall))


def drag(fixed, centre, radius, aspect, ratio, nodes=NODES):
    """Drag over 6 pi mu_o R U, U the undisturbed axis velocity."""
    t = np.linspace(0.0, np.pi, nodes)
    surf = Surface(centre - radius * aspect * np.cos(t), radius * np.sin(t), "axis", "axis")
    n, es = surf.n, surf.elements()
    gss, dss = influence(es, es, True)
    gsf, _ = influence((surf.z, surf.r), fixed.el, False)
    gfs, dfs = influence((fixed.el.tz, fixed.el.tr), es, True)
    inv = sla.lu_solve(fixed.lu, np.concatenate([gfs, fixed.rhs[:, None], dfs], axis=1))
    stream = np.zeros(2 * n)
    stream[0::2] = background(fixed.case, surf.z, surf.r)
    single, stream = gss - gsf @ inv[:, : 2 * n], stream - gsf @ inv[:, 2 * n]
    double = dss - gsf @ inv[:, 2 * n + 1 :]
    i = np.arange(n)
    along, across = np.zeros((2 * n, n)), np.zeros((2 * n, n))
    along[2 * i, i], along[2 * i + 1, i] = -surf.nr, surf.nz
    across[2 * i, i], across[2 * i + 1, i] = surf.nz, surf.nr
    left = np.hstack([(0.5 * (1 + ratio) * np.eye(2 * n) - (1 - ratio) * double) @ along, single @ across])
    # on the axis the tangent is radial: no tangential velocity, no radial equation
    rows, columns = np.ones(2 * n, bool), np.ones(2 * n, bool)
    rows[[1, -1]] = columns[[0, n - 1]] = False
    x = np.zeros(2 * n)
    x[columns] = np.linalg.lstsq(left[np.ix_(rows, columns)], stream[rows], rcond=1e-12)[0]
    phi = x[n:]
    _, r, _, _, w, fz, _ = _on_gauss(es, np.stack([phi * surf.nz, phi * surf.nr], 1).ravel())
    return abs(np.sum(2 * np.pi * r * fz * w)) / (6 * np.pi)


def table():
    """(R_w, gap, radius, aspect, ratio, drag) with lengths in tip radii; gap inf: alone, radius 1."""
    for wall in (3.0, 4.0, 6.0, 10.0, 20.0, 57.75):
        fixed = behind(wall)
        for gap in (0.1, 0.3):
            for radius in (1.0, 1.3, 1.7, 2.3, 3.2, 5.0, 8.0):
                if radius <= (0.62 if radius <= 5.0 or wall > 50 else 0.45) * wall:
                    for aspect in (1.0, 1.4, 1.8):
                        for ratio in RATIOS:
                            yield wall, gap, radius, aspect, ratio, drag(fixed, gap + radius * aspect, radius, aspect, ratio)
    for confinement in (0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7):
        wall = 1.0 / confinement
        fixed = alone(wall)
        for aspect in (1.0, 1.3, 1.6, 2.0, 2.5):
            for ratio in RATIOS:
                yield wall, float("inf"), 1.0, aspect, ratio, drag(fixed, 5.0 * wall, 1.0, aspect, ratio, 49)


def blunt_tips():
    """(outer, R_w), lengths in the tip's bore radius; then tips that fill two fifths to two thirds of the tube's radius."""
    yield from ((outer, wall) for outer in (1.0, 1.5, 2.0, 3.0) for wall in (4.0, 6.0, 10.5, 20.0, 57.75) if outer <= 0.5 * wall)
    yield from ((1.5, 2.25), (2.0, 3.0), (2.0, 3.5), (2.0, 4.5), (3.0, 4.5), (3.0, 5.25), (3.0, 6.75))


def blunt_table():
    """(outer, R_w, gap, radius, aspect, ratio, drag) behind blunt tips, lengths in the tip's bore radius."""
    for outer, wall in blunt_tips():
        fixed = behind(wall, outer)
        for gap in (0.1, 0.3):
            for radius in (1.0, 1.7, 2.3, 3.2, 5.0, 8.0):
                if radius <= (0.62 if radius <= 5.0 or wall > 50 else 0.45) * wall:
                    for aspect in (1.0, 1.4):
                        for ratio in (0.1, 1.0, 10.0):
                            found = drag(fixed, gap + radius * aspect, radius, aspect, ratio)
                            yield outer, wall, gap, radius, aspect, ratio, found


def blunt_stream():
    """(outer, R_w, z, velocity over U) on the axis behind a blunt tip without a drop."""
    z = np.array([0.1, 0.25, 0.5, 1, 1.5, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 30])
    for outer, wall in blunt_tips():
        fixed = behind(wall, outer)
        strength = np.linalg.solve(fixed.g, fixed.rhs)
        g, _ = influence((z, 0.0 * z), fixed.el, False)
        for a, b in zip(z, background(fixed.case, z, 0.0 * z) - (g @ strength)[0::2]):
            yield outer, wall, a, b


def write(target, names, lines):
    with open(target, "w") as out:
        out.write("# first principles: Stokes flow by boundary elements, made by validation/reference/stokes_bem/held.py behind blunt tips;\n"
                  "# lengths in the tip's bore radius R, outer: its outside radius, gap: tip's plane to near pole, U axis velocity far away\n")
        out.write(names + "\n")
        for line in lines:
            out.write(",".join(f"{x:.6g}" for x in line) + "\n")


def main(folder, what="thin"):
    if what == "blunt":
        write(f"{folder}/stream_behind_blunt_tip.csv", "outer_over_R,wall_over_R,z_over_R,velocity_over_U", blunt_stream())
        write(f"{folder}/held_drop_blunt_tip.csv",
              "outer_over_R,wall_over_R,gap_over_R,radius_over_R,aspect,viscosity_ratio,drag_over_6_pi_mu_R_U", blunt_table())
        return
    fixed = alone(8.0)
    for ratio, known in ((0.1, 0.85194), (1.0, 1.05797), (10.0, 1.28286)):
        found = drag(fixed, 40.0, 1.0, 1.0, ratio)
        print(f"sphere of R_w/8, ratio {ratio}: {found:.5f}, Haberman & Sayre 1958 (recalled) {known}")
        assert abs(found / known - 1.0) < 5e-4
    with open(f"{folder}/held_drop.csv", "w") as out:
        out.write("# first principles: Stokes flow by boundary elements, made by validation/reference/stokes_bem/held.py; drag on a held liquid\n"
                  "# spheroid over 6 pi mu_o R U; lengths in tip radii R, gap between tip's plane and near pole (inf: alone, R its radius)\n")
        out.write("wall_over_R,gap_over_R,radius_over_R,aspect,viscosity_ratio,drag_over_6_pi_mu_R_U\n")
        for line in table():
            out.write(",".join(f"{x:.6g}" for x in line) + "\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
