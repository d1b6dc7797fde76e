"""The thread's balance of forces without inertia, solved for the velocities of its nodes.

Units R, gamma, mu_o. Two forms. `slip=False`: `src/thread` as it is. `slip=True`, not in the program:

* every force is that of the slip past the flow of one liquid through the device (`stream.Device.share`), so that at equal viscosities a thread
  without tension goes with that flow whatever its shape: u_eq = Q F/(pi a) and its surface's Q F'/pi in place of a parabola's, u_r with all of
  u_s (0.9 of it in the program), the stream's stretch b = Q F_z/(pi a) + (u_1 - u_1s) (a'/(a + a'^2/4) - a'/a), and F of a steep thread in what b
  holds as in what w pays;
* a tip's wake keeps the flow: F (1 - d (1 - F)), d the share that it takes on the axis;
* with `glass` the annulus goes to the nearest glass: its width is the arc from the surface to it, distance times phi/sin(phi), phi the angle
  between both, its way along the mean direction of both, 1/cos of which d is multiplied with; no cell counts as a drop-shaped end.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_banded

from .stream import between, smooth, wake

PI = np.pi
MOST = 0.990025  # largest y of the closures
SWELL = 0.1196  # ln of the creeping jet's swell (`src/thread/profile.rs`)


@dataclass(frozen=True)
class Form:
    slip: bool = False
    glass: bool = False
    wedge: bool = False
    dissipation: bool = False


def _annulus(y):
    ln, b = -0.5 * np.log(y), 1 - y
    near = b < 1e-3
    c = np.where(near, b**3 / 3, 1 - y * y - b * b / ln)
    return ln, np.where(near, b, b / ln - 2 * y), c


def following(y, ratio):
    ln, b, c = _annulus(y)
    p = 4 * ratio * ln
    return (p - (2 * y + p / (1 + p) * b) * b * ln / (c + b * b * ln / (1 + p))) / (1 + p)


def sheared_share(y, ratio):
    ln, b, c = _annulus(y)
    p = 4 * ratio * ln
    return p * c / (c * (1 + p) + b * b * ln)


def drag(y, ratio):
    log, e = np.log(y), 1 - y
    first = np.where(e > 0.1, 1 - 4 * y + 3 * y * y - 2 * y * y * log, sum(4 * e**n / (n * (n - 1) * (n - 2)) for n in range(3, 17)))
    second = np.where(e > 0.1, -2 * (1 - y * y) * log - 4 * e * e, sum(2 * (n - 3) * e**n / ((n - 1) * (n - 2)) for n in range(4, 18)))
    return 8 * (1 + y * y * (1 / ratio - 1)) / (first / ratio + second)


def equilibrium(y, ratio):
    below = 1 / (1 + y * y * (1 / ratio - 1))
    return (1 + y * (0.5 / ratio - 1)) * below, (1 - y) * below


def sphere_in_tube(k, ratio):
    k, s = min(k, 0.8), ratio / (1 + ratio)
    r = 1 - s
    mobile = 1 / (2 * r + 3 * s)
    n1 = 1 + 2.2757 * k**5 * (r - s) * mobile
    n2 = 1 - 2 * s * k * k * mobile + 0.60651 * k**5 * (r - s) * mobile
    d = 1 - 0.7017 * k * (2 * r + 3 * s) + 2.0865 * k**3 * s + 0.5689 * k**5 * (2 * r - 3 * s) - 0.72603 * k**6 * (r - s)
    return n1 / d * (1 + (0.6 + 3.2 * s) * k**9), n2 / n1


def parabolas(d, a):
    dl, dr, al, ar = np.append(0.0, d[:-1]), np.append(d[1:], 0.0), np.append(1.0, a[:-1]), np.append(a[1:], 0.0)
    xl, xr = 0.5 * (d + dl), 0.5 * (d + dr)
    ql, qr = xl**2 + (dl**2 - d**2) / 12, xr**2 + (dr**2 - d**2) / 12
    det = xr * ql + xl * qr
    c2 = ((ar - a) * xl + (al - a) * xr) / det
    return a - c2 * d * d / 12, ((ar - a) * ql - (al - a) * qr) / det, c2


def tension(d, v):
    c0, c1, c2 = parabolas(d, v / (PI * d))
    return PI * c0**2 * (1 + c2) / (c0 + 0.25 * c1**2) ** 1.5


def tension_by_length(d, v):
    """dT_j/dd_k for k = j - 1, j, j + 1 at fixed volumes, by differences."""
    out = np.zeros((3, len(d)))
    for start in range(3):
        k = np.arange(start, len(d), 3)
        step = np.zeros(len(d))
        step[k] = 1e-6 * d[k]
        change = 0.5 * (tension(d + step, v) - tension(d - step, v))
        for i in k:
            for j in range(max(i - 1, 0), min(i + 2, len(d))):
                out[i - j + 1, j] = change[j] / step[i]
    return out


def wedge(a, glass, phi, own, ratio):
    """Drag between surfaces that part at the angle `phi`, the thread's at `own` to the axis, over that in a straight annulus."""
    s, c, small = np.sin(phi), np.cos(phi), phi < 0.05
    h, y = np.sqrt(a), np.minimum(a / glass**2, MOST)
    passing, moving = 3 * (s - phi * c), phi**2 - s**2
    whole = lambda x: np.where(small, 1.0, x)
    width = glass - h
    pressure = np.maximum((width * whole(phi**2 * s**2 / (3 * moving)) + h * whole(phi**3 * c / passing)) / (width + h), 0.0)
    shear = (4 * width * whole(phi * (phi - s * c) / (2 * moving)) + 3 * h * whole(phi**2 * s / passing)) / (4 * width + 3 * h)
    share = y * (2 * (1 - y) + y / ratio) / (1 + y * y * (1 / ratio - 1))  # the pressure's, of d
    return shear * (1 - share) + pressure * share / np.maximum(np.cos(own), 0.1)


