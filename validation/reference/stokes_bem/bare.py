"""Velocity on the axis of the bare stream (one liquid, no tip) into a hole, along it and into the widening behind it.

    python -m stokes_bem.bare

Printed: place from the hole's plane over its radius, velocity over 2 Q/(pi R_h^2), its slope, and both of `src/device/hole.rs`; then the root
mean square of the differences for edges rounded by 0.02, 0.05 and 0.1 of the hole and for widenings of slope 0.2 to 2.5.
"""

import numpy as np

from .channel import Orifice
from .elements import influence
from .flow import Case, Fixed, background

PLATE, CHANNEL = 6.0, 8.0
PLACES = (-3, -2, -1.5, -1, -0.75, -0.5, -0.25, 0, 0.125, 0.25, 0.5, 0.75, 1, 1.5, 2, 3)


def axis(orifice):
    """Places from the hole's plane, velocity and slope there."""
    case = Case(ca=1.0, q=1e-9, lam=1.0, wall=CHANNEL, tube=20.0, reach=orifice.exit + 12 * max(orifice.collection, 1), orifice=orifice,
                tube_nodes=30)
    fixed = Fixed(case)
    q = np.linalg.solve(fixed.g, fixed.rhs)
    z = np.arange(2.0, PLATE + orifice.length + 5.0, 0.02)
    g, _ = influence((z, 0 * z + 1e-6), fixed.el, False)
    velocity = (background(case, z, 0 * z) - (g @ q)[0::2]) / CHANNEL**2
    return z - PLATE, velocity, np.gradient(velocity, z)


def ramp(x):
    return np.logaddexp(0.0, x)


def into(s, plane=0.04, decay=4.466):
    x = -decay * (s - plane)
    outside = 1 / (1 + np.exp(-np.clip(x, -50, 50)))
    return 4 * (1 + (ramp(x) / decay) ** 2) / (4 - outside)


def cone(s, steepness, leaving=3.5):
    c = 1 / np.hypot(1, steepness)
    growth = 2 / np.sqrt(3) * (1 - c) * np.sqrt(1 + 2 * c) / (steepness * c)
    return (1 + growth * ramp(leaving * (s + 1 / steepness - 1 / growth)) / leaving) ** 2


def main():
    rms = lambda d: float(np.sqrt(np.mean(d**2)))
    for edge in (0.1, 0.05, 0.02):
        s, velocity, slope = axis(Orifice(PLATE, 1.0, 6.0, 0.0, 1.0, edge))
        form = 1 / into(s)
        if edge == 0.1:
            for place in PLACES:
                i = int(np.argmin(abs(s - place)))
                print(f"{place:7.3f} {velocity[i]:.4f} {slope[i]:7.4f} | {form[i]:.4f} {np.gradient(form, s)[i]:7.4f}")
        near = (s > -2) & (s < 1)
        print(f"edge {edge}: velocity {rms((form / velocity - 1)[near]):.4f}, slope {rms((np.gradient(form, s) - slope)[near]):.4f}")
    for steepness in (0.2, 0.4, 0.67, 1.2, 2.5):
        s, velocity, slope = axis(Orifice(PLATE, 1.0, 1.0, 3 / steepness, 4.0, 0.1))
        form = 1 / (into(s) * cone(s - 1, steepness))
        near = (s > 0.6) & (s < min(4.0, 3 / steepness))
        print(f"widening {steepness}: velocity {rms((form / velocity - 1)[near]):.4f}, slope {rms((np.gradient(form, s) - slope)[near]):.4f}")


if __name__ == "__main__":
    main()
