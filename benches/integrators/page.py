"""The page: what was run, what came out, and in which ways it is unfair."""

from fronts import cost_at, front, richardson
from settings import FAMILIES, LIMIT, TARGET
from tables import table

# What the project asks of itself: so many times faster than this one (None: than the best of them).
WANTED = {"dripping": (20, "CVODE"), "segment": (5, None)}
NAMES = {"dripping": "dripping drop", "segment": "segment"}

HEAD = """# slenderjet beside general-purpose integrators

Written by `scripts/integrators.sh`, which sets everything up, runs it and draws the figure again; every run is in
[integrators.csv](integrators.csv). Do not edit.

Two problems of [speed.md](speed.md): a dripping drop (Oh 0.1, Bo 0.5, We 0.001) from a hemisphere, and half a wave of a thread at
rest (kR 0.7, amplitude 1 %, Oh 0.1), both until the thinnest radius is 0.01 of the nozzle's or thread's. All solve the same
equations (Eggers & Dupont 1994, J. Fluid Mech. 262, 205, with the full curvature). Compared is the time on the processor at equal
error of the time at which that radius is passed.
"""

HOW = """## How

- The integrators get the equations as a method of lines: cells that hold the squared radius, velocities between them. The drop's
  cells keep their volume and are made anew whenever the drop has grown by a tenth or its neck has thinned by a fifth, by
  slenderjet's own rule for the size of cells. The segment's mesh is at rest: uniform, or graded towards the pinch.
- SUNDIALS CVODE (through scikit-sundae), LSODA and BDF of SciPy: right-hand sides compiled by numba, banded Jacobians by differences.
  CVODE with orders up to 2, 3 and 5. diffsol: all in Rust, exact banded Jacobians in a sparse matrix, its BDF, TR-BDF2 and ESDIRK34.
- slenderjet steps, meshes and slices time as `simulate` does and stops where the others stop; the circles are whole runs of
  `simulate` at the shipped accuracies, told when to end. `fine` runs twice, for its error bar.
- The neck is read in the same way everywhere: lowest point of the parabola through three cells, Lagrange in time through four steps.
- Each setting: one process tied to one core, at least three runs, their median counts; time on the processor rather than on the
  wall, for the machine was not idle (load below). Compiling and starting are not counted.
- The error that counts is the largest of a setting and of all finer ones of the same solver, so that nobody gains from errors of
  mesh and step that happen to cancel. A front holds what no other setting beats; costs at an error are read between its points
  on logarithmic axes.
"""

UNFAIR = """## Known unfairness

Against slenderjet:
- It also keeps balances of energy and dissipation in every step; the others compute nothing but the states.
- numba's code is made for this very processor and may reorder sums; slenderjet and diffsol are compiled as a user compiles them.
- The integrators' drop is meshed by slenderjet's rule, and the graded mesh of the segment is told where the pinch will be; a user
  of a general-purpose integrator would have to find out both.
- The wall time of whole runs is not compared: what follows the first pinch-off, which is most of a run, the integrators cannot do.

Against the others:
- CVODE and SciPy pass through Python in every evaluation and step; diffsol does not.
- Their meshes change in Python between segments of a run, and every segment starts with small steps at first order.
- Their discretisation in space has larger constants than slenderjet's: with the same cells their error on the drop is three to
  four times as large. What is compared is solver and discretisation together, not the integrator alone.
- Tolerances between velocity and squared radius, orders and meshes were tried at a few values, not tuned; these two problems
  are among those on which slenderjet was developed.
- diffsol's sparse matrix knows nothing of bands.
"""


def cost(points, case):
    return cost_at(points, TARGET[case])


def ms(seconds):
    return "not reached" if seconds is None else f"{1e3 * seconds:.3g} ms"


def ratio(theirs, ours):
    return "" if theirs is None or ours is None else f"{theirs / ours:.1f}"


def select(rows, family, case):
    return front([r for r in rows if r["solver"] in FAMILIES[family] and r["case"] == case])


def equal_error(rows, shipped):
    text = "## At equal error\n\n"
    for case, target in TARGET.items():
        own = cost(select(rows, "slenderjet", case), case)
        whole = cost(front([r for r in shipped if r["case"] == case]), case)
        listed = [("slenderjet, best of the settings tried", own), ("slenderjet, whole runs between the shipped accuracies", whole)]
        for family in list(FAMILIES)[1:]:
            listed.append((family, cost(select(rows, family, case), case)))
            if case == "segment":
                listed.append((f"{family}, graded mesh", cost(select(rows, family, "segment-graded"), case)))
        lines = [(name, ms(c), ratio(c, own), ratio(c, whole)) for name, c in listed]
        header = (f"{NAMES[case]}, error {target:.0e}", "processor", "over the best", "over the whole run")
        text += table(header, lines) + "\n"
        named = {name: c for name, c in listed[2:] if c is not None and (WANTED[case][1] is None or name == WANTED[case][1])}
        if named and own and whole:
            best = min(named, key=named.get)
            text += f"Asked for: {WANTED[case][0]} times {WANTED[case][1] or 'the best of them'}. Reached against {best}: "
            text += f"{named[best] / own:.1f} by the best settings, {named[best] / whole:.1f} by whole runs.\n\n"
    return text


def shipped_table(shipped):
    rows = [
        (NAMES[r["case"]], r["solver"].split()[1], f"{r['error']:+.2e}", f"{r['sure_error']:.2e}", f"{r['cells']:.0f}", f"{r['steps']:.0f}", ms(r["cpu_s"]))
        for r in shipped
    ]
    return "Shipped accuracies, whole runs:\n\n" + table(("problem", "accuracy", "error", "that counts", "cells", "steps", "processor"), rows)


def limits_table(limits):
    rows, off = [], {case: [] for case in LIMIT}
    for (solver, case), (coarse, fine) in limits.items():
        inverse = solver != "slenderjet" and case == "segment"
        size = (lambda r: 1 / r["resolution"]) if inverse else (lambda r: r["resolution"])
        limit = richardson((size(coarse), coarse["time"]), (size(fine), fine["time"]))
        off[case].append(limit / LIMIT[case] - 1)
        rows.append((NAMES[case], solver, f"{fine['time']:.5f}", f"{limit:.5f}", f"{limit / LIMIT[case] - 1:+.1e}"))
    header = ("problem", "solver", "finest run", "extrapolated", "off the limit used")
    return (
        "## The limit\n\nErrors are relative to "
        + " and ".join(f"{LIMIT[c]} ({NAMES[c]})" for c in LIMIT)
        + " capillary times, limits of earlier independent runs. Refined runs of this comparison, extrapolated in the square of the "
        "cell size from two meshes:\n\n" + table(header, sorted(rows)) + "\n" + doubt(off) + "\n"
    )


def doubt(off):
    """How small an error can still be told, by what the solvers' own limits say."""
    text = ""
    for case, values in off.items():
        if values:
            worst = max(map(abs, values))
            text += f"For the {NAMES[case]} they lie up to {worst:.0e} off: errors below {5 * worst:.0e} are uncertain by a fifth or more.\n"
    return text


def page(rows, shipped, limits, about):
    machine = table(("what", "which"), [(k, v) for k, v in about.items()])
    return (
        HEAD
        + "\n![Error against time on the processor, both problems](integrators.svg)\n\n"
        + equal_error(rows, shipped)
        + shipped_table(shipped)
        + "\n"
        + HOW
        + "\n"
        + limits_table(limits)
        + UNFAIR
        + "\n## Machine and versions\n\n"
        + machine
    )
