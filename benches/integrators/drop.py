"""The dripping drop as a method of lines: cells of fixed volume that move with the liquid, a new mesh now and then.

Equations (Eggers & Dupont 1994, J. Fluid Mech. 262, 205; full curvature; units R = rho = gamma = 1):
    a_t + (a u)_z = 0,   u_t + u u_z = -p_z + 3 Oh (a u_z)_z / a + Bo,   a = h^2,
    p = 1/sqrt(a + a'^2/4) - s',   s = (a'/2)/sqrt(a + a'^2/4).
State: a in cells and u at nodes, interleaved; a cell's length follows from its volume. What enters the nozzle is shared out
over the upper cells by a flux mu(m) through them, fixed within a segment of the run. Jacobian band: 7 below, 3 above.
Adapted from an earlier comparison of our own; new here: meshes by slenderjet's own rule (they need half as many cells as
the ones of before for the same error), compiled, and segments of a run that end by events.
"""

import time

import numpy as np
from numba import njit
from scipy.interpolate import CubicSpline

from integrate import Failed, integrate
from neck import passing, refined

OH, BO, WE = 0.1, 0.5, 1e-3
STOP = 0.01
LBAND, UBAND = 7, 3
# A new mesh when the drop has grown by this share, or the neck has thinned to this share of what it was.
GROWTH, THINNING, THINNING_FROM = 0.10, 0.78, 0.75
SEGMENTS_MAX = 400


@njit(cache=True, fastmath=True, error_model="numpy")
def rhs(dt, y, yp, v0, dv, mu, oh, bo, u0, n, d, v, an, ap, s, p, t, u):
    u[0] = u0
    for i in range(n):
        v[i] = v0[i] + dt * dv[i]
        d[i] = v[i] / y[2 * i]
        u[i + 1] = y[2 * i + 1]
    # slope at the nozzle, where a = 1, by a parabola through two cell averages
    an[0] = 1.0
    e = d[0] + d[1]
    b11, b12 = 0.5 * d[0], d[0] * d[0] / 3.0
    b21, b22 = d[0] + 0.5 * d[1], (e * e * e - d[0] * d[0] * d[0]) / (3.0 * d[1])
    ap[0] = ((y[0] - 1.0) * b22 - (y[2] - 1.0) * b12) / (b11 * b22 - b12 * b21)
    for j in range(1, n):
        g = d[j - 1] + d[j]
        an[j] = (y[2 * j - 2] * d[j] + y[2 * j] * d[j - 1]) / g
        ap[j] = 2.0 * (y[2 * j] - y[2 * j - 2]) / g
    # the same at the tip, where a = 0
    d1, d2 = d[n - 1], d[n - 2]
    e = d1 + d2
    c11, c12 = 0.5 * d1, d1 * d1 / 3.0
    c21, c22 = d1 + 0.5 * d2, (e * e * e - d1 * d1 * d1) / (3.0 * d2)
    an[n] = 0.0
    ap[n] = -(y[2 * n - 2] * c22 - y[2 * n - 4] * c12) / (c11 * c22 - c12 * c21)
    for j in range(n):
        s[j] = 0.5 * ap[j] / np.sqrt(an[j] + 0.25 * ap[j] * ap[j])
    s[n] = -1.0
    for i in range(n):
        q = 0.25 * (ap[i] + ap[i + 1])
        p[i] = 1.0 / np.sqrt(y[2 * i] + q * q) - (s[i + 1] - s[i]) / d[i]
        t[i] = 3.0 * oh * y[2 * i] * (u[i + 1] - u[i]) / d[i]
    for i in range(n):
        below = mu[i + 1] / an[i + 1] if i < n - 1 else 0.0
        yp[2 * i] = (dv[i] - y[2 * i] * (u[i + 1] - u[i]) + y[2 * i] * (below - mu[i] / an[i])) / d[i]
    for j in range(1, n):
        g = 0.5 * (d[j - 1] + d[j])
        uz = (u[j + 1] - u[j - 1]) / (d[j - 1] + d[j])
        yp[2 * j - 1] = -(p[j] - p[j - 1]) / g + 2.0 * (t[j] - t[j - 1]) / (v[j - 1] + v[j]) + bo - mu[j] / an[j] * uz
    q = 0.25 * (ap[n - 1] + ap[n])
    tension = y[2 * n - 2] * (2.0 / np.sqrt(y[2 * n - 2] + q * q) - p[n - 1])
    yp[2 * n - 1] = -4.0 * (tension + t[n - 1]) / v[n - 1] + bo


