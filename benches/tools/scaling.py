"""Cost against cells and drops, memory against drops: a dated record, a figure and a table.

    scaling.py LOOK MEASURE PROGRAM     the two built programs; the figure as PNG goes to LOOK
    scaling.py LOOK DATE                page and figure again from the records of that day
"""

import json
import math
import os
import resource
import subprocess
import sys
import tempfile

import machine
from tables import replace, table

CELLS = [100 * 2**k for k in range(8)]
KERNELS = {
    "force_s": "force",
    "force_and_jacobian_s": "force and Jacobian",
    "banded_solve_s": "banded solve",
    "one_step_s": "one step",
}
DROPS = (10, 20, 50, 100, 200, 500, 1000)
RECORDED = (50, 500, 1000)
# From here on the first, transient drops no longer weigh.
SETTLED = 50
# Oh 0.1, Bo 0.5, We 1 on R = 1 mm, 1000 kg/m3, 70 mN/m, as in benches/common.
CASE = """layout = "pendant"
[inner]
viscosity = "26.457513 mPa.s"
density = "1000 kg/m3"
flow = "0.83118729 mL/s"
[interface]
tension = "70 mN/m"
[device]
tip_bore = "2 mm"
[gravity]
along = "down"
g = "35 m/s2"
[run]
drops = {drops}
accuracy = "coarse"
frames = {frames}
"""
# As many instants for every run: the record's size is then set by its lists, not by its film.
FRAMES = 200


def printed(*command):
    done = subprocess.run(machine.pinned() + [str(word) for word in command], capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def recorded(program, drops):
    """User time and largest memory of a whole run with its record."""
    with tempfile.TemporaryDirectory() as folder:
        case, record = os.path.join(folder, "case.toml"), os.path.join(folder, "run.h5")
        with open(case, "w") as file:
            file.write(CASE.format(drops=drops, frames=FRAMES))
        child = subprocess.Popen(machine.pinned() + [program, "run", case, "-o", record, "-q"], stdout=subprocess.DEVNULL)
        _, status, used = os.wait4(child.pid, 0)
        assert status == 0, f"the run of {drops} drops ended with {status}"
        # the system counts this very process too, from which the child was forked: it must be the smaller one
        own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        assert own < 0.9 * used.ru_maxrss, f"{used.ru_maxrss} kB may be what this script takes ({own} kB)"
        size = os.path.getsize(record)
    return {"drops": drops, "user_s": used.ru_utime, "system_s": used.ru_stime, "memory_kb": used.ru_maxrss, "record_kb": size / 1e3}


def exponent(pairs):
    """Slope of the straight line through points on logarithmic axes (least squares)."""
    points = [(math.log(x), math.log(y)) for x, y in pairs]
    mean = [sum(axis) / len(points) for axis in zip(*points)]
    over = sum((x - mean[0]) * (y - mean[1]) for x, y in points)
    return over / sum((x - mean[0]) ** 2 for x, _ in points)


def line(what, rows, key, unit, unit_of_one, scale, scale_of_one):
    """A straight line against drops, and how far the worst point lies off it."""
    points = [(r["drops"], r[key]) for r in rows if r["drops"] >= SETTLED]
    n, (mx, my) = len(points), [sum(axis) / len(points) for axis in zip(*points)]
    slope = sum((x - mx) * (y - my) for x, y in points) / sum((x - mx) ** 2 for x, _ in points)
    start = my - slope * mx
    worst = max(abs(start + slope * x - y) / y for x, y in points)
    return (
        f"{what} from {SETTLED} drops on: {start * scale:.3g} {unit} and {slope * scale_of_one:.3g} {unit_of_one} a drop; "
        f"{n} points lie at most {100 * worst:.1f} % off this line.\n"
    )


def cells_part(cells):
    exponents = {key: exponent([(r["cells"], r[key]) for r in cells]) for key in KERNELS}
    shown = [[f"{r['cells']:,.0f}"] + [f"{1e6 * r[key]:.3g} us" for key in KERNELS] for r in cells]
    shown.append(["exponent"] + [f"{exponents[key]:.3f}" for key in KERNELS])
    shown.append(["a cell, smallest to largest"] + [spread([r[key] / r["cells"] for r in cells]) for key in KERNELS])
    return "Against cells (one thread of fixed shape; best of several):\n\n" + table(["cells", *KERNELS.values()], shown)


def spread(values):
    return f"{1e9 * min(values):.3g} to {1e9 * max(values):.3g} ns"


def drops_part(drops, records):
    shown = []
    for r in drops:
        cost = f"{r['cpu_s']:.3g} s", f"{1e3 * r['cpu_s'] / r['drops']:.3g} ms", f"{r['steps']:,.0f}"
        shown.append([f"{r['drops']:,.0f}", *cost, f"{1e6 * r['cpu_s'] / r['steps']:.3g} us", f"{r['memory_kb'] / 1e3:.3g} MB"])
    header = ["drops", "processor", "a drop", "steps", "a step", "largest memory"]
    text = "Against drops (dripping at Oh 0.1, Bo 0.5, We 1, coarse, without a record):\n\n" + table(header, shown)
    text += "\n" + line("Time", drops, "cpu_s", "s", "ms", 1.0, 1e3) + line("Largest memory", drops, "memory_kb", "MB", "kB", 1e-3, 1.0)
    text += "\n"
    shown = []
    for r in records:
        cost = f"{r['user_s']:.3g} s", f"{r['memory_kb'] / 1e3:.3g} MB"
        shown.append([f"{r['drops']:,.0f}", *cost, f"{r['record_kb'] / 1e3:.3g} MB"])
    header = ["drops", "user time", "largest memory", "size of the record"]
    return text + f"The same by `slenderjet run` with a record of {FRAMES} instants:\n\n" + table(header, shown)


def measured(measure, program):
    about = machine.facts()
    cells = [printed(measure, "cells", n) for n in CELLS]
    print("cells done", file=sys.stderr)
    drops = [printed(measure, "drops", n) for n in DROPS]
    print("drops done", file=sys.stderr)
    records = [recorded(program, n) for n in RECORDED]
    about["load at the end"] = machine.facts()["load"]
    for what, rows in (("cells", cells), ("drops", drops), ("records", records)):
        machine.write_csv(f"benches/records/scaling-{what}-{machine.today()}.csv", rows, list(rows[0]), about)


def show(look, day):
    # large, and no part of what is measured: see `recorded`
    from scaling_figure import draw

    names = {what: f"scaling-{what}-{day}.csv" for what in ("cells", "drops", "records")}
    about, cells = machine.read_csv(f"benches/records/{names['cells']}")
    drops, records = [machine.read_csv(f"benches/records/{names[what]}")[1] for what in ("drops", "records")]
    links = ", ".join(f"[{what}](../benches/records/{name})" for what, name in names.items())
    said = f"{about['date']}, {about['processor']}, load {about['load']}, rustc {about['rustc']}, program {about['program']}. Raw: {links}.\n\n"
    picture = "![Cost of the kernels against cells; cost and memory of a run against drops](scaling.svg)\n\n"
    replace("docs/speed.md", "scaling", said + picture + cells_part(cells) + "\n" + drops_part(drops, records))
    draw(cells, drops, records, KERNELS, "docs/scaling.svg", look)


if len(sys.argv) > 3:
    measured(sys.argv[2], sys.argv[3])
show(sys.argv[1], machine.today() if len(sys.argv) > 3 else sys.argv[2])
