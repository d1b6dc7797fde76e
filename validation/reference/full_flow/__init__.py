"""Axisymmetric two-liquid Navier-Stokes rows by a general flow solver (gerris2D): what Stokes flow cannot tell.

Lengths in the tip's bore radius R, density of the inner liquid 1, tension 1; times in sqrt(rho_i R^3/gamma).
"""
