"""Walls downstream of the tip that are not a plain tube: a plate with a hole, a funnel and a collection tube behind it.

All lengths in tip radii R, z from the tip's plane. The hole's upstream edge is rounded by a quarter circle of radius `edge`
(0: sharp); the edge between hole and funnel is not. The outer liquid comes along a channel (`Case.wall`) that ends at the plate.
"""

from dataclasses import dataclass

import numpy as np

from . import walls


@dataclass(frozen=True)
class Orifice:
    standoff: float  # tip's plane to the plate
    radius: float  # of the hole
    length: float  # of the hole, its rounded edge included
    widening: float  # length over which it widens to the collection tube, 0: at once or not at all
    collection: float  # radius of the collection tube
    edge: float = 0.05  # radius of the rounded upstream edge

    @property
    def exit(self):
        """Where the widening ends."""
        return self.standoff + self.length + self.widening

    def corners(self, channel, end):
        """The wall's outline from the channel to the end of the collection tube; the rounded edge as a chain of chords."""
        f, th = self.edge, np.linspace(0, np.pi / 2, 24)
        edge = [(self.standoff + f - f * np.cos(a), self.radius + f - f * np.sin(a)) for a in th] if f > 0 else [
            (self.standoff, self.radius)]
        behind = [(self.standoff + self.length, self.radius)]
        if self.collection > self.radius:
            behind.append((self.exit, self.collection))
        return np.array([(self.standoff, channel)] + edge + behind + [(end, self.collection)])

    def parts(self, channel, upstream, end, count):
        """Boundary pieces from the channel's far end to the collection tube's; `count` scales a number of elements."""
        zo, ro, f = self.standoff, self.radius, self.edge
        hole = zo + self.length
        fewest = lambda length, unit: count(min(36, max(10, 8 + 6 * length / unit)))
        pieces = [walls.segment((-upstream, channel), (zo, channel), count(18), (False, True)),
                  walls.segment((zo, channel), (zo, ro + f), count(18))]
        if f > 0:
            pieces.append(walls.rounded(zo + f, ro + f, f, count(7)))
        pieces.append(walls.segment((zo + f, ro), (hole, ro), fewest(self.length - f, ro)))
        if self.collection > ro:
            pieces.append(walls.segment((hole, ro), (self.exit, self.collection),
                                        fewest(np.hypot(self.widening, self.collection - ro), 2 * ro)))
        pieces.append(walls.segment((self.exit, self.collection), (end, self.collection),
                                    count(24), (True, False)))
        return pieces


class Outline:
    """Distance of points from a wall's outline, negative beyond it."""

    def __init__(self, corners):
        self.corners = corners

    def distance(self, z, r):
        p = self.corners
        least = np.full(np.shape(z), np.inf)
        for a, b in zip(p[:-1], p[1:]):
            d = b - a
            t = np.clip(((z - a[0]) * d[0] + (r - a[1]) * d[1]) / (d @ d), 0.0, 1.0)
            least = np.minimum(least, np.hypot(z - a[0] - t * d[0], r - a[1] - t * d[1]))
        # the outline is a function r(z) but for the plate's upright face (and a widening at once), which np.interp steps over
        along = p[:, 0] + 1e-9 * np.arange(len(p))
        free = r < np.where(z < p[0, 0], p[0, 1], np.interp(z, along, p[:, 1]))
        return np.where(free, least, -least)
