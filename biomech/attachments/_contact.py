"""One-sided contact with a narrow smooth corner, so that Newton keeps its quadratic end."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from biomech.mechanics.poses import Array

CORNER = 1e-3
"""Half width of the smooth corner, mm: numerical, far below any clearance."""


class Push(NamedTuple):
    """Energy (N.mm), force (N, >= 0) and stiffness (N/mm) of a one-sided contact."""

    energy: Array
    force: Array
    stiffness: Array


def push(depth: Array, stiffness: Array | float, corner: float = CORNER) -> Push:
    """Return the response to penetration `depth` (mm, positive = overlapping).

    Linear with `stiffness` (N/mm) beyond the corner, zero before it, quadratic force in |depth| < corner.
    """
    a = np.clip(depth + corner, 0.0, 2 * corner)
    b = np.maximum(depth - corner, 0.0)
    force = stiffness * (a * a / (4 * corner) + b)
    slope = stiffness * (a / (2 * corner))
    energy = stiffness * (a**3 / (12 * corner) + corner * b + 0.5 * b * b)
    return Push(energy, force, slope)
