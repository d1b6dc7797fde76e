"""Runs settings of one Python integrator, given as JSON on stdin; prints a line of JSON for each.

    run.py SOLVER SECONDS    < [{"case": "dripping", "resolution": 0.05, "tolerance": 1e-5}, ...]
"""

import json
import statistics
import sys
import time

import drop
import segment
from integrate import Failed

LEAST = 3


def once(solver, setting):
    case, resolution, tolerance = setting["case"], setting["resolution"], setting["tolerance"]
    if case == "dripping":
        return drop.timed(solver, resolution, tolerance)
    return segment.timed(solver, int(resolution), tolerance, graded=case == "segment-graded")


def main():
    solver, seconds = sys.argv[1], float(sys.argv[2])
    settings = json.load(sys.stdin)
    # compiled code is made beforehand and not timed
    drop.warm_up(solver)
    segment.warm_up(solver)
    for setting in settings:
        start, walls, used = time.perf_counter(), [], []
        try:
            while len(used) < LEAST or time.perf_counter() - start < seconds:
                passed, steps, cells, evaluations, this_wall, this_cpu = once(solver, setting)
                walls.append(this_wall)
                used.append(this_cpu)
        except Failed as why:
            print(json.dumps({"solver": solver, **setting, "failed": str(why)}), flush=True)
            continue
        found = {"time": passed, "steps": steps, "cells": cells, "evaluations": evaluations}
        cost = {"wall_s": min(walls), "cpu_s": statistics.median(used), "runs": len(used)}
        print(json.dumps({"solver": solver, **setting, **found, **cost}), flush=True)


main()
