"""From runs to fronts: how much must be paid for an error that can be relied on."""

import math

from settings import LIMIT


def error(row):
    """Relative and signed."""
    return row["time"] / LIMIT[row["case"].split("-")[0]] - 1


def finer(row, than, ours):
    """Whether `row` is at least as fine as `than` in mesh and in tolerance."""
    in_lengths = ours or row["case"] == "dripping"
    a, b = row["resolution"], than["resolution"]
    return row["tolerance"] <= than["tolerance"] and (a <= b if in_lengths else a >= b)


def with_sure_errors(rows, ours, among=None):
    """Errors of mesh and of steps can cancel by luck: the error that counts is the largest of a setting and of all finer ones
    (among those of the same solver in `rows`, or among others that are said to be of the same kind)."""
    for row in rows:
        kin = [r for r in rows if r["solver"] == row["solver"]] if among is None else [row, *among]
        alike = [r for r in kin if r["case"] == row["case"] and finer(r, row, ours)]
        row["error"] = error(row)
        row["sure_error"] = max(abs(error(r)) for r in alike)
    return rows


def front(rows):
    """Settings that no other beats in both error and cost, from dear to cheap."""
    best, kept = math.inf, []
    for row in sorted(rows, key=lambda r: (r["sure_error"], r["cpu_s"])):
        if row["cpu_s"] < best:
            best = row["cpu_s"]
            kept.append(row)
    return kept


def cost_at(points, target):
    """Cost at an error, by a straight line between two points of a front on logarithmic axes; None outside of it."""
    for fine, coarse in zip(points, points[1:]):
        low, high = fine["sure_error"], coarse["sure_error"]
        if low <= target <= high:
            share = math.log(target / low) / math.log(high / low)
            return math.exp((1 - share) * math.log(fine["cpu_s"]) + share * math.log(coarse["cpu_s"]))
    return None


def richardson(coarse, fine, order=2):
    """Limit from two (size, value)."""
    (a, x), (b, y) = coarse, fine
    return y + (y - x) / ((a / b) ** order - 1)
