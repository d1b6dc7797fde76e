"""Twenty viscous cases that nobody looked at: drawn from seeds, computed by the reference program at its finest.

    python validation/confirm/unseen.py draw                   write unseen_inputs.csv
    python validation/confirm/unseen.py compute NAME... --out DIR   compute cases (all without a name), each kept in DIR
    python validation/confirm/unseen.py collect --out DIR      gather DIR into unseen_reference.csv

Boxes are what laboratories build (common practice, no source), uniform in the logarithms, three digits. The inputs were committed
before either program had computed one of them. Lengths over the tip's bore radius R, D = 2 R, time mu_o R/gamma.
"""

import argparse
import csv
import json
import pathlib
import sys

import numpy as np

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "reference"))

NAMES = ("capillary", "flow_ratio", "viscosity_ratio", "wall", "outer", "standoff", "radius", "length", "widening", "collection", "edge")
# co-flow: Ca on the axis, inner over outer velocity, viscosity ratio, R_w, outside of the tip (the first five tips are thin)
COFLOW = dict(seed=20261151, count=10, low=(0.04, 0.05, 0.1, 4.0, 1.2), high=(0.3, 1.0, 10.0, 20.0, 2.5))
# orifice: Ca in the hole, Q_i/Q_o, viscosity ratio, hole, length/hole, stand-off, collection/hole, widening/collection, outside
ORIFICE = dict(seed=20261152, count=10, low=(0.02, 0.05, 0.1, 0.35, 0.5, 0.75, 1.2, 0.5, 1.2),
               high=(0.3, 1.0, 10.0, 1.5, 4.0, 3.0, 6.0, 3.0, 2.0))


def drawn(box):
    random = np.random.default_rng(box["seed"])
    low, high = np.log(box["low"]), np.log(box["high"])
    return [tuple(float(f"{x:.3g}") for x in np.exp(random.uniform(low, high))) for _ in range(box["count"])]


def inputs():
    """{name: values in the order of NAMES}; no orifice: its lengths are zero, Ca is on the axis and flow_ratio that of velocities."""
    rows = {}
    for i, (ca, q, ratio, wall, outer) in enumerate(drawn(COFLOW)):
        rows[f"coflow-{i + 1}"] = (ca, q, ratio, wall, 1.0 if i < 5 else outer, *[0.0] * 6)
    for i, (ca, q, ratio, hole, length, standoff, collection, widening, outer) in enumerate(drawn(ORIFICE)):
        shape = (standoff, hole, length * hole, widening * collection * hole, collection * hole, 0.1 * hole)
        rows[f"orifice-{i + 1}"] = (ca, q, ratio, max(4.0, 3.0 * hole), outer, *(float(f"{x:.6g}") for x in shape))
    return rows


def case_of(ca, q, ratio, wall, outer, *shape):
    from stokes_bem.channel import Orifice
    from stokes_bem.devices import blunt, through

    if shape[1] > 0:
        return through(ca, q, ratio, Orifice(*shape), wall, outer)
    return blunt(ca, q, ratio, wall, outer)


def compute(name, level, clock):
    from stokes_bem.devices import at_level
    from stokes_bem.dripping import run

    out, _, _ = run(at_level(case_of(*inputs()[name]), level), wall_clock=clock)
    return out


def write(name, head, records):
    with open(HERE / name, "w", newline="") as out:
        out.write(head)
        rows = csv.writer(out, lineterminator="\n")
        rows.writerow(list(records[0]))
        rows.writerows([[f"{v:.6g}" if isinstance(v, float) else v for v in r.values()] for r in records])


def main():
    p = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    p.add_argument("what", choices=("draw", "compute", "collect"))
    p.add_argument("names", nargs="*")
    p.add_argument("--out", type=pathlib.Path)
    p.add_argument("--level", default="refined")
    p.add_argument("--clock", type=float, default=1500.0)
    a = p.parse_args()
    if a.what == "draw":
        write("unseen_inputs.csv", f"# drawn blindly, seeds {COFLOW['seed']} and {ORIFICE['seed']}, see unseen.py\n",
              [dict(zip(("row",) + NAMES, (name, *values))) for name, values in inputs().items()])
    elif a.what == "compute":
        a.out.mkdir(parents=True, exist_ok=True)
        for name in a.names or inputs():
            kept = a.out / f"{name}.json"
            if not kept.exists():
                out = compute(name, a.level, a.clock)
                kept.write_text(json.dumps(dict(row=name, level=a.level, **out), default=float))
                print(name, a.level, out["status"], out.get("d_over_D"), f"{out['seconds']:.0f} s", flush=True)
    else:
        kept = [json.loads(f.read_text()) for f in (a.out / f"{name}.json" for name in inputs()) if f.exists()]
        keys = ("row", "level", "status", "d_over_D", "z_neck_over_D", "t_pinch", "volume_corrected", "seconds")
        write("unseen_reference.csv", "# own computation by the reference program (../reference), at its finest; see unseen.py\n",
              [{k: out.get(k, float("nan")) for k in keys} for out in kept])


if __name__ == "__main__":
    main()
