"""Half a wave between two mirrors as a method of lines on a mesh at rest: a = h^2 in cells, u at inner faces, interleaved.

Equations as in drop.py with Bo = 0. Jacobian band: 3 on each side. The mesh is uniform, or graded towards the place of the
pinch, which has to be known beforehand. Adapted from an earlier comparison of our own.
"""

import time

import numpy as np
from numba import njit

from integrate import Failed, integrate
from neck import passing, refined

X, OH, AMPLITUDE = 0.7, 0.1, 0.01
STOP = 0.01
BAND = 3
# Place of the pinch and half width of the finely meshed stretch for `graded`.
PINCH, WIDTH, RATIO = 2.07, 0.2, 12.0


@njit(cache=True, fastmath=True, error_model="numpy")
def rhs(y, yp, inv_d, inv_between, left_weight, oh, n, h, s, hp, p, t, u):
    for i in range(n):
        h[i] = np.sqrt(y[2 * i])
    u[0] = u[n] = hp[0] = hp[n] = s[0] = s[n] = 0.0
    for j in range(1, n):
        u[j] = y[2 * j - 1]
        slope = (h[j] - h[j - 1]) * inv_between[j]
        hp[j] = slope
        s[j] = slope / np.sqrt(1.0 + slope * slope)
    for i in range(n):
        q = 0.5 * (hp[i] + hp[i + 1])
        p[i] = 1.0 / (h[i] * np.sqrt(1.0 + q * q)) - (s[i + 1] - s[i]) * inv_d[i]
        t[i] = 3.0 * oh * y[2 * i] * (u[i + 1] - u[i]) * inv_d[i]
    flux = 0.0
    for j in range(1, n):
        face = left_weight[j] * y[2 * j - 2] + (1.0 - left_weight[j]) * y[2 * j]
        next_flux = face * u[j]
        yp[2 * j - 2] = -(next_flux - flux) * inv_d[j - 1]
        flux = next_flux
        right, left = 0.5 * (u[j] + u[j + 1]), 0.5 * (u[j] + u[j - 1])
        pull = -0.5 * (right * right - left * left) - (p[j] - p[j - 1]) + (t[j] - t[j - 1]) / face
        yp[2 * j - 1] = inv_between[j] * pull
    yp[2 * n - 2] = flux * inv_d[n - 1]


@njit(cache=True)
def least(y):
    m = y[0]
    for i in range(0, y.size, 2):
        if y[i] < m:
            m = y[i]
    return m


def faces(n, graded):
    length = np.pi / X
    if not graded:
        return np.linspace(0, length, n + 1)
    z = np.linspace(0, length, 20001)
    size = np.sqrt(1 + ((z - PINCH) / WIDTH) ** 2)
    size = 1 / np.sqrt(1 / size**2 + 1 / RATIO**2)
    c = np.concatenate([[0], np.cumsum(0.5 * (1 / size[1:] + 1 / size[:-1]) * np.diff(z))])
    return np.interp(np.linspace(0, c[-1], n + 1), c, z)


def run(solver, n, rtol, graded=False):
    """Time at which the neck passes STOP, where it is, steps, cells, evaluations."""
    z = faces(n, graded)
    d, middle = np.diff(z), 0.5 * (z[1:] + z[:-1])
    between, weight = np.ones(n + 1), np.zeros(n + 1)
    between[1:n] = np.diff(middle)
    weight[1:n] = (middle[1:] - z[1:n]) / between[1:n]
    # averages of (1 + eps cos kz)^2, integrated exactly
    k, eps = X, AMPLITUDE
    whole = z + 2 * eps * np.sin(k * z) / k + eps**2 * (z / 2 + np.sin(2 * k * z) / (4 * k))
    y0 = np.zeros(2 * n - 1)
    y0[0::2] = np.diff(whole) / d
    atol = np.empty(2 * n - 1)
    atol[0::2], atol[1::2] = rtol * 1e-3, rtol * 1e-1
    inv_d, inv_between = 1 / d, 1 / between
    work = [np.zeros(n + 2) for _ in range(6)]

    def f(t, y, yp):
        rhs(y, yp, inv_d, inv_between, weight, OH, n, *work)

    leg = integrate(solver, f, lambda y: least(y) - STOP**2, 0.0, 1e3, y0, rtol, atol, BAND, BAND)
    if not leg.stopped:
        raise Failed(f"no neck of {STOP}")
    areas = [y[0::2] for y in leg.states[-4:]]
    seen = [(t, refined(a, d, int(np.argmin(a)))) for t, a in zip(leg.times[-4:], areas)]
    return passing(seen, STOP**2), middle[int(np.argmin(areas[-1]))], leg.steps, n, leg.evaluations


def warm_up(solver):
    run(solver, 100, 1e-5)


def timed(solver, n, rtol, graded=False):
    wall, cpu = time.perf_counter(), time.process_time()
    passed, _, steps, cells, evaluations = run(solver, n, rtol, graded)
    return passed, steps, cells, evaluations, time.perf_counter() - wall, time.process_time() - cpu