@njit(cache=True)
def find_neck(a):
    """Index of the bulge (from the tip up) and of the minimum above it; -1 without one."""
    n = a.size
    most, bulge, found = a[n - 1], n - 1, False
    for i in range(n - 1, -1, -1):
        if a[i] > most:
            most, bulge = a[i], i
        elif a[i] < 0.98 * most:
            found = True
            break
    if not found:
        return bulge, -1
    least = bulge
    for i in range(bulge, -1, -1):
        if a[i] < a[least]:
            least = i
    return bulge, least


@njit(cache=True)
def neck_area(y):
    least = find_neck(y[0::2])[1]
    return y[2 * least] if least >= 0 else 1.0


@njit(cache=True)
def sizes(z, a, res):
    """slenderjet's own rule (src/thread/mesh/size.rs): cells of `res` times the length on which the profile changes."""
    n = a.size
    size = np.empty(n)
    for i in range(n):
        d = z[i + 1] - z[i]
        dl, al = (z[i] - z[i - 1], a[i - 1]) if i > 0 else (0.0, 1.0)
        dr, ar = (z[i + 2] - z[i + 1], a[i + 1]) if i < n - 1 else (0.0, 0.0)
        xr, xl = 0.5 * (d + dr), -0.5 * (d + dl)
        qr, ql = xr * xr + (dr * dr - d * d) / 12, xl * xl + (dl * dl - d * d) / 12
        det = xr * ql - xl * qr
        slope = ((ar - a[i]) * ql - (al - a[i]) * qr) / det
        bend = 2.0 * (xr * (al - a[i]) - xl * (ar - a[i])) / det
        h = np.sqrt(a[i])
        q1 = slope / (2 * a[i])
        profile = 1 / max(np.sqrt(q1 * q1 + abs(bend / (2 * a[i]) - q1 * q1)), 1e-12)
        ell2 = a[i] + 0.25 * slope * slope
        ell = np.sqrt(ell2)
        ell_length = 2 * ell2 / max(abs(slope * (1 + 0.5 * bend)), 1e-12)
        longest = min(2 * h * np.sqrt(2 + 4.243 * OH / np.sqrt(h)), 6 * h)
        cap = min(ell, ell_length, 2 * max(longest, 4 * h))
        s = min(max(min(profile, longest), cap), 2 * max(longest, ell))
        size[i] = max(res * s, res * STOP, 0.05 * res * h)
    size[n - 1] = size[n - 2] = size[n - 3]
    return size


@njit(cache=True)
def make_mesh(z, a, res):
    """New nodes for cells of average squared radius `a` between nodes `z`, their lengths smooth along the thread."""
    n = a.size
    size, grow = sizes(z, a, res), min(2.5 * res, 0.3)
    for i in range(1, n):
        size[i] = min(size[i], size[i - 1] + grow * 0.5 * (z[i + 1] - z[i - 1]))
    for i in range(n - 2, -1, -1):
        size[i] = min(size[i], size[i + 1] + grow * 0.5 * (z[i + 2] - z[i]))
    c = np.zeros(n + 1)
    for i in range(n):
        c[i + 1] = c[i] + (z[i + 1] - z[i]) / size[i]
    cells = int(np.ceil(c[n]))
    new = np.interp(np.arange(cells + 1) * (c[n] / cells), c, z)
    for _ in range(4):
        new[1:-1] = 0.25 * new[:-2] + 0.5 * new[1:-1] + 0.25 * new[2:]
    new[0], new[-1] = 0.0, z[n]
    return new


