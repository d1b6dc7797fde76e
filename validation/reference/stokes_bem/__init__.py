"""Axisymmetric two-liquid Stokes flow by boundary elements: a reference kept apart from the solver it is used to judge.

Lengths are in tip radii R, velocities in gamma/mu_o, stresses in gamma/R, times in mu_o R/gamma.
"""
