"""Run one input of the flow solver in a folder of its own, watch the connected pieces of inner liquid, stop after a break-off."""

import argparse
import math
import os
import subprocess
import time


def options(doc, what, level, **more):
    """The options of a script that makes runs; `more`: numbers of its own and their defaults."""
    p = argparse.ArgumentParser(description=doc.splitlines()[0])
    p.add_argument("what", nargs="+", help=what)
    p.add_argument("--out", default="kept_full_flow")
    p.add_argument("--level", type=int, default=level)
    p.add_argument("--clock", type=float, default=1500.0, help="processor seconds allowed for a run")
    for name, value in more.items():
        p.add_argument(f"--{name}", type=float, default=value)
    return p.parse_args()


def _lines(path):
    try:
        with open(path) as text:
            return [line.split() for line in text]
    except FileNotFoundError:
        return []


def pieces(folder):
    """{time: [(volume, centre)]}; a line that is still being written is left out."""
    found = {}
    for v, m in zip(_lines(f"{folder}/volume.txt"), _lines(f"{folder}/moment.txt")):
        if len(v) < 3 or len(m) < 3:
            break
        volume = float(v[2])
        if volume > 0:
            found.setdefault(float(v[0]), []).append((2 * math.pi * volume, float(m[2]) / volume))
    return found


def attached_and_free(found, at_least):
    """The pieces above a volume, in order along the flow."""
    return sorted((p for p in found if p[0] > at_least), key=lambda p: p[1])


def run(folder, text, at_least=0.3, drops=1, clock=1500.0, after=0.5):
    """Run until `drops` pieces beyond the attached one exist, and `after` a while more. `clock` is processor time."""
    os.makedirs(folder, exist_ok=True)
    for name in os.listdir(folder):
        if name.endswith(".txt"):
            os.remove(f"{folder}/{name}")
    with open(f"{folder}/case.gfs", "w") as case:
        case.write(text)
    with open(f"{folder}/out", "w") as out, open(f"{folder}/err", "w") as err:
        p = subprocess.Popen(["gerris2D", "-m", "case.gfs"], cwd=folder, stdout=out, stderr=err,
                             env=dict(os.environ, OMP_NUM_THREADS="1"))
        broke = None
        while p.poll() is None:
            time.sleep(3)
            found = pieces(folder)
            times = sorted(found)[:-1]
            if times and len(attached_and_free(found[times[-1]], at_least)) > drops:
                broke = times[-1] if broke is None else broke
                if times[-1] >= broke + after:
                    break
            with open(f"/proc/{p.pid}/stat") as stat:
                if float(stat.read().split()[13]) / os.sysconf("SC_CLK_TCK") > clock:
                    break
        # a process that ended is kept in /proc until it is waited for
        p.terminate()
        p.wait()
    return events(folder, at_least)


def go_on(folder, state, clock):
    """Go on from a state that the solver kept, in a folder of its own, for so many processor seconds."""
    os.makedirs(folder, exist_ok=True)
    with open(f"{folder}/state.gfs", "wb") as kept:
        kept.write(state)
    limit = f"ulimit -t {int(clock)} && exec gerris2D state.gfs"
    subprocess.run(["sh", "-c", limit], cwd=folder, env=dict(os.environ, OMP_NUM_THREADS="1"), check=False)


def events(folder, at_least):
    """The first drop: time, its volume, its centre, what is left on the tip; None where none came off."""
    found = pieces(folder)
    for t in sorted(found)[:-1]:
        big = attached_and_free(found[t], at_least)
        if len(big) > 1:
            return dict(t=t, volume=big[-1][0], centre=big[-1][1], left=big[0][0])
    return None