def run(solver, res, rtol):
    """Time at which the neck passes STOP; steps, most cells, evaluations, segments."""
    u0 = np.sqrt(WE)
    z = np.linspace(0, 1, 401)
    z = make_mesh(z, np.diff(z - z**3 / 3) / np.diff(z), res)
    m = 2 / 3 - (z - z**3 / 3)
    m[-1] = 0.0
    u = np.full(len(z), u0)
    t, steps, cells, evaluations = 0.0, 0, 0, 0
    for segments in range(1, SEGMENTS_MAX):
        n = len(z) - 1
        cells = max(cells, n)
        v0 = m[:-1] - m[1:]
        a = v0 / np.diff(z)
        _, least = find_neck(a)
        closed, neck = 0.0, 1.0
        if least >= 0:
            neck = np.sqrt(a[least])
            if neck < 0.8:
                closed = np.interp(0.5 * z[least], z, m)
        mu = u0 * np.maximum((m - closed) / (m[0] - closed), 0) ** 2
        dv = mu[:-1] - mu[1:]
        y0 = np.empty(2 * n)
        y0[0::2], y0[1::2] = a, u[1:]
        atol = np.empty(2 * n)
        atol[0::2], atol[1::2] = rtol * 1e-3, rtol * 1e-1
        work = [np.zeros(n + 2) for _ in range(8)]
        began = t

        def f(tt, y, yp):
            rhs(tt - began, y, yp, v0, dv, mu, OH, BO, u0, n, *work)

        level = max(min(THINNING * neck, THINNING_FROM), STOP) ** 2
        end = began + min(max(GROWTH * m[0], GROWTH * 0.7), 0.25 * (m[0] - closed)) / u0
        leg = integrate(solver, f, lambda y: neck_area(y) - level, began, end, y0, rtol, atol, LBAND, UBAND)
        steps, evaluations = steps + leg.steps, evaluations + leg.evaluations
        t, y = leg.times[-1], leg.states[-1]
        v = v0 + (t - began) * dv
        if leg.stopped and level <= STOP**2:
            return passing(history(leg, v0, dv, began), STOP**2), steps, cells, evaluations, segments
        z = np.concatenate([[0], np.cumsum(v / y[0::2])])
        m = np.concatenate([np.cumsum(v[::-1])[::-1], [0]])
        u = np.concatenate([[u0], y[1::2]])
        if z[-1] > 60:
            raise Failed("the thread grew beyond 60 radii")
        z, m, u = remeshed(z, m, u, make_mesh(z, v / np.diff(z), res))
        u[0] = u0
    raise Failed(f"no neck of {STOP} after {SEGMENTS_MAX} meshes")


def history(leg, v0, dv, began):
    """Time and squared radius of the neck over the last steps, by the parabola through three cells."""
    seen = []
    for t, y in zip(leg.times[-4:], leg.states[-4:]):
        a = y[0::2]
        _, least = find_neck(a)
        if least >= 0:
            seen.append((t, refined(a, (v0 + (t - began) * dv) / a, least)))
    return seen


def remeshed(z, m, u, new):
    """Volume beyond each node and velocity on a new mesh, by cubic splines."""
    m_new = CubicSpline(z, m)(new)
    m_new[0], m_new[-1] = m[0], 0.0
    if np.any(np.diff(m_new) >= 0):
        raise Failed("a new mesh has a cell of negative volume")
    return new, m_new, CubicSpline(z, u)(new)


def warm_up(solver):
    run(solver, 0.2, 1e-4)


def timed(solver, res, rtol):
    wall, cpu = time.perf_counter(), time.process_time()
    passed, steps, cells, evaluations, _ = run(solver, res, rtol)
    return passed, steps, cells, evaluations, time.perf_counter() - wall, time.process_time() - cpu
