#!/usr/bin/env python3
"""Draw devices as laboratories build them, run each, and count the answers.

Usage: practice_devices.py PROGRAM FOLDER [SEED] [COUNT] [SECONDS] [PART/PARTS]

Half are co-flows, half counter-flows through an orifice: viscosities from 0.8 to 500 mPa.s inside and 0.9 to 100 outside, tensions from
2 to 45 mN/m, tips from 10 to 150 um in tubes up to 1 mm (counter-flows: holes from 15 to 250 um), each spread evenly over its decades; speeds
and pressures bounded by what syringe pumps and glass bear. The ranges are common practice, no source. Nothing is left out by an estimate of
the program. Each run has SECONDS (60) of processor time. Answered is a run that ends with its drops or a physical end (exit 0);
established ones must carry 0.95 to 1.05 of the pumped flow. The same command again goes on where it was broken off; parts may run side by
side, and the last command counts all that is there.
"""

import json
import math
import os
import random
import resource
import subprocess
import sys


def spread(draw, low, high):
    return low * (high / low) ** draw.random()


def device(draw, number):
    coflow = number % 2 == 0
    inner = draw.choice([spread(draw, 0.8, 5), spread(draw, 5, 60), spread(draw, 60, 500)])
    outer = draw.choice([spread(draw, 0.9, 1.5), spread(draw, 1.5, 20), spread(draw, 20, 100)])
    tension = spread(draw, 2, 45)
    density = draw.uniform(760, 1100) if inner < 60 else draw.uniform(900, 1250)
    outer_density = draw.uniform(950, 1200)
    if coflow:
        tip = spread(draw, 10, 150)
        square = draw.random() < 0.5
        bore = 1050 if square else max(spread(draw, 100, 1000), 3 * tip)
        area = (bore**2 if square else math.pi / 4 * bore**2) * 1e-12
        outer_flow = spread(draw, 1e-3, 0.3) * area * 3600e6
        if outer_flow > 200:
            outer_flow = spread(draw, 5, 200)
        inner_flow = outer_flow * spread(draw, 0.002, 0.3)
        glass = 'square_bore = "1.05 mm"\nround_outer = "1 mm"\n' if square else f'round_bore = "{bore:.0f} um"\n'
        glass += f'tip_bore = "{tip:.1f} um"\ntip_outer = "{tip * draw.uniform(1.2, 2.5):.1f} um"\n'
    else:
        hole = spread(draw, 15, 250)
        tip = hole * draw.uniform(0.4, 1.6)
        collection = hole * draw.uniform(1.0, 4)
        speed = spread(draw, 0.005, 0.5)
        length, radius = hole * draw.uniform(0.5, 4), hole * 0.5e-6
        # what a syringe and its glue bear, and what a syringe holds
        while 8 * outer * 1e-3 * length * 1e-6 * 2 * speed / radius**2 > 5e4 or speed * math.pi * radius**2 * 3600e6 > 60:
            speed *= 0.7
        outer_flow = speed * math.pi * radius**2 * 3600e6
        inner_flow = outer_flow * spread(draw, 0.01, 1)
        while inner_flow / 3600e6 / (math.pi * (tip * 0.5e-6) ** 2) > 0.5:
            inner_flow *= 0.7
        glass = (
            f'square_bore = "1.05 mm"\nround_outer = "1 mm"\ntip_bore = "{tip:.1f} um"\n'
            f'tip_outer = "{tip * draw.uniform(1.2, 2):.1f} um"\norifice_bore = "{hole:.1f} um"\n'
            f'orifice_length = "{length:.0f} um"\nstandoff = "{hole * draw.uniform(0.5, 3):.0f} um"\n'
            f'collection_bore = "{collection:.1f} um"\ncollection_length = "{collection * draw.uniform(2, 6):.0f} um"\n'
        )
    return (
        f'title = "Drawn device {number} (invented)"\nlayout = "{"coflow" if coflow else "counterflow"}"\n'
        f'[inner]\nviscosity = "{inner:.3g} mPa.s"\ndensity = "{density:.0f} kg/m3"\nflow = "{inner_flow:.3g} mL/h"\n'
        f'[outer]\nviscosity = "{outer:.3g} mPa.s"\ndensity = "{outer_density:.0f} kg/m3"\nflow = "{outer_flow:.3g} mL/h"\n'
        f'[interface]\ntension = "{tension:.3g} mN/m"\n[device]\n{glass}[run]\ndrops = 5\naccuracy = "coarse"\n'
    )


def run(program, folder, number, seconds):
    case, answer = f"{folder}/{number:03d}.toml", f"{folder}/{number:03d}.json"
    if os.path.exists(answer):
        return
    limit = lambda: resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    done = subprocess.run([program, "run", case, "--json"], capture_output=True, text=True, preexec_fn=limit)
    found = {"exit": done.returncode, "said": done.stderr.strip()[-300:]}
    found["summary"] = json.loads(done.stdout) if done.stdout.strip() else None
    with open(answer + ".part", "w") as out:
        json.dump(found, out)
    os.replace(answer + ".part", answer)


def count(folder, number):
    answered, established, off, open_, left = 0, 0, [], [], []
    for k in range(number):
        path = f"{folder}/{k:03d}.json"
        if not os.path.exists(path):
            continue
        found = json.load(open(path))
        summary = found["summary"]
        if found["exit"] == 0 and summary:
            answered += 1
        else:
            open_.append(k)
            continue
        share = summary["established"]["flow_share"]
        if summary["established"]["is"]:
            established += 1
            if share is None or abs(share - 1) > 0.05:
                off.append(k)
        left.append(summary["budget"]["open_relative"])
    left.sort()
    ran = answered + len(open_)
    print(f"{answered} of {ran} answered, {established} established, off the flow {off}, not answered {open_}")
    if left:
        print(f"energy open: median {left[len(left) // 2]:.4f}, 95 % {left[int(0.95 * (len(left) - 1))]:.4f}, worst {left[-1]:.4f}")


def main():
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    program, folder = os.path.abspath(sys.argv[1]), sys.argv[2]
    given = dict(enumerate(sys.argv[3:]))
    seed, number, seconds = int(given.get(0, 1)), int(given.get(1, 100)), int(given.get(2, 60))
    part, parts = map(int, given.get(3, "0/1").split("/"))
    os.makedirs(folder, exist_ok=True)
    draw = random.Random(seed)
    for k in range(number):
        text = device(draw, k)
        with open(f"{folder}/{k:03d}.toml", "w") as out:
            out.write(text)
    os.environ["RAYON_NUM_THREADS"] = "1"
    for k in range(part, number, parts):
        run(program, folder, k, seconds)
    count(folder, number)


if __name__ == "__main__":
    main()
