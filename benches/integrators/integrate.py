"""One call for all integrators (`cvode2`, `cvode3`, `cvode5` by highest order, `lsoda`, `bdf`): from `t0` to `t1` or to the event, with every step kept."""

from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import diags
from sksundae.cvode import CVODE

STEPS_MAX = 500_000


class Failed(Exception):
    pass


@dataclass
class Leg:
    times: np.ndarray
    states: np.ndarray
    stopped: bool
    steps: int
    evaluations: int


def integrate(solver, f, event, t0, t1, y0, rtol, atol, lband, uband):
    """`f(t, y, yp)` fills yp; the leg ends where `event(y)` falls through zero."""
    if solver.startswith("cvode"):
        # above second order a multistep formula can be unstable on lightly damped capillary waves: the order is tried
        return by_cvode(int(solver[-1]), f, event, t0, t1, y0, rtol, atol, lband, uband)
    return by_scipy(solver, f, event, t0, t1, y0, rtol, atol, lband, uband)


def by_cvode(order, f, event, t0, t1, y0, rtol, atol, lband, uband):
    def events(t, y, g):
        g[0] = event(y)

    events.terminal, events.direction = [True], [0]
    solver = CVODE(
        f, rtol=rtol, atol=atol, linsolver="band", lband=lband, uband=uband, max_num_steps=STEPS_MAX, max_order=order,
        eventsfn=events, num_events=1,
    )  # fmt: skip
    r = solver.solve(np.array([t0, t1]), y0)
    if r.status < 0:
        raise Failed(f"CVODE: {r.message}")
    times, states = np.asarray(r.t), np.asarray(r.y)
    return Leg(times, states, r.status == 2, len(times) - 1, int(r.nfev))


def by_scipy(solver, f, event, t0, t1, y0, rtol, atol, lband, uband):
    evaluations = 0

    def fun(t, y):
        nonlocal evaluations
        evaluations += 1
        yp = np.empty_like(y)
        f(t, y, yp)
        return yp

    def stop(t, y):
        return event(y)

    stop.terminal = True
    n = len(y0)
    if solver == "lsoda":
        extra = dict(method="LSODA", lband=lband, uband=uband)
    else:
        bands = range(-lband, uband + 1)
        extra = dict(method="BDF", jac_sparsity=diags([np.ones(n - abs(q)) for q in bands], list(bands)).tocsc())
    try:
        r = solve_ivp(fun, (t0, t1), y0, rtol=rtol, atol=atol, events=stop, **extra)
    except RuntimeError as error:
        raise Failed(f"{solver}: {error}") from error
    if r.status < 0:
        raise Failed(f"{solver}: {r.message}")
    return Leg(r.t, r.y.T, r.status == 1, len(r.t) - 1, evaluations)
