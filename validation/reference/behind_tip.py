"""Reference tables for the stream behind a tip and the drag on a drop in it, from first principles.

Stokes flow, boundary elements (single layer, constant densities on straight or circular elements). A thin-walled tube of
radius R = 1, plugged two radii inside its mouth, on the axis of a wider tube of radius R_w; Poiseuille flow far
downstream, whose axis velocity is the unit. A drop is a sphere held in place: rigid, or liquid of the same viscosity
as the stream (its surface carries normal forces only, so that nothing but the normal velocity vanishes).

    python behind_tip.py FOLDER      writes tip_wake.csv, drop_behind_tip.csv, drop_in_tube.csv (two minutes)

Needs numpy and scipy. Checks of its own: Stokes' and Hadamard-Rybczynski's drag of a lone sphere, printed first.
"""

import sys

import numpy as np

from stokes_rings import Curve, matrix

AXIS = 2.0 * np.pi
STOKES = 6.0 * np.pi


def graded(start, end, count, smallest):
    """Parameters from start to end, elements shrinking geometrically to `smallest` of the range at the end."""
    f = np.linspace(0.0, 1.0, count + 1)
    return start + (end - start) * (1.0 - (smallest**f - smallest) / (1.0 - smallest))


def tube(length, count=160):
    return Curve(lambda t: (t, np.ones_like(t)), graded(-length, 0.0, count, 1e-4))


def plug():
    return Curve(lambda t: (-2.0 * np.ones_like(t), t), np.linspace(0.0, 1.0, 12))


def wall(radius, upstream, downstream, count=160):
    f = np.sinh(np.linspace(-3.0, 3.0, count + 1)) / np.sinh(3.0)
    return Curve(lambda t: (t, radius * np.ones_like(t)), np.where(f < 0.0, f * upstream, f * downstream))


def sphere(centre, radius, count=60):
    t = 0.5 * np.pi * (1.0 - np.cos(np.linspace(0.0, np.pi, count + 1)))
    return Curve(lambda a: (centre - radius * np.cos(a), radius * np.sin(a)), t)


def solve(curves, kinds, stream):
    """Densities (axial, radial) on each curve so that the velocity (or, for a drop, its normal part) vanishes there."""
    z, s = np.concatenate([c.z for c in curves]), np.concatenate([c.s for c in curves])
    n = len(z)
    zz, zr, rz, rr = np.concatenate([matrix(c, z, s) for c in curves], axis=2)
    given = np.concatenate([stream(z, s), np.zeros(n)]) * 8.0 * np.pi
    ends = np.cumsum([0] + [len(c) for c in curves])
    spans = [slice(a, b) for a, b in zip(ends[:-1], ends[1:])]
    columns = []
    for c, kind, w in zip(curves, kinds, spans):
        axial, radial = np.vstack([zz[:, w], rz[:, w]]), np.vstack([zr[:, w], rr[:, w]])
        columns += [axial, radial] if kind == "rigid" else [axial * c.nz + radial * c.ns]
    left, rows, right = np.hstack(columns), [], []
    for c, kind, w in zip(curves, kinds, spans):
        top, bottom = left[w], left[w.start + n : w.stop + n]
        gz, gr = given[w], given[w.start + n : w.stop + n]
        if kind == "rigid":
            rows, right = rows + [top, bottom], right + [-gz, -gr]
        else:
            rows.append(top * c.nz[:, None] + bottom * c.ns[:, None])
            right.append(-(gz * c.nz + gr * c.ns))
    q = np.linalg.lstsq(np.vstack(rows), np.concatenate(right), rcond=1e-13)[0]
    out, at = [], 0
    for c, kind in zip(curves, kinds):
        m = len(c)
        if kind == "rigid":
            out.append((q[at : at + m], q[at + m : at + 2 * m]))
            at += 2 * m
        else:
            out.append((q[at : at + m] * c.nz, q[at : at + m] * c.ns))
            at += m
    return out


def force(curve, density):
    weights = np.array([curve.nodes(j)[2].sum() for j in range(len(curve))])
    return -AXIS * np.sum(density[0] * weights)


def on_axis(curves, densities, z):
    u = np.zeros_like(z)
    for c, (qz, qr) in zip(curves, densities):
        for j in range(len(c)):
            zg, sg, w, _ = c.nodes(j)
            dz = z[:, None] - zg
            a = np.hypot(dz, sg)
            u += (AXIS * ((1.0 / a + dz**2 / a**3) * qz[j] - dz * sg / a**3 * qr[j]) * w).sum(axis=1)
    return u / (8.0 * np.pi)


