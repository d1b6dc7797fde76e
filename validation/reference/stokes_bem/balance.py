"""What pulls on a growing drop, against what the slender thread's balance holds, on the reference's own shapes.

    python -m stokes_bem.balance 107 --until 80         a row of the table, up to a time
    python -m stokes_bem.balance 38 --until 700

The part ahead of a section of radius r feels the outer liquid's force F. Its balance is F = 2 pi r cos(t) + int(sigma_zz) over the section,
hence F - pi r^2 sigma_nn = T + f 3 pi lambda r^2 u_z, with sigma_nn the outer normal stress at the surface there, T the tension of full
curvature and u_z the gradient of the mean velocity, which the motion of the surface gives. Printed: the left side (pull), T, Trouton's
tension, the f that closes the balance, the thread's own F of `src/thread/foot.rs`, and the pull of the thread's drop-shaped end
(`src/thread/closures/ends.rs`, spread as there over the row's shape).
"""

import argparse
import math

import numpy as np
from scipy.interpolate import CubicSpline

from .dripping import run
from .flow import system
from .force import force_ahead, outer_traction
from .rows import table
from .surface import remesh

SECTIONS = (0.15, 0.3, 0.45, 0.6, 0.75)  # of the drop's length
GROWN = 1.15  # an instant is kept when the volume has grown by this factor


class Stop(Exception):
    pass


def stream(z, wall):
    """Share of the far axis velocity behind a thin tip."""
    zeta = np.sqrt(z * z + 1.815**2) - 1.815
    return 1 - (1 + zeta / 0.455) ** (-1 / 3) * np.exp(-4.466 * zeta / wall)


def end_pull(case, z, r, velocity, volume, places):
    """Pull of the thread's drop-shaped end ahead of `places`; the velocity of the section at (z, r) taken off."""
    s = case.lam / (1 + case.lam)
    rest = 1 - s
    b, wide = r.max(), math.log(0.5 * case.wall)
    aspect, k = max(1.0, 3 * volume / (4 * math.pi * b**3)), min(b / case.wall, 0.8)
    mobile = 1 / (2 * rest + 3 * s)
    n1 = 1 + 2.2757 * k**5 * (rest - s) * mobile
    n2 = 1 - 2 * s * k * k * mobile + 0.60651 * k**5 * (rest - s) * mobile
    d = 1 - 0.7017 * k / mobile + 2.0865 * k**3 * s + 0.5689 * k**5 * (2 * rest - 3 * s) - 0.72603 * k**6 * (rest - s)
    factor = n1 / d * (1 + (0.6 + 3.2 * s) * k**9)
    longer = 1 + (-0.14 + 1.2 * s - 0.92 * s * s + (0.45 + 0.55 * s) * k) * (aspect - 1)
    coefficient = 6 * math.pi * (2 / 3 + case.lam) / (1 + case.lam) * factor * b * longer
    radii = 1.05 + 0.21 * wide + (0.24 + 0.27 * wide) * s
    felt = stream(min(radii * b * (1 + 0.27 * (aspect - 1)), 2 * b * aspect), case.wall) * n2 / n1 * case.ca
    x = np.linspace(0, z[-1], 400)
    a, u = np.interp(x, z, r) ** 2, np.interp(x, z, velocity)
    u[-3:] = u[-4]  # the last bit's own velocity is a quotient of two small numbers
    pushed = a * stream(np.maximum(x, 0.02), case.wall)
    pushed, moved = pushed / np.trapezoid(pushed, x), a / np.trapezoid(a, x) * u
    return [coefficient * (felt * np.trapezoid(pushed[x >= p], x[x >= p]) - np.trapezoid(moved[x >= p], x[x >= p])) for p in places]


def thread_factor(r, cosine, meridian):
    """F of the thread: `meridian` the curvature of the meridian, positive where it bulges."""
    c, x = 0.5 * (1 + cosine**3), -0.25 * r * meridian
    return c + x if x >= 0 else c**3 / (c * c - c * x + x * x)


def balance(case, fixed, surf, out):
    """One instant: a line of the whole drop and one a section."""
    volume = surf.volume()
    if surf.n < 60:
        surf = remesh(surf, min(case.c, 0.15), min(case.h_rim, 0.04), 1e9)
    u, _ = system(fixed, surf).velocity(0.0)
    traction = outer_traction(fixed, surf, u)
    ahead = force_ahead(surf, traction)
    z, r = surf.z, surf.r
    ds = np.hypot(np.diff(z), np.diff(r))
    swept = 2 * np.pi * r * (u[0::2] * surf.nz + u[1::2] * surf.nr)
    left = fixed.flux - np.concatenate([[0.0], np.cumsum(0.5 * (swept[1:] + swept[:-1]) * ds)])
    arc = np.concatenate([[0.0], np.cumsum(ds)])
    cz, cr = CubicSpline(arc, z), CubicSpline(arc, r)
    z1, r1, z2, r2 = cz(arc, 1), cr(arc, 1), cz(arc, 2), cr(arc, 2)
    cosine = z1 / np.hypot(z1, r1)
    meridian = -(z1 * r2 - r1 * z2) / (z1**2 + r1**2) ** 1.5
    area = np.pi * r * r
    tension = 2 * np.pi * r * cosine - area * (meridian + cosine / np.maximum(r, 1e-9))
    normal = traction[0::2] * surf.nz + traction[1::2] * surf.nr
    velocity = left / np.maximum(area, 1e-9)
    slope = np.poly1d(np.polyfit(z[:-4], velocity[:-4], 7)).deriv()
    places = [share * z[-1] for share in SECTIONS]
    pulls = end_pull(case, z, r, velocity, volume, places)
    for place, pull in zip(places, pulls):
        at = lambda values: float(np.interp(place, z, values))
        trouton = 3 * case.lam * at(area) * float(slope(place))
        whole = at(ahead) - at(area) * at(normal)
        own = thread_factor(at(r), at(cosine), at(meridian))
        out(f"  z {place:5.2f} r {at(r):.3f} pull {whole:6.3f} (end's {pull:6.3f}) tension {at(tension):6.3f} Trouton {trouton:6.3f} "
            f"f {(whole - at(tension)) / trouton:5.2f} (F {own:.2f})")


def main():
    p = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    p.add_argument("row", type=int)
    p.add_argument("--until", type=float, default=1e9)
    p.add_argument("--clock", type=float, default=300.0, help="processor seconds")
    a = p.parse_args()
    case, grown = table()[a.row - 1][2], [0.0]

    def look(t, surf, fixed, history):
        if t > a.until:
            raise Stop
        volume = surf.volume()
        if np.isnan(history[1]) and volume > GROWN * grown[0]:
            grown[0] = volume
            print(f"t {t:.1f} volume {volume:.2f} length {surf.z[-1]:.2f} largest radius {surf.r.max():.3f}", flush=True)
            balance(case, fixed, surf, lambda line: print(line, flush=True))

    try:
        run(case, observe=look, wall_clock=a.clock)
    except Stop:
        pass


if __name__ == "__main__":
    main()
