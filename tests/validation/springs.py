"""Stiffness matrices from springs at points, for the checks of resistance and groups."""

import numpy as np

from biomech.mechanics.poses import hat

LENGTH = 13.0
"""Embedded length of the width-law roots, mm."""


def cloud(seed, count=9):
    """Return K (6, 6) of `count` random springs: a root of no symmetry at all."""
    rng = np.random.default_rng(seed)
    k = np.zeros((6, 6))
    for point in rng.uniform(-8, 8, (count, 3)) + rng.uniform(-10, 10, 3):
        half = rng.normal(size=(3, 3))
        k += spring(point, half @ half.T + 0.05 * np.eye(3))
    return k


def spring(point, stiffness):
    """Return K (6, 6) about the origin of one spring (3, 3) at a point (3,)."""
    b = np.hstack([np.eye(3), -hat(np.asarray(point, dtype=float))])
    return b.T @ stiffness @ b


def width_law(power, modulus=0.7, size=6.0, length=LENGTH):
    """Return K (6, 6) of lateral springs modulus * w(x) along a2 and a1, x = a3 from the crest, on [0, L].

    w = size (1 - x/L)^power with 2 power whole: with s^2 = 1 - x/L the integrals are polynomials, exact by
    Gauss-Legendre. Springs along and about the axis, which the law leaves out, are added on it.
    """
    nodes, weights = np.polynomial.legendre.leggauss(16)
    s, weights = 0.5 * (nodes + 1.0), 0.5 * weights
    k = np.zeros((6, 6))
    for s_i, weight in zip(s, weights, strict=True):
        w = modulus * size * s_i ** (2 * power) * 2.0 * s_i * length * weight
        k += spring([0.0, 0.0, length * (1.0 - s_i * s_i)], np.diag([w, w, 0.4 * w]))
    k[5, 5] += 20.0
    return k
