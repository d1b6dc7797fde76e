"""What a record needs to say beside its numbers: when, on which machine, with which versions."""

import csv
import datetime
import os
import platform
import re
import subprocess


def said(*command, otherwise="unknown"):
    try:
        return subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip()
    except (OSError, subprocess.CalledProcessError):
        return otherwise


def processor():
    try:
        with open("/proc/cpuinfo") as file:
            found = re.search(r"model name\s*:\s*(.+)", file.read())
        return found.group(1).strip() if found else platform.machine()
    except OSError:
        return platform.machine()


def facts():
    """Ordered pairs of what and which; the load tells how quiet the machine was."""
    changed = said("git", "status", "--porcelain", "--", "src", "benches", ":!benches/records", "Cargo.toml", "Cargo.lock", otherwise="")
    return {
        "date": datetime.datetime.now(datetime.timezone.utc).strftime("%Y-%m-%d %H:%M UTC"),
        "processor": f"{os.cpu_count()} x {processor()} (virtual)",
        "system": f"{platform.system()} {platform.release().split('-')[0]}",
        "load": " ".join(f"{load:.1f}" for load in os.getloadavg()),
        "rustc": said("rustc", "--version").removeprefix("rustc ").split(" (")[0],
        "program": said("git", "describe", "--always", "--abbrev=9") + (" with changes" if changed else ""),
    }


def today():
    return datetime.datetime.now(datetime.timezone.utc).strftime("%Y-%m-%d")


def pinned():
    """Prefix that ties a command to one core: the last of those this process may use."""
    try:
        core = max(os.sched_getaffinity(0))
        subprocess.run(["taskset", "--version"], capture_output=True, check=True)
    except (AttributeError, OSError, subprocess.CalledProcessError):
        return []
    return ["taskset", "-c", os.environ.get("BENCH_CORE", str(core))]


def write_csv(path, rows, columns, about):
    """Rows of numbers below lines of `# what: which`."""
    with open(path, "w") as file:
        for what, which in about.items():
            print(f"# {what}: {which}", file=file)
        print(",".join(columns), file=file)
        for row in rows:
            cells = (row.get(column, "") for column in columns)
            print(",".join(f"{c:.10g}" if isinstance(c, float) else str(c) for c in cells), file=file)


def read_csv(path, words=()):
    """What `write_csv` wrote: the lines of `# what: which` and the rows, numbers as numbers but for columns of `words`."""
    with open(path) as file:
        lines = file.read().splitlines()
    about = dict(line[2:].split(": ", 1) for line in lines if line.startswith("# "))
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return about, [{k: v if k in words else float(v) for k, v in row.items() if v != ""} for row in rows]
