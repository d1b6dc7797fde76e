"""A domain built of square boxes on a grid: box (i, j) is x in [i, i+1], r in [j, j+1], times the box size."""

SIDES = {"left": (-1, 0), "right": (1, 0), "bottom": (0, -1), "top": (0, 1)}


def boxes(columns, rows, holds, boundary):
    """Text of the boxes and their links, their numbers, and the first box.

    `holds(i, j)` says whether a box is liquid, `boundary(i, j, side)` what stands where it has no neighbour. The axis is the
    bottom of row 0: the solver wants it there.
    """
    cells = [(i, j) for j in range(rows) for i in range(*columns) if holds(i, j)]
    number = {cell: k for k, cell in enumerate(cells, 1)}
    text, links = [], []
    for i, j in cells:
        sides = []
        for side, (di, dj) in SIDES.items():
            if (i + di, j + dj) not in number:
                sides.append(f"{side} = " + ("Boundary" if j == 0 and side == "bottom" else boundary(i, j, side)))
        text.append("GfsBox { " + "\n  ".join(sides) + " }")
        for side in ("right", "top"):
            di, dj = SIDES[side]
            if (i + di, j + dj) in number:
                links.append(f"{number[i, j]} {number[i + di, j + dj]} {side}")
    return len(cells), len(links), "\n".join(text + links) + "\n", cells[0]
