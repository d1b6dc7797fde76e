"""Counts the instructions of every item of the bench `measure` under callgrind; writes a dated record and a table.

    instructions.py MEASURE     the built program
"""

import re
import subprocess
import sys

import machine
from tables import replace, table

# How often an item is done for its count; the count of none is taken off, so that making ready does not count.
KERNEL_TIMES = 100
KERNELS = ("force", "force_and_jacobian", "banded_solve", "one_step", "regrid")
NAMES = {
    "force": "force",
    "force_and_jacobian": "force and Jacobian",
    "banded_solve": "banded factorisation and solve (with the copy of its matrix)",
    "one_step": "one step (with the copy of its body)",
    "regrid": "regrid (with the copy of its body)",
    "dripping_coarse": "dripping drop, coarse",
    "dripping_standard": "dripping drop, standard",
    "segment_coarse": "segment, coarse",
    "segment_standard": "segment, standard",
    "coflow_drop_coarse": "co-flow drop, coarse",
    "coflow_drop_standard": "co-flow drop, standard",
    "short_jet_coarse": "jet of 3 drops, coarse",
}


def collected(measure, item, times):
    command = ["valgrind", "--tool=callgrind", "--callgrind-out-file=/dev/null", measure, "item", item, str(times)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return int(re.search(r"Collected\s*:\s*(\d+)", done.stderr).group(1))


def main():
    measure = sys.argv[1]
    items = subprocess.run([measure, "items"], capture_output=True, text=True, check=True).stdout.split()
    about = machine.facts() | {"valgrind": machine.said("valgrind", "--version").removeprefix("valgrind-")}
    rows = []
    for item in items:
        times = KERNEL_TIMES if item in KERNELS else 1
        none, some = collected(measure, item, 0), collected(measure, item, times)
        rows.append({"item": item, "times": times, "before": none, "with": some, "instructions": (some - none) / times})
        print(f"{item}: {rows[-1]['instructions']:,.0f}", file=sys.stderr)
    name = f"instructions-{machine.today()}.csv"
    machine.write_csv(f"benches/records/{name}", rows, ("item", "times", "before", "with", "instructions"), about)
    shown = [(NAMES[r["item"]], f"{r['instructions']:,.0f}") for r in rows]
    said = f"Callgrind {about['valgrind']}, {about['date']}, rustc {about['rustc']}, program {about['program']}; kernels on the "
    said += f"necking drop at `standard`. Raw: [benches/records/{name}](../benches/records/{name}).\n\n"
    replace("docs/speed.md", "instructions", said + table(("what", "instructions"), shown))


main()
