"""The flow of one liquid through a device, and where its glass is.

Lengths in the tip's bore radius R, velocities in gamma/mu_o. `wall` is the radius of `src/device/wall.rs` (as fast on the axis),
`share` the part of the flow that goes within a circle: in front of the hole and in it

    F = 1 - X^n (1 + (n - e) (1 - X)),  n = p/2,  e = 2 G^2 (1 + t^2)/R_w^2,  X^2 + (a/G^2 + t^2 - 1) X - t^2 = 0,

t and p of `src/device/hole.rs`, G the radius of the glass from the hole's plane on (the hole's before it). t = -s, p = 3 is the exact flow to a
plate (Sampson 1891: 1 - c^3 within a hyperboloid, X = c^2; recalled), t = 0, p = 4 that in a tube, 2 x - x^2; e makes it as fast on the
axis as the stream is, and all of it goes within the glass. Nothing is fitted beyond the wall's profile. Against boundary elements of the
bare stream (orifice-21 and 24, with the wake's share): within 0.025 of the flow from the plane on, within 0.05 before it.
"""

import numpy as np

DECAY, PLANE, LEAVING = 4.466, 0.04, 3.5


def ramp(x):
    return np.logaddexp(0.0, x), 1 / (1 + np.exp(-np.clip(x, -700, 700)))


def at_most(x, most, width):
    """The lesser of both, rounded by a parabola, and its slope by x."""
    if width <= 0:
        return np.minimum(x, most), 1.0 * (x < most)
    gap = most - x
    y = np.clip(gap, -width, width)
    return np.where(gap >= width, x, most - (y + width) ** 2 / (4 * width)), (y + width) / (2 * width)


def smooth(x):
    x = np.clip(x, 0.0, 1.0)
    return x * x * (3 - 2 * x)


def between(x, start, end):
    return smooth((x - start) / (end - start))


def wake(z, tip, wall):
    """Share of the stream behind a tip of outside radius `tip` (`src/thread/closures/ends.rs`)."""
    wall, z = np.clip(wall / tip, 1.5, 1000.0), np.maximum(z, 0.0) / tip
    mouth = 1.815 / (1 + 3.4 / wall**4)
    zeta = np.sqrt(z * z + mouth * mouth) - mouth
    return 1 - np.exp(-DECAY / wall * zeta) / np.cbrt(1 + zeta / 0.455)


class Device:
    """A case of `stokes_bem` as the thread sees it."""

    def __init__(self, case):
        self.ratio, self.channel, self.orifice, self.reach = case.lam, case.wall, case.orifice, case.reach
        self.tip = max(1.0, case.outer)
        self.inner = np.pi * case.ca * case.q
        self.total = self.inner + 0.5 * np.pi * case.wall**2 * case.ca
        self.at_tip = float(self.wall(np.zeros(1))[0][0])
        o = case.orifice
        self.outline = None if o is None else np.vstack([[-30.0, case.wall], o.corners(case.wall, case.reach)])

    def wall(self, z):
        """R_w and its slope."""
        o = self.orifice
        if o is None:
            return np.full_like(z, self.channel), np.zeros_like(z)
        t, outside = ramp(-DECAY * ((z - o.standoff) / o.radius - PLANE))
        t, p = t / DECAY, 4 - outside
        into = np.sqrt(4 * (1 + t * t) / p)
        slope = 0.5 * into * (-2 * t * outside / (1 + t * t) - DECAY * outside * (1 - outside) / p)
        up, kept = at_most(o.radius * into, self.channel, 0.1 * max(self.channel - o.radius, 0.0))
        up_slope, rise = kept * slope, o.collection - o.radius
        if rise <= 0 or o.widening <= 0:
            return up, up_slope
        steep = rise / o.widening
        c = 1 / np.hypot(1, steep)
        growth = 2 / np.sqrt(3) * (1 - c) * np.sqrt(1 + 2 * c) / (steep * c)
        far, share = ramp(LEAVING * ((z - o.standoff - o.length) / o.radius + 1 / steep - 1 / growth))
        wider, kept = at_most(o.radius * (1 + growth * far / LEAVING), o.collection, 0.25 * min(o.collection, 4 * rise))
        return up * wider / o.radius, (up_slope * wider + up * kept * growth * share) / o.radius

    def bore(self, z):
        """Radius of the glass from the hole's plane on; before it the hole's."""
        o = self.orifice
        if o is None:
            return np.full_like(z, self.channel)
        rise = o.collection - o.radius if o.widening > 0 else 0.0
        return o.radius + rise * np.clip((z - o.standoff - o.length) / max(o.widening, 1e-9), 0.0, 1.0)

    def share(self, z, a):
        """F."""
        bore, wall = self.bore(z), self.wall(z)[0]
        t, n = np.zeros_like(z), np.full_like(z, 2.0)
        if self.orifice is not None:
            t, outside = ramp(-DECAY * ((z - self.orifice.standoff) / self.orifice.radius - PLANE))
            t, n = t / DECAY, 0.5 * (4 - outside)
        q = a / bore**2 + t * t - 1
        x = np.clip(0.5 * (np.sqrt(q * q + 4 * t * t) - q), 1e-12, 1.0)
        e = 2 * bore**2 * (1 + t * t) / wall**2
        return np.clip(1 - x**n * (1 + (n - e) * (1 - x)), 0.0, 1.0)

    def lost(self, z):
        """Share that the tip's wake takes from the flow on the axis."""
        return (1 - wake(z, self.tip, self.at_tip)) * np.minimum(self.wall(z)[0] / self.at_tip, 1.0) ** 2

    def glass(self, z, h):
        """Distance of the nearest glass, and the direction along it."""
        p, best, along, across = self.outline, np.full(len(z), np.inf), np.zeros(len(z)), np.ones(len(z))
        for a, b in zip(p[:-1], p[1:]):
            d = b - a
            t = np.clip(((z - a[0]) * d[0] + (h - a[1]) * d[1]) / (d @ d), 0.0, 1.0)
            to = np.array([a[0] + t * d[0] - z, a[1] + t * d[1] - h])
            far = np.hypot(*to)
            nearer = far < best
            best = np.where(nearer, far, best)
            along = np.where(nearer, to[0] / np.maximum(far, 1e-12), along)
            across = np.where(nearer, to[1] / np.maximum(far, 1e-12), across)
        outline = p[:, 0] + 1e-9 * np.arange(len(p))
        free = h < np.where(z < p[1, 0], p[1, 1], np.interp(z, outline, p[:, 1]))
        return np.maximum(np.where(free, best, 0.0), 1e-3), np.arctan2(-along, across)
