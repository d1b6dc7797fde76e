"""Sets the two programs' answers on the unseen cases side by side.

    python validation/confirm/collect_both.py CONFIRM.csv DATE      write unseen_both.csv from unseen_reference.csv and CONFIRM.csv

CONFIRM.csv: row,level,status,d_over_D,z_neck_over_D,t_pinch,... as the boundary-element solver of `confirm` printed it.
"""

import csv
import pathlib
import sys

HERE = pathlib.Path(__file__).resolve().parent


def main():
    ours = {}
    for row in csv.reader(open(sys.argv[1])):
        ours[row[0]] = row
    head = f"# own computations of {sys.argv[2]}: reference program (unseen.py, level as told there) and the solver of `confirm` at `standard`; d/D of the first drop\n"
    with open(HERE / "unseen_both.csv", "w", newline="") as out:
        out.write(head)
        rows = csv.writer(out, lineterminator="\n")
        rows.writerow(("row", "reference_status", "reference", "confirm_status", "confirm", "difference_percent"))
        for known in csv.DictReader(line for line in open(HERE / "unseen_reference.csv") if not line.startswith("#")):
            row = ours.get(known["row"])
            if row is None:
                continue
            theirs, mine = float(known["d_over_D"]), float(row[3])
            off = 100 * (mine / theirs - 1)
            rows.writerow((known["row"], known["status"], f"{theirs:.6g}", row[2], f"{mine:.6g}", f"{off:+.3f}"))


if __name__ == "__main__":
    main()
