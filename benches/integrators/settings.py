"""What is run: every solver over resolutions and tolerances, so that a front of error against cost can be drawn."""

from itertools import product

# Limits of the time at which the thinnest radius passes 0.01, capillary times, from refined runs of independent solvers
# (what this machine's own refined runs say stands on the page).
LIMIT = {"dripping": 89.43497, "segment": 17.05664}
# Errors at which costs are compared.
TARGET = {"dripping": 1e-4, "segment": 5e-5}


def grid(case, resolutions, tolerances):
    pairs = product(resolutions, tolerances)
    return [{"case": case, "resolution": r, "tolerance": t} for r, t in pairs]


FINENESS, TOLERANCES = (0.1, 0.08, 0.065, 0.05, 0.04, 0.03, 0.024), (1e-3, 3e-4, 1e-4, 3e-5, 1e-5)
OURS = grid("dripping", FINENESS, TOLERANCES) + grid("segment", FINENESS, TOLERANCES)

UNIFORM = grid("segment", (200, 300, 400, 600, 800, 1200), (1e-4, 1e-5, 1e-6, 1e-7))
GRADED = grid("segment-graded", (100, 150, 200, 300, 400, 600), (1e-4, 1e-5, 1e-6, 1e-7))
THEIRS = grid("dripping", (0.07, 0.05, 0.035, 0.025, 0.018, 0.014), (1e-3, 1e-4, 1e-5)) + UNIFORM + GRADED
# SciPy's BDF is written in Python and takes five times as long: fewer settings.
SLOW = (
    grid("dripping", (0.05, 0.035, 0.025, 0.018), (1e-4, 1e-5))
    + grid("segment", (200, 400, 800), (1e-5, 1e-6))
    + grid("segment-graded", (150, 300, 600), (1e-5, 1e-6))
)

PYTHON = {"cvode2": THEIRS, "cvode3": THEIRS, "cvode5": THEIRS, "lsoda": THEIRS, "bdf": SLOW}
RUST = {"bdf": THEIRS, "tr_bdf2": THEIRS, "esdirk34": THEIRS}

# Refined runs whose error falls with the square of the cell, for the limit: each solver's last two, extrapolated.
REFINED = {
    "slenderjet": {"dripping": [(0.02, 1e-7), (0.014, 1e-7)], "segment": [(0.02, 1e-8), (0.014, 1e-8)]},
    "esdirk34": {"dripping": [(0.014, 1e-7), (0.01, 1e-7)], "segment": [(1600, 1e-8), (2400, 1e-8)]},
    "cvode3": {"dripping": [(0.014, 1e-6), (0.01, 1e-6)], "segment": [(1000, 1e-8), (1400, 1e-8)]},
}

# Solvers as the page names them: those of one line are one front, the best of all its settings.
FAMILIES = {
    "slenderjet": ["slenderjet"],
    "diffsol": ["diffsol bdf", "diffsol tr_bdf2", "diffsol esdirk34"],
    "CVODE": ["cvode2", "cvode3", "cvode5"],
    "LSODA": ["lsoda"],
    "BDF of SciPy": ["bdf"],
}
SHIPPED = ("coarse", "standard", "fine")
