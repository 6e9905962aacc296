"""Parts the holders share: sliding along the wire (free, tied back, Coulomb friction with memory), centring."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from biomech.mechanics.poses import Array

CENTRING = 0.05
"""N/mm that centres a wire inside a clearance, per holder edge: without it a wire floating in its slots has no
defined place. Over a clearance of 0.04 mm this is 0.002 N: numerical, far below any force of interest."""

STICK = 2000.0
"""Stiffness of sticking contact and of a tie-back, N/mm: stiff beside ligament and wire (numerical choice)."""


class Drag(NamedTuple):
    """Energy, force along the wire, stiffness, and the remembered position where the wire sticks."""

    energy: Array
    force: Array
    stiffness: Array
    stuck: Array


@dataclass(frozen=True)
class Sliding:
    """Per link: `hold` (n,) N/mm of a tie-back (0 without), `friction` (n,) coefficient (0 = free)."""

    hold: Array
    friction: Array

    def respond(self, along: Array, normal: Array, stuck: Array) -> Drag:
        """Return the response to the position `along` (..., n) mm of the holder along the wire.

        `normal` (..., n) N is the sum of the contact and ligature forces; the friction force is at most
        friction * normal. The change of that bound within a step is left out of the tangent, so the tangent stays
        symmetric.
        """
        bound = self.friction * normal
        trial = STICK * (along - stuck)
        slipping = np.abs(trial) > bound
        force = np.where(slipping, np.sign(trial) * bound, trial)
        rubs = self.friction > 0
        moved = np.where(slipping, along - force / STICK, stuck)
        away = along - stuck
        energy = np.where(slipping, bound * np.abs(away) - bound**2 / (2 * STICK), 0.5 * force * away)
        return Drag(
            np.where(rubs, energy, 0.0) + 0.5 * self.hold * along**2,
            np.where(rubs, force, 0.0) + self.hold * along,
            np.where(rubs & ~slipping, STICK, 0.0) + self.hold,
            np.where(rubs, moved, stuck),
        )
