"""Runs every solver of the comparison and writes the table of all runs.

    compare.py MEASURE DIFFSOL TABLE     the two built programs; `show.py` makes page and figure from the table
"""

import json
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "tools"))

import machine  # noqa: E402
from fronts import with_sure_errors  # noqa: E402
from settings import LIMIT, OURS, PYTHON, REFINED, RUST, SHIPPED  # noqa: E402

# Seconds over which a setting is repeated (three runs at least); the best counts.
SECONDS = 0.25
PATIENCE = 120
COLUMNS = "kind solver case resolution tolerance time error sure_error steps cells evaluations cpu_s wall_s runs".split()


def lines(command, text=None):
    """The JSON lines that a program prints, tied to one core; failures are told and left out."""
    try:
        done = subprocess.run(machine.pinned() + command, input=text, capture_output=True, text=True, timeout=PATIENCE)
    except subprocess.TimeoutExpired:
        print(f"longer than {PATIENCE} s: {command[1:]}", file=sys.stderr)
        return []
    if done.returncode != 0:
        print(f"failed: {command[1:]}: {done.stderr.strip()[-200:]}", file=sys.stderr)
        return []
    return [json.loads(line) for line in done.stdout.splitlines() if line.startswith("{")]


def words(*parts):
    return [str(part) for part in parts]


def ours(measure, setting, seconds=SECONDS):
    return lines(words(measure, "front", setting["case"], setting["resolution"], setting["tolerance"], seconds))


def theirs(diffsol, method, setting, seconds=SECONDS):
    return lines(words(diffsol, setting["case"], method, setting["resolution"], setting["tolerance"], seconds))


def python(solver, settings, seconds=SECONDS):
    rows = []
    for setting in chunks(settings, 12):
        command = words(sys.executable, HERE / "run.py", solver, seconds)
        rows += lines(command, json.dumps(setting))
    for row in rows:
        if "failed" in row:
            print(f"failed: {row}", file=sys.stderr)
    return [row for row in rows if "failed" not in row]


def chunks(items, size):
    return [items[i : i + size] for i in range(0, len(items), size)]


def refined(measure, diffsol):
    """Pairs of refined runs, for the limit."""
    found = []
    for solver, cases in REFINED.items():
        for case, settings in cases.items():
            listed = [{"case": case, "resolution": r, "tolerance": t} for r, t in settings]
            rows = []
            for setting in listed:
                match solver:
                    case "slenderjet":
                        rows += ours(measure, setting, 0)
                    case "cvode3":
                        rows += python(solver, [setting], 0)
                    case _:
                        rows += theirs(diffsol, solver, setting, 0)
            if len(rows) == len(listed):
                found.append(rows)
    return found


def main():
    measure, diffsol, path = sys.argv[1:4]
    about = machine.facts()
    about |= {"Python": sys.version.split()[0]}
    pins = (HERE / "requirements.txt").read_text().split()
    about |= dict(pin.split("==") for pin in pins) | {"diffsol": version_of_diffsol()}
    rows = with_sure_errors([row for setting in OURS for row in ours(measure, setting)], ours=True)
    shipped = [row for case in LIMIT for name in SHIPPED for row in lines(words(measure, "run", case, name, SECONDS))]
    shipped = with_sure_errors(shipped, ours=True, among=rows)
    found = []
    for method, settings in RUST.items():
        found += [row for setting in settings for row in theirs(diffsol, method, setting)]
    for solver, settings in PYTHON.items():
        found += python(solver, settings)
    rows += with_sure_errors(found, ours=False)
    limits = refined(measure, diffsol)
    about["load at the end"] = machine.facts()["load"]
    kinds = {"sweep": rows, "shipped": shipped, "refined": [row for pair in limits for row in pair]}
    everything = [{"kind": kind, **row} for kind, listed in kinds.items() for row in listed]
    machine.write_csv(path, everything, COLUMNS, about)


def version_of_diffsol():
    text = (HERE / "diffsol" / "Cargo.toml").read_text()
    return text.split('diffsol = { version = "=')[1].split('"')[0]


main()
