"""Parts the holders share: sliding along the wire (free, tied back, Coulomb friction with memory), centring."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from biomech.mechanics.contact import STICK, Rub
from biomech.mechanics.poses import Array

CENTRING = 0.05
"""N/mm that centres a wire inside a clearance, per holder edge: without it a wire floating in its slots has no
defined place. Over a clearance of 0.04 mm this is 0.002 N: numerical, far below any force of interest."""


class Drag(NamedTuple):
    """Energy, force along the wire, stiffness, the remembered position where the wire sticks.

    `per_normal`: change of the force when what presses the parts together grows by 1 N.
    """

    energy: Array
    force: Array
    stiffness: Array
    stuck: Array
    per_normal: Array

    @property
    def slides(self) -> bool:
        """Whether anything slides with friction, so that the force follows what presses the parts together."""
        return bool(self.per_normal.any())


@dataclass(frozen=True)
class Sliding:
    """Per link: `hold` (n,) N/mm of a tie-back (0 without), `friction` (n,) coefficient (0 = free)."""

    hold: Array
    friction: Array

    def respond(self, along: Array, normal: Array, stuck: Array, rub: Rub | None = None) -> Drag:
        """Return the response to the position `along` (..., n) mm of the holder along the wire.

        `normal` (..., n) N is the sum of the contact and ligature forces; the friction force is at most
        friction * normal. `rub` (force and stiffness) stands in for the friction.
        """
        if rub is not None:
            none = np.zeros_like(along)
            return Drag(none, rub[0] + self.hold * along, rub[1] + self.hold, stuck, none)
        if not self.friction.any():
            none, held = np.zeros_like(along), self.hold * along
            return Drag(0.5 * held * along, held, none + self.hold, none + stuck, none)
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
            np.where(rubs & slipping, np.sign(trial) * self.friction, 0.0),
        )

    def coupling(self, drag: Drag, normal_rate: Array) -> Array | None:
        """Return the part (..., n, 6, 6) of the tangent by which the friction follows what presses the parts together.

        `normal_rate` (..., n, 6) is the derivative of that with respect to the strain. None when nothing slides.
        """
        if not drag.slides:
            return None
        out = np.zeros((*normal_rate.shape, 6))
        out[..., 0, :] = drag.per_normal[..., None] * normal_rate
        return out
