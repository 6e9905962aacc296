"""The time rule: a diagonally implicit Runge-Kutta method of order 3, L-stable and stiffly accurate.

Four stages, the first explicit, with an embedded rule of order 2 for the error estimate: the implicit half of
ARK3(2)4L[2]SA of Kennedy and Carpenter 2003, Appl. Numer. Math. 44:139 (from memory; nodes and two weights of the
embedded rule are taken, the rest is computed from the order conditions and tested against them). The relaxation times
of the teeth of one arch differ by orders of magnitude, hence the L-stability; order 3 keeps equilibria few.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.mechanics.poses import Array

GAMMA = 0.43586652150845899942
"""Root of g^3 - 3 g^2 + 3 g / 2 - 1 / 6 = 0 for which the method is L-stable."""
_NODE = 0.6
_EMBEDDED = (0.868729, 0.401697)  # its third and fourth weight


@dataclass(frozen=True)
class Scheme:
    """Coefficients: `nodes` (4,); `stages` (4, 4) with the weights in the last row; `error` (4,) weights of the error.

    `order` of the solution; the error estimated is of one order less.
    """

    nodes: Array
    stages: Array
    error: Array
    order: int = 3


def scheme() -> Scheme:
    """Return the coefficients."""
    g, c2, c3 = GAMMA, 2 * GAMMA, _NODE
    b2, b3 = np.linalg.solve([[c2, c3], [c2**2, c3**2]], [0.5 - g, 1 / 3 - g])
    a32 = (1 / 6 - 0.5 * g - g * (b2 * c2 + b3 * c3)) / (b3 * c2)
    stages = np.array([[0, 0, 0, 0], [g, g, 0, 0], [c3 - a32 - g, a32, g, 0], [1 - b2 - b3 - g, b2, b3, g]])
    e3, e4 = _EMBEDDED
    e2 = (0.5 - e3 * c3 - e4) / c2
    embedded = np.array([1 - e2 - e3 - e4, e2, e3, e4])
    return Scheme(np.array([0.0, c2, c3, 1.0]), stages, stages[3] - embedded)
