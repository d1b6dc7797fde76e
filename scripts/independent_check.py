#!/usr/bin/env python3
"""Solves the thread equations of a record apart from the program, and compares.

    pip install numpy scipy h5py
    slenderjet run validation/independent/segment.toml -o segment.h5
    python3 scripts/independent_check.py segment.h5 [MORE.h5 ...]

Equations (Eggers & Dupont 1994, J. Fluid Mech. 262, 205; full curvature; units R = rho = gamma = 1):
    (h^2)_t + (h^2 u)_z = 0,   u_t + u u_z = -K_z + 3 Oh (h^2 u_z)_z / h^2 + Bo.
The program moves its nodes with the liquid, steps with a Rosenbrock scheme and regrids. Here nothing of that is shared:
finite volumes on a mesh that does not follow the liquid (fixed for `segment`; stretched with the length of the thread for
`pendant`), method of lines, backward differentiation of variable order (SciPy).

Compared, from the record's own summary: times at which the neck passes 0.5 and 0.1 R (0.5 %), volume beyond it at 0.1 R and
length of the thread then (1 %). Exit code 1 if anything is farther off.
"""

import json
import sys
import time

import h5py
import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import lil_matrix

TOLERANCE = {"time": 5e-3, "volume": 1e-2, "length": 1e-2}


def tension(a_left, a, a_right, d):
    """Capillary tension of equal cells of length d: pi a^2 (1 + a''/2)/(a + a'^2/4)^(3/2), whose slope is the full capillary force."""
    slope, bend = (a_right - a_left) / (2 * d), (a_right - 2 * a + a_left) / d**2
    middle = a - bend * d**2 / 24
    return np.pi * middle**2 * (1 + bend / 2) / (middle + slope**2 / 4) ** 1.5


def sparsity(n, extra=0):
    """Cells 0..n-1 hold (volume or area, velocity at the right face); everything sees three neighbours, and the length."""
    size = 2 * n + extra
    pattern = lil_matrix((size, size))
    for i in range(n):
        low, high = 2 * max(i - 3, 0), 2 * min(i + 4, n)
        pattern[2 * i : 2 * i + 2, low:high] = 1
    if extra:
        pattern[:, -1] = 1
        pattern[-1, 2 * (n - 4) : size] = 1
    return pattern


class Segment:
    """Half a wave between two mirrors, on a fixed mesh."""

    def __init__(self, groups, cells=400):
        self.oh, k, eps = groups["oh"], groups["wavenumber"], groups["amplitude"]
        self.n, self.length = cells, np.pi / k
        self.d = self.length / cells
        edges = np.linspace(0, self.length, cells + 1)
        # Cell averages of (1 + eps cos kz)^2, integrated exactly.
        whole = edges * (1 + eps**2 / 2) + 2 * eps * np.sin(k * edges) / k + eps**2 * np.sin(2 * k * edges) / (4 * k)
        self.start = np.zeros(2 * cells)
        self.start[0::2] = np.diff(whole) / self.d
        self.pattern = sparsity(cells)

    def slopes(self, _, y):
        a, u = y[0::2], np.concatenate(([0.0], y[1::2]))
        u[-1] = 0.0
        wide = np.concatenate(([a[0]], a, [a[-1]]))
        pull = tension(wide[:-2], a, wide[2:], self.d) + 3 * self.oh * np.pi * a * np.diff(u) / self.d
        face = np.concatenate(([a[0]], 0.5 * (a[:-1] + a[1:]), [a[-1]]))
        out = np.zeros_like(y)
        out[0::2] = -np.diff(face * u) / self.d
        advect = np.zeros(self.n + 1)
        advect[1:-1] = u[1:-1] * (u[2:] - u[:-2]) / (2 * self.d)
        force = np.zeros(self.n + 1)
        force[1:-1] = np.diff(pull) / (np.pi * face[1:-1] * self.d)
        out[1::2] = (force - advect)[1:]
        return out

    def neck(self, y):
        a = y[0::2]
        # A mirror is a neighbour too, so that the trough itself counts.
        wide = np.concatenate((a, [a[-1]]))
        j = int(np.argmin(a))
        if 0 < j < self.n - 1:
            l, m, r = wide[j - 1 : j + 2]
            m -= (r - l) ** 2 / (8 * (l - 2 * m + r))
        else:
            m = a[j]
        return np.sqrt(m), None, None


