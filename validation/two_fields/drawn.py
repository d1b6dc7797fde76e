"""Twelve co-flows that nobody looked at, drawn after the rays behind a tip in a tube were settled.

    python validation/two_fields/drawn.py draw               write unseen_inputs.csv
    python validation/two_fields/drawn.py compute PROGRAM    first drops by the full equations (`PROGRAM confirm`) into unseen_reference.csv

The box is that of `validation/confirm/unseen.py` (what laboratories build; common practice, no source) with tubes of up to 58 R; the first five
tips are thin. Inputs were committed before either program had computed one of them. R = 10 um, 1 Pa s outside, 5 mN/m: without inertia to speak of.
"""

import csv
import json
import math
import pathlib
import subprocess
import sys
import tempfile

HERE = pathlib.Path(__file__).resolve().parent
INPUTS, ANSWERS = HERE / "unseen_inputs.csv", HERE / "unseen_reference.csv"
RADIUS, VISCOSITY, TENSION = 10e-6, 1.0, 5e-3


def draw():
    sys.path.insert(0, str(HERE.parent / "confirm"))
    import unseen

    unseen.COFLOW = dict(seed=20261251, count=12, low=(0.04, 0.05, 0.1, 4.0, 1.2), high=(0.3, 1.0, 10.0, 58.0, 2.5))
    unseen.ORIFICE = dict(unseen.ORIFICE, count=0)
    rows = [dict(zip(("row",) + unseen.NAMES, (name, *values))) for name, values in unseen.inputs().items()]
    with open(INPUTS, "w", newline="") as out:
        out.write("# drawn blindly, seed 20261251, see drawn.py\n")
        table = csv.DictWriter(out, rows[0], lineterminator="\n")
        table.writeheader()
        table.writerows([{k: f"{v:g}" if isinstance(v, float) else v for k, v in row.items()} for row in rows])


def case_of(row):
    ca, q, ratio, wall, outer = (float(row[k]) for k in ("capillary", "flow_ratio", "viscosity_ratio", "wall", "outer"))
    axis = ca * TENSION / VISCOSITY
    flow = lambda mean, radius: f"{mean * math.pi * radius**2:.9e} m3/s"
    tip = f'tip_outer = "{2 * outer * RADIUS:.9e} m"\n' if outer > 1 else ""
    return f"""layout = "coflow"
[device]
tip_bore = "{2 * RADIUS:.9e} m"
{tip}round_bore = "{2 * wall * RADIUS:.9e} m"
[inner]
viscosity = "{ratio * VISCOSITY:.9e} Pa.s"
density = "1000 kg/m3"
flow = "{flow(q * axis, RADIUS)}"
[outer]
viscosity = "{VISCOSITY:.9e} Pa.s"
density = "1000 kg/m3"
flow = "{flow(0.5 * axis, wall * RADIUS)}"
[interface]
tension = "{TENSION:.9e} N/m"
"""


def rows():
    with open(INPUTS) as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def compute(program):
    with open(ANSWERS, "w", newline="") as out:
        out.write("# own computation by the full equations without inertia (`slenderjet confirm`), see drawn.py\n")
        out.write("row,status,d_over_D,z_neck_over_D\n")
        for row in rows():
            with tempfile.NamedTemporaryFile("w", suffix=".toml") as case:
                case.write(case_of(row))
                case.flush()
                run = subprocess.run([program, "confirm", case.name, "--json"], capture_output=True, text=True)
            drop = json.loads(run.stdout)["first_drop"] if run.returncode == 0 else None
            if drop:
                found = f"pinched,{drop['diameter_m'] / 2 / RADIUS:.6g},{drop['neck_m'] / 2 / RADIUS:.6g}"
            out.write(f"{row['row']},{found if drop else 'no drop,nan,nan'}\n")
            print(row["row"], found if drop else run.stdout + run.stderr, flush=True)


if __name__ == "__main__":
    draw() if sys.argv[1] == "draw" else compute(sys.argv[2])
