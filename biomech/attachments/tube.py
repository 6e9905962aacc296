"""Round tube around a round wire: radial clearance, no hold on spin. Two edges hold tip and rotation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from biomech.attachments import REGISTRY, Kind
from biomech.attachments._parts import CENTRING, Sliding
from biomech.mechanics.contact import ContactLaw, Rub
from biomech.mechanics.links import Response
from biomech.mechanics.poses import Array

REGISTRY.register("tube", Kind("tube", "closed tube, with or without play: rectangular, or round for a round wire", 2))

_SIDES = 12
_ANGLE = 2 * np.pi * np.arange(_SIDES) / _SIDES
_NORMALS = np.stack([np.cos(_ANGLE), np.sin(_ANGLE)], axis=-1)
"""The round bore as 12 flats: its clearance is exact at the flats and 3.5 % larger between them."""
_SQUARES = (_NORMALS[:, :, None] * _NORMALS[:, None, :]).reshape(_SIDES, 4)


@dataclass(frozen=True)
class RoundTube(ContactLaw):
    """Law of n tube edges: `clearance` (..., n) mm is the radial gap, `stiffness` (..., n) N/mm the wall's.

    Zero clearance holds the wire both ways (the tube holds rotation). Spin about the wire is free.
    """

    clearance: Array
    stiffness: Array
    sliding: Sliding

    def start(self) -> Array:
        """Return the remembered sticking positions of a wire never moved, mm."""
        return np.zeros(np.shape(self.clearance)[-1])

    def walls(self, strain: Array) -> tuple[Array, Array]:
        """See ContactLaw.walls: 12 flats; a tight tube is a two-way spring instead and its walls are far away."""
        depth = strain[..., 1:3] @ _NORMALS.T - np.where(self._is_tight(), 1e3, self.clearance)[..., None]
        return depth, np.broadcast_to(np.asarray(self.stiffness)[..., None], depth.shape)

    def depth_rate(self, strain: Array, rate: Array) -> Array:
        """See ContactLaw.depth_rate."""
        out: Array = rate[..., 1:3] @ _NORMALS.T
        return out

    def combine(
        self, strain: Array, state: Array, force: Array, stiffness: Array, rub: Rub | None = None, flat: bool = False
    ) -> Response:
        """See ContactLaw.combine."""
        centring = self._centring()
        grad, hess = np.zeros(strain.shape), np.zeros((*strain.shape, 6))
        grad[..., 1:3] = force @ _NORMALS + centring[..., None] * strain[..., 1:3]
        hess[..., 1:3, 1:3] = (stiffness @ _SQUARES).reshape(*stiffness.shape[:-1], 2, 2)
        hess[..., 1, 1] += centring
        hess[..., 2, 2] += centring
        drag = self.sliding.respond(strain[..., 0], self.normal(strain, force), state, rub)
        grad[..., 0] += drag.force
        hess[..., 0, 0] += drag.stiffness
        if not drag.slides:
            return Response(grad, hess, drag.stuck)
        presses = np.zeros_like(grad)
        presses[..., 1:3] = stiffness @ _NORMALS
        across = np.maximum(np.linalg.norm(strain[..., 1:3], axis=-1), 1e-12)
        tight = np.where(self._is_tight(), self.stiffness / across, 0.0)
        presses[..., 1:3] += tight[..., None] * strain[..., 1:3]
        return Response(grad, hess, drag.stuck, self.sliding.coupling(drag, presses))

    def friction(self) -> Array:
        """See ContactLaw.friction."""
        return np.asarray(self.sliding.friction)

    def normal(self, strain: Array, force: Array) -> Array:
        """See ContactLaw.normal: the walls, or the two-way spring of a tight tube."""
        across = np.linalg.norm(strain[..., 1:3], axis=-1)
        out: Array = force.sum(axis=-1) + np.where(self._is_tight(), self.stiffness * across, 0.0)
        return out

    def smooth_energy(self, strain: Array, state: Array, normal: Array) -> Array:
        """See ContactLaw.smooth_energy."""
        centring = self._centring()
        across = np.linalg.norm(strain[..., 1:3], axis=-1)
        load = normal + np.where(self._is_tight(), centring * across, 0.0)
        out: Array = 0.5 * centring * across**2 + self.sliding.respond(strain[..., 0], load, state).energy
        return out

    def _is_tight(self) -> np.ndarray:
        return np.asarray(self.clearance) <= 0

    def _centring(self) -> Array:
        return np.where(self._is_tight(), self.stiffness, CENTRING)