class Pendant:
    """A thread on a nozzle; cell edges at fixed fractions of its length, which is an unknown of its own."""

    def __init__(self, groups, cells=400):
        self.oh, self.bond, self.u0 = groups["oh"], groups["bond"], np.sqrt(groups["weber"])
        self.n = cells
        edges = np.linspace(0, 1, cells + 1)
        self.start = np.zeros(2 * cells + 1)
        self.start[0:-1:2] = np.pi * np.diff(edges - edges**3 / 3)
        self.start[1::2] = self.u0
        self.start[-1] = 1.0
        self.fraction = edges
        self.pattern = sparsity(cells, 1)

    def slopes(self, _, y):
        length, v = y[-1], y[0:-1:2]
        u = np.concatenate(([self.u0], y[1::2]))
        d = length / self.n
        a = v / (np.pi * d)
        speed = u[-1]
        drift = u - self.fraction * speed
        # Ends: radius 1 at the nozzle, 0 at the tip; the ghost is the average beyond of the parabola that meets it there.
        ghost_nozzle = 3.0 - 2.5 * a[0] + 0.5 * a[1]
        ghost_tip = -2.5 * a[-1] + 0.5 * a[-2]
        wide = np.concatenate(([ghost_nozzle], a, [ghost_tip]))
        pull = tension(wide[:-2], a, wide[2:], d) + 3 * self.oh * v * np.diff(u) / d**2
        face = np.concatenate(([1.0], 0.5 * (a[:-1] + a[1:]), [0.0]))
        out = np.zeros_like(y)
        out[0:-1:2] = -np.diff(np.pi * face * drift)
        mass = np.pi * face * d
        force = np.zeros(self.n + 1)
        force[1:-1] = np.diff(pull) / mass[1:-1]
        force[-1] = -pull[-1] / (0.5 * v[-1])
        gradient = np.zeros(self.n + 1)
        gradient[1:-1] = (u[2:] - u[:-2]) / (2 * d)
        out[1::2] = (force - drift * gradient + self.bond)[1:]
        out[-1] = speed
        return out

    def neck(self, y):
        length, v = y[-1], y[0:-1:2]
        d = length / self.n
        a = v / (np.pi * d)
        inner = a[1:-1]
        place = np.flatnonzero((inner <= a[:-2]) & (inner <= a[2:])) + 1
        if len(place) == 0:
            return 1.0, None, None
        j = place[np.argmin(a[place])]
        l, m, r = a[j - 1 : j + 2]
        shift = 0.5 * (l - r) / (l - 2 * m + r)
        return np.sqrt(m - (r - l) ** 2 / (8 * (l - 2 * m + r))), v[j + 1 :].sum() + v[j] * (0.5 - shift), length


def solve(model, until):
    """Times (and shapes) at which the neck passes 0.5 and 0.1 R."""

    def event(level):
        def miss(_, y):
            return model.neck(y)[0] - level

        miss.direction = -1
        return miss

    events = [event(0.5), event(0.1)]
    events[1].terminal = True
    run = solve_ivp(
        model.slopes,
        (0, until),
        model.start,
        method="BDF",
        rtol=1e-6,
        atol=1e-9,
        jac_sparsity=model.pattern,
        events=events,
    )
    if not run.t_events[1].size:
        raise SystemExit(f"the check's own solver did not reach the neck: {run.message}")
    return {0.5: (run.t_events[0][-1], model.neck(run.y_events[0][-1])), 0.1: (run.t_events[1][0], model.neck(run.y_events[1][0]))}


def groups_of(file):
    """Scaled groups from the case in the record, which is in SI."""
    case = json.loads(text(file["case"], "json"))
    inner, tension_ = case["inner"], case["tension"]
    if case["outer"] is not None:
        raise SystemExit("this check knows no outer liquid")
    segment = case["layout"].get("Segment") if isinstance(case["layout"], dict) else None
    radius = segment["radius"] if segment else 0.5 * case["device"]["tip_bore"]
    velocity = inner["flow"] / (np.pi * radius**2)
    return {
        "radius": radius,
        "time": np.sqrt(inner["density"] * radius**3 / tension_),
        "oh": inner["viscosity"] / np.sqrt(inner["density"] * tension_ * radius),
        "bond": inner["density"] * case["gravity"] * radius**2 / tension_,
        "weber": inner["density"] * velocity**2 * radius / tension_,
        "wavenumber": segment["wavenumber"] if segment else None,
        "amplitude": segment["amplitude"] if segment else None,
    }


def text(group, name):
    value = group.attrs[name] if name in group.attrs else group[name][()]
    return value.decode() if isinstance(value, bytes) else str(value)


def check(path):
    with h5py.File(path) as file:
        groups = groups_of(file)
        summary = json.loads(text(file["summary"], "json"))
    model = Segment(groups) if groups["wavenumber"] else Pendant(groups)
    until = 1.5 * summary["first_pinch"]["time_s"] / groups["time"]
    began = time.perf_counter()
    found = solve(model, until)
    print(f"{path}: {type(model).__name__.lower()}, Oh {groups['oh']:.4g}, {model.n} cells, {time.perf_counter() - began:.0f} s")
    good = True
    for neck in summary["necks"]:
        if neck["h_over_r"] not in found:
            continue
        at, (_, beyond, length) = found[neck["h_over_r"]]
        pairs = [("time", neck["time_s"] / groups["time"], at)]
        if beyond is not None and neck["h_over_r"] == 0.1:
            pairs.append(("volume", neck["volume_m3"] / groups["radius"] ** 3, beyond))
            pairs.append(("length", neck["length_m"] / groups["radius"], length))
        for name, ours, theirs in pairs:
            off = ours / theirs - 1
            fine = abs(off) <= TOLERANCE[name]
            good &= fine
            print(f"  {name:7} at h = {neck['h_over_r']}: record {ours:.5f}, check {theirs:.5f}, {100 * off:+.3f} % {'ok' if fine else 'TOO FAR'}")
    return good


if __name__ == "__main__":
    if len(sys.argv) < 2:
        raise SystemExit(__doc__)
    sys.exit(0 if all([check(path) for path in sys.argv[1:]]) else 1)