def tip_wake(out):
    out.write("wall_over_tip_radius,z_over_tip_radius,axis_velocity\n")
    places = np.concatenate([[0.25, 0.5, 0.75], np.geomspace(1.0, 300.0, 24)])
    for radius in (3.0, 4.0, 8.0, 20.0, 57.75, 200.0, 500.0):
        curves = [tube(max(3.0 * radius, 20.0)), plug(), wall(radius, max(3.0 * radius, 20.0) + 6.0 * radius, 6.0 * radius)]
        q = solve(curves, ["rigid"] * 3, lambda z, s: 1.0 - (s / radius) ** 2)
        z = places[places < 2.5 * radius]
        u = 1.0 + on_axis(curves, q, np.append(z, 3.0 * radius))
        for place, velocity in zip(z, u[:-1] / u[-1]):
            out.write(f"{radius:g},{place:.5g},{velocity:.5f}\n")


def drop_behind_tip(out):
    out.write("wall_over_tip_radius,gap_over_tip_radius,drop_over_tip_radius,rigid,drag_over_6_pi_mu_r_U\n")
    for radius in (8.0, 20.0, 57.75, 200.0):
        for gap in (0.3, 1.0, 3.0):
            for drop in (1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0):
                if drop > 0.5 * radius:
                    continue
                length = max(3.0 * radius, 20.0)
                curves = [tube(length, 140), plug(), wall(radius, length + 6.0 * radius, 6.0 * radius, 120)]
                curves.append(sphere(gap + drop, drop, 50))
                for kind in ("drop", "rigid"):
                    q = solve(curves, ["rigid"] * 3 + [kind], lambda z, s: 1.0 - (s / radius) ** 2)
                    axis = 1.0 + on_axis(curves, q, np.array([3.0 * radius]))[0]
                    drag = force(curves[3], q[3]) / (STOKES * drop * axis)
                    out.write(f"{radius:g},{gap:g},{drop:g},{int(kind == 'rigid')},{drag:.5f}\n")


def drop_in_tube(out):
    out.write("drop_over_wall_radius,rigid,moving_K1,held_K2\n")
    for radius in (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8):
        curves = [wall(1.0, 8.0, 8.0), sphere(0.0, radius)]
        for kind, unit in (("drop", 5.0 / 6.0), ("rigid", 1.0)):
            forces, axis = [], []
            for moving in (True, False):
                stream = (lambda z, s: np.where(s < 0.9999, -1.0, 0.0)) if moving else (lambda z, s: 1.0 - s * s)
                q = solve(curves, ["rigid", kind], stream)
                forces.append(force(curves[1], q[1]) / (STOKES * radius * unit))
                axis.append((0.0 if moving else 1.0) + on_axis(curves, q, np.array([4.0]))[0])
            # The open ends let a little flow round the outside; its axis velocity far away is taken off.
            held = forces[1] / axis[1]
            out.write(f"{radius:g},{int(kind == 'rigid')},{held * axis[0] - forces[0]:.5f},{held:.5f}\n")


def main(folder):
    lone = sphere(0.0, 1.0)
    for kind, exact in (("rigid", 6.0 * np.pi), ("drop", 5.0 * np.pi)):
        q = solve([lone], [kind], lambda z, s: np.ones_like(z))
        print(kind, "lone sphere, drag over exact minus one:", force(lone, q[0]) / exact - 1.0)
    note = "# first principles: Stokes flow by boundary elements, made by validation/reference/behind_tip.py; "
    for name, make, what in (
        ("tip_wake", tip_wake, "axis velocity behind a plugged thin-walled tube, unit: far downstream; error below 0.005"),
        ("drop_behind_tip", drop_behind_tip, "drag on a held sphere behind it, unit: axis velocity far downstream; error below 1 %"),
        ("drop_in_tube", drop_in_tube, "wall factors of a sphere moving (K1) or held in Poiseuille flow (K2), rigid or equal viscosity, over 6 pi mu r U times 1 or 5/6; error below 0.5 %"),
    ):
        with open(f"{folder}/{name}.csv", "w") as out:
            out.write(note + what + "\n")
            make(out)


if __name__ == "__main__":
    main(sys.argv[1])
