"""Makes page and figure of the comparison from its table of runs.

    show.py FOLDER LOOK     integrators.csv in FOLDER is read, integrators.{md,svg} are written; the figure as PNG goes to LOOK
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tools"))

import machine  # noqa: E402
from figure import draw  # noqa: E402
from page import page  # noqa: E402

WORDS = ("kind", "solver", "case")


def main():
    folder, look = Path(sys.argv[1]), sys.argv[2]
    about, rows = machine.read_csv(folder / "integrators.csv", WORDS)
    kinds = {kind: [row for row in rows if row["kind"] == kind] for kind in ("sweep", "shipped", "refined")}
    refined = kinds["refined"]
    limits = {(a["solver"], a["case"]): (a, b) for a, b in zip(refined[::2], refined[1::2])}
    draw(kinds["sweep"], kinds["shipped"], folder / "integrators.svg", look)
    (folder / "integrators.md").write_text(page(kinds["sweep"], kinds["shipped"], limits, about))


main()