def reached(a, d, glass, ratio):
    """y of the annulus, its outer side at most where the thread is felt."""
    envelope = np.sqrt(a)
    for j in range(1, len(a)):
        envelope[j] = max(envelope[j], envelope[j - 1] - 0.5 * (d[j] + d[j - 1]))
    for j in range(len(a) - 2, -1, -1):
        envelope[j] = max(envelope[j], envelope[j + 1] - 0.5 * (d[j] + d[j + 1]))
    reach = 6.8 * (1 + ratio / 25) ** 0.25 * envelope
    return np.minimum(a * (1 + (glass / reach) ** 12) ** (1 / 6) / glass**2, MOST)


def _end(device, z, d, a, wall, stream):
    """Weight, drag and velocity of the drop-shaped end (`src/thread/outer/cap.rs`)."""
    h, n = np.sqrt(a), len(a)
    largest = volume = carried = 0.0
    within, narrowest = 1.0, np.inf
    for j in range(n - 1, -1, -1):
        if device.orifice is not None:
            narrowest = min(narrowest, wall[j])
            within = min(within, 1 - between(h[j] / narrowest, 1.0, 1.2))
        if a[j] > largest:
            largest += within * (a[j] - largest)
        else:
            within = min(within, between(a[j] / largest, 0.26, 0.46))
        if within == 0:
            break
        volume += within * a[j] * d[j]
        carried += within * a[j] * d[j] * stream[j]
    ratio, radius = device.ratio, np.sqrt(largest)
    aspect = max(0.75 * volume / (largest * radius), 1.0)
    length, pole, middle = 2 * radius * aspect, z[-1], 0.5 * (z[1:] + z[:-1])
    near = max(pole - length, 0.0)
    about = device.wall(np.array([0.5 * (near + pole)]))[0][0]
    axis, s = 2 / PI * device.total / about**2, ratio / (1 + ratio)
    wide = np.log(0.5 * np.clip(device.at_tip / device.tip, 3.0, 1000.0))
    sampled_at = min(near + (1.05 + 0.21 * wide + (0.24 + 0.27 * wide) * s) * radius * (1 + 0.27 * (aspect - 1)), pole)
    felt = 1 - device.lost(np.array([sampled_at]))[0]
    factor, drift = sphere_in_tube(radius / about, ratio)
    k = min(radius / about, 0.8)
    longer = 1 + (-0.14 + 1.2 * s - 0.92 * s * s + (0.45 + 0.55 * s) * k) * (aspect - 1)
    weight = (1 - between(aspect, 2.0, 4.0)) * (1 - smooth(((pole - middle) / length - 0.9) / 0.2))
    force = 1.5 * 3 * (2 / 3 + ratio) / (1 + ratio) * factor * longer / aspect * np.minimum(a / largest, 1.0)
    velocity = axis * drift * felt / max(carried / volume, 0.02) * stream
    if device.orifice is not None:
        far = np.linspace(z[0], pole + 20.0, 2000)
        ahead = np.minimum.accumulate(device.wall(far)[0][::-1])[::-1]
        velocity = velocity * about**2 / wall**2
        weight = weight * (1 - between(radius / np.minimum(wall, np.interp(middle, far, ahead)), 0.6, 1.0))
    return weight, force, velocity


