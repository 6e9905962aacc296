"""The time rule: a diagonally implicit Runge-Kutta method of order 4, L-stable and stiffly accurate.

Six stages, the first explicit, with an embedded rule of order 3 for the error estimate: the implicit half of
ARK4(3)6L[2]SA of Kennedy and Carpenter 2003, Appl. Numer. Math. 44:139 (from memory; every order condition is tested).
The relaxation times of the teeth of one arch differ by orders of magnitude, hence the L-stability; a high order keeps
equilibria few.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.mechanics.poses import Array

_STAGES = (
    (),
    (1 / 4, 1 / 4),
    (8611 / 62500, -1743 / 31250, 1 / 4),
    (5012029 / 34652500, -654441 / 2922500, 174375 / 388108, 1 / 4),
    (15267082809 / 155376265600, -71443401 / 120774400, 730878875 / 902184768, 2285395 / 8070912, 1 / 4),
    (82889 / 524892, 0.0, 15625 / 83664, 69875 / 102672, -2260 / 8211, 1 / 4),
)
_EMBEDDED = (
    4586570599 / 29645900160, 0.0, 178811875 / 945068544, 814220225 / 1159782912, -3700637 / 11593932, 61727 / 225920,
)  # fmt: skip


@dataclass(frozen=True)
class Scheme:
    """Coefficients: `nodes` (6,); `stages` (6, 6) with the weights in the last row; `error` (6,) weights of the error.

    `order` of the solution; the error estimated is of one order less.
    """

    nodes: Array
    stages: Array
    error: Array
    order: int = 4


def scheme() -> Scheme:
    """Return the coefficients."""
    stages = np.zeros((6, 6))
    for i, row in enumerate(_STAGES):
        stages[i, : len(row)] = row
    return Scheme(stages.sum(axis=1), stages, stages[-1] - np.array(_EMBEDDED))
