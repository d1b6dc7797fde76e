"""When and how thin: read the same way from every solver, slenderjet included."""

import numpy as np


def refined(a, d, i):
    """Lowest squared radius of the parabola through the averages of cells i-1, i, i+1 of lengths d."""
    left, right = max(i - 1, 0), min(i + 1, len(a) - 1)
    rise_right, rise_left = a[right] - a[i], a[i] - a[left]
    x_right, x_left = 0.5 * (d[i] + d[right]), -0.5 * (d[i] + d[left])
    # averages over a neighbour: c1 x + c2 (x^2 + (its length^2 - own^2)/12)
    q_right = x_right**2 + (d[right] ** 2 - d[i] ** 2) / 12
    q_left = x_left**2 + (d[left] ** 2 - d[i] ** 2) / 12
    det = x_right * q_left - x_left * q_right
    c1 = (rise_right * q_left + rise_left * q_right) / det
    c2 = (-x_right * rise_left - x_left * rise_right) / det
    if c2 <= 0:
        return a[i]
    x = np.clip(-0.5 * c1 / c2, -0.5 * d[i], 0.5 * d[i])
    lowest = a[i] - c2 * d[i] ** 2 / 12 + c1 * x + c2 * x * x
    return min(lowest, a[i]) if lowest > 0 else a[i]


def passing(seen, level):
    """Time at which the squared radius passes `level`: Lagrange through the last four (time, squared radius) that fall."""
    seen = seen[-4:]
    while len(seen) > 1 and any(seen[k][1] <= seen[k + 1][1] for k in range(len(seen) - 1)):
        seen = seen[1:]
    if len(seen) < 2:
        return seen[-1][0]
    total = 0.0
    for i, (time, x) in enumerate(seen):
        weight = 1.0
        for j, (_, other) in enumerate(seen):
            if j != i:
                weight *= (level - other) / (x - other)
        total += time * weight
    return float(total)