def solve(device, z, v, form=Form(), dt=0.0, surface=1.0, stream=1.0):
    """Velocities of the nodes and their squared radii. With `dt` capillarity is that at the end of the step (several: a list of velocities).
    `surface` and `stream` scale the tension and both flows: at equal viscosities the answer is the sum of both."""
    if np.ndim(dt):
        found = [solve(device, z, v, form, x, surface, stream) for x in dt]
        return [u for u, _ in found], found[0][1]
    ratio, n = device.ratio, len(v)
    d, middle = np.diff(z), 0.5 * (z[1:] + z[:-1])
    a = v / (PI * d)
    h = np.sqrt(a)
    c0, c1, c2 = parabolas(d, a)
    node = np.concatenate([[1.0], (a[:-1] * d[1:] + a[1:] * d[:-1]) / (d[1:] + d[:-1]), [0.0]])
    slope = np.diff(node) / d
    flare = slope / (a + 0.25 * slope**2)
    wall, wall_slope = device.wall(middle)
    left = 1 - device.lost(middle)
    glass, way, film_at = wall, 1.0, wall
    if form.glass and device.orifice is not None:
        gap, along = device.glass(middle, h)
        own = np.arctan2(0.5 * np.gradient(a, middle) / h, 1.0)
        between_both = np.clip(np.abs(own - along), 1e-6, 2.5)
        film_at, glass = h + gap, np.minimum(h + gap * between_both / np.sin(between_both), device.channel)
        way = wedge(a, glass, np.maximum(between_both, 1e-3), own, ratio) if form.wedge else 1 / np.maximum(np.cos(0.5 * (own + along)), 0.2)
    y_e = reached(a, d, glass, ratio)
    y = np.minimum(a / wall**2, MOST)
    alpha, total = following(y_e, ratio), device.total
    if form.slip:
        e = 1e-5
        f = np.clip(device.share(middle, a), 1e-12, 1 - 1e-9)
        f_a = (device.share(middle, a * (1 + e)) - device.share(middle, a * (1 - e))) / (2 * e * a)
        f_z = (device.share(middle + 1e-4, a) - device.share(middle - 1e-4, a)) / 2e-4
        lost, as_tube = 1 - left, 1 - np.sqrt(1 - f)
        mean, surf = (2 / PI * total * as_tube / a * x for x in equilibrium(np.minimum(as_tube, MOST), ratio))
        inside = np.minimum(mean * PI * a / total, 1.0)
        tube = 2 / PI * total * as_tube / a * (1 - as_tube)
        u_eq = mean * (1 - lost * (1 - inside))
        u_s = surf * np.clip(f_a * total / PI / np.maximum(tube, 1e-12), 0, 3) * (1 - lost * (1 - 2 * inside))
        one = total / PI * (f / a * (1 - lost * (1 - f)) - f_a * (1 - lost * (1 - 2 * f)))
        b = total * f_z / (PI * a) * (1 - lost * (1 - 2 * f)) + one * (flare - slope / a)
        share = 1.0
    else:
        u_eq, u_s = (left * 2 / PI * total / wall**2 * x for x in equilibrium(y, ratio))
        b = total * 2 / PI * left * -2 * wall_slope / wall**3 * np.maximum(1 - a / wall**2, 0)
        share = 0.9
    behind, kappa = u_s - alpha * u_eq, 1 / (1 - np.log(y_e))
    near = share * u_s - kappa * alpha * u_eq
    weight, end_drag, end_velocity = (np.zeros(n),) * 3 if form.glass else _end(device, z, d, a, wall, left)
    slender = 1 - weight
    own_drag = slender * drag(y_e, ratio) * way
    both = own_drag + weight * end_drag
    velocity = (own_drag * u_eq + weight * end_drag * end_velocity) / both
    y_c = np.minimum(a / glass**2, MOST)
    c_e = slender * (1 + 5.9 / (1 + ratio / 0.3) * y_c / (1 - y_c))
    s = sheared_share(y_e, ratio)
    square = np.maximum(c0, 1e-300) / (c0 + 0.25 * c1**2)
    cosine = np.sqrt(square)
    c, x = 0.5 * (1 + square * cosine), 0.25 * cosine * (square * (1 + c2) - 1)
    steep = c - 1 + np.where(x < 0, c * x * (c - x) / (c * c - c * x + x * x), x)
    pressed = np.clip((a / film_at**2 - 0.81) / 0.19, 0, 0.999)
    film = surface * pressed**2 / (1 - pressed) / film_at
    entry = device.inner / PI
    capillary = surface * tension(d, v)
    evening = stream * 12 * PI * SWELL * ratio * entry * np.exp(-2 * middle)
    by_length = tension_by_length(d, v) if dt > 0 else None
    u = np.full(n + 1, entry)
    i = np.arange(1, n)
    for _ in range(8):
        p = s / (1 + 0.75 * s * ratio * h * np.maximum(-np.diff(u) / d, 0))
        f = 1 + p * steep
        held = stream * 3 * PI * slender * 2 * ratio / (1 + ratio) * a * b * (f if form.slip else 1.0)
        band, const = np.zeros((5, n + 1)), np.zeros(n + 1)

        def add(row, column, value):
            np.add.at(band, (2 + row - column, column), value)

        lo, hi = np.arange(n), np.arange(1, n + 1)
        push, k = capillary + evening - held, 3 * ratio * f * v / d**2
        const[:-1] += push
        const[1:] -= push
        for row, sign in ((lo, 1), (hi, -1)):
            add(row, hi, sign * k)
            add(row, lo, -sign * k)
            add(row, row, -0.5 * PI * d * both)
            const[row] += stream * 0.5 * PI * d * both * velocity
        alone = 0.5 * (1 - kappa * alpha) * flare
        by_lo, by_hi = c_e * (alone - 1 / d), c_e * (alone + 1 / d)
        normal = stream * c_e * (-near * flare - b)
        pull = PI * node[1:n]
        const[i] += pull * (film[i - 1] - film[i])
        if form.dissipation:
            for row, sign in ((lo, -1), (hi, 1)):
                arm = -PI * a * d * (alone + sign / d)
                const[row] += arm * normal
                add(row, lo, arm * by_lo)
                add(row, hi, arm * by_hi)
        else:
            const[i] += pull * (normal[i] - normal[i - 1])
            add(i, i + 1, pull * by_hi[i])
            add(i, i, pull * (by_lo[i] - by_hi[i - 1]))
            add(i, i - 1, -pull * by_lo[i - 1])
        by_u, lag, stiff = 0.5 * (1 - alpha) * flare, -stream * behind * flare, 3 * PI * ratio * f * slender * a
        for row, sign in ((lo, 1), (hi, -1)):
            add(row, lo, sign * stiff * by_u - by_u * stiff * (d * by_u - 1))
            add(row, hi, sign * stiff * by_u - by_u * stiff * (d * by_u + 1))
            const[row] += sign * stiff * lag + by_u * (held * d - stiff * d * lag)
        if dt > 0:
            for row, sign in ((lo, 1), (hi, -1)):
                for m in (-1, 0, 1):
                    cell = np.arange(max(0, -m), n - max(0, m))
                    cell = cell[row[cell] > 0]
                    value = sign * dt * by_length[m + 1, cell]
                    add(row[cell], cell + m + 1, value)
                    add(row[cell], cell + m, -value)
        for column in range(3):
            band[2 - column, column] = 1.0 if column == 0 else 0.0
        const[0] = -stream * entry
        last, u = u, solve_banded((2, 2), band, -const)
        if np.abs(u - last).max() < 1e-9 * max(np.abs(u).max(), 1e-9):
            break
    return u, node
