"""Round tube around a round wire: radial clearance, no hold on spin. Two edges hold tip and rotation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.attachments import REGISTRY, Kind
from biomech.attachments._contact import push
from biomech.attachments._sliding import Sliding
from biomech.mechanics.links import Law, Response
from biomech.mechanics.poses import Array

REGISTRY.register("tube", Kind("tube", "closed tube: with or without play, rectangular for the main wire, round for the overlay", 2))


@dataclass(frozen=True)
class RoundTube(Law):
    """Law of n tube edges: `clearance` (..., n) mm is the radial gap, `stiffness` (..., n) N/mm the wall's.

    Zero clearance centres the wire both ways (the tube holds rotation). Spin about the wire is free.
    """

    clearance: Array
    stiffness: Array
    sliding: Sliding

    def start(self) -> Array:
        """Return the remembered sticking positions of a wire never moved, mm."""
        return np.zeros(np.shape(self.clearance)[-1])

    def respond(self, strain: Array, state: Array) -> Response:
        """See Law.respond."""
        across = strain[..., 1:3]
        _, force, slope, unit, over = self._radial(across)
        grad, hess = np.zeros(strain.shape), np.zeros((*strain.shape, 6))
        grad[..., 1:3] = force[..., None] * unit
        outer = unit[..., :, None] * unit[..., None, :]
        hess[..., 1:3, 1:3] = (slope - over)[..., None, None] * outer + over[..., None, None] * np.eye(2)
        drag = self.sliding.respond(strain[..., 0], force, state)
        grad[..., 0] += drag.force
        hess[..., 0, 0] += drag.stiffness
        return Response(grad, hess, drag.stuck)

    def energy(self, strain: Array, state: Array) -> Array:
        """Return wall and sliding energy (..., n), N.mm."""
        energy, force, *_ = self._radial(strain[..., 1:3])
        out: Array = energy + self.sliding.respond(strain[..., 0], force, state).energy
        return out

    def _radial(self, across: Array) -> tuple[Array, Array, Array, Array, Array]:
        """Energy, radial force, radial stiffness, unit vector, force over radius."""
        return radial(across, self.clearance, self.stiffness)


def radial(vector: Array, clearance: Array, stiffness: Array) -> tuple[Array, Array, Array, Array, Array]:
    """Return energy, force, stiffness, unit vector and force/radius of a pull towards a point.

    `vector` (..., n, dim) from the wire to the holder, mm; nothing happens within `clearance` (..., n); zero
    clearance is a plain spring of zero rest length.
    """
    radius = np.sqrt(np.einsum("...i,...i", vector, vector))
    safe = np.maximum(radius, 1e-12)
    unit = vector / safe[..., None]
    hit = push(radius - clearance, stiffness)
    tight = clearance <= 0
    force = np.where(tight, stiffness * radius, hit.force)
    slope = np.where(tight, stiffness, hit.stiffness)
    energy = np.where(tight, 0.5 * stiffness * radius**2, hit.energy)
    over = np.where(tight, stiffness, hit.force / safe)
    return energy, force, slope, unit, over
